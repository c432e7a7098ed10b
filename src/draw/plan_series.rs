//! Bodies in series: what may stand on a loop, and what has to be taken off it.

use super::chart::{Bit, Block};
use super::reduce::{Aside, heavy};

/// Whether a piece may stand on a loop: pipe, a body, or one plain rung beside one plain pipe.
pub(crate) fn is_station(bit: &Bit) -> bool {
    match bit {
        Bit::Par(p) => {
            let bodies: Vec<_> = p.kids.iter().filter(|k| heavy(k)).collect();
            let plain = |k: &[Bit]| !k.iter().any(|b| matches!(b, Bit::Par(_) | Bit::Strip(_)));
            match bodies[..] {
                [] => true,
                [one] => {
                    let blocks = one.iter().filter(|b| matches!(b, Bit::Block(..)));
                    plain(one) && blocks.count() == 1 && p.kids.len() <= 2
                }
                _ => false,
            }
        }
        Bit::Strip(_) => false,
        _ => true,
    }
}

/// Replace what cannot stand on a loop by the one way through it that goes on; the rest is set aside.
pub(crate) fn unfolded(mut way: Vec<Bit>, at: usize, aside: &mut Vec<Aside>) -> Vec<Bit> {
    let tail = way.split_off(at + 1);
    let across = |from: usize, to: usize, bits: Vec<Bit>| Aside {
        from,
        to: Some(to),
        bits,
    };
    match way.pop() {
        Some(Bit::Par(par)) => {
            let main = par.kids.iter().position(|k| heavy(k)).unwrap_or(0);
            way.push(Bit::Node(par.u));
            for (i, kid) in par.kids.into_iter().enumerate() {
                if i == main {
                    way.extend(kid);
                } else {
                    aside.push(across(par.u, par.v, kid));
                }
            }
            way.push(Bit::Node(par.v));
        }
        Some(Bit::Strip(strip)) => {
            let n = strip.rungs.len();
            for (i, rung) in strip.rungs.into_iter().enumerate() {
                let ends = (
                    strip.flow_at.get(i),
                    strip.return_at.get(i.saturating_sub(1)),
                );
                match ends {
                    (Some(&from), Some(&to)) if i + 1 < n => aside.push(across(from, to, rung)),
                    _ => way.extend(rung),
                }
                if i + 1 < n {
                    way.extend(strip.flow_at.get(i).map(|p| Bit::Node(*p)));
                    way.extend(strip.flow.get(i).cloned().into_iter().flatten());
                }
            }
            for (i, bits) in strip.back.into_iter().enumerate() {
                if let (Some(&from), Some(&to)) =
                    (strip.return_at.get(i), strip.return_at.get(i + 1))
                {
                    aside.push(across(from, to, bits));
                }
            }
            way.extend(strip.return_at.last().map(|p| Bit::Node(*p)));
        }
        other => way.extend(other),
    }
    way.extend(tail);
    way
}

/// Order of ways from one place, left to right: those of an emitter's own leg as they are written, then those with more
/// pipe in front of them.
pub(crate) fn as_written(way: &[Bit]) -> (bool, usize) {
    let block = way.iter().position(|b| matches!(b, Bit::Block(..)));
    let before = block.map_or(way, |i| &way[..i]);
    let pipes = before.iter().filter(|b| matches!(b, Bit::Line(..))).count();
    let emitter = way.iter().find_map(|b| match b {
        Bit::Block(Block::Emitter(i), _) => Some(*i),
        _ => None,
    });
    (pipes > 1, emitter.unwrap_or(usize::MAX))
}

/// Plain pipe at both ends of a way, and what is between.
pub(crate) fn ends_off(mut way: Vec<Bit>) -> (Vec<Bit>, Vec<Bit>, Vec<Bit>) {
    let first = (0..way.len()).find(|&i| heavy(&way[i..=i])).unwrap_or(0);
    let last = (0..way.len())
        .rev()
        .find(|&i| heavy(&way[i..=i]))
        .unwrap_or(0);
    // a body right on the way keeps its own two pipes
    let lone = |b: &Bit| matches!(b, Bit::Block(..));
    let keep_last = if lone(&way[last]) { 1 } else { 0 };
    let mut cut = last + 1;
    let mut kept = 0;
    while cut < way.len() && kept < keep_last {
        kept += usize::from(matches!(way[cut], Bit::Line(..)));
        cut += 1;
    }
    let back = way.drain(cut..).collect();
    let mut cut = first;
    let mut kept = 0;
    let keep_first = if lone(&way[first]) { 1 } else { 0 };
    while cut > 0 && kept < keep_first {
        cut -= 1;
        kept += usize::from(matches!(way[cut], Bit::Line(..)));
    }
    let middle: Vec<Bit> = way.drain(cut..).collect();
    (way, middle, back)
}
