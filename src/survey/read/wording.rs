//! Small pieces of messages.

use toml::de::DeValue;

/// What a TOML value is, in words.
pub(crate) fn sort_of(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "text",
        DeValue::Integer(_) | DeValue::Float(_) => "a plain number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

/// Words for a message: `` `a`, `b` or `c` ``.
pub(crate) fn list<'w>(words: impl IntoIterator<Item = &'w str>) -> String {
    let words: Vec<String> = words.into_iter().map(|w| format!("`{w}`")).collect();
    match words.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} or {last}", rest.join(", ")),
        Some((last, _)) => last.clone(),
        None => String::new(),
    }
}

/// A user's word, cut if it is very long.
pub(crate) fn short(word: &str) -> String {
    const LONGEST: usize = 60;
    if word.chars().count() <= LONGEST {
        return word.to_owned();
    }
    word.chars().take(LONGEST).chain(['…']).collect()
}
