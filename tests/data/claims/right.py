"""Figures of the correct schedules and of the classic errors, worked without pipecarry.

    python3 tests/data/claims/right.py

Water: IAPWS-95 through CoolProp. Glycol: CoolProp's INCOMP::MPG (after Melinder) by mass, from percent by volume with
1036 kg/m3 for pure propylene glycol at 20 C. Friction: Colebrook-White solved by iteration, roughness 0.0015 mm (copper)
and 0.007 mm (plastic). Elbows of 22 and 28 mm copper: 0.60 and 0.83 m of pipe (Copper Development Association,
Publication 150). Radiators: EN 442-2 with the logarithmic mean. Expansion: EN 12828 Annex D.
"""
import math
from CoolProp.CoolProp import PropsSI

G = 9.80665


def water(c):
    t = c + 273.15
    return tuple(PropsSI(k, "T", t, "P", 1.5e5, "Water") for k in ("D", "C", "V"))


def glycol(c, vol=0.25):
    mass = vol * 1036 / (vol * 1036 + (1 - vol) * 998.2)
    name = f"INCOMP::MPG[{mass:.4f}]"
    return tuple(PropsSI(k, "T", c + 273.15, "P", 2e5, name) for k in ("D", "C", "V"))


def pipe(m, d, eps, rho, mu):
    v = m / rho / (math.pi * d * d / 4)
    re = rho * v * d / mu
    f = 0.02
    for _ in range(60):
        f = (-2 * math.log10(eps / (3.7 * d) + 2.51 / (re * math.sqrt(f)))) ** -2
    return v, f / d * rho * v * v / 2, re


def one(name, kw=9, flow_c=45, drop=5, d=20.2e-3, eps=1.5e-6, length=12, elbow=0.60, elbows=10, zeta=0,
        meter=5, strainer=9, fluid=water, friction=None, ways=2):
    back_c = flow_c - drop
    cp = fluid((flow_c + back_c) / 2)[1]
    m = kw * 1000 / (cp * drop)
    loss = 0
    out = []
    for c in (flow_c, back_c)[:ways]:
        rho, _, mu = fluid(c)
        if friction:
            rho, _, mu = fluid(friction)
        v, g, re = pipe(m, d, eps, rho, mu)
        loss += g * (length + elbow * elbows) + zeta * rho * v * v / 2
        out.append((v, g, re))
    rho = fluid(back_c)[0]
    q = m / rho * 3600
    for kv in (meter, strainer):
        if kv and ways == 2:
            loss += 1e5 * rho / 1000 * (q / kv) ** 2
    rho_m = fluid((flow_c + back_c) / 2)[0]
    print(f"{name}: m {m:.4f} kg/s, flow {m / fluid(flow_c)[0] * 6e4:.2f} l/min = {m / fluid(flow_c)[0] * 1e3:.4f} l/s, "
          f"v {out[0][0]:.3f}, {[round(o[1], 1) for o in out]} Pa/m, Re {out[0][2]:.0f}, "
          f"loss {loss / 1000:.2f} kPa = {loss / rho_m / G:.3f} m")
    return m, q, loss


def radiator(rated, n, flow_c, drop, room):
    a, b = flow_c - room, flow_c - drop - room
    excess = (a - b) / math.log(a / b)
    base = 10 / math.log(55 / 45)
    return rated * (excess / base) ** n


one("one")
one("one-28", d=26.2e-3, elbow=0.83, meter=0, strainer=0)
one("one at 7 K", drop=7)
one("glycol", fluid=glycol)
one("plastic", kw=6, d=17.8e-3, eps=7e-6, elbows=0, zeta=6, meter=0, strainer=0)
print("head at 26.1 l/min:", 7.6 - 2.5 * (one("x")[1] / 0.06 - 20) / 10, "m")
print("-- with mistakes")
one("outside diameter as bore", d=22e-3)
one("one way", ways=1)
one("no elbows", elbows=0)
one("no meter", meter=0)
one("boiler 11 K", drop=11)
one("boiler 20 K", drop=20)
one("table of 75 C", friction=75)
one("plastic as copper", kw=6, d=20.2e-3, eps=1.5e-6, elbows=0, zeta=6, meter=0, strainer=0)
one("water instead of glycol")
print("-- total head")
q = math.sqrt(7.5 / 3.1)
wrong = math.sqrt(7.5 / 1.9)
for name, x in (("right", q), ("read as free", wrong)):
    print(name, x * 1000 / 60, "l/min", x / 3600 * 992.2 * 4179 * 5 / 1000, "kW", "circuit", 1.0 * x * x, "m")
q8 = 8000 / (4179 * 5) / 992.2 * 3600
print("needed: flow", q8 * 1000 / 60, "head", q8 ** 2, "available", 7.5 - 2.1 * q8 ** 2, "as total", 7.5 - 0.9 * q8 ** 2)
print("-- radiators at 50/45")
for name, rated, room, need in (("lounge", 3600, 21, 1400), ("dining", 2700, 20, 1100), ("bath", 2000, 22, 700)):
    rho, cp, _ = water(47.5)
    m = need / (water(47.5)[1] * 5)
    v, g, _ = pipe(m, 13.6e-3, 1.5e-6, water(50)[0], water(50)[2])
    print(name, "output", radiator(rated, 1.3, 50, 5, room), "at 55", radiator(rated, 1.3, 55, 5, room),
          "flow", m / rho * 6e4, "l/min, v", v, "Pa/m", g)
area = lambda d: math.pi * d * d / 4
pipes22 = 16 * area(20.2e-3)
tails = {k: 2 * l * area(13.6e-3) for k, l in (("lounge", 5), ("dining", 4), ("bath", 6))}
unit, vessel = 3.5e-3, 30e-3
print("system", (pipes22 + sum(tails.values()) + unit + vessel + 19e-3) * 1000, "l; shut",
      (pipes22 + tails["bath"] + unit + vessel + 5e-3) * 1000, "l")
flow = 3200 / (water(47.5)[1] * 5)
print("house flow", flow / water(45)[0] * 6e4, flow / water(50)[0] * 6e4, "v22", pipe(flow, 20.2e-3, 1.5e-6, water(50)[0], water(50)[2]))
print("-- expansion")
e = 0.31 + 3.9e-4 * 55 ** 2
v = 150
print((e * v / 100 + max(0.005 * v, 3)) * (2.5 + 1) / (2.5 - 0.79), "l at 55 C, 0.79 and 2.5 bar")
one("large", kw=8, flow_c=55, d=26.2e-3, length=10, elbow=0.83, elbows=6, meter=0, strainer=0)


def linden():
    """A house with branches: heat pump 45/40, two pairs, four radiators."""
    print("linden:")
    rho, cp, mu = water(42.5)
    needs = {"lounge": (1400, 4000, 21), "kitchen": (1000, 3000, 20), "bed": (1100, 3200, 18), "bath": (500, 1600, 22)}
    for name, (w, rated, room) in needs.items():
        print(f"  {name}: {w / (cp * 5) / water(45)[0] * 6e4:.3f} l/min at 5 K, {w / (cp * 20) / water(45)[0] * 6e4:.3f} at 20 K; "
              f"output {radiator(rated, 1.3, 45, 5, room):.0f} W")
    for name, watts, d, od, length, elbow, count in [("main", 4000, 26.2e-3, 28e-3, 10, 0.83, 8), ("up", 1600, 20.2e-3, 22e-3, 6, 0.60, 4)]:
        m = watts / (cp * 5)
        ways = [pipe(m, d, 1.5e-6, water(c)[0], water(c)[2]) for c in (45, 40)]
        loss = [w[1] * (length + elbow * count) for w in ways]
        bare = [w[1] * length for w in ways]
        strainer = 1e5 * water(40)[0] / 1000 * (m / water(40)[0] * 3600 / 10) ** 2 if name == "main" else 0
        table = pipe(m, d, 1.5e-6, water(75)[0], water(75)[2])
        print(f"  {name}: {m:.4f} kg/s, {m / water(45)[0] * 6e4:.2f} l/min, v {ways[0][0]:.3f} (outside as bore {m / water(45)[0] / (math.pi * od * od / 4):.3f}), "
              f"{ways[0][1]:.1f} Pa/m (75 C: {table[1]:.1f}), loss {(sum(loss) + strainer) / 1000:.3f} kPa "
              f"(no strainer {sum(loss) / 1000:.3f}; one way {loss[0] / 1000:.3f}; no fittings {(sum(bare) + strainer) / 1000:.3f})")


linden()
