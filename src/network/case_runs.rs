//! What a person would call a run or a vessel in a reference case: every pipe is a run, but for the very wide one that
//! stands for a four-port vessel.

use super::*;

/// A pipe this wide is a vessel, m: the format says about half a metre.
const VESSEL_BORE_M: f64 = 0.3;

pub(super) fn name_runs(network: &mut Network) {
    for id in network.element_ids() {
        let element = network.element(id);
        if element.role != Role::Pipe {
            continue;
        }
        let Law::Parts(parts) = &element.law else {
            continue;
        };
        let Some((length_m, bore_m)) = parts.iter().find_map(|p| match p.law {
            PartLaw::Friction {
                length_m, bore_m, ..
            } => Some((length_m, bore_m)),
            _ => None,
        }) else {
            continue;
        };
        let (name, ends) = (element.name.clone(), network.ends(id));
        if bore_m >= VESSEL_BORE_M {
            network.vessels.push(Vessel {
                name,
                volume_m3: std::f64::consts::PI / 4.0 * bore_m * bore_m * length_m,
                body: id,
                kind: VesselKind::FourPort {
                    top: ends.0,
                    bottom: ends.1,
                    pump: None,
                },
                span: None,
            });
            network.graph[id].role = Role::Vessel;
            continue;
        }
        let index = network.runs.len();
        network.graph[id].run = Some(index);
        let bore = format!("bore {:.1} mm", bore_m * 1e3);
        network.runs.push(Run {
            name,
            tag: format!("P{}", index + 1),
            side: None,
            kind: RunKind::Single,
            elements: vec![id],
            from: ends.0,
            to: ends.1,
            partner: None,
            pipe: bore.clone(),
            size: bore,
            outside_m: None,
            bore_m,
            length_m,
            material: String::new(),
            lies: None,
            storey: None,
            doubts: Vec::new(),
            span: None,
        });
    }
}
