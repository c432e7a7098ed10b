//! How each pump is set, in each of its modes.

use super::Words;
use crate::balance::PumpSetting;
use crate::network::PumpControl;
use crate::report::prose::Prose;

impl Words<'_> {
    pub(super) fn pumps(&self) -> Prose {
        let mut out = Prose::headed("Pumps");
        for pump in &self.balance.pumps {
            out.join(self.pump(pump));
        }
        let named = |p: &PumpSetting| p.proportional_pa.is_some() && p.least_m3_s.is_none();
        if self.balance.pumps.iter().any(named) {
            let text = "Proportional head is named by what it is where its line meets the curve of full speed; at no flow it is half.";
            out.say("  ", text);
        }
        out
    }

    fn pump(&self, p: &PumpSetting) -> Prose {
        let s = &self.speak;
        let info = &self.network.pumps[p.pump];
        let name = s.name(&info.name);
        if p.short_pa > 0.0 {
            let text = format!(
                "{name}: full speed. It would have to give {} at {} and gives {}: {} too little.",
                s.pressure(p.needed_pa),
                s.flow(p.flow_m3_s),
                s.pressure(p.full_pa),
                s.pressure(p.short_pa)
            );
            return Prose::of("  ", &text);
        }
        let mut text = format!(
            "{name}: set it to {}. Its circuit needs {} at {}.",
            self.control(p.control, p.least_m3_s.unwrap_or(p.flow_m3_s)),
            s.pressure(p.needed_pa),
            s.flow(p.flow_m3_s)
        );
        // a mode that would make what is required is none to set where that is under the unit's least
        if p.least_m3_s.is_none() {
            text.push_str(&format!(
                " The same in other modes: {}.",
                self.other_modes(p).join("; ")
            ));
        }
        if let Some(least) = p.least_m3_s {
            text.push_str(&format!(
                " What is required is less than the unit's least flow, {}: so much has to pass it all the same, and no \
                 other mode that makes just what is required may be set.",
                s.flow(least)
            ));
        } else if let PumpControl::HeldToDrop { drop_k, .. } = p.was {
            text.push_str(&format!(
                " Left to hold {} by itself it settles near this flow once the house takes just its design heat.",
                s.drop(drop_k)
            ));
        }
        Prose::of("  ", &text)
    }

    /// What gives the same in other modes.
    pub(super) fn other_modes(&self, p: &PumpSetting) -> Vec<String> {
        let s = &self.speak;
        let mut others = Vec::new();
        if let (Some(speed), false) = (p.speed, matches!(p.control, PumpControl::FixedSpeed(_))) {
            others.push(format!("fixed speed {}", s.show.percent(speed)));
        }
        if !matches!(p.control, PumpControl::ConstantHead(_)) {
            others.push(format!("constant head {}", s.pressure(p.needed_pa)));
        }
        if let (Some(pa), false) = (
            p.proportional_pa,
            matches!(p.control, PumpControl::ProportionalHead { .. }),
        ) {
            others.push(format!("proportional head {}", s.pressure(pa)));
        }
        if !matches!(p.control, PumpControl::HeldToFlow(_)) {
            others.push(format!("held to {}", s.flow(p.flow_m3_s)));
        }
        others
    }

    pub(super) fn control(&self, control: PumpControl, flow_m3_s: f64) -> String {
        let s = &self.speak;
        match control {
            PumpControl::FixedSpeed(share) => {
                format!(
                    "fixed speed, {} (the step that comes nearest above)",
                    s.show.percent(share)
                )
            }
            PumpControl::ConstantHead(pa) => format!("constant head, {}", s.pressure(pa)),
            PumpControl::ProportionalHead { head_pa, .. } => {
                format!("proportional head, {}", s.pressure(head_pa))
            }
            PumpControl::HeldToFlow(_) => format!("hold {}", s.flow(flow_m3_s)),
            PumpControl::HeldToDrop { drop_k, .. } => format!("hold {}", s.drop(drop_k)),
        }
    }
}
