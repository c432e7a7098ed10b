//! Which emitter holds the flow temperature up, then which: each in turn is changed as the plan changes it, else for the
//! cheapest radiator on offer that gets down to the next, and the house is looked at again.

use super::change::{Change, What};
use super::offer::{Offer, Offers, Slot};
use super::search::House;
use super::site::Site;
use crate::maths::pow;
use crate::network::{Emitter, HeatLaw, excess_k};
use crate::survey::Mean;
use crate::view::required::inlet_for;
use crate::view::{EmitterAsks, Required};

/// Emitters that ask for as much to this, K, hold the temperature up together: figures are shown to a tenth.
const TIED_K: f64 = 0.1;
/// An emitter on a one-pipe main is short of water from this share of the design's drop.
const STARVED: f64 = 2.0;
/// Rungs that are sought.
const MOST: usize = 8;

/// The ladder of a house.
#[derive(Clone, Debug, PartialEq)]
pub struct Ladder {
    /// Flow temperature of the design, °C.
    pub design_c: f64,
    /// From the emitters that ask most downwards.
    pub rungs: Vec<Rung>,
    /// Why there is no further one.
    pub ends: Ends,
    /// Emitters that ask for no flow temperature: those of a fixed heat.
    pub apart: Vec<String>,
}

/// One rung: emitters that hold the flow temperature up together once those before them are changed.
#[derive(Clone, Debug, PartialEq)]
pub struct Rung {
    /// Flow temperature at the source that the worst of them asks for, °C.
    pub asks_c: f64,
    /// What the house asks for once they are changed, °C; nothing at the last.
    pub then_c: Option<f64>,
    /// The emitters.
    pub emitters: Vec<Swap>,
}

/// An emitter and what is done there.
#[derive(Clone, Debug, PartialEq)]
pub struct Swap {
    /// The emitter.
    pub emitter: String,
    /// Its radiator's output at 75/65/20, and what one must give there to ask for no more than the next, W; nothing of a
    /// floor, or where nothing is next.
    pub output_w: Option<(f64, f64)>,
    /// Its drop and the design's, K, where it gets so little water that this drives it.
    pub starved_k: Option<(f64, f64)>,
    /// What is put in its place; nothing where nothing better is on offer: the rung then says what a change would buy.
    pub by: Option<By>,
}

/// A radiator that is put in the place of another.
#[derive(Clone, Debug, PartialEq)]
pub struct By {
    /// The change.
    pub change: Change,
    /// Type and size.
    pub panel: String,
    /// Hundredths.
    pub money: i64,
    /// Whether the plan makes this change.
    pub of_plan: bool,
    /// Whether it takes the place of one that stands higher on the ladder.
    pub again: bool,
}

/// Why a ladder ends.
#[derive(Clone, Debug, PartialEq)]
pub enum Ends {
    /// No other emitter asks for a flow temperature.
    Last,
    /// So many emitters are left; more rungs were not sought.
    More(usize),
    /// The house has no answer with the next change.
    NoAnswer,
}

/// Rungs from the emitter that asks most downwards.
pub fn ladder(house: &House, offers: &Offers, plan: &[Change]) -> Ladder {
    let mut climb = Climb {
        offers,
        plan,
        house: house.clone(),
        done: Vec::new(),
        tried: Vec::new(),
        aside: Vec::new(),
    };
    let network = &house.network;
    let asks = climb.asks();
    let fixed = network.emitters.iter().enumerate();
    let fixed = fixed.filter(|(i, _)| asks.iter().all(|(j, _)| j != i));
    let apart = fixed.map(|(_, e)| e.name.clone()).collect();
    let mut rungs = Vec::new();
    let ends = climb.down(&mut rungs);
    Ladder {
        design_c: network.design.flow_temperature_c,
        rungs,
        ends,
        apart,
    }
}

struct Climb<'o> {
    offers: &'o Offers,
    plan: &'o [Change],
    /// The house with what was changed so far.
    house: House,
    /// What stands at emitters in place of what was there.
    done: Vec<(usize, Change)>,
    /// All that was put in once.
    tried: Vec<Change>,
    /// Emitters that are taken to be changed although nothing is on offer.
    aside: Vec<usize>,
}

impl Climb<'_> {
    fn required(&self) -> Option<&Required> {
        self.house.required.first()
    }

    /// Emitters that still count and what they ask for, the worst first.
    fn asks(&self) -> Vec<(usize, f64)> {
        let emitters = self.required().map_or(&[][..], |r| &r.emitters);
        let mut asks: Vec<(usize, f64)> = emitters
            .iter()
            .enumerate()
            .filter(|(i, _)| !self.aside.contains(i))
            .filter_map(|(i, e)| Some((i, e.source_c?)))
            .collect();
        asks.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        asks
    }

    fn down(&mut self, rungs: &mut Vec<Rung>) -> Ends {
        let mut open: Option<Rung> = None;
        loop {
            let asks = self.asks();
            let Some(&(_, top)) = asks.first() else {
                rungs.extend(open);
                return Ends::Last;
            };
            if rungs.len() == MOST && open.is_none() {
                return Ends::More(asks.len());
            }
            let tied: Vec<usize> = asks
                .iter()
                .filter(|(_, c)| *c > top - TIED_K)
                .map(|(i, _)| *i)
                .collect();
            let next_c = asks.get(tied.len()).map(|(_, c)| *c);
            let mut rung = open.take().unwrap_or(Rung {
                asks_c: top,
                then_c: None,
                emitters: Vec::new(),
            });
            if next_c.is_none() && !tied.iter().any(|&i| self.planned(i).is_some()) {
                rung.emitters.extend(tied.iter().map(|&i| self.left(i)));
                rungs.push(rung);
                return Ends::Last;
            }
            for i in tied {
                let swap = self.swap(i, next_c);
                if swap.by.is_none() {
                    self.aside.push(i);
                }
                rung.emitters.push(swap);
            }
            match self.changed() {
                Some(house) => self.house = house,
                None => return Ends::NoAnswer,
            }
            rung.then_c = self.asks().first().map(|(_, c)| *c);
            // a change that buys nothing to be seen stands on one rung with the next
            match rung.then_c {
                Some(then_c) if rung.asks_c - then_c < TIED_K => open = Some(rung),
                _ => rungs.push(rung),
            }
        }
    }

    /// The offer that the plan takes for an emitter, unless it was put in before.
    fn planned(&self, i: usize) -> Option<&Offer> {
        let mut offers = self.slot(i)?.offers.iter();
        offers.find(|o| self.plan.contains(&o.change) && !self.tried.contains(&o.change))
    }

    /// An emitter that is left as it is.
    fn left(&self, i: usize) -> Swap {
        Swap {
            emitter: self.house.network.emitters[i].name.clone(),
            output_w: None,
            starved_k: None,
            by: None,
        }
    }

    /// The house with all that was put in.
    fn changed(&self) -> Option<House> {
        let mut survey = self.house.survey.clone();
        for (_, change) in &self.done {
            change.apply(&mut survey);
        }
        House::new(survey).ok()
    }

    /// What is done at one emitter so that it asks for no more than the next.
    fn swap(&mut self, i: usize, next_c: Option<f64>) -> Swap {
        let network = &self.house.network;
        let e = &network.emitters[i];
        let asks = self.required().map(|r| r.emitters[i]);
        let mut swap = Swap {
            output_w: asks.zip(next_c).and_then(|(asks, next_c)| {
                output_w(network.rooms[e.room].temperature_c, e, &asks, next_c)
            }),
            starved_k: asks
                .map(|asks| (asks.drop_k, network.design.drop_k))
                .filter(|(drop_k, design_k)| e.one_pipe.is_some() && *drop_k > STARVED * design_k),
            ..self.left(i)
        };
        let Some(slot) = self.slot(i) else {
            return swap;
        };
        let now_c = asks.and_then(|a| a.source_c).unwrap_or(f64::INFINITY);
        let then = |o: &Offer| -> Option<f64> {
            let (law, duty_w) = o.heat?;
            let (asks, room_c) = (asks?, network.rooms[e.room].temperature_c);
            let lost_k = asks.source_c? - asks.inlet_c?;
            Some(inlet_for(&law, duty_w, asks.drop_k, room_c)? + lost_k)
        };
        let better = slot.offers.iter().filter_map(|o| Some((o, then(o)?)));
        let better: Vec<(&Offer, f64)> = better
            .filter(|(o, c)| *c < now_c - 1e-9 && !self.tried.contains(&o.change))
            .collect();
        let reaches = |c: f64| next_c.is_none_or(|next_c| c <= next_c);
        let cheapest = better
            .iter()
            .filter(|(_, c)| reaches(*c))
            .min_by_key(|(o, _)| o.money);
        // where none gets so far, the one that gets farthest
        let best = better.iter().min_by(|a, b| a.1.total_cmp(&b.1));
        let sought = cheapest.or(best).map(|(o, _)| *o);
        let Some(offer) = self.planned(i).or(sought) else {
            return swap;
        };
        let What::Radiator(panel) = &offer.change.what else {
            return swap;
        };
        swap.by = Some(By {
            change: offer.change.clone(),
            panel: panel.words(),
            money: offer.money,
            of_plan: self.plan.contains(&offer.change),
            again: self.done.iter().any(|(at, _)| *at == i),
        });
        let change = offer.change.clone();
        self.tried.push(change.clone());
        self.done.retain(|(at, _)| *at != i);
        self.done.push((i, change));
        swap
    }

    /// The slot of an emitter's radiator.
    fn slot(&self, emitter: usize) -> Option<&Slot> {
        let name = &self.house.network.emitters[emitter].name;
        let mut slots = self.offers.slots.iter();
        slots.find(|s| {
            matches!(s.site, Site::Radiator(_)) && s.site.owner(&self.house.survey) == name
        })
    }
}

/// Output of an emitter's radiator at 75/65/20, and the output there with which it asks the source for `next_c`, W.
fn output_w(room_c: f64, e: &Emitter, asks: &EmitterAsks, next_c: f64) -> Option<(f64, f64)> {
    let HeatLaw::Rated {
        output_w,
        base_k,
        exponent,
        mean,
    } = e.law
    else {
        return None;
    };
    let rated_k = match mean {
        Mean::Arithmetic => 50.0,
        Mean::Logarithmic => excess_k(mean, 75.0, 65.0, 20.0),
    };
    let inlet_c = next_c - (asks.source_c? - asks.inlet_c?);
    let excess = excess_k(mean, inlet_c, inlet_c - asks.drop_k, room_c);
    let needs = e.duty_w * pow(rated_k / excess, exponent);
    let has = output_w * pow(rated_k / base_k, exponent);
    (excess > 0.0).then_some((has, needs))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// EN 442-2: output goes with (excess/50)^n. 1200 W rated, 40 K in place of 50 K, n = 1.3: 1200·0.8^1.3 = 897.84 W.
    #[test]
    fn the_output_that_is_needed_gives_the_duty_at_the_next_temperature() {
        let law = HeatLaw::Rated {
            output_w: 1000.0,
            base_k: 50.0,
            exponent: 1.3,
            mean: Mean::Arithmetic,
        };
        let (case, _) = crate::survey::read(include_str!("../../tests/data/stories/a9.toml"));
        let (network, _) = crate::network::expand(&case.unwrap()).unwrap();
        let mut e = network.emitters[0].clone();
        (e.law, e.duty_w) = (law, 897.84);
        let asks = EmitterAsks {
            inlet_c: Some(70.0),
            source_c: Some(70.0),
            drop_k: 10.0,
            ..EmitterAsks::default()
        };
        // mean 60 °C in a room of 20 °C
        let (has, needs) = output_w(20.0, &e, &asks, 65.0).unwrap();
        assert_eq!(has, 1000.0);
        assert!((needs - 1200.0).abs() < 0.1, "{needs}");
    }
}
