//! From a study to the published layout.

use super::*;
use crate::check::{self, Study, Subject, TightBecause};
use crate::network::{HouseState, Network, PartGroup, RunKind};
use crate::report::rounded;
use crate::solve::SourceLimit;
use crate::survey::Side;
use crate::view::{BasisUsed, Bites, LockshieldFrom, PumpedCircuit, Required, Running};

/// The whole study; `state` leaves only one state of the house, by index.
pub fn check(study: &Study, state: Option<usize>) -> Check {
    let network = &study.network;
    let wanted = |s: usize| state.is_none_or(|only| only == s);
    let required: Vec<&Required> = study.required.iter().filter(|r| wanted(r.state)).collect();
    let running: Vec<&Running> = study.running.iter().filter(|r| wanted(r.state)).collect();
    Check {
        schema: SCHEMA.into(),
        version: VERSION,
        made_by: crate::report::MADE_BY.into(),
        job: network.title.clone(),
        verdict: verdict(study.verdict),
        not_shown: study.not_shown,
        assumed: network
            .assumed
            .iter()
            .map(|a| Assumed {
                subject: a.subject.clone(),
                value: a.value.clone(),
                source: a.source.clone(),
            })
            .collect(),
        findings: study
            .findings
            .iter()
            .filter(|f| f.state.is_none_or(wanted))
            .map(|f| finding(network, f))
            .collect(),
        runs: (0..network.runs.len())
            .map(|i| run(network, i, &required, &running))
            .collect(),
        emitters: (0..network.emitters.len())
            .map(|i| emitter(network, i, &required, &running))
            .collect(),
        source: (0..network.sources.len())
            .map(|i| source(network, i, &required, &running))
            .collect(),
        index: required
            .iter()
            .flat_map(|r| r.circuits.iter().map(|c| index(network, r, c)))
            .collect(),
    }
}

fn verdict(verdict: check::Verdict) -> Verdict {
    match verdict {
        check::Verdict::Fails => Verdict::Fails,
        check::Verdict::Depends => Verdict::Depends,
        check::Verdict::Tight => Verdict::Tight,
        check::Verdict::Holds => Verdict::Holds,
        check::Verdict::NotShown => Verdict::NotShown,
        check::Verdict::Note => Verdict::Note,
    }
}

fn state_name(network: &Network, state: usize) -> String {
    let name = |s: &HouseState| s.name.clone();
    network.states.get(state).map(name).unwrap_or_default()
}

/// Kind and name of what a finding is about.
fn subject(network: &Network, subject: Subject) -> (&'static str, String) {
    fn name<T>(list: &[T], i: usize, name: impl Fn(&T) -> &String) -> String {
        list.get(i).map(|t| name(t).clone()).unwrap_or_default()
    }
    match subject {
        Subject::House => ("house", network.title.clone()),
        Subject::Run(i) => ("run", name(&network.runs, i, |r| &r.tag)),
        Subject::Emitter(i) => ("emitter", name(&network.emitters, i, |e| &e.name)),
        Subject::Room(i) => ("room", name(&network.rooms, i, |r| &r.name)),
        Subject::Source(i) => ("source", name(&network.sources, i, |s| &s.name)),
        Subject::Pump(i) => ("pump", name(&network.pumps, i, |p| &p.name)),
        Subject::Vessel(i) => ("vessel", name(&network.vessels, i, |v| &v.name)),
        Subject::Manifold(i) => ("manifold", name(&network.manifolds, i, |m| &m.name)),
        Subject::Cylinder(i) => ("cylinder", name(&network.cylinders, i, |c| &c.name)),
        Subject::Exchanger(i) => ("exchanger", name(&network.exchangers, i, |e| &e.name)),
        Subject::Bypass(i) => ("bypass", name(&network.bypasses, i, |b| &b.name)),
    }
}

fn finding(network: &Network, finding: &check::Finding) -> Finding {
    let (kind, name) = subject(network, finding.subject);
    let rests_on = finding.rests_on.iter().filter_map(|&(doubt, value)| {
        let doubt = network.doubts.get(doubt)?;
        Some(RestsOn {
            doubt: doubt.name.clone(),
            value: doubt.alternatives.get(value)?.words.clone(),
        })
    });
    Finding {
        check: finding.check.into(),
        verdict: verdict(finding.verdict),
        subject: kind.into(),
        name,
        state: finding.state.map(|s| state_name(network, s)),
        figures: figures::of(finding),
        margin: finding.margin.and_then(rounded),
        limit_source: finding.limit_source.clone(),
        rests_on: rests_on.collect(),
        tight_because: finding.tight_because.map(|because| {
            match because {
                TightBecause::Margin => "margin",
                TightBecause::Guess => "guess",
                TightBecause::Fittings => "fittings",
                TightBecause::Strainer => "strainer",
            }
            .into()
        }),
        names: finding.names.clone(),
    }
}

fn side(side: Option<Side>) -> Option<String> {
    side.map(|side| match side {
        Side::Flow => "flow".into(),
        Side::Return => "return".into(),
    })
}

/// Word of a kind of line.
pub(crate) fn kind(kind: RunKind) -> &'static str {
    match kind {
        RunKind::Pair => "pair",
        RunKind::Single => "run",
        RunKind::Ring => "ring",
        RunKind::Loop => "loop",
        RunKind::LoopBetween => "loop between tees",
        RunKind::Tail => "tail",
        RunKind::FloorLoop => "floor loop",
        RunKind::Plant => "plant",
    }
}

fn run(network: &Network, i: usize, required: &[&Required], running: &[&Running]) -> Run {
    let run = &network.runs[i];
    let place = |p| {
        network
            .graph
            .node_weight(p)
            .map(|p| p.name.clone())
            .unwrap_or_default()
    };
    let area_m2 = std::f64::consts::FRAC_PI_4 * run.bore_m * run.bore_m;
    let required = required.iter().filter_map(|r| {
        let capacity = r.capacity.iter().find(|c| c.run == i)?;
        let first = run.elements.first()?;
        Some(RunRequired {
            state: state_name(network, r.state),
            flow_kg_s: r.flow_kg_s.get(first.index()).copied().and_then(rounded),
            flow_m3_h: rounded(capacity.velocity_m_s * area_m2 * 3600.0),
            duty_w: rounded(capacity.duty_w),
            velocity_m_s: rounded(capacity.velocity_m_s),
            gradient_pa_m: rounded(capacity.gradient_pa_m),
            reynolds: rounded(capacity.reynolds),
            loss_pa: rounded(capacity.loss_pa),
            carries: capacity
                .carries
                .iter()
                .map(|&(drop, velocity, gradient, head)| RunCarries {
                    drop_k: rounded(drop),
                    by_velocity_w: rounded(velocity),
                    by_gradient_w: rounded(gradient),
                    by_head_w: head.and_then(rounded),
                })
                .collect(),
        })
    });
    let running = running.iter().filter_map(|r| {
        let (first, last) = (run.elements.first()?.index(), run.elements.last()?.index());
        let solved = &r.solved;
        let flow = *solved.flow_kg_s.get(first)?;
        // entering is where the water comes from, whichever way it runs
        let (enters, leaves) = if flow < 0.0 {
            (last, first)
        } else {
            (first, last)
        };
        let losses = run
            .elements
            .iter()
            .map(|e| solved.dp_pa.get(e.index()).copied().flatten());
        Some(RunRunning {
            state: state_name(network, r.state),
            flow_kg_s: rounded(flow),
            loss_pa: losses.sum::<Option<f64>>().and_then(rounded),
            in_c: solved.in_c.get(enters).copied().flatten().and_then(rounded),
            out_c: solved
                .out_c
                .get(leaves)
                .copied()
                .flatten()
                .and_then(rounded),
        })
    });
    Run {
        tag: run.tag.clone(),
        name: run.name.clone(),
        side: side(run.side),
        kind: kind(run.kind).into(),
        pipe: run.pipe.clone(),
        size: run.size.clone(),
        bore_mm: rounded(run.bore_m * 1e3),
        length_m: rounded(run.length_m),
        from: place(run.from),
        to: place(run.to),
        required: required.collect(),
        running: running.collect(),
    }
}

fn emitter(network: &Network, i: usize, required: &[&Required], running: &[&Running]) -> Emitter {
    let emitter = &network.emitters[i];
    let room = network.rooms.get(emitter.room);
    let required = required.iter().filter_map(|r| {
        let asks = r.emitters.get(i)?;
        Some(EmitterRequired {
            state: state_name(network, r.state),
            flow_kg_s: rounded(asks.flow_kg_s),
            drop_k: rounded(asks.drop_k),
            asks_c: asks.inlet_c.and_then(rounded),
            asks_at_source_c: asks.source_c.and_then(rounded),
        })
    });
    let running = running.iter().filter_map(|r| {
        let result = r.emitters.get(i)?;
        let lockshield = r.lockshields.get(i);
        Some(EmitterRunning {
            state: state_name(network, r.state),
            flow_kg_s: rounded(result.flow_kg_s),
            in_c: result.in_c.and_then(rounded),
            out_c: result.out_c.and_then(rounded),
            heat_w: rounded(result.heat_w),
            need_w: rounded(result.need_w),
            valve_pa: result.valve_dp_pa.and_then(rounded),
            lockshield_kv: lockshield.and_then(|l| l.0).and_then(rounded),
            lockshield_from: lockshield.map(|l| {
                match l.1 {
                    LockshieldFrom::File => "file",
                    LockshieldFrom::Balanced => "balanced",
                    LockshieldFrom::Open => "open",
                    LockshieldFrom::None => "none",
                }
                .into()
            }),
        })
    });
    Emitter {
        name: emitter.name.clone(),
        kind: emitter.type_words.clone(),
        room: room.map(|r| r.name.clone()),
        room_c: room.and_then(|r| rounded(r.temperature_c)),
        duty_w: rounded(emitter.duty_w),
        drop_k: rounded(emitter.drop_k),
        required: required.collect(),
        running: running.collect(),
    }
}

fn source(network: &Network, i: usize, required: &[&Required], running: &[&Running]) -> Source {
    let source = &network.sources[i];
    let required = required.iter().filter_map(|r| {
        let basis = r.basis.get(i)?;
        Some(SourceRequired {
            state: state_name(network, r.state),
            flow_kg_s: rounded(basis.flow_kg_s),
            basis: match basis.used {
                BasisUsed::Rooms => "rooms",
                BasisUsed::Load => "load",
                BasisUsed::Nominal => "nominal",
                BasisUsed::Output => "output",
                BasisUsed::HeldFlow => "held_flow",
            }
            .into(),
            rooms_w: rounded(basis.rooms_w),
            load_w: basis.load_w.and_then(rounded),
            nominal_kg_s: basis.nominal_kg_s.and_then(rounded),
        })
    });
    let running = running.iter().filter_map(|r| {
        let state = r.solved.sources.get(i)?;
        let pump = source.pump.and_then(|p| r.solved.pumps.get(p));
        Some(SourceRunning {
            state: state_name(network, r.state),
            output_w: rounded(state.output_w),
            flow_temperature_c: state.flow_c.and_then(rounded),
            return_temperature_c: state.return_c.and_then(rounded),
            flow_m3_h: pump.and_then(|p| rounded(p.flow_m3_s * 3600.0)),
            head_pa: pump.and_then(|p| rounded(p.head_pa)),
            speed: pump.and_then(|p| rounded(p.speed)),
            limited_by: match state.limit {
                SourceLimit::FlowTemperature => "flow_temperature",
                SourceLimit::Output => "output",
                SourceLimit::LeastOutput => "least_output",
                SourceLimit::WarmReturn => "warm_return",
                SourceLimit::Idle => "idle",
            }
            .into(),
        })
    });
    Source {
        name: source.name.clone(),
        output_w: source.output_w.and_then(rounded),
        flow_temperature_c: rounded(source.flow_temperature_c),
        required: required.collect(),
        running: running.collect(),
    }
}

fn group(group: PartGroup) -> &'static str {
    match group {
        PartGroup::Pipe => "pipe",
        PartGroup::Fittings => "fittings",
        PartGroup::Tees => "tees",
        PartGroup::Valves => "valves",
        PartGroup::Devices => "devices",
        PartGroup::Emitter => "emitter",
        PartGroup::Source => "source",
        PartGroup::Plant => "plant",
    }
}

fn index(network: &Network, required: &Required, circuit: &PumpedCircuit) -> Index {
    let path = circuit.paths.get(circuit.index);
    Index {
        state: state_name(network, required.state),
        circuit: circuit.name.clone(),
        through: path.map(|p| p.through.name(network)).unwrap_or_default(),
        flow_kg_s: rounded(circuit.flow_kg_s),
        flow_m3_h: rounded(circuit.flow_m3_s * 3600.0),
        needed_pa: rounded(circuit.needed_pa),
        available_pa: circuit.available_pa.and_then(rounded),
        breakdown: path
            .iter()
            .flat_map(|p| &p.breakdown)
            .map(|&(g, loss)| Share {
                group: group(g).into(),
                loss_pa: rounded(loss),
            })
            .collect(),
        elements: path
            .iter()
            .flat_map(|p| &p.elements)
            .map(|&(id, _)| network.element(id).name.clone())
            .collect(),
        carries: circuit
            .carries
            .iter()
            .map(|&(drop, heat, bites)| {
                let (limited_by, run) = match bites {
                    Bites::Head => ("head", None),
                    Bites::Velocity(run) => ("velocity", Some(run)),
                    Bites::Gradient(run) => ("gradient", Some(run)),
                    Bites::SourceFlow => ("source_flow", None),
                };
                Carries {
                    drop_k: rounded(drop),
                    heat_w: rounded(heat),
                    limited_by: limited_by.into(),
                    run: run.and_then(|r| network.runs.get(r)).map(|r| r.tag.clone()),
                }
            })
            .collect(),
    }
}
