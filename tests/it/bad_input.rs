//! Every diagnostic code: a file that earns it and the message it gets, all mistakes of a file in one pass; and no text
//! whatever that makes the reader panic or hang. `PIPECARRY_BLESS=1` writes the messages anew, to be read as a diff.

use pipecarry::cli::term::draw;
use pipecarry::diag::{Diagnostic, Severity};
use pipecarry::network::expand;
use pipecarry::survey::codes::{CLAIMS, CODES, INNER};
use pipecarry::survey::read;
use proptest::prelude::*;
use std::collections::BTreeSet;
use std::path::Path;
use std::time::{Duration, Instant};

/// Reads and, if that goes well, joins: everything that is to be said about a file.
fn said(file: &str) -> Vec<Diagnostic> {
    let (survey, mut found) = read(file);
    if let Some(survey) = survey {
        match expand(&survey) {
            Ok((_, warnings)) => found.extend(warnings),
            Err(errors) => found.extend(errors),
        }
    }
    found
}

#[test]
fn every_code_has_a_case_with_its_message() {
    let bless = std::env::var_os("PIPECARRY_BLESS").is_some();
    let folder = Path::new("tests/data/bad");
    let mut wrong = Vec::new();
    for (code, _) in CODES {
        if *code == "file-too-large" {
            continue; // its own test: 50 MB are not kept in the repository
        }
        let path = folder.join(format!("{code}.toml"));
        let Ok(file) = std::fs::read_to_string(&path) else {
            wrong.push(format!("{code}: no case {}", path.display()));
            continue;
        };
        let found = said(&file);
        if !found.iter().any(|d| d.code == *code) {
            let codes: Vec<&str> = found.iter().map(|d| d.code).collect();
            wrong.push(format!("{code}: the case gets {codes:?}"));
        }
        let error = found.iter().any(|d| d.severity == Severity::Error);
        if error == (code.starts_with("ask-")) && !["no-head", "blend-above-flow"].contains(code) {
            wrong.push(format!("{code}: error {error}"));
        }
        for d in &found {
            let span = d.span.clone().unwrap_or(0..0);
            if file.get(span.clone()).is_none() {
                wrong.push(format!("{code}: span {span:?} is not text of the file"));
            }
            if d.help.is_none() || d.label.is_empty() {
                wrong.push(format!("{code}: {} says not what to do", d.code));
            }
        }
        let drawn = draw(&format!("{code}.toml"), &file, &found, false);
        let beside = path.with_extension("txt");
        if bless {
            std::fs::write(&beside, &drawn).expect("the message is written");
        } else if std::fs::read_to_string(&beside).ok().as_deref() != Some(&drawn) {
            wrong.push(format!(
                "{code}: the message differs from {}:\n{drawn}",
                beside.display()
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn no_case_and_no_code_without_the_other() {
    let listed: BTreeSet<&str> = CODES.iter().map(|(c, _)| *c).collect();
    assert_eq!(listed.len(), CODES.len(), "no code twice");
    for entry in std::fs::read_dir("tests/data/bad").expect("the folder") {
        let path = entry.expect("an entry").path();
        let stem = path
            .file_stem()
            .and_then(|s| s.to_str())
            .unwrap_or_default();
        assert!(listed.contains(stem), "{stem} is no code");
    }
    let known: BTreeSet<&str> = CODES
        .iter()
        .chain(INNER)
        .chain(CLAIMS)
        .map(|(c, _)| *c)
        .collect();
    let mut unknown = Vec::new();
    for path in sources(Path::new("src")) {
        let text = std::fs::read_to_string(&path).expect("a source file");
        let text = text.split("#[cfg(test)]").next().unwrap_or("");
        for call in [
            "Diagnostic::error(",
            "Diagnostic::warning(",
            "self.mistake(",
            "ask(",
        ] {
            for after in text.split(call).skip(1) {
                let word = after
                    .trim_start()
                    .strip_prefix('"')
                    .and_then(|w| w.split('"').next());
                if let Some(word) = word.filter(|w| !known.contains(w)) {
                    unknown.push(format!("{word} in {}", path.display()));
                }
            }
        }
    }
    assert!(unknown.is_empty(), "{unknown:#?}");
}

fn sources(folder: &Path) -> Vec<std::path::PathBuf> {
    let mut all = Vec::new();
    for entry in std::fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            all.extend(sources(&path));
        } else if path.extension().is_some_and(|e| e == "rs") {
            all.push(path);
        }
    }
    all.sort();
    all
}

#[test]
fn all_mistakes_of_a_file_come_in_one_pass() {
    let file = "design = { flow_temprature = 45 }\n[source.hp]\noutput = \"5 kPa\"\n[pair]\nout = [\"hp\", \"hall\", \"cu23 5m 2 elbw\"]\nup = [\"hal\", \"landing\", \"cu22 3m\"]\n[emitter]\nlounge = { from = \"hall\", leg = \"cu15 4m\", rated = -5, needs = 900 }\nbed = { from = \"landing\", leg = \"cu15 4m\", panel = \"99 600x1600\", room = \"attic\", needs = 500 }\n";
    let found = said(file);
    let codes: BTreeSet<&str> = found.iter().map(|d| d.code).collect();
    for code in [
        "unknown-key",
        "unit-wrong-kind",
        "unknown-pipe",
        "unknown-word",
        "unknown-place",
        "number-negative",
        "panel-type",
        "unknown-room",
    ] {
        assert!(codes.contains(code), "{code} is not in {codes:?}");
    }
    let places: Vec<usize> = found
        .iter()
        .filter_map(|d| Some(d.span.as_ref()?.start))
        .collect();
    assert!(places.is_sorted(), "in the order of the file");
}

#[test]
fn one_mistake_gives_one_message() {
    // a wrong leg must not make its places unknown, nor a wrong default speak once for each emitter
    let file =
        super::reading::WHOLE.replace("cu28 5m 6 elbow, strainer", "cu27 5m 6 elbow, strainer");
    assert_eq!(
        said(&file).iter().map(|d| d.code).collect::<Vec<_>>(),
        ["unknown-pipe"]
    );
    let file = super::reading::WHOLE.replace(
        "valve = \"thermostatic kv 0.5\", lockshield",
        "valve = \"thermostatic kv 0,5\", lockshield",
    );
    assert_eq!(
        said(&file).iter().map(|d| d.code).collect::<Vec<_>>(),
        ["number-comma"]
    );
}

#[test]
fn places_in_strings_with_escapes_are_exact() {
    let file = "[source.hp]\noutput = 5000\n[pair]\nout = [\"hp\", \"hall\", \"cu22\\t5m \\u0032 elbw\"]\n[emitter]\nlounge = { from = \"hall\", leg = '''cu15 4m elbbow''', rated = 2000, needs = 900 }\n";
    let words: Vec<&str> = said(file)
        .iter()
        .filter(|d| d.code == "unknown-word")
        .filter_map(|d| file.get(d.span.clone()?))
        .collect();
    assert_eq!(words, ["elbw", "elbbow"]);
}

#[test]
fn huge_deep_and_broken_files_are_refused_at_once() {
    let start = Instant::now();
    let megabytes = "a = 1\n".repeat(50_000_000 / 6);
    assert_eq!(said(&megabytes)[0].code, "file-too-large");
    for (open, close) in [("[", "]"), ("{ a = ", "}")] {
        let deep = format!("a = {}1{}", open.repeat(100_000), close.repeat(100_000));
        assert!(!said(&deep).is_empty());
        assert!(!said(&deep[..deep.len() / 2]).is_empty());
    }
    let dotted = format!("{} = 1", vec!["a"; 100_000].join("."));
    assert!(!said(&dotted).is_empty());
    // thousands of mistakes, of names and of likes: bounded work, a bounded answer
    let many: String = (0..4_000)
        .map(|i| format!("n{i} = {{ like = \"n{}\", frm = \"x{i}\" }}\n", i + 1))
        .collect();
    let found = said(&format!("[emitter]\n{many}"));
    assert!(found.len() <= 101, "{}", found.len());
    let pairs: String = (0..4_000)
        .map(|i| format!("p{i} = [\"a{i}\", \"b{i}\", \"cu22 1m\"]\n"))
        .collect();
    assert!(!said(&format!("[pair]\n{pairs}")).is_empty());
    assert!(
        start.elapsed() < Duration::from_secs(60),
        "{:?}",
        start.elapsed()
    );
}

/// Pieces of which random files are made: enough of the language to get beyond its surface.
fn piece() -> impl Strategy<Value = String> {
    let words = [
        "[pair]",
        "[emitter]",
        "[source.hp]",
        "[ring.r]",
        "[loop.l]",
        "[defaults]",
        "\n",
        "\n",
        " = ",
        "\"",
        "'",
        "[",
        "]",
        "{",
        "}",
        ",",
        "out",
        "from",
        "like",
        "leg",
        "flow",
        "return",
        "main",
        "free_head",
        "cu22",
        "5m",
        "5..7m",
        "elbow",
        "kv",
        "0.5",
        "at",
        "20 l/min",
        "7 m",
        "?",
        "|",
        "-",
        "per (m3/h)^2",
        "22 600x1600",
        "75/65/20",
        "\\u00e9",
        "é",
        "²",
        "1e999",
        "nan",
        "\"\"\"",
        "\r\n",
        "\t",
        "#",
        ".",
        "hp.flow",
        "−",
    ];
    prop_oneof![4 => proptest::sample::select(words.to_vec()).prop_map(str::to_owned), 1 => "\\PC{0,4}"]
}

proptest! {
    #![proptest_config(crate::made_up(64))]

    #[test]
    fn random_text_neither_panics_nor_hangs(text in "(?s).{0,400}") {
        let _ = draw("x", &text, &said(&text), false);
    }

    #[test]
    fn random_pieces_of_the_language_neither_panic_nor_hang(pieces in proptest::collection::vec(piece(), 0..80)) {
        let text = pieces.concat();
        let _ = draw("x", &text, &said(&text), false);
    }

    #[test]
    fn mutations_of_a_good_file_neither_panic_nor_hang(
        cuts in proptest::collection::vec((0.0..1.0f64, 0..12usize, piece()), 1..6),
    ) {
        let mut chars: Vec<char> = super::reading::WHOLE.chars().collect();
        for (at, take, put) in cuts {
            let at = (at * chars.len() as f64) as usize;
            let end = (at + take).min(chars.len());
            chars.splice(at..end, put.chars());
        }
        let text: String = chars.into_iter().collect();
        for d in said(&text) {
            prop_assert!(d.span.is_none_or(|s| text.get(s).is_some()), "{}", d.code);
        }
    }
}
