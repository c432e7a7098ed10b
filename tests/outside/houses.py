"""Solves the houses, written as cases, with the outside solver and keeps what the test compares.

    mkdir cases; PIPECARRY_WRITE_CASES=$PWD/cases cargo test --test it houses::every_house_on_one_fluid
    python tests/outside/houses.py cases tests/data/houses

The outside solver is found by the environment variable PIPECARRY_TOOLS, else in ../shared/tools.
"""
import json
import os
import pathlib
import sys

sys.path.insert(0, str(pathlib.Path(os.environ.get("PIPECARRY_TOOLS", "../shared/tools")) / "oracle"))
import network  # noqa: E402
import thermal  # noqa: E402

for path in sorted(pathlib.Path(sys.argv[1]).glob("*.json")):
    case = json.loads(path.read_text())
    solved = network.solve(case)
    net, q = solved["net"], solved["q"]
    other, how = network.solve_root(case, solved)
    solution = {"methods_differ_by": float(abs(other - q).max() / abs(q).max())}
    for i, element in enumerate(net.els):
        if element["id"].endswith(".0"):
            solution[element["id"]] = {"flow_kg_s": float(q[i] * net.rho)}
    # one source that makes its flow temperature, every emitter by its law: heat can be compared too
    solution["heat"] = case.pop("heat_comparable")
    if solution["heat"]:
        t = thermal.solve(net, q, "log_mean" if case["mean"] == "log" else "arithmetic_mean")
        heat = {i: float(h) for i, h in enumerate(t["heat"])}
        solution["emitters"] = {
            e["emitter"]: (heat[i] if heat[i] == heat[i] else 0.0) for i, e in enumerate(net.els) if "emitter" in e
        }
    case["source"] = "solved by an outside solver on numpy and scipy, by two methods; see tests/outside/houses.py"
    case["solution"] = solution
    (pathlib.Path(sys.argv[2]) / path.name).write_text(json.dumps(case, indent=0) + "\n")
    print(path.stem, "elements", len(net.els), "methods differ by", solution["methods_differ_by"], how, solution["heat"])
