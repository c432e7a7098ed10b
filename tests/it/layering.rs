//! Who may use whom: a stage uses only stages below it, one dependency has one home, the core does no input or output.

use std::path::{Path, PathBuf};

/// Modules by level; a module may use what stands on a lower line. Those on one line do not know each other.
const LEVELS: &[&[&str]] = &[
    &["diag", "quantity", "maths"],
    &["units", "fluid"],
    &["catalogue"],
    &["survey"],
    &["network"],
    &["hydraulics"],
    &["solve"],
    &["view"],
    &["check"],
    &["plan", "shut", "balance", "audit", "trace"],
    &["draw"],
    &["report"],
    &["cli"],
];

/// Where a third-party crate may be used, by the beginning of the file's path in `src/`.
const HOMES: &[(&str, &[&str])] = &[
    ("petgraph", &["network/", "solve/", "view/", "draw/"]), // the graph is Network's; its own methods and ids go with it
    ("nalgebra", &["solve/"]),
    ("nalgebra_sparse", &["solve/"]),
    ("amd", &["solve/"]),
    ("libm", &["maths.rs"]),
    ("seuif97", &["fluid"]),
    ("svg", &["draw/svg", "draw/plot"]),
    ("maud", &["report/"]),
    ("clap", &["cli/"]),
    ("clap_complete", &["cli/"]),
    ("clap_mangen", &["cli/"]),
    ("annotate_snippets", &["cli/"]),
    ("tempfile", &["cli/"]),
    ("anstream", &["main.rs"]),
    (
        "serde_json",
        &["report/json", "network/reference", "survey/schema"],
    ),
    ("schemars", &["report/json", "survey/schema"]),
    ("csv", &["report/csv"]),
    ("rust_xlsxwriter", &["report/xlsx"]),
    ("zip", &["report/xlsx"]),
    ("toml", &["survey/read/", "catalogue/", "audit/read/"]),
    ("toml_edit", &["plan/", "cli/"]),
    ("strsim", &["diag.rs"]),
    ("sha2", &["report/", "cli/"]),
];

/// Standard functions whose last digit differs from machine to machine.
const UNSURE: &[&str] = &[
    "exp", "exp2", "exp_m1", "ln", "ln_1p", "log", "log2", "log10", "powf", "sin", "cos", "tan",
    "asin", "acos", "atan", "atan2", "sinh", "cosh", "tanh", "asinh", "acosh", "atanh", "cbrt",
    "hypot", "sin_cos",
];

struct Source {
    /// Path within `src/`, with slashes.
    path: String,
    /// Text without comments and string literals.
    code: String,
    lines: usize,
}

fn sources() -> Vec<Source> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    let mut folders = vec![root.clone()];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path: PathBuf = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == "rs") {
                files.push(path);
            }
        }
    }
    files.sort();
    let read = |path: &PathBuf| {
        let text = std::fs::read_to_string(path).unwrap();
        let inside = path.strip_prefix(&root).unwrap();
        Source {
            path: inside.to_string_lossy().replace('\\', "/"),
            lines: text.lines().count(),
            code: bare(&text),
        }
    };
    files.iter().map(read).collect()
}

/// Code without comments and string literals, so that words in them do not count.
fn bare(text: &str) -> String {
    let mut out = String::new();
    let mut letters = text.chars().peekable();
    let mut last = ' ';
    while let Some(c) = letters.next() {
        match c {
            '/' if letters.peek() == Some(&'/') => {
                while letters.peek().is_some_and(|&c| c != '\n') {
                    letters.next();
                }
            }
            '"' if last != '\'' => {
                while let Some(c) = letters.next() {
                    match c {
                        '\\' => drop(letters.next()),
                        '"' => break,
                        _ => {}
                    }
                }
                out.push_str("\"\"");
            }
            c => out.push(c),
        }
        last = c;
    }
    out
}

fn module(path: &str) -> &str {
    path.split('/').next().unwrap().trim_end_matches(".rs")
}

/// Modules of this crate that a file names: `crate::a::…` and `crate::{a::…, b}`.
fn used(code: &str) -> Vec<String> {
    let word = |text: &str| {
        text.chars()
            .take_while(|c| c.is_alphanumeric() || *c == '_')
            .collect::<String>()
    };
    let mut found = Vec::new();
    for (at, _) in code.match_indices("crate::") {
        let rest = &code[at + "crate::".len()..];
        match rest.strip_prefix('{') {
            None => found.push(word(rest)),
            Some(group) => {
                let mut depth = 0;
                let mut begins = true;
                for (i, c) in group.char_indices() {
                    match c {
                        '{' => depth += 1,
                        '}' if depth == 0 => break,
                        '}' => depth -= 1,
                        ',' if depth == 0 => begins = true,
                        c if begins && (c.is_alphanumeric() || c == '_') => {
                            found.push(word(&group[i..]));
                            begins = false;
                        }
                        _ => {}
                    }
                }
            }
        }
    }
    found
}

fn level(module: &str) -> Option<usize> {
    LEVELS.iter().position(|level| level.contains(&module))
}

#[test]
fn every_stage_uses_only_what_is_below_it() {
    let mut wrong = Vec::new();
    for source in sources() {
        let own = module(&source.path);
        if own == "lib" || own == "main" {
            continue;
        }
        let Some(mine) = level(own) else {
            wrong.push(format!("{}: the module has no level", source.path));
            continue;
        };
        for other in used(&source.code) {
            if other != own && level(&other).is_some_and(|theirs| theirs >= mine) {
                wrong.push(format!(
                    "{} uses crate::{other}, which is not below it",
                    source.path
                ));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn one_dependency_has_one_home() {
    let mut wrong = Vec::new();
    for source in sources() {
        for (name, homes) in HOMES {
            let named = source
                .code
                .match_indices(&format!("{name}::"))
                .any(|(at, _)| {
                    let before = source.code[..at].chars().next_back();
                    let own = source.code[..at].ends_with("crate::")
                        || source.code[..at].ends_with("super::");
                    let start = match before {
                        None => true,
                        // `::csv` is the crate where a module of ours has its name; `report::csv` is that module
                        Some(':') => source.code[..at]
                            .trim_end_matches(':')
                            .ends_with(|c: char| !c.is_alphanumeric()),
                        Some(c) => !c.is_alphanumeric() && c != '_',
                    };
                    start && !own && !(*name == "csv" && before != Some(':'))
                });
            let ours = matches!(*name, "svg")
                && !source.path.starts_with("draw/svg")
                && uses_our_svg(&source.code);
            if named && !ours && !homes.iter().any(|home| source.path.starts_with(home)) {
                wrong.push(format!(
                    "{} uses {name}, whose home is {}",
                    source.path,
                    homes.join(", ")
                ));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// `svg::` after `use crate::draw::{svg, …}` is our module of that name.
fn uses_our_svg(code: &str) -> bool {
    code.contains("crate::draw") || code.contains("super::svg")
}

#[test]
fn the_core_neither_reads_nor_writes() {
    let outside = [
        "std::fs",
        "std::env",
        "std::net",
        "std::process",
        "std::time",
        "std::thread",
        "println!",
        "eprintln!",
        "print!(",
        "eprint!(",
        "dbg!(",
        "SystemTime",
        "Instant::now",
        "HashMap",
        "HashSet",
    ];
    let mut wrong = Vec::new();
    for source in sources() {
        if source.path == "main.rs" || source.path.starts_with("cli/") {
            continue;
        }
        for word in outside {
            if source.code.contains(word) {
                wrong.push(format!("{}: {word}", source.path));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn transcendental_functions_come_from_one_library() {
    let mut wrong = Vec::new();
    for source in sources().iter().filter(|s| s.path != "maths.rs") {
        for name in UNSURE {
            for call in [format!(".{name}("), format!("f64::{name}")] {
                let met = source.code.match_indices(&call).any(|(at, _)| {
                    let after = source.code[at + call.len()..].chars().next().unwrap_or(' ');
                    call.ends_with('(') || !(after.is_alphanumeric() || after == '_')
                });
                if met {
                    wrong.push(format!("{}: {call}", source.path));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn no_file_is_too_long() {
    const MOST: usize = 500;
    let long: Vec<String> = sources()
        .iter()
        .filter(|s| s.lines > MOST)
        .map(|s| format!("{}: {} lines", s.path, s.lines))
        .collect();
    assert!(long.is_empty(), "over {MOST} lines:\n{}", long.join("\n"));
}

#[test]
fn main_is_a_thin_shell() {
    let main = sources().into_iter().find(|s| s.path == "main.rs").unwrap();
    assert!(main.lines < 40, "{} lines", main.lines);
}

#[test]
fn the_reader_of_code_sees_what_counts() {
    let code = bare(
        "use crate::{draw::svg, units::Show}; // crate::cli\nlet a = \"crate::cli\"; crate::maths::exp(x)",
    );
    assert_eq!(used(&code), ["draw", "units", "maths"]);
}
