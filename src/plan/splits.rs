//! How the water of a one-pipe loop splits at a radiator as it runs: between its tails, in which it cools, and the main
//! between its tees.
//!
//! What both lose, tees among it, is the same. At one temperature the split hangs on flow over viscosity alone: friction is a
//! factor of the Reynolds number times the square of the flow, all else is that square (O. Reynolds, 1883, from memory; the
//! density goes out).
//! So one table by that figure, and by how much more viscous the water is where it leaves, answers for all flows and
//! temperatures and all radiators.

use crate::fluid::Properties;
use crate::hydraulics::{self, tee};
use crate::maths;
use crate::network::{ElementId, Emitter, Law, Network, Part, PlaceId};
use std::sync::OnceLock;

/// Logarithms of flow over viscosity, as multiples of what is required, at which the table stands.
const FLOWS: [f64; 30] = [
    -0.6, -0.55, -0.5, -0.45, -0.4, -0.35, -0.3, -0.25, -0.2, -0.15, -0.1, -0.05, 0.0, 0.05, 0.1,
    0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.45, 0.5, 0.6, 0.7, 0.85, 1.05, 1.35, 1.75, 2.4,
];
/// The same of viscosity at the outlet over that at the inlet.
const THICKER: [f64; 6] = [0.0, 0.1, 0.2, 0.35, 0.55, 0.9];
/// Share by which straight lines between may be wrong.
const MARGIN: f64 = 0.0005;
/// Steps of the search for a split, and the share to which it goes.
const MOST_STEPS: usize = 60;
const NARROW: f64 = 1e-9;

/// What stands between the tees of a radiator, and the tees.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Block {
    /// What water passes at the inlet's temperature, between it and the outlet's, and at that.
    branch: [Vec<Law>; 3],
    between: Law,
    /// First and second; nothing where no loss hangs on the split.
    tees: [Option<Legs>; 2],
}

/// The figures of a law without their words, so that what loses the same is the same; nothing of what is no pipe.
fn figures(law: &Law) -> Option<Law> {
    let Law::Parts(parts) = law else { return None };
    let bare = parts.iter().map(|part| Part {
        words: String::new(),
        symbol: String::new(),
        source: String::new(),
        span: None,
        ..part.clone()
    });
    Some(Law::Parts(bare.collect()))
}

/// Which leg of a tee is which.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Legs {
    bores_m: [f64; 3],
    main: usize,
    between: usize,
    branch: usize,
}

impl Legs {
    /// Of the tee at a place; an error where it is not one of main, branch and what lies between.
    fn of(
        network: &Network,
        place: PlaceId,
        between: ElementId,
        branch: ElementId,
    ) -> Result<Option<Self>, ()> {
        let Some(t) = network.tees.iter().find(|t| t.place == place) else {
            return Ok(None);
        };
        let ids = [t.straight.0, t.straight.1, t.branch];
        let find = |id: ElementId| ids.iter().position(|i| *i == id).ok_or(());
        let (between, branch) = (find(between)?, find(branch)?);
        Ok(Some(Self {
            bores_m: [t.bores_m.0, t.bores_m.1, t.bores_m.2],
            main: 3 - between - branch,
            between,
            branch,
        }))
    }

    /// Pressure of the branch above that of the main between, Pa, where water leaves (+1) or comes back (−1); and the latter
    /// above the place's.
    fn above_pa(&self, main_kg_s: f64, share: f64, leaves: f64, rho: f64) -> (f64, f64) {
        let mut flow = [0.0; 3];
        flow[self.main] = leaves * main_kg_s;
        flow[self.between] = -leaves * (1.0 - share) * main_kg_s;
        flow[self.branch] = -leaves * share * main_kg_s;
        let above = tee::pressures(flow, self.bores_m, rho);
        (
            above[self.branch] - above[self.between],
            above[self.between],
        )
    }
}

/// How water splits.
#[derive(Clone, Copy, Debug)]
pub(super) struct Split {
    /// Share that goes through the radiator.
    pub share: f64,
    /// What is lost between the tees, Pa, at the viscosity at which the table stands.
    pub loss_pa: f64,
}

impl Block {
    /// Of a radiator on a one-pipe loop; nothing where something lies beside what it hangs on.
    pub fn of(network: &Network, emitter: &Emitter) -> Option<Self> {
        let between = emitter.one_pipe?.between;
        let (first, last) = (*emitter.branch.first()?, *emitter.branch.last()?);
        let at = emitter.branch.iter().position(|id| *id == emitter.body)?;
        let joins = |a: ElementId, b: ElementId| {
            let ((a, b), (c, d)) = (network.ends(a), network.ends(b));
            let place = [a, b].into_iter().find(|p| *p == c || *p == d);
            place.is_some_and(|p| network.graph.neighbors_undirected(p).count() == 2)
        };
        if !emitter.branch.windows(2).all(|w| joins(w[0], w[1])) {
            return None;
        }
        let laws = |ids: &[ElementId]| -> Option<Vec<Law>> {
            let laws = ids.iter().map(|id| &network.element(*id).law);
            laws.map(figures).collect()
        };
        let (from, to) = emitter.ends;
        Some(Self {
            branch: [
                laws(&emitter.branch[..at])?,
                laws(&emitter.branch[at..=at])?,
                laws(&emitter.branch[at + 1..])?,
            ],
            between: laws(&[between])?.pop()?,
            tees: [
                Legs::of(network, from, between, first).ok()?,
                Legs::of(network, to, between, last).ok()?,
            ],
        })
    }

    /// How the water splits at a flow; `at` of the water that comes, and how much more viscous it leaves. Nothing where it
    /// would stand or run backwards.
    fn split(&self, main_kg_s: f64, at: Properties, thicker: f64) -> Option<Split> {
        let waters = [0.0, 0.5, 1.0].map(|part| Properties {
            mu_pa_s: at.mu_pa_s * maths::exp(part * thicker),
            ..at
        });
        let lost = |laws: &[Law], at: Properties, flow: f64| -> f64 {
            laws.iter()
                .map(|l| hydraulics::element(l, at, flow).0)
                .sum()
        };
        let across = |share: f64| {
            let through = share * main_kg_s;
            let branch = self.branch.iter().zip(waters);
            let branch: f64 = branch.map(|(laws, at)| lost(laws, at, through)).sum();
            let between = hydraulics::element(&self.between, at, main_kg_s - through).0;
            let tees = [(0, 1.0), (1, -1.0)].map(|(i, leaves)| {
                let legs = self.tees[i].as_ref();
                let (more, above) = legs.map_or((0.0, 0.0), |l| {
                    l.above_pa(main_kg_s, share, leaves, at.rho_kg_m3)
                });
                (leaves * more, leaves * above)
            });
            let loss_pa = between - tees[0].1 - tees[1].1;
            (branch - between - tees[0].0 - tees[1].0, loss_pa)
        };
        // regula falsi, the end that stays counted half (Illinois)
        let (mut a, mut b) = ((0.0, across(0.0).0), (1.0, across(1.0).0));
        if !(a.1 < 0.0 && b.1 > 0.0) {
            return None;
        }
        let mut kept = 0;
        for _ in 0..MOST_STEPS {
            let share = (a.0 * b.1 - b.0 * a.1) / (b.1 - a.1);
            let (over, loss_pa) = across(share);
            if over.abs() <= NARROW * loss_pa.abs() || b.0 - a.0 <= NARROW {
                return Some(Split { share, loss_pa });
            }
            if over < 0.0 {
                a = (share, over);
                if kept == -1 {
                    b.1 *= 0.5;
                }
                kept = -1;
            } else {
                b = (share, over);
                if kept == 1 {
                    a.1 *= 0.5;
                }
                kept = 1;
            }
        }
        None
    }
}

/// Splits of a block by flow over viscosity, as far as they were asked for.
#[derive(Debug)]
pub(super) struct Splits {
    block: Block,
    /// Flow of the main that is required, kg/s, and its water at the mean of the design.
    main_kg_s: f64,
    at: Properties,
    /// By flow and thickness; nothing in it where there is no split.
    known: Vec<OnceLock<Option<Split>>>,
}

impl Splits {
    pub fn new(block: Block, main_kg_s: f64, at: Properties) -> Self {
        Self {
            block,
            main_kg_s,
            at,
            known: vec![OnceLock::new(); FLOWS.len() * THICKER.len()],
        }
    }

    /// Whether these are the splits of a block.
    pub fn is_of(&self, block: &Block) -> bool {
        self.block == *block
    }

    /// At a place of the table.
    fn cell(&self, x: usize, y: usize) -> Option<Split> {
        *self.known[x * THICKER.len() + y].get_or_init(|| {
            let main_kg_s = self.main_kg_s * maths::exp(FLOWS[x]);
            self.block.split(main_kg_s, self.at, THICKER[y])
        })
    }

    /// At a logarithm of flow over viscosity, and where the water leaves so much more viscous. Nothing where a split near it is
    /// not known.
    pub fn at(&self, ln: f64, thicker: f64) -> Option<Split> {
        self.between(ln, place(&THICKER, thicker))
    }

    /// The same at a place of the table's second side.
    fn between(&self, ln: f64, (y, up): (usize, f64)) -> Option<Split> {
        let (x, right) = place(&FLOWS, ln);
        let line = |x: usize| mixed(up, || self.cell(x, y), || self.cell(x, y + 1));
        mixed(right, || line(x), || line(x + 1))
    }

    /// The share at a flow over viscosity; almost none where it is not known.
    pub fn share(&self, ln: f64, thicker: f64) -> f64 {
        self.at(ln, thicker).map_or(ALMOST_NONE, |s| s.share)
    }

    /// What is lost between the tees at a flow over viscosity, Pa at the table's viscosity; 0 where a split is not known.
    pub fn lost_pa(&self, ln: f64, thicker: f64) -> f64 {
        let split = self.at(ln, thicker);
        split.map_or(0.0, |s| s.loss_pa) * (1.0 - MARGIN)
    }

    /// The least that can be lost between the tees at a flow over viscosity, Pa at the table's viscosity; 0 where a split is not
    /// known.
    pub fn least_pa(&self, ln: f64) -> f64 {
        // more viscous tails leave more to the main, save where they turn laminar
        let all = THICKER.iter().step_by(3).map(|y| self.lost_pa(ln, *y));
        all.fold(f64::INFINITY, f64::min)
    }

    /// The least and the greatest share between two flows over viscosity; anything where a split is not known.
    pub fn within(&self, from: f64, to: f64, thicker: f64) -> [f64; 2] {
        let between = FLOWS.iter().filter(|x| **x > from && **x < to);
        let all = [from, to].into_iter().chain(between.copied());
        let at = place(&THICKER, thicker);
        let mut range: Option<[f64; 2]> = None;
        for ln in all {
            let Some(Split { share, .. }) = self.between(ln, at) else {
                return [ALMOST_NONE, 1.0];
            };
            range = Some(range.map_or([share; 2], |r| [r[0].min(share), r[1].max(share)]));
        }
        range.map_or([ALMOST_NONE, 1.0], |[low, high]| {
            [low * (1.0 - MARGIN), (high * (1.0 + MARGIN)).min(1.0)]
        })
    }
}

/// A share of the water that takes nothing.
const ALMOST_NONE: f64 = 1e-6;

/// Of two splits, by how far the second counts; what does not count need not be known.
fn mixed(
    second: f64,
    a: impl Fn() -> Option<Split>,
    b: impl Fn() -> Option<Split>,
) -> Option<Split> {
    if second <= 0.0 {
        return a();
    }
    if second >= 1.0 {
        return b();
    }
    let (a, b) = (a()?, b()?);
    Some(Split {
        share: a.share + second * (b.share - a.share),
        loss_pa: a.loss_pa + second * (b.loss_pa - a.loss_pa),
    })
}

/// Between which two of rising figures one lies, and how far on; the ends hold beyond them.
fn place(of: &[f64], at: f64) -> (usize, f64) {
    let after = of.partition_point(|x| *x <= at).clamp(1, of.len() - 1);
    let part = (at - of[after - 1]) / (of[after] - of[after - 1]);
    (after - 1, part.clamp(0.0, 1.0))
}

/// How thin a loop's water is: the logarithm of its viscosity at the mean of the design over that at a temperature.
#[derive(Clone, Debug)]
pub(super) struct Thin {
    /// By kelvin from [`Self::LEAST_C`].
    by_k: Vec<f64>,
}

impl Thin {
    const LEAST_C: f64 = 5.0;

    /// `mu_pa_s` gives viscosities; nothing where it does not at the mean.
    pub fn new(mean_c: f64, mu_pa_s: impl Fn(f64) -> Option<f64>) -> Option<Self> {
        let mean = mu_pa_s(mean_c)?;
        let kelvins = (0..96).map(|k| mu_pa_s(Self::LEAST_C + f64::from(k)));
        let by_k: Vec<f64> = kelvins
            .map_while(|mu| Some(maths::ln(mean / mu?)))
            .collect();
        (by_k.len() > 1).then_some(Self { by_k })
    }

    /// At a temperature, °C.
    pub fn at(&self, c: f64) -> f64 {
        let at = (c - Self::LEAST_C).clamp(0.0, (self.by_k.len() - 1) as f64);
        let row = (at as usize).min(self.by_k.len() - 2);
        self.by_k[row] + (at - row as f64) * (self.by_k[row + 1] - self.by_k[row])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::network::expand;
    use crate::view::running::running;

    const HOUSE: &str = r#"design = { flow_temperature = "52 C", drop = "7 K" }
[source.hp]
free_head = ["30 kPa at 0 l/min", "22 kPa at 40 l/min"]
[loop.ground]
from = "hp"
main = ["cu22 4m 2 elbow", "r0", "cu28 3m", "r1", "cu22 6m 2 elbow", "r2", "cu35 8m 3 elbow", "r3", "cu22 8m"]
between = "cu22 0.6m"
tee = "plain"
[defaults.emitter]
leg = "cu15 2m 2 elbow"
valve = "thermostatic kv 1.6"
lockshield = "kv 2.0"
room = 20
[emitter]
r0 = { panel = "21 450x1000", needs = "625 W" }
r1 = { panel = "11 450x1000", needs = "600 W" }
r2 = { panel = "22 600x1600", needs = "1475 W" }
r3 = { panel = "21 600x1200", needs = "825 W" }
"#;

    /// What a radiator's block by itself says is what the solver of whole houses finds as the house runs.
    #[test]
    fn a_block_by_itself_splits_as_in_the_house() {
        for tee in ["plain", "diverter kv 9"] {
            let text = HOUSE.replace("tee = \"plain\"", &format!("tee = \"{tee}\""));
            let (survey, faults) = crate::survey::read(&text);
            let (network, _) = expand(&survey.unwrap_or_else(|| panic!("{faults:?}"))).unwrap();
            let run = running(&network, 0).unwrap().solved;
            assert_eq!(network.emitters.len(), 4);
            for e in &network.emitters {
                let (body, between) = (e.body.index(), e.one_pipe.unwrap().between.index());
                let main = run.flow_kg_s[body].abs() + run.flow_kg_s[between].abs();
                let water = |c: Option<f64>| crate::view::properties(&network, e.body, c.unwrap());
                let at = water(run.in_c[body]).unwrap();
                let left = water(run.out_c[body]).unwrap();
                let thicker = maths::ln(left.mu_pa_s / at.mu_pa_s);
                let block = Block::of(&network, e).unwrap();
                let split = block.split(main, at, thicker).unwrap();
                let share = run.flow_kg_s[body].abs() / main;
                assert!(
                    (split.share / share - 1.0).abs() < 2e-3,
                    "{} {split:?} {share}",
                    e.name
                );
                let lost = run.dp_pa[between].unwrap();
                assert!(
                    (split.loss_pa / lost - 1.0).abs() < 2e-3,
                    "{} {split:?} {lost}",
                    e.name
                );
                // and so does the table, which stands at another temperature
                let mean = water(Some(48.5)).unwrap();
                let ln = maths::ln(mean.mu_pa_s / at.mu_pa_s);
                let table = Splits::new(block, main, mean);
                let read = table.at(ln, thicker).unwrap();
                assert!(
                    (read.share / share - 1.0).abs() < 4e-3,
                    "{} {read:?} {share}",
                    e.name
                );
                let [low, high] = table.within(ln - 0.02, ln + 0.02, thicker);
                assert!(low <= read.share && read.share <= high && high - low < 0.1 * share);
            }
        }
    }
}
