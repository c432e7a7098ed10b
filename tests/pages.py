"""Opens pages in a browser over its debugging port and asks the browser itself about them. Standard library only."""

import base64
import json
import os
import re
import socket
import struct
import subprocess
import sys
import tempfile
import time
import urllib.request
import zlib


class Browser:
    """A headless browser with one page."""

    def __init__(self, program):
        self.home = tempfile.mkdtemp()
        self.process = subprocess.Popen(
            [program, "--headless", "--no-sandbox", "--disable-gpu", "--remote-debugging-port=0",
             "--remote-allow-origins=*", f"--user-data-dir={self.home}", "about:blank"],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        port_file = os.path.join(self.home, "DevToolsActivePort")
        until = time.time() + 60
        while not (os.path.exists(port_file) and open(port_file).read().strip()):
            if time.time() > until or self.process.poll() is not None:
                raise SystemExit("the browser does not start")
            time.sleep(0.1)
        port = int(open(port_file).read().split()[0])
        pages = json.load(urllib.request.urlopen(f"http://127.0.0.1:{port}/json"))
        address = next(p["webSocketDebuggerUrl"] for p in pages if p["type"] == "page")
        self.connect(port, "/" + address.split("/", 3)[3])
        self.number, self.events = 0, []

    def connect(self, port, path):
        self.socket = socket.create_connection(("127.0.0.1", port), timeout=120)
        key = base64.b64encode(os.urandom(16)).decode()
        self.socket.sendall(
            f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
            f"Sec-WebSocket-Key: {key}\r\nSec-WebSocket-Version: 13\r\n\r\n".encode())
        answer = b""
        while b"\r\n\r\n" not in answer:
            answer += self.socket.recv(1)
        assert b" 101 " in answer.split(b"\r\n")[0], answer

    def exactly(self, count):
        data = b""
        while len(data) < count:
            more = self.socket.recv(min(count - len(data), 1 << 16))
            if not more:
                raise SystemExit("the browser hangs up")
            data += more
        return data

    def receive(self):
        text = b""
        while True:
            first, second = self.exactly(2)
            size = second & 127
            if size == 126:
                size = struct.unpack(">H", self.exactly(2))[0]
            elif size == 127:
                size = struct.unpack(">Q", self.exactly(8))[0]
            text += self.exactly(size)
            if first & 128:
                return json.loads(text)

    def ask(self, method, **parameters):
        self.number += 1
        data = json.dumps({"id": self.number, "method": method, "params": parameters}).encode()
        mask = os.urandom(4)
        head = b"\x81"
        if len(data) < 126:
            head += bytes([128 | len(data)])
        elif len(data) < 65536:
            head += bytes([128 | 126]) + struct.pack(">H", len(data))
        else:
            head += bytes([128 | 127]) + struct.pack(">Q", len(data))
        self.socket.sendall(head + mask + bytes(b ^ mask[i % 4] for i, b in enumerate(data)))
        while True:
            message = self.receive()
            if message.get("id") == self.number:
                if "error" in message:
                    raise SystemExit(f"{method}: {message['error']}")
                return message["result"]
            self.events.append(message)

    def value(self, expression):
        result = self.ask("Runtime.evaluate", expression=expression, returnByValue=True)
        return result["result"].get("value")

    def close(self):
        self.process.terminate()
        self.process.wait()


# what sticks out of the page, unless it scrolls in a box of its own
OUT = """(() => { const w = document.documentElement.clientWidth, out = [];
if (document.documentElement.scrollWidth > w + 1) out.push('page ' + document.documentElement.scrollWidth + ' of ' + w);
for (const e of document.querySelectorAll('body *')) { if (e.closest('.scroll,.drawing')) continue;
const r = e.getBoundingClientRect(); if (r.right > w + 1 || r.left < -1) out.push(e.tagName + ' ' + r.right.toFixed()); }
return out.slice(0, 5); })()"""

# least contrast of any words against the ground that they stand on, drawings left out (they are judged by themselves)
CONTRAST = """(() => { const n = s => s.match(/[\\d.]+/g).map(Number);
const lum = c => { const f = c.slice(0, 3).map(v => (v /= 255) <= .04045 ? v / 12.92 : ((v + .055) / 1.055) ** 2.4);
return .2126 * f[0] + .7152 * f[1] + .0722 * f[2]; };
let least = [99, ''];
for (const e of document.querySelectorAll('body *')) { if (e.closest('svg') || ![...e.childNodes].some(x => x.nodeType === 3 && x.data.trim())) continue;
let g = e; while (g && n(getComputedStyle(g).backgroundColor)[3] === 0) g = g.parentElement;
const a = lum(n(getComputedStyle(e).color)), b = lum(n(getComputedStyle(g || document.documentElement).backgroundColor));
const c = (Math.max(a, b) + .05) / (Math.min(a, b) + .05); if (c < least[0]) least = [c, e.tagName + ' ' + e.className]; }
return least; })()"""

def torn(text):
    """Rows and figures of a tagged PDF whose parts lie on more than one page, by the page numbers."""
    objects = {int(n): body for n, body in re.findall(rb"(?:^|\n)(\d+) 0 obj\s*(.*?)\s*endobj", text, re.S)}
    pages = [n for n, body in objects.items() if re.search(rb"/Type\s*/Page\b", body)]
    on = {n: set(map(int, re.findall(rb"/Pg\s+(\d+) 0 R", body))) for n, body in objects.items() if b"/StructElem" in body}
    kids = {n: [int(k) for k in re.findall(rb"(\d+) 0 R", re.sub(rb"/(?:P|Pg|Parent)\s+\d+ 0 R", b"", body))] for n, body in objects.items() if n in on}

    def under(n, depth=0):
        found = set(on.get(n, ()))
        for k in kids.get(n, ()):
            if k in on and depth < 40:
                found |= under(k, depth + 1)
        return found & set(pages)

    # headings of a table are said again on each of its pages
    cells = {n for n, body in objects.items() if re.search(rb"/S\s*/TD\b", body)}
    heads = {n for n in on if re.search(rb"/S\s*/TR\b", objects[n]) and not cells.intersection(kids.get(n, ()))}
    rows = [n for n, body in objects.items() if n in on and n not in heads and re.search(rb"/S\s*/(?:TR|Figure)\b", body)]
    return len(rows), [(n, sorted(under(n))) for n in rows if len(under(n)) > 1]


# in print: a row or a figure that is taller than a sheet cannot stay whole
TALL = """(() => [...document.querySelectorAll('tr,figure')].filter(e => getComputedStyle(e).breakInside !== 'avoid'
|| e.getBoundingClientRect().height > 1000).map(e => e.tagName + ' ' + e.textContent.slice(0, 30)).slice(0, 5))()"""


def check(browser, page, folder):
    name = os.path.splitext(os.path.basename(page))[0]
    wrong = []
    browser.events.clear()
    for scheme in ("light", "dark"):
        browser.ask("Emulation.setEmulatedMedia", media="", features=[{"name": "prefers-color-scheme", "value": scheme}])
        for width in (1100, 360):
            browser.ask("Emulation.setDeviceMetricsOverride", width=width, height=1200, deviceScaleFactor=1, mobile=False)
            browser.ask("Page.navigate", url="file://" + os.path.abspath(page))
            until = time.time() + 60
            while browser.value("document.readyState") != "complete" and time.time() < until:
                time.sleep(0.05)
            wrong += [f"{width} px: {what}" for what in browser.value(OUT)]
            shot = browser.ask("Page.captureScreenshot", format="png")
            with open(os.path.join(folder, f"{name}-{scheme}-{width}.png"), "wb") as file:
                file.write(base64.b64decode(shot["data"]))
        least, where = browser.value(CONTRAST)
        if least < 7:
            wrong.append(f"{scheme}: contrast {least:.1f} at {where}")
    browser.ask("Emulation.setEmulatedMedia", media="print", features=[])
    browser.ask("Emulation.setDeviceMetricsOverride", width=680, height=1000, deviceScaleFactor=1, mobile=False)
    wrong += [f"print: {what}" for what in browser.value(TALL)]
    browser.ask("Emulation.setEmulatedMedia", media="", features=[])
    pdf = base64.b64decode(browser.ask("Page.printToPDF", preferCSSPageSize=True, generateTaggedPDF=True)["data"])
    with open(os.path.join(folder, f"{name}.pdf"), "wb") as file:
        file.write(pdf)
    streams = [pdf]
    for stream in re.findall(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.S):
        try:
            streams.append(zlib.decompress(stream))
        except zlib.error:
            pass
    text = b"\n".join(streams)
    rows, split = torn(pdf)
    if rows == 0:
        wrong.append("the PDF names no row: nothing is known of its page breaks")
    wrong += [f"a row or figure lies on pages {where}" for _, where in split[:5]]
    boxes = set(re.findall(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)", text))
    for across, down in boxes:
        if sorted((round(float(across)), round(float(down)))) != [595, 842]:
            wrong.append(f"a page of {across.decode()} by {down.decode()} points is no A4")
    said = [e["params"] for e in browser.events if e.get("method") in ("Log.entryAdded", "Runtime.exceptionThrown", "Runtime.consoleAPICalled")]
    wrong += [f"console: {json.dumps(s)[:200]}" for s in said]
    pages = len(re.findall(rb"/Type\s*/Page\b", text))
    print(f"{name}: {pages} pages of A4, {rows} rows and figures whole, contrast {least:.1f}; {'well' if not wrong else wrong}")
    return wrong


def main():
    browser = Browser(sys.argv[1])
    try:
        for domain in ("Page", "Runtime", "Log"):
            browser.ask(domain + ".enable")
        wrong = [w for page in sys.argv[2:] for w in check(browser, page, os.path.dirname(page))]
    finally:
        browser.close()
    sys.exit(bool(wrong))


main()
