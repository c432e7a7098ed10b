//! Cost of the works and of a year's running against flow temperature.

use super::style::Style;
use super::svg_axes::Plot;
use super::words::Words;
use crate::network::Network;
use crate::plan::temperature::Step;

/// Works by flow temperature for each drop (solid) and a year's electricity (dashed), in units of the currency.
///
/// `None` if no plan works at any of them. A temperature at which no plan works leaves a gap in its line.
pub fn frontier(
    network: &Network,
    steps: &[Step],
    currency: &str,
    style: &Style,
) -> Option<String> {
    let money = |hundredths: i64| hundredths as f64 / 100.0;
    let mut drops: Vec<f64> = steps.iter().map(|s| s.drop_k).collect();
    drops.sort_by(f64::total_cmp);
    drops.dedup();
    let works = steps.iter().filter_map(|s| s.money.map(money));
    let most = works
        .chain(steps.iter().map(|s| money(s.running)))
        .fold(0.0, f64::max);
    if steps.iter().all(|s| s.money.is_none()) || most <= 0.0 {
        return None;
    }
    let flows = || steps.iter().map(|s| s.flow_c);
    let (low, high) = (
        flows().fold(f64::INFINITY, f64::min),
        flows().fold(0.0, f64::max),
    );
    let words = Words::new(network, style, 1000.0);
    let mut plot = Plot::from((210.0, 130.0), (low - 5.0).max(0.0), (high, most));
    plot.axes(&words, "flow temperature, °C", currency);
    for (i, drop) in drops.iter().enumerate() {
        let of_drop = || steps.iter().filter(|s| s.drop_k == *drop);
        // each stretch in which a plan works is a line of its own
        let mut line: Vec<(f64, f64)> = Vec::new();
        let mut lines = Vec::new();
        for s in of_drop() {
            match s.money {
                Some(m) => line.push((s.flow_c, money(m))),
                None => lines.push(std::mem::take(&mut line)),
            }
        }
        lines.push(line);
        for line in lines.iter().filter(|l| !l.is_empty()) {
            plot.curve(line, false, 0.9 - 0.2 * (i as f64).min(3.0));
            for &(x, y) in line {
                plot.mark(x, y, i % 2 == 0);
            }
            plot.call(
                line[0].0,
                line[0].1,
                format!("works at {} K drop", words.number(*drop, 0)),
            );
        }
    }
    let first = drops.first()?;
    let running: Vec<(f64, f64)> = steps
        .iter()
        .filter(|s| s.drop_k == *first)
        .map(|s| (s.flow_c, money(s.running)))
        .collect();
    plot.curve(&running, true, 0.7);
    if let Some(&(x, y)) = running.last() {
        plot.call(x, y, "electricity a year".to_owned());
    }
    Some(plot.finish(
        "Works and running by flow temperature",
        "The cheapest complete plan for each flow temperature and drop, and what a year's electricity costs then.",
        style,
    ))
}
