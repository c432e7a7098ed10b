//! The classic errors, each tried: the house is worked out as whoever made it would have, and the claim compared.

use super::claim::{About, Claim, Claims, Sort, Value, What};
use super::figures::{Expected, RATING, Seen, asks_how_it_runs};
use super::trial::trials;
use crate::catalogue::Catalogue;
use crate::network::HeatLaw;
use crate::units::Quantity;

/// Why a stated figure is what it is: working with this mistake gives it.
#[derive(Clone, Debug, PartialEq)]
pub struct Cause {
    /// Stable short code.
    pub code: &'static str,
    /// In words, after `the figure is what comes out if`.
    pub words: String,
    /// What the mistake gives, SI, if it is a figure.
    pub gives: Option<f64>,
    /// How far the stated figure is from that, as a share of how far it is from the right one.
    pub off: f64,
}

/// Codes of the causes, each with its name.
pub const CAUSES: &[(&str, &str)] = &[
    ("outside-as-bore", "outside diameter used as bore"),
    ("total-as-free", "total head read as free head"),
    ("one-way", "one way counted instead of both"),
    ("fittings-out", "fittings left out"),
    ("one-way-fittings-out", "straight pipe of one way only"),
    ("tees-out", "tees left out"),
    (
        "boiler-drop",
        "a boiler's drop used for the heat pump's flow",
    ),
    (
        "other-excess",
        "radiator output at another excess temperature",
    ),
    (
        "hot-water-table",
        "friction table for another water temperature",
    ),
    ("plastic-as-copper", "plastic pipe taken as copper"),
    ("flow-unit", "units of flow mixed"),
    ("pressure-unit", "units of pressure and head mixed"),
    ("power-unit", "W and kW mixed"),
    ("device-out", "meter, strainer or filter forgotten"),
    ("pipe-only", "straight pipe only"),
    ("other-fluid", "water and glycol mixed up"),
    ("shut-emitters", "volume counting emitters that shut"),
    ("both-ways", "both ways counted where one is meant"),
    ("full-speed", "pump taken at full speed"),
];

/// A claim that differs, with what it should say.
pub(super) struct Wrong<'a> {
    pub claim: &'a Claim,
    pub expected: &'a Expected,
}

/// For each claim that differs, the causes that explain it, the likeliest first: the one that explains most claims, then
/// the one that comes nearest.
pub(super) fn causes(seen: &Seen, claims: &Claims, wrong: &[Wrong]) -> Vec<Vec<Cause>> {
    let mut found: Vec<Vec<Cause>> = wrong.iter().map(|w| by_itself(seen, w)).collect();
    let runs = asks_how_it_runs(claims);
    let open = seen.network.design.lockshields_open;
    let figures = wrong
        .iter()
        .any(|w| matches!(w.claim.row.sort, Sort::Figure(_)));
    let trials = if figures {
        trials(seen.network)
    } else {
        Vec::new()
    };
    for trial in &trials {
        // a house that has no answer with the mistake explains nothing
        let Ok(other) = Seen::of(&trial.network, runs, open) else {
            continue;
        };
        let mut explained: Vec<Option<Cause>> = wrong
            .iter()
            .map(|w| match other.expected(w.claim, claims) {
                Ok(Expected::Figure(gives)) => explains(w, trial.code, &trial.words, gives),
                _ => None,
            })
            .collect();
        let explains = explained.iter().flatten().count();
        let right = spoiled(seen, &other, claims, wrong);
        if of_the_whole(trial.code) && right.len() > explains {
            continue;
        }
        // whoever took another bore for a pipe would have all figures of that pipe with it
        let here: Vec<About> = wrong
            .iter()
            .zip(&explained)
            .filter(|(_, cause)| cause.is_some())
            .map(|(w, _)| w.claim.about)
            .collect();
        for (w, cause) in wrong.iter().zip(&mut explained) {
            let count = |list: &[About]| list.iter().filter(|a| **a == w.claim.about).count();
            let of_a_run = matches!(w.claim.about, About::Pair(_) | About::Pipe(_));
            if of_a_run && count(&right) > count(&here) {
                *cause = None;
            }
        }
        for (cause, list) in explained.into_iter().zip(&mut found) {
            list.extend(cause);
        }
    }
    let explained = |code: &str, words: &str| {
        let has = |list: &Vec<Cause>| list.iter().any(|c| c.code == code && c.words == words);
        found.iter().filter(|l| has(l)).count()
    };
    let ranked = found.iter().map(|list| {
        let mut list: Vec<(usize, Cause)> = list
            .iter()
            .map(|c| (explained(c.code, &c.words), c.clone()))
            .collect();
        list.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.off.total_cmp(&b.1.off)));
        list.into_iter().map(|(_, c)| c).collect()
    });
    ranked.collect()
}

/// Whether a mistake is made for a whole schedule or not at all: nobody fills one radiator with glycol.
fn of_the_whole(code: &str) -> bool {
    matches!(code, "other-fluid" | "hot-water-table" | "full-speed")
}

/// What the claims are about that are right and would not be with a mistake.
fn spoiled(seen: &Seen, other: &Seen, claims: &Claims, wrong: &[Wrong]) -> Vec<About> {
    let right = claims.list.iter().filter(|c| {
        let differs = wrong.iter().any(|w| std::ptr::eq(w.claim, *c));
        !differs && matches!(c.value, Value::Figure { .. })
    });
    right
        .filter(|claim| {
            let figure = |of: &Seen| match of.expected(claim, claims) {
                Ok(Expected::Figure(x)) => Some(x),
                _ => None,
            };
            let (Some(now), Some(then), Some(si)) = (figure(seen), figure(other), claim.figure())
            else {
                return false;
            };
            (si - now).abs() <= claim.allowed(now) && (si - then).abs() > claim.allowed(then)
        })
        .map(|claim| claim.about)
        .collect()
}

/// Whether a mistake that gives `gives` explains a claim: it must lie much nearer than the right figure does.
fn explains(w: &Wrong, code: &'static str, words: &str, gives: f64) -> Option<Cause> {
    let (Value::Figure { si, rounding, .. }, Expected::Figure(x) | Expected::AtLeast(x)) =
        (&w.claim.value, w.expected)
    else {
        return None;
    };
    let wide = (si - x).abs();
    let near = (si - gives).abs();
    let close = w
        .claim
        .allowed(gives)
        .min(NEARER * wide)
        .max(rounding * (1.0 + 1e-9));
    (gives.is_finite() && near <= close && near < 0.5 * wide).then(|| Cause {
        code,
        words: words.to_owned(),
        gives: Some(gives),
        off: near / wide,
    })
}

/// How much nearer than the right figure a mistake's has to be.
const NEARER: f64 = 0.3;

const FLOW_UNITS: [(&str, f64); 4] = [
    ("l/min", 1e-3 / 60.0),
    ("l/s", 1e-3),
    ("m3/h", 1.0 / 3600.0),
    ("l/h", 1e-3 / 3600.0),
];
const PRESSURE_UNITS: [(&str, f64); 5] = [
    ("kPa", 1e3),
    ("metres", 9.73e3), // of water of 40 to 45 °C
    ("mbar", 100.0),
    ("bar", 1e5),
    ("Pa", 1.0),
];
const POWER_UNITS: [(&str, f64); 3] = [("kW", 1e3), ("W", 1.0), ("BTU/h", 0.293_071)];

/// Mistakes that need no other house.
fn by_itself(seen: &Seen, w: &Wrong) -> Vec<Cause> {
    let mut list = Vec::new();
    let claim = w.claim;
    if let (Value::Figure { si, number, .. }, Sort::Figure(quantity)) =
        (&claim.value, claim.row.sort)
    {
        let (code, units): (_, &[(&str, f64)]) = match quantity {
            Quantity::Flow => ("flow-unit", &FLOW_UNITS),
            Quantity::Head | Quantity::Pressure => ("pressure-unit", &PRESSURE_UNITS),
            Quantity::Power => ("power-unit", &POWER_UNITS),
            _ => ("", &[]),
        };
        if let Expected::Figure(x) = w.expected {
            for (unit, factor) in units {
                let meant = number * factor;
                let apart = (meant / si - 1.0).abs() > 0.1;
                if apart && (meant - x).abs() <= claim.allowed(*x).max(0.03 * x.abs()) {
                    list.push(Cause {
                        code,
                        words: format!(
                            "the number {number}, right in {unit}, is given another unit"
                        ),
                        gives: None,
                        off: (meant - x).abs() / (si - x).abs(),
                    });
                }
            }
        }
    }
    match claim.row.what {
        What::Drop => {
            let boiler = claim.figure().is_some_and(|k| k >= 9.5);
            if boiler && seen.network.design.drop_k < 9.0 {
                list.push(named(
                    "boiler-drop",
                    "a boiler's drop is taken for the heat pump's",
                ));
            }
        }
        What::Output => list.extend(excess(seen, w)),
        What::CirculatingVolume => {
            for volume in seen.other_volumes() {
                let words = "the water of emitters that shut is counted too";
                list.extend(explains(w, "shut-emitters", words, volume));
            }
        }
        What::Length => {
            if let Expected::Figure(x) = w.expected {
                let words = "the lengths of flow and return are added, where one pipe's is meant";
                list.extend(explains(w, "both-ways", words, 2.0 * x));
            }
        }
        What::Pipe => list.extend(pipe_taken_for_copper(seen, claim)),
        What::Fluid => list.push(named(
            "other-fluid",
            "another fluid is taken than the file has",
        )),
        _ => {}
    }
    list
}

fn named(code: &'static str, words: &str) -> Cause {
    Cause {
        code,
        words: words.to_owned(),
        gives: None,
        off: 0.0,
    }
}

/// Output at other temperatures than those of the design.
fn excess(seen: &Seen, w: &Wrong) -> Vec<Cause> {
    let About::Emitter(i) = w.claim.about else {
        return Vec::new();
    };
    let network = seen.network;
    let room_c = network
        .emitters
        .get(i)
        .and_then(|e| network.rooms.get(e.room))
        .map_or(20.0, |r| r.temperature_c);
    let mut list = Vec::new();
    let mut try_at = |words: String, at: (f64, f64, f64)| {
        if let Some(gives) = seen.at_excess(i, at) {
            list.extend(explains(w, "other-excess", &words, gives));
        }
    };
    try_at(
        "the output rated at 75/65/20 (excess 50 K) is taken".into(),
        RATING,
    );
    try_at(
        "the output at an excess of 60 K (the old rating at 90/70/20) is taken".into(),
        (90.0, 70.0, 20.0),
    );
    try_at(
        "the output at 55/45/20 (excess 30 K) is taken".into(),
        (55.0, 45.0, 20.0),
    );
    let drop_k = network.design.drop_k;
    for flow_c in [40.0, 45.0, 50.0, 55.0, 60.0, 65.0, 70.0] {
        if (flow_c - network.design.flow_temperature_c).abs() > 1.0 {
            let words = format!("the output at a flow of {flow_c} °C is taken");
            try_at(words, (flow_c, flow_c - drop_k, room_c));
        }
    }
    if let Some(HeatLaw::Fixed(_)) = network.emitters.get(i).map(|e| e.law) {
        list.clear();
    }
    list
}

fn pipe_taken_for_copper(seen: &Seen, claim: &Claim) -> Option<Cause> {
    let Value::Pipe(said) = &claim.value else {
        return None;
    };
    let said = Catalogue::embedded().pipe(said)?;
    let run = seen.pipes(claim.about).first().copied()?;
    let run = seen.network.runs.get(run)?;
    let plastic = matches!(run.material.as_str(), "plastic" | "multilayer");
    let same = (said.outside?.0 - run.outside_m?).abs() < 1.1e-3;
    (plastic && same && said.material == "copper").then(|| {
        named(
            "plastic-as-copper",
            "the plastic pipe is taken as copper of the same outside size",
        )
    })
}
