//! Storeys and zones as rows: their order, and their names beside the rows.

use super::chart::{Bit, Block};
use super::pen::{GAP, Pen};
use super::plan::{Body, Cell, Row};
use super::rail::{Band, Reach};
use super::scene::{About, Line};
use super::words::{Text, tidy};
use crate::network::{ElementId, Emitter, Network};
use petgraph::visit::EdgeRef;
use std::collections::BTreeSet;

/// Where emitters are, by emitter.
pub(crate) struct Storeys {
    /// What the row of an emitter is called: its storey, else its zone.
    pub names: Vec<Option<String>>,
    /// Height of what its row is called.
    pub ranks: Vec<Option<i64>>,
    /// The same, only where it is a storey.
    pub heights: Vec<Option<i64>>,
}

impl Storeys {
    pub(crate) fn of(network: &Network) -> Self {
        let zones = zones(network);
        let n = network.emitters.len();
        let storeys: Vec<Option<&str>> = (0..n).map(|i| network.storey(i)).collect();
        let names: Vec<Option<String>> = zones
            .into_iter()
            .enumerate()
            .map(|(i, zone)| {
                let zone = || {
                    let zone = network.emitters[i].zone.or(zone)?;
                    Some(network.zones.get(zone)?.name.as_str())
                };
                storeys[i].or_else(zone).map(str::to_owned)
            })
            .collect();
        let mut order: Vec<String> = Vec::new();
        for name in names.iter().flatten() {
            if !order.contains(name) {
                order.push(name.clone());
            }
        }
        let rank = |name: &Option<String>| storey_rank(name.as_deref()?, &order);
        let ranks: Vec<Option<i64>> = names.iter().map(rank).collect();
        let heights = ranks.iter().zip(storeys);
        let heights = heights.map(|(r, s)| r.filter(|_| s.is_some())).collect();
        Self {
            names,
            ranks,
            heights,
        }
    }

    fn name(&self, emitter: usize) -> Option<&str> {
        self.names.get(emitter)?.as_deref()
    }

    /// Height of the storey of a way: of several the lowest.
    pub(crate) fn rank(&self, bits: &[Bit]) -> Option<i64> {
        emitters(bits)
            .into_iter()
            .filter_map(|i| *self.ranks.get(i)?)
            .min()
    }

    /// The name that all emitters of some cells share, if they do.
    fn shared<'c>(&self, cells: impl Iterator<Item = &'c Cell>) -> Option<&str> {
        let mut found: Option<&str> = None;
        for i in cells.flat_map(emitters_of_cell) {
            let name = self.name(i)?;
            if found.is_some_and(|f| f != name) {
                return None;
            }
            found = Some(name);
        }
        found
    }

    /// The name of a row.
    pub(crate) fn of_row(&self, row: &Row) -> Option<&str> {
        self.shared(row.cells.iter())
    }

    /// The lines of a row, by cell: a storey begins a line of its own, and none has more than `fold` cells; and whether
    /// each further line stands lower. What `sticks` stays with the cell before it.
    pub(crate) fn lines(
        &self,
        row: &Row,
        fold: usize,
        sticks: fn(&Cell) -> bool,
    ) -> (Vec<usize>, bool) {
        let n = row.cells.len();
        if row.end.is_some() {
            return (vec![0; n], false);
        }
        // storeys of the cells that have one; what has none goes with what stands before it
        let mut storeys: Vec<Option<i64>> = Vec::new();
        for cell in &row.cells {
            let here = emitters_of_cell(cell)
                .into_iter()
                .find_map(|i| *self.heights.get(i)?);
            storeys.push(here.or(storeys.last().copied().flatten()));
        }
        let mut blocks: Vec<i64> = storeys.iter().flatten().copied().collect();
        blocks.dedup();
        let distinct = blocks.iter().collect::<BTreeSet<_>>().len();
        // up and down again is no row for each storey
        let rises = blocks.is_sorted();
        let falls = blocks.iter().rev().is_sorted();
        let apart = !row.reverse && distinct > 1 && (rises || falls);
        let mut lines = vec![0; n];
        let (mut line, mut begin) = (0, 0);
        while begin < n {
            let mut end = begin + 1;
            while end < n
                && (!apart
                    || sticks(&row.cells[end])
                    || storeys[end] == storeys[end - 1]
                    || storeys[end - 1].is_none())
            {
                end += 1;
            }
            let counted = (begin..end).filter(|&i| !sticks(&row.cells[i])).count();
            let parts = match fold {
                0 => 1,
                _ => counted.div_ceil(fold).max(1),
            };
            let each = counted.div_ceil(parts).max(1);
            let mut seen = 0;
            for i in begin..end {
                if !sticks(&row.cells[i]) {
                    seen += 1;
                }
                lines[i] = line + usize::max(seen, 1).saturating_sub(1) / each;
            }
            line = lines[end - 1] + 1;
            begin = end;
        }
        (lines, row.reverse || (apart && falls))
    }
}

fn emitters(bits: &[Bit]) -> Vec<usize> {
    fn of(bits: &[Bit], out: &mut Vec<usize>) {
        for bit in bits {
            match bit {
                Bit::Block(Block::Emitter(i), _) => out.push(*i),
                Bit::Par(p) => p.kids.iter().for_each(|k| of(k, out)),
                Bit::Strip(s) => s.rungs.iter().for_each(|k| of(k, out)),
                _ => {}
            }
        }
    }
    let mut out = Vec::new();
    of(bits, &mut out);
    out
}

/// Those right on a row.
fn emitters_of_cell(cell: &Cell) -> Vec<usize> {
    match &cell.body {
        Body::Rung(bits) | Body::Loop(bits) => emitters(bits),
        _ => Vec::new(),
    }
}

/// By emitter the zone in whose pair its water comes: the one that would cut off fewest others.
fn zones(network: &Network) -> Vec<Option<usize>> {
    let n = network.emitters.len();
    let mut found: Vec<Option<(usize, usize)>> = vec![None; n];
    if network.zones.is_empty() {
        return vec![None; n];
    }
    let all = reached(network, &[]);
    for (z, zone) in network.zones.iter().enumerate() {
        let pump = zone
            .pump
            .and_then(|p| network.pumps.get(p))
            .map(|p| p.element);
        let own: Vec<ElementId> = zone.valves.iter().copied().chain(pump).collect();
        let left = reached(network, &own);
        let cut: Vec<usize> = (0..n).filter(|&i| all[i] && !left[i]).collect();
        for &i in &cut {
            if found[i].is_none_or(|(size, _)| cut.len() < size) {
                found[i] = Some((cut.len(), z));
            }
        }
    }
    found.into_iter().map(|f| f.map(|(_, z)| z)).collect()
}

/// Emitters that water from a source reaches, if it passes none of some elements.
fn reached(network: &Network, without: &[ElementId]) -> Vec<bool> {
    let graph = &network.graph;
    let mut seen = vec![false; graph.node_count()];
    let far = network.exchangers.iter().map(|x| x.far);
    let begin = network.sources.iter().map(|s| s.body).chain(far);
    let mut todo: Vec<_> = begin.map(|id| network.ends(id).1).collect();
    while let Some(place) = todo.pop() {
        if std::mem::replace(&mut seen[place.index()], true) {
            continue;
        }
        let on = graph.edges(place).filter(|e| !without.contains(&e.id()));
        todo.extend(on.map(|e| e.target()));
    }
    let at = |e: &Emitter| seen[network.ends(e.body).0.index()];
    network.emitters.iter().map(at).collect()
}

/// Height of a storey by its usual words, else by the order in which storeys are first named.
fn storey_rank(name: &str, order: &[String]) -> Option<i64> {
    let word = name.to_lowercase();
    let known = [
        ("cellar", -1),
        ("basement", -1),
        ("ground", 0),
        ("first", 1),
        ("upper", 1),
        ("second", 2),
        ("third", 3),
        ("attic", 8),
        ("loft", 9),
    ];
    known
        .iter()
        .find(|(w, _)| word.contains(w))
        .map(|(_, r)| *r)
        .or_else(|| word.trim().parse().ok())
        .or_else(|| {
            let i = order.iter().position(|s| s == name)?;
            i64::try_from(i).ok()
        })
}

impl Pen<'_> {
    /// The name of a line of a row at its left end, halfway between the rails, before the cell `i`; how far that cell
    /// reaches with it.
    pub(crate) fn line_name(
        &mut self,
        row: &Row,
        lines: &[usize],
        i: usize,
        band: Band,
        reach: Reach,
    ) -> Reach {
        let line = lines[i];
        let here = |k: &usize| lines[*k] == line && !emitters_of_cell(&row.cells[*k]).is_empty();
        // lines run to the right and to the left in turn
        let mut own = (0..row.cells.len()).filter(here);
        let leftmost = match line.is_multiple_of(2) {
            true => own.next(),
            false => own.next_back(),
        };
        if leftmost != Some(i) {
            return reach;
        }
        let cells = row.cells.iter().zip(lines);
        let cells = cells.filter(|(_, l)| **l == line).map(|(c, _)| c);
        let Some(name) = self.figures.storeys.shared(cells) else {
            return reach;
        };
        let text = Text {
            lines: vec![Line {
                text: tidy(name, 24).0,
                bold: true,
            }],
            ..Text::default()
        };
        let (w, h) = text.size(self.lettering.value);
        let left = reach.left + GAP + w;
        let top = band.middle.plus(-h / 2.0);
        self.y.keep(band.flow, top, band.under, 0.0);
        self.y
            .keep(band.middle.plus(h / 2.0), band.back, band.over, 0.0);
        self.text((band.x.plus(-left), top), text, (w, h), About::Sheet);
        Reach { left, ..reach }
    }
}
