"""Solves every state of shut valves of the houses in a folder with the outside solver and compares.

    PIPECARRY_WRITE_STATES=FOLDER cargo test --test it shut_outside::
    python tests/outside/states.py FOLDER [SECONDS]

The outside solver is found by the environment variable PIPECARRY_TOOLS, else in ../shared/tools. Flows may differ by 1e-7
of the state's largest, water and heat by 1e-5; the folder's houses are taken in order until SECONDS are over (60 without
it), and what was left out is said.
"""
import json
import os
import pathlib
import sys
import time

sys.path.insert(0, str(pathlib.Path(os.environ.get("PIPECARRY_TOOLS", "../shared/tools")) / "oracle"))
import network  # noqa: E402
import thermal  # noqa: E402

FLOW, REST, STANDING = 1e-7, 1e-5, 1e-3
folder = pathlib.Path(sys.argv[1])
until = time.monotonic() + (float(sys.argv[2]) if len(sys.argv) > 2 else 60.0)


def state(case, mask):
    """The case with the ways of a mask shut; a pump that stands lets water through as good as without loss."""
    shut, stopped = set(), set()
    for k, way in enumerate(case["ways"]):
        if mask >> k & 1:
            shut |= set(way["shut"])
            stopped |= set(way["stopped"])
    elements = []
    for e in case["elements"]:
        if e["id"] in shut:
            e = {"id": e["id"], "type": "valve", "from": e["from"], "to": e["to"], "kv_m3h": 1.0, "open": False}
        elif e["id"] in stopped:
            e = {"id": e["id"], "type": "valve", "from": e["from"], "to": e["to"], "kv_m3h": 1e4, "open": True}
        elements.append(e)
    return {**case, "elements": elements}


def solve(case):
    try:
        return network.solve(case, maxit=60)
    except RuntimeError:
        # on a kink of a curve its first method does not settle to its usual 1e-7; its second, in loop space, takes over
        return network.solve(case, tol=1e-5)


worst, wrong, whole, left = 0.0, [], 0, []
for path in sorted(folder.glob("*.json"), key=lambda p: (p.stat().st_size, p.name)):
    case = json.loads(path.read_text())
    at = {e["id"]: i for i, e in enumerate(case["elements"])}
    begun, done, most, no_answer, reason = time.monotonic(), 0, 0.0, 0, ""
    for row in case["states"]:
        if time.monotonic() > until:
            break
        try:
            found = solve(state(case, row["shut"]))
        except RuntimeError as why:  # the outside solver gives up: said, and the state does not count
            no_answer += 1
            reason = str(why)
            continue
        done += 1
        net, q = found["net"], found["q"]
        largest = abs(q).max()
        words = f"{path.stem}, shut {row['shut']:b}"
        # nothing but rounding: nothing moves
        if row.get("still") or not largest * net.rho > 1e-9:
            if not (row.get("still") and not largest * net.rho > 1e-9):
                wrong.append(f"{words}: ours {row}, theirs moves {largest * net.rho} kg/s")
            continue
        for key, ids in (("sources", "source_bodies"), ("emitters", "bodies")):
            for mine, name in zip(row[key], case[ids]):
                off = abs(mine - q[at[name]] * net.rho) / (largest * net.rho)
                most = max(most, off)
                if off > FLOW:
                    wrong.append(f"{words}, {name}: {mine} against {q[at[name]] * net.rho} kg/s")
        flowing = abs(q) > STANDING * largest
        water = sum(m3 for name, m3 in case["water_m3"].items() if flowing[at[name]])
        if abs(water - row["water_m3"]) > REST * water:
            wrong.append(f"{words}: {row['water_m3']} against {water} m3 that move")
        if case["heat_comparable"]:
            t = thermal.solve(net, q, "log_mean" if case["mean"] == "log" else "arithmetic_mean")
            bodies = [i for i, e in enumerate(net.els) if "emitter" in e]
            heat = sum(float(t["heat"][i]) for i in bodies if t["heat"][i] == t["heat"][i])
            if abs(heat - row["heat_w"]) > REST * max(heat, 1.0):
                wrong.append(f"{words}: {row['heat_w']} against {heat} W")
    every = done == 2 ** len(case["ways"])
    whole += every and len(case["ways"]) > 1
    worst = max(worst, most)
    print(f"{path.stem}: {done} of {2 ** len(case['ways'])} states, flows within {most:.1e} of the largest"
          f"{', heat and water too' if case['heat_comparable'] else ', water too'}, {time.monotonic() - begun:.1f} s")
    if no_answer:
        print(f"{path.stem}: {no_answer} states without a solution there ({reason})")
    if done + no_answer < len(case["states"]):
        left.append(path.stem)
if left:
    print("not finished for want of time:", ", ".join(left))
print(f"{whole} houses with all their states; worst {worst:.1e}; {len(wrong)} differences")
for text in wrong[:20]:
    print("DIFFERS", text)
if wrong or whole < 5:
    sys.exit(1)
