//! Where a drawing may be cut so that the rest goes on on another sheet, behind off-sheet arrows.

use super::chart::{Bit, Block, Component, Root};
use super::layout::Part;
use super::plan::{Body, Cell, Row, Stack};
use super::reduce::Aside;
use std::collections::BTreeSet;

/// A way down into a row: the body of a cell, or a row of the risers at its end.
#[derive(Clone, Copy, Debug)]
enum Step {
    Cell(usize),
    Level(usize),
}

/// What goes to the other sheet.
#[derive(Clone, Copy, Debug)]
enum What {
    /// The whole row.
    All,
    /// Its cells from here on, and what is at its end.
    Cells(usize),
    /// The rows of its risers from here on.
    Levels(usize),
}

/// Fewer emitters than this are hardly worth a sheet.
const FEW: usize = 3;

struct Cut {
    path: Vec<Step>,
    what: What,
    weight: usize,
    /// Cut through a row rather than between rows.
    through: bool,
}

fn blocks(bits: &[Bit]) -> usize {
    let one = |b: &Bit| match b {
        Bit::Block(Block::Emitter(_), _) => 1,
        Bit::Par(p) => p.kids.iter().map(|k| blocks(k)).sum(),
        Bit::Strip(s) => s.rungs.iter().map(|k| blocks(k)).sum(),
        _ => 0,
    };
    bits.iter().map(one).sum()
}

fn weight_of_cell(cell: &Cell) -> usize {
    match &cell.body {
        Body::Rung(bits) | Body::Loop(bits) => blocks(bits).max(1),
        Body::Nested(row) => weight(row),
        Body::Table(_) => 0,
        // an arrow is nothing that a cut could take off a sheet
        Body::Away(..) => 0,
    }
}

/// Emitters of a row, more or less: how much of a sheet it takes.
pub(crate) fn weight(row: &Row) -> usize {
    let cells: usize = row.cells.iter().map(weight_of_cell).sum();
    let end = row.end.as_ref().map_or(&[][..], |s| &s.rows);
    cells + end.iter().map(weight).sum::<usize>()
}

fn collect(row: &Row, path: &mut Vec<Step>, out: &mut Vec<Cut>) {
    let mut push = |path: &[Step], what, weight, through| {
        out.push(Cut {
            path: path.to_vec(),
            what,
            weight,
            through,
        });
    };
    if !path.is_empty() {
        push(path, What::All, weight(row), false);
    }
    let end = row.end.as_ref().map_or(&[][..], |s| &s.rows);
    let end_weight: usize = end.iter().map(weight).sum();
    if !row.reverse {
        let mut rest = end_weight;
        for k in (1..row.cells.len()).rev() {
            rest += weight_of_cell(&row.cells[k]);
            let comb = row.cells[k].number.is_some() || matches!(row.cells[k].body, Body::Table(_));
            if !comb {
                push(path, What::Cells(k), rest, true);
            }
        }
    }
    let mut rest = end_weight;
    for (k, level) in end.iter().enumerate() {
        if k > 0 {
            push(path, What::Levels(k), rest, false);
        }
        rest -= weight(level);
    }
    for (i, cell) in row.cells.iter().enumerate() {
        if let Body::Nested(inner) = &cell.body {
            path.push(Step::Cell(i));
            collect(inner, path, out);
            path.pop();
        }
    }
    for (k, level) in end.iter().enumerate() {
        path.push(Step::Level(k));
        collect(level, path, out);
        path.pop();
    }
}

fn at<'a>(row: &'a mut Row, path: &[Step]) -> Option<&'a mut Row> {
    let Some((first, rest)) = path.split_first() else {
        return Some(row);
    };
    let next = match first {
        Step::Cell(i) => match &mut row.cells.get_mut(*i)?.body {
            Body::Nested(inner) => inner.as_mut(),
            _ => return None,
        },
        Step::Level(k) => row.end.as_mut()?.rows.get_mut(*k)?,
    };
    at(next, rest)
}

/// What stands in the place of what went to another sheet.
fn stub(id: usize, moved: &Row) -> Cell {
    Cell {
        flow: Vec::new(),
        back: Vec::new(),
        body: Body::Away(id, Box::new(moved.clone())),
        bar: false,
        at: (usize::MAX, usize::MAX),
        tee: (false, false),
        number: None,
    }
}

/// Places that are drawn in a row.
fn places(row: &Row) -> BTreeSet<usize> {
    fn of(bits: &[Bit], out: &mut BTreeSet<usize>) {
        for bit in bits {
            match bit {
                Bit::Node(p) => {
                    out.insert(*p);
                }
                Bit::Par(p) => {
                    out.extend([p.u, p.v]);
                    p.kids.iter().for_each(|k| of(k, out));
                }
                Bit::Strip(s) => {
                    out.extend(s.flow_at.iter().chain(&s.return_at));
                    let ways = s.rungs.iter().chain(&s.flow).chain(&s.back);
                    ways.for_each(|k| of(k, out));
                }
                _ => {}
            }
        }
    }
    let mut out = BTreeSet::new();
    for cell in &row.cells {
        out.extend([cell.at.0, cell.at.1]);
        of(&cell.flow, &mut out);
        of(&cell.back, &mut out);
        match &cell.body {
            Body::Rung(bits) | Body::Loop(bits) => of(bits, &mut out),
            Body::Nested(inner) => out.append(&mut places(inner)),
            Body::Table(_) | Body::Away(..) => {}
        }
    }
    if let Some(stack) = &row.end {
        out.extend([stack.at.0, stack.at.1]);
        of(&stack.flow, &mut out);
        of(&stack.back, &mut out);
        stack.rows.iter().for_each(|r| out.append(&mut places(r)));
    }
    out
}

/// Exchangers whose near side stands in a row.
fn exchangers(row: &Row, out: &mut Vec<usize>) {
    fn of(bits: &[Bit], out: &mut Vec<usize>) {
        for bit in bits {
            match bit {
                Bit::Block(Block::Exchanger(x, true), _) => out.push(*x),
                Bit::Par(p) => p.kids.iter().for_each(|k| of(k, out)),
                Bit::Strip(s) => s.rungs.iter().for_each(|k| of(k, out)),
                _ => {}
            }
        }
    }
    for cell in &row.cells {
        match &cell.body {
            Body::Rung(bits) | Body::Loop(bits) => of(bits, out),
            Body::Nested(inner) => exchangers(inner, out),
            Body::Table(_) | Body::Away(..) => {}
        }
    }
    for level in row.end.iter().flat_map(|s| &s.rows) {
        exchangers(level, out);
    }
}

/// Whether a part is what lies behind an exchanger that stands in one of these.
fn behind(part: &Part, group: &[Part]) -> bool {
    let Root::Exchanger(x) = part.component.root else {
        return false;
    };
    let mut all = Vec::new();
    group.iter().for_each(|p| exchangers(&p.row, &mut all));
    all.contains(&x)
}

/// Parts in groups that share a sheet: what lies behind an exchanger is drawn at it.
pub(crate) fn together(parts: Vec<Part>) -> Vec<Vec<Part>> {
    let mut groups: Vec<Vec<Part>> = Vec::new();
    for part in parts {
        match groups.iter_mut().find(|g| behind(&part, g)) {
            Some(group) => group.push(part),
            None => groups.push(vec![part]),
        }
    }
    groups
}

/// What goes to the next sheet with a row that was cut off: everything behind its exchangers.
pub(crate) fn follow(parts: Vec<Part>, rest: Part) -> (Vec<Part>, Vec<Part>) {
    let (mut stay, mut go) = (Vec::new(), vec![rest]);
    for part in parts {
        if behind(&part, &go) {
            go.push(part);
        } else {
            stay.push(part);
        }
    }
    (stay, go)
}

/// Cut about `share` of a part off it; `id` names the arrows. Gives back the part whole if nothing can be cut.
pub(crate) fn cut(mut part: Part, share: f64, id: usize) -> (Part, Option<Part>) {
    let total = weight(&part.row);
    let mut all = Vec::new();
    collect(&part.row, &mut Vec::new(), &mut all);
    let best = all
        .into_iter()
        .filter(|c| c.weight > 0 && c.weight < total)
        .min_by_key(|c| {
            // between rows rather than through one, even if the halves are less alike; no sheet for one or two alone
            let aim = (2.0 * share * total as f64).round() as usize;
            let off = (2 * c.weight).abs_diff(aim) * 4;
            let few = FEW.saturating_sub(c.weight.min(total - c.weight));
            off + if c.through { total } else { 0 } + 8 * total * few
        });
    let Some(best) = best else {
        return (part, None);
    };
    let Some(row) = at(&mut part.row, &best.path) else {
        return (part, None);
    };
    let moved = match best.what {
        What::All => {
            let moved = std::mem::take(row);
            row.cells.push(stub(id, &moved));
            moved
        }
        What::Cells(k) => {
            let moved = Row {
                cells: row.cells.split_off(k),
                end: row.end.take(),
                ..Row::default()
            };
            row.cells.push(stub(id, &moved));
            moved
        }
        What::Levels(k) => {
            let Some(stack) = row.end.as_mut() else {
                return (part, None);
            };
            let mut rows = stack.rows.split_off(k);
            let moved = match rows.pop() {
                Some(only) if rows.is_empty() => only,
                Some(last) => {
                    rows.push(last);
                    Row {
                        end: Some(Box::new(Stack {
                            flow: Vec::new(),
                            back: Vec::new(),
                            at: (usize::MAX, usize::MAX),
                            rows,
                        })),
                        ..Row::default()
                    }
                }
                None => return (part, None),
            };
            stack.rows.push(Row {
                cells: vec![stub(id, &moved)],
                ..Row::default()
            });
            moved
        }
    };
    // ways set aside go where both their ends are, else where there is less
    let (here, there) = (places(&part.row), places(&moved));
    let lighter = 2 * weight(&moved) < total;
    let goes = |way: &Aside| {
        let ends = [Some(way.from), way.to];
        let on = |set: &BTreeSet<usize>| ends.iter().flatten().any(|p| set.contains(p));
        on(&there) && (lighter || !on(&here))
    };
    let (aside, stays) = std::mem::take(&mut part.aside).into_iter().partition(goes);
    part.aside = stays;
    let rest = Part {
        component: Component {
            root: Root::Away(id),
            inside: Vec::new(),
            from: usize::MAX,
            to: usize::MAX,
            pieces: Vec::new(),
        },
        row: moved,
        aside,
    };
    (part, Some(rest))
}
