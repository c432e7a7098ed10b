//! The files that README writes are run as they stand there.

use pipecarry::cli::{Disk, Io, Status, run};

/// The file that stands first after a heading of the README, and what a command says about it.
fn of_readme(heading: &str, command: &str) -> (Status, String) {
    let readme = include_str!("../../README.md");
    let chapter = readme.split(heading).nth(1).expect("the chapter");
    let file = chapter
        .split("```toml\n")
        .nth(1)
        .and_then(|t| t.split("```").next())
        .expect("its file");
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("house.toml");
    std::fs::write(&path, file).expect("written");
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let mut io = Io {
        out: &mut out,
        err: &mut err,
        files: &mut Disk,
        colour_out: false,
        colour_err: false,
    };
    let status = run(["pipecarry".into(), command.into(), path.into()], &mut io);
    assert!(err.is_empty(), "{}", String::from_utf8_lossy(&err));
    (status, String::from_utf8_lossy(&out).into_owned())
}

#[test]
fn the_house_that_readme_writes_from_scratch_holds() {
    let (status, said) = of_readme("## A house from scratch", "check");
    assert_eq!(status, Status::Holds, "{said}");
}

#[test]
fn the_floor_that_readme_writes_holds_and_its_ports_are_set() {
    let (status, said) = of_readme("### With a floor below", "check");
    assert_eq!(status, Status::Holds, "{said}");
    assert!(said.contains("surface of heated floors"), "{said}");
    let (status, said) = of_readme("### With a floor below", "balance");
    assert_eq!(status, Status::Holds, "{said}");
    let row = |name: &str| {
        let line = said
            .lines()
            .find(|l| l.trim_start().starts_with(name) && l.contains(" port "));
        line.unwrap_or_else(|| panic!("no port of {name}:\n{said}"))
            .to_owned()
    };
    assert!(row("living").contains("3.0 t, open"), "{said}");
    assert!(row("hall").contains("0.6 turns"), "{said}");
}
