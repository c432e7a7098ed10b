//! A pipe that is given by its size alone, as people say it: `22mm`, `22 mm copper`, `copper 22`.

use super::Reader;
use super::cursor::ends_word;
use std::ops::Range;

/// How people name a material, and the catalogue's word for it.
const MATERIALS: [(&str, &str); 9] = [
    ("copper", "copper"),
    ("cu", "copper"),
    ("steel", "steel"),
    ("plastic", "plastic"),
    ("pb", "plastic"),
    ("pex", "plastic"),
    ("multilayer", "multilayer"),
    ("mlcp", "multilayer"),
    ("ml", "multilayer"),
];
/// Outside sizes this close are the same nominal size, m.
const SAME_M: f64 = 0.0003;

fn material(word: &str) -> Option<&'static str> {
    let known = MATERIALS
        .iter()
        .find(|(said, _)| word.eq_ignore_ascii_case(said));
    known.map(|(_, material)| *material)
}

impl Reader<'_, '_> {
    /// Takes a size that stands in the place of a pipe, and says which pipes have it; false if there is none.
    pub(super) fn size_alone(&mut self) -> bool {
        let start = self.cursor.word_or_end().start;
        let words: Vec<Range<usize>> = words(self.cursor.text, start).take(4).collect();
        let said: Vec<&str> = words.iter().map(|w| &self.cursor.text[w.clone()]).collect();
        let Some((count, size_mm, material)) = sized(&said) else {
            return false;
        };
        let range = start..words[count - 1].end;
        self.cursor.at = range.end;
        let fits = self.catalogue.pipes.iter().filter(|pipe| {
            let outside = pipe
                .outside
                .is_some_and(|d| (d.0 - size_mm * 1e-3).abs() < SAME_M);
            outside && material.is_none_or(|m| pipe.material == m)
        });
        let fits: Vec<&str> = fits.map(|pipe| pipe.word.as_str()).take(6).collect();
        let said = super::clip(&self.cursor.text[range.clone()]);
        self.mistake("unknown-pipe", range, |d| {
            d.message = format!("`{said}` is a size, not a pipe of the catalogue");
            d.label = "expected the pipe's word, such as cu22".into();
            d.help = Some(match fits.split_first() {
                Some((first, [])) => format!("did you mean `{first}`?"),
                Some((first, more)) => {
                    format!(
                        "did you mean `{first}`? Of that size there are also {}",
                        more.join(", ")
                    )
                }
                None => "for example cu22, pb15, pex16, ml20, steel 3/4, or `bore 17.8mm`".into(),
            });
        });
        true
    }
}

/// How many of the words make a size, in mm, and a material if one is said.
fn sized(words: &[&str]) -> Option<(usize, f64, Option<&'static str>)> {
    let word = |i: usize| words.get(i).copied().unwrap_or_default();
    let number = |w: &str| {
        w.parse::<f64>()
            .ok()
            .filter(|mm| *mm > 0.0 && mm.is_finite())
    };
    let in_mm = |w: &str| w.strip_suffix("mm").and_then(number);
    let made = |i: usize| material(word(i));
    if let Some(mm) = in_mm(word(0)) {
        return Some((1 + usize::from(made(1).is_some()), mm, made(1)));
    }
    if let (Some(mm), "mm") = (number(word(0)), word(1)) {
        return Some((2 + usize::from(made(2).is_some()), mm, made(2)));
    }
    if let (Some(mm), Some(made)) = (number(word(0)), made(1)) {
        return Some((2, mm, Some(made)));
    }
    let made = made(0)?;
    // `copper 5m` has a length, not a size; `copper 22 5m` has both
    let lengthy = word(2).starts_with(|c: char| c.is_ascii_digit());
    match (in_mm(word(1)), number(word(1))) {
        (Some(mm), _) => Some((2, mm, Some(made))),
        (None, Some(mm)) if word(2) == "mm" => Some((3, mm, Some(made))),
        (None, Some(mm)) if lengthy => Some((2, mm, Some(made))),
        _ => None,
    }
}

/// Places of the words from a byte on.
fn words(text: &str, from: usize) -> impl Iterator<Item = Range<usize>> + '_ {
    let mut at = from;
    std::iter::from_fn(move || {
        let rest = text.get(at..)?;
        let start = at + (rest.len() - rest.trim_start().len());
        let word = text.get(start..)?;
        let end = start + word.find(ends_word).unwrap_or(word.len());
        at = end;
        (end > start).then_some(start..end)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_as_people_say_them() {
        for (text, expected) in [
            ("22mm 5m 6 elbow", Some((1, 22.0, None))),
            ("22 mm 5m", Some((2, 22.0, None))),
            ("22 mm copper 5m", Some((3, 22.0, Some("copper")))),
            ("22mm copper 5m", Some((2, 22.0, Some("copper")))),
            ("15 copper 5m", Some((2, 15.0, Some("copper")))),
            ("copper 22 5m", Some((2, 22.0, Some("copper")))),
            ("copper 22mm 5m", Some((2, 22.0, Some("copper")))),
            ("copper 22 mm 5m", Some((3, 22.0, Some("copper")))),
            ("copper 5m", None),
            ("copper 5 elbow", None),
            ("5m 6 elbow", None),
            ("cu22 5m", None),
            ("mm copper", None),
            ("", None),
        ] {
            let places: Vec<_> = words(text, 0).take(4).collect();
            let said: Vec<&str> = places.iter().map(|w| &text[w.clone()]).collect();
            assert_eq!(sized(&said), expected, "{text}");
        }
    }
}
