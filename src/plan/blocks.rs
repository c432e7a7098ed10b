//! What the main of a one-pipe loop loses between the tees of a radiator, by what is chosen there and on either side.

use super::model::Model;
use super::offer::Offers;
use super::passage::bore_m;
use super::problem::Side;
use std::collections::BTreeMap;

/// What rounding of a solved split may cost in a loss, Pa.
const SLACK_PA: f64 = 0.01;

/// The stretches of a loop's main, and of what kinds they can be: a kind is a bore, with a second pipe beside or without.
/// Tees know no more of a stretch than that.
pub(super) struct Mains {
    /// By stretch: its slot.
    pub slots: Vec<Option<usize>>,
    /// By stretch and choice: the kind.
    kinds: Vec<Vec<usize>>,
    count: usize,
}

impl Mains {
    /// Of slots.
    pub fn of(offers: &Offers, m: &Model, slots: Vec<Option<usize>>) -> Self {
        let kind = |s: usize, o: usize| -> (u64, bool) {
            let offer = &offers.slots[s].offers[o];
            let bore = offer.laws.iter().find_map(|(_, law)| bore_m(law));
            // bores are positive, so that their bits are in their order
            (bore.unwrap_or(0.0).to_bits(), !offer.beside.is_empty())
        };
        let by: Vec<Vec<(u64, bool)>> = slots
            .iter()
            .map(|s| {
                s.map_or_else(Vec::new, |s| {
                    m.offers[s].iter().map(|&o| kind(s, o)).collect()
                })
            })
            .collect();
        let mut all: Vec<(u64, bool)> = by.iter().flatten().copied().collect();
        all.sort_unstable();
        all.dedup();
        let number = |kind: &(u64, bool)| all.binary_search(kind).unwrap_or(0);
        let kinds = by.iter().map(|of| of.iter().map(number).collect());
        Self {
            slots,
            kinds: kinds.collect(),
            count: all.len().max(1),
        }
    }

    /// How many kinds there are.
    pub fn kinds(&self) -> usize {
        self.count
    }

    /// A choice of a stretch that is of a kind, else its first.
    pub fn choice(&self, stretch: usize, kind: usize) -> usize {
        let of = self.kinds[stretch].iter();
        let mut of = of.enumerate();
        of.find(|(_, k)| **k == kind).map_or(0, |(c, _)| c)
    }

    /// The kinds that a stretch can be of, in order.
    pub fn kinds_of(&self, stretch: usize) -> Vec<usize> {
        let choices = 0..self.kinds[stretch].len().max(1);
        let mut of: Vec<usize> = choices.map(|c| self.kind_of(stretch, c)).collect();
        of.sort_unstable();
        of.dedup();
        of
    }

    /// Pairs of kinds that can stand before and after a radiator.
    pub fn pairs(&self, at: usize) -> Vec<[usize; 2]> {
        let (before, after) = (self.kinds_of(at), self.kinds_of(at + 1));
        let pairs = before
            .iter()
            .flat_map(|&a| after.iter().map(move |&b| [a, b]));
        pairs.collect()
    }

    /// A stretch as a side of a tie; its kinds are numbered as in [`Self::pairs`].
    pub fn side(&self, stretch: usize) -> Side {
        let of = self.kinds_of(stretch);
        let place = |kind: &usize| of.binary_search(kind).unwrap_or(0);
        Side {
            decision: self.slots[stretch],
            kinds: self.kinds[stretch].iter().map(place).collect(),
            count: of.len(),
        }
    }

    /// The kind of a choice of a stretch; the first where nothing is to be chosen.
    pub fn kind_of(&self, stretch: usize, choice: usize) -> usize {
        self.kinds[stretch].get(choice).copied().unwrap_or(0)
    }
}

/// What a combination does at its radiator between two kinds of main.
#[derive(Clone, Copy, Debug)]
pub(super) struct Case {
    /// The drop, K.
    pub drop_k: f64,
    /// Loss of the main between the tees, Pa; 0 where it is not known.
    pub loss_pa: f64,
    /// A run there breaks a limit that counts.
    pub breaks: bool,
}

/// What a combination does to its radiator in one required view, by kinds of the stretches before and after.
#[derive(Clone, Debug, Default)]
pub(super) struct Seen {
    cases: BTreeMap<[usize; 2], Vec<Case>>,
    /// Some of it had no answer: no answer is no proof.
    pub unknown: bool,
}

impl Seen {
    /// Notes a solution.
    pub fn note(&mut self, sides: [usize; 2], case: Case) {
        self.cases.entry(sides).or_default().push(case);
    }

    /// The least drop between two kinds, K; with `limits` of those with which no limit is broken.
    pub fn drop_k(&self, sides: [usize; 2], limits: bool) -> f64 {
        let cases = self.cases.get(&sides).map_or(&[][..], Vec::as_slice);
        let counts = cases.iter().filter(|case| !(limits && case.breaks));
        counts.map(|case| case.drop_k).fold(f64::INFINITY, f64::min)
    }

    /// The least loss of the main between the tees between two kinds, Pa; 0 where it is not known.
    fn least_pa(&self, sides: [usize; 2]) -> f64 {
        let cases = self.cases.get(&sides).filter(|_| !self.unknown);
        let least = cases.and_then(|all| all.iter().map(|c| c.loss_pa).reduce(f64::min));
        (least.unwrap_or(0.0) - SLACK_PA).max(0.0)
    }
}

/// By decision beside a tie: by choice of the hub and its own choice, Pa.
pub(super) type Beside = Vec<(usize, Vec<Vec<f64>>)>;

/// What is certainly lost between the tees of a radiator, Pa: by choice of the hub and combination; and by decision beside it,
/// choice of the hub and choice there. `seen` has, by choice of the hub and combination, the views that count.
pub(super) fn loads(seen: &[Vec<Vec<&Seen>>], mains: &Mains, at: usize) -> (Vec<Vec<f64>>, Beside) {
    let least = |all: &mut dyn Iterator<Item = f64>| all.reduce(f64::min).unwrap_or(0.0);
    let (before, after) = (mains.kinds_of(at), mains.kinds_of(at + 1));
    let pairs = mains.pairs(at);
    let (mut load_pa, mut beside) = (Vec::new(), [Vec::new(), Vec::new()]);
    for here in seen {
        let lost = |k: usize, sides: [usize; 2]| {
            least(&mut here[k].iter().map(|seen| seen.least_pa(sides)))
        };
        let own: Vec<f64> = (0..here.len())
            .map(|k| least(&mut pairs.iter().map(|&sides| lost(k, sides))))
            .collect();
        // what is left over, first for the stretch before, then for the one after
        let mut more = [vec![0.0; mains.count], vec![0.0; mains.count]];
        for &a in &before {
            let over = (0..here.len()).flat_map(|k| {
                let (own, lost) = (&own, &lost);
                after.iter().map(move |&b| lost(k, [a, b]) - own[k])
            });
            more[0][a] = least(&mut { over });
        }
        for &b in &after {
            let over = (0..here.len()).flat_map(|k| {
                let (own, lost, first) = (&own, &lost, &more[0]);
                before
                    .iter()
                    .map(move |&a| lost(k, [a, b]) - own[k] - first[a])
            });
            more[1][b] = least(&mut { over }).max(0.0);
        }
        load_pa.push(own);
        for (side, (by, more)) in beside.iter_mut().zip(&more).enumerate() {
            let stretch = at + side;
            let choices = 0..mains.kinds[stretch].len();
            by.push(
                choices
                    .map(|c| more[mains.kind_of(stretch, c)])
                    .collect::<Vec<f64>>(),
            );
        }
    }
    let slots = [mains.slots[at], mains.slots[at + 1]];
    let beside = slots.into_iter().zip(beside);
    (
        load_pa,
        beside.filter_map(|(s, by)| Some((s?, by))).collect(),
    )
}
