//! A made-up disk on which the shell runs in this process, and a house to run it on.

use pipecarry::cli::{self, Files, Io, Status};
use std::collections::BTreeMap;
use std::io::{self, ErrorKind};
use std::path::{Path, PathBuf};

pub(crate) const HOUSE: &str = r#"
job = "Test house"
design = { flow_temperature = "50 C", drop = "5 K", outside = "-3 C" }
[source."heat pump"]
output = "4 kW"
least_output = "1 kW"
least_flow = "5 l/min"
greatest_flow = "20 l/min"
defrost_flow = "5 l/min"
free_head = ["7 m at 0 l/min", "6 m at 20 l/min", "5 m at 30 l/min"]
[pair]
out = ["heat pump", "hall", "cu28 5m 4 elbow"]
[emitter]
lounge  = { from = "hall", leg = "cu15 4m 4 elbow", panel = "33 600x1600", room = 20, needs = "1300 W", lockshield = "kv 1.6", valve = "thermostatic kv 0.9" }
kitchen = { from = "hall", leg = "cu15 3m 4 elbow", panel = "22 600x1600", room = 18, needs = "1000 W", lockshield = "kv 1.6", valve = "thermostatic kv 0.9" }
"#;

/// A made-up disk and standard input; paths may be told to fail.
#[derive(Default)]
pub(crate) struct World {
    pub(crate) files: BTreeMap<PathBuf, Vec<u8>>,
    pub(crate) unreadable: BTreeMap<PathBuf, ErrorKind>,
    pub(crate) unwritable: BTreeMap<PathBuf, ErrorKind>,
    pub(crate) stdin: Vec<u8>,
}

impl Files for World {
    fn read(&mut self, path: &Path, cap: u64) -> io::Result<Vec<u8>> {
        if let Some(&kind) = self.unreadable.get(path) {
            return Err(kind.into());
        }
        let bytes = self.files.get(path).ok_or(ErrorKind::NotFound)?;
        Ok(bytes.iter().copied().take(cap as usize + 1).collect())
    }

    fn stdin(&mut self, cap: u64) -> io::Result<Vec<u8>> {
        Ok(self.stdin.iter().copied().take(cap as usize + 1).collect())
    }

    fn write(&mut self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        if let Some(&kind) = self.unwritable.get(path) {
            return Err(kind.into());
        }
        self.files.insert(path.to_owned(), bytes.to_owned());
        Ok(())
    }

    fn same(&self, a: &Path, b: &Path) -> bool {
        a == b
    }
}

impl World {
    pub(crate) fn with(name: &str, text: &str) -> Self {
        let mut world = Self::default();
        world.files.insert(name.into(), text.as_bytes().to_owned());
        world
    }

    pub(crate) fn text(&self, name: &str) -> String {
        String::from_utf8(self.files[Path::new(name)].clone()).unwrap()
    }
}

/// What one run left behind.
pub(crate) struct Ran {
    pub(crate) status: Status,
    pub(crate) out: String,
    pub(crate) err: String,
}

pub(crate) fn run_in(world: &mut World, args: &[&str]) -> Ran {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let mut io = Io {
        out: &mut out,
        err: &mut err,
        files: world,
        colour_out: false,
        colour_err: false,
    };
    let all = std::iter::once("pipecarry").chain(args.iter().copied());
    let status = cli::run(all.map(Into::into), &mut io);
    Ran {
        status,
        out: String::from_utf8(out).unwrap(),
        err: String::from_utf8(err).unwrap(),
    }
}
