//! Plots of what happens when valves close: flow against valves open with the trip line, run time and starts against the
//! weather.

use super::figures::density;
use super::style::Style;
use super::svg_axes::Plot;
use super::words::Words;
use crate::network::Network;
use crate::shut::Shut;
use crate::shut::cycle::Rhythm;
use crate::shut::season::Of;

/// Size of a plot, mm.
const SIZE: (f64, f64) = (210.0, 130.0);

/// Flow through the unit against the number of valves open: least and greatest of all combinations, and the line under
/// which it trips. `None` if nothing can close.
pub fn flow_by_open(network: &Network, shut: &Shut, style: &Style) -> Option<String> {
    let rows = shut.combinations.by_open();
    if rows.len() < 2 {
        return None;
    }
    let words = words(network, style)?;
    let (one, word) = words.flow_unit();
    let shown = |m3_s: f64| m3_s / one;
    let least = network.sources.iter().find_map(|s| s.least_flow_m3_s);
    let top = rows
        .iter()
        .map(|r| shown(r.2))
        .chain(least.map(shown))
        .fold(0.0, f64::max);
    let valves = shut.valves.len() as f64;
    let mut plot = Plot::new(SIZE, (valves, top * 1.05));
    plot.axes(
        &words,
        "valves open",
        &format!("flow through the unit, {word}"),
    );
    let line = |pick: fn(&(usize, f64, f64)) -> f64| -> Vec<(f64, f64)> {
        rows.iter().map(|r| (r.0 as f64, shown(pick(r)))).collect()
    };
    let (low, high) = (line(|r| r.1), line(|r| r.2));
    plot.curve(&high, false, 0.5);
    plot.curve(&low, false, 1.0);
    for (x, y) in &low {
        plot.mark(*x, *y, true);
    }
    // both curves meet where everything is open: their names hang where they have parted
    if let (Some(low), Some(high)) = (low.get(1), high.get(2).or(high.last())) {
        plot.call(low.0, low.1, "least of all combinations".into());
        plot.call(high.0, high.1, "greatest".into());
    }
    if let Some(least) = least {
        let y = shown(least);
        plot.curve(&[(0.0, y), (plot.most.0, y)], true, 0.7);
        plot.call(plot.most.0, y, format!("trips under {}", words.flow(least)));
    }
    let title = format!("{}: flow when valves close", network.title);
    let desc = format!(
        "{} of {} combinations that were solved trip the unit.",
        shut.combinations.tripping(),
        shut.combinations.tally.solved
    );
    Some(plot.finish(&title, &desc, style))
}

/// Run time (true) or starts per hour (false) against the outdoor temperature, for each combination that was followed
/// down the load line. `None` if the source never stops.
pub fn weather(network: &Network, shut: &Shut, run_time: bool, style: &Style) -> Option<String> {
    let words = words(network, style)?;
    let value = |rhythm: Rhythm| match rhythm {
        Rhythm::Cycles {
            run_s,
            starts_per_hour,
            ..
        } => Some(if run_time {
            run_s / 60.0
        } else {
            starts_per_hour
        }),
        // without a stop there are no starts, and no end of a run
        Rhythm::Steady { .. } => (!run_time).then_some(0.0),
        Rhythm::Stands => None,
    };
    let lines: Vec<(Of, Vec<(f64, f64)>)> = shut
        .seasons
        .iter()
        .map(|s| {
            let points = s
                .days
                .iter()
                .filter_map(|d| Some((d.outside_c, value(d.rhythm)?)));
            (s.of, points.collect())
        })
        .filter(|(_, points): &(Of, Vec<_>)| !points.is_empty())
        .collect();
    let all = || lines.iter().flat_map(|(_, points)| points);
    let cold = all().map(|p| p.0).fold(f64::INFINITY, f64::min);
    let warm = all().map(|p| p.0).fold(f64::NEG_INFINITY, f64::max);
    let top = all().map(|p| p.1).fold(0.0, f64::max);
    if warm <= cold || top <= 0.0 {
        return None;
    }
    // from the next five degrees under the coldest day to where heating ends
    let from = (cold / 5.0).floor() * 5.0;
    let ends = crate::shut::season::NO_HEATING_C;
    let mut plot = Plot::from(SIZE, from, (ends.max(warm), top * 1.05));
    let (y_name, title) = if run_time {
        ("run, min", "run time")
    } else {
        ("starts an hour", "starts")
    };
    plot.axes(&words, "outside, °C", y_name);
    for (of, points) in &lines {
        let (dash, width, name) = match of {
            Of::Worst => (false, 1.0, "worst combination"),
            Of::WorstWithVessel => (true, 1.0, "the same with the vessel"),
            Of::Typical => (false, 0.5, "typical"),
            Of::Open => (true, 0.5, "everything open"),
        };
        plot.curve(points, dash, width);
        for (x, y) in points {
            plot.mark(*x, *y, !dash);
        }
        if let Some(last) = points.last() {
            plot.call(last.0, last.1, name.into());
        }
    }
    let title = format!("{}: {title} down the load line", network.title);
    let desc =
        "A simulation of the water in circulation; the flow temperature follows the weather.";
    Some(plot.finish(&title, desc, style))
}

fn words<'a>(network: &'a Network, style: &Style) -> Option<Words<'a>> {
    let id = network.element_ids().next()?;
    Some(Words::new(network, style, density(network, id, 40.0)))
}
