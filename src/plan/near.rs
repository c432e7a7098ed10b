//! Cheaper sets that come nearest to holding; among them those that a limit rules out before any search.

use super::model::Breaks;
use super::search::{Fails, Found, NEAREST, Search};

/// Cheaper sets that come nearest to holding.
#[derive(Clone, Debug, Default)]
pub struct Near {
    /// With what each fails, nearest first.
    pub sets: Vec<Fails>,
    /// No other comes nearer; else of those that were looked at, none does.
    pub all: bool,
}

impl Search<'_> {
    /// The ten cheaper sets that come nearest to holding, with what each fails: those that the search tells, and those that
    /// break a limit by what one choice is, whatever else is changed.
    pub fn near(&self, found: &Found) -> Near {
        let Near {
            sets: mut list,
            all,
        } = self.nearest(found);
        for fails in self.forced(found) {
            if !list.iter().any(|f| f.changes == fails.changes) {
                list.push(fails);
            }
        }
        list.sort_by(|a, b| a.by.short().total_cmp(&b.by.short()));
        list.truncate(NEAREST);
        Near { sets: list, all }
    }

    /// The plan with one of its changes in a cheaper way that is ruled out, nearest first, and the house as it is; looked
    /// at in full.
    fn forced(&self, found: &Found) -> Vec<Fails> {
        let Some(best) = &found.best else {
            return Vec::new();
        };
        let plan = self.changes(&found.model.chosen(&best.picks));
        let mut sets: Vec<(f64, Vec<(usize, usize)>)> = Vec::new();
        for r in &found.model.ruled_out {
            let (is, limit) = r.figures;
            // a share of a temperature has no meaning: by an excess of 25 K
            let short = match r.why {
                Breaks::FlowTemperature => (is - limit) / 25.0,
                _ => (is / limit - 1.0).abs(),
            };
            let others = plan.iter().filter(|(s, _)| *s != r.slot).copied();
            let mut set: Vec<(usize, usize)> = others.collect();
            set.extend((r.offer != 0).then_some((r.slot, r.offer)));
            set.sort_unstable();
            sets.push((short, set));
        }
        sets.retain(|(_, set)| {
            let (money, disruption) = self.offers.cost(set);
            self.objective.price(money, disruption) < found.bound.1
        });
        sets.sort_by(|a, b| a.0.total_cmp(&b.0));
        sets.truncate(NEAREST);
        if !sets.is_empty() && !found.tangled {
            sets.push((f64::INFINITY, Vec::new()));
        }
        let look = |(_, set): (f64, Vec<(usize, usize)>)| self.look(&found.model, &set, &[]).err();
        sets.into_iter().filter_map(look).collect()
    }
}
