//! Storeys and zones as rows: their order, and their names beside the rows.

use super::chart::{Bit, Block};
use super::pen::{GAP, Pen};
use super::plan::{Body, Row};
use super::scene::{About, Line};
use super::tracks::At;
use super::words::{Text, tidy};
use crate::network::Network;

/// What the row of an emitter is called: its storey, else its zone.
pub(crate) fn name_of(network: &Network, emitter: usize) -> Option<&str> {
    let e = network.emitters.get(emitter)?;
    let zone = || Some(network.zones.get(e.zone?)?.name.as_str());
    e.storey.as_deref().or_else(zone)
}

/// Height of a storey by its usual words, else by the order in which storeys are first named.
pub(crate) fn storey_rank(name: &str, order: &[String]) -> Option<i64> {
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

/// The name that all emitters right on a row share, if they do.
fn name_of_row<'n>(network: &'n Network, row: &Row) -> Option<&'n str> {
    let mut found: Option<&str> = None;
    for cell in &row.cells {
        let (Body::Rung(bits) | Body::Loop(bits)) = &cell.body else {
            continue;
        };
        for bit in bits {
            if let Bit::Block(Block::Emitter(i), _) = bit {
                let name = name_of(network, *i)?;
                if found.is_some_and(|f| f != name) {
                    return None;
                }
                found = Some(name);
            }
        }
    }
    found
}

impl Pen<'_> {
    /// The name of a row at its right end, halfway between the rails; where its things end now.
    pub(crate) fn row_name(&mut self, row: &Row, after: At, middle: At) -> Option<At> {
        let name = name_of_row(self.figures.network, row)?;
        let text = Text {
            lines: vec![Line {
                text: tidy(name, 24).0,
                bold: true,
            }],
            ..Text::default()
        };
        let (w, h) = text.size(self.lettering.value);
        let end = self.x.track();
        let left = after.plus(GAP);
        self.x.keep(after, end, w + 2.0 * GAP, 0.0);
        self.text((left, middle.plus(-h / 2.0)), text, (w, h), About::Sheet);
        Some(end)
    }
}
