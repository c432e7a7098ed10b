//! Balancing: settings that give each emitter its flow, sensitivities, readings and the next adjustment.

use pipecarry::balance::{self, Balance, Why};
use pipecarry::network::{Network, expand};
use pipecarry::survey::read;

fn house(text: &str) -> Network {
    let (survey, said) = read(text);
    let survey = survey.unwrap_or_else(|| panic!("{said:?}"));
    expand(&survey).unwrap_or_else(|e| panic!("{e:?}")).0
}

fn balanced(network: &Network) -> Balance {
    balance::balance(network).unwrap_or_else(|e| panic!("{}: {e:?}", network.title))
}

#[test]
fn as_it_runs_every_emitter_gets_its_design_flow_or_it_is_said_why_not() {
    let mut files: Vec<_> = std::fs::read_dir("networks")
        .unwrap()
        .map(|f| f.unwrap().path())
        .collect();
    files.sort();
    for path in files {
        let network = house(&std::fs::read_to_string(&path).unwrap());
        let b = balanced(&network);
        println!("== {}", path.display());
        for p in &b.pumps {
            println!(
                "  {} {:?} -> {:?} needed {:.0} full {:.0} short {:.0} q {:.2} l/min speed {:?} prop {:?} index {:?}",
                network.pumps[p.pump].name,
                p.was,
                p.control,
                p.needed_pa,
                p.full_pa,
                p.short_pa,
                p.flow_m3_s * 60000.0,
                p.speed,
                p.proportional_pa,
                p.index.map(|i| &network.emitters[i].name)
            );
        }
        for (i, v) in b.valves.iter().enumerate() {
            println!(
                "  {:14} kv {:?} {:.4} of {:.4} ({:+.2} %) auth {:?} {:?} {:?}",
                network.emitters[i].name,
                v.kv_m3h,
                v.gets_kg_s,
                v.wanted_kg_s,
                100.0 * (v.gets_kg_s / v.wanted_kg_s - 1.0),
                v.authority,
                v.why,
                v.warnings.len()
            );
        }
        println!("  walk {:?} {:.1} m", b.walk.order, b.walk.length_m);
        if let Some(m) = &b.mild {
            println!("  mild {:?}", m.sources);
        }
    }
    let _ = Why::Others;
    panic!();
}
