//! When one sheet does not hold a drawing: run numbers with a schedule, and more sheets.

use super::chart::{Component, Root};
use super::figures::Figures;
use super::fit::Fitted;
use super::layout::Part;
use super::plan::{Body, Row, Stack};
use super::scene::Scene;
use super::sheet;
use super::style::{Level, Paper, Style};
use super::words::Words;

/// Deepest that a drawing is cut in halves.
const DEEPEST: usize = 12;

/// All sheets of a drawing.
pub(crate) fn sheets(parts: &[Part], figures: &Figures, density: f64, style: &Style) -> Vec<Scene> {
    let network = figures.network;
    let mut words = Words::new(network, style, density);
    if style.level != Level::Schedule
        && let Some((paper, fitted)) = sheet::fit(parts, figures, &mut words, style)
    {
        return vec![sheet::scene(paper, fitted, figures, &words, style, (1, 1))];
    }
    let style = Style {
        level: Level::Schedule,
        ..style.clone()
    };
    let mut words = Words::new(network, &style, density);
    let mut drawn: Vec<(Paper, Fitted)> = Vec::new();
    pages(parts.to_vec(), figures, &mut words, &style, 0, &mut drawn);
    let paper = drawn
        .first()
        .map_or(style.paper.unwrap_or(Paper::A3), |d| d.0);
    let tables = super::table::sheets(figures, &words, paper, sheet::strip_height(paper, 0));
    let of = drawn.len() + tables.len();
    let mut all = Vec::new();
    for (i, (paper, mut fitted)) in drawn.into_iter().enumerate() {
        fitted.notes.push("figures in the schedule".into());
        if i > 0 {
            fitted.notes.push("continues the sheet before".into());
        }
        all.push(sheet::scene(
            paper,
            fitted,
            figures,
            &words,
            &style,
            (all.len() + 1, of),
        ));
    }
    for items in tables {
        let fitted = Fitted {
            items,
            rows: 0,
            plant_loops: 0,
            notes: vec!["schedule of runs and emitters".into()],
            key_rows: 0,
        };
        all.push(sheet::scene(
            paper,
            fitted,
            figures,
            &words,
            &style,
            (all.len() + 1, of),
        ));
    }
    all
}

/// Fit, or cut in halves and fit those.
fn pages(
    parts: Vec<Part>,
    figures: &Figures,
    words: &mut Words,
    style: &Style,
    depth: usize,
    out: &mut Vec<(Paper, Fitted)>,
) {
    if let Some(fitted) = sheet::fit(&parts, figures, words, style) {
        out.push(fitted);
        return;
    }
    if depth >= DEEPEST {
        return;
    }
    let (first, second) = halves(parts);
    if second.is_empty() {
        return;
    }
    pages(first, figures, words, style, depth + 1, out);
    pages(second, figures, words, style, depth + 1, out);
}

fn rest(row: Row, aside: Vec<super::reduce::Aside>) -> Part {
    Part {
        component: Component {
            root: Root::Nothing,
            inside: Vec::new(),
            from: usize::MAX,
            to: usize::MAX,
            pieces: Vec::new(),
        },
        row,
        aside,
    }
}

/// Cut between parts, between the rows of a riser, or between the tees of a row.
fn halves(mut parts: Vec<Part>) -> (Vec<Part>, Vec<Part>) {
    if parts.len() > 1 {
        let second = parts.split_off(parts.len() / 2);
        return (parts, second);
    }
    let Some(mut part) = parts.pop() else {
        return (Vec::new(), Vec::new());
    };
    if part.aside.len() > 4 {
        let half = part.aside.len() / 2;
        let more = part.aside.split_off(half);
        return (vec![part], vec![rest(Row::default(), more)]);
    }
    if let Some(stack) = part.row.end.as_mut() {
        if stack.rows.len() > 1 {
            let rows = stack.rows.split_off(stack.rows.len() / 2);
            let other = Row {
                end: Some(Box::new(Stack {
                    flow: Vec::new(),
                    back: Vec::new(),
                    at: (usize::MAX, usize::MAX),
                    rows,
                })),
                ..Row::default()
            };
            return (vec![part], vec![rest(other, Vec::new())]);
        }
        if !part.row.cells.is_empty()
            && let Some(stack) = part.row.end.take()
        {
            let other = Row {
                end: Some(stack),
                ..Row::default()
            };
            return (vec![part], vec![rest(other, Vec::new())]);
        }
        if let Some(mut stack) = part.row.end.take()
            && let Some(inner) = stack.rows.pop()
        {
            // one row on a riser: the riser's own pipes stay in front of it
            let mut inner = inner;
            if let Some(cell) = inner.cells.first_mut() {
                stack.flow.append(&mut cell.flow);
                cell.flow = std::mem::take(&mut stack.flow);
                cell.back.append(&mut stack.back);
            }
            part.row = inner;
            return halves(vec![part]);
        }
    }
    let n = part.row.cells.len();
    if n > 1 && !part.row.reverse {
        let cells = part.row.cells.split_off(n / 2);
        let other = Row {
            cells,
            end: part.row.end.take(),
            ..Row::default()
        };
        return (vec![part], vec![rest(other, Vec::new())]);
    }
    if let Some(Body::Nested(inner)) = part.row.cells.first().map(|c| c.body.clone()) {
        let (component, aside) = (part.component.clone(), part.aside.clone());
        let mut inner = *inner;
        if let (Some(outer), Some(cell)) = (part.row.cells.first(), inner.cells.first_mut()) {
            let mut flow = outer.flow.clone();
            flow.append(&mut cell.flow);
            cell.flow = flow;
            cell.back.extend(outer.back.iter().cloned());
        }
        let part = Part {
            component,
            row: inner,
            aside,
        };
        return halves(vec![part]);
    }
    (vec![part], Vec::new())
}
