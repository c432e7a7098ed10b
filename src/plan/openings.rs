//! Places that are opened once for all that is changed there: those that the file names, else one for each line.

use super::change::{Change, What};
use super::offer::{Finder, Place};
use super::price::{PriceList, hundredths, place};
use super::problem::Opening;
use super::site::{Route, Site};
use crate::catalogue::PriceTable;
use crate::survey::{Assumed, Priced};

impl Finder<'_> {
    /// Places that the file names. They stand first, in its order; without a price of their own, of the place that
    /// their first run lies in, or of the embedded table they are left out, and so is everything in them.
    pub(super) fn named_openings(&mut self) {
        for opening in &self.survey.openings {
            let first = Route::all(self.survey).into_iter().find_map(|route| {
                let owner = route.owner(self.survey);
                let named = opening.runs.iter().any(|r| r.value == owner);
                let (leg, _) = route
                    .legs(self.survey)
                    .into_iter()
                    .next()
                    .filter(|_| named)?;
                Some(PriceList::lies(leg).0)
            });
            let row = first.and_then(|lies| self.prices.work(lies));
            let own = opening.price.as_ref().map(|p| (hundredths(p.value), true));
            let price = own.or_else(|| first.and_then(|l| self.prices.open(l)));
            let rooms = opening.rooms.as_ref().map(|r| r.value);
            let days = opening.days.as_ref().map(|d| d.value);
            let (money, own) = price.unwrap_or((0, true));
            self.offers.openings.push(Place {
                name: opening.name.value.clone(),
                cost: Opening {
                    money,
                    disruption: points(
                        rooms.or(row.map(|r| r.rooms)).unwrap_or(0.0),
                        days.or(row.map(|r| r.days)).unwrap_or(0.0),
                    ),
                },
                own,
            });
            self.unpriced.push(price.is_none());
        }
    }

    /// Places that a change opens; the file's own if it names one.
    ///
    /// # Errors
    /// What has no price, in words: nothing is opened for free because nobody said what it costs.
    pub(super) fn opens(&mut self, change: &Change) -> Result<Vec<usize>, String> {
        let owner = change.site.owner(self.survey).to_owned();
        let table = PriceTable::embedded();
        let route = match change.site {
            Site::Radiator(_) | Site::Valve(_) => {
                let cost = points(table.radiator.rooms, table.radiator.days);
                return Ok(vec![self.free_place(format!("room of {owner}"), cost)]);
            }
            // a device that is cleaned or read can be reached
            Site::Device(..) => {
                let cost = points(table.freer.rooms, table.freer.days);
                let name = format!("at {}", change.site.name(self.survey));
                return Ok(vec![self.free_place(name, cost)]);
            }
            Site::Pipe(route) => route,
        };
        let mut named = self.survey.openings.iter();
        if let Some(at) = named.position(|o| o.runs.iter().any(|r| r.value == owner)) {
            return if self.unpriced.get(at) == Some(&true) {
                let name = &self.offers.openings[at].name;
                Err(format!(
                    "opening `{name}`: write `price` there, or `open PLACE` under [prices]"
                ))
            } else {
                Ok(vec![at])
            };
        }
        let Some((leg, _)) = route.legs(self.survey).into_iter().next() else {
            return Ok(Vec::new());
        };
        let (lies, known) = PriceList::lies(leg);
        let row = self.prices.work(lies);
        let disruption = row.map_or(0, |r| points(r.rooms, r.days));
        let name = format!("{} ({})", place(lies), route.name(self.survey));
        // a price for the whole of it leaves only disruption to be counted
        if self.all_included(change, &owner) {
            return Ok(vec![self.free_place(name, disruption)]);
        }
        if !known {
            let assumed = Assumed {
                subject: route.name(self.survey),
                value: format!("taken to lie {}", place(lies)),
                source: "the file does not say where; the price of opening depends on that".into(),
            };
            if !self.offers.assumed.contains(&assumed) {
                self.offers.assumed.push(assumed);
            }
        }
        let (money, own) = self
            .prices
            .open(lies)
            .ok_or_else(|| format!("`open {}`", place(lies)))?;
        Ok(vec![self.place(name, Opening { money, disruption }, own)])
    }

    fn all_included(&self, change: &Change, owner: &str) -> bool {
        let mut rows = self.survey.prices.rows.iter();
        rows.any(|(p, _)| match (p, &change.what) {
            (Priced::Run { run, pipe }, What::Pipe(word, _))
            | (Priced::Beside { run, pipe }, What::Beside(word)) => run == owner && pipe == word,
            _ => false,
        })
    }

    fn free_place(&mut self, name: String, disruption: u32) -> usize {
        let cost = Opening {
            money: 0,
            disruption,
        };
        self.place(name, cost, true)
    }

    /// Index of a place, which is made if there is none of its name and price.
    fn place(&mut self, name: String, cost: Opening, own: bool) -> usize {
        let place = Place { name, cost, own };
        let places = &mut self.offers.openings;
        places.iter().position(|p| *p == place).unwrap_or_else(|| {
            places.push(place);
            places.len() - 1
        })
    }
}

/// Disruption in tenths of a room for a day.
fn points(rooms: f64, days: f64) -> u32 {
    (rooms * days * 10.0).round().clamp(0.0, 1e6) as u32
}
