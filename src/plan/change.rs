//! A change and how it is made in the survey.

use super::site::{BEND, ELBOWS, Route, Site, device, pipe_words};
use crate::quantity::Kv;
use crate::survey::{
    At, EmitterKind, EmitterValve, Item, ItemKind, Leg, Panel, PipeOption, PipeSize, PipeWord,
    Survey,
};

/// What is done at a site.
#[derive(Clone, Debug, PartialEq)]
pub enum What {
    /// Nothing.
    Keep,
    /// Another pipe, by its word in the catalogue; with bends made in it in place of elbows.
    Pipe(String, bool),
    /// Bends in the place of elbows.
    Bends,
    /// A second pipe beside the old one, joined to it at both ends.
    Beside(String),
    /// Another device or valve along a line: its word in the catalogue, and its kv unless that follows from the pipe.
    Device(String, Option<Kv>),
    /// Another radiator.
    Radiator(Panel),
    /// Another valve of an emitter, by its word in the catalogue and its kv.
    Valve(String, Kv),
}

/// A change at a site.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// Where.
    pub site: Site,
    /// What.
    pub what: What,
}

/// What a second pipe has at both of its ends.
const BRANCH: &str = "tee branch";

impl Change {
    /// Makes the change in a survey. What it leaves in place keeps its index, so that changes can be made one by one.
    pub fn apply(&self, survey: &mut Survey) {
        match (&self.what, self.site) {
            (What::Pipe(word, bends), Site::Pipe(route)) => {
                for leg in route.legs_mut(survey) {
                    relay(leg, word);
                    if *bends {
                        bend(leg);
                    }
                }
            }
            (What::Bends, Site::Pipe(route)) => {
                for leg in route.legs_mut(survey) {
                    bend(leg);
                }
            }
            (What::Beside(word), Site::Pipe(route)) => beside(survey, route, word),
            (What::Device(word, kv), Site::Device(route, leg, item)) => {
                let mut legs = route.legs_mut(survey).into_iter();
                let item = legs.nth(leg).and_then(|leg| leg.items.get_mut(item));
                if let Some(ItemKind::Named {
                    word: old_word,
                    kv: old_kv,
                    ..
                }) = item.map(|item| &mut item.kind)
                {
                    word.clone_into(old_word);
                    *old_kv = *kv;
                }
            }
            (What::Radiator(panel), Site::Radiator(i)) => {
                let emitter = &mut survey.emitters[i];
                emitter.kind = EmitterKind::Panel {
                    panel_type: panel.panel_type.clone(),
                    height: panel.height,
                    width: panel.width,
                    span: emitter.span.clone(),
                };
                // a water content that was given is the old radiator's
                emitter.water = None;
            }
            (What::Valve(word, kv), Site::Valve(i)) => {
                if let Some(valve) = &mut survey.emitters[i].valve {
                    valve.value = EmitterValve {
                        kind: word.clone(),
                        kv: *kv,
                    };
                    survey.emitters[i].valve_table = None;
                }
            }
            // nothing, or something that cannot be done there
            _ => {}
        }
    }

    /// What is changed into what, in words.
    pub fn words(&self, survey: &Survey) -> String {
        let name = self.site.name(survey);
        let old = || {
            let route = self.site.route();
            let legs = route.map(|r| r.legs(survey)).unwrap_or_default();
            legs.first().map(|(l, _)| pipe_words(l)).unwrap_or_default()
        };
        match &self.what {
            What::Keep => format!("{name}: as it is"),
            What::Pipe(word, false) => format!("{name}: {} becomes {word}", old()),
            What::Pipe(word, true) => format!("{name}: {} becomes {word} with bends", old()),
            What::Bends => format!("{name}: bends in place of elbows"),
            What::Beside(word) => format!("{name}: a second pipe, {word}, beside it"),
            What::Device(word, kv) => {
                let now = match self.site {
                    Site::Device(route, leg, item) => device(survey, route, leg, item),
                    _ => None,
                };
                let kv = kv.map_or(String::new(), |kv| format!(" kv {}", kv.0));
                match now {
                    Some((old, _)) if old == word => format!("{name}: a freer one,{kv}"),
                    _ => format!("{name}: becomes {word}{kv}"),
                }
            }
            What::Radiator(panel) => format!("{name}: becomes {}", panel.words()),
            What::Valve(word, kv) => format!("{name}: becomes {word} kv {}", kv.0),
        }
    }
}

/// Another pipe in a leg: known, new, and with the inserts of its own kind.
fn relay(leg: &mut Leg, word: &str) {
    leg.pipe = PipeWord {
        options: vec![PipeOption {
            pipe: PipeSize::Word(word.to_owned()),
            odds: None,
            span: leg.span.clone(),
        }],
        guess: false,
        shared: None,
    };
    leg.condition = None;
    for item in &mut leg.items {
        if let ItemKind::Named { insert, .. } = &mut item.kind {
            *insert = None;
        }
    }
}

fn bend(leg: &mut Leg) {
    for item in &mut leg.items {
        if let ItemKind::Named { word, insert, .. } = &mut item.kind
            && ELBOWS.contains(&word.as_str())
        {
            BEND.clone_into(word);
            *insert = None;
        }
    }
}

/// The leg of a second pipe beside this one: the same way and fittings, and a tee's branch at either end.
pub(super) fn second(leg: &Leg, word: &str) -> Leg {
    let mut leg = leg.clone();
    relay(&mut leg, word);
    leg.items.push(Item {
        count: 2,
        kind: ItemKind::Named {
            word: BRANCH.to_owned(),
            kv: None,
            insert: None,
            opening: None,
            holds: None,
        },
        side: None,
        span: leg.span.clone(),
    });
    leg
}

/// Name of the line beside this one: one that no line has yet.
pub(super) fn second_name(survey: &Survey, route: Route) -> String {
    let name = format!("{} beside", route.owner(survey));
    let pairs = survey.pairs.iter().map(|p| &p.name.value);
    let runs = survey.runs.iter().map(|r| &r.name.value);
    let taken: Vec<&String> = pairs.chain(runs).collect();
    let mut free = name.clone();
    let mut n = 2;
    while taken.contains(&&free) {
        free = format!("{name} {n}");
        n += 1;
    }
    free
}

fn beside(survey: &mut Survey, route: Route, word: &str) {
    let name = second_name(survey, route);
    // it lies where the first lies, so a place that is opened for that holds it too
    let owner = route.owner(survey).to_owned();
    for opening in &mut survey.openings {
        if let Some(first) = opening.runs.iter().find(|r| r.value == owner) {
            let second = At::new(name.clone(), first.span.clone());
            opening.runs.push(second);
        }
    }
    match route {
        Route::Pair(i) => {
            let mut pair = survey.pairs[i].clone();
            pair.leg.value = second(&pair.leg.value, word);
            pair.name = At::new(name, pair.name.span);
            survey.pairs.push(pair);
        }
        Route::Run(i) => {
            let mut run = survey.runs[i].clone();
            run.leg.value = second(&run.leg.value, word);
            run.name = At::new(name, run.name.span);
            survey.runs.push(run);
        }
        _ => {}
    }
}
