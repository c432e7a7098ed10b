//! Figures that may be right and rarely are: a question, and the work goes on.

use super::reader::{Reader, short};
use crate::diag::{Diagnostic, Span};
use crate::quantity::{Celsius, Kelvin, Kv, Metre, Pressure, Volume, Watt};
use crate::survey::{
    At, Curve, EmitterKind, Head, ItemKind, Leg, PipeSize, RoomRef, SourceHead, Survey, VesselKind,
};

// Bounds of what is met in houses: common practice, no source. Beyond them a slipped decimal point or a wrong unit is
// likelier than the figure.
const LONG_RUN: Metre = Metre(150.0);
const FLOW_TEMPERATURE: std::ops::RangeInclusive<f64> = 25.0..=75.0;
const DROP: std::ops::RangeInclusive<f64> = 2.0..=20.0;
const OUTSIDE: std::ops::RangeInclusive<f64> = -40.0..=15.0;
const ROOM: std::ops::RangeInclusive<f64> = 5.0..=30.0;
const SMALL_POWER: Watt = Watt(20.0);
const TIMES_OUTPUT: f64 = 5.0;
const TIMES_RATED: f64 = 3.0;
const HEAD_M: std::ops::RangeInclusive<f64> = 0.5..=15.0;
const MOST_WATER: Volume = Volume(1.0);
/// A full-bore ball valve has about kv 0.08 to 0.12 for each mm² of bore; three times that is no valve.
const KV_PER_MM2: f64 = 0.3;
const PA_PER_M: f64 = 9806.65;

impl Reader<'_> {
    /// All questions about the figures of a file.
    pub fn ask(&mut self, survey: &Survey) {
        let mut asked = Vec::new();
        let mut ask = |code: &'static str, span: &Span, says: String, help: &str| {
            let diagnostic = Diagnostic::warning(code, span.clone(), says)
                .label("is this right?")
                .help(help.to_owned());
            asked.push(diagnostic);
        };
        temperatures(survey, &mut ask);
        powers(survey, &mut ask);
        sources(survey, &mut ask);
        waters(survey, &mut ask);
        for (whose, leg) in legs(survey) {
            if leg.length.high > LONG_RUN {
                let says = format!("{whose} is {} m long", leg.length.high.0);
                ask(
                    "ask-long",
                    &leg.span,
                    says,
                    "a plain length is in m, one way; write `mm` or `ft` if that was meant",
                );
            }
            if let Some(word) = self.guess_of_nothing(leg) {
                let says = format!("the guess at `{word}` admits nothing else");
                ask(
                    "ask-guess",
                    &leg.span,
                    says,
                    "the catalogue has no smaller pipe of its kind and no plastic one of its size: write what it may \
                     be, such as `pb10 0.7 | cu8 0.3`",
                );
            }
            if let Some(number) = self.length_or_count(leg) {
                let says = format!("{whose} is read as {number} m long with one fitting");
                ask(
                    "ask-count",
                    &leg.span,
                    says,
                    "a length stands first: `cu22 3m 2 elbow` is three metres and two elbows; write the `m` to be sure",
                );
            }
            let Some(bore) = self.bore(leg) else { continue };
            for item in &leg.items {
                let kv = match &item.kind {
                    ItemKind::Named { kv: Some(kv), .. } => *kv,
                    ItemKind::Kv(kv) => *kv,
                    _ => continue,
                };
                let mm = bore.0 * 1000.0;
                if kv.0 > KV_PER_MM2 * mm * mm {
                    let says = format!(
                        "kv {} is more than any valve has in a pipe of {mm:.1} mm bore",
                        kv.0
                    );
                    ask(
                        "ask-kv",
                        &item.span,
                        says,
                        "check for a slipped decimal point",
                    );
                }
            }
        }
        self.found.extend(asked);
    }

    /// The pipe of a `?` for which the catalogue knows no other.
    fn guess_of_nothing<'l>(&self, leg: &'l Leg) -> Option<&'l str> {
        match leg.pipe.options.as_slice() {
            [only] if leg.pipe.guess => match &only.pipe {
                PipeSize::Word(word) => self.catalogue.guess(word).is_empty().then_some(word),
                PipeSize::Bore { .. } => None,
            },
            _ => None,
        }
    }

    /// A small plain number right before a fitting (`cu22 2 elbow`): a length by the rules, a count by habit.
    fn length_or_count(&self, leg: &Leg) -> Option<u32> {
        let text = self.file.get(leg.span.clone())?;
        let item = leg.items.first().filter(|i| i.count == 1)?;
        let before = self.file.get(leg.span.start..item.span.start)?;
        let mut words = before.split_whitespace();
        let number = words.nth(1)?.parse().ok().filter(|n| *n <= 12)?;
        let alone = words.next().is_none() && !text.contains(',');
        (alone && leg.length.likeliest.0 == f64::from(number)).then_some(number)
    }

    fn bore(&self, leg: &Leg) -> Option<Metre> {
        match &leg.pipe.options.first()?.pipe {
            PipeSize::Bore { bore, .. } => Some(bore.likeliest),
            PipeSize::Word(word) => self.catalogue.pipe(word).map(|p| p.bore),
        }
    }
}

type Ask<'a> = dyn FnMut(&'static str, &Span, String, &str) + 'a;

fn temperatures(survey: &Survey, ask: &mut Ask<'_>) {
    let mut hot = |whose: String, t: Option<&At<Celsius>>| {
        if let Some(t) = t.filter(|t| !FLOW_TEMPERATURE.contains(&t.value.0)) {
            let says = format!("a flow temperature of {} °C {whose}", t.value.0);
            ask(
                "ask-flow-temperature",
                &t.span,
                says,
                "few heat pumps make more than 75 °C, and under 25 °C no room is heated",
            );
        }
    };
    hot(
        "by `design`".into(),
        survey.design.flow_temperature.as_ref(),
    );
    for source in &survey.sources {
        hot(
            format!("from source `{}`", short(&source.name.value)),
            source.flow_temperature.as_ref(),
        );
    }
    for cylinder in &survey.cylinders {
        hot(
            format!("for cylinder `{}`", short(&cylinder.name.value)),
            cylinder.flow_temperature.as_ref(),
        );
    }
    let mut drop = |whose: String, k: Option<&At<Kelvin>>| {
        if let Some(k) = k.filter(|k| !DROP.contains(&k.value.0)) {
            let says = format!("a drop of {} K {whose}", k.value.0);
            ask(
                "ask-drop",
                &k.span,
                says,
                "heat pumps run at 5 to 10 K; boilers ran at 10 to 20 K",
            );
        }
    };
    drop("by `design`".into(), survey.design.drop.as_ref());
    for emitter in &survey.emitters {
        drop(
            format!("over emitter `{}`", short(&emitter.name.value)),
            emitter.drop.as_ref(),
        );
    }
    for manifold in &survey.manifolds {
        drop(
            format!("over manifold `{}`", short(&manifold.name.value)),
            manifold.drop.as_ref(),
        );
    }
    if let Some(t) = survey
        .design
        .outside
        .as_ref()
        .filter(|t| !OUTSIDE.contains(&t.value.0))
    {
        let says = format!("{} °C outside on the design day", t.value.0);
        ask(
            "ask-outside",
            &t.span,
            says,
            "the design day is the coldest that is reckoned with",
        );
    }
    for emitter in &survey.emitters {
        if let Some(At {
            value: RoomRef::Temperature(t),
            span,
        }) = &emitter.room
            && !ROOM.contains(&t.0)
        {
            let says = format!(
                "the room of emitter `{}` at {} °C",
                short(&emitter.name.value),
                t.0
            );
            ask(
                "ask-room",
                span,
                says,
                "a plain number is in °C; write `70 F` if °F was meant",
            );
        }
    }
    for room in survey
        .rooms
        .iter()
        .filter(|r| !ROOM.contains(&r.temperature.value.0))
    {
        let says = format!(
            "room `{}` at {} °C",
            short(&room.name.value),
            room.temperature.value.0
        );
        ask(
            "ask-room",
            &room.temperature.span,
            says,
            "a plain number is in °C; write `70 F` if °F was meant",
        );
    }
}

fn powers(survey: &Survey, ask: &mut Ask<'_>) {
    let mut small = |whose: String, p: Option<&At<Watt>>| {
        if let Some(p) = p.filter(|p| p.value.0 > 0.0 && p.value < SMALL_POWER) {
            let says = format!("only {} W {whose}", p.value.0);
            ask(
                "ask-power",
                &p.span,
                says,
                "a plain number is in W; write for example `1.1 kW` if kW was meant",
            );
        }
    };
    small("of `load`".into(), survey.design.load.as_ref());
    for source in &survey.sources {
        small(
            format!("from source `{}`", short(&source.name.value)),
            source.output.as_ref(),
        );
    }
    for room in &survey.rooms {
        small(
            format!("for room `{}`", short(&room.name.value)),
            room.needs.as_ref(),
        );
    }
    for emitter in &survey.emitters {
        small(
            format!("for emitter `{}`", short(&emitter.name.value)),
            emitter.needs.as_ref(),
        );
        if let EmitterKind::Rated { output, .. } = &emitter.kind {
            small(
                format!("from emitter `{}`", short(&emitter.name.value)),
                Some(output),
            );
        }
    }
    for emitter in &survey.emitters {
        let (EmitterKind::Rated { output, .. }, Some(needs)) = (&emitter.kind, &emitter.needs)
        else {
            continue;
        };
        if needs.value.0 > TIMES_RATED * output.value.0 {
            let times = needs.value.0 / output.value.0;
            let name = short(&emitter.name.value);
            let says = format!("emitter `{name}` needs {times:.1} times its rated output");
            ask(
                "ask-needs",
                &needs.span,
                says,
                "check both figures for a slipped decimal point or kW in place of W",
            );
        }
    }
}

fn sources(survey: &Survey, ask: &mut Ask<'_>) {
    let emitters: f64 = survey
        .emitters
        .iter()
        .filter_map(|e| e.needs.as_ref())
        .map(|p| p.value.0)
        .sum();
    let rooms: f64 = survey
        .rooms
        .iter()
        .filter_map(|r| r.needs.as_ref())
        .map(|p| p.value.0)
        .sum();
    let load = survey.design.load.as_ref().map_or(0.0, |l| l.value.0);
    let asked_for = (emitters + rooms).max(load);
    for source in &survey.sources {
        let name = short(&source.name.value);
        if let Some(output) = source
            .output
            .as_ref()
            .filter(|o| asked_for > 0.0 && o.value.0 > TIMES_OUTPUT * asked_for)
        {
            let times = output.value.0 / asked_for;
            let says = format!(
                "source `{name}` makes {times:.0} times what the rooms need ({asked_for:.0} W)"
            );
            ask(
                "ask-output",
                &output.span,
                says,
                "check its output and the needs for a slipped decimal point",
            );
        }
        // flow at the least drop that is usual, 3 K: a least flow above that belongs to a larger unit
        if let (Some(output), Some(least)) = (&source.output, &source.least_flow) {
            let usual = output.value.0 / (4.15e6 * 3.0);
            if least.value.0 > 2.0 * usual {
                let says = format!(
                    "the least flow of source `{name}` is {:.0} l/min",
                    least.value.0 * 60e3
                );
                ask(
                    "ask-least-flow",
                    &least.span,
                    says,
                    "that is a drop under 2 K at full output: check the unit",
                );
            }
        }
        let curve = match &source.head {
            Some(SourceHead::Free(curve) | SourceHead::Total { curve, .. }) => Some(curve),
            None => None,
        };
        head(curve, &format!("source `{name}`"), ask);
    }
    for vessel in &survey.vessels {
        if let VesselKind::FourPort { pump, .. } | VesselKind::ThreePort { pump, .. } = &vessel.kind
        {
            let curve = pump.as_ref().map(|p| &p.curve);
            head(
                curve,
                &format!("vessel `{}`", short(&vessel.name.value)),
                ask,
            );
        }
    }
    for manifold in &survey.manifolds {
        let curve = manifold.pump.as_ref().map(|p| &p.curve);
        head(
            curve,
            &format!("manifold `{}`", short(&manifold.name.value)),
            ask,
        );
    }
}

fn head(curve: Option<&At<Curve>>, whose: &str, ask: &mut Ask<'_>) {
    let Some(curve) = curve else { return };
    let most = match &curve.value {
        Curve::Points(points) => points.first().map(|(_, h)| *h),
        Curve::Coefficients { a, .. } => Some(*a),
    };
    let m = match most {
        Some(Head::Fluid(m)) => m.0,
        Some(Head::Pressure(Pressure(pa))) => pa / PA_PER_M,
        None => return,
    };
    if !HEAD_M.contains(&m) {
        let says = format!("the pump of {whose} gives {m:.1} m at no flow");
        ask(
            "ask-head",
            &curve.span,
            says,
            "pumps in houses give 2 to 12 m; check the unit",
        );
    }
}

fn waters(survey: &Survey, ask: &mut Ask<'_>) {
    let mut most = |whose: String, v: Option<&At<Volume>>| {
        if let Some(v) = v.filter(|v| v.value > MOST_WATER) {
            let says = format!("{:.0} l of water in {whose}", v.value.0 * 1000.0);
            ask("ask-water", &v.span, says, "a plain number is in litres");
        }
    };
    for vessel in &survey.vessels {
        most(
            format!("vessel `{}`", short(&vessel.name.value)),
            vessel.water.as_ref(),
        );
    }
    for cylinder in &survey.cylinders {
        most(
            format!("cylinder `{}`", short(&cylinder.name.value)),
            cylinder.water.as_ref(),
        );
    }
    for source in &survey.sources {
        most(
            format!("source `{}`", short(&source.name.value)),
            source.least_water.as_ref(),
        );
    }
    for emitter in &survey.emitters {
        let valve = emitter.valve.as_ref().map(|v| (v.value.kv, &v.span));
        let lockshield = emitter.lockshield.as_ref().map(|v| (v.value, &v.span));
        for (Kv(kv), span) in [valve, lockshield].into_iter().flatten() {
            // a radiator valve of more than 15 mm has kv 1 to 3
            if kv.is_finite() && kv > 12.0 {
                let says = format!("kv {kv} at emitter `{}`", short(&emitter.name.value));
                ask(
                    "ask-kv",
                    span,
                    says,
                    "radiator valves have kv 0.3 to 3: check for a slipped decimal point",
                );
            }
        }
    }
}

/// Every leg of the file, and whose it is.
fn legs(survey: &Survey) -> Vec<(String, &Leg)> {
    let mut all: Vec<(String, &Leg)> = Vec::new();
    fn add<'s>(
        all: &mut Vec<(String, &'s Leg)>,
        whose: &str,
        name: &str,
        leg: Option<&'s At<Leg>>,
    ) {
        if let Some(At { value, .. }) = leg {
            all.push((format!("{whose} `{}`", short(name)), value));
        }
    }
    for x in &survey.pairs {
        add(&mut all, "pair", &x.name.value, Some(&x.leg));
    }
    for x in &survey.runs {
        add(&mut all, "run", &x.name.value, Some(&x.leg));
    }
    for x in &survey.rings {
        for stretch in x.flow.iter().chain(&x.back) {
            add(&mut all, "ring", &x.name.value, Some(&stretch.leg));
        }
    }
    for x in &survey.loops {
        for stretch in &x.main {
            add(&mut all, "loop", &x.name.value, Some(&stretch.leg));
        }
        add(&mut all, "loop", &x.name.value, Some(&x.home));
        add(&mut all, "loop", &x.name.value, Some(&x.between));
    }
    for x in &survey.manifolds {
        add(&mut all, "manifold", &x.name.value, x.leg.as_ref());
    }
    for x in &survey.emitters {
        add(
            &mut all,
            "the tail of emitter",
            &x.name.value,
            x.leg.as_ref(),
        );
        add(
            &mut all,
            "the return tail of emitter",
            &x.name.value,
            x.return_leg.as_ref(),
        );
        if let EmitterKind::Floor { circuit, .. } = &x.kind {
            add(&mut all, "floor loop", &x.name.value, Some(circuit));
        }
    }
    for x in &survey.vessels {
        if let VesselKind::FourPort { leg, .. } | VesselKind::ThreePort { leg, .. } = &x.kind {
            add(&mut all, "the leg of vessel", &x.name.value, leg.as_ref());
        }
    }
    for x in &survey.cylinders {
        add(&mut all, "the leg of cylinder", &x.name.value, Some(&x.leg));
    }
    for x in &survey.exchangers {
        add(
            &mut all,
            "the leg of exchanger",
            &x.name.value,
            x.leg.as_ref(),
        );
    }
    for x in &survey.bypasses {
        add(&mut all, "the leg of bypass", &x.name.value, x.leg.as_ref());
    }
    all
}
