//! How fast the solver is on this machine.
//!
//!     cargo run --release --example speed [CASE.json ...] [--quick] [--states] [--hydraulics] [--once]
//!
//! Without cases: three houses, all 2^12 valve states of the 12-radiator house, and districts of 1e3, 1e4 and 1e5
//! elements. `first` is from a network at rest to the answer with ordering and pattern found on the way; `again` with
//! those kept from an earlier solve, every start cold. Times are the best of several, of processor time where the system
//! tells it. `--states` leaves out all but the valve states, `--hydraulics` leaves out heat, and `--once` solves only once,
//! to see how much memory that takes.

#![allow(clippy::print_stdout)]

use pipecarry::network::{self, ElementId, Network, reference};
use pipecarry::solve::{Light, Setting, SolveError, Solver, Way};
use pipecarry::survey;
use std::ops::ControlFlow;
use std::time::Instant;

/// Seconds that this thread has run, which other work on the machine does not lengthen; by the clock where the system
/// does not tell.
fn ran() -> f64 {
    static BEGUN: std::sync::OnceLock<Instant> = std::sync::OnceLock::new();
    let told = std::fs::read_to_string("/proc/thread-self/schedstat");
    let told = told
        .ok()
        .and_then(|t| t.split(' ').next()?.parse::<f64>().ok());
    told.map_or_else(
        || BEGUN.get_or_init(Instant::now).elapsed().as_secs_f64(),
        |ns| ns / 1e9,
    )
}

/// The same for all threads together, in steps of 10 ms.
fn all_ran() -> Option<f64> {
    let text = std::fs::read_to_string("/proc/self/stat").ok()?;
    let after = text.rsplit_once(") ")?.1;
    let ticks: f64 = after
        .split(' ')
        .skip(11)
        .take(2)
        .flat_map(str::parse::<f64>)
        .sum();
    Some(ticks / 100.0)
}

fn best(times: usize, mut run: impl FnMut()) -> f64 {
    (0..times)
        .map(|_| {
            let start = Instant::now();
            let before = ran();
            run();
            // some systems move the counter on only every 4 ms: the clock is the better one for what is short
            let clock = start.elapsed().as_secs_f64();
            if clock < 0.1 { clock } else { ran() - before }
        })
        .fold(f64::INFINITY, f64::min)
}

fn line(name: &str, network: &Network, times: usize, (heat, once): (bool, bool)) {
    let mut setting = Setting::of(network, &network.states[0]);
    setting.heat = false;
    if once {
        let solver = Solver::new(network);
        let steps = solver.ready(&setting).expect("ready").solve();
        println!("{name}: {} steps", steps.expect("solves"));
        return;
    }
    let first = best(times.min(5), || {
        let solver = Solver::new(network);
        solver
            .ready(&setting)
            .expect("ready")
            .solve()
            .expect("solves");
    });
    let solver = Solver::new(network);
    let mut ready = solver.ready(&setting).expect("ready");
    let mut steps = 0;
    let again = best(times, || steps = ready.solve().expect("solves"));
    let laws = best(times, || ready.laws());
    let assembly = best(times, || ready.assemble());
    let both = best(times, || {
        ready.assemble();
        ready.factorise();
    });
    let factor = (both - assembly).max(0.0);
    let full = best(if heat { times.min(5) } else { 0 }, || {
        let mut setting = setting.clone();
        setting.heat = true;
        solver.solve(&setting).expect("solves");
    });
    let part = |s: f64| 100.0 * s / (laws + assembly + factor).max(1e-12);
    println!(
        "{name:<28}{:>8}{:>12.1}{:>12.1}{:>12.1}{:>6}{:>8.0}{:>8.0}{:>8.0}",
        network.graph.edge_count(),
        again * 1e6,
        first * 1e6,
        full * 1e6,
        steps,
        part(laws),
        part(assembly),
        part(factor),
    );
}

/// Repetitions that take about a second.
fn times(network: &Network) -> usize {
    (400_000 / network.graph.edge_count()).clamp(4, 4000)
}

/// All combinations of valves, and how many have no answer.
fn states(name: &str, network: &Network, valves: &[ElementId], heat: bool) {
    let ways: Vec<Way> = valves
        .iter()
        .map(|&id| Way {
            elements: vec![id],
            pumps: Vec::new(),
        })
        .collect();
    let mut setting = Setting::of(network, &network.states[0]);
    setting.heat = heat;
    let solver = Solver::new(network);
    let (mut refused, mut steps, mut rounds) = (0, 0, 0);
    let mut clock = f64::INFINITY;
    let (times, before) = (if ways.len() > 12 { 3 } else { 20 }, all_ran());
    for _ in 0..times {
        let start = Instant::now();
        (refused, steps, rounds) = (0, 0, 0);
        let look = |sum: &mut [u32; 3], _: u64, answer: Result<Light<'_>, SolveError>| match answer
        {
            Ok(light) => {
                sum[1] += light.stats().iterations;
                sum[2] += light.stats().heat_rounds;
            }
            Err(_) => sum[0] += 1,
        };
        let join = |block: [u32; 3], _| {
            refused += block[0];
            steps += block[1];
            rounds += block[2];
            ControlFlow::Continue(())
        };
        let all = 1 << ways.len();
        let _ = solver
            .fold_states(&setting, &ways, all, |k| k, || [0; 3], look, join)
            .expect("ready");
        clock = clock.min(start.elapsed().as_secs_f64());
    }
    let each = |now: f64| (now - before.unwrap_or(0.0)) / f64::from(times);
    let processors = all_ran()
        .filter(|_| before.is_some())
        .map_or(clock, |now| each(now) / 2.0);
    let what = if heat { "with heat" } else { "hydraulics" };
    println!(
        "2^{} valve states of {name}, {} elements, {what}: {:.1} ms, {:.1} ms of each of two processors, {refused} without an answer, {:.1} steps and {:.1} rounds each",
        valves.len(),
        network.graph.edge_count(),
        clock * 1e3,
        processors * 1e3,
        f64::from(steps) / f64::from(1_u32 << ways.len()),
        f64::from(rounds) / f64::from(1_u32 << ways.len()),
    );
}

fn main() {
    let (flags, cases): (Vec<String>, Vec<String>) =
        std::env::args().skip(1).partition(|a| a.starts_with("--"));
    // for an instruction count: nothing but solves, as many as asked for
    if let Some(count) = flags
        .iter()
        .find_map(|f| f.strip_prefix("--repeat=")?.parse::<u32>().ok())
    {
        for path in &cases {
            let text = std::fs::read_to_string(path).expect("a case file");
            let network = reference::load(&text).expect("a case");
            let mut setting = Setting::of(&network, &network.states[0]);
            setting.heat = false;
            let solver = Solver::new(&network);
            let mut ready = solver.ready(&setting).expect("ready");
            (0..count).for_each(|_| {
                ready.solve().expect("solves");
            });
        }
        return;
    }
    let flag = |name: &str| flags.iter().any(|f| f == name);
    let how = (!flag("--hydraulics"), flag("--once"));
    println!(
        "{:<28}{:>8}{:>12}{:>12}{:>12}{:>6}{:>8}{:>8}{:>8}",
        "", "elements", "again, us", "first, us", "heat, us", "steps", "laws %", "asm %", "fact %"
    );
    for path in &cases {
        match std::fs::read_to_string(path).map(|text| reference::load(&text)) {
            Ok(Ok(network)) => line(path, &network, times(&network), how),
            Ok(Err(why)) => println!("{path}: {why}"),
            Err(why) => println!("{path}: {why}"),
        }
    }
    if !cases.is_empty() {
        return;
    }
    let load = |text: &str| reference::load(text).expect("a case of our own");
    let houses = [
        (
            "house of 8 radiators",
            load(include_str!("../tests/data/speed_networks/house_8.json")),
        ),
        (
            "house of 12 radiators",
            load(include_str!("../tests/data/speed_networks/house_12.json")),
        ),
        (
            "house of 28 radiators",
            load(include_str!("../tests/data/speed_networks/house_28.json")),
        ),
    ];
    for (name, network) in houses.iter().filter(|_| !flag("--states")) {
        line(name, network, times(network), how);
    }
    let of_twelve = &houses[1].1;
    let valves: Vec<ElementId> = of_twelve
        .element_ids()
        .filter(|&id| of_twelve.element(id).name.starts_with("trv"))
        .take(12)
        .collect();
    states(houses[1].0, of_twelve, &valves, false);
    states(houses[1].0, of_twelve, &valves, true);
    let (survey, _) = survey::read::read(include_str!("../tests/data/houses/sixteen.toml"));
    let (written, _) = network::expand(&survey.expect("a survey")).expect("a network");
    let valves: Vec<ElementId> = written.emitters.iter().filter_map(|e| e.valve).collect();
    line("house of 16, as written", &written, 200, how);
    states("a house as written", &written, &valves, false);
    states("a house as written", &written, &valves, true);
    if flag("--states") {
        return;
    }
    let sizes: &[u32] = if flag("--quick") {
        &[1000]
    } else {
        &[1000, 10_000, 100_000]
    };
    for &elements in sizes {
        for looped in [false, true] {
            let text = district::make(elements, looped, 1);
            let name = format!(
                "district, {}, {elements}",
                if looped { "looped" } else { "tree" }
            );
            let network = load(&text);
            line(&name, &network, times(&network), how);
        }
    }
}

/// Street grids with a consumer at every corner: supply and return on a spanning tree of the grid, `looped` with 35 % of
/// the remaining streets as well. Random numbers are SplitMix64 in the order of the code.
mod district {
    use pipecarry::hydraulics::friction;
    use std::fmt::Write as _;

    /// Inner diameters of steel pipe, m.
    const BORES: [f64; 21] = [
        0.0217, 0.0273, 0.036, 0.0419, 0.0545, 0.0703, 0.0825, 0.1071, 0.1325, 0.1603, 0.2101,
        0.263, 0.3127, 0.3444, 0.3938, 0.4444, 0.4954, 0.5958, 0.695, 0.794, 0.994,
    ];
    const ROUGH: f64 = 5e-5;
    /// IAPWS-95, 60 °C, 1.5 bar: density, viscosity.
    const WATER: (f64, f64) = (983.2171, 4.66047e-4);

    struct Random(u64);

    impl Random {
        fn next(&mut self) -> u64 {
            self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
            let mut z = self.0;
            z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
            z ^ (z >> 31)
        }
        fn share(&mut self) -> f64 {
            (self.next() >> 11) as f64 / (1_u64 << 53) as f64
        }
        fn between(&mut self, a: f64, b: f64) -> f64 {
            a + (b - a) * self.share()
        }
    }

    /// Smallest bore within 100 Pa/m at a flow in m³/h, and its gradient.
    fn size(q: f64) -> (f64, f64) {
        let (rho, mu) = WATER;
        let gradient = |d: f64| {
            let v = q / 3600.0 / friction::area_m2(d);
            let f = friction::factor((rho * v * d / mu).max(4000.0), ROUGH / d).0;
            f / d * rho * v * v / 2.0
        };
        let fits = BORES
            .iter()
            .map(|&d| (d, gradient(d)))
            .find(|(_, g)| *g <= 100.0);
        fits.unwrap_or((BORES[20], gradient(BORES[20])))
    }

    fn tenth(x: f64) -> f64 {
        (x * 10.0).round() / 10.0
    }

    pub fn make(elements: u32, looped: bool, seed: u64) -> String {
        let mut r = Random(
            seed.wrapping_mul(1_000_003)
                .wrapping_add(u64::from(elements)),
        );
        let per = if looped { 3.7 } else { 3.0 };
        let m = ((f64::from(elements) / per).sqrt().round_ties_even() as usize).max(2);
        let n = m * m;
        let demand: Vec<f64> = (0..n).map(|_| r.between(0.3, 1.5)).collect();
        let mut parent = vec![0; n];
        let (mut edges, mut extra) = (Vec::new(), Vec::new());
        for k in 1..n {
            let (i, j) = (k % m, k / m);
            let mut ways = Vec::new();
            if i > 0 {
                ways.push(k - 1);
            }
            if j > 0 {
                ways.push(k - m);
            }
            let p = if ways.len() == 1 {
                ways[0]
            } else {
                ways[(r.next() % 2) as usize]
            };
            parent[k] = p;
            edges.push((p, k, tenth(r.between(15.0, 60.0))));
            for &o in ways.iter().filter(|&&o| o != p) {
                let length = tenth(r.between(15.0, 60.0));
                extra.push((o, k, length, r.share() < 0.35));
            }
        }
        let mut sum = demand.clone();
        for k in (1..n).rev() {
            sum[parent[k]] += sum[k];
        }
        let mut text = String::from("{\"id\":\"district\",\"elements\":[");
        let mut drop = vec![0.0; n];
        let pair = |text: &mut String, p: usize, k: usize, length: f64, d: f64| {
            for (side, a, b) in [("s", p, k), ("r", k, p)] {
                let _ = write!(
                    text,
                    "{{\"id\":\"{side}{p}_{k}\",\"type\":\"pipe\",\"from\":\"{side}{a}\",\"to\":\"{side}{b}\",\"length_m\":{length},\"bore_m\":{d},\"roughness_m\":{ROUGH},\"zeta\":1.0}},"
                );
            }
        };
        for &(p, k, length) in &edges {
            let (d, g) = size(sum[k]);
            drop[k] = drop[p] + 2.0 * 1.1 * g * length;
            pair(&mut text, p, k, length, d);
        }
        if looped {
            for &(o, k, length, keep) in &extra {
                if keep {
                    pair(
                        &mut text,
                        o,
                        k,
                        length,
                        size(0.4 * sum[o].min(sum[k]) + 0.5).0,
                    );
                }
            }
        }
        let head = 6e4 + 1.05 * drop.iter().fold(0.0_f64, |a, b| a.max(*b));
        for k in 0..n {
            let left = (head - drop[k]).max(2e4);
            let kv = demand[k] / (left / 1e5 / (WATER.0 / 1000.0)).sqrt() * r.between(0.8, 1.2);
            let watt = demand[k] * 15000.0;
            let _ = write!(
                text,
                "{{\"id\":\"c{k}\",\"type\":\"valve\",\"from\":\"s{k}\",\"to\":\"r{k}\",\"kv_m3h\":{kv},\"open\":true,\"thermal\":{{\"kind\":\"emitter\",\"q_n_w\":{watt},\"n\":1.3,\"room_c\":20.0}}}},"
            );
        }
        let q = sum[0];
        let a = 1.3 * (head + 2e4);
        let c = -(a - head - 2e4) / (q * q);
        let _ = write!(
            text,
            "{{\"id\":\"plant\",\"type\":\"resistance\",\"from\":\"r0\",\"to\":\"out\",\"dp_ref_pa\":20000.0,\"q_ref_m3h\":{q},\"exponent\":2.0,\"thermal\":{{\"kind\":\"source\",\"flow_c\":70.0}}}},\
             {{\"id\":\"pump\",\"type\":\"pump\",\"from\":\"out\",\"to\":\"s0\",\"speed\":1.0,\"curve\":{{\"kind\":\"quadratic\",\"a_pa\":{a},\"b_pa_per_m3h\":0.0,\"c_pa_per_m3h2\":{c}}}}}],"
        );
        let nodes: Vec<String> = (0..n)
            .flat_map(|k| {
                [
                    format!("{{\"id\":\"s{k}\"}}"),
                    format!("{{\"id\":\"r{k}\"}}"),
                ]
            })
            .collect();
        let _ = write!(
            text,
            "\"nodes\":[{},{{\"id\":\"out\"}}],\"reference_node\":\"r0\",\"reference_pressure_pa\":0.0,\"fluid\":{{\"rho_kg_m3\":{},\"mu_pa_s\":{},\"cp_j_kgk\":4184.845}}}}",
            nodes.join(","),
            WATER.0,
            WATER.1
        );
        text
    }
}
