//! What a defrost finds: flow, a return that is warm enough.

use super::super::layout;
use super::super::prose::Prose;
use super::Report;
use crate::shut::defrost::Defrost;

impl Report<'_> {
    pub(super) fn defrost(&self) -> Prose {
        if self.shut.defrosts.is_empty() {
            return Prose::default();
        }
        let mut out = Prose::headed("A defrost, with the diverter as it then stands");
        for defrost in &self.shut.defrosts {
            out.say("  - ", &self.one_defrost(defrost));
        }
        out
    }

    fn one_defrost(&self, d: &Defrost) -> String {
        let source = self
            .network
            .sources
            .iter()
            .find(|s| s.defrost_energy_j.is_some() || s.defrost_flow_m3_s.is_some())
            .or(self.network.sources.first());
        let stands = match &d.state {
            None => "heating, as much shut as can be".to_owned(),
            Some(state) => layout::name(state, 40),
        };
        let mut text = format!(
            "{stands}: the return is {}",
            self.speak.temperature(d.return_c)
        );
        if let Some(t) = d.outside_c {
            text.push_str(&format!(" at {} outside", self.speak.temperature(t)));
        }
        match (source.and_then(|s| s.defrost_return_c), d.fall_k) {
            (Some(floor), _) if d.refused() => text.push_str(&format!(
                "; THE UNIT REFUSES TO DEFROST under {}",
                self.speak.temperature(floor)
            )),
            (Some(floor), Some(fall)) if d.by_floor => text.push_str(&format!(
                "; the water may cool by {} before it comes back under {}, where the unit gives up",
                self.speak.difference(fall),
                self.speak.temperature(floor)
            )),
            (_, Some(fall)) => text.push_str(&format!(
                "; the water may cool by {}",
                self.speak.difference(fall)
            )),
            (_, None) => {}
        }
        text.push('.');
        if let Some(asked) = source.and_then(|s| s.defrost_flow_m3_s) {
            let flow = self.speak.flow(d.flow_m3_s);
            let asked_for = self.speak.flow(asked);
            if d.flow_m3_s < asked {
                text.push_str(&format!(
                    " ITS FLOW IS SHORT: it needs {asked_for} and gets {flow} at worst."
                ));
                if let Some(open) = self.enough_for(asked).filter(|_| d.state.is_none()) {
                    text.push_str(&format!(
                        " From {open} valves open on, whichever, it gets that{}.",
                        self.among()
                    ));
                }
            } else {
                text.push_str(&format!(" It needs {asked_for} and gets {flow} at worst."));
            }
        }
        text
    }

    /// Least number of valves open from which on every combination gives a flow.
    fn enough_for(&self, flow_m3_s: f64) -> Option<usize> {
        let levels = &self.shut.combinations.tally.levels;
        let enough =
            |level: &Option<crate::shut::tally::Level>| level.is_none_or(|l| l.least >= flow_m3_s);
        let shut = levels.iter().take_while(|level| enough(level)).count();
        // so many may be shut, one less than the number of levels that are enough
        (shut > 0).then(|| levels.len() - shut)
    }
}
