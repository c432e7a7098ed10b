//! What can be changed in a house: a pipe of a written line, the bends in it, a radiator, a valve; and how a change is
//! made in the survey.

use crate::catalogue::Catalogue;
use crate::quantity::Kv;
use crate::survey::{
    EmitterKind, EmitterValve, ItemKind, Leg, Panel, PipeOption, PipeSize, PipeWord, Survey,
};

/// Something in the file that can be changed, by index into the survey's lists.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Site {
    /// A pair: both pipes.
    Pair(usize),
    /// A single pipe.
    Run(usize),
    /// The tails of an emitter.
    Tail(usize),
    /// The legs from a place to a manifold.
    Manifold(usize),
    /// The legs from a diverter to a coil.
    Cylinder(usize),
    /// A stretch of a ring: ring, whether of its return, stretch.
    Ring(usize, bool, usize),
    /// A stretch of the main of a one-pipe loop.
    Loop(usize, usize),
    /// The last leg of a one-pipe loop.
    Home(usize),
    /// The radiator itself.
    Radiator(usize),
    /// The valve of an emitter.
    Valve(usize),
}

/// What is done at a site.
#[derive(Clone, Debug, PartialEq)]
pub enum What {
    /// Nothing.
    Keep,
    /// Another pipe, by its word in the catalogue.
    Pipe(String),
    /// Bends in the place of elbows.
    Bends,
    /// Another radiator.
    Radiator(Panel),
    /// Another valve, by its word in the catalogue and its kv.
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

/// Elbows that a bend can stand for.
const ELBOWS: [&str; 5] = [
    "elbow",
    "compression elbow",
    "push-fit elbow",
    "press elbow",
    "knee",
];
/// What stands for them.
pub const BEND: &str = "bend";

impl Site {
    /// All pipes, radiators and valves that may change at all: tails of one-pipe radiators decide how the main's flow
    /// splits and stay, as does the main between their tees.
    pub fn all(survey: &Survey) -> Vec<Self> {
        let on_loop = |name: &str| {
            let mut stretches = survey.loops.iter().flat_map(|l| &l.main);
            stretches.any(|s| s.to.value == name)
        };
        let mut sites: Vec<Self> = (0..survey.pairs.len()).map(Self::Pair).collect();
        sites.extend((0..survey.runs.len()).map(Self::Run));
        for (i, ring) in survey.rings.iter().enumerate() {
            sites.extend((0..ring.flow.len()).map(|s| Self::Ring(i, false, s)));
            sites.extend((0..ring.back.len()).map(|s| Self::Ring(i, true, s)));
        }
        for (i, of) in survey.loops.iter().enumerate() {
            sites.extend((0..of.main.len()).map(|s| Self::Loop(i, s)));
            sites.push(Self::Home(i));
        }
        let manifolds = survey.manifolds.iter().enumerate();
        sites.extend(
            manifolds
                .filter(|(_, m)| m.leg.is_some())
                .map(|(i, _)| Self::Manifold(i)),
        );
        sites.extend((0..survey.cylinders.len()).map(Self::Cylinder));
        for (i, emitter) in survey.emitters.iter().enumerate() {
            let single = !on_loop(&emitter.name.value);
            if emitter.leg.is_some() && single {
                sites.push(Self::Tail(i));
            }
            if matches!(&emitter.kind, EmitterKind::Panel { .. })
                || matches!(&emitter.kind, EmitterKind::Rated { kind, .. } if kind == "radiator" || kind == "column" || kind == "convector")
            {
                sites.push(Self::Radiator(i));
            }
            if single
                && emitter
                    .valve
                    .as_ref()
                    .is_some_and(|v| v.value.kind == "thermostatic")
            {
                sites.push(Self::Valve(i));
            }
        }
        sites
    }

    /// The name in the file to which it belongs.
    pub fn owner<'s>(&self, survey: &'s Survey) -> &'s str {
        match *self {
            Self::Pair(i) => &survey.pairs[i].name.value,
            Self::Run(i) => &survey.runs[i].name.value,
            Self::Tail(i) | Self::Radiator(i) | Self::Valve(i) => &survey.emitters[i].name.value,
            Self::Manifold(i) => &survey.manifolds[i].name.value,
            Self::Cylinder(i) => &survey.cylinders[i].name.value,
            Self::Ring(i, ..) => &survey.rings[i].name.value,
            Self::Loop(i, _) | Self::Home(i) => &survey.loops[i].name.value,
        }
    }

    /// For people: `hall`, `tails of lounge`, `house ring, flow to dining`.
    pub fn name(&self, survey: &Survey) -> String {
        let owner = self.owner(survey);
        match *self {
            Self::Pair(_) | Self::Run(_) => owner.to_owned(),
            Self::Tail(_) => format!("tails of {owner}"),
            Self::Manifold(_) | Self::Cylinder(_) => format!("legs of {owner}"),
            Self::Ring(i, back, s) => {
                let ring = &survey.rings[i];
                let (side, stretch) = if back {
                    ("return", &ring.back[s])
                } else {
                    ("flow", &ring.flow[s])
                };
                format!("{owner}, {side} to {}", stretch.to.value)
            }
            Self::Loop(i, s) => format!("{owner}, main to {}", survey.loops[i].main[s].to.value),
            Self::Home(_) => format!("{owner}, main home"),
            Self::Radiator(_) => format!("radiator {owner}"),
            Self::Valve(_) => format!("valve of {owner}"),
        }
    }

    /// Its legs and how many pipes each of them is.
    pub fn legs<'s>(&self, survey: &'s Survey) -> Vec<(&'s Leg, u32)> {
        match *self {
            Self::Pair(i) => vec![(&survey.pairs[i].leg.value, 2)],
            Self::Run(i) => vec![(&survey.runs[i].leg.value, 1)],
            Self::Tail(i) => {
                let emitter = &survey.emitters[i];
                let pipes = if emitter.return_leg.is_some() { 1 } else { 2 };
                let legs = emitter.leg.iter().map(|l| (&l.value, pipes));
                legs.chain(emitter.return_leg.iter().map(|l| (&l.value, 1)))
                    .collect()
            }
            Self::Manifold(i) => {
                let leg = survey.manifolds[i].leg.iter();
                leg.map(|l| (&l.value, 2)).collect()
            }
            Self::Cylinder(i) => vec![(&survey.cylinders[i].leg.value, 2)],
            Self::Ring(i, back, s) => {
                let ring = &survey.rings[i];
                let way = if back { &ring.back } else { &ring.flow };
                vec![(&way[s].leg.value, 1)]
            }
            Self::Loop(i, s) => vec![(&survey.loops[i].main[s].leg.value, 1)],
            Self::Home(i) => vec![(&survey.loops[i].home.value, 1)],
            Self::Radiator(_) | Self::Valve(_) => Vec::new(),
        }
    }

    fn legs_mut<'s>(&self, survey: &'s mut Survey) -> Vec<&'s mut Leg> {
        match *self {
            Self::Pair(i) => vec![&mut survey.pairs[i].leg.value],
            Self::Run(i) => vec![&mut survey.runs[i].leg.value],
            Self::Tail(i) => {
                let emitter = &mut survey.emitters[i];
                let legs = emitter.leg.iter_mut().chain(emitter.return_leg.iter_mut());
                legs.map(|l| &mut l.value).collect()
            }
            Self::Manifold(i) => {
                let leg = survey.manifolds[i].leg.iter_mut();
                leg.map(|l| &mut l.value).collect()
            }
            Self::Cylinder(i) => vec![&mut survey.cylinders[i].leg.value],
            Self::Ring(i, back, s) => {
                let ring = &mut survey.rings[i];
                let way = if back { &mut ring.back } else { &mut ring.flow };
                vec![&mut way[s].leg.value]
            }
            Self::Loop(i, s) => vec![&mut survey.loops[i].main[s].leg.value],
            Self::Home(i) => vec![&mut survey.loops[i].home.value],
            Self::Radiator(_) | Self::Valve(_) => Vec::new(),
        }
    }
}

impl Change {
    /// Makes the change in a survey.
    pub fn apply(&self, survey: &mut Survey) {
        match &self.what {
            What::Keep => {}
            What::Pipe(word) => {
                for leg in self.site.legs_mut(survey) {
                    relay(leg, word);
                }
            }
            What::Bends => {
                for leg in self.site.legs_mut(survey) {
                    bend(leg);
                }
            }
            What::Radiator(panel) => {
                if let Site::Radiator(i) = self.site {
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
            }
            What::Valve(word, kv) => {
                if let Site::Valve(i) = self.site
                    && let Some(valve) = &mut survey.emitters[i].valve
                {
                    valve.value = EmitterValve {
                        kind: word.clone(),
                        kv: *kv,
                    };
                    survey.emitters[i].valve_table = None;
                }
            }
        }
    }

    /// What is changed into what, in words.
    pub fn words(&self, survey: &Survey) -> String {
        let name = self.site.name(survey);
        match &self.what {
            What::Keep => format!("{name}: as it is"),
            What::Pipe(word) => {
                let old = self.site.legs(survey).first().map(|(l, _)| pipe_words(l));
                format!("{name}: {} becomes {word}", old.unwrap_or_default())
            }
            What::Bends => format!("{name}: bends in place of elbows"),
            What::Radiator(panel) => format!("{name}: becomes {}", panel.words()),
            What::Valve(word, kv) => format!("{name}: becomes {word} kv {}", kv.0 * 1.0),
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
            *word = BEND.to_owned();
            *insert = None;
        }
    }
}

/// Elbows of a leg that bends could stand for, on one of its pipes and counted over all of them.
pub fn elbows(leg: &Leg, pipes: u32) -> u32 {
    let of = |item: &crate::survey::Item| match &item.kind {
        ItemKind::Named { word, .. } if ELBOWS.contains(&word.as_str()) => {
            item.count * if item.side.is_some() { 1 } else { pipes }
        }
        _ => 0,
    };
    leg.items.iter().map(of).sum()
}

/// The likeliest pipe of a leg.
pub fn likeliest(leg: &Leg) -> Option<&PipeOption> {
    let odds = |o: &PipeOption| o.odds.unwrap_or(0.0);
    let mut best = leg.pipe.options.first()?;
    for option in &leg.pipe.options {
        if odds(option) > odds(best) {
            best = option;
        }
    }
    Some(best)
}

/// The likeliest pipe of a leg in words.
pub fn pipe_words(leg: &Leg) -> String {
    match likeliest(leg).map(|o| &o.pipe) {
        Some(PipeSize::Word(word)) => word.clone(),
        Some(PipeSize::Bore { bore, .. }) => {
            format!("bore {} mm", (bore.likeliest.0 * 1e4).round() / 10.0)
        }
        None => String::new(),
    }
}

/// Bore and outside diameter of the likeliest pipe of a leg, m.
pub fn bore_m(leg: &Leg) -> Option<(f64, Option<f64>)> {
    match &likeliest(leg)?.pipe {
        PipeSize::Word(word) => {
            let pipe = Catalogue::embedded().pipe(word)?;
            Some((pipe.bore.0, pipe.outside.map(|o| o.0)))
        }
        PipeSize::Bore { bore, .. } => Some((bore.likeliest.0, None)),
    }
}

/// The survey with every doubt settled at its likeliest value: what a plan is reckoned with.
pub fn settled(survey: &Survey) -> Survey {
    let mut plain = survey.clone();
    let settle = |leg: &mut Leg| {
        if let Some(best) = likeliest(leg).cloned() {
            let mut best = best;
            best.odds = None;
            if let PipeSize::Bore { bore, .. } = &mut best.pipe {
                (bore.low, bore.high) = (bore.likeliest, bore.likeliest);
            }
            leg.pipe.options = vec![best];
        }
        leg.pipe.guess = false;
        leg.pipe.shared = None;
        (leg.length.low, leg.length.high) = (leg.length.likeliest, leg.length.likeliest);
        leg.length_shared = None;
    };
    for site in Site::all(survey) {
        site.legs_mut(&mut plain).into_iter().for_each(settle);
    }
    for of in &mut plain.loops {
        settle(&mut of.between.value);
    }
    for vessel in &mut plain.vessels {
        use crate::survey::VesselKind::{FourPort, Series, ThreePort};
        match &mut vessel.kind {
            FourPort { leg, .. } | ThreePort { leg, .. } => {
                leg.iter_mut().for_each(|l| settle(&mut l.value));
            }
            Series { .. } => {}
        }
    }
    for emitter in &mut plain.emitters {
        if let EmitterKind::Floor { circuit, .. } = &mut emitter.kind {
            settle(&mut circuit.value);
        }
        let legs = emitter.leg.iter_mut().chain(emitter.return_leg.iter_mut());
        legs.for_each(|l| settle(&mut l.value));
    }
    plain
}
