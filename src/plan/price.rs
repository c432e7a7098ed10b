//! What a change costs: the user's prices, else the embedded ones, which are invented.

use super::change::{Change, What, second};
use super::site::{BEND, Route, Site, elbows, likeliest_word};
use crate::catalogue::{Catalogue, Class, PriceTable, WorkPrice};
use crate::survey::{Item, ItemKind, Leg, Lies, Panel, Priced, Survey};

/// Where a run is taken to lie that the file does not place.
pub const ASSUMED_PLACE: Lies = Lies::UnderBoards;

/// What a line of a bill is.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Goods {
    /// Pipe, by its word; in metres.
    Pipe(String),
    /// Fittings, valves and devices: word of the catalogue and of the pipe; each.
    Item(String, String),
    /// Radiator by type and size; each.
    Radiator(String),
    /// Valve body; each.
    Valve(String),
    /// A joint between pipes or to what stays, in words; each, without a price of its own.
    Joint(String),
    /// Work; a sum.
    Work,
    /// A price of the file for the whole of it; a sum.
    Whole,
}

/// One line of a bill.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// What it is.
    pub goods: Goods,
    /// Metres, pieces, or 1.
    pub quantity: f64,
    /// Money, hundredths of the currency.
    pub money: i64,
    /// A price of the file; otherwise it is invented.
    pub own: bool,
}

/// Money as hundredths.
pub fn hundredths(money: f64) -> i64 {
    (money * 100.0).round() as i64
}

/// Prices of one file.
#[derive(Clone, Copy, Debug)]
pub struct PriceList<'s> {
    survey: &'s Survey,
    table: &'static PriceTable,
}

impl<'s> PriceList<'s> {
    /// Of a survey.
    pub fn new(survey: &'s Survey) -> Self {
        Self {
            survey,
            table: PriceTable::embedded(),
        }
    }

    /// Sign or word of the currency; of the invented prices it is none that anybody pays with.
    pub fn currency(&self) -> &'s str {
        let own = self.survey.prices.currency.as_deref();
        own.unwrap_or("¤")
    }

    fn own(&self, wanted: impl Fn(&Priced) -> bool) -> Option<f64> {
        let rows = self.survey.prices.rows.iter();
        rows.rev().find(|(p, _)| wanted(p)).map(|(_, m)| m.value)
    }

    /// The embedded figure, unless only own prices count.
    fn invented(&self, figure: impl FnOnce() -> Option<f64>) -> Option<f64> {
        if self.survey.plan.own_prices {
            None
        } else {
            figure()
        }
    }

    fn either(
        &self,
        wanted: impl Fn(&Priced) -> bool,
        invented: impl FnOnce() -> Option<f64>,
    ) -> Option<(f64, bool)> {
        match self.own(wanted) {
            Some(money) => Some((money, true)),
            None => self.invented(invented).map(|m| (m, false)),
        }
    }

    /// Where a leg lies, and whether the file says so.
    pub fn lies(leg: &Leg) -> (Lies, bool) {
        leg.lies.map_or((ASSUMED_PLACE, false), |lies| (lies, true))
    }

    /// The row of a place.
    pub fn work(&self, lies: Lies) -> Option<&'static WorkPrice> {
        self.table.work(lies)
    }

    /// Money for opening and closing a place once, hundredths.
    pub fn open(&self, lies: Lies) -> Option<(i64, bool)> {
        let invented = || self.work(lies).map(|w| w.open);
        self.either(|p| *p == Priced::Open(lies), invented)
            .map(|(m, own)| (hundredths(m), own))
    }

    /// Words of every pipe that has a price, or a price on this run.
    pub fn pipes(&self, owner: &str) -> Vec<&'s str> {
        let own = self.survey.prices.rows.iter().filter_map(|(p, _)| match p {
            Priced::Pipe(word) => Some(word.as_str()),
            Priced::Run { run, pipe } if run == owner => Some(pipe.as_str()),
            _ => None,
        });
        let mut words: Vec<&str> = own.collect();
        if !self.survey.plan.own_prices {
            words.extend(self.table.pipe.iter().map(|p| p.word.as_str()));
        }
        let mut once: Vec<&str> = Vec::new();
        for word in words {
            if !once.contains(&word) {
                once.push(word);
            }
        }
        once
    }

    /// Whether a run in a pipe has a price for the whole of it.
    pub fn is_whole(&self, owner: &str, word: &str) -> bool {
        let run =
            |p: &Priced| matches!(p, Priced::Run { run, pipe } if run == owner && pipe == word);
        self.own(run).is_some()
    }

    /// Whether a second pipe beside a run has a price for the whole of it.
    pub fn is_whole_beside(&self, owner: &str, word: &str) -> bool {
        let beside =
            |p: &Priced| matches!(p, Priced::Beside { run, pipe } if run == owner && pipe == word);
        self.own(beside).is_some()
    }

    /// Words of pipes that may be laid beside a run: those with a price per metre, or with a price for just that.
    pub fn beside(&self, owner: &str) -> Vec<&'s str> {
        let mut words: Vec<&str> = Vec::new();
        let own = self.survey.prices.rows.iter().filter_map(|(p, _)| match p {
            Priced::Pipe(word) => Some(word.as_str()),
            Priced::Beside { run, pipe } if run == owner => Some(pipe.as_str()),
            _ => None,
        });
        words.extend(own);
        if !self.survey.plan.own_prices {
            words.extend(self.table.pipe.iter().map(|p| p.word.as_str()));
        }
        words.sort_unstable();
        words.dedup();
        words
    }

    /// What a change costs without the opening of places, or what has no price.
    ///
    /// # Errors
    /// What has no price, in words.
    pub fn bill(&self, change: &Change) -> Result<Vec<Line>, String> {
        let owner = change.site.owner(self.survey);
        match (&change.what, change.site) {
            (What::Pipe(word, bends), Site::Pipe(route)) => {
                let run = |p: &Priced| matches!(p, Priced::Run { run, pipe } if run == owner && pipe == word);
                if let Some(money) = self.own(run) {
                    return Ok(vec![whole(money)]);
                }
                let mut lines = Vec::new();
                // as it is then, bends and all
                let mut changed = self.survey.clone();
                change.apply(&mut changed);
                for (leg, pipes) in route.legs(&changed) {
                    self.relay(&mut lines, leg, pipes, word, 1.0)?;
                }
                if *bends {
                    self.bending(&mut lines, route);
                }
                Ok(lines)
            }
            (What::Beside(word), Site::Pipe(route)) => {
                let beside = |p: &Priced| matches!(p, Priced::Beside { run, pipe } if run == owner && pipe == word);
                if let Some(money) = self.own(beside) {
                    return Ok(vec![whole(money)]);
                }
                let mut lines = Vec::new();
                for (leg, pipes) in route.legs(self.survey) {
                    let leg = second(leg, word);
                    self.relay(&mut lines, &leg, pipes, word, self.table.beside.work)?;
                }
                Ok(lines)
            }
            (What::Bends, Site::Pipe(route)) => self.bends(route),
            (What::Device(word, kv), Site::Device(route, leg, item)) => {
                self.device(route, leg, item, word, kv.map(|kv| kv.0))
            }
            (What::Radiator(panel), _) => self.radiator(owner, panel).map(|line| vec![line]),
            (What::Valve(word, _), _) => {
                let item = |p: &Priced| matches!(p, Priced::Item(w) if w == word);
                let (money, own) = self
                    .either(item, || Some(self.table.valve.each))
                    .ok_or_else(|| format!("a valve `{word}`"))?;
                Ok(vec![Line {
                    goods: Goods::Valve(word.clone()),
                    quantity: 1.0,
                    money: hundredths(money),
                    own,
                }])
            }
            _ => Ok(Vec::new()),
        }
    }

    /// A device or valve along a line, fitted; by its own word if the file prices that.
    fn device(
        &self,
        route: Route,
        leg: usize,
        item: usize,
        word: &str,
        kv: Option<f64>,
    ) -> Result<Vec<Line>, String> {
        let Some((leg, pipes)) = route.legs(self.survey).into_iter().nth(leg) else {
            return Ok(Vec::new());
        };
        let Some(item) = leg.items.get(item) else {
            return Ok(Vec::new());
        };
        let pipe = likeliest_word(leg);
        let freer = &self.table.freer;
        let (money, own) = self
            .either(
                |p| matches!(p, Priced::Item(w) if w == word),
                || Some(freer.each + freer.grows * outside_mm(&pipe)),
            )
            .ok_or_else(|| format!("`{word}`"))?;
        let count = f64::from(item.count * if item.side.is_some() { 1 } else { pipes });
        let words = kv.map_or(word.to_owned(), |kv| format!("{word} kv {kv}"));
        Ok(vec![Line {
            goods: Goods::Item(words, pipe),
            quantity: count,
            money: hundredths(money * count),
            own,
        }])
    }

    /// Pipe, fittings and work of one leg in another pipe.
    fn relay(
        &self,
        lines: &mut Vec<Line>,
        leg: &Leg,
        pipes: u32,
        word: &str,
        work_share: f64,
    ) -> Result<(), String> {
        let metres = leg.length.likeliest.0 * f64::from(pipes);
        let outside_mm = outside_mm(word);
        let (per_m, own) = self
            .either(
                |p| matches!(p, Priced::Pipe(w) if w == word),
                || self.table.pipe(word).map(|p| p.per_m),
            )
            .ok_or_else(|| format!("`{word}` per metre"))?;
        lines.push(Line {
            goods: Goods::Pipe(word.to_owned()),
            quantity: metres,
            money: hundredths(per_m * metres),
            own,
        });
        let (lies, _) = Self::lies(leg);
        let (work, own) = self
            .either(
                |p| *p == Priced::Work(lies),
                || {
                    let row = self.work(lies)?;
                    Some((row.per_m + row.grows * outside_mm) * work_share)
                },
            )
            .ok_or_else(|| format!("`work {}`", place(lies)))?;
        lines.push(Line {
            goods: Goods::Work,
            quantity: 1.0,
            money: hundredths(work * metres),
            own,
        });
        for item in &leg.items {
            let count = item.count * if item.side.is_some() { 1 } else { pipes };
            self.item(lines, item, word, outside_mm, count)?;
        }
        Ok(())
    }

    /// One item of a leg that is laid anew: fittings and valves are bought, devices with a kv of their own stay.
    fn item(
        &self,
        lines: &mut Vec<Line>,
        item: &Item,
        pipe: &str,
        outside_mm: f64,
        count: u32,
    ) -> Result<(), String> {
        let ItemKind::Named { word, kv, .. } = &item.kind else {
            return Ok(());
        };
        let Some(row) = Catalogue::embedded().item(word) else {
            return Ok(());
        };
        let again = self.table.item.again;
        let (money, own) = if kv.is_some() {
            let own = self.own(|p| matches!(p, Priced::Item(w) if w == word));
            // a device of a known kv is taken out and put back
            let again = own.map(|m| (m, true)).or(Some((again, false)));
            again.filter(|(_, own)| *own || !self.survey.plan.own_prices)
        } else {
            let growing = match row.class {
                Class::Fitting => self.table.item.fitting,
                Class::Valve => self.table.item.valve,
                Class::Device => self.table.item.device,
            };
            self.either(
                |p| matches!(p, Priced::Item(w) if w == word),
                || Some(growing.each + growing.grows * outside_mm),
            )
        }
        .ok_or_else(|| format!("`{word}`"))?;
        lines.push(Line {
            goods: if kv.is_some() {
                Goods::Work
            } else {
                Goods::Item(word.clone(), pipe.to_owned())
            },
            quantity: f64::from(count),
            money: hundredths(money * f64::from(count)),
            own,
        });
        Ok(())
    }

    fn bends(&self, route: Route) -> Result<Vec<Line>, String> {
        let mut lines = Vec::new();
        for (leg, pipes) in route.legs(self.survey) {
            let count = f64::from(elbows(leg, pipes));
            let pipe = super::site::pipe_words(leg);
            let (money, own) = self.bend(&pipe).ok_or_else(|| format!("`{BEND}`"))?;
            lines.push(Line {
                goods: Goods::Item(BEND.to_owned(), pipe),
                quantity: count,
                money: hundredths(money * count),
                own,
            });
        }
        self.bending(&mut lines, route);
        Ok(lines)
    }

    fn bend(&self, pipe: &str) -> Option<(f64, bool)> {
        let fitting = self.table.item.fitting;
        self.either(
            |p| matches!(p, Priced::Item(w) if w == BEND),
            || Some(fitting.each + fitting.grows * outside_mm(pipe)),
        )
    }

    /// The work of making bends in the place of a line's elbows; a price of the file for a bend has it in.
    fn bending(&self, lines: &mut Vec<Line>, route: Route) {
        let legs = route.legs(self.survey).into_iter();
        let count: u32 = legs.map(|(leg, pipes)| elbows(leg, pipes)).sum();
        if !self.bend("").is_some_and(|(_, own)| own) && count > 0 {
            lines.push(Line {
                goods: Goods::Work,
                quantity: f64::from(count),
                money: hundredths(self.table.item.bend_work * f64::from(count)),
                own: false,
            });
        }
    }

    fn radiator(&self, owner: &str, panel: &Panel) -> Result<Line, String> {
        let here = |p: &Priced| matches!(p, Priced::Radiator { emitter, panel: q } if emitter == owner && q == panel);
        let (money, own) = self
            .own(here)
            .map(|m| (m, true))
            .or_else(|| {
                self.either(
                    |p| matches!(p, Priced::Panel(q) if q == panel),
                    || {
                        let row = self.table.radiator(&panel.panel_type)?;
                        Some(row.each + row.per_m2 * panel.height.0 * panel.width.0)
                    },
                )
            })
            .ok_or_else(|| format!("a radiator `{}`", panel.words()))?;
        Ok(Line {
            goods: Goods::Radiator(panel.words()),
            quantity: 1.0,
            money: hundredths(money),
            own,
        })
    }

    /// Radiators that the file prices, for any emitter or this one.
    pub fn panels(&self, owner: &str) -> Vec<&'s Panel> {
        let rows = self.survey.prices.rows.iter();
        rows.filter_map(|(p, _)| match p {
            Priced::Panel(panel) => Some(panel),
            Priced::Radiator { emitter, panel } if emitter == owner => Some(panel),
            _ => None,
        })
        .collect()
    }

    /// Whether the embedded table counts.
    pub fn uses_invented(&self) -> bool {
        !self.survey.plan.own_prices
    }
}

fn whole(money: f64) -> Line {
    Line {
        goods: Goods::Whole,
        quantity: 1.0,
        money: hundredths(money),
        own: true,
    }
}

/// Outside diameter of a pipe word, mm; its bore where no outside is known.
fn outside_mm(word: &str) -> f64 {
    let pipe = Catalogue::embedded().pipe(word);
    pipe.map_or(0.0, |p| p.outside.unwrap_or(p.bore).0 * 1e3)
}

/// A place in words.
pub fn place(lies: Lies) -> &'static str {
    Catalogue::embedded()
        .place(lies)
        .map_or("", |row| &row.word)
}
