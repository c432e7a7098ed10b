//! What could be done at each site of a house, with its price, the places it opens and the laws it changes.

use super::change::{Change, What};
use super::crowd::without;
use super::price::{Line, PriceList};
use super::problem::Opening;
use super::site::Site;
use crate::catalogue::Catalogue;
use crate::network::{ElementId, HeatLaw, Law, Network, expand};
use crate::survey::{Assumed, Priced, Survey};
use std::collections::BTreeSet;

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
    /// Elements beside which a second pipe runs then, with its law.
    pub beside: Vec<(ElementId, Law)>,
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

impl Slot {
    /// The largest change on offer: the widest pipe, the radiator that gives most, else the last.
    pub fn largest(&self) -> Option<&Offer> {
        let bore = |o: &Offer| match &o.change.what {
            What::Pipe(word, _) => Catalogue::embedded().pipe(word).map(|p| p.bore.0),
            _ => None,
        };
        let widest = self.offers.iter().filter_map(|o| Some((bore(o)?, o)));
        let widest = widest.max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, o)| o);
        widest.or(self.offers.last())
    }
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

impl Offers {
    fn chosen<'o>(
        &'o self,
        chosen: &'o [(usize, usize)],
    ) -> impl Iterator<Item = &'o Offer> + Clone {
        chosen.iter().map(|&(s, o)| &self.slots[s].offers[o])
    }

    /// Places that offers open, each once.
    fn opened<'o>(&'o self, offers: impl Iterator<Item = &'o Offer>) -> Vec<&'o Place> {
        let places: BTreeSet<usize> = offers.flat_map(|o| &o.opens).copied().collect();
        places.into_iter().map(|p| &self.openings[p]).collect()
    }

    /// Money in hundredths and points of disruption of offers, by slot; places are opened once.
    pub fn cost(&self, chosen: &[(usize, usize)]) -> (i64, u32) {
        let money: i64 = self.chosen(chosen).map(|o| o.money).sum();
        let opened = self.opened(self.chosen(chosen)).into_iter();
        opened.fold((money, 0), |(money, disruption), place| {
            (money + place.cost.money, disruption + place.cost.disruption)
        })
    }

    /// Whether offers, by slot, rest on prices of the file alone.
    pub fn own(&self, chosen: &[(usize, usize)]) -> bool {
        self.all_own(self.chosen(chosen))
    }

    /// Whether these changes rest on prices of the file alone.
    pub fn own_changes(&self, changes: &[Change]) -> bool {
        let slot = |c: &Change| self.slots.iter().find(|s| s.site == c.site);
        let offer = |c: &Change| slot(c)?.offers.iter().find(|o| o.change == *c);
        let offers: Vec<&Offer> = changes.iter().filter_map(offer).collect();
        self.all_own(offers.into_iter())
    }

    fn all_own<'o>(&'o self, offers: impl Iterator<Item = &'o Offer> + Clone) -> bool {
        let lines = offers.clone().flat_map(|o| &o.bill).all(|l| l.own);
        let free = |p: &&Place| p.own || p.cost.money == 0;
        lines && self.opened(offers).iter().all(free)
    }
}

/// All offers of a settled survey whose network is `base`.
pub fn offers(survey: &Survey, base: &Network) -> Offers {
    let mut found = Finder {
        survey,
        base,
        prices: PriceList::new(survey),
        offers: Offers::default(),
        unpriced: Vec::new(),
        raised: raised(base),
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
    found.unused();
    found.offers
}

pub(super) struct Finder<'s> {
    pub survey: &'s Survey,
    pub base: &'s Network,
    pub prices: PriceList<'s>,
    pub offers: Offers,
    /// By place that the file names: nothing says what opening it costs.
    pub unpriced: Vec<bool>,
    /// Elements that carry more than what the rooms beyond them need.
    pub raised: Vec<ElementId>,
}

/// Elements in series with a unit whose circuit carries a declared load or the maker's nominal flow.
fn raised(base: &Network) -> Vec<ElementId> {
    use crate::view::BasisUsed::{HeldFlow, Load, Nominal};
    let mut list = Vec::new();
    for r in super::search::views(base).unwrap_or_default() {
        for basis in &r.basis {
            if matches!(basis.used, Load | Nominal | HeldFlow) {
                list.extend(base.element_ids().filter(|id| {
                    let flow = r.flow_kg_s[id.index()].abs();
                    (flow - basis.flow_kg_s).abs() <= 1e-12 * basis.flow_kg_s
                }));
            }
        }
    }
    list
}

impl Finder<'_> {
    /// Says of prices for one run or emitter that they led to no offer, and why that can be.
    fn unused(&mut self) {
        for (priced, _) in &self.survey.prices.rows {
            let (owner, what, why) = match priced {
                Priced::Run { run, pipe } => (
                    run,
                    pipe.clone(),
                    "it is no wider than what lies there, or of a family that may not be laid",
                ),
                Priced::Beside { run, pipe } => (
                    run,
                    format!("a second pipe {pipe}"),
                    "it would lead past a device or a zone's valve, lie where the unit carries more than \
                     the rooms need, or is of a family that may not be laid",
                ),
                Priced::Radiator { emitter, panel } => (
                    emitter,
                    format!("a radiator {}", panel.words()),
                    "it does not fit, one that costs no more gives as much, or no radiator hangs there",
                ),
                _ => continue,
            };
            let is = |what: &What| match (priced, what) {
                (Priced::Run { pipe, .. }, What::Pipe(word, _))
                | (Priced::Beside { pipe, .. }, What::Beside(word)) => pipe == word,
                (Priced::Radiator { panel, .. }, What::Radiator(other)) => panel == other,
                _ => false,
            };
            let mut slots = self.offers.slots.iter();
            let offered = slots.any(|s| {
                s.site.owner(self.survey) == owner && s.offers.iter().any(|o| is(&o.change.what))
            });
            let mut said = self.offers.left_out.iter();
            let said = said.any(|l| {
                l.split_once(": ").is_some_and(|(who, why)| {
                    who.ends_with(owner.as_str()) && !why.starts_with("no `wall`")
                })
            });
            if !offered && !said {
                self.offers.left_out.push(format!(
                    "{owner}: {what} has a price and is not offered: {why}"
                ));
            }
        }
    }

    fn slot(&mut self, site: Site) {
        let name = site.name(self.survey);
        let changes = match site {
            Site::Radiator(i) => self.radiators(i, &name),
            Site::Valve(i) => self.valves(i),
            Site::Pipe(route) => self.pipes(route),
            Site::Device(route, leg, item) => self.devices(route, leg, item),
        };
        if changes.is_empty() || site.by_known_share(self.survey) {
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
            beside: Vec::new(),
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
        for what in changes {
            let change = Change { site, what };
            let laid = match change.what {
                // a radiator's own loss is that of its tails, whatever it is
                What::Radiator(_) => (Vec::new(), Vec::new()),
                What::Beside(_) => match self.beside(&change) {
                    Some(beside) => (Vec::new(), beside),
                    None => continue,
                },
                _ => match self.laws(&change) {
                    Some(laws) if !laws.is_empty() => (laws, Vec::new()),
                    _ => continue,
                },
            };
            let priced = self
                .prices
                .bill(&change)
                .and_then(|bill| Ok((bill, self.opens(&change)?)));
            let (bill, opens) = match priced {
                Ok(priced) => priced,
                Err(what) => {
                    let all = format!("{}: no price for {what}", slot.name);
                    if !self.offers.left_out.contains(&all) {
                        self.offers.left_out.push(all);
                    }
                    continue;
                }
            };
            slot.offers.push(Offer {
                money: bill.iter().map(|l| l.money).sum(),
                bill,
                opens,
                laws: laid.0,
                beside: laid.1,
                material: match &change.what {
                    What::Pipe(word, _) => {
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
            for (id, _) in slot
                .offers
                .iter()
                .flat_map(|o| o.laws.iter().chain(&o.beside))
            {
                if !elements.iter().any(|(e, _)| e == id) {
                    elements.push((*id, without(&self.base.element(*id).law)));
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
            let (law, now) = (without(law), without(&self.base.element(id).law));
            (!same_loss(&law, &now)).then_some((id, law))
        });
        Some(laws.collect())
    }
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
