"""Runs the plain solver and ours in turn on the same cases and prints how many times faster ours is."""
import re
import subprocess
import sys

peer, program, houses, work, rounds = sys.argv[1:6]
# name, case, times faster that it must be and should be
CASES = [
    ("house, 61 elements", f"{houses}/house_8.json", 60, 200),
    ("house, 201 elements", f"{houses}/house_28.json", 60, 180),
    ("tree, 1e3", f"{work}/tree_1000.json", None, None),
    ("looped, 1e3", f"{work}/looped_1000.json", None, None),
    ("tree, 1e4", f"{work}/tree_10000.json", 8, 27),
    ("looped, 1e4", f"{work}/looped_10000.json", 6, 20),
    ("tree, 1e5", f"{work}/tree_100000.json", 12, 35),
    ("looped, 1e5", f"{work}/looped_100000.json", 5, 9),
]


def run(*args):
    return subprocess.run(args, check=True, capture_output=True, text=True).stdout


def theirs_ms(case):
    """Best of its methods that a case of this size allows, ms of processor time."""
    small = "house" in case
    how = ["dense", "spsolve", "splu"] if small or "_1000." in case else ["spsolve", "splu"]
    found = [re.search(r"([\d.]+) us per solve", run(sys.executable, peer, case, "--how", h)) for h in how]
    return min(float(f.group(1)) for f in found) / 1000


def theirs_states_ms(case):
    text = run(sys.executable, peer, case, "--states", "12")
    return 1000 * float(re.search(r"valve states: ([\d.]+) s", text).group(1))


def ours_us(case):
    for line in run(program, case, "--hydraulics").splitlines():
        words = line.split()
        if words and words[0] == case:
            return float(words[2])
    raise SystemExit(f"no time for {case}")


def ours_states_ms():
    text = run(program, "--states")
    return float(re.search(r"2\^12 valve states of house.*hydraulics: [\d.]+ ms, ([\d.]+) ms of", text).group(1))


def row(name, theirs, ours, must, aim):
    ratio = theirs / ours
    said = "" if must is None else ("reached" if ratio >= must else "MISSED")
    print(f"{name:<24}{theirs:>12.3f}{ours:>12.4f}{ratio:>9.0f}{must or '':>7}{aim or '':>7}  {said}", flush=True)


print(f"{'':<24}{'scipy, ms':>12}{'ours, ms':>12}{'times':>9}{'must':>7}{'aim':>7}")
for name, case, must, aim in CASES:
    theirs = min(theirs_ms(case) for _ in range(int(rounds)))
    ours = min(ours_us(case) for _ in range(int(rounds))) / 1000
    row(name, theirs, ours, must, aim)
theirs = min(theirs_states_ms(f"{houses}/house_12.json") for _ in range(int(rounds)))
row("2^12 states, 89 elements", theirs, min(ours_states_ms() for _ in range(int(rounds))), 150, 450)
for kind in ("tree", "looped"):
    case = f"{work}/{kind}_100000.json"
    text = subprocess.run([sys.executable, "-c", f"""
import resource, subprocess
subprocess.run([{program!r}, {case!r}, "--hydraulics", "--once"], check=True, stdout=subprocess.DEVNULL)
print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"""], check=True, capture_output=True, text=True).stdout
    print(f"most memory, {kind} 1e5: {int(text) / 1024:.0f} MB (must: 300)")
