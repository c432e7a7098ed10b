//! Where the reference data lies: copies in `tests/data`, or the folder that `PIPECARRY_REFERENCE` names.

#![allow(clippy::print_stdout)] // a part that is skipped must be said

use std::path::{Path, PathBuf};

/// Parts of the reference data.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Folder {
    /// `networks/*.json`
    Networks,
    /// `examples/*.toml`
    Examples,
    /// `pipe_pressure_gradient.csv`
    Gradient,
}

const ALL: [Folder; 3] = [Folder::Networks, Folder::Examples, Folder::Gradient];

impl Folder {
    fn paths(self, root: &Path) -> Vec<PathBuf> {
        let (folder, ending) = match self {
            Folder::Networks => ("networks", "json"),
            Folder::Examples => ("examples", "toml"),
            Folder::Gradient => {
                let file = root.join("pipe_pressure_gradient.csv");
                return file.exists().then_some(file).into_iter().collect();
            }
        };
        let Ok(entries) = std::fs::read_dir(root.join(folder)) else {
            return Vec::new();
        };
        let mut paths: Vec<PathBuf> = entries
            .map(|entry| entry.unwrap_or_else(|e| panic!("{folder}: {e}")).path())
            .filter(|path| path.extension().is_some_and(|e| e == ending))
            .collect();
        paths.sort();
        paths
    }
}

/// The folder in use, and whether it is our own copy.
pub fn root() -> (PathBuf, bool) {
    let home = Path::new(env!("CARGO_MANIFEST_DIR"));
    match std::env::var_os("PIPECARRY_REFERENCE") {
        Some(named) => {
            let root = home.join(named);
            assert!(
                root.is_dir(),
                "PIPECARRY_REFERENCE names {}, which is no folder",
                root.display()
            );
            let parts = ALL
                .iter()
                .filter(|part| !part.paths(&root).is_empty())
                .count();
            assert!(
                parts > 0,
                "{} holds no networks/*.json, examples/*.toml or pipe_pressure_gradient.csv",
                root.display()
            );
            (root, false)
        }
        None => (home.join("tests/data"), true),
    }
}

/// Name and text of each file of a part; `None`, said aloud, if the folder named lacks it. A file that cannot be read
/// fails.
pub fn files(part: Folder) -> Option<Vec<(String, String)>> {
    let (root, own) = root();
    let paths = part.paths(&root);
    if paths.is_empty() {
        assert!(!own, "tests/data lacks {part:?}");
        println!("{part:?}: skipped, not in {}", root.display());
        return None;
    }
    let read = |path: PathBuf| {
        let text =
            std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
        (
            path.file_stem()
                .unwrap_or_default()
                .to_string_lossy()
                .into_owned(),
            text,
        )
    };
    Some(paths.into_iter().map(read).collect())
}
