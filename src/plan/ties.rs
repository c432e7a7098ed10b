//! Which tails, valve and radiator can stand together on a one-pipe loop, by the size of the main between the tees.
//!
//! As required the main of such a loop carries the sum of the duties whatever its sizes are, and each radiator gets the
//! temperature that those before it leave; only what share goes through it hangs on sizes: its own, those between its tees,
//! and the bores of the main before and after, which decide what the tees lose. So the drop at which a radiator has to give
//! its duty is looked up for every combination at once, all radiators of the house alike, and the least over the bores of
//! the main is what a combination can have at best. What the main loses between the tees is looked up with it: the least
//! over those bores goes to the combination, and what a bore adds at least to the bore.

use super::blocks::{Beside, Case, Mains, Seen, loads};
use super::model::Model;
use super::offer::Offers;
use super::problem::{COLD_K, Tie};
use super::ruled::broken;
use super::search::House;
use super::site::{Route, Site};
use super::splits::Block;
use crate::network::{Network, expand};
use crate::view::required::{flows, inlet_for, look as required_look};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Solutions beyond which a loop is searched without ties.
const MOST: usize = 3_000;

/// An emitter on a loop: its place in the network and the slots that are its own.
pub(super) struct Own {
    pub emitter: usize,
    tail: Option<usize>,
    valve: Option<usize>,
    pub radiator: Option<usize>,
    /// Which radiator of its loop it is; the stretch of the main before it has the same number.
    pub at: usize,
    /// By combination of hub, tail and valve, and by required view.
    pub seen: Vec<Vec<Seen>>,
}

/// Adds the ties of all one-pipe loops to a model; emitters that no combination helps join those that are too cold.
/// A combination that the solver cannot answer is taken as possible. Returns what was looked up.
pub(super) fn tie(house: &House, offers: &Offers, m: &mut Model) -> Vec<Looked> {
    let mut all = Vec::new();
    for index in 0..house.survey.loops.len() {
        if let Some(looked) = looked(house, offers, m, index) {
            for own in &looked.own {
                put(house, offers, m, &looked, own);
            }
            all.push(looked);
        }
    }
    all
}

/// A loop whose combinations were all solved.
pub(super) struct Looked {
    /// What its radiators hang on together: the main between the tees.
    pub hub: Option<usize>,
    /// Stretches of its main.
    pub mains: Mains,
    grid: [usize; 3],
    /// Its radiators, in their order.
    pub own: Vec<Own>,
    /// What stands at every radiator, by its place among them, where its combination is noted and kinds on its sides; nothing
    /// where something lies beside what it hangs on.
    pub blocks: BTreeMap<(usize, usize, [usize; 2]), Option<Block>>,
}

/// Solves every combination on a loop; nothing where that would tell nothing or take too long.
fn looked(house: &House, offers: &Offers, m: &Model, index: usize) -> Option<Looked> {
    // duties that hang on other radiators hang on more than one place
    if m.loose.iter().any(|l| !l.rooms.is_empty()) {
        return None;
    }
    let one = &house.survey.loops[index];
    let find = |site: Site| offers.slots.iter().position(|s| s.site == site);
    let device = |route: Route| {
        let mut slots = offers.slots.iter();
        slots.any(|s| matches!(s.site, Site::Device(r, ..) if r == route))
    };
    if device(Route::Between(index)) {
        return None;
    }
    let hub = find(Site::Pipe(Route::Between(index)));
    let stretches = (0..one.main.len()).map(|s| find(Site::Pipe(Route::Loop(index, s))));
    let home = find(Site::Pipe(Route::Home(index)));
    let mains = Mains::of(offers, m, stretches.chain([home]).collect());
    let own = one.main.iter().enumerate().filter_map(|(k, stretch)| {
        let name = &stretch.to.value;
        let emitter = house
            .network
            .emitters
            .iter()
            .position(|e| e.name == *name)?;
        let in_file = house.survey.emitters.iter();
        let at = in_file.enumerate().find(|(_, e)| e.name.value == *name)?.0;
        let moves = house.network.emitters[emitter].one_pipe?.share.is_none();
        (moves && !device(Route::Tail(at))).then(|| Own {
            emitter,
            tail: find(Site::Pipe(Route::Tail(at))),
            valve: find(Site::Valve(at)),
            radiator: find(Site::Radiator(at)),
            at: k,
            seen: Vec::new(),
        })
    });
    let own: Vec<Own> = own.collect();
    let grid = grid(m, hub, &own);
    let looks = grid.iter().product::<usize>() * mains.kinds() * mains.kinds();
    if own.is_empty() || looks > MOST {
        return None;
    }
    let mut looked = Looked {
        hub,
        mains,
        grid,
        own,
        blocks: BTreeMap::new(),
    };
    look(house, offers, m, &mut looked);
    Some(looked)
}

impl Looked {
    /// What is certainly lost at a radiator, as [`loads`] has it, by where the combinations that can be are noted.
    pub fn loads(&self, house: &House, own: &Own, noted: &[Vec<usize>]) -> (Vec<Vec<f64>>, Beside) {
        let body = house.network.emitters[own.emitter].body.index();
        let of_views = |at: &usize| -> Vec<&Seen> {
            let views = house.required.iter().zip(&own.seen[*at]);
            views
                .filter(|(r, _)| r.flow_kg_s[body] > 0.0)
                .map(|(_, seen)| seen)
                .collect()
        };
        let seen: Vec<Vec<Vec<&Seen>>> = noted
            .iter()
            .map(|here| here.iter().map(of_views).collect())
            .collect();
        loads(&seen, &self.mains, own.at)
    }

    /// Where a combination of a radiator is noted.
    pub fn noted(&self, own: &Own, hub: usize, combination: &[usize]) -> usize {
        let mut rest = combination.iter();
        let mut next = |slot: Option<usize>| slot.and_then(|_| rest.next()).copied().unwrap_or(0);
        let (t, v) = (next(own.tail), next(own.valve));
        index(self.grid, (hub, t, v))
    }
}

/// How many choices hub, tails and valves have.
fn grid(m: &Model, hub: Option<usize>, own: &[Own]) -> [usize; 3] {
    let most = |slots: Vec<Option<usize>>| {
        let choices = slots.into_iter().flatten().map(|s| m.offers[s].len());
        choices.max().unwrap_or(1)
    };
    [
        most(vec![hub]),
        most(own.iter().map(|o| o.tail).collect()),
        most(own.iter().map(|o| o.valve).collect()),
    ]
}

/// Index of a combination.
fn index(grid: [usize; 3], (h, t, v): (usize, usize, usize)) -> usize {
    (h * grid[1] + t) * grid[2] + v
}

/// A combination and its main: where it is noted, its choices, and the kinds of the main's stretches in turn.
#[derive(Clone, Copy)]
struct Laid {
    at: usize,
    chosen: [usize; 3],
    kinds: [usize; 2],
}

impl Laid {
    /// Kind of a stretch of the main.
    fn kind(&self, stretch: usize) -> usize {
        self.kinds[stretch % 2]
    }

    /// Kinds before and after a radiator.
    fn sides(&self, mains: &Mains, own: &Own) -> [usize; 2] {
        [own.at, own.at + 1].map(|k| mains.kind_of(k, mains.choice(k, self.kind(k))))
    }
}

impl Looked {
    /// Every combination for all emitters at once: the main's stretches are of one kind before and of another after a radiator,
    /// in turn, so that every pair of kinds comes up on both sides of each.
    fn all(&self) -> Vec<Laid> {
        let [hubs, tails, valves] = self.grid;
        let kinds = self.mains.kinds();
        let mut all = Vec::new();
        for (h, t) in (0..hubs).flat_map(|h| (0..tails).map(move |t| (h, t))) {
            for (v, a) in (0..valves).flat_map(|v| (0..kinds).map(move |a| (v, a))) {
                all.extend((0..kinds).map(|b| Laid {
                    at: index(self.grid, (h, t, v)),
                    chosen: [h, t, v],
                    kinds: [a, b],
                }));
            }
        }
        all
    }

    /// The house with a combination everywhere; nothing where it cannot be laid.
    fn laid(&self, house: &House, offers: &Offers, m: &Model, laid: Laid) -> Option<Network> {
        let mut survey = house.survey.clone();
        let mut choose = |slot: Option<usize>, c: usize| {
            if let Some((s, &o)) = slot.and_then(|s| Some((s, m.offers[s].get(c)?))) {
                offers.slots[s].offers[o].change.apply(&mut survey);
            }
        };
        let [h, t, v] = laid.chosen;
        choose(self.hub, h);
        for own in &self.own {
            choose(own.tail, t);
            choose(own.valve, v);
        }
        for (k, &s) in self.mains.slots.iter().enumerate() {
            choose(s, self.mains.choice(k, laid.kind(k)));
        }
        expand(&survey).ok().map(|(network, _)| network)
    }
}

/// Solves every combination.
fn look(house: &House, offers: &Offers, m: &Model, looked: &mut Looked) {
    let combinations: usize = looked.grid.iter().product();
    for own in &mut looked.own {
        own.seen = vec![vec![Seen::default(); house.required.len()]; combinations];
    }
    let all = looked.all();
    // a network is large and what is noted of it small, so that no more networks stand than there are processors
    let notes: Vec<Noted> = all
        .par_iter()
        .map(|laid| {
            let network = looked.laid(house, offers, m, *laid);
            note(house, network.as_ref(), looked)
        })
        .collect();
    for (laid, noted) in all.into_iter().zip(notes) {
        for (r, cases) in noted.views.into_iter().enumerate() {
            for (k, own) in looked.own.iter_mut().enumerate() {
                let sides = laid.sides(&looked.mains, own);
                match &cases {
                    Some(cases) => own.seen[laid.at][r].note(sides, cases[k]),
                    None => own.seen[laid.at][r].unknown = true,
                }
            }
        }
        for (t, block) in noted.blocks.into_iter().enumerate() {
            let sides = laid.sides(&looked.mains, &looked.own[t]);
            looked.blocks.entry((t, laid.at, sides)).or_insert(block);
        }
    }
}

/// A house with the need of each emitter so many times as large, and so its flow.
pub(super) fn needing(mut network: Network, times: impl Fn(usize) -> f64) -> Network {
    for (i, e) in network.emitters.iter_mut().enumerate() {
        e.duty_w *= times(i);
    }
    network
}

/// What one combination does at every radiator.
struct Noted {
    /// By required view; nothing where that has no answer.
    views: Vec<Option<Vec<Case>>>,
    /// What stands there; empty where the combination cannot be laid.
    blocks: Vec<Option<Block>>,
}

/// Notes what one combination does.
fn note(house: &House, network: Option<&Network>, looked: &Looked) -> Noted {
    let Some(n) = network else {
        return Noted {
            views: house.required.iter().map(|_| None).collect(),
            blocks: Vec::new(),
        };
    };
    let blocks = looked
        .own
        .iter()
        .map(|own| Block::of(n, &n.emitters[own.emitter]));
    let views = house.required.iter().map(|required| {
        let (view, ends_c) = match required_look(n, required.state, 1.0, false) {
            Ok(view) => {
                let ends_c = view.ends_c.clone();
                (Some(view), ends_c)
            }
            // a radiator that would cool its share below freezing leaves no view, but temperatures
            Err(_) => (None, flows(n, required.state).ok()?.1),
        };
        let case = |own: &Own| {
            let e = &n.emitters[own.emitter];
            let drop_k = ends_c[e.body.index()].map_or(f64::INFINITY, |(c_in, c_out)| c_in - c_out);
            let one = view.as_ref().zip(e.one_pipe.as_ref());
            let breaks = one.is_some_and(|(view, one)| {
                let mut ids = e.branch.iter().chain([&one.between]);
                ids.any(|id| matches!(broken(n, view, *id), Ok(Some(_))))
            });
            Case {
                drop_k,
                loss_pa: one.map_or(0.0, |(view, one)| view.loss_pa[one.between.index()]),
                breaks,
            }
        };
        Some(looked.own.iter().map(case).collect())
    });
    Noted {
        views: views.collect(),
        blocks: blocks.collect(),
    }
}

/// The tie of one emitter.
fn put(house: &House, offers: &Offers, m: &mut Model, looked: &Looked, own: &Own) {
    let Looked {
        hub, mains, grid, ..
    } = looked;
    let (limited, nearest) = standing(house, offers, m, (*grid, mains), own, true);
    // where a limit is broken whatever is chosen, a look in full says which
    let (can, noted) = match limited.0.iter().all(Vec::is_empty) {
        true => standing(house, offers, m, (*grid, mains), own, false).0,
        false => limited,
    };
    if can.iter().all(Vec::is_empty) && !m.too_cold.iter().any(|c| c.0 == own.emitter) {
        m.too_cold.push((own.emitter, nearest.0, nearest.1));
        return;
    }
    let of = [own.tail, own.valve, own.radiator];
    let spare = |here: &Vec<(usize, Vec<f64>)>| here.iter().map(|(_, k)| k.clone()).collect();
    let at = |here: &Vec<(usize, Vec<f64>)>| here.iter().map(|(at, _)| *at).collect();
    let noted_at: Vec<Vec<usize>> = noted.iter().map(at).collect();
    let (load_pa, beside) = looked.loads(house, own, &noted_at);
    m.problem.ties.push(Tie {
        hub: *hub,
        of: of.into_iter().flatten().collect(),
        can,
        load_pa,
        spare_k: noted.iter().map(spare).collect(),
        sides: [own.at, own.at + 1].map(|k| mains.side(k)),
        beside,
    });
    m.tied.push(own.emitter);
}

/// By choice of the hub: combinations that can be; where each is noted, and what it has to spare by pair of sides, K.
type Standing = (Vec<Vec<Vec<usize>>>, Vec<Vec<(usize, Vec<f64>)>>);

/// Combinations with which an emitter gets what it asks for, and what the one nearest to that asks for and gets, °C.
/// `limits`: no run there breaks a limit either.
fn standing(
    house: &House,
    offers: &Offers,
    m: &Model,
    (grid, mains): ([usize; 3], &Mains),
    own: &Own,
    limits: bool,
) -> (Standing, (f64, f64)) {
    let e = &house.network.emitters[own.emitter];
    let room_c = house.network.rooms[e.room].temperature_c;
    let count = |slot: Option<usize>| slot.map_or(1, |s| m.offers[s].len());
    let pairs = mains.pairs(own.at);
    let (mut can, mut noted, mut nearest) = (Vec::new(), Vec::new(), (f64::INFINITY, 0.0));
    for h in 0..grid[0] {
        let (mut here, mut noted_here) = (Vec::new(), Vec::new());
        for (t, v) in (0..count(own.tail)).flat_map(|t| (0..count(own.valve)).map(move |v| (t, v)))
        {
            let at = index(grid, (h, t, v));
            for c in 0..count(own.radiator) {
                let heat = own.radiator.and_then(|s| {
                    let offer = &offers.slots[s].offers[m.offers[s][c]];
                    offer.heat
                });
                let (law, duty_w) = heat.unwrap_or((e.law, e.duty_w));
                // what it asks for and gets where it is worst off, between two kinds of main
                let worst = |sides: [usize; 2]| {
                    let views = house.required.iter().zip(&own.seen[at]);
                    let over = views.filter_map(|(r, seen)| {
                        let (c_in, _) = r.ends_c[e.body.index()].filter(|_| !seen.unknown)?;
                        let asks_c = inlet_for(&law, duty_w, seen.drop_k(sides, limits), room_c);
                        Some((asks_c.unwrap_or(f64::INFINITY), c_in))
                    });
                    over.max_by(|a, b| (a.0 - a.1).total_cmp(&(b.0 - b.1)))
                };
                let worst: Vec<Option<(f64, f64)>> = pairs.iter().map(|p| worst(*p)).collect();
                let known = worst.iter().flatten().copied();
                nearest = { known }.fold(nearest, |n, w| if w.0 < n.0 { w } else { n });
                let spare = worst
                    .iter()
                    .map(|w| w.map_or(0.0, |(asks, gets)| gets - asks));
                let spare: Vec<f64> = spare.collect();
                if spare.iter().any(|spare| *spare >= COLD_K) {
                    let slots = [(own.tail, t), (own.valve, v), (own.radiator, c)];
                    here.push(slots.iter().filter_map(|(s, c)| s.map(|_| *c)).collect());
                    noted_here.push((at, spare));
                }
            }
        }
        can.push(here);
        noted.push(noted_here);
    }
    ((can, noted), nearest)
}
