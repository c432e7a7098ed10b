//! What to buy for a plan: pipe by size with offcuts, fittings, valves, radiators.

use super::price::{Goods, Line};
use crate::catalogue::PriceTable;

/// One thing to buy.
#[derive(Clone, Debug, PartialEq)]
pub struct Purchase {
    /// What it is.
    pub goods: Goods,
    /// Metres that are laid, or pieces.
    pub needed: f64,
    /// Metres or pieces to order: pipe in whole lengths.
    pub order: f64,
    /// Length in which pipe is sold, m, if known.
    pub stock_m: Option<f64>,
    /// Money of what is needed, hundredths.
    pub money: i64,
    /// All of it by prices of the file.
    pub own: bool,
}

impl Purchase {
    /// In words, without the number.
    pub fn words(&self) -> String {
        match &self.goods {
            Goods::Pipe(word) => format!("pipe {word}"),
            Goods::Item(word, pipe) => format!("{word} for {pipe}"),
            Goods::Radiator(panel) => format!("radiator {panel}"),
            Goods::Valve(word) => format!("valve {word}"),
            Goods::Work => "work".to_owned(),
            Goods::Whole => "at a price for the whole".to_owned(),
        }
    }
}

/// The list of a plan's bills, and pipe that a price for the whole of a run covers, in metres by word.
pub fn shopping(bills: &[Vec<Line>]) -> Vec<Purchase> {
    let mut lines: Vec<&Line> = bills.iter().flatten().collect();
    lines.sort_by(|a, b| a.goods.cmp(&b.goods));
    let mut list: Vec<Purchase> = Vec::new();
    for line in lines {
        match list.last_mut().filter(|p| p.goods == line.goods) {
            Some(p) => {
                p.needed += line.quantity;
                p.money += line.money;
                p.own &= line.own;
            }
            None => list.push(Purchase {
                goods: line.goods.clone(),
                needed: line.quantity,
                order: 0.0,
                stock_m: match &line.goods {
                    Goods::Pipe(word) => PriceTable::embedded().pipe(word).map(|p| p.stock),
                    _ => None,
                },
                money: line.money,
                own: line.own,
            }),
        }
    }
    for p in &mut list {
        // rounding of a sum of lengths must not order a bar more
        p.order = match p.stock_m {
            Some(stock) => ((p.needed / stock) - 1e-9).ceil().max(1.0) * stock,
            None => p.needed,
        };
    }
    list
}
