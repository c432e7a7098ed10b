//! Cost of the works and of a year's running against flow temperature, with seasonal efficiency and where no plan works.

use super::style::Style;
use super::svg_axes::Plot;
use super::words::Words;
use crate::network::Network;
use crate::plan::temperature::Step;

/// Columns of the paper left and right of the axes and under them, mm.
const MARGINS: (f64, f64, f64) = (31.0, 47.0, 31.0);
/// Letters that one column of the rows under the axis holds.
const CELL: usize = 8;

/// Width of such a name, mm.
const NAME: f64 = 14.0;
/// Names of lines that begin nearer to each other than this are one, mm.
const APART: f64 = 5.0;

/// Drops of equal cost.
struct Line {
    drops: Vec<f64>,
    /// Works by flow temperature, where a plan works.
    at: Vec<(f64, Option<f64>)>,
}

/// Works by flow temperature for each drop (solid) and a year's electricity (dashed), in units of the currency; under the
/// axis the seasonal efficiency and the drops at which no plan works. Drops of equal cost share a line.
///
/// `None` if no plan works at any of them. A temperature at which no plan works leaves a gap in its line. `note` stands
/// behind the currency: which of the prices are invented.
pub fn frontier(
    network: &Network,
    steps: &[Step],
    currency: &str,
    note: &str,
    style: &Style,
) -> Option<String> {
    let money = |hundredths: i64| hundredths as f64 / 100.0;
    let sorted = |mut list: Vec<f64>| {
        list.sort_by(f64::total_cmp);
        list.dedup();
        list
    };
    let drops = sorted(steps.iter().map(|s| s.drop_k).collect());
    let flows = sorted(steps.iter().map(|s| s.flow_c).collect());
    let works = steps.iter().filter_map(|s| s.money.map(money));
    let most = works
        .chain(steps.iter().map(|s| money(s.running)))
        .fold(0.0, f64::max);
    let (Some(&low), Some(&high)) = (flows.first(), flows.last()) else {
        return None;
    };
    if steps.iter().all(|s| s.money.is_none()) || most <= 0.0 {
        return None;
    }
    let words = Words::new(network, style, 1000.0);
    let mut plot = Plot::from((165.0, 125.0), (low - 5.0).max(0.0), (high, most)).within(MARGINS);
    plot.axes(&words, "", &format!("{currency}{note}"));
    let mut lines: Vec<Line> = Vec::new();
    for &drop in &drops {
        let of_drop = steps.iter().filter(|s| s.drop_k == drop);
        let at: Vec<_> = of_drop.map(|s| (s.flow_c, s.money.map(money))).collect();
        match lines.iter_mut().find(|l| l.at == at) {
            Some(line) => line.drops.push(drop),
            None => lines.push(Line {
                drops: vec![drop],
                at,
            }),
        }
    }
    let known = |p: &(f64, Option<f64>)| Some((p.0, p.1?));
    for (i, line) in lines.iter().enumerate() {
        // each stretch in which a plan works is a line of its own
        for stretch in line.at.chunk_by(|a, b| a.1.is_some() == b.1.is_some()) {
            let points: Vec<(f64, f64)> = stretch.iter().filter_map(known).collect();
            if points.len() > 1 {
                plot.curve(&points, false, 0.9 - 0.2 * (i as f64).min(3.0));
            }
            for &(x, y) in &points {
                plot.mark(x, y, i % 2 == 0);
            }
        }
    }
    // named at their ends, so that no leader crosses the data; those that end in one point also where they begin
    let end = |l: &Line| l.at.iter().rev().find_map(known);
    let mut begun: Vec<((f64, f64), Vec<f64>)> = Vec::new();
    for (i, line) in lines.iter().enumerate() {
        let Some((x, y)) = end(line) else { continue };
        let together: Vec<&Line> = lines.iter().filter(|l| end(l) == Some((x, y))).collect();
        if !lines[..i].iter().any(|l| end(l) == Some((x, y))) {
            let of = sorted(together.iter().flat_map(|l| l.drops.clone()).collect());
            let of = spans(&words, &of, &drops);
            plot.call(x, y, format!("works, {of}\u{a0}K drop"));
        }
        let begin = line.at.iter().find_map(known);
        if let Some(begin) = begin.filter(|_| together.len() > 1) {
            let near = |p: &(f64, f64)| {
                p.0 == begin.0 && (plot.at(p.0, p.1).1 - plot.at(begin.0, begin.1).1).abs() < APART
            };
            match begun.iter_mut().find(|(p, _)| near(p)) {
                Some((_, of)) => of.extend(&line.drops),
                None => begun.push((begin, line.drops.clone())),
            }
        }
    }
    for ((x, y), of) in begun {
        let of = spans(&words, &sorted(of), &drops);
        let crossed = lines.iter().any(|l| passes(&plot, l, (x, y)));
        plot.beside(x, y, &format!("{of}\u{a0}K"), crossed);
    }
    let at = |c: f64| steps.iter().filter(move |s| s.flow_c == c);
    let mut running = Vec::new();
    plot.row(0, None, "efficiency");
    plot.row(1, None, "no plan at");
    for &c in &flows {
        let Some(first) = at(c).next() else { continue };
        running.push((c, money(first.running)));
        plot.row(0, Some(c), &words.number(first.scop, 2));
        let none = at(c).filter(|s| s.money.is_none()).map(|s| s.drop_k);
        let none = sorted(none.collect());
        if !none.is_empty() {
            let mut said = format!("{}\u{a0}K", spans(&words, &none, &drops));
            if said.chars().count() > CELL {
                said = format!("{} of {}", none.len(), drops.len());
            }
            plot.row(1, Some(c), &said);
        }
        if none.len() == drops.len() {
            plot.cross(c);
        }
    }
    plot.curve(&running, true, 0.7);
    if let Some(&(x, y)) = running.last() {
        plot.call(x, y, "electricity a year".to_owned());
    }
    plot.under(2, "flow temperature, °C");
    Some(plot.finish(
        "Works and running by flow temperature",
        "The cheapest complete plan for each flow temperature and drop, what a year's electricity costs then, the seasonal \
         efficiency, and the drops at which no plan works.",
        style,
    ))
}

/// Whether a line passes close by on the left of a point, where the point's name would stand.
fn passes(plot: &Plot, line: &Line, (x, y): (f64, f64)) -> bool {
    let (px, py) = plot.at(x, y);
    line.at.windows(2).any(|pair| {
        let [(x0, Some(y0)), (x1, Some(y1))] = pair else {
            return false;
        };
        let (a, b) = (plot.at(*x0, *y0), plot.at(*x1, *y1));
        let name = [px - NAME, px - NAME / 2.0, px - 3.0];
        let along = name.into_iter().filter(|x| a.0 <= *x && *x <= b.0);
        let height = |x: f64| a.1 + (b.1 - a.1) * (x - a.0) / (b.0 - a.0);
        along.map(height).any(|y| (y - py).abs() < APART / 1.5)
    })
}

/// Drops in few words: `5`, `6, 8–10`; a dash joins those between which none of all is left out.
fn spans(words: &Words, some: &[f64], all: &[f64]) -> String {
    let place = |d: &f64| all.iter().position(|a| a == d);
    let follow = |a: &f64, b: &f64| place(a).zip(place(b)).is_some_and(|(a, b)| b == a + 1);
    let spans = some.chunk_by(follow).filter_map(|span| {
        let (first, last) = (span.first()?, span.last()?);
        let (from, to) = (words.number(*first, 0), words.number(*last, 0));
        Some(match span.len() {
            1 => from,
            _ => format!("{from}–{to}"),
        })
    });
    spans.collect::<Vec<_>>().join(", ")
}
