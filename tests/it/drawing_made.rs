//! Made-up networks for drawing: structures nested in one another, from a seed, as solved cases in JSON.

/// A made-up case: numbers from a seed, structures nested in one another.
struct Made {
    seed: u64,
    nodes: usize,
    elements: Vec<String>,
    left: usize,
}

impl Made {
    fn next(&mut self, below: u64) -> u64 {
        self.seed = self
            .seed
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.seed >> 33) % below.max(1)
    }

    fn node(&mut self) -> usize {
        self.nodes += 1;
        self.nodes - 1
    }

    fn add(&mut self, what: &str, a: usize, b: usize) {
        let id = self.elements.len();
        let (a, b) = if self.next(9) == 0 && !what.contains("thermal") && !what.contains("pump") {
            (b, a)
        } else {
            (a, b)
        };
        self.elements.push(format!(
            r#"{{"id":"e{id}","from":"n{a}","to":"n{b}",{what}}}"#
        ));
        self.left = self.left.saturating_sub(1);
    }

    fn pipe(&mut self, a: usize, b: usize) {
        let bore = [0.0068, 0.0088, 0.0136, 0.0202, 0.0262, 0.0326][self.next(6) as usize];
        let length = 1.0 + self.next(80) as f64 / 10.0;
        self.add(
            &format!(r#""type":"pipe","length_m":{length},"bore_m":{bore},"roughness_m":1.5e-6,"zeta":1.0"#),
            a,
            b,
        );
    }

    fn rung(&mut self, a: usize, b: usize) {
        let (p, q, r) = (self.node(), self.node(), self.node());
        self.pipe(a, p);
        let open = self.next(8) > 0;
        self.add(
            &format!(r#""type":"valve","kv_m3h":0.6,"open":{open}"#),
            p,
            q,
        );
        self.add(
            r#""type":"resistance","dp_ref_pa":800.0,"q_ref_m3h":0.15,"exponent":2.0,"thermal":{"kind":"emitter","q_n_w":1500.0,"n":1.3,"room_c":20.0}"#,
            q,
            r,
        );
        self.pipe(r, b);
    }

    fn block(&mut self, a: usize, b: usize, depth: usize) {
        if depth == 0 || self.left < 8 {
            return self.rung(a, b);
        }
        match self.next(8) {
            0 => self.rung(a, b),
            1 => {
                // a star
                let n = 2 + self.next(5);
                let (p, q) = (self.node(), self.node());
                self.pipe(a, p);
                for _ in 0..n {
                    self.rung(p, q);
                }
                self.pipe(q, b);
            }
            2 => {
                // a one-pipe loop
                let n = 2 + self.next(4);
                let mut here = self.node();
                self.pipe(a, here);
                for _ in 0..n {
                    let other = self.node();
                    self.pipe(here, other);
                    self.rung(here, other);
                    here = self.node();
                    self.pipe(other, here);
                }
                self.pipe(here, b);
            }
            3 => {
                // a reverse return
                let n = 3 + self.next(4) as usize;
                let f: Vec<usize> = (0..n).map(|_| self.node()).collect();
                let r: Vec<usize> = (0..n).map(|_| self.node()).collect();
                self.pipe(a, f[0]);
                for i in 0..n {
                    self.rung(f[i], r[i]);
                    if i + 1 < n {
                        self.pipe(f[i], f[i + 1]);
                        self.pipe(r[i], r[i + 1]);
                    }
                }
                self.pipe(r[n - 1], b);
            }
            4 => {
                // a ladder with a cross-link
                let (p, q, s, t) = (self.node(), self.node(), self.node(), self.node());
                self.pipe(a, p);
                self.pipe(q, b);
                self.rung(p, q);
                self.pipe(p, s);
                self.pipe(t, q);
                self.block(s, t, depth - 1);
                self.block(s, t, depth - 1);
                if self.next(3) == 0 {
                    self.pipe(p, t);
                }
            }
            _ => {
                let n = 1 + self.next(6);
                let (mut f, mut r) = (self.node(), self.node());
                self.pipe(a, f);
                self.pipe(r, b);
                for _ in 0..n {
                    if self.next(3) == 0 {
                        self.block(f, r, depth - 1);
                    } else {
                        self.rung(f, r);
                    }
                    let (g, s) = (self.node(), self.node());
                    self.pipe(f, g);
                    self.pipe(s, r);
                    (f, r) = (g, s);
                }
                self.block(f, r, depth - 1);
            }
        }
    }
}

/// The text of a made-up case of about `size` elements.
pub fn made(seed: u64, size: usize) -> String {
    let mut m = Made {
        seed,
        nodes: 4,
        elements: Vec::new(),
        left: size,
    };
    m.add(
        r#""type":"resistance","dp_ref_pa":9000.0,"q_ref_m3h":1.0,"exponent":2.0,"thermal":{"kind":"source","flow_c":50.0}"#,
        0,
        1,
    );
    m.add(
        r#""type":"pump","curve":{"kind":"quadratic","a_pa":60000.0,"b_pa_per_m3h":0.0,"c_pa_per_m3h2":-4000.0},"speed":1.0"#,
        1,
        2,
    );
    m.pipe(3, 0);
    m.block(2, 3, 3);
    if size > 40 {
        let n = m.next(3);
        for _ in 0..n {
            m.block(2, 3, 2);
        }
    }
    let nodes: Vec<String> = (0..m.nodes)
        .map(|i| format!(r#"{{"id":"n{i}"}}"#))
        .collect();
    format!(
        r#"{{"id":"made {seed}","fluid":{{"rho_kg_m3":990.0,"mu_pa_s":6e-4,"cp_j_kgk":4180.0}},"reference_node":"n0","reference_pressure_pa":0.0,"nodes":[{}],"elements":[{}]}}"#,
        nodes.join(","),
        m.elements.join(",")
    )
}

/// Seed and size of the n-th case: 5 to 150 elements.
pub fn case(n: u64) -> (u64, usize) {
    (n * 7919 + 1, 5 + (n as usize * 37) % 146)
}
