//! Made-up houses for drawing whose plant is the difficult part: two sources, plate exchangers, vessels of three and four
//! ports, cylinders, and behind them storeys, manifolds, one-pipe loops and rings. From a seed, as the text of a file.

use std::fmt::Write as _;

struct Made {
    seed: u64,
    pairs: String,
    more: String,
    emitters: String,
    count: usize,
}

impl Made {
    fn next(&mut self, below: u64) -> u64 {
        self.seed = self
            .seed
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.seed >> 33) % below.max(1)
    }

    fn number(&mut self) -> usize {
        self.count += 1;
        self.count
    }

    fn pair(&mut self, from: &str, to: &str, more: &str) -> String {
        let size = ["cu22", "cu28", "pb22", "ml26", "cu35"][self.next(5) as usize];
        let (name, length) = (format!("pair {}", self.number()), 1 + self.next(9));
        let _ = writeln!(
            self.pairs,
            "\"{name}\" = [\"{from}\", \"{to}\", \"{size} {length}m 4 elbow{more}\"]"
        );
        name
    }

    fn emitter(&mut self, from: &str) {
        let name = format!("Room {}", self.number());
        let panel = ["22 600x1200", "11 600x800", "33 600x1800"][self.next(3) as usize];
        let _ = writeln!(
            self.emitters,
            "\"{name}\" = {{ from = \"{from}\", leg = \"cu15 3m 4 elbow\", panel = \"{panel}\", room = 20, needs = \"700 W\" }}"
        );
    }

    /// Whatever may hang at a place.
    fn hang(&mut self, at: &str, depth: usize) {
        match if depth == 0 { 0 } else { self.next(8) } {
            0..=2 => (0..1 + self.next(4)).for_each(|_| self.emitter(at)),
            3 => {
                // a manifold of floor loops
                let name = format!("floor {}", self.number());
                let _ = writeln!(
                    self.more,
                    "[manifold.\"{name}\"]\nfrom = \"{at}\"\nleg = \"cu22 3m\""
                );
                for _ in 0..2 + self.next(8) {
                    let loop_name = format!("loop {}", self.number());
                    let _ = writeln!(
                        self.emitters,
                        "\"{loop_name}\" = {{ from = \"{name}\", loop = \"ml16 70m\", per_kelvin = \"60 W/K\", room = 20, needs = \"600 W\" }}"
                    );
                }
            }
            4 => {
                // a one-pipe loop
                let name = format!("ground {}", self.number());
                let mut main = String::from("\"cu22 4m 3 elbow\"");
                for _ in 0..2 + self.next(4) {
                    let room = format!("Bay {}", self.number());
                    let _ = writeln!(
                        self.emitters,
                        "\"{room}\" = {{ panel = \"22 600x1000\", leg = \"cu15 1m\", room = 20, needs = \"500 W\" }}"
                    );
                    let _ = write!(main, ", \"{room}\", \"cu22 3m\"");
                }
                let _ = writeln!(
                    self.more,
                    "[loop.\"{name}\"]\nfrom = \"{at}\"\nmain = [{main}]\nbetween = \"cu22 0.6m\""
                );
            }
            5 => {
                // a bypass, and more
                let name = format!("way {}", self.number());
                let _ = writeln!(
                    self.more,
                    "[bypass.\"{name}\"]\nat = \"{at}\"\nopening = \"20 kPa\"\nkv = 2.5\nleg = \"cu15 1m\""
                );
                self.emitter(at);
                self.emitter(at);
            }
            _ => {
                for _ in 0..2 + self.next(2) {
                    let to = format!("hall {}", self.number());
                    self.pair(at, &to, "");
                    self.emitter(&to);
                    self.hang(&to, depth - 1);
                }
            }
        }
    }

    /// Branches of a header, some with a pump of their own.
    fn branches(&mut self, from: &str) {
        for _ in 0..1 + self.next(3) {
            let to = format!("landing {}", self.number());
            let pair = self.pair(from, &to, "");
            if self.next(2) == 0 {
                let zone = format!("zone {}", self.number());
                let _ = writeln!(
                    self.more,
                    "[zone.\"{zone}\"]\non = [\"{pair}\"]\npump = [\"5 m at 0 l/min\", \"3 m at 15 l/min\"]"
                );
            }
            self.emitter(&to);
            self.hang(&to, 2);
        }
    }
}

/// The text of a made-up house.
pub fn house(seed: u64) -> String {
    let mut m = Made {
        seed: seed.wrapping_mul(0x9e37_79b9_7f4a_7c15),
        pairs: String::new(),
        more: String::new(),
        emitters: String::new(),
        count: 0,
    };
    let curve = "[\"7 m at 0 l/min\", \"3 m at 40 l/min\"]";
    let two = m.next(2) == 0;
    let mut sources = format!("[source.\"heat pump\"]\noutput = \"9 kW\"\nfree_head = {curve}\n");
    // where the sources meet
    let mut root = "heat pump".to_string();
    if two {
        let _ = write!(
            sources,
            "[source.boiler]\noutput = \"18 kW\"\nfree_head = {curve}\n"
        );
        root = "plant".into();
        let check = ", check valve kv 12 opens at 1kPa on flow";
        m.pair("heat pump", &root, check);
        m.pair("boiler", &root, check);
    }
    if m.next(2) == 0 {
        let to = "cupboard".to_string();
        m.pair(&root, &to, ", strainer kv 9 on return");
        if m.next(2) == 0 {
            let _ = writeln!(
                m.more,
                "[cylinder.store]\nfrom = \"{to}\"\nleg = \"cu28 2m 4 elbow\"\ncoil = \"kv 4\"\nwater = \"210 l\"\nstore = \"50 C\"\nflow_temperature = \"55 C\"\ndiverter = \"kv 9\""
            );
        }
        root = to;
    }
    let pump = "pump = [\"6 m at 0 l/min\", \"3 m at 30 l/min\"]\nmode = \"constant head 20 kPa\"";
    if m.next(2) == 0 {
        let _ = writeln!(
            m.more,
            "[exchanger.plate]\nfrom = \"{root}\"\nleg = \"cu28 2m\"\nnear = \"12 kPa at 23 l/min\"\nfar = \"12 kPa at 23 l/min\"\nua = \"2400 W/K\"\n{pump}"
        );
        root = "plate".into();
    }
    if m.next(3) > 0 {
        let ports = 3 + m.next(2);
        let _ = writeln!(
            m.more,
            "[vessel.header]\nwater = \"30 l\"\nports = {ports}\nfrom = \"{root}\"\nleg = \"cu28 2m 2 elbow\""
        );
        if m.next(2) == 0 {
            let _ = writeln!(m.more, "{pump}");
        }
        root = "header".into();
    }
    m.branches(&root);
    format!(
        "job = \"House {seed}\"\ndesign = {{ flow_temperature = \"50 C\", drop = \"5 K\" }}\n{sources}[pair]\n{}{}[emitter]\n{}",
        m.pairs, m.more, m.emitters
    )
}
