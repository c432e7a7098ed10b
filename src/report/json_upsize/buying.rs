//! What to buy, as rows of JSON and as CSV.

use super::super::sheet::{Sheet, row};
use super::super::{csv, rounded};
use super::{units, whose};
use crate::plan::price::Goods;
use crate::plan::shopping::{Counted, Purchase, shopping};
use crate::plan::unpriced::unpriced;
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
        /// `pipe`, `fitting`, `radiator`, `valve`, `joint`, `work`, `whole` or `opening`.
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
        /// In units of the currency; 0 where it stands elsewhere or nowhere.
        money: f64,
        /// Whose price: `the file's` or `invented`; `in the whole` where a price for the whole of it has it in, `none`
        /// where joints to what stays are taken to be in the price of the work.
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
    Sheet::of("shopping", rows(upsize).into_iter())
}

/// Rows of the shopping list; their money comes to the plan's price.
pub(super) fn rows(upsize: &Upsize) -> Vec<Buy> {
    let Some(best) = upsize.best() else {
        return Vec::new();
    };
    let mut list = shopping(&best.bills);
    list.extend(unpriced(best, upsize.survey(), &upsize.house.network));
    let opened = best.opens.iter().map(|&o| &upsize.offers.openings[o]);
    let opened = opened.filter(|place| place.cost.money != 0);
    let opened = opened.map(|place| Buy {
        buy: "opening",
        what: format!("opening and making good: {}", place.name),
        for_pipe: String::new(),
        laid_m: None,
        order_m: None,
        pieces: None,
        money: units(place.cost.money),
        price_is: whose(place.own),
    });
    list.iter().map(buy).chain(opened).collect()
}

fn buy(p: &Purchase) -> Buy {
    let (kind, what, pipe) = match &p.goods {
        Goods::Pipe(word) => ("pipe", word.clone(), String::new()),
        Goods::Item(word, pipe) => ("fitting", word.clone(), pipe.clone()),
        Goods::Radiator(panel) => ("radiator", panel.clone(), String::new()),
        Goods::Valve(word) => ("valve", word.clone(), String::new()),
        Goods::Joint(what) => ("joint", what.clone(), String::new()),
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
        price_is: match p.counted {
            Counted::Here => whose(p.own),
            Counted::InWhole => "in the whole",
            Counted::Not => "none",
        },
    }
}
