//! Made-up inputs on stable Rust: mutations of the shipped houses and of the bad files, for `PIPECARRY_FUZZ_SECONDS`
//! (two without it). The coverage-guided targets in `tests/fuzz` share the body.

#[path = "../fuzz/body.rs"]
mod body;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// One input may take this long on a busy machine before it counts as a hang.
const SLOWEST: Duration = Duration::from_secs(60);

fn budget() -> Duration {
    let seconds = std::env::var("PIPECARRY_FUZZ_SECONDS")
        .ok()
        .and_then(|s| s.parse().ok());
    Duration::from_secs(seconds.unwrap_or(2))
}

fn files(folder: &str) -> Vec<String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
    let mut paths: Vec<PathBuf> = std::fs::read_dir(root)
        .map(|entries| entries.filter_map(|e| Some(e.ok()?.path())).collect())
        .unwrap_or_default();
    paths.retain(|p| p.extension().is_some_and(|e| e == "toml"));
    paths.sort();
    paths
        .iter()
        .filter_map(|p| std::fs::read(p).ok())
        .map(|b| String::from_utf8_lossy(&b).into_owned())
        .collect()
}

/// Words that mistakes are made of.
const WORDS: [&str; 48] = [
    "cu22",
    "cu22?",
    "pb15",
    "steel 3/4",
    "bore 17mm",
    "5m",
    "5..7m",
    "..",
    "0",
    "-1",
    "1e999",
    "nan",
    "inf",
    "1,5",
    "0.5 |",
    "?",
    "?coil",
    "2 elbow",
    "elbow",
    "strainer kv 9",
    "on return",
    "zeta 2",
    "loss 5 kPa at 6 l/min",
    "lagging",
    "in wall",
    "storey '",
    "fittings +20%",
    "insert 9mm",
    "l/min",
    "kPa",
    "m water",
    "\"",
    "'",
    "[",
    "]",
    "{",
    "}",
    "=",
    "[pair]\n",
    "[emitter]\n",
    "[source.\"x\"]\n",
    "[room]\n",
    "like = \"lounge\"",
    "\n",
    "\\u00e9",
    "ü",
    "\u{202e}",
    "#",
];

/// Inputs that are made from what is shipped.
struct Maker {
    random: ChaCha8Rng,
    seeds: Vec<String>,
}

impl Maker {
    fn word(&mut self) -> &'static str {
        WORDS[self.random.random_range(0..WORDS.len())]
    }

    fn place(&mut self, text: &str) -> usize {
        let mut at = self.random.random_range(0..=text.len());
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        at
    }

    fn stretch(&mut self, text: &str, most: usize) -> std::ops::Range<usize> {
        let from = self.place(text);
        let mut to = (from + self.random.random_range(0..=most)).min(text.len());
        while !text.is_char_boundary(to) {
            to -= 1;
        }
        from..to.max(from)
    }

    /// A seed with a few mistakes: words put in, taken out, doubled, moved, lines swapped, letters changed.
    fn input(&mut self) -> String {
        let at = self.random.random_range(0..self.seeds.len());
        let mut text = self.seeds[at].clone();
        for _ in 0..self.random.random_range(1..6) {
            match self.random.random_range(0..7) {
                0 => {
                    let at = self.place(&text);
                    text.insert_str(at, self.word());
                }
                1 => {
                    let gone = self.stretch(&text, 20);
                    text.replace_range(gone, "");
                }
                2 => {
                    let stretch = self.stretch(&text, 60);
                    let copy = text[stretch].to_owned();
                    let at = self.place(&text);
                    text.insert_str(at, &copy);
                }
                3 => {
                    let stretch = self.stretch(&text, 8);
                    let word = self.word();
                    text.replace_range(stretch, word);
                }
                4 => {
                    let mut lines: Vec<&str> = text.split('\n').collect();
                    let (a, b) = (
                        self.random.random_range(0..lines.len()),
                        self.random.random_range(0..lines.len()),
                    );
                    lines.swap(a, b);
                    text = lines.join("\n");
                }
                5 => {
                    let letter = self.stretch(&text, 1);
                    let c = char::from_u32(self.random.random_range(1..0x2ff)).unwrap_or('x');
                    text.replace_range(letter, &c.to_string());
                }
                _ => {
                    let other = self.random.random_range(0..self.seeds.len());
                    let other = self.seeds[other].clone();
                    let stretch = self.stretch(&other, 200);
                    let at = self.place(&text);
                    text.insert_str(at, &other[stretch]);
                }
            }
        }
        text
    }
}

fn finds_folder() -> PathBuf {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/fuzz-finds");
    std::fs::create_dir_all(&folder).expect("a folder for the finds");
    folder
}

type Now = Arc<Mutex<Option<(Instant, String)>>>;

/// Watches the input at work: one that never ends is written down and stops the whole run.
fn watched(name: &'static str) -> Now {
    let now = Now::default();
    let seen = Arc::downgrade(&now);
    std::thread::spawn(move || {
        while let Some(now) = seen.upgrade() {
            if let Some((begun, text)) = &*now.lock().expect("nobody panics with the lock")
                && begun.elapsed() > SLOWEST
            {
                std::fs::write(finds_folder().join(format!("{name}-hang.toml")), text)
                    .expect("a find written");
                std::process::abort();
            }
            drop(now);
            std::thread::sleep(Duration::from_millis(250));
        }
    });
    now
}

/// Runs a body on made-up inputs and tells how many were sound; fails with the inputs that broke it.
fn run(name: &'static str, seeds: Vec<String>, share: u32, body: fn(&str) -> bool) {
    assert!(!seeds.is_empty(), "{name}: nothing to begin with");
    let seed = std::env::var("PIPECARRY_FUZZ_SEED")
        .ok()
        .and_then(|s| s.parse().ok())
        .unwrap_or(1);
    let mut maker = Maker {
        random: ChaCha8Rng::seed_from_u64(seed),
        seeds,
    };
    let now = watched(name);
    let begun = Instant::now();
    let (mut runs, mut sound) = (0_u64, 0_u64);
    let mut finds: Vec<String> = Vec::new();
    // a busy machine makes few inputs in that time: go on until one was sound, within reason
    let little = |runs: u64, sound: u64| runs < 2000 && (sound == 0 || runs <= 10);
    while (begun.elapsed() < budget() / share || little(runs, sound)) && finds.len() < 10 {
        let text = maker.input();
        let one = Instant::now();
        *now.lock().expect("nobody panics with the lock") = Some((one, text.clone()));
        let outcome = catch_unwind(AssertUnwindSafe(|| body(&text)));
        *now.lock().expect("nobody panics with the lock") = None;
        runs += 1;
        match outcome {
            Ok(fine) => sound += u64::from(fine),
            Err(_) => finds.push(text),
        }
    }
    #[allow(clippy::print_stdout)]
    {
        println!(
            "{name}: {runs} inputs, {sound} of them sound, {} finds, seed {seed}",
            finds.len()
        );
    }
    if !finds.is_empty() {
        let folder = finds_folder();
        for (at, text) in finds.iter().enumerate() {
            std::fs::write(folder.join(format!("{name}-{seed}-{at}.toml")), text)
                .expect("a find written");
        }
        panic!("{name}: {} finds in {}", finds.len(), folder.display());
    }
    assert!(
        runs > 10,
        "{name}: too slow to mean anything: {runs} inputs"
    );
    assert!(
        sound > 0,
        "{name}: no made-up input was sound, so nothing behind the reader was reached"
    );
}

#[test]
fn made_up_files_are_read_or_refused() {
    let mut seeds = files("networks");
    seeds.extend(files("tests/data/bad"));
    seeds.extend(files("tests/data/stories"));
    run("reader", seeds, 2, body::reader);
}

#[test]
fn made_up_legs_are_read_or_refused() {
    let legs = [
        "cu22? 5..7m 2 elbow under tiles, strainer kv 9 on return",
        "cu10x0.6 0.5 | cu10x0.7 0.2 | cu10x0.8 0.3 ?coil, 8m?paced fittings +20%",
        "bore 26.2mm roughness 0.0015mm 22ft zeta 4.8 under boards lagging 19mm storey 'first floor' old",
        "steel 1 1/4 16ft 4 elbow rusty, loss 1.2kPa at 20l/min exponent 1.8 on flow",
        "pb15 3m 2 elbow insert 9mm, check valve kv 12 opens at 1kPa, flow-holding valve holds 12 l/min",
    ];
    run("leg", legs.map(str::to_owned).to_vec(), 2, body::leg);
}
