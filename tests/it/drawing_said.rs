//! What a sheet tells its reader beside the pipes: what fails, in which state, what a plan changes, in which figures.

use crate::cli::{World, run_in};

/// House, command with the drawing's name in it, what stands on the sheet, what does not.
/// Source of each: the words of the command's own report on the same house, and the levels of detail in README.
type Row = (
    &'static str,
    &'static [&'static str],
    &'static [&'static str],
    &'static [&'static str],
);

const ROWS: &[Row] = &[
    // the unit that is short of head carries the figure itself
    (
        "larch",
        &["draw", "house.toml", "-o", "sheet.svg"],
        &["6.00 m &gt; 5.05", "1.36 m/s &gt; 1.00", "free head"],
        &["lockshield kv"],
    ),
    // a failure of another state is said with its state
    (
        "tansy",
        &["draw", "house.toml", "-o", "sheet.svg"],
        &["Checks: 1 fail,", "[upstairs off] heat pump fails: flow"],
        &[],
    ),
    // as it runs, nothing of what is required stands beside it
    (
        "tansy",
        &["draw", "house.toml", "--running", "-o", "sheet.svg"],
        &["floor pump: 8.50 l/min"],
        &["free head", "Index "],
    ),
    (
        "larch",
        &[
            "draw",
            "house.toml",
            "--decimal",
            "comma",
            "-o",
            "sheet.svg",
        ],
        &["1,36 m/s &gt; 1,00"],
        &["1.36 m/s"],
    ),
    (
        "larch",
        &["draw", "house.toml", "--level", "full", "-o", "sheet.svg"],
        &["lockshield kv 0.78", "1300 W · 50.0/45.0 °C", "loss 1.78 m"],
        &[],
    ),
    (
        "larch",
        &["shut", "house.toml", "--state", "all", "--svg", "sheet.svg"],
        &["heat pump trips: 9.75 l/min, least 14.0 l/min"],
        &[],
    ),
    (
        "larch",
        &["upsize", "house.toml", "-o", "sheet.svg"],
        &["Changed F1/R1: 32 ML (26.0), was 22 Cu", ">changed pipe<"],
        &["to be 32 ML"],
    ),
];

#[test]
fn a_sheet_says_what_its_reader_asks() {
    for (house, args, there, absent) in ROWS {
        let text = std::fs::read_to_string(format!("networks/{house}.toml")).unwrap();
        let mut world = World::with("house.toml", &text);
        let ran = run_in(&mut world, args);
        let sheet = world.text("sheet.svg").replace('\u{a0}', " ");
        for word in *there {
            assert!(sheet.contains(word), "{args:?}: {word}: {}", ran.err);
        }
        for word in *absent {
            assert!(!sheet.contains(word), "{args:?}: {word}");
        }
    }
}
