//! What can be changed in a house: the pipe of a written line, a device in it, a radiator, a valve.

use crate::catalogue::Catalogue;
use crate::survey::{EmitterKind, ItemKind, Leg, LoopTee, PipeOption, PipeSize, Survey};

/// A written line that is made of pipe, by index into the survey's lists.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Route {
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
    /// The main of a one-pipe loop between the two tees of every radiator: one word of the file, one choice.
    Between(usize),
}

/// Something in the file that can be changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Site {
    /// The pipe of a line.
    Pipe(Route),
    /// A device or valve of a known loss along a line: its leg and its place among the items of that leg.
    Device(Route, usize, usize),
    /// The radiator itself.
    Radiator(usize),
    /// The valve of an emitter.
    Valve(usize),
}

/// Elbows that a bend can stand for.
pub(super) const ELBOWS: [&str; 5] = [
    "elbow",
    "compression elbow",
    "push-fit elbow",
    "press elbow",
    "knee",
];
/// What stands for them.
pub const BEND: &str = "bend";

impl Route {
    /// All lines that may be laid anew.
    pub fn all(survey: &Survey) -> Vec<Self> {
        let mut routes: Vec<Self> = (0..survey.pairs.len()).map(Self::Pair).collect();
        routes.extend((0..survey.runs.len()).map(Self::Run));
        for (i, ring) in survey.rings.iter().enumerate() {
            routes.extend((0..ring.flow.len()).map(|s| Self::Ring(i, false, s)));
            routes.extend((0..ring.back.len()).map(|s| Self::Ring(i, true, s)));
        }
        for (i, of) in survey.loops.iter().enumerate() {
            routes.extend((0..of.main.len()).map(|s| Self::Loop(i, s)));
            routes.extend([Self::Home(i), Self::Between(i)]);
        }
        let manifolds = survey.manifolds.iter().enumerate();
        routes.extend(
            manifolds
                .filter(|(_, m)| m.leg.is_some())
                .map(|(i, _)| Self::Manifold(i)),
        );
        routes.extend((0..survey.cylinders.len()).map(Self::Cylinder));
        let tails = survey.emitters.iter().enumerate();
        routes.extend(
            tails
                .filter(|(_, e)| e.leg.is_some())
                .map(|(i, _)| Self::Tail(i)),
        );
        routes
    }

    /// The name in the file to which it belongs.
    pub fn owner<'s>(&self, survey: &'s Survey) -> &'s str {
        match *self {
            Self::Pair(i) => &survey.pairs[i].name.value,
            Self::Run(i) => &survey.runs[i].name.value,
            Self::Tail(i) => &survey.emitters[i].name.value,
            Self::Manifold(i) => &survey.manifolds[i].name.value,
            Self::Cylinder(i) => &survey.cylinders[i].name.value,
            Self::Ring(i, ..) => &survey.rings[i].name.value,
            Self::Loop(i, _) | Self::Home(i) | Self::Between(i) => &survey.loops[i].name.value,
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
            Self::Between(_) => format!("{owner}, main between tees"),
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
            Self::Between(i) => {
                let of = &survey.loops[i];
                let radiators = u32::try_from(of.main.len()).unwrap_or(u32::MAX);
                vec![(&of.between.value, radiators)]
            }
        }
    }

    pub(super) fn legs_mut<'s>(&self, survey: &'s mut Survey) -> Vec<&'s mut Leg> {
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
            Self::Between(i) => vec![&mut survey.loops[i].between.value],
        }
    }
}

impl Site {
    /// All pipes, devices, radiators and valves that may change at all.
    pub fn all(survey: &Survey) -> Vec<Self> {
        let mut sites = Vec::new();
        for route in Route::all(survey) {
            sites.push(Self::Pipe(route));
            for (l, (leg, _)) in route.legs(survey).into_iter().enumerate() {
                let items = leg.items.iter().enumerate();
                let named = items.filter(|(_, i)| matches!(i.kind, ItemKind::Named { .. }));
                sites.extend(named.map(|(k, _)| Self::Device(route, l, k)));
            }
        }
        for (i, emitter) in survey.emitters.iter().enumerate() {
            if matches!(&emitter.kind, EmitterKind::Panel { .. })
                || matches!(&emitter.kind, EmitterKind::Rated { kind, .. } if kind == "radiator" || kind == "column" || kind == "convector")
            {
                sites.push(Self::Radiator(i));
            }
            let valve = emitter.valve.as_ref();
            if valve.is_some_and(|v| v.value.kind == "thermostatic") {
                sites.push(Self::Valve(i));
            }
        }
        sites
    }

    /// Its line, if it is pipe or stands in one.
    pub fn route(&self) -> Option<Route> {
        match *self {
            Self::Pipe(route) | Self::Device(route, ..) => Some(route),
            Self::Radiator(_) | Self::Valve(_) => None,
        }
    }

    /// The name in the file to which it belongs.
    pub fn owner<'s>(&self, survey: &'s Survey) -> &'s str {
        match *self {
            Self::Pipe(route) | Self::Device(route, ..) => route.owner(survey),
            Self::Radiator(i) | Self::Valve(i) => &survey.emitters[i].name.value,
        }
    }

    /// For people: `hall`, `strainer in out`, `radiator lounge`.
    pub fn name(&self, survey: &Survey) -> String {
        match *self {
            Self::Pipe(route) => route.name(survey),
            Self::Device(route, leg, item) => {
                let word = device(survey, route, leg, item).map_or("device", |(word, _)| word);
                format!("{word} in {}", route.name(survey))
            }
            Self::Radiator(_) => format!("radiator {}", self.owner(survey)),
            Self::Valve(_) => format!("valve of {}", self.owner(survey)),
        }
    }

    /// Whether it hangs on a one-pipe main of which only the share that a radiator takes is known.
    pub fn by_known_share(&self, survey: &Survey) -> bool {
        let (Self::Valve(i) | Self::Pipe(Route::Tail(i)) | Self::Device(Route::Tail(i), ..)) =
            *self
        else {
            return false;
        };
        let name = &survey.emitters[i].name.value;
        survey.loops.iter().any(|l| {
            let own = l.tees.iter().find(|(e, _)| e.value == *name);
            let tee = own.map_or(l.tee, |(_, tee)| *tee);
            matches!(tee, LoopTee::Share(_)) && l.main.iter().any(|s| s.to.value == *name)
        })
    }
}

/// Word and kv of a named item of a leg.
pub(super) fn device(
    survey: &Survey,
    route: Route,
    leg: usize,
    item: usize,
) -> Option<(&str, Option<f64>)> {
    let (leg, _) = route.legs(survey).into_iter().nth(leg)?;
    match &leg.items.get(item)?.kind {
        ItemKind::Named { word, kv, .. } => Some((word, kv.map(|k| k.0))),
        _ => None,
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

/// Word of the likeliest pipe of a leg; empty if only its bore is known.
pub fn likeliest_word(leg: &Leg) -> String {
    match likeliest(leg).map(|o| &o.pipe) {
        Some(PipeSize::Word(word)) => word.clone(),
        _ => String::new(),
    }
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
    for route in Route::all(survey) {
        route.legs_mut(&mut plain).into_iter().for_each(settle);
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
