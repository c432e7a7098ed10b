//! What words exist and what they mean: pipes, fittings, valves, devices, emitters, places, limits, each row with its
//! source and how far to trust it. Embedded as TOML, one file per family; figures keep the unit of their source there
//! and are SI here.

mod families;
mod load;
mod loss;
mod prices;
mod print;
mod rows;

pub use loss::{Loss, Sourced};
pub use prices::{PipePrice, PriceTable, RadiatorPrice, WorkPrice};
pub use print::print;
pub use rows::{
    BullHead, Class, Condition, EmitterRow, Item, Lies, LiesRow, Limit, PanelOutput, PanelProblem,
    PanelRow, PanelType, Pipe, TeeRow, ValveRow,
};

use crate::diag::nearest;
use crate::quantity::{Metre, Volume, Watt};
use std::collections::BTreeMap;
use std::sync::LazyLock;

/// All families.
#[derive(Clone, Debug)]
pub struct Catalogue {
    /// Pipes, by family and size.
    pub pipes: Vec<Pipe>,
    /// Fittings, valves and devices of a leg.
    pub items: Vec<Item>,
    /// Tees by flow split, q rising.
    pub tees: Vec<TeeRow>,
    /// Tees head-on.
    pub bull_head: BullHead,
    /// Panel radiators by type and height.
    pub panels: Vec<PanelRow>,
    /// Types of panel radiator.
    pub panel_types: Vec<PanelType>,
    /// Emitters by rated output.
    pub emitters: Vec<EmitterRow>,
    /// Valves of emitters.
    pub valves: Vec<ValveRow>,
    /// Where a run can lie.
    pub lies: Vec<LiesRow>,
    /// Age and condition.
    pub conditions: Vec<Condition>,
    /// What figures are held against.
    pub limits: Vec<Limit>,
    insert: loss::InsertRule,
    surroundings: loss::Surroundings,
    pipe_words: BTreeMap<String, usize>,
    item_words: BTreeMap<String, usize>,
    place_words: BTreeMap<String, usize>,
}

/// A word as it is looked up: lower case, `x` for `×`, without blanks.
fn key(word: &str) -> String {
    let plain = word
        .chars()
        .filter(|c| !c.is_whitespace())
        .flat_map(char::to_lowercase);
    plain.map(|c| if c == '×' { 'x' } else { c }).collect()
}

impl Catalogue {
    /// The catalogue that is built in.
    pub fn embedded() -> &'static Self {
        static EMBEDDED: LazyLock<Catalogue> = LazyLock::new(load::embedded);
        &EMBEDDED
    }

    /// The pipe of a word: `cu22`, `CU 22`, `steel 3/4`, `pex16x2.0`.
    pub fn pipe(&self, word: &str) -> Option<&Pipe> {
        let key = key(word);
        let at = self
            .pipe_words
            .get(&key)
            .or_else(|| self.pipe_words.get(key.strip_suffix(".0")?))?;
        self.pipes.get(*at)
    }

    /// The pipe word nearest to a misspelt one.
    pub fn nearest_pipe(&self, word: &str) -> Option<&str> {
        let words = || self.pipes.iter().map(|p| p.word.as_str());
        // `cu23`, `ml21`: the right family matters more than the right number
        let letters = |w: &str| {
            w.chars()
                .take_while(|c| c.is_alphabetic())
                .collect::<String>()
        };
        let family = letters(&key(word));
        let same = nearest(&key(word), words().filter(|w| letters(w) == family));
        same.or_else(|| nearest(&key(word), words()))
    }

    /// The next nominal size below, which a guess admits.
    pub fn next_smaller(&self, word: &str) -> Option<&Pipe> {
        self.pipe(self.pipe(word)?.below.as_deref()?)
    }

    /// The plastic pipe of the same outside size (within 0.3 mm) as a copper one, which a guess admits.
    pub fn plastic_twin(&self, word: &str) -> Option<&Pipe> {
        let copper = self.pipe(word).filter(|p| p.material == "copper")?;
        let outside = copper.outside?;
        let twin = |p: &&Pipe| {
            p.material == "plastic" && p.outside.is_some_and(|o| (o - outside).0.abs() < 0.3e-3)
        };
        self.pipes.iter().find(twin)
    }

    /// What a guess of this pipe admits beside it: the next nominal size below, then the plastic of the same outside.
    pub fn guess(&self, word: &str) -> Vec<&Pipe> {
        self.next_smaller(word)
            .into_iter()
            .chain(self.plastic_twin(word))
            .collect()
    }

    /// The fitting, valve or device of a word, singular or plural.
    pub fn item(&self, word: &str) -> Option<&Item> {
        self.items.get(*self.item_words.get(&key(word))?)
    }

    /// The word of a fitting, valve or device nearest to a misspelt one.
    pub fn nearest_item(&self, word: &str) -> Option<&str> {
        let spellings = self
            .items
            .iter()
            .flat_map(|i| std::iter::once(&i.word).chain(&i.also));
        nearest(word, spellings.map(String::as_str))
    }

    /// Where a run lies, by its words.
    pub fn lies(&self, words: &str) -> Option<Lies> {
        const LONGEST: usize = 40; // of any place's words; a leg asks with whole lines
        if words.len() > LONGEST {
            return None;
        }
        let at = self.place_words.get(&key(words))?;
        self.lies.get(*at).map(|row| row.lies)
    }

    /// The words of the place nearest to misspelt ones.
    pub fn nearest_place(&self, words: &str) -> Option<&str> {
        nearest(words, self.lies.iter().map(|row| row.word.as_str()))
    }

    /// The row of a place.
    pub fn place(&self, lies: Lies) -> Option<&LiesRow> {
        self.lies.iter().find(|row| row.lies == lies)
    }

    /// Age or condition of a pipe of this material; `None` if the word is unknown.
    pub fn condition(&self, word: &str, material: &str) -> Option<&Condition> {
        let fits = |c: &&Condition| {
            c.word == word && c.materials.iter().any(|m| m == "*" || m == material)
        };
        self.conditions.iter().find(fits)
    }

    /// An emitter by rated output, by its word.
    pub fn emitter(&self, word: &str) -> Option<&EmitterRow> {
        let key = key(word);
        let is = |row: &&EmitterRow| {
            self::key(&row.word) == key || row.also.iter().any(|w| self::key(w) == key)
        };
        self.emitters.iter().find(is)
    }

    /// The emitter word nearest to a misspelt one.
    pub fn nearest_emitter(&self, word: &str) -> Option<&str> {
        nearest(word, self.emitters.iter().map(|row| row.word.as_str()))
    }

    /// A valve of an emitter, by its word.
    pub fn valve(&self, word: &str) -> Option<&ValveRow> {
        let key = key(word);
        let is = |row: &&ValveRow| {
            self::key(&row.word) == key || row.also.iter().any(|w| self::key(w) == key)
        };
        self.valves.iter().find(is)
    }

    /// The valve word nearest to a misspelt one.
    pub fn nearest_valve(&self, word: &str) -> Option<&str> {
        nearest(word, self.valves.iter().map(|row| row.word.as_str()))
    }

    /// A limit by its key.
    pub fn limit(&self, key: &str) -> Option<&Limit> {
        self.limits.iter().find(|l| l.key == key)
    }

    /// The limit key nearest to a misspelt one.
    pub fn nearest_limit(&self, key: &str) -> Option<&str> {
        nearest(key, self.limits.iter().map(|l| l.key.as_str()))
    }

    /// Output at 75/65/20, exponent and water of a panel radiator; heights between two rows are interpolated.
    ///
    /// # Errors
    /// An unknown type with the nearest known one, or a height outside the rows with their ends.
    pub fn panel(
        &self,
        panel_type: &str,
        height: Metre,
        width: Metre,
    ) -> Result<PanelOutput, PanelProblem> {
        let types = || self.panel_types.iter().map(|t| t.panel_type.as_str());
        let Some(kind) = self
            .panel_types
            .iter()
            .find(|t| t.panel_type == panel_type.trim())
        else {
            return Err(PanelProblem::UnknownType(
                nearest(panel_type, types()).map(str::to_owned),
            ));
        };
        let rows: Vec<&PanelRow> = self
            .panels
            .iter()
            .filter(|p| p.panel_type == kind.panel_type)
            .collect();
        let mm = height.0 * 1e3;
        let above = rows.iter().find(|p| p.height.0 * 1e3 >= mm - 1e-6);
        let below = rows.iter().rfind(|p| p.height.0 * 1e3 <= mm + 1e-6);
        let (Some(low), Some(high)) = (below, above) else {
            let ends = |p: Option<&&PanelRow>| p.map_or(Metre(0.0), |p| p.height);
            return Err(PanelProblem::Height(ends(rows.first()), ends(rows.last())));
        };
        let span = (high.height - low.height).0;
        let share = if span > 0.0 {
            (height - low.height).0 / span
        } else {
            0.0
        };
        let between = |a: f64, b: f64| (a + (b - a) * share) * width.0;
        let (least, greatest) = (
            between(low.low_w_m, high.low_w_m),
            between(low.high_w_m, high.high_w_m),
        );
        Ok(PanelOutput {
            output: Watt(0.5 * (least + greatest)),
            least: Watt(least),
            greatest: Watt(greatest),
            exponent: kind.exponent,
            water: Volume(between(low.water_m3_m, high.water_m3_m)),
            depth: kind.depth,
            source: low.source.clone(),
            confidence: low.confidence.clone(),
        })
    }
}

#[cfg(test)]
mod tests;
