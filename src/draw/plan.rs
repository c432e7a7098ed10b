//! From one way between the terminals to rows and risers: which tee goes where, before any coordinate exists.

use super::chart::{Bit, Block, Par, Strip};
use super::plan_series::{as_written, ends_off, is_station, unfolded};
use super::reduce::{Aside, heavy};

/// What hangs between the rails at one tee.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Body {
    /// One way with at most one block, drawn upright.
    Rung(Vec<Bit>),
    /// A row of its own between the rails.
    Nested(Box<Row>),
    /// Bodies in series along one pipe that goes out on top and comes home at the foot.
    Loop(Vec<Bit>),
    /// The table of the numbered loops beside it.
    Table(Vec<usize>),
    /// Goes on on another sheet: the number of its arrows, and what is drawn there.
    Away(usize, Box<Row>),
}

/// One tee of a row with what leads to it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Cell {
    /// On the flow rail, from the tee before.
    pub flow: Vec<Bit>,
    /// On the return rail: back to the tee before, or on to the next in a reverse return.
    pub back: Vec<Bit>,
    /// Between the rails.
    pub body: Body,
    /// Its tees stand at the same places as those of the cell before: a bar joins them.
    pub bar: bool,
    /// Its tees.
    pub at: (usize, usize),
    /// Something else joins at its tees.
    pub tee: (bool, bool),
    /// Drawn narrow, with this number.
    pub number: Option<usize>,
}

/// A row: two rails and what hangs between, and perhaps risers at its far end.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Row {
    /// From the rails' beginning.
    pub cells: Vec<Cell>,
    /// The return rail runs the same way as the flow rail.
    pub reverse: bool,
    /// In a reverse return: home from the last tee.
    pub home: Vec<Bit>,
    /// Risers at its end.
    pub end: Option<Box<Stack>>,
}

/// Rows above one another on a pair of risers.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Stack {
    /// To the foot of the flow riser.
    pub flow: Vec<Bit>,
    /// From the foot of the return riser.
    pub back: Vec<Bit>,
    /// Their places.
    pub at: (usize, usize),
    /// Lowest first.
    pub rows: Vec<Row>,
}

/// Facts that planning asks for.
pub(crate) trait Facts {
    /// The storey that all emitters of the way share.
    fn storey(&self, bits: &[Bit]) -> Option<i64>;
    /// Place from left to right that the file asks for.
    fn order(&self, bits: &[Bit]) -> f64;
    /// Whether a run is the pipe of a floor loop.
    fn is_body(&self, run: usize) -> bool;
    /// Whether a block belongs to the plant: cylinder, vessel, source, bypass.
    fn is_plant(&self, bits: &[Bit]) -> bool;
}

fn count_lines(bits: &[Bit]) -> usize {
    bits.iter().filter(|b| matches!(b, Bit::Line(..))).count()
}

/// Most emitters at a place that stand at the head of another row rather than in one of their own.
const FEW: usize = 2;

/// What a way is, seen from its ends.
enum Kind {
    /// Drawn upright.
    Rung,
    /// A ladder: one set of parallel ways, more than one of them with a body.
    Ladder(usize),
    /// A strip.
    Strip(usize),
    /// Several bodies in series.
    Series,
}

fn kind(bits: &[Bit]) -> Kind {
    let parts: Vec<usize> = (0..bits.len()).filter(|&i| heavy(&bits[i..=i])).collect();
    match parts[..] {
        [] => Kind::Rung,
        [i] => match &bits[i] {
            Bit::Strip(_) => Kind::Strip(i),
            Bit::Par(p) if p.kids.iter().filter(|k| heavy(k)).count() > 1 => Kind::Ladder(i),
            Bit::Par(_) => Kind::Series,
            _ => Kind::Rung,
        },
        _ => Kind::Series,
    }
}

/// Plan a way as a row.
pub(crate) fn plan(way: Vec<Bit>, facts: &dyn Facts, aside: &mut Vec<Aside>) -> Row {
    let mut row = Row::default();
    extend(&mut row, way, facts, aside);
    row
}

fn rung(bits: Vec<Bit>) -> Cell {
    Cell {
        flow: Vec::new(),
        back: Vec::new(),
        body: Body::Rung(bits),
        bar: false,
        at: (usize::MAX, usize::MAX),
        tee: (false, false),
        number: None,
    }
}

/// Move the outer pipes of a last rung onto the rails, as long as both sides keep one for the drop.
fn last_rung(bits: Vec<Bit>, facts: &dyn Facts) -> Cell {
    let block = bits.iter().position(|b| matches!(b, Bit::Block(..)));
    let Some(block) = block else {
        return rung(bits);
    };
    let body = |b: &Bit| matches!(b, Bit::Line(r, _) if facts.is_body(*r));
    let (mut first, mut last) = (block, block + 1);
    while first > 0 && body(&bits[first - 1]) {
        first -= 1;
    }
    while last < bits.len() && body(&bits[last]) {
        last += 1;
    }
    let has_body = bits[first..last].iter().any(body);
    let keep = usize::from(!has_body);
    let (before, after) = (count_lines(&bits[..first]), count_lines(&bits[last..]));
    // the drop begins after the last pipe but one before the body, and ends at the second pipe after it
    let (mut flow, mut rest) = (Vec::new(), bits);
    let mut back = Vec::new();
    if before > keep {
        let mut seen = 0;
        let cut = rest
            .iter()
            .position(|b| {
                if matches!(b, Bit::Line(..)) {
                    seen += 1;
                }
                seen > before - keep
            })
            .unwrap_or(first)
            .min(first);
        flow = rest.drain(..cut).collect();
    }
    if after > keep {
        let mut seen = 0;
        let n = rest.len();
        let cut = (0..n)
            .rev()
            .find(|&i| {
                if matches!(rest[i], Bit::Line(..)) {
                    seen += 1;
                }
                seen > after - keep
            })
            .map_or(n, |i| i + 1);
        back = rest.drain(cut..).collect();
    }
    Cell {
        flow,
        back,
        ..rung(rest)
    }
}

fn extend(row: &mut Row, mut way: Vec<Bit>, facts: &dyn Facts, aside: &mut Vec<Aside>) {
    loop {
        match kind(&way) {
            Kind::Rung => {
                row.cells.push(last_rung(way, facts));
                return;
            }
            Kind::Series => {
                if let Some(i) = (0..way.len()).find(|&i| !is_station(&way[i])) {
                    way = unfolded(way, i, aside);
                    continue;
                }
                let (flow, middle, back) = ends_off(way);
                row.cells.push(Cell {
                    flow,
                    back,
                    ..loop_cell(middle)
                });
                return;
            }
            Kind::Strip(i) => {
                let back: Vec<Bit> = way.drain(i + 1..).collect();
                let strip = way.pop();
                let Some(Bit::Strip(strip)) = strip else {
                    return;
                };
                if row.cells.is_empty() {
                    strip_row(row, way, strip, back, facts, aside);
                    return;
                }
                // behind other tees it is a row of its own: only its own return runs the other way
                let at = (
                    strip.flow_at.first().copied().unwrap_or(usize::MAX),
                    strip.return_at.last().copied().unwrap_or(usize::MAX),
                );
                let mut own = Row::default();
                strip_row(&mut own, Vec::new(), strip, Vec::new(), facts, aside);
                row.end = Some(Box::new(Stack {
                    flow: way,
                    back,
                    at,
                    rows: vec![own],
                }));
                return;
            }
            Kind::Ladder(i) => {
                let back: Vec<Bit> = way.drain(i + 1..).collect();
                let Some(Bit::Par(par)) = way.pop() else {
                    return;
                };
                match tee(row, way, par, back, facts, aside) {
                    Some(next) => way = next,
                    None => return,
                }
            }
        }
    }
}

fn loop_cell(middle: Vec<Bit>) -> Cell {
    Cell {
        body: Body::Loop(middle),
        ..rung(Vec::new())
    }
}

/// One tee with all that hangs on it; returns the way that goes on, if any.
fn tee(
    row: &mut Row,
    flow: Vec<Bit>,
    par: Par,
    back: Vec<Bit>,
    facts: &dyn Facts,
    aside: &mut Vec<Aside>,
) -> Option<Vec<Bit>> {
    let at = (par.u, par.v);
    let (mut small, mut ladders) = (Vec::new(), Vec::new());
    for kid in par.kids {
        match kind(&kid) {
            Kind::Rung if !heavy(&kid) => aside.push(Aside {
                from: par.u,
                to: Some(par.v),
                bits: kid,
            }),
            Kind::Rung | Kind::Series => small.push(kid),
            _ => ladders.push(kid),
        }
    }
    small.sort_by(|a, b| {
        let plant = facts.is_plant(b).cmp(&facts.is_plant(a));
        let asked = || facts.order(a).total_cmp(&facts.order(b));
        plant
            .then_with(asked)
            .then_with(|| as_written(a).cmp(&as_written(b)))
    });
    let plant = small.iter().filter(|k| facts.is_plant(k)).count();
    let mut rows: Vec<((bool, Option<i64>), Row)> = Vec::new();
    let stacked = ladders.len() >= 2;
    let beside: Vec<Vec<Bit>> = if stacked {
        small.split_off(plant)
    } else {
        Vec::new()
    };
    let loops = small
        .iter()
        .filter(|k| {
            k.iter()
                .any(|b| matches!(b, Bit::Line(r, _) if facts.is_body(*r)))
        })
        .count();
    let comb = loops == small.len() && loops > 5;
    // without a ladder to go on with, the index comes last: its rung ends the rails
    let n = small.len();
    let ends = ladders.is_empty();
    let (mut flow, mut back) = (flow, back);
    let mut numbers = Vec::new();
    for (i, kid) in small.into_iter().enumerate() {
        let last = ends && i + 1 == n;
        let mut cell = match kind(&kid) {
            Kind::Series => Cell {
                body: Body::Nested(Box::new(plan(kid, facts, aside))),
                ..rung(Vec::new())
            },
            _ if last && !comb => last_rung(kid, facts),
            _ => rung(kid),
        };
        if i > 0 && (!cell.flow.is_empty() || !cell.back.is_empty()) {
            // rails that begin at the tee before: one pipe each
            cell.bar = false;
        } else {
            cell.bar = i > 0;
        }
        if comb {
            cell.number = Some(i + 1);
            if let Body::Rung(bits) = &cell.body {
                numbers.extend(bits.iter().find_map(|b| match b {
                    Bit::Block(Block::Emitter(e), _) => Some(*e),
                    _ => None,
                }));
            }
        }
        if i == 0 {
            let (own_flow, own_back) = (cell.flow, cell.back);
            cell.flow = std::mem::take(&mut flow);
            cell.back = std::mem::take(&mut back);
            // a lone way keeps its pipes in the drop
            if let Body::Rung(bits) = &mut cell.body {
                let mut whole = own_flow;
                whole.append(bits);
                whole.extend(own_back);
                *bits = whole;
            }
        }
        cell.at = at;
        cell.tee = (!last, !last);
        row.cells.push(cell);
    }
    if comb {
        row.cells.push(Cell {
            body: Body::Table(numbers),
            bar: true,
            at,
            ..rung(Vec::new())
        });
    }
    if ends {
        return None;
    }
    if !stacked {
        let next = ladders.pop()?;
        // what leads to the first tee of the way that goes on stands before it
        if n > 0 {
            return Some(next);
        }
        let mut whole = flow;
        whole.push(Bit::Node(par.u));
        whole.extend(next);
        whole.push(Bit::Node(par.v));
        whole.extend(back);
        return Some(whole);
    }
    if !beside.is_empty() {
        let mut kids = beside;
        // few of the storey of a ladder stand at the head of its row
        let storey = kids.iter().map(|k| facts.storey(k));
        let storey = storey.reduce(|a, b| a.filter(|_| a == b)).flatten();
        let theirs = ladders
            .iter()
            .position(|l| storey.is_some() && facts.storey(l) == storey && !risers_only(l));
        if kids.len() <= FEW
            && let Some(i) = theirs
        {
            kids.push(ladders.remove(i));
        }
        let mut own = Row::default();
        let (u, v) = (par.u, par.v);
        let own_par = Par { u, v, kids };
        if let Some(next) = tee(&mut own, Vec::new(), own_par, Vec::new(), facts, aside) {
            extend(&mut own, next, facts, aside);
        }
        rows.push(((false, storey), own));
    }
    // lowest storey lowest; the way that goes on up the riser last
    for kid in ladders {
        let place = (risers_only(&kid), facts.storey(&kid));
        rows.push((place, plan(kid, facts, aside)));
    }
    rows.sort_by_key(|(place, _)| *place);
    let rows = rows.into_iter().map(|(_, row)| row).collect();
    row.end = Some(Box::new(Stack {
        flow,
        back,
        at,
        rows,
    }));
    None
}

/// Whether a ladder's first tee carries ladders only, so that it belongs on the riser.
fn risers_only(kid: &[Bit]) -> bool {
    match kind(kid) {
        Kind::Ladder(i) => match &kid[i] {
            Bit::Par(p) => p
                .kids
                .iter()
                .all(|k| matches!(kind(k), Kind::Ladder(_) | Kind::Strip(_))),
            _ => false,
        },
        _ => false,
    }
}

/// A reverse return.
fn strip_row(
    row: &mut Row,
    flow: Vec<Bit>,
    strip: Strip,
    home: Vec<Bit>,
    facts: &dyn Facts,
    aside: &mut Vec<Aside>,
) {
    row.reverse = true;
    row.home = home;
    let n = strip.rungs.len();
    let mut leads = vec![flow];
    leads.extend(strip.flow);
    leads.push(Vec::new());
    let mut backs: Vec<Vec<Bit>> = vec![Vec::new()];
    backs.extend(strip.back);
    for (i, bits) in strip.rungs.into_iter().enumerate() {
        let split = |bits| last_rung(bits, facts);
        let mut cell = match kind(&bits) {
            Kind::Rung if i == 0 || i + 1 == n => split(bits),
            Kind::Rung => rung(bits),
            _ => Cell {
                body: Body::Nested(Box::new(plan(bits, facts, aside))),
                ..rung(Vec::new())
            },
        };
        // the first rung's outer pipe begins the return rail, the last one's ends the flow rail
        if i == 0 {
            if let Body::Rung(bits) = &mut cell.body {
                let mut whole = std::mem::take(&mut cell.flow);
                whole.append(bits);
                *bits = whole;
            }
            cell.flow = leads.first().cloned().unwrap_or_default();
        } else if i + 1 == n {
            if let Body::Rung(bits) = &mut cell.body {
                bits.append(&mut cell.back);
            }
        } else {
            cell.flow = leads.get(i).cloned().unwrap_or_default();
        }
        if i > 0 && i < n - 1 {
            cell.back = backs.get(i).cloned().unwrap_or_default();
        }
        let flow_at = strip.flow_at.get(i).copied();
        let return_at = if i == 0 {
            None
        } else {
            strip.return_at.get(i - 1).copied()
        };
        cell.at = (
            flow_at.unwrap_or(usize::MAX),
            return_at.unwrap_or(usize::MAX),
        );
        cell.tee = (flow_at.is_some(), return_at.is_some());
        row.cells.push(cell);
    }
}
