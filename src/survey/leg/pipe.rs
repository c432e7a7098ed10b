//! The pipe at the beginning of a leg: a word, alternatives with odds, or a bore.

use super::{Reader, clip};
use crate::quantity::Metre;
use crate::survey::{PipeOption, PipeSize, PipeWord};
use crate::units::{self, Quantity, Sign};

/// Odds that people round to two digits still add up.
const ODDS_TOLERANCE: f64 = 1e-6;

/// Families whose size is a second word: `steel 3/4`.
const TWO_WORDS: [&str; 4] = ["steel", "imperial", "imp", "copper"];

/// A pipe to go on with after a mistake; never handed out.
pub(super) fn stand_in() -> PipeWord {
    PipeWord {
        options: Vec::new(),
        guess: false,
        shared: None,
    }
}

impl Reader<'_, '_> {
    /// Pipe, odds, alternatives and doubt; `None` after a mistake.
    pub(super) fn pipe(&mut self) -> Option<PipeWord> {
        let start = self.cursor.at;
        let mut options: Vec<PipeOption> = Vec::new();
        let mut sound = true;
        loop {
            match self.pipe_option(options.first().is_some_and(|o| o.odds.is_some())) {
                Some(option) => options.push(option),
                None => sound = false,
            }
            if !self.cursor.eat('|') {
                break;
            }
        }
        let asked_at = self.cursor.at;
        let asked = self.cursor.eat('?');
        let shared = if asked { self.cursor.name() } else { None };
        if !sound || !self.odds_add_up(&options, start) {
            return None;
        }
        let only_bore = matches!(options.as_slice(), [PipeOption { pipe: PipeSize::Bore { bore, .. }, .. }]
            if bore.low == bore.high);
        if asked && only_bore {
            self.mistake("bore-guess", asked_at..self.cursor.at, |d| {
                d.message = "a guessed bore does not say what else it may be".into();
                d.label = "no other bore follows from this `?`".into();
                d.help = Some(
                    "write its range, as in `bore 17..18.5mm`, or the pipe's word with `?`".into(),
                );
            });
            return None;
        }
        Some(PipeWord {
            guess: asked && options.len() == 1 && !matches!(options[0].pipe, PipeSize::Bore { .. }),
            options,
            shared,
        })
    }

    fn pipe_option(&mut self, odds_so_far: bool) -> Option<PipeOption> {
        self.cursor.skip_blanks();
        let start = self.cursor.at;
        let pipe = if self.cursor.eat_word(&["bore"]) {
            self.bore()
        } else {
            self.pipe_size()
        };
        let span = (self.place)(start..self.cursor.at.max(start));
        let odds = self.odds(odds_so_far);
        Some(PipeOption {
            pipe: pipe?,
            odds: odds.ok()?,
            span,
        })
    }

    fn bore(&mut self) -> Option<PipeSize> {
        if !self.cursor.at_number() {
            self.mistake("number-expected", self.cursor.word_or_end(), |d| {
                d.message = "bore: the inside diameter is missing".into();
                d.label = "expected a size, such as 17.8mm".into();
                d.help = Some("for example \"bore 17.8mm 5m\"".into());
            });
            return None;
        }
        let bore = self.range(Quantity::Size, "bore")?;
        let roughness = if self.cursor.eat_word(&["roughness"]) {
            Some(Metre(self.prefix(Quantity::Size, "roughness")?.value))
        } else {
            None
        };
        if let Some(k) = roughness
            && k.0 >= 0.5 * bore.low.0
        {
            let end = self.cursor.at;
            self.mistake("roughness-too-large", end.saturating_sub(1)..end, |d| {
                d.message = "roughness: it cannot be half the bore or more".into();
                d.label = "in mm, for example 0.0015mm for copper".into();
                d.help = Some("`pipecarry catalogue pipes` shows the usual values".into());
            });
            return None;
        }
        Some(PipeSize::Bore { bore, roughness })
    }

    fn pipe_size(&mut self) -> Option<PipeSize> {
        let text = self.cursor.text;
        for phrase in self.cursor.phrases(3) {
            if let Some(pipe) = self.catalogue.pipe(&text[phrase.clone()]) {
                self.cursor.at = phrase.end;
                return Some(PipeSize::Word(pipe.word.clone()));
            }
        }
        if self.size_alone() {
            return None;
        }
        let mut range = self.cursor.word_or_end();
        if self.cursor.at_number() || text[range.clone()].starts_with(['|', '?', ',', ';']) {
            self.mistake("leg-pipe-missing", range, |d| {
                d.message = "the pipe is missing".into();
                d.label = "expected a pipe, such as cu22, before this".into();
                d.help = Some("a leg is pipe, length, then fittings: \"cu22 5m 2 elbow\"".into());
            });
            return None;
        }
        self.cursor.at = range.end;
        let first = &text[range.clone()];
        if TWO_WORDS.iter().any(|w| first.eq_ignore_ascii_case(w)) {
            // take a wrong size with its family, but leave `5m` to the length
            let size = self.cursor.word_or_end();
            let is_size = size.start >= range.end && text[size.clone()].contains('/');
            if is_size {
                range.end = size.end;
                self.cursor.at = size.end;
            }
        }
        let word = clip(&text[range.clone()]);
        let near = self.catalogue.nearest_pipe(&word).map(str::to_owned);
        self.mistake("unknown-pipe", range, |d| {
            d.message = format!("there is no pipe `{word}`");
            d.label = "expected a pipe of the catalogue, or a bore".into();
            d.help = Some(match near {
                Some(near) => {
                    format!("did you mean `{near}`? `pipecarry catalogue pipes` lists all")
                }
                None => "for example cu22, pb15, pex16, ml20, steel 3/4, or `bore 17.8mm`".into(),
            });
        });
        None
    }

    /// `0.6` or `60%` after a pipe word, if it cannot be the length.
    fn odds(&mut self, odds_so_far: bool) -> Result<Option<f64>, ()> {
        if !self.cursor.at_number() {
            return Ok(None);
        }
        self.cursor.skip_blanks();
        let start = self.cursor.at;
        let Ok(read) = units::prefix(Quantity::Share, self.value_text(), Sign::Any) else {
            return Ok(None); // a length with its unit
        };
        let behind = self.cursor.rest()[read.len..].trim_start();
        if !behind.starts_with('|') && !odds_so_far {
            return Ok(None);
        }
        self.cursor.advance(read.len);
        if !(read.value > 0.0 && read.value <= 1.0) {
            let range = start..self.cursor.at;
            let word = clip(&self.cursor.text[range.clone()]);
            self.mistake("odds-wrong", range, |d| {
                d.message = format!("odds of `{word}` are impossible");
                d.label = "expected more than 0 and at most 1".into();
                d.help = Some("for example \"cu22 0.7 | pb22 0.3, 5m\"".into());
            });
            return Err(());
        }
        Ok(Some(read.value))
    }

    fn odds_add_up(&mut self, options: &[PipeOption], start: usize) -> bool {
        let given: Vec<f64> = options.iter().filter_map(|o| o.odds).collect();
        let range = start..self.cursor.at;
        if given.is_empty() {
            return true;
        }
        if given.len() < options.len() {
            self.mistake("odds-missing", range, |d| {
                d.message = "some of the alternatives have odds and some have none".into();
                d.label = "each needs its odds, or none has any".into();
                d.help = Some("for example \"cu22 0.6 | pb22 0.3 | cu15 0.1, 5m\"".into());
            });
            return false;
        }
        let sum: f64 = given.iter().sum();
        if (sum - 1.0).abs() > ODDS_TOLERANCE {
            self.mistake("odds-sum", range, |d| {
                d.message = format!("the odds add to {}, not to 1", (sum * 1e4).round() / 1e4);
                d.label = "the odds of all alternatives together must be 1".into();
                d.help = Some("for example \"cu22 0.6 | pb22 0.3 | cu15 0.1, 5m\"".into());
            });
            return false;
        }
        true
    }
}
