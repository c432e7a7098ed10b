//! Schedules of a document as CSV and as a spreadsheet: every one there, figures as figures, hostile names inert, kept and
//! known again.

use crate::world::{HOUSE, World, run_in};
use pipecarry::cli::Status;
use pipecarry::report::schedules::NAMES;

/// A house whose names would be formulas.
fn hostile() -> String {
    HOUSE
        .replace("lounge  =", "\"=1+cmd|' /C calc'!A1\" =")
        .replace("\"hall\"", "\"@hall\"")
        .replace("job = \"Test house\"", "job = \"+Test \\\"house\\\"\"")
}

fn csv_of(text: &str, name: &str) -> (Vec<String>, Vec<csv::StringRecord>) {
    let mut world = World::with("house.toml", text);
    let ran = run_in(&mut world, &["report", "house.toml", "--csv", name]);
    assert_ne!(ran.status, Status::Trouble, "{name}: {}", ran.err);
    let mut reader = csv::Reader::from_reader(ran.out.as_bytes());
    let heads = reader.headers().unwrap().iter().map(str::to_owned);
    (
        heads.collect(),
        reader.records().map(|r| r.unwrap()).collect(),
    )
}

#[test]
fn every_schedule_is_there_as_csv() {
    for name in NAMES {
        let (heads, rows) = csv_of(HOUSE, name);
        assert!(heads.len() >= 2, "{name}: {heads:?}");
        // nothing has to be changed or bought in this house
        if !["plan", "shopping"].contains(&name) {
            assert!(!rows.is_empty(), "{name}");
        }
        for row in rows {
            assert_eq!(row.len(), heads.len(), "{name}: {row:?}");
        }
    }
    let ran = run_in(
        &mut World::with("house.toml", HOUSE),
        &["report", "house.toml", "--csv", "pipes"],
    );
    assert_eq!(ran.status, Status::Trouble);
    assert!(ran.err.contains("findings"), "{}", ran.err);
}

#[test]
fn a_file_gets_the_schedule_that_it_is_named_after() {
    let mut world = World::with("house.toml", HOUSE);
    let files = ["valves.csv", "house-findings.csv", "rows.csv", "page.html"];
    for _ in 0..2 {
        // the second time over files that are ours
        let mut args = vec!["report", "house.toml"];
        args.extend(files.iter().flat_map(|f| ["-o", f]));
        let ran = run_in(&mut world, &args);
        assert_ne!(ran.status, Status::Trouble, "{}", ran.err);
        assert_eq!(ran.out, "");
        for (file, begins) in [
            ("valves.csv", "walk,emitter,storey,sets,"),
            ("house-findings.csv", "number,verdict,check,of,state,"),
            ("rows.csv", "run,name,side,kind,pipe,"),
            ("page.html", "<!DOCTYPE html>"),
        ] {
            assert!(world.text(file).starts_with(begins), "{file}");
        }
    }
    for name in NAMES {
        let file = format!("{name}.csv");
        for _ in 0..2 {
            let ran = run_in(&mut world, &["report", "house.toml", "-o", &file]);
            assert_ne!(ran.status, Status::Trouble, "{}", ran.err);
        }
    }
}

#[test]
fn names_that_look_like_formulas_are_inert_in_csv() {
    let mut met = 0;
    for name in NAMES {
        for row in csv_of(&hostile(), name).1 {
            for cell in &row {
                let formula = cell.starts_with(['=', '+', '@', '\t', '\r']);
                let minus = cell.starts_with('-') && cell.parse::<f64>().is_err();
                assert!(!formula && !minus, "{name}: {cell}");
                met += usize::from(cell.starts_with("'=1+cmd"));
            }
        }
    }
    assert!(met >= 3, "{met}");
}

#[cfg(not(feature = "xlsx"))]
#[test]
fn a_build_without_spreadsheets_says_so_before_it_does_anything() {
    let mut world = World::with("house.toml", HOUSE);
    let ran = run_in(&mut world, &["report", "house.toml", "-o", "house.xlsx"]);
    assert_eq!(ran.status, Status::Trouble);
    assert!(
        ran.err
            .contains("house.xlsx: this build writes no spreadsheets"),
        "{}",
        ran.err
    );
    assert!(ran.err.contains("--features xlsx"), "{}", ran.err);
    assert!(!world.files.contains_key(std::path::Path::new("house.xlsx")));
}

#[cfg(feature = "xlsx-tests")]
mod spreadsheet {
    use super::*;
    use calamine::{Data, Reader, Xlsx};
    use std::io::Cursor;
    use std::path::Path;

    fn written(text: &str) -> Vec<u8> {
        let mut world = World::with("house.toml", text);
        let ran = run_in(&mut world, &["report", "house.toml", "-o", "house.xlsx"]);
        assert_ne!(ran.status, Status::Trouble, "{}", ran.err);
        // what is ours may be made anew
        let again = run_in(&mut world, &["report", "house.toml", "-o", "house.xlsx"]);
        assert_ne!(again.status, Status::Trouble, "{}", again.err);
        world.files[Path::new("house.xlsx")].clone()
    }

    /// The same rows as in CSV, read by another library: figures are numbers, the rest is words.
    #[test]
    fn sheets_hold_the_schedules_with_numbers_as_numbers() {
        let text = hostile();
        let bytes = written(&text);
        let mut book = Xlsx::new(Cursor::new(bytes)).unwrap();
        assert!(book.sheet_names().len() >= 7, "{:?}", book.sheet_names());
        let mut numbers = 0;
        for name in book.sheet_names() {
            let known = NAMES.into_iter().find(|n| *n == name).unwrap();
            let (heads, rows) = csv_of(&text, known);
            let sheet = book.worksheet_range(&name).unwrap();
            assert_eq!(sheet.height(), rows.len() + 1, "{name}");
            let formulas = book.worksheet_formula(&name).unwrap();
            assert!(
                formulas.used_cells().all(|(_, _, f)| f.is_empty()),
                "{name}"
            );
            for (line, row) in rows.iter().enumerate() {
                for column in 0..heads.len() {
                    let cell = sheet.get((line + 1, column)).unwrap_or(&Data::Empty);
                    let other = row.get(column).unwrap();
                    let at = format!("{name}, {line}, {}", heads[column]);
                    match cell {
                        Data::Float(x) => {
                            numbers += 1;
                            assert_eq!(*x, other.parse::<f64>().unwrap(), "{at}");
                        }
                        Data::Int(x) => assert_eq!(*x, other.parse::<i64>().unwrap(), "{at}"),
                        Data::Bool(x) => assert_eq!(x.to_string(), other, "{at}"),
                        Data::Empty => assert_eq!(other, "", "{at}"),
                        Data::String(x) => {
                            assert_eq!(x, other.strip_prefix('\'').unwrap_or(other), "{at}");
                        }
                        cell => panic!("{at}: {cell:?}"),
                    }
                }
            }
        }
        assert!(numbers > 100, "{numbers}");
        let runs = book.worksheet_range("runs").unwrap();
        let heads: Vec<String> = runs
            .rows()
            .next()
            .unwrap()
            .iter()
            .map(|c| c.to_string())
            .collect();
        assert!(
            heads.contains(&"required flow, kg/s".to_owned()),
            "{heads:?}"
        );
        assert!(heads.contains(&"bore, mm".to_owned()), "{heads:?}");
    }

    #[test]
    fn the_same_file_gives_the_same_bytes() {
        assert_eq!(written(HOUSE), written(HOUSE));
    }

    #[test]
    fn a_spreadsheet_of_somebody_else_is_kept() {
        let mut world = World::with("house.toml", HOUSE);
        for bytes in [b"PK\x03\x04 not ours".to_vec(), b"my own".to_vec()] {
            world.files.insert("house.xlsx".into(), bytes);
            let ran = run_in(&mut world, &["report", "house.toml", "-o", "house.xlsx"]);
            assert_eq!(ran.status, Status::Trouble);
            assert!(ran.err.contains("it is kept"), "{}", ran.err);
        }
    }
}
