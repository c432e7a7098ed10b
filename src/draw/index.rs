//! The index circuit of a house that is only known as it runs: every way round has the same loss there, so it is the
//! way to the emitter that is left with the least pressure difference between its tees.

use super::chart::{Bit, Block};
use super::pen::{Pen, STILL_BAR};
use super::plan::{Body, Cell, Row};
use crate::network::{ElementId, Network, PlaceId, Role};
use crate::view::Running;
use petgraph::Direction;
use petgraph::visit::EdgeRef;

/// By element: whether it is on that way.
pub(crate) fn as_it_runs(network: &Network, running: Option<&Running>) -> Vec<bool> {
    let mut on = vec![false; network.graph.edge_count()];
    let Some(running) = running else {
        return on;
    };
    let state = &running.solved;
    let flow = |id: ElementId| state.flow_kg_s.get(id.index()).copied().unwrap_or(0.0);
    let most = network
        .element_ids()
        .map(|id| flow(id).abs())
        .fold(0.0, f64::max);
    let still = 1e-6 * most;
    let pressure = |p: PlaceId| state.pressure_pa.get(p.index()).copied().flatten();
    // upstream and downstream of an emitter along the strongest stream, until it comes round
    let along = |start: ElementId, ahead: bool| -> Vec<ElementId> {
        let mut way = Vec::new();
        let mut here = start;
        loop {
            let (a, b) = network.ends(here);
            let forward = flow(here) >= 0.0;
            let place = if ahead == forward { b } else { a };
            let next = [Direction::Outgoing, Direction::Incoming]
                .into_iter()
                .flat_map(|d| network.graph.edges_directed(place, d))
                .map(|e| e.id())
                .filter(|&e| {
                    let (from, _) = network.ends(e);
                    let leaves = (from == place) == (flow(e) >= 0.0);
                    e != here && flow(e).abs() > still && leaves == ahead
                })
                .max_by(|p, q| flow(*p).abs().total_cmp(&flow(*q).abs()).then(q.cmp(p)));
            match next {
                Some(e) if !way.contains(&e) && e != start => {
                    way.push(e);
                    here = e;
                    if network.element(e).role == Role::SourceBody {
                        return way;
                    }
                }
                _ => return way,
            }
        }
    };
    // the ends of the branch: as far as the same water goes
    let difference = |body: ElementId| -> Option<f64> {
        let same = |id: &ElementId| (flow(*id).abs() - flow(body).abs()).abs() <= still.max(1e-9);
        let (a, b) = network.ends(body);
        let forward = flow(body) >= 0.0;
        let (mut from, mut to) = if forward { (a, b) } else { (b, a) };
        for (ahead, place) in [(false, &mut from), (true, &mut to)] {
            for id in along(body, ahead).into_iter().take_while(same) {
                let (p, q) = network.ends(id);
                *place = if *place == p { q } else { p };
            }
        }
        Some(pressure(from)? - pressure(to)?)
    };
    let index = network
        .emitters
        .iter()
        .filter(|e| flow(e.body).abs() > still)
        .filter_map(|e| Some((difference(e.body)?, e.body)))
        .min_by(|p, q| p.0.total_cmp(&q.0).then(p.1.cmp(&q.1)));
    if let Some((_, body)) = index {
        on[body.index()] = true;
        for id in along(body, false).into_iter().chain(along(body, true)) {
            on[id.index()] = true;
        }
    }
    on
}

/// Elements of a way.
fn of_bits(network: &Network, bits: &[Bit], out: &mut Vec<ElementId>) {
    for bit in bits {
        match bit {
            Bit::Line(run, _) => {
                out.extend(network.runs.get(*run).iter().flat_map(|r| &r.elements));
            }
            Bit::Dev(id, _) => out.push(*id),
            Bit::Block(block, _) => out.extend(match block {
                Block::Emitter(i) => network.emitters.get(*i).map(|e| e.body),
                Block::Source(i) => network.sources.get(*i).map(|s| s.body),
                Block::Cylinder(i) => network.cylinders.get(*i).map(|c| c.coil),
                Block::Vessel(i) => network.vessels.get(*i).map(|v| v.body),
                Block::Exchanger(i, true) => network.exchangers.get(*i).map(|x| x.near),
                Block::Exchanger(i, false) => network.exchangers.get(*i).map(|x| x.far),
                Block::Device(id) => Some(*id),
            }),
            Bit::Node(_) => {}
            Bit::Par(p) => p.kids.iter().for_each(|k| of_bits(network, k, out)),
            Bit::Strip(s) => {
                for way in s.rungs.iter().chain(&s.flow).chain(&s.back) {
                    of_bits(network, way, out);
                }
            }
        }
    }
}

fn of_cell(network: &Network, cell: &Cell, out: &mut Vec<ElementId>) {
    of_bits(network, &cell.flow, out);
    of_bits(network, &cell.back, out);
    match &cell.body {
        Body::Rung(bits) | Body::Loop(bits) => of_bits(network, bits, out),
        Body::Nested(row) | Body::Away(_, row) => of_row(network, row, out),
        Body::Table(_) => {}
    }
}

fn of_row(network: &Network, row: &Row, out: &mut Vec<ElementId>) {
    for cell in &row.cells {
        of_cell(network, cell, out);
    }
    of_bits(network, &row.home, out);
    if let Some(stack) = &row.end {
        of_bits(network, &stack.flow, out);
        of_bits(network, &stack.back, out);
        for level in &stack.rows {
            of_row(network, level, out);
        }
    }
}

impl Pen<'_> {
    /// Width of the bar behind which these cells and rows hang, `width` unless no water moves there, and whether an
    /// index circuit comes along it: some of it lies there, and some does not. A circuit with a pump of its own may lie
    /// there whole.
    pub(crate) fn bar(&self, cells: &[Cell], rows: &[Row], width: f64) -> (f64, bool) {
        let figures = self.figures;
        if !figures.solved {
            return (width, false);
        }
        let mut here = Vec::new();
        for cell in cells {
            of_cell(figures.network, cell, &mut here);
        }
        for row in rows {
            of_row(figures.network, row, &mut here);
        }
        let still = self.still(&here);
        let mut behind = vec![false; figures.network.graph.edge_count()];
        for id in here {
            behind[id.index()] = true;
        }
        let index = figures.circuits.iter().any(|circuit| {
            let n = circuit.iter().filter(|id| behind[id.index()]).count();
            n > 0 && n < circuit.len()
        });
        (if still { STILL_BAR } else { width }, index)
    }

    /// Width of a bar on a way between the rails: `width` unless no water moves along it.
    pub(crate) fn bar_along(&self, bits: &[Bit], width: f64) -> f64 {
        let mut here = Vec::new();
        of_bits(self.figures.network, bits, &mut here);
        if self.still(&here) { STILL_BAR } else { width }
    }

    /// Whether no water moves in any of some elements, in a state that is known.
    fn still(&self, elements: &[ElementId]) -> bool {
        let dead = |id: &ElementId| self.figures.dead.get(id.index()) == Some(&true);
        self.figures.solved && !elements.is_empty() && elements.iter().all(dead)
    }
}
