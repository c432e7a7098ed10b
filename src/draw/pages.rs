//! One sheet where it holds the drawing; else several with off-sheet arrows, or run numbers with a schedule.

use super::cuts;
use super::figures::Figures;
use super::fit::{Fitted, LONGEST_OF_ONE};
use super::layout::Part;
use super::scene::Scene;
use super::sheet;
use super::style::{Level, Paper, Style};
use super::words::Words;

/// Deepest that a drawing is cut in halves.
const DEEPEST: usize = 9;
/// Most sheets at a level with figures beside the pipes; beyond that a schedule is easier to find things in.
const MOST: usize = 8;
/// Emitters that a sheet holds at most, on A3 with figures: beyond it nothing is tried.
const CROWDED: usize = 40;

/// Shares of a drawing that are cut off it, tried in turn: the first sheet also holds the plant.
const SHARES: [f64; 3] = [0.5, 0.62, 0.4];
/// Emitters up to which pipes are no burden to the eye however long.
const FEW: usize = 4;

type Drawn = Vec<(Paper, Fitted)>;

/// All sheets of a drawing.
pub(crate) fn sheets(parts: &[Part], figures: &Figures, density: f64, style: &Style) -> Vec<Scene> {
    let network = figures.network;
    let mut words = Words::new(network, style, density);
    let small: &[Paper] = match &style.paper {
        Some(paper) => std::slice::from_ref(paper),
        None => &[Paper::A4, Paper::A3],
    };
    let weight: usize = parts.iter().map(|p| cuts::weight(&p.row)).sum();
    if style.level != Level::Schedule {
        let last = &small[small.len() - 1..];
        // pipes no longer than the eye follows; where that cannot be had, or the paper was chosen, a sheet that holds it
        // all the same
        let strictness: &[bool] = match style.paper {
            Some(_) => &[false],
            None => &[true, false],
        };
        for &strict in strictness {
            if let Some(one) = fit(parts, figures, &mut words, style, small, strict) {
                return numbered(vec![one], Vec::new(), figures, &words, style);
            }
            // the fewest sheets, of as many those whose emptiest sheet is fullest
            let mut best: Option<(f64, Drawn)> = None;
            for share in SHARES {
                // of what is far too much for the first share the others are hardly less
                let hopeless = best.is_none() && share != SHARES[0] && weight > 2 * CROWDED;
                if hopeless || weight > MOST * CROWDED {
                    break;
                }
                let most = best.as_ref().map_or(MOST, |b| b.1.len());
                let how = (strict, share, most);
                let Some(drawn) = several(parts, figures, &mut words, style, last, how) else {
                    continue;
                };
                let ink = |d: &(Paper, Fitted)| super::ink::cells(&d.1.items, d.0);
                let least = drawn.iter().map(ink).fold(f64::INFINITY, f64::min);
                let better = |b: &(f64, Drawn)| drawn.len() < b.1.len() || least > b.0;
                if best.as_ref().is_none_or(better) {
                    best = Some((least, drawn));
                }
            }
            if let Some((_, drawn)) = best {
                return numbered(drawn, Vec::new(), figures, &words, style);
            }
        }
        let large = [Paper::A2, Paper::A1];
        let large = if style.paper.is_none() {
            &large[..]
        } else {
            &[]
        };
        if weight <= 2 * CROWDED
            && let Some(one) = fit(parts, figures, &mut words, style, large, true)
        {
            return numbered(vec![one], Vec::new(), figures, &words, style);
        }
    }
    let style = Style {
        level: Level::Schedule,
        ..style.clone()
    };
    let mut words = Words::new(network, &style, density);
    let papers: &[Paper] = match &style.paper {
        Some(paper) => std::slice::from_ref(paper),
        None => &[Paper::A3, Paper::A2, Paper::A1],
    };
    let mut tried = [(true, 1), (false, 1), (false, papers.len())].into_iter();
    let mut drawn = tried
        .find_map(|(strict, n)| {
            let how = (strict, SHARES[0], usize::MAX);
            several(parts, figures, &mut words, &style, &papers[..n], how)
        })
        .unwrap_or_default();
    let paper = drawn.first().map_or(papers[0], |d| d.0);
    let tables = super::table::sheets(figures, &words, paper, sheet::strip_height(paper, 0));
    for (_, fitted) in &mut drawn {
        fitted.notes.push(super::key::IN_SCHEDULE.into());
    }
    numbered(drawn, tables, figures, &words, &style)
}

/// Sheets and tables with their frames and numbers.
fn numbered(
    mut drawn: Drawn,
    tables: Vec<Vec<super::scene::Item>>,
    figures: &Figures,
    words: &Words,
    style: &Style,
) -> Vec<Scene> {
    super::joins::name_places(drawn.iter_mut().map(|d| &mut d.1));
    let of = drawn.len() + tables.len();
    let paper = drawn
        .first()
        .map_or(style.paper.unwrap_or(Paper::A3), |d| d.0);
    let mut all = Vec::new();
    for (paper, fitted) in drawn {
        let number = (all.len() + 1, of);
        all.push(sheet::scene(paper, fitted, figures, words, style, number));
    }
    for items in tables {
        let fitted = Fitted {
            items,
            rows: 0,
            plant_loops: 0,
            notes: vec![
                "schedule of runs, emitters and plant".into(),
                "* on the index circuit".into(),
            ],
            key_rows: 0,
            scale: paper.scale(),
            places: Default::default(),
            room: sheet::frame(paper),
        };
        let number = (all.len() + 1, of);
        all.push(sheet::scene(paper, fitted, figures, words, style, number));
    }
    super::away::number(&mut all);
    all
}

/// One sheet, unless there is too much to try.
fn fit(
    parts: &[Part],
    figures: &Figures,
    words: &mut Words,
    style: &Style,
    papers: &[Paper],
    strict: bool,
) -> Option<(Paper, Fitted)> {
    let weight: usize = parts.iter().map(|p| cuts::weight(&p.row)).sum();
    // few emitters have few pipes: no use in cutting those
    let longest = if strict && weight > FEW && figures.network.emitters.len() > FEW {
        LONGEST_OF_ONE
    } else {
        f64::INFINITY
    };
    let largest = papers.iter().any(|p| *p > Paper::A3);
    if weight > CROWDED && style.level != Level::Schedule && !largest {
        return None;
    }
    sheet::fit(parts, figures, words, style, papers, longest)
}

/// Fit, or cut in two and fit those, until all of it has found a sheet, at most so many; `share` of it goes to the next.
fn several(
    parts: &[Part],
    figures: &Figures,
    words: &mut Words,
    style: &Style,
    papers: &[Paper],
    (strict, share, most): (bool, f64, usize),
) -> Option<Drawn> {
    let mut out = Drawn::new();
    let mut arrows = 0;
    let mut todo: Vec<(Vec<Part>, usize)> = vec![(parts.to_vec(), 0)];
    while let Some((parts, depth)) = todo.pop() {
        if let Some(fitted) = fit(&parts, figures, words, style, papers, strict) {
            out.push(fitted);
            continue;
        }
        if depth >= DEEPEST || out.len() + todo.len() + 2 > most {
            return None;
        }
        let (first, second) = halves(parts, share, &mut arrows);
        if second.is_empty() {
            // what cannot be cut may have more pipe than the eye follows
            let loose = strict.then(|| fit(&first, figures, words, style, papers, false));
            out.push(loose.flatten()?);
            continue;
        }
        // the first half is laid first, so that sheets come in the order of reading
        todo.push((second, depth + 1));
        todo.push((first, depth + 1));
    }
    Some(out)
}

/// Cut between parts that water does not join, else between rows, or between the tees of a row.
fn halves(parts: Vec<Part>, share: f64, arrows: &mut usize) -> (Vec<Part>, Vec<Part>) {
    let mut groups = cuts::together(parts);
    if groups.len() > 1 {
        let second = groups.split_off(groups.len() / 2);
        let flat = |g: Vec<Vec<Part>>| g.into_iter().flatten().collect();
        return (flat(groups), flat(second));
    }
    let mut parts = groups.pop().unwrap_or_default();
    let mut heaviest: Vec<usize> = (0..parts.len()).collect();
    heaviest.sort_by_key(|&i| std::cmp::Reverse(cuts::weight(&parts[i].row)));
    for i in heaviest {
        if parts[i].aside.len() > 4 {
            let half = parts[i].aside.len() / 2;
            let rest = Part {
                component: super::chart::Component {
                    root: super::chart::Root::Nothing,
                    ..parts[i].component.clone()
                },
                row: super::plan::Row::default(),
                aside: parts[i].aside.split_off(half),
            };
            return (parts, vec![rest]);
        }
        let (first, rest) = cuts::cut(parts[i].clone(), share, *arrows);
        if let Some(rest) = rest {
            *arrows += 1;
            parts[i] = first;
            return cuts::follow(parts, rest);
        }
    }
    (parts, Vec::new())
}
