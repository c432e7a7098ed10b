//! What is wrong with an input, as data: a diagnostic knows its place in the file, what was expected and the nearest
//! right word; only `cli::term` draws it.

use std::ops::Range;

/// Bytes of the input text, start to end.
pub type Span = Range<usize>;

/// How bad a diagnostic is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// Something to ask about; the work goes on.
    Warning,
    /// The file cannot be used.
    Error,
}

/// One thing to say about the input.
#[derive(Clone, Debug, PartialEq)]
pub struct Diagnostic {
    /// Whether the work can go on.
    pub severity: Severity,
    /// A stable short code such as `unknown-place`; every code has a case under `tests/data/bad`.
    pub code: &'static str,
    /// What is wrong, naming the user's own key and value.
    pub message: String,
    /// The word it is about, if the input is a text and the word stands in it.
    pub span: Option<Span>,
    /// What was expected there, shown beside the pointer.
    pub label: String,
    /// Other places that matter, each with a remark.
    pub also: Vec<(Span, String)>,
    /// What to do, including the nearest right word.
    pub help: Option<String>,
}

impl Diagnostic {
    /// An error at `span`.
    pub fn error(code: &'static str, span: Span, message: impl Into<String>) -> Self {
        Self {
            severity: Severity::Error,
            code,
            message: message.into(),
            span: Some(span),
            label: String::new(),
            also: Vec::new(),
            help: None,
        }
    }

    /// A warning at `span`.
    pub fn warning(code: &'static str, span: Span, message: impl Into<String>) -> Self {
        Self {
            severity: Severity::Warning,
            ..Self::error(code, span, message)
        }
    }

    /// The same with the words beside the pointer.
    pub fn label(mut self, text: impl Into<String>) -> Self {
        self.label = text.into();
        self
    }

    /// The same with a second place.
    pub fn also(mut self, span: Span, text: impl Into<String>) -> Self {
        self.also.push((span, text.into()));
        self
    }

    /// The same with what to do.
    pub fn help(mut self, text: impl Into<String>) -> Self {
        self.help = Some(text.into());
        self
    }
}

/// Whether any of them stops the work.
pub fn any_error(diagnostics: &[Diagnostic]) -> bool {
    diagnostics.iter().any(|d| d.severity == Severity::Error)
}

/// The candidate that `word` was most likely meant to be, for `did you mean`: the fewest letters to change, at most
/// half of them; on a tie the one with the longer common beginning, then the first. Case does not count.
pub fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    const LONGEST: usize = 64; // nobody misspells a longer word by a letter, and the distance costs its square
    let word = word.trim().to_lowercase();
    let letters = word.chars().count();
    if letters == 0 || letters > LONGEST {
        return None;
    }
    let mut best: Option<(usize, usize, &str)> = None;
    for candidate in candidates {
        let lower = candidate.to_lowercase();
        let length = lower.chars().count();
        if length > LONGEST {
            continue;
        }
        let distance = strsim::osa_distance(&word, &lower);
        if distance * 2 > letters.max(length) {
            continue;
        }
        let common = word
            .chars()
            .zip(lower.chars())
            .take_while(|(a, b)| a == b)
            .count();
        if best.is_none_or(|(d, c, _)| distance < d || (distance == d && common > c)) {
            best = Some((distance, common, candidate));
        }
    }
    best.map(|(_, _, candidate)| candidate)
}
