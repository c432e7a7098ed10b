//! Where a drawing may be cut so that the rest goes on on another sheet, behind off-sheet arrows.

use super::chart::{Bit, Block, Component, Root};
use super::layout::Part;
use super::plan::{Body, Cell, Row, Stack};

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
        Body::Away(..) => 1,
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

/// Cut a part in two of about the same size; `id` names the arrows. Gives back the part whole if nothing can be cut.
pub(crate) fn cut(mut part: Part, id: usize) -> (Part, Option<Part>) {
    let total = weight(&part.row);
    let mut all = Vec::new();
    collect(&part.row, &mut Vec::new(), &mut all);
    let best = all
        .into_iter()
        .filter(|c| c.weight > 0 && c.weight < total)
        .min_by_key(|c| {
            // between rows rather than through one, even if the halves are less alike
            let off = (2 * c.weight).abs_diff(total) * 4;
            off + if c.through { total } else { 0 }
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
    let rest = Part {
        component: Component {
            root: Root::Away(id),
            inside: Vec::new(),
            from: usize::MAX,
            to: usize::MAX,
            pieces: Vec::new(),
        },
        row: moved,
        aside: Vec::new(),
    };
    (part, Some(rest))
}
