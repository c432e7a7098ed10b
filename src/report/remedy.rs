//! What to do about a finding: the same words wherever the cause is the same.

use crate::check::{Finding, Verdict};

/// What to do about a finding, where its verdict asks for something.
pub(crate) fn to_do(finding: &Finding) -> Option<&'static str> {
    let asks = matches!(
        finding.verdict,
        Verdict::Fails | Verdict::Depends | Verdict::Tight
    );
    if !asks {
        return None;
    }
    if finding.verdict == Verdict::Depends {
        return Some("look at or measure what it rests on before ordering anything");
    }
    let fails = finding.verdict == Verdict::Fails;
    Some(match finding.check {
        "head" if fails => {
            "widen the run that loses most, let the water fall by more kelvin, or choose a unit that leaves more head"
        }
        "head" => "keep the strainer clean, and measure the flow on commissioning",
        "pump-curve" => {
            "ask the maker for the curve at this flow, or let the water fall by more kelvin"
        }
        "source-output" if fails => "choose a larger unit, or lower what the rooms need",
        "flow-temperature" if fails && finding.detail("set_c").is_some() => {
            "raise the temperature that its manifold mixes down to, as far as the floor's covering allows; else lower \
             what the room needs, or give part of it by another emitter"
        }
        "flow-temperature" if fails && finding.detail("design_drop_k").is_some() => {
            "let more water through it: a freer valve, wider tails, a tee that sends it more; else a larger emitter"
        }
        "flow-temperature" if fails => {
            "fit a larger emitter, lower what the room needs, or accept a higher flow temperature and its running cost"
        }
        "room-heat" if fails => {
            "give this emitter more flow or a larger size, or raise the flow temperature"
        }
        "velocity" | "erosion" | "gradient" if fails => {
            "a wider pipe here, or less water: a larger drop, or part of the load by another way"
        }
        "source-least-flow" if fails => {
            "leave emitters open, fit an overflow valve, or put a vessel between unit and emitters"
        }
        "source-greatest-flow" if fails => {
            "hold the pump to the greatest flow, or to the design drop"
        }
        "source-drop" if fails => "it gets too little water: find what stands in its way",
        "defrost-flow" if fails => {
            "see that enough water passes while it defrosts: emitters open, wider pipes"
        }
        "valve-noise" if fails => "run the pump slower, or balance the lockshields first",
        "floor-surface" if fails => {
            "spread the heat over more floor, or give the rest by another emitter"
        }
        "reverse-flow" | "idle-flow" if fails => {
            "fit a check valve in the circuit that should stand still"
        }
        "vessel-short-circuit" if fails => {
            "match the flows of both sides, or take the vessel out of the way"
        }
        "vessel-mixing" if fails => "match the flow of the second pump to that of the unit",
        "antifreeze-glycol" if fails => {
            "take the valves out and keep the glycol, or keep the valves and fill with plain water"
        }
        _ => return None,
    })
}
