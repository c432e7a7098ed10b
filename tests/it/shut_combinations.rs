//! Combinations of shut valves: solved in place they are what a solve of their own gives, whoever shares the work.

use crate::house_case;
use pipecarry::network::{ElementId, Network};
use pipecarry::shut::bypass;
use pipecarry::shut::enumerate::{Asked, Combinations, Extent, combinations};
use pipecarry::shut::state::{Facts, facts, read, with_shut};
use pipecarry::shut::valves::Closable;
use pipecarry::solve::{Setting, Solver};
use pipecarry::view::running;

/// A house with its heating setting and what can close; not more than `most` valves, so that a test stays short.
fn house(file: &str, most: usize) -> (Network, Setting, Vec<Closable>) {
    let network = house_case::house(&format!("networks/{file}.toml"));
    let (base, mut valves) = house_case::heating(&network);
    valves.truncate(most);
    (network, base, valves)
}

fn all(
    network: &Network,
    base: &Setting,
    valves: &[Closable],
    spots: &[ElementId],
) -> Combinations {
    combinations(&Asked {
        network,
        base,
        valves,
        spots,
        keep: true,
        sets: true,
        extent: Extent::default(),
        progress: &|_, _| {},
        interrupted: &|| false,
    })
    .unwrap()
}

/// Two searches for a mixing set's draw end where each is content, so such houses agree to 1e-4 only.
fn tolerance(network: &Network) -> f64 {
    if network.manifolds.iter().any(|m| m.blend.is_some()) {
        1e-4
    } else {
        1e-6
    }
}

#[test]
fn a_combination_is_what_a_solve_of_its_own_gives() {
    for file in ["larch", "tansy", "vetch", "linnet", "burdock"] {
        let (network, base, valves) = house(file, 5);
        let ends = network.emitters.iter().map(|e| e.ends).take(3);
        let (network, spots) = bypass::with_valves(&network, ends);
        let mut base = bypass::fitted(&network, &base);
        spots.iter().for_each(|v| base.shut[v.index()] = true);
        let found = all(&network, &base, &valves, &spots);
        let close = tolerance(&network);
        let alike = |a: f64, b: f64, scale: f64| (a - b).abs() <= close * scale;
        let solver = Solver::new(&network);
        let mut above_pa = vec![f64::NEG_INFINITY; spots.len()];
        for light in found.tally.kept.as_ref().unwrap() {
            let setting = with_shut(&base, &valves, light.shut);
            let (mut own, state) = facts(&network, &solver, &setting, light.shut).unwrap();
            if network.manifolds.iter().any(|m| m.blend.is_some()) {
                // a search for the draw that shares nothing with the one that was used
                let found = running::solve_blended(&network, &mut setting.clone()).unwrap();
                own = read(&network, &setting, &found, light.shut);
            }
            let words = format!("{file}, {:b}: {light:?} against {own:?}", light.shut);
            assert!(alike(light.flow_m3_s, own.flow_m3_s, 1e-3), "{words}");
            assert!(alike(light.heat_w, own.heat_w, 1e4), "{words}");
            assert!(alike(light.water_m3, own.water_m3, 0.1), "{words}");
            assert!(alike(light.head_pa, own.head_pa, 1e5), "{words}");
            let loss = |f: &Facts| f.valve_dp_pa.map_or(0.0, |(pa, _)| pa);
            assert!(alike(loss(light), loss(&own), 1e5), "{words}");
            for (above, spot) in above_pa.iter_mut().zip(&spots) {
                let (a, b) = network.ends(*spot);
                let pa = state
                    .as_ref()
                    .map(|s| (s.pressure_pa[a.index()], s.pressure_pa[b.index()]));
                if let (Some((Some(a), Some(b))), false) = (pa, own.trips()) {
                    *above = above.max(a - b);
                }
            }
        }
        for (above, list) in above_pa.iter().zip(&found.tally.above_pa) {
            if let Some(found) = list[0] {
                assert!(alike(*above, found, 1e5), "{file}: {above} against {found}");
            }
        }
    }
}

#[test]
fn one_thread_or_many_find_the_same_to_the_last_bit() {
    let (network, base, valves) = house("larch", 16);
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        pool.install(|| format!("{:?}", all(&network, &base, &valves, &[])))
    };
    assert_eq!(with(1), with(3));
}
