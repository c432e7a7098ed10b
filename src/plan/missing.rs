//! What is missing where no plan on offer works.

use super::change::What;
use super::model::Breaks;
use super::offer::Offers;
use super::search::{FailsBy, Found, House};
use super::site::Site;
use super::verify::named;

/// Each thing that keeps every plan from working, in words; the first is what to look at first.
pub fn missing(house: &House, offers: &Offers, found: &Found) -> Vec<String> {
    let mut list = Vec::new();
    for &s in &found.model.impossible {
        let slot = &offers.slots[s];
        // the choice that comes nearest says what is missing
        let nearest = found
            .model
            .ruled_out
            .iter()
            .filter(|r| r.slot == s)
            .min_by(|a, b| over(a.figures).total_cmp(&over(b.figures)));
        let Some(r) = nearest else { continue };
        let (is, limit) = r.figures;
        // where a device's pipe breaks a limit it is the pipe that is too small
        let name = match slot.site {
            Site::Device(route, ..) => route.name(&house.survey),
            _ => slot.name.clone(),
        };
        let best = match &slot.offers[r.offer].change.what {
            What::Keep => "as it is".to_owned(),
            What::Pipe(word, false) => format!("with {word}"),
            What::Pipe(word, true) => format!("with {word} and bends"),
            What::Beside(word) => format!("with {word} beside it"),
            What::Bends => "with bends".to_owned(),
            What::Radiator(panel) => format!("with {}", panel.words()),
            What::Valve(word, _) | What::Device(word, _) => format!("with {word}"),
        };
        let says = |unit: &str, digits: usize| {
            format!("{is:.digits$} {unit} where the limit is {limit:.digits$} {unit}")
        };
        list.push(match r.why {
            Breaks::Velocity => format!(
                "{}: {best} the water still runs at {}; a larger size with a price is missing",
                name,
                says("m/s", 2)
            ),
            Breaks::Erosion => format!(
                "{}: {best} the water would wear the copper at {}",
                name,
                says("m/s", 2)
            ),
            Breaks::Gradient => format!(
                "{}: {best} friction is {}; a larger size with a price is missing",
                name,
                says("Pa/m", 0)
            ),
            Breaks::Slow => format!(
                "{}: {best} the water runs at {}; no size keeps both limits",
                name,
                says("m/s", 2)
            ),
            Breaks::FlowTemperature => format!(
                "{}: {best} it asks for {is:.1} °C and gets {limit:.1} °C; a larger radiator does \
                 not fit its wall, or has no price",
                name
            ),
        });
    }
    for &(run, (why, (is, limit))) in &found.model.stuck {
        let name = &house.network.runs[run].name;
        let (what, unit, digits) = match why {
            Breaks::Gradient => ("friction is", "Pa/m", 0),
            _ => ("the water runs at", "m/s", 2),
        };
        let own = |l: &&String| {
            l.split(": ")
                .next()
                .is_some_and(|who| name.starts_with(who))
        };
        let reason = offers.left_out.iter().find(own);
        list.push(format!(
            "{name}: {what} {is:.digits$} {unit} where the limit is {limit:.digits$} {unit}, and no other pipe is \
             on offer there{}",
            reason.map_or(String::new(), |r| format!(" ({r})"))
        ));
    }
    for &(i, asks, gets) in &found.model.too_cold {
        let emitter = &house.network.emitters[i];
        let name = &emitter.name;
        let manifold = emitter.manifold.map(|m| &house.network.manifolds[m]);
        let why = match manifold.and_then(|m| Some((&m.name, m.blend?.set_c))) {
            // what holds it back is a setting, which no purchase changes
            Some((manifold, set_c)) if set_c <= gets => format!(
                "{manifold} mixes down to {set_c:.1} °C: see first whether its floors may be fed warmer"
            ),
            _ => offers
                .left_out
                .iter()
                .find(|l| l.starts_with(&format!("radiator {name}:")))
                .cloned()
                .unwrap_or_else(|| format!("{name}: nothing larger is on offer")),
        };
        list.push(format!(
            "{name} asks for {asks:.1} °C and gets {gets:.1} °C; {why}"
        ));
    }
    if list.is_empty() && found.best.is_none() {
        // every way with the largest of everything
        let problem = &found.model.problem;
        let mut worst: Option<(f64, usize)> = None;
        for (r, row) in problem.rows.iter().enumerate() {
            let least: f64 = row
                .decisions
                .iter()
                .map(|&d| {
                    let loads = problem.decisions[d]
                        .choices
                        .iter()
                        .enumerate()
                        .map(|(c, x)| {
                            let also = row.also.iter().find(|(of, _)| *of == d);
                            x.load_pa + also.map_or(0.0, |(_, by)| by[c])
                        });
                    loads.fold(f64::INFINITY, f64::min)
                })
                .sum();
            if worst.is_none_or(|(w, _)| least - row.limit_pa > w) {
                worst = Some((least - row.limit_pa, r));
            }
        }
        match worst.filter(|(over, _)| *over > 0.0) {
            Some((over, r)) => {
                let way = &found.model.ways[r];
                list.push(format!(
                    "with the least loss that anything on offer allows, the way through {} still \
                     asks {} of the pump {:.1} kPa more than its {:.1} kPa: a stronger pump, a \
                     larger drop or larger sizes with a price are missing",
                    way.through,
                    way.circuit,
                    over / 1e3,
                    way.available_pa / 1e3
                ));
            }
            None if found.stopped => list.push(format!(
                "{} sets were looked at in full and all fail; the search ended there{}",
                found.looked_at,
                last(found)
            )),
            None => list.push(format!(
                "all {} sets that the pump could serve fail a check as the house runs{}",
                found.looked_at,
                last(found)
            )),
        }
    }
    list
}

/// What the last set that was looked at failed by.
fn last(found: &Found) -> String {
    let by = found.cut.last().map(|f| &f.by);
    match by {
        Some(FailsBy::Check(about)) => {
            let (finding, network) = &**about;
            format!(
                ", the last by: {}",
                named(network, finding.check, finding.subject)
            )
        }
        _ => String::new(),
    }
}

/// How far a figure is from its limit, as a share.
fn over((is, limit): (f64, f64)) -> f64 {
    (is / limit - 1.0).abs()
}
