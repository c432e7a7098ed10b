//! What is offered at each site: larger and second pipes, bends, freer devices and valves.

use super::change::{Change, What, second_name};
use super::crowd::without;
use super::offer::Finder;
use super::site::{Route, bore_m, device, elbows, likeliest};
use crate::catalogue::{Catalogue, Class, Loss, Pipe, PriceTable};
use crate::network::{ElementId, Law, expand};
use crate::quantity::Kv;
use crate::survey::{ItemKind, Leg, PipeSize};

/// Larger sizes of the same family that are offered; what the file prices for one run comes on top.
const SAME_FAMILY: usize = 2;
/// Sizes of each other family that are offered.
const OTHER_FAMILY: usize = 1;
/// A pipe counts as larger from this factor in bore.
const LARGER: f64 = 1.03;
/// Kv of a valve or device counts as larger from this factor.
const FREER: f64 = 1.25;
/// Second pipes that are offered: of the old one's own family, its size and the next below.
const SECONDS: usize = 2;
/// Share of the old bore under which a second pipe carries too little to be worth its work.
const LEAST_SECOND: f64 = 0.55;
/// Copper up to this outside diameter is bent on site, mm.
const BENT_MM: f64 = 28.5;

impl Finder<'_> {
    /// Larger pipes: the next sizes of the same family, the next of every other; bends in place of elbows; a second pipe
    /// beside it. On a one-pipe main between tees also the next smaller, which sends more water through the radiators.
    pub(super) fn pipes(&self, route: Route) -> Vec<What> {
        let legs = route.legs(self.survey);
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
        let plan = &self.survey.plan;
        let allowed: Vec<&str> = plan.families.iter().map(|f| f.value.as_str()).collect();
        let may = |p: &&Pipe| allowed.is_empty() || allowed.contains(&p.family.as_str());
        let priced = self.prices.pipes(route.owner(self.survey)).into_iter();
        let mut priced: Vec<&Pipe> = priced
            .filter_map(|word| catalogue.pipe(word))
            .filter(may)
            .collect();
        priced.sort_by(|a, b| a.bore.0.total_cmp(&b.bore.0).then(a.word.cmp(&b.word)));
        let bends = legs.iter().any(|(leg, pipes)| elbows(leg, *pipes) > 0);
        let mut taken: Vec<(&str, usize)> = Vec::new();
        let mut list = Vec::new();
        for pipe in priced.iter().filter(|p| p.bore.0 > bore * LARGER) {
            let same = now.is_some_and(|n| n.family == pipe.family);
            // what the file prices for this very run is offered whatever the next sizes are
            let whole = self.prices.is_whole(route.owner(self.survey), &pipe.word);
            let most = if same || allowed.len() == 1 {
                SAME_FAMILY
            } else {
                OTHER_FAMILY
            };
            match taken.iter_mut().find(|(f, _)| *f == pipe.family) {
                _ if whole => {}
                Some((_, n)) if *n >= most => continue,
                Some((_, n)) => *n += 1,
                None => taken.push((&pipe.family, 1)),
            }
            list.push(What::Pipe(pipe.word.clone(), false));
            let bent = pipe.outside.is_some_and(|o| o.0 * 1e3 < BENT_MM);
            // a price for the whole of it knows of no bends
            if same && bends && bent && !whole && pipe.material == "copper" {
                list.push(What::Pipe(pipe.word.clone(), true));
            }
        }
        if matches!(route, Route::Between(_)) {
            let smaller = priced
                .iter()
                .rev()
                .find(|p| p.bore.0 * LARGER < bore && now.is_none_or(|n| n.family == p.family));
            list.extend(smaller.map(|p| What::Pipe(p.word.clone(), false)));
        }
        let metal = now.is_some_and(|p| p.material == "copper" || p.material == "steel");
        if metal && bends {
            list.push(What::Bends);
        }
        if self.may_be_doubled(route, leg) {
            let words = self.prices.beside(route.owner(self.survey)).into_iter();
            let pipes = words.filter_map(|word| catalogue.pipe(word)).filter(may);
            let own = |p: &Pipe| {
                self.prices
                    .is_whole_beside(route.owner(self.survey), &p.word)
            };
            let usual = |p: &Pipe| {
                p.bore.0 < bore * LARGER
                    && p.bore.0 > bore * LEAST_SECOND
                    && now.is_none_or(|n| n.family == p.family)
            };
            let mut seconds: Vec<&Pipe> = pipes.filter(|p| own(p) || usual(p)).collect();
            seconds.sort_by(|a, b| b.bore.0.total_cmp(&a.bore.0).then(a.word.cmp(&b.word)));
            let mut taken = 0;
            seconds.retain(|p| {
                taken += usize::from(!own(p));
                own(p) || taken <= SECONDS
            });
            list.extend(seconds.iter().map(|p| What::Beside(p.word.clone())));
        }
        list
    }

    /// A second pipe must not lead past a device or a valve, nor past the valve of a zone.
    fn may_be_doubled(&self, route: Route, leg: &Leg) -> bool {
        let owner = route.owner(self.survey);
        let mut zones = self.survey.zones.iter();
        matches!(route, Route::Pair(_) | Route::Run(_))
            && !zones.any(|z| z.on.iter().any(|on| on.value == owner))
            && leg.items.iter().all(|item| match &item.kind {
                ItemKind::Named { word, kv, .. } => {
                    let row = Catalogue::embedded().item(word);
                    kv.is_none() && row.is_some_and(|row| row.class == Class::Fitting)
                }
                ItemKind::Zeta(_) | ItemKind::FrictionShare(_) => true,
                ItemKind::Kv(_) | ItemKind::Loss(_) => false,
            })
    }

    /// Laws of the second pipe by the element beside which it runs; `None` if the house does not close with it.
    pub(super) fn beside(&self, change: &Change) -> Option<Vec<(ElementId, Law)>> {
        let route = change.site.route()?;
        let (owner, name) = (route.owner(self.survey), second_name(self.survey, route));
        let mut survey = self.survey.clone();
        change.apply(&mut survey);
        let (changed, _) = expand(&survey).ok()?;
        let of = |network: &crate::network::Network,
                  name: &str|
         -> Vec<(Option<crate::survey::Side>, ElementId)> {
            let ids = network.element_ids().filter_map(|id| {
                let run = &network.runs[network.element(id).run?];
                (run.name == name).then_some((run.side, id))
            });
            ids.collect()
        };
        let old = of(self.base, owner);
        let new = of(&changed, &name);
        // what the unit's circuit carries beyond the rooms' sum is counted up to where the water first splits
        if old.iter().any(|(_, id)| self.raised.contains(id)) {
            return None;
        }
        let laws: Vec<(ElementId, Law)> = old
            .iter()
            .filter_map(|(side, id)| {
                let (_, twin) = new.iter().find(|(s, _)| s == side)?;
                Some((*id, without(&changed.element(*twin).law)))
            })
            .collect();
        (laws.len() == old.len() && !laws.is_empty() && old.len() == new.len()).then_some(laws)
    }

    /// A freer one of the same kind, as far as the catalogue knows makes, or a valve of full bore in place of one that
    /// is narrower by design.
    pub(super) fn devices(&self, route: Route, leg: usize, item: usize) -> Vec<What> {
        let catalogue = Catalogue::embedded();
        let Some((word, kv)) = device(self.survey, route, leg, item) else {
            return Vec::new();
        };
        let legs = route.legs(self.survey);
        let pipe = legs.get(leg).and_then(|(leg, _)| likeliest(leg));
        let pipe = match pipe.map(|o| &o.pipe) {
            Some(PipeSize::Word(word)) => catalogue.pipe(word).cloned(),
            Some(PipeSize::Bore { bore, .. }) => Some(Pipe::of_bore(bore.likeliest, None)),
            None => None,
        };
        let (Some(pipe), Some(row)) = (pipe, catalogue.item(word)) else {
            return Vec::new();
        };
        if row.class == Class::Fitting {
            return Vec::new();
        }
        let table = &PriceTable::embedded().freer;
        if let Some(swap) = table.swaps.iter().find(|s| s.from == *word) {
            return vec![What::Device(swap.to.clone(), None)];
        }
        let Some(loss) = catalogue.item_loss(word, &pipe, None) else {
            return Vec::new();
        };
        let usual = match loss.loss {
            Loss::Kv(kv) | Loss::OneWay(_, kv) => kv.0,
            _ => return Vec::new(),
        };
        let (now, most) = (kv.unwrap_or(usual), loss.range.map_or(usual, |r| r.1));
        // tenths: no sheet is finer
        let most = (most * 10.0).floor() / 10.0;
        if most >= now * FREER {
            vec![What::Device(word.to_owned(), Some(Kv(most)))]
        } else {
            Vec::new()
        }
    }

    /// Freer valves of the catalogue.
    pub(super) fn valves(&self, emitter: usize) -> Vec<What> {
        let Some(valve) = &self.survey.emitters[emitter].valve else {
            return Vec::new();
        };
        let row = Catalogue::embedded().valve("thermostatic high flow");
        row.filter(|row| row.kv.0 > valve.value.kv.0 * FREER)
            .map(|row| What::Valve(row.word.clone(), Kv(row.kv.0)))
            .into_iter()
            .collect()
    }
}
