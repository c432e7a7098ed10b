//! What two files say differently, key by key, whatever order or layout they have.

use toml::{Table, Value};

/// One key that two files do not have alike.
#[derive(Clone, Debug, PartialEq)]
pub struct Difference {
    /// Where: `emitter.lounge.needs`; within a list with its place, `pair.primary, 3`.
    pub key: String,
    /// As the first file has it; `None` if it has not.
    pub first: Option<String>,
    /// As the second file has it.
    pub second: Option<String>,
}

/// Every key that differs, in the order of the alphabet; `None` if one of the texts is no TOML.
pub fn differences(first: &str, second: &str) -> Option<Vec<Difference>> {
    let a: Table = toml::from_str(first).ok()?;
    let b: Table = toml::from_str(second).ok()?;
    let mut found = Vec::new();
    tables("", &a, &b, &mut found);
    Some(found)
}

/// A key as the file would have it after those above.
fn below(above: &str, key: &str) -> String {
    let plain = !key.is_empty()
        && key
            .chars()
            .all(|c| c.is_ascii_alphanumeric() || matches!(c, '_' | '-'));
    let key = if plain {
        key.to_owned()
    } else {
        Value::from(key).to_string()
    };
    match above {
        "" => key,
        _ => format!("{above}.{key}"),
    }
}

fn tables(above: &str, a: &Table, b: &Table, found: &mut Vec<Difference>) {
    for (key, first) in a {
        let at = below(above, key);
        match b.get(key) {
            Some(second) => values(&at, first, second, found),
            None => only(&at, first, true, found),
        }
    }
    for (key, second) in b.iter().filter(|(key, _)| !a.contains_key(*key)) {
        only(&below(above, key), second, false, found);
    }
}

/// What one file alone has: each of its keys, so that a line stays short.
fn only(at: &str, value: &Value, first: bool, found: &mut Vec<Difference>) {
    match value {
        Value::Table(table) if !table.is_empty() => {
            for (key, value) in table {
                only(&below(at, key), value, first, found);
            }
        }
        value => {
            let words = Some(value.to_string());
            let (first, second) = if first { (words, None) } else { (None, words) };
            found.push(Difference {
                key: at.to_owned(),
                first,
                second,
            });
        }
    }
}

fn values(at: &str, a: &Value, b: &Value, found: &mut Vec<Difference>) {
    match (a, b) {
        (Value::Table(a), Value::Table(b)) => tables(at, a, b, found),
        (Value::Array(a), Value::Array(b)) if a.len() == b.len() => {
            for (place, (a, b)) in a.iter().zip(b).enumerate() {
                values(&format!("{at}, {}", place + 1), a, b, found);
            }
        }
        (a, b) if a == b => {}
        (a, b) => found.push(Difference {
            key: at.to_owned(),
            first: Some(a.to_string()),
            second: Some(b.to_string()),
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn order_and_layout_are_no_difference() {
        let a = "x = 1\n[emitter]\nlounge = { needs = \"1 kW\", room = 20 }\n";
        let b = "[emitter.lounge]\nroom = 20\nneeds = '1 kW'\n# a remark\n[emitter]\n";
        let b = format!("x = 1\n{}", b.replace("\n[emitter]\n", "\n"));
        assert_eq!(differences(a, &b), Some(Vec::new()));
    }

    #[test]
    fn keys_that_differ_are_named_once() {
        let a = "[pair]\nup = ['a', 'b', 'cu22 3m']\n[emitter]\n'bed 1' = { room = 18 }\n";
        let b = "[pair]\nup = ['a', 'b', 'cu28 3m']\n[emitter]\n'bed 1' = { room = 18, needs = '1 kW' }\n[units]\nflow = 'l/s'\n";
        let found = differences(a, b).unwrap();
        let said: Vec<(&str, Option<&str>, Option<&str>)> = found
            .iter()
            .map(|d| (d.key.as_str(), d.first.as_deref(), d.second.as_deref()))
            .collect();
        assert_eq!(
            said,
            [
                ("emitter.\"bed 1\".needs", None, Some("\"1 kW\"")),
                ("pair.up, 3", Some("\"cu22 3m\""), Some("\"cu28 3m\"")),
                ("units.flow", None, Some("\"l/s\"")),
            ]
        );
        assert_eq!(differences("a = ", b), None);
    }
}
