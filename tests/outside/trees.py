"""An outside look at the tree-shaped houses of networks/: reads the same text with Python's own TOML reader and works
out flow, velocity and friction of each pair and tail with general-purpose libraries, sharing nothing with pipecarry.

    pip install fluids iapws
    python tests/outside/trees.py networks/*.toml > tests/data/houses/trees.csv

Flow = duty / (cp * drop), cp and density of water at the mean of design flow and return (IAPWS-IF97, library iapws);
friction after Colebrook and White at the flow's own temperature (library fluids); bores from EN 1057 (copper),
BS 7291 (plastic), EN ISO 21003 (multilayer), EN 10255 medium (steel). A blended manifold draws
duty / (cp * (flow temperature - (blend - drop))). Houses that are no trees, or not on water, are left out.
"""
import math
import re
import sys
import tomllib

from fluids.friction import Colebrook
from iapws import IAPWS97

BORE_MM = {
    "cu10": 8.6, "cu10x0.6": 8.8, "cu10x0.7": 8.6, "cu15": 13.6, "cu22": 20.2, "cu28": 26.2, "cu35": 32.6,
    "pb15": 11.6, "pb22": 17.8, "steel 1/2": 16.1, "steel 3/4": 21.7,
}
ROUGH_MM = {"cu": 0.0015, "pb": 0.007, "ml": 0.007, "steel": 0.046}


def water(celsius):
    w = IAPWS97(T=273.15 + celsius, P=0.2)  # 2 bar absolute
    return w.rho, w.mu, w.cp * 1000


def number(text):
    if isinstance(text, (int, float)):
        return float(text)
    value = float(re.match(r"\s*(-?[\d.]+)", text)[1])
    return value * (1000 if "kW" in text else 1)


def bore_and_roughness(leg):
    word = re.match(r"(steel \S+|\S+)", leg.split("|")[0].strip())[1].rstrip("?,").split("?")[0]
    if word not in BORE_MM:
        return None
    rough_mm = ROUGH_MM[re.match("[a-z]+", word)[0]]
    if word.startswith("steel") and " old" in leg:
        rough_mm = 0.2  # lightly rusted, handbooks
    return BORE_MM[word] / 1000, rough_mm / 1000


def house(path):
    t = tomllib.load(open(path, "rb"))
    if any(k in t for k in ("ring", "loop", "exchanger", "fluid", "run")) or len(t["source"]) > 1:
        return
    if any(v.get("ports") for v in t.get("vessel", {}).values()):
        return
    flow_c, drop = number(t["design"]["flow_temperature"]), number(t["design"]["drop"])
    rho, _, cp = water(flow_c - drop / 2)
    base = t.get("defaults", {}).get("emitter", {})
    emitters = {}
    for name, own in t["emitter"].items():
        like = t["emitter"].get(own.get("like"), {})
        emitters[name] = {**base, **like, **own}
    rooms = t.get("room", {})
    parent = {to: (name, start, leg) for name, (start, to, leg) in t["pair"].items()}
    for name, m in t.get("manifold", {}).items():
        if "from" in m:
            parent[name] = (name, m["from"], m["leg"])
    carried, tails = {}, []
    for name, e in emitters.items():
        if "needs" not in e:
            continue  # shares a room's need: counted below
        tails.append((name, e, number(e["needs"])))
    for room, r in rooms.items():
        mates = [(n, e) for n, e in emitters.items() if e.get("room") == room]
        for n, e in mates:
            tails.append((n, e, number(r["needs"]) / len(mates)))  # the split does not matter for the trunk
    for name, e, duty in tails:
        place, m = e["from"], duty / cp / number(e.get("drop", drop))
        blend = t.get("manifold", {}).get(place, {}).get("blend")
        if blend is not None:
            own_drop = number(t["manifold"][place].get("drop", drop))
            m = duty / cp / (flow_c - (number(blend) - own_drop))
        while place in parent:
            run, place = parent[place][0], parent[place][1]
            carried[run] = carried.get(run, 0.0) + m
        if "leg" in e and blend is None and e.get("room") not in rooms:
            yield row(path, name, "tail", m, flow_c, bore_and_roughness(e["leg"]))
    # the unit's own circuit carries the largest of room needs, declared load and the maker's nominal flow
    (source,) = t["source"].values()
    total = max(carried.values())
    least = [total]
    if "load" in t["design"]:
        least.append(number(t["design"]["load"]) / cp / drop)
    if "nominal_flow" in source:
        least.append(number(source["nominal_flow"]) / 60000 * water(flow_c - drop)[0])  # l/min, at the return
    for run, start, leg in parent.values():
        m = max(least) if carried[run] > 0.9999999 * total else carried[run]
        yield row(path, run, "pair", m, flow_c, bore_and_roughness(leg))


def row(path, name, what, m, flow_c, pipe):
    rho, mu, _ = water(flow_c)  # the flow pipe, at the flow's own temperature
    if pipe is None:
        return None
    d, k = pipe
    v = m / rho / (math.pi / 4 * d * d)
    re_ = rho * v * d / mu
    if 2300 <= re_ < 4000:
        gradient = math.nan  # no agreed law between laminar and turbulent
    else:
        f = 64 / re_ if re_ < 2300 else Colebrook(re_, k / d)
        gradient = f / d * rho * v * v / 2
    stem = re.sub(r".*/|\.toml$", "", path)
    return f"{stem},{name},{what},{m:.6f},{v:.5f},{gradient:.3f},{re_:.0f}"


print("# source: worked by tests/outside/trees.py with fluids 1.3.1 and iapws 1.5.5; flow pipe of each pair and tail")
print("house,run,what,flow_kg_s,velocity_m_s,gradient_pa_m,reynolds")
for path in sys.argv[1:]:
    for line in house(path):
        if line:
            print(line)
