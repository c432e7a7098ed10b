//! The index circuit of a house that is only known as it runs: every way round has the same loss there, so it is the
//! way to the emitter that is left with the least pressure difference between its tees.

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
