//! What to buy for a plan: pipe by size with offcuts, fittings, valves, radiators.
//!
//! What has no money of its own is in [`super::unpriced`].

use super::price::{Goods, Line};
use crate::catalogue::PriceTable;

/// Where the money of a thing stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Counted {
    /// With the thing itself.
    Here,
    /// In a price of the file for the whole of the work.
    InWhole,
    /// Nowhere: joints to what stays are taken to be in the price of the work.
    Not,
}

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
    /// Where its money stands.
    pub counted: Counted,
}

impl Purchase {
    /// In words, without the number.
    pub fn words(&self) -> String {
        match &self.goods {
            Goods::Pipe(word) => format!("pipe {word}"),
            Goods::Item(word, pipe) => format!("{word} for {pipe}"),
            Goods::Radiator(panel) => format!("radiator {panel}"),
            Goods::Valve(word) => format!("valve {word}"),
            Goods::Joint(what) => what.clone(),
            Goods::Work => "work".to_owned(),
            Goods::Whole => "at a price for the whole".to_owned(),
        }
    }
}

/// The list of a plan's bills.
pub fn shopping(bills: &[Vec<Line>]) -> Vec<Purchase> {
    listed(bills, Counted::Here)
}

/// Lines by what they are of.
pub(super) fn listed(bills: &[Vec<Line>], counted: Counted) -> Vec<Purchase> {
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
                counted,
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
