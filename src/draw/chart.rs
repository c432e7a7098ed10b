//! The network as a drawing sees it: pieces between places, each a run, a device or a block, one component after
//! the other, each with the two terminals that its ladder hangs between.

use crate::network::{ElementId, Network, Role, VesselKind};
use std::collections::BTreeMap;

/// Something between the rails that is drawn as a body of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Block {
    /// Index into `emitters`.
    Emitter(usize),
    /// Index into `sources`; those beyond a component's first.
    Source(usize),
    /// Index into `cylinders`.
    Cylinder(usize),
    /// Index into `vessels`: between top and bottom of a four-port.
    Vessel(usize),
    /// Index into `exchangers`; true on the near side.
    Exchanger(usize, bool),
    /// An overflow valve, a mixing pipe and the like.
    Device(ElementId),
}

/// One step along a way through the network.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Bit {
    /// A run; true if passed against its written direction.
    Line(usize, bool),
    /// An element in line; true if passed against its written direction.
    Dev(ElementId, bool),
    /// A block; true if passed against its written direction.
    Block(Block, bool),
    /// A place where something else joins.
    Node(usize),
    /// Several ways between the same two places.
    Par(Par),
    /// A reverse return, or any bridge.
    Strip(Strip),
}

/// Several ways between the same two places.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Par {
    /// Where they part.
    pub u: usize,
    /// Where they meet.
    pub v: usize,
    /// Each from `u` to `v`.
    pub kids: Vec<Vec<Bit>>,
}

/// Two rails that run the same way with rungs between: no nest of parallel ways.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Strip {
    /// Places of the flow rail from where the ways part.
    pub flow_at: Vec<usize>,
    /// Places of the return rail; the last is where the ways meet.
    pub return_at: Vec<usize>,
    /// Between consecutive places of the flow rail.
    pub flow: Vec<Vec<Bit>>,
    /// Between consecutive places of the return rail.
    pub back: Vec<Vec<Bit>>,
    /// Rung of each flow place; the last flow place has two: its own and the way to the very end.
    pub rungs: Vec<Vec<Bit>>,
}

/// A piece between two places.
#[derive(Clone, Debug)]
pub(crate) struct Piece {
    pub bit: Bit,
    pub a: usize,
    pub b: usize,
}

/// What a component's ladder begins and ends at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Root {
    /// Index into `sources`.
    Source(usize),
    /// Far side of an exchanger.
    Exchanger(usize),
    /// An off-sheet arrow: the rest of a part that begins on another sheet.
    Away(usize),
    /// Nothing that heats: a part by itself.
    Nothing,
}

/// A connected part of the network.
#[derive(Clone, Debug)]
pub(crate) struct Component {
    pub root: Root,
    /// Elements and devices drawn inside the root (its own pump).
    pub inside: Vec<ElementId>,
    /// Where flow leaves the root.
    pub from: usize,
    /// Where return enters it.
    pub to: usize,
    /// All other pieces.
    pub pieces: Vec<Piece>,
}

/// Runs and elements as pieces, in order: runs first, then elements of no run; without what another run tells of.
fn pieces(network: &Network, folded: &[(usize, usize)]) -> Vec<Piece> {
    let mut in_run = vec![false; network.graph.edge_count()];
    for run in &network.runs {
        for e in &run.elements {
            if let Some(flag) = in_run.get_mut(e.index()) {
                *flag = true;
            }
        }
    }
    let emitter_of: BTreeMap<usize, usize> = network
        .emitters
        .iter()
        .enumerate()
        .map(|(i, e)| (e.body.index(), i))
        .collect();
    let source_of: BTreeMap<usize, usize> = network
        .sources
        .iter()
        .enumerate()
        .map(|(i, s)| (s.body.index(), i))
        .collect();
    let mut block_of: BTreeMap<usize, Block> = BTreeMap::new();
    for (i, cylinder) in network.cylinders.iter().enumerate() {
        block_of.insert(cylinder.coil.index(), Block::Cylinder(i));
    }
    for (i, vessel) in network.vessels.iter().enumerate() {
        if !matches!(vessel.kind, VesselKind::Series { .. }) {
            block_of.insert(vessel.body.index(), Block::Vessel(i));
        }
    }
    for (i, exchanger) in network.exchangers.iter().enumerate() {
        block_of.insert(exchanger.near.index(), Block::Exchanger(i, true));
        block_of.insert(exchanger.far.index(), Block::Exchanger(i, false));
    }
    for (&e, &i) in &emitter_of {
        block_of.insert(e, Block::Emitter(i));
    }
    for (&e, &i) in &source_of {
        block_of.insert(e, Block::Source(i));
    }
    let mut all: Vec<Piece> = Vec::new();
    for (i, run) in network.runs.iter().enumerate() {
        if folded.iter().any(|(second, _)| *second == i) {
            continue;
        }
        let (a, b) = (run.from.index(), run.to.index());
        all.push(Piece {
            bit: Bit::Line(i, false),
            a,
            b,
        });
    }
    for id in network.element_ids() {
        if in_run[id.index()] {
            continue;
        }
        let (a, b) = network.ends(id);
        let bit = match (block_of.get(&id.index()), network.element(id).role) {
            (Some(&block), _) => Bit::Block(block, false),
            (None, Role::Bypass | Role::Mixing) => Bit::Block(Block::Device(id), false),
            (None, _) => Bit::Dev(id, false),
        };
        all.push(Piece {
            bit,
            a: a.index(),
            b: b.index(),
        });
    }
    all
}

/// Whether a run is a block by itself: the pipe of a floor loop.
pub(crate) fn loop_of(network: &Network, run: usize) -> Option<usize> {
    let elements = &network.runs.get(run)?.elements;
    network
        .emitters
        .iter()
        .position(|e| elements.contains(&e.body))
}

/// The connected parts, those with a source first, in file order.
pub(crate) fn components(network: &Network, folded: &[(usize, usize)]) -> Vec<Component> {
    let all = pieces(network, folded);
    let n = network.graph.node_count();
    let mut parent: Vec<usize> = (0..n).collect();
    fn find(parent: &mut [usize], mut v: usize) -> usize {
        while parent[v] != v {
            parent[v] = parent[parent[v]];
            v = parent[v];
        }
        v
    }
    for piece in &all {
        let (a, b) = (find(&mut parent, piece.a), find(&mut parent, piece.b));
        let (low, high) = (a.min(b), a.max(b));
        parent[high] = low;
    }
    let mut groups: BTreeMap<usize, Vec<Piece>> = BTreeMap::new();
    for piece in all {
        groups
            .entry(find(&mut parent, piece.a))
            .or_default()
            .push(piece);
    }
    let mut parts: Vec<Component> = groups.into_values().map(|g| rooted(network, g)).collect();
    parts.sort_by_key(|p| match p.root {
        Root::Source(i) => (0, i),
        Root::Exchanger(i) => (1, i),
        Root::Nothing | Root::Away(_) => (2, p.from),
    });
    parts
}

/// Take the root out of a group of pieces.
fn rooted(network: &Network, mut group: Vec<Piece>) -> Component {
    let source = group
        .iter()
        .filter_map(|p| match p.bit {
            Bit::Block(Block::Source(i), _) => Some(i),
            _ => None,
        })
        .min();
    if let Some(i) = source {
        let info = &network.sources[i];
        let (mut from, mut to) = (info.flow_place.index(), info.return_place.index());
        let mut inside = Vec::new();
        if let Some(at) = group
            .iter()
            .position(|p| p.bit == Bit::Block(Block::Source(i), false))
        {
            let body = group.remove(at);
            // what stands between the body and its connections belongs into the unit's casing
            from = walk_out(network, &mut group, body.b, from, to, &mut inside);
            to = walk_out(network, &mut group, body.a, to, from, &mut inside);
        }
        return Component {
            root: Root::Source(i),
            inside,
            from,
            to,
            pieces: group,
        };
    }
    let far = group.iter().position(|p| {
        matches!(p.bit, Bit::Block(Block::Exchanger(..), _)) && far_side(network, &p.bit)
    });
    if let Some(at) = far {
        let piece = group.remove(at);
        let Bit::Block(Block::Exchanger(i, _), _) = piece.bit else {
            unreachable!("just matched")
        };
        return Component {
            root: Root::Exchanger(i),
            inside: Vec::new(),
            from: piece.b,
            to: piece.a,
            pieces: group,
        };
    }
    // a part without a source: between its first place and the one farthest from it
    let from = group.first().map_or(0, |p| p.a);
    let to = farthest(&group, from);
    Component {
        root: Root::Nothing,
        inside: Vec::new(),
        from,
        to,
        pieces: group,
    }
}

fn far_side(_network: &Network, bit: &Bit) -> bool {
    matches!(bit, Bit::Block(Block::Exchanger(_, false), _))
}

fn walk_out(
    network: &Network,
    group: &mut Vec<Piece>,
    start: usize,
    goal: usize,
    other: usize,
    inside: &mut Vec<ElementId>,
) -> usize {
    let mut here = start;
    while here != goal && here != other {
        let ends: Vec<usize> = (0..group.len())
            .filter(|&i| group[i].a == here || group[i].b == here)
            .collect();
        let [only] = ends[..] else { break };
        let Bit::Dev(id, _) = group[only].bit else {
            break;
        };
        if !matches!(
            network.element(id).role,
            Role::Pump | Role::CheckValve | Role::SourceBody
        ) {
            break;
        }
        let piece = group.remove(only);
        inside.push(id);
        here = if piece.a == here { piece.b } else { piece.a };
    }
    here
}

fn farthest(group: &[Piece], from: usize) -> usize {
    let mut far: BTreeMap<usize, usize> = BTreeMap::from([(from, 0)]);
    let mut queue = std::collections::VecDeque::from([from]);
    let mut last = from;
    let mut around: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for p in group {
        around.entry(p.a).or_default().push(p.b);
        around.entry(p.b).or_default().push(p.a);
    }
    while let Some(v) = queue.pop_front() {
        last = v;
        let d = far[&v];
        for &w in around.get(&v).map_or(&[][..], |l| l) {
            if let std::collections::btree_map::Entry::Vacant(slot) = far.entry(w) {
                slot.insert(d + 1);
                queue.push_back(w);
            }
        }
    }
    last
}
