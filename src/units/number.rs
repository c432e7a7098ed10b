//! The number that a text begins with.

use super::read::{boundary, fault, lookup};
use super::{Dimension, Problem, Quantity, Unit, UnitError};

/// A number as written.
#[derive(Clone, Copy)]
pub(super) struct Number {
    pub(super) value: f64,
    /// `kv` or `cv` written before it.
    pub(super) prefix_unit: Option<&'static Unit>,
}

/// Finds the number that a text begins with: its value and its bytes.
pub(super) fn number(quantity: Quantity, text: &str) -> Result<(Number, usize, usize), UnitError> {
    let mut start = text.len() - text.trim_start().len();
    if start == text.len() {
        return Err(fault(quantity, text, 0..text.len(), Problem::Empty));
    }
    let mut prefix_unit = None;
    if quantity == Quantity::Kv {
        let letters = text[start..]
            .bytes()
            .take_while(u8::is_ascii_alphabetic)
            .count();
        if let Some(unit) =
            lookup(quantity, &text[start..start + letters]).filter(|u| u.dimension == Dimension::Kv)
        {
            prefix_unit = Some(unit);
            let rest = &text[start + letters..];
            start = text.len() - rest.trim_start().len();
        }
    }
    let word_end = start + text[start..].find(boundary).unwrap_or(text.len() - start);
    let word = &text[start..word_end];
    let bare = word
        .trim_start_matches(['+', '-', '−'])
        .to_ascii_lowercase();
    if matches!(bare.as_str(), "nan" | "inf" | "infinity" | "infinite") {
        return Err(fault(quantity, text, start..word_end, Problem::NotFinite));
    }
    let signed = match word.chars().next() {
        Some(c @ ('+' | '-' | '−' | '–')) => c.len_utf8(),
        _ => 0,
    };
    let digits_at = start + signed;
    let len = decimal_len(&text[digits_at..]);
    if len == 0 {
        return Err(fault(quantity, text, start..word_end, Problem::NotANumber));
    }
    let mut end = digits_at + len;
    let after = &text.as_bytes()[end..];
    if after.first() == Some(&b',') && after.get(1).is_some_and(u8::is_ascii_digit) {
        let tail = 1 + decimal_len(&text[end + 1..]);
        let better = text[start..end + tail].replace(',', ".");
        return Err(fault(
            quantity,
            text,
            start..end + tail,
            Problem::Comma(better),
        ));
    }
    let mut value: f64 = text[digits_at..end]
        .parse()
        .map_err(|_| fault(quantity, text, start..end, Problem::NotANumber))?;
    if quantity.dimension() == Some(Dimension::Length)
        && let Some((fraction, len)) = fraction(value, &text[end..])
    {
        value = fraction;
        end += len;
    }
    if signed > 0 && !word.starts_with('+') {
        value = -value;
    }
    if !value.is_finite() {
        return Err(fault(quantity, text, start..end, Problem::NotFinite));
    }
    Ok((Number { value, prefix_unit }, start, end))
}

/// Bytes of an unsigned decimal number; a point counts only if no second one follows, so that `5..7` ends at `5`.
fn decimal_len(text: &str) -> usize {
    let bytes = text.as_bytes();
    let digits = |from: usize| {
        bytes[from.min(bytes.len())..]
            .iter()
            .take_while(|b| b.is_ascii_digit())
            .count()
    };
    let mut len = digits(0);
    if bytes.get(len) == Some(&b'.') && bytes.get(len + 1) != Some(&b'.') {
        let after = digits(len + 1);
        if len == 0 && after == 0 {
            return 0;
        }
        len += 1 + after;
    }
    if len > 0
        && bytes
            .get(len)
            .is_some_and(|b| b.eq_ignore_ascii_case(&b'e'))
    {
        let sign = usize::from(bytes.get(len + 1).is_some_and(|b| matches!(b, b'+' | b'-')));
        let after = digits(len + 1 + sign);
        if after > 0 {
            len += 1 + sign + after;
        }
    }
    len
}

/// `3/4` after 3, or `1 1/4` after 1: the value of the whole and the bytes of the rest.
fn fraction(first: f64, rest: &str) -> Option<(f64, usize)> {
    let number = |text: &str| -> Option<(f64, usize)> {
        let len = text.bytes().take_while(u8::is_ascii_digit).count();
        Some((text[..len].parse().ok()?, len))
    };
    if let Some(below) = rest.strip_prefix('/') {
        let (below, len) = number(below)?;
        return Some((first / below, 1 + len));
    }
    let spaced = rest.strip_prefix(' ')?;
    let (above, len) = number(spaced)?;
    let (below, len_below) = number(spaced[len..].strip_prefix('/')?)?;
    (above < below).then_some((first + above / below, 1 + len + 1 + len_below))
}
