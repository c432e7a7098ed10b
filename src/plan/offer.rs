//! What could be done at each site of a house, with its price, the places it opens and the laws it changes.

use super::price::{Line, PriceList, hundredths, place};
use super::problem::Opening;
use super::site::{Change, Site, What, bore_m, elbows, likeliest};
use crate::catalogue::{Catalogue, PriceTable};
use crate::network::{ElementId, HeatLaw, Law, Network, expand};
use crate::quantity::Kv;
use crate::survey::{Assumed, PipeSize, Survey};

/// One choice at a site.
#[derive(Clone, Debug, PartialEq)]
pub struct Offer {
    /// What is done.
    pub change: Change,
    /// Its bill, without opening places.
    pub bill: Vec<Line>,
    /// Sum of the bill, hundredths.
    pub money: i64,
    /// Places that it opens, indices into [`Offers::openings`].
    pub opens: Vec<usize>,
    /// Elements whose loss it changes, with their new law.
    pub laws: Vec<(ElementId, Law)>,
    /// Material of the pipe, where it is another.
    pub material: Option<String>,
    /// Heat law of the emitter and its duty in W, where it is another.
    pub heat: Option<(HeatLaw, f64)>,
}

/// A site with its choices; the first keeps it.
#[derive(Clone, Debug, PartialEq)]
pub struct Slot {
    /// Where.
    pub site: Site,
    /// For people.
    pub name: String,
    /// Choices.
    pub offers: Vec<Offer>,
    /// Index of the emitter in the network, if it is a radiator's or valve's.
    pub emitter: Option<usize>,
}

/// A place that is opened once.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// For people: `kitchen floor`, `boards over hall`.
    pub name: String,
    /// Price and disruption.
    pub cost: Opening,
    /// A price of the file.
    pub own: bool,
}

/// Everything that is on offer in a house.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Offers {
    /// Sites with at least two choices.
    pub slots: Vec<Slot>,
    /// Places.
    pub openings: Vec<Place>,
    /// What was taken for granted.
    pub assumed: Vec<Assumed>,
    /// What is not offered, and why.
    pub left_out: Vec<String>,
}

/// Larger sizes of the same family that are offered.
const SAME_FAMILY: usize = 2;
/// Sizes of each other family that are offered.
const OTHER_FAMILY: usize = 1;
/// A pipe counts as larger from this factor in bore.
const LARGER: f64 = 1.03;
/// Kv of a valve counts as larger from this factor.
const FREER: f64 = 1.25;

/// All offers of a settled survey whose network is `base`.
pub fn offers(survey: &Survey, base: &Network) -> Offers {
    let mut found = Finder {
        survey,
        base,
        prices: PriceList::new(survey),
        offers: Offers::default(),
    };
    found.named_openings();
    let leave: Vec<&str> = survey.plan.leave.iter().map(|n| n.value.as_str()).collect();
    for site in Site::all(survey) {
        if !leave.contains(&site.owner(survey)) {
            found.slot(site);
        }
    }
    for name in leave {
        found
            .offers
            .left_out
            .push(format!("{name}: the file says to leave it"));
    }
    found.offers
}

pub(super) struct Finder<'s> {
    pub survey: &'s Survey,
    pub base: &'s Network,
    pub prices: PriceList<'s>,
    pub offers: Offers,
}

impl Finder<'_> {
    /// Places that the file names. They stand first, in its order.
    fn named_openings(&mut self) {
        for opening in &self.survey.openings {
            let sites = Site::all(self.survey);
            let first = sites.iter().find_map(|site| {
                let owner = site.owner(self.survey);
                let named = opening.runs.iter().any(|r| r.value == owner);
                let (leg, _) = site
                    .legs(self.survey)
                    .into_iter()
                    .next()
                    .filter(|_| named)?;
                Some(PriceList::lies(leg).0)
            });
            let row = first.and_then(|lies| self.prices.work(lies));
            let name = opening.name.value.clone();
            let (money, own) = match (&opening.price, first.and_then(|l| self.prices.open(l))) {
                (Some(price), _) => (hundredths(price.value), true),
                (None, Some((money, own))) => (money, own),
                (None, None) => {
                    self.offers
                        .left_out
                        .push(format!("opening {name}: no price, so it is taken as free"));
                    (0, true)
                }
            };
            let rooms = opening
                .rooms
                .as_ref()
                .map(|r| r.value)
                .or(row.map(|r| r.rooms));
            let days = opening
                .days
                .as_ref()
                .map(|d| d.value)
                .or(row.map(|r| r.days));
            self.offers.openings.push(Place {
                name,
                cost: Opening {
                    money,
                    disruption: points(rooms.unwrap_or(0.0), days.unwrap_or(0.0)),
                },
                own,
            });
        }
    }

    fn slot(&mut self, site: Site) {
        let name = site.name(self.survey);
        let changes = match site {
            Site::Radiator(i) => self.radiators(i, &name),
            Site::Valve(i) => self.valves(i),
            _ => self.pipes(site),
        };
        if changes.is_empty() {
            return;
        }
        let keep = Offer {
            change: Change {
                site,
                what: What::Keep,
            },
            bill: Vec::new(),
            money: 0,
            opens: Vec::new(),
            laws: Vec::new(),
            material: None,
            heat: None,
        };
        let mut slot = Slot {
            emitter: match site {
                Site::Radiator(i) | Site::Valve(i) => {
                    let owner = &self.survey.emitters[i].name.value;
                    self.base.emitters.iter().position(|e| e.name == *owner)
                }
                _ => None,
            },
            site,
            name,
            offers: vec![keep],
        };
        let mut opens: Option<Vec<usize>> = None;
        for what in changes {
            let change = Change { site, what };
            let bill = match self.prices.bill(&change) {
                Ok(bill) => bill,
                Err(what) => {
                    let all = format!("{}: no price for {what}", slot.name);
                    if !self.offers.left_out.contains(&all) {
                        self.offers.left_out.push(all);
                    }
                    continue;
                }
            };
            // a radiator's own loss is that of its tails, whatever it is
            let laws = match change.what {
                What::Radiator(_) => Vec::new(),
                _ => match self.laws(&change) {
                    Some(laws) if !laws.is_empty() => laws,
                    _ => continue,
                },
            };
            let opens = opens.get_or_insert_with(|| self.opens(site)).clone();
            slot.offers.push(Offer {
                money: bill.iter().map(|l| l.money).sum(),
                bill,
                opens,
                laws,
                material: match &change.what {
                    What::Pipe(word) => {
                        Catalogue::embedded().pipe(word).map(|p| p.material.clone())
                    }
                    _ => None,
                },
                heat: self.heat(&change, slot.emitter),
                change,
            });
        }
        if slot.offers.len() > 1 {
            let mut elements: Vec<(ElementId, Law)> = Vec::new();
            for (id, _) in slot.offers.iter().flat_map(|o| &o.laws) {
                if !elements.iter().any(|(e, _)| e == id) {
                    elements.push((*id, self.base.element(*id).law.clone()));
                }
            }
            elements.sort_by_key(|(id, _)| *id);
            // every choice says the law of every element that any of them changes
            for offer in &mut slot.offers {
                for (id, law) in &elements {
                    if !offer.laws.iter().any(|(e, _)| e == id) {
                        offer.laws.push((*id, law.clone()));
                    }
                }
                offer.laws.sort_by_key(|(id, _)| *id);
            }
            self.offers.slots.push(slot);
        }
    }

    /// Elements whose loss a change alters, by laying the house again with it; `None` if that house does not close.
    fn laws(&self, change: &Change) -> Option<Vec<(ElementId, Law)>> {
        let mut survey = self.survey.clone();
        change.apply(&mut survey);
        let (changed, _) = expand(&survey).ok()?;
        if changed.graph.edge_count() != self.base.graph.edge_count() {
            return None;
        }
        let laws = self.base.element_ids().filter_map(|id| {
            let law = &changed.element(id).law;
            (!same_loss(law, &self.base.element(id).law)).then(|| (id, law.clone()))
        });
        Some(laws.collect())
    }

    /// Places that a change here opens; the file's own if it names one.
    fn opens(&mut self, site: Site) -> Vec<usize> {
        let owner = site.owner(self.survey).to_owned();
        let table = PriceTable::embedded();
        if matches!(site, Site::Radiator(_) | Site::Valve(_)) {
            let name = format!("room of {owner}");
            let same = self.offers.openings.iter().position(|p| p.name == name);
            let at = same.unwrap_or_else(|| {
                self.offers.openings.push(Place {
                    name,
                    cost: Opening {
                        money: 0,
                        disruption: points(table.radiator.rooms, table.radiator.days),
                    },
                    own: true,
                });
                self.offers.openings.len() - 1
            });
            return vec![at];
        }
        let named = self.survey.openings.iter();
        if let Some(at) = named
            .clone()
            .position(|o| o.runs.iter().any(|r| r.value == owner))
        {
            return vec![at];
        }
        // a price for the whole of a run leaves only disruption to be counted
        let whole = self
            .survey
            .prices
            .rows
            .iter()
            .any(|(p, _)| matches!(p, crate::survey::Priced::Run { run, .. } if *run == owner));
        let Some((leg, _)) = site.legs(self.survey).into_iter().next() else {
            return Vec::new();
        };
        let (lies, known) = PriceList::lies(leg);
        let name = site.name(self.survey);
        if !known && !whole {
            self.offers.assumed.push(Assumed {
                subject: name.clone(),
                value: format!("lies {}", place(lies)),
                source: "the file does not say where it lies; the price of opening hangs on it"
                    .into(),
            });
        }
        let (money, own) = match self.prices.open(lies) {
            _ if whole => (0, true),
            Some(open) => open,
            None => {
                self.offers.left_out.push(format!(
                    "{name}: no price for `open {}`, so opening is taken as free",
                    place(lies)
                ));
                (0, true)
            }
        };
        let row = self.prices.work(lies);
        self.offers.openings.push(Place {
            name: format!("{} ({name})", place(lies)),
            cost: Opening {
                money,
                disruption: row.map_or(0, |r| points(r.rooms, r.days)),
            },
            own,
        });
        vec![self.offers.openings.len() - 1]
    }

    /// Larger pipes: the next sizes of the same family, the next of every other, and bends in place of elbows.
    fn pipes(&self, site: Site) -> Vec<What> {
        let legs = site.legs(self.survey);
        let Some((leg, _)) = legs.first() else {
            return Vec::new();
        };
        let Some((bore, _)) = bore_m(leg) else {
            return Vec::new();
        };
        let catalogue = Catalogue::embedded();
        let now = likeliest(leg).and_then(|o| match &o.pipe {
            PipeSize::Word(word) => catalogue.pipe(word),
            PipeSize::Bore { .. } => None,
        });
        let allowed: Vec<&str> = self
            .survey
            .plan
            .families
            .iter()
            .map(|f| f.value.as_str())
            .collect();
        let mut larger: Vec<_> = self
            .prices
            .pipes(site.owner(self.survey))
            .into_iter()
            .filter_map(|word| catalogue.pipe(word))
            .filter(|p| p.bore.0 > bore * LARGER)
            .filter(|p| allowed.is_empty() || allowed.contains(&p.family.as_str()))
            .collect();
        larger.sort_by(|a, b| a.bore.0.total_cmp(&b.bore.0).then(a.word.cmp(&b.word)));
        let mut taken: Vec<(&str, usize)> = Vec::new();
        let mut list = Vec::new();
        for pipe in larger {
            let same = now.is_some_and(|n| n.family == pipe.family);
            let most = if same || allowed.len() == 1 {
                SAME_FAMILY
            } else {
                OTHER_FAMILY
            };
            match taken.iter_mut().find(|(f, _)| *f == pipe.family) {
                Some((_, n)) if *n >= most => continue,
                Some((_, n)) => *n += 1,
                None => taken.push((&pipe.family, 1)),
            }
            list.push(What::Pipe(pipe.word.clone()));
        }
        let metal = now.is_some_and(|p| p.material == "copper" || p.material == "steel");
        if metal && legs.iter().any(|(leg, pipes)| elbows(leg, *pipes) > 0) {
            list.push(What::Bends);
        }
        list
    }

    /// Freer valves of the catalogue.
    fn valves(&self, emitter: usize) -> Vec<What> {
        let Some(valve) = &self.survey.emitters[emitter].valve else {
            return Vec::new();
        };
        let catalogue = Catalogue::embedded();
        let row = catalogue.valve("thermostatic high flow");
        row.filter(|row| row.kv.0 > valve.value.kv.0 * FREER)
            .map(|row| What::Valve(row.word.clone(), Kv(row.kv.0)))
            .into_iter()
            .collect()
    }
}

/// Disruption in tenths of a room for a day.
fn points(rooms: f64, days: f64) -> u32 {
    (rooms * days * 10.0).round().clamp(0.0, 1e6) as u32
}

/// Whether two laws lose the same at every flow; words and places in the file do not count.
pub(super) fn same_loss(a: &Law, b: &Law) -> bool {
    match (a, b) {
        (Law::Parts(a), Law::Parts(b)) => {
            a.len() == b.len() && a.iter().zip(b).all(|(a, b)| a.law == b.law)
        }
        _ => a == b,
    }
}
