"""Random heating networks of every kind with solutions by an independent solver.

    python differential.py CHECKERS OUT --count N [--seed S]

CHECKERS is the folder of outside checkers; its oracle/ holds the independent solver. Writes OUT/networks/*.json, which the
reference tests read like any other reference data. Each network is drawn from its own seed.
"""
import argparse
import json
import pathlib
import random
import sys

ap = argparse.ArgumentParser()
ap.add_argument("checkers")
ap.add_argument("out")
ap.add_argument("--count", type=int, default=50)
ap.add_argument("--seed", type=int, default=1)
A = ap.parse_args()
sys.path.insert(0, str(pathlib.Path(A.checkers) / "oracle"))
import network  # noqa: E402
import solve as oracle  # noqa: E402

WATER = {"rho_kg_m3": 988.0563, "mu_pa_s": 5.465261e-4, "cp_j_kgk": 4181.23}      # IAPWS-95, 50 C, 1.5 bar
GLYCOL = {"rho_kg_m3": 1015.61, "mu_pa_s": 1.7347e-3, "cp_j_kgk": 3850.05}        # 35 % propylene glycol, 42 C
BORES = [0.0068, 0.0088, 0.0136, 0.0202, 0.0262, 0.0326]


class Case:
    def __init__(self, seed):
        self.r = random.Random(seed)
        self.nodes, self.els = [], []

    def node(self, name):
        if name not in self.nodes:
            self.nodes.append(name)
        return name

    def add(self, type_, a, b, **keys):
        self.node(a), self.node(b)
        if self.r.random() < 0.15 and type_ in ("pipe", "valve", "resistance"):
            a, b = b, a                                      # drawn against the flow
        e = {"id": f"{type_}{len(self.els)}", "type": type_, "from": a, "to": b, **keys}
        self.els.append(e)
        return e

    def pipe(self, a, b, bore=None, length=None, heat=True):
        r = self.r
        e = self.add("pipe", a, b, length_m=length or round(r.uniform(0.5, 15), 3), bore_m=bore or r.choice(BORES[1:]),
                     roughness_m=r.choice([1.5e-6, 7e-6, 4.5e-5]), zeta=round(r.choice([0.0, r.uniform(0, 12)]), 3))
        if heat and r.random() < 0.6:
            e["thermal"] = {"kind": "loss", "u_w_mk": round(r.uniform(0.05, 0.8), 4), "ambient_c": r.choice([5.0, 15.0, 20.0])}
        return e

    def emitter(self, a, b, room=None):
        """valve, body, lockshield from a to b, any of them left out or shut"""
        r, k = self.r, len(self.els)
        p, q = f"x{k}a", f"x{k}b"
        if r.random() < 0.5:
            self.pipe(a, p, bore=r.choice(BORES[:4]))
        else:
            self.add("valve", a, p, kv_m3h=round(r.uniform(0.1, 2), 4), open=r.random() > 0.2)
        body = {"kind": "emitter", "q_n_w": round(r.uniform(300, 4000), 1), "n": r.choice([1.0, 1.2, 1.3, 1.33]),
                "room_c": r.choice([18.0, 20.0, 22.0])}
        if r.random() < 0.6:
            self.add("resistance", p, q, dp_ref_pa=round(r.uniform(200, 8000), 1), q_ref_m3h=round(r.uniform(0.05, 0.5), 4),
                     exponent=r.choice([2.0, 2.0, 1.85, 1.0]), thermal=body)
        else:
            e = self.pipe(p, q, bore=r.choice(BORES[:3]), length=round(r.uniform(10, 90), 2), heat=False)
            e["thermal"] = body
        if r.random() < 0.5:
            self.add("valve", q, b, kv_m3h=round(r.uniform(0.1, 2), 4), open=r.random() > 0.05)
        else:
            self.pipe(q, b, bore=r.choice(BORES[1:4]))

    def pump(self, a, b, scale=1.0, speed=None):
        r = self.r
        head, top = r.uniform(1.5e4, 7e4) * scale, r.uniform(0.6, 4.0)
        if r.random() < 0.6:
            b2 = -round(r.uniform(0, 0.4) * head / top, 2)
            curve = {"kind": "quadratic", "a_pa": round(head, 1), "b_pa_per_m3h": b2,
                     "c_pa_per_m3h2": -round(r.uniform(0.5, 1) * head / top ** 2, 2)}
        else:
            curve = {"kind": "table", "points": [[0.0, round(head, 1)], [round(top * 0.5, 3), round(head * r.uniform(0.75, 0.95), 1)],
                                                 [round(top, 3), round(head * r.uniform(0.1, 0.4), 1)]]}
        speed = r.choice([1.0, 1.0, 0.7, 0.4]) if speed is None else speed
        return self.add("pump", a, b, curve=curve, speed=speed)

    def plant(self, ret, flow):
        """source and pump from ret to flow, pumps in series or parallel now and then"""
        r = self.r
        self.add("resistance", ret, "plant_a", dp_ref_pa=round(r.uniform(3000, 15000), 1), q_ref_m3h=round(r.uniform(0.8, 2), 3),
                 exponent=r.choice([2.0, 1.85]), thermal={"kind": "source", "flow_c": r.choice([35.0, 45.0, 55.0])})
        way = r.random()
        if way < 0.7:
            self.pump("plant_a", flow)
        elif way < 0.85:
            self.pump("plant_a", "plant_b")
            self.pump("plant_b", flow)
        else:
            self.pump("plant_a", flow)
            self.pump("plant_a", "plant_c")
            self.add("check_valve", "plant_c", flow, opening_pa=r.choice([0.0, 200.0]), kv_m3h=4.0)

    def between(self, s, t):
        """something across flow and return"""
        r = self.r
        if r.random() < 0.4:
            self.add("bypass_valve", s, t, opening_pa=round(r.uniform(3000, 30000), 1), kv_m3h=round(r.uniform(0.5, 3), 3))
        if r.random() < 0.2:
            self.add("valve", s, t, kv_m3h=round(r.uniform(0.05, 0.6), 4), open=True)

    def tree(self, s, t, n, tag, loops=0):
        """two-pipe tree of n emitters between s and t, with extra pipes that close loops"""
        r = self.r
        flow, ret = [s], [t]
        for i in range(n):
            at = r.randrange(max(0, len(flow) - 4), len(flow))
            if r.random() < 0.8:
                a, b = f"{tag}s{i}", f"{tag}r{i}"
                self.pipe(flow[at], a)
                self.pipe(b, ret[at])
                flow.append(a), ret.append(b)
            else:
                a, b = flow[at], ret[at]
            self.emitter(a, b)
        for k in range(loops):
            side = r.choice([flow, ret])
            a, b = r.choice(side), r.choice(side)
            if a != b:
                self.pipe(a, b)
        if r.random() < 0.3:
            self.pipe(r.choice(flow), f"{tag}dead")            # a dead end

    def reverse_return(self, s, t, n, tag):
        flow, ret = s, f"{tag}q0"
        for i in range(n):
            a, b = f"{tag}s{i}", f"{tag}q{i}"
            self.pipe(flow, a)
            if i:
                self.pipe(f"{tag}q{i-1}", b)
            self.emitter(a, b)
            flow = a
        self.pipe(f"{tag}q{n-1}", t)

    def ring(self, s, t, n, tag):
        """flow ring and return ring"""
        names = [f"{tag}s{i}" for i in range(n)]
        back = [f"{tag}r{i}" for i in range(n)]
        for i in range(n):
            self.pipe(names[i], names[(i + 1) % n])
            self.pipe(back[i], back[(i + 1) % n])
            self.emitter(names[i], back[i])
        self.pipe(s, names[0])
        self.pipe(back[self.r.randrange(n)], t)

    def one_pipe(self, s, t, n, tag):
        at = s
        for i in range(n):
            a, b = f"{tag}a{i}", f"{tag}b{i}"
            self.pipe(at, a, bore=self.r.choice(BORES[3:]))
            self.pipe(a, b, bore=self.r.choice(BORES[2:]), length=0.6)
            self.emitter(a, b)
            at = b
        self.pipe(at, t, bore=self.r.choice(BORES[3:]))

    def manifold(self, s, t, n, tag):
        self.pipe(s, f"{tag}m", bore=self.r.choice(BORES[3:]))
        self.pipe(f"{tag}n", t, bore=self.r.choice(BORES[3:]))
        for _ in range(n):
            self.emitter(f"{tag}m", f"{tag}n")

    def circuit(self, s, t, n, tag):
        kind = self.r.choice(["tree", "loops", "reverse", "ring", "one", "manifold"])
        if kind == "tree":
            self.tree(s, t, n, tag)
        elif kind == "loops":
            self.tree(s, t, n, tag, loops=self.r.randint(1, 4))
        elif kind == "reverse":
            self.reverse_return(s, t, max(2, n), tag)
        elif kind == "ring":
            self.ring(s, t, max(3, n), tag)
        elif kind == "one":
            self.one_pipe(s, t, n, tag)
        else:
            self.manifold(s, t, n, tag)
        return kind

    def build(self):
        r = self.r
        shape = r.choice(["plain", "plain", "plain", "four-port", "zones", "three-pipe", "series vessel", "diverter"])
        kinds = []
        n = r.randint(1, 12)
        self.plant("ret", "flow")
        if shape == "plain":
            kinds.append(self.circuit("flow", "ret", n, "c"))
            self.between("flow", "ret")
        elif shape == "series vessel":
            self.pipe("flow", "vessel_in")
            self.add("pipe", "vessel_in", "after", length_m=0.8, bore_m=0.4, roughness_m=1e-5, zeta=2.0)
            kinds.append(self.circuit("after", "ret", n, "c"))
            self.between("after", "ret")
        elif shape in ("four-port", "three-pipe"):
            self.pipe("flow", "TOP", bore=r.choice(BORES[3:]))
            self.pipe("BOT", "ret", bore=r.choice(BORES[3:]))
            self.add("pipe", "TOP", "BOT", length_m=1.2, bore_m=r.choice([0.45, 0.08]), roughness_m=1e-5, zeta=2.5)
            tap = "TOP"
            if shape == "three-pipe":
                tap = "tap"
                self.pipe("flow", "tap", bore=r.choice(BORES[3:]))
            for k in range(r.randint(1, 3)):
                self.pump(tap, f"z{k}", speed=r.choice([1.0, 1.0, 0.6, 0.0]))
                if r.random() < 0.5:
                    self.add("check_valve", f"z{k}", f"y{k}", opening_pa=r.choice([0.0, 300.0]), kv_m3h=round(r.uniform(1, 6), 2))
                else:
                    self.pipe(f"z{k}", f"y{k}")
                kinds.append(self.circuit(f"y{k}", "BOT", max(1, n // 2), f"k{k}"))
        elif shape == "zones":
            for k in range(r.randint(2, 4)):
                self.pump("flow", f"z{k}", scale=r.uniform(0.3, 1.0), speed=r.choice([1.0, 1.0, 0.5, 0.0]))
                self.add("check_valve", f"z{k}", f"y{k}", opening_pa=r.choice([0.0, 500.0]), kv_m3h=round(r.uniform(1, 6), 2))
                kinds.append(self.circuit(f"y{k}", "ret", max(1, n // 2), f"k{k}"))
        else:
            to_coil = r.random() < 0.5
            self.add("valve", "flow", "coil_in", kv_m3h=6.0, open=to_coil)
            self.add("resistance", "coil_in", "ret", dp_ref_pa=12000.0, q_ref_m3h=1.2, exponent=2.0,
                     thermal={"kind": "emitter", "q_n_w": 8000.0, "n": 1.0, "room_c": 30.0})
            self.add("valve", "flow", "heat", kv_m3h=6.0, open=not to_coil or r.random() < 0.3)
            kinds.append(self.circuit("heat", "ret", n, "c"))
        for e in self.els:                                     # a stopped quadratic pump keeps its own passage: c only
            if e["type"] == "pump" and e["speed"] == 0.0:
                e["speed"] = 0.0
        order = self.els[:]
        if r.random() < 0.5:
            r.shuffle(order)
        return {"schema": "hydronic-oracle-case/1", "id": "", "family": shape, "description": " + ".join(kinds),
                "fluid": r.choice([WATER, WATER, GLYCOL]), "reference_node": "ret", "reference_pressure_pa": 0.0,
                "nodes": [{"id": n} for n in self.nodes], "elements": order}


out = pathlib.Path(A.out) / "networks"
out.mkdir(parents=True, exist_ok=True)
left = 0
for k in range(A.count):
    seed = A.seed * 1_000_000 + k
    case = Case(seed).build()
    case["id"] = f"random_{seed}"
    case["elements"] = [e for e in case["elements"] if not (e["type"] == "pump" and e["speed"] == 0.0)] + [
        # a pump that stands lets water through without loss: the two solvers' common ground is a wide valve
        {"id": e["id"], "type": "valve", "from": e["from"], "to": e["to"], "kv_m3h": 40.0, "open": True}
        for e in case["elements"] if e["type"] == "pump" and e["speed"] == 0.0]
    try:
        sol = network.solve(case)
        if not abs(sol["q"]).max() > 0:                        # a refusal: nothing moves, there are no temperatures
            still = {e["id"]: {"mass_flow_kg_s": 0.0, "dp_pa": None} for e in case["elements"]}
            case["solution"] = {"hydraulic": {"elements": still}}
        else:
            case["solution"] = oracle.solution_dict(case, sol, 0.0)
    except Exception as why:  # noqa: BLE001  the independent solver gives up: said, not hidden
        print(f"{case['id']}: no solution there: {why!r}")
        left += 1
        continue
    (out / f"{case['id']}.json").write_text(json.dumps(case))
print(f"{A.count - left} networks written, {left} without a solution there")
