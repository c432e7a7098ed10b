"""Schematics judged in a browser, in three looks; the one home of what they are held to there.

    drawings.py JUDGE FOLDER FILE.svg…

JUDGE measures SVG files (`run.sh` of the outside checkers); screenshots go to FOLDER. A sheet is judged as it is, in the
dark, and with a serif face in place of its own; A4 as A4, A3 as A3; and as many pipes must be seen as the sheet says it
drew. PIPECARRY_JUDGED may name a file of sheets that passed: the same bytes in the same look are not judged again.
PIPECARRY_JUDGES says how many browsers run at a time (1). Pictures stay of what failed.
"""

import hashlib
import json
import os
import re
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor

LOOKS = {"as it is": [], "dark": ["--scheme", "dark"], "serif": ["--font", "Liberation Serif"]}
# beside what the judge's own preset asks of a sheet
BOUNDS = ["--min", "contrast_min=7", "--min", "pipe_contrast_min=4.5", "--max", "bends_max=2"]
AT_ONCE = 20


def paper(text):
    """The judge's preset for a sheet, or None if it is of neither size."""
    width = re.search(r'<svg [^>]*width="([\d.]+)mm"', text)
    return {"297": "a4", "420": "a3"}.get(width.group(1)) if width else None


def judged(judge, folder, job):
    """What is wrong, in words, with some sheets of one size in one look: by path."""
    look, preset, sheets = job
    work = tempfile.mkdtemp(dir=folder)
    said = os.path.join(work, "judged.json")
    command = [judge, *sheets, "--preset", preset, "--out", work, "--json", said, "--quiet", *BOUNDS, *LOOKS[look]]
    run = subprocess.run(command, stdout=subprocess.PIPE, text=True)
    if run.returncode not in (0, 1):
        raise RuntimeError(f"the judge could not do its work:\n{run.stdout}")
    with open(said) as file:
        measured = json.load(file)
    wrong = {}
    for path, one in zip(sheets, measured, strict=True):
        assert one["file"] == os.path.basename(path)
        bad = list(one["failed"])
        drawn = int(re.search(r"<metadata>.*?; pipes (\d+)", sheets[path]).group(1))
        if one.get("pipes") != drawn:
            bad.append(f"{drawn} pipes drawn, {one.get('pipes')} seen")
        if bad:
            wrong[path] = "; ".join(bad)
        elif (picture := os.path.join(work, one["png"])) and os.path.exists(picture):
            os.remove(picture)
    return wrong


def main():
    judge, folder, *paths = sys.argv[1:]
    os.makedirs(folder, exist_ok=True)
    with open(os.path.join(os.path.dirname(judge), "judge.mjs"), "rb") as file:
        rules = file.read() + " ".join(BOUNDS).encode()
    seen_at = os.environ.get("PIPECARRY_JUDGED")
    seen = set()
    if seen_at and os.path.exists(seen_at):
        with open(seen_at) as file:
            seen = set(file.read().split())
    texts = {}
    for path in paths:
        with open(path) as file:
            texts[path] = file.read()
    faults = 0
    for path in paths:
        if paper(texts[path]) is None:
            print(f"FAIL {path}: neither A4 nor A3, so nobody can judge it")
            faults += 1
    mark = {}
    jobs = []
    passed = dict.fromkeys(LOOKS, 0)
    for look in LOOKS:
        for preset in ("a4", "a3"):
            new = []
            for path in paths:
                if paper(texts[path]) == preset:
                    data = b"\0".join([rules, look.encode(), texts[path].encode()])
                    mark[look, path] = hashlib.sha256(data).hexdigest()
                    if mark[look, path] in seen:
                        passed[look] += 1
                    else:
                        new.append(path)
            jobs += [(look, preset, {p: texts[p] for p in new[at : at + AT_ONCE]}) for at in range(0, len(new), AT_ONCE)]
    before = sum(passed.values())
    with ThreadPoolExecutor(int(os.environ.get("PIPECARRY_JUDGES", "1"))) as pool:
        for job, wrong in zip(jobs, pool.map(lambda job: judged(judge, folder, job), jobs), strict=True):
            look, _, sheets = job
            for path, words in wrong.items():
                print(f"FAIL {look} {path}: {words}", flush=True)
            passed[look] += len(sheets) - len(wrong)
            faults += len(wrong)
            if seen_at:
                with open(seen_at, "a") as file:
                    file.writelines(mark[look, path] + "\n" for path in sheets if path not in wrong)
    for look, count in passed.items():
        print(f"{look}: {count} of {len(paths)} sheets pass")
    if before:
        print(f"{before} of these judgements are from before, of the same bytes")
    sys.exit(1 if faults else 0)


main()
