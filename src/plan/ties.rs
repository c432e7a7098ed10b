//! Which tails, valve and radiator can stand together on a one-pipe loop, by the size of the main between the tees.
//!
//! As required the main of such a loop carries the sum of the duties whatever its sizes are, and each radiator gets the
//! temperature that those before it leave; only what share goes through it hangs on sizes: its own, those between its tees,
//! and the bores of the main before and after, which decide what the tees lose. So the drop at which a radiator has to give
//! its duty is looked up for every combination at once, all radiators of the house alike, and the least over the bores of
//! the main is what a combination can have at best.

use super::model::{HAIR_K, Model};
use super::offer::Offers;
use super::passage::bore_m;
use super::problem::Tie;
use super::search::House;
use super::site::{Route, Site};
use crate::network::{Network, expand};
use crate::solve::SolveError;
use crate::survey::Survey;
use crate::view::required::{flows, inlet_for};

/// Solutions beyond which a loop is searched without ties.
const MOST: usize = 3_000;
/// What rounding of the solved split may cost, K.
const SLACK_K: f64 = 1e-5;

/// An emitter on a loop: its place in the network and the slots that are its own.
struct Own {
    emitter: usize,
    tail: Option<usize>,
    valve: Option<usize>,
    radiator: Option<usize>,
    /// By combination of hub, tail and valve, and by required view: the least drop, K.
    drop_k: Vec<Vec<f64>>,
}

/// Adds the ties of all one-pipe loops to a model; emitters that no combination helps join those that are too cold.
/// A combination that the solver cannot answer is taken as possible.
pub(super) fn tie(house: &House, offers: &Offers, m: &mut Model) {
    // duties that hang on other radiators hang on more than one place
    if m.loose.iter().any(|l| !l.rooms.is_empty()) {
        return;
    }
    for (index, one) in house.survey.loops.iter().enumerate() {
        let find = |site: Site| offers.slots.iter().position(|s| s.site == site);
        let device = |route: Route| {
            let mut slots = offers.slots.iter();
            slots.any(|s| matches!(s.site, Site::Device(r, ..) if r == route))
        };
        if device(Route::Between(index)) {
            continue;
        }
        let hub = find(Site::Pipe(Route::Between(index)));
        let mut mains: Vec<Option<usize>> = (0..one.main.len())
            .map(|s| find(Site::Pipe(Route::Loop(index, s))))
            .collect();
        mains.push(find(Site::Pipe(Route::Home(index))));
        let own = one.main.iter().filter_map(|stretch| {
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
                drop_k: Vec::new(),
            })
        });
        let mut own: Vec<Own> = own.collect();
        let (grid, bores) = (grid(m, hub, &own), bores(offers, m, &mains));
        let looks = grid.iter().product::<usize>() * bores.len() * bores.len();
        if own.is_empty() || looks > MOST {
            continue;
        }
        look(house, offers, m, (hub, &mains, &bores), grid, &mut own);
        for own in &own {
            put(house, offers, m, hub, grid, own);
        }
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

/// By bore that the stretches of a main can have: of each stretch the choice that has it, else its first.
fn bores(offers: &Offers, m: &Model, mains: &[Option<usize>]) -> Vec<Vec<usize>> {
    let bore = |s: usize, c: usize| {
        let laws = &offers.slots[s].offers[m.offers[s][c]].laws;
        laws.iter().find_map(|(_, law)| bore_m(law))
    };
    let slots = mains.iter().flatten();
    let mut all: Vec<f64> = slots
        .flat_map(|&s| (0..m.offers[s].len()).filter_map(move |c| bore(s, c)))
        .collect();
    all.sort_by(f64::total_cmp);
    all.dedup();
    let with = |b: f64| -> Vec<usize> {
        let choice = |s: usize| (0..m.offers[s].len()).find(|&c| bore(s, c) == Some(b));
        let choices = mains.iter().map(|s| s.and_then(choice).unwrap_or(0));
        choices.collect()
    };
    match all.is_empty() {
        true => vec![vec![0; mains.len()]],
        false => all.into_iter().map(with).collect(),
    }
}

/// Solves every combination for all emitters at once: the main's stretches have one bore before and another after a
/// radiator, in turn, so that every pair of bores comes up on both sides of each.
fn look(
    house: &House,
    offers: &Offers,
    m: &Model,
    (hub, mains, bores): (Option<usize>, &[Option<usize>], &[Vec<usize>]),
    grid: [usize; 3],
    own: &mut [Own],
) {
    for own in own.iter_mut() {
        own.drop_k = vec![vec![f64::INFINITY; house.required.len()]; grid.iter().product()];
    }
    let combinations = (0..grid[0])
        .flat_map(|h| (0..grid[1]).flat_map(move |t| (0..grid[2]).map(move |v| (h, t, v))));
    for (h, t, v) in combinations {
        let at = index(grid, (h, t, v));
        for a in bores {
            for b in bores {
                let mut survey = house.survey.clone();
                let mut choose = |slot: Option<usize>, c: usize| {
                    if let Some((s, &o)) = slot.and_then(|s| Some((s, m.offers[s].get(c)?))) {
                        offers.slots[s].offers[o].change.apply(&mut survey);
                    }
                };
                choose(hub, h);
                for own in own.iter() {
                    choose(own.tail, t);
                    choose(own.valve, v);
                }
                for (k, &s) in mains.iter().enumerate() {
                    let of = if k % 2 == 0 { a } else { b };
                    choose(s, of[k]);
                }
                note(house, &survey, at, own);
            }
        }
    }
}

/// Notes the drops of one combination where they are less than those that are known.
fn note(house: &House, survey: &Survey, at: usize, own: &mut [Own]) {
    let solved = |network: &Network, state: usize| -> Result<_, SolveError> {
        let (_, ends_c) = flows(network, state)?;
        Ok(ends_c)
    };
    let network = expand(survey).ok().map(|(network, _)| network);
    for (r, required) in house.required.iter().enumerate() {
        let ends_c = network
            .as_ref()
            .and_then(|n| Some((n, solved(n, required.state).ok()?)));
        for own in own.iter_mut() {
            let drop_k = match &ends_c {
                Some((n, ends)) => {
                    let body = n.emitters[own.emitter].body;
                    ends[body.index()].map_or(f64::INFINITY, |(c_in, c_out)| c_in - c_out)
                }
                // no answer is no proof
                None => 0.0,
            };
            let least = &mut own.drop_k[at][r];
            *least = least.min(drop_k);
        }
    }
}

/// The tie of one emitter.
fn put(
    house: &House,
    offers: &Offers,
    m: &mut Model,
    hub: Option<usize>,
    grid: [usize; 3],
    own: &Own,
) {
    let e = &house.network.emitters[own.emitter];
    let room_c = house.network.rooms[e.room].temperature_c;
    let count = |slot: Option<usize>| slot.map_or(1, |s| m.offers[s].len());
    let (mut can, mut nearest) = (Vec::new(), (f64::INFINITY, 0.0));
    for h in 0..grid[0] {
        let mut here = Vec::new();
        for (t, v) in (0..count(own.tail)).flat_map(|t| (0..count(own.valve)).map(move |v| (t, v)))
        {
            for c in 0..count(own.radiator) {
                let heat = own.radiator.and_then(|s| {
                    let offer = &offers.slots[s].offers[m.offers[s][c]];
                    offer.heat
                });
                let (law, duty_w) = heat.unwrap_or((e.law, e.duty_w));
                let drops = &own.drop_k[index(grid, (h, t, v))];
                let over = house.required.iter().zip(drops).filter_map(|(r, drop_k)| {
                    let (c_in, _) = r.ends_c[e.body.index()]?;
                    let asks_c = inlet_for(&law, duty_w, *drop_k, room_c)?;
                    Some((asks_c, c_in))
                });
                let worst = over.max_by(|a, b| (a.0 - a.1).total_cmp(&(b.0 - b.1)));
                let holds = worst.is_none_or(|(asks, gets)| asks <= gets + HAIR_K + SLACK_K);
                if let Some((asks, gets)) = worst.filter(|w| w.0 < nearest.0) {
                    nearest = (asks, gets);
                }
                if holds {
                    let slots = [(own.tail, t), (own.valve, v), (own.radiator, c)];
                    here.push(slots.iter().filter_map(|(s, c)| s.map(|_| *c)).collect());
                }
            }
        }
        can.push(here);
    }
    if can.iter().all(Vec::is_empty) && !m.too_cold.iter().any(|c| c.0 == own.emitter) {
        m.too_cold.push((own.emitter, nearest.0, nearest.1));
        return;
    }
    let of = [own.tail, own.valve, own.radiator];
    let tie = Tie {
        hub,
        of: of.into_iter().flatten().collect(),
        can,
    };
    m.problem.ties.push(tie);
}
