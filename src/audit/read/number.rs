//! Numbers as schedules write them: decimal commas, signs between thousands; understood where only one reading is
//! possible.

/// What the rest of a schedule says about its commas and points.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Style {
    /// Some number of it can only have a decimal comma.
    pub comma: bool,
    /// Some number of it can only have a decimal point.
    pub point: bool,
    /// A single point before three digits is not taken for a decimal sign without proof.
    pub asks_about_points: bool,
}

/// A number that can be read in two ways.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Ambiguous {
    /// With its sign as a decimal sign.
    pub decimal: String,
    /// With its sign between thousands.
    pub thousands: String,
}

/// What a number shows of the decimal sign, taken by itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Shows {
    Nothing,
    Comma,
    Point,
    Either(char),
    /// Signs that no number has.
    Wrong,
}

/// The number at the beginning of a text: its digits and signs, and the rest.
fn split(text: &str) -> (&str, &str, &str) {
    let start = text.len() - text.trim_start().len();
    let body = &text[start..];
    let signed = body
        .chars()
        .next()
        .filter(|c| matches!(c, '+' | '-' | '−' | '–'))
        .map_or(0, char::len_utf8);
    let digits = &body[signed..];
    let mut end = 0;
    for (at, c) in digits.char_indices() {
        let rest = &digits[at + c.len_utf8()..];
        let three = || {
            let n = rest.bytes().take_while(u8::is_ascii_digit).count();
            n == 3
        };
        let goes_on = match c {
            '0'..='9' => true,
            '.' | ',' => at > 0 && rest.starts_with(|d: char| d.is_ascii_digit()),
            ' ' | '\u{a0}' | '\u{202f}' | '\'' | '’' => at > 0 && three(),
            _ => false,
        };
        if !goes_on {
            break;
        }
        end = at + c.len_utf8();
    }
    (&body[..signed], &digits[..end], &digits[end..])
}

/// Whether every sign `mark` parts groups of three digits, one to three before the first.
fn grouped(digits: &str, mark: char) -> bool {
    let mut groups = digits.split(mark);
    let first = groups.next().map_or(0, str::len);
    (1..=3).contains(&first) && groups.all(|g| g.len() == 3)
}

fn shows(digits: &str) -> Shows {
    let digits: String = digits
        .chars()
        .filter(|c| c.is_ascii_digit() || matches!(c, '.' | ','))
        .collect();
    let (commas, points) = (digits.matches(',').count(), digits.matches('.').count());
    // with both, the last is decimal and the other parts thousands; one that comes twice can only part thousands
    match (commas, points) {
        (0, 0) => Shows::Nothing,
        (1, _) if points > 0 && digits.rfind(',') > digits.rfind('.') => {
            both(&digits, ',', '.').map_or(Shows::Wrong, |()| Shows::Comma)
        }
        (_, 1) if commas > 0 && digits.rfind('.') > digits.rfind(',') => {
            both(&digits, '.', ',').map_or(Shows::Wrong, |()| Shows::Point)
        }
        (1, 0) if digits.starts_with("0,") || !grouped(&digits, ',') => Shows::Comma,
        (0, 1) if digits.starts_with("0.") || !grouped(&digits, '.') => Shows::Point,
        (1, 0) => Shows::Either(','),
        (0, 1) => Shows::Either('.'),
        (0, _) if grouped(&digits, '.') => Shows::Comma,
        (_, 0) if grouped(&digits, ',') => Shows::Point,
        (_, _) => Shows::Wrong,
    }
}

/// Whether what stands before a decimal sign is parted into thousands by the other sign.
fn both(digits: &str, decimal: char, thousands: char) -> Option<()> {
    let (whole, _) = digits.split_once(decimal)?;
    grouped(whole, thousands).then_some(())
}

impl Style {
    /// Learns from one number of the schedule.
    pub fn learn(&mut self, text: &str) {
        match shows(split(text).1) {
            Shows::Comma => self.comma = true,
            Shows::Point => self.point = true,
            Shows::Nothing | Shows::Either(_) | Shows::Wrong => {}
        }
    }
}

/// The text with its number in plain digits and a decimal point; as it is if it begins with no number.
///
/// # Errors
/// Both readings, where the number has two and the schedule does not tell.
pub(super) fn plain(text: &str, style: Style) -> Result<String, Ambiguous> {
    let (sign, digits, rest) = split(text);
    let decimal_at = |mark: char| -> String {
        digits
            .chars()
            .filter_map(|c| match c {
                '0'..='9' => Some(c),
                c if c == mark => Some('.'),
                _ => None,
            })
            .collect()
    };
    let bare = || decimal_at('\0');
    let written = match shows(digits) {
        Shows::Nothing => bare(),
        Shows::Comma => decimal_at(','),
        Shows::Point => decimal_at('.'),
        Shows::Wrong => return Ok(text.to_owned()), // 1,2,3: the reader of figures says so
        Shows::Either(mark) => {
            let (as_decimal, as_thousands) = match mark {
                ',' => (style.comma && !style.point, style.point && !style.comma),
                _ => (
                    style.point || !style.comma && !style.asks_about_points,
                    style.comma && !style.point,
                ),
            };
            match (as_decimal, as_thousands) {
                (true, _) => decimal_at(mark),
                (false, true) => bare(),
                (false, false) => {
                    return Err(Ambiguous {
                        decimal: format!("{sign}{}", decimal_at(mark)),
                        thousands: format!("{sign}{}", bare()),
                    });
                }
            }
        }
    };
    Ok(format!("{sign}{written}{rest}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    const NONE: Style = Style {
        comma: false,
        point: false,
        asks_about_points: false,
    };
    const COMMA: Style = Style {
        comma: true,
        ..NONE
    };
    const POINT: Style = Style {
        point: true,
        ..NONE
    };

    #[test]
    fn numbers_with_one_reading_are_understood() {
        for (text, style, read) in [
            ("26 l/min", NONE, "26 l/min"),
            ("1,05 m/s", NONE, "1.05 m/s"),
            ("0,805", NONE, "0.805"),
            ("1.234,5 W", NONE, "1234.5 W"),
            ("1,234.5 W", NONE, "1234.5 W"),
            ("1 234 W", NONE, "1234 W"),
            ("9'000 W", NONE, "9000 W"),
            ("1,234,567 W", NONE, "1234567 W"),
            ("1.234.567 W", NONE, "1234567 W"),
            ("2,5,1 m", NONE, "2,5,1 m"),
            ("1.2.3 m", NONE, "1.2.3 m"),
            ("1,23.4 m", NONE, "1,23.4 m"),
            ("1,234 W", COMMA, "1.234 W"),
            ("1.234 W", COMMA, "1234 W"),
            ("1,234 W", POINT, "1234 W"),
            ("1.234 W", NONE, "1.234 W"),
            ("-3,5 C", NONE, "-3.5 C"),
            ("kv 0,6", NONE, "kv 0,6"),
        ] {
            assert_eq!(plain(text, style).as_deref(), Ok(read), "{text}");
        }
    }

    #[test]
    fn a_number_with_two_readings_is_asked_about() {
        let both = plain("1,234 W", NONE).unwrap_err();
        assert_eq!((&*both.decimal, &*both.thousands), ("1.234", "1234"));
        let asks = Style {
            asks_about_points: true,
            ..NONE
        };
        assert!(plain("1.234 W", asks).is_err());
        let mixed = Style {
            comma: true,
            point: true,
            ..NONE
        };
        assert!(plain("1,234 W", mixed).is_err());
    }
}
