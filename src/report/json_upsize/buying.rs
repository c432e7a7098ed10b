//! What to buy, as rows of JSON and as CSV.

use super::super::sheet::{Sheet, row};
use super::super::{csv, rounded};
use super::{units, whose};
use crate::plan::price::Goods;
use crate::plan::shopping::{Purchase, shopping};
use crate::plan::upsize::Upsize;
use schemars::JsonSchema;
use serde::Serialize;

/// How the shopping list begins, so that it is known again.
pub const CSV_BEGIN: &str = "buy,what,for_pipe,laid_m,order_m,pieces,money,price_is";

row! {
    /// A line of the shopping list.
    #[derive(Serialize, JsonSchema)]
    #[serde(deny_unknown_fields)]
    pub(super) struct Buy {
        /// `pipe`, `fitting`, `radiator`, `valve`, `work`, `whole` or `opening`.
        buy: &'static str,
        /// In words.
        what: String,
        /// Pipe that a fitting is for.
        for_pipe: String,
        /// Pipe that is laid.
        laid_m: Option<f64>,
        /// Pipe to order, in whole lengths.
        order_m: Option<f64>,
        /// Pieces.
        pieces: Option<f64>,
        /// In units of the currency.
        money: f64,
        /// Whose price: `the file's` or `invented`.
        price_is: &'static str,
    }
}

/// The shopping list as CSV.
pub fn list(upsize: &Upsize) -> String {
    csv::text(&to_buy(upsize))
}

/// The shopping list of a house for which nothing was searched: its headings.
pub fn nothing_to_buy() -> Sheet {
    Sheet::of("shopping", std::iter::empty::<Buy>())
}

/// The shopping list.
pub fn to_buy(upsize: &Upsize) -> Sheet {
    let bought = upsize.best().map_or_else(Vec::new, |b| shopping(&b.bills));
    Sheet::of(
        "shopping",
        bought.iter().map(buy).chain(opened(upsize, &bought)),
    )
}

/// What opening places costs, so that the list comes to the plan's price.
fn opened(upsize: &Upsize, bought: &[Purchase]) -> Option<Buy> {
    let best = upsize.best()?;
    let money = best.money - bought.iter().map(|p| p.money).sum::<i64>();
    (money != 0).then(|| Buy {
        buy: "opening",
        what: "opening places and making good".to_owned(),
        for_pipe: String::new(),
        laid_m: None,
        order_m: None,
        pieces: None,
        money: money as f64 / 100.0,
        price_is: whose(best.opens.iter().all(|&o| {
            let place = &upsize.offers.openings[o];
            place.own || place.cost.money == 0
        })),
    })
}

pub(super) fn buy(p: &Purchase) -> Buy {
    let (kind, what, pipe) = match &p.goods {
        Goods::Pipe(word) => ("pipe", word.clone(), String::new()),
        Goods::Item(word, pipe) => ("fitting", word.clone(), pipe.clone()),
        Goods::Radiator(panel) => ("radiator", panel.clone(), String::new()),
        Goods::Valve(word) => ("valve", word.clone(), String::new()),
        Goods::Work => ("work", "work".to_owned(), String::new()),
        Goods::Whole => (
            "whole",
            "run or radiator, all included".to_owned(),
            String::new(),
        ),
    };
    let metres = kind == "pipe";
    Buy {
        buy: kind,
        what,
        for_pipe: pipe,
        laid_m: metres.then(|| rounded(p.needed)).flatten(),
        order_m: metres.then(|| rounded(p.order)).flatten(),
        pieces: (!metres && kind != "work")
            .then(|| rounded(p.needed))
            .flatten(),
        money: units(p.money),
        price_is: whose(p.own),
    }
}
