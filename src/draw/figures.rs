//! The figures that a drawing shows, by run and by emitter, taken from one of the two views.

use super::style::{Shows, Style};
use crate::check::{Finding, Kind, Subject, Verdict};
use crate::fluid::Liquid;
use crate::network::{ElementId, FluidData, Network};
use crate::view::{Required, Running};

/// What a run shows.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct RunFigures {
    /// kg/s, positive from its first to its last place.
    pub kg_s: Option<f64>,
    /// m³/s at its own temperature.
    pub m3_s: Option<f64>,
    /// m/s.
    pub velocity: Option<f64>,
    /// Pa, in the direction of flow.
    pub loss_pa: Option<f64>,
    /// Carries nothing: shut, or no flow in this state.
    pub idle: bool,
    /// On an index circuit.
    pub index: bool,
}

/// What an emitter shows.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct EmitterFigures {
    /// W.
    pub heat_w: Option<f64>,
    /// m³/s.
    pub m3_s: Option<f64>,
    /// °C.
    pub in_c: Option<f64>,
    /// °C.
    pub out_c: Option<f64>,
    /// Pa over body and valves.
    pub loss_pa: Option<f64>,
    /// kv at which its lockshield stands, m³/h.
    pub lockshield_kv: Option<f64>,
}

/// The worst that was found of one thing.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Status<'a> {
    /// Its verdict.
    pub verdict: Verdict,
    /// The finding.
    pub finding: &'a Finding,
}

/// Everything that the labels need.
pub(crate) struct Figures<'a> {
    pub network: &'a Network,
    pub required: Option<&'a Required>,
    pub running: Option<&'a Running>,
    pub findings: &'a [Finding],
    pub runs: Vec<RunFigures>,
    pub emitters: Vec<EmitterFigures>,
    /// By element.
    pub index: Vec<bool>,
    /// By circuit: the elements of its index circuit.
    pub circuits: Vec<Vec<ElementId>>,
    /// By element: shut in the state drawn.
    pub shut: Vec<bool>,
    /// By element: no water moves in it in the state drawn.
    pub dead: Vec<bool>,
    pub run_status: Vec<Option<Status<'a>>>,
    pub emitter_status: Vec<Option<Status<'a>>>,
    /// By source: the worst of the unit and of the pump within it.
    pub source_status: Vec<Option<Status<'a>>>,
    /// Nothing moves anywhere in the state drawn.
    pub still: bool,
    /// Where emitters are.
    pub storeys: super::storeys::Storeys,
    /// Whether there are any figures at all.
    pub solved: bool,
}

/// Below this share of the largest flow a run counts as standing still.
const STILL: f64 = 1e-6;

/// Density of what flows in an element at a temperature, kg/m³.
pub(crate) fn density(network: &Network, element: ElementId, temperature_c: f64) -> f64 {
    match network.fluids.get(network.element(element).fluid) {
        Some(FluidData::Constant { rho_kg_m3, .. }) => *rho_kg_m3,
        Some(fluid @ FluidData::ByTemperature(_)) => fluid_density(fluid, temperature_c),
        None => 1000.0,
    }
}

fn fluid_density(fluid: &FluidData, temperature_c: f64) -> f64 {
    use crate::survey::Fluid;
    let liquid = match fluid {
        FluidData::Constant { rho_kg_m3, .. } => return *rho_kg_m3,
        FluidData::ByTemperature(Fluid::Given { density, .. }) => return *density,
        FluidData::ByTemperature(Fluid::Water) => Liquid::Water,
        FluidData::ByTemperature(Fluid::Glycol { propylene, percent }) => {
            if *propylene {
                Liquid::Propylene(*percent)
            } else {
                Liquid::Ethylene(*percent)
            }
        }
    };
    // beyond the table a figure in litres still has to be shown: take water's at 4 °C
    liquid.at(temperature_c).map_or(1000.0, |p| p.rho_kg_m3)
}

impl<'a> Figures<'a> {
    /// Gather.
    pub(crate) fn new(
        network: &'a Network,
        required: Option<&'a Required>,
        running: Option<&'a Running>,
        findings: &'a [Finding],
        style: &Style,
    ) -> Self {
        let elements = network.graph.edge_count();
        let use_required = match style.shows {
            Shows::Required => required.is_some(),
            Shows::Running => running.is_none() && required.is_some(),
        };
        let mut shut = vec![false; elements];
        for id in network.element_ids() {
            shut[id.index()] = !network.element(id).open;
        }
        let state = if use_required {
            required.map(|r| r.state)
        } else {
            running.map(|r| r.state)
        };
        let house = state.and_then(|s| network.states.get(s));
        for id in house.map_or(&[][..], |s| &s.shut).iter().chain(&style.shut) {
            if let Some(flag) = shut.get_mut(id.index()) {
                *flag = true;
            }
        }
        // a sheet speaks of one view only: as it runs, nothing of what is required stands on it
        let required = required.filter(|_| use_required);
        let index = if use_required {
            index_elements(network, required)
        } else {
            super::index::as_it_runs(network, running)
        };
        let mut figures = Self {
            network,
            required,
            running,
            findings,
            runs: vec![RunFigures::default(); network.runs.len()],
            emitters: vec![EmitterFigures::default(); network.emitters.len()],
            circuits: index_circuits(required, &index, network),
            index,
            shut,
            dead: vec![false; elements],
            run_status: vec![None; network.runs.len()],
            emitter_status: vec![None; network.emitters.len()],
            source_status: vec![None; network.sources.len()],
            still: false,
            storeys: super::storeys::Storeys::of(network),
            solved: use_required || running.is_some(),
        };
        let flow = |id: ElementId| -> Option<f64> {
            if use_required {
                required?.flow_kg_s.get(id.index()).copied()
            } else {
                running?.solved.flow_kg_s.get(id.index()).copied()
            }
        };
        let loss = |id: ElementId| -> Option<f64> {
            if use_required {
                required?.loss_pa.get(id.index()).copied()
            } else {
                let solved = &running?.solved;
                let dp = solved.dp_pa.get(id.index()).copied().flatten()?;
                Some(if flow(id)? < 0.0 { -dp } else { dp })
            }
        };
        let temperature = |id: ElementId| -> f64 {
            let design = &network.design;
            if use_required {
                required.and_then(|r| r.temperature_c.get(id.index()).copied())
            } else {
                running.and_then(|r| {
                    let s = &r.solved;
                    let (a, b) = (
                        s.in_c.get(id.index()).copied().flatten()?,
                        s.out_c.get(id.index()).copied().flatten()?,
                    );
                    Some((a + b) / 2.0)
                })
            }
            .unwrap_or(design.flow_temperature_c)
        };
        let most = network
            .element_ids()
            .filter_map(flow)
            .fold(0.0_f64, |m, f| m.max(f.abs()));
        figures.still = figures.solved && most == 0.0;
        for id in network.element_ids() {
            let still = flow(id).is_some_and(|f| f.abs() <= STILL * most);
            figures.dead[id.index()] = still || figures.shut[id.index()];
        }
        for (i, run) in network.runs.iter().enumerate() {
            let show = &mut figures.runs[i];
            show.index = run
                .elements
                .iter()
                .any(|e| figures.index.get(e.index()).copied().unwrap_or(false));
            let Some(&first) = run.elements.first() else {
                continue;
            };
            let against = network.ends(first).0 != run.from && network.ends(first).1 == run.from;
            let sign = if against { -1.0 } else { 1.0 };
            show.kg_s = flow(first).map(|f| f * sign);
            let rho = density(network, first, temperature(first));
            show.m3_s = show.kg_s.map(|f| f.abs() / rho);
            let area = std::f64::consts::PI * run.bore_m * run.bore_m / 4.0;
            show.velocity = show.m3_s.filter(|_| area > 0.0).map(|q| q / area);
            show.loss_pa = run
                .elements
                .iter()
                .map(|&e| loss(e))
                .try_fold(0.0, |sum, l| l.map(|l| sum + l));
            show.idle = show.kg_s.is_some_and(|f| f.abs() <= STILL * most)
                || run.elements.iter().any(|e| figures.shut[e.index()]);
        }
        for &(second, first) in &style.folded {
            figures.runs[first].index |= figures.runs[second].index;
        }
        for (i, emitter) in network.emitters.iter().enumerate() {
            let show = &mut figures.emitters[i];
            let body = emitter.body;
            show.lockshield_kv = running
                .and_then(|r| r.lockshields.get(i))
                .and_then(|(kv, _)| *kv);
            show.m3_s = flow(body).map(|f| f.abs() / density(network, body, temperature(body)));
            show.heat_w = Some(emitter.duty_w).filter(|w| *w > 0.0);
            if let Some(&Some((inlet, outlet))) = required.and_then(|r| r.ends_c.get(body.index()))
            {
                (show.in_c, show.out_c) = (Some(inlet), Some(outlet));
            }
            if !use_required && let Some(result) = running.and_then(|r| r.emitters.get(i)) {
                show.heat_w = Some(result.heat_w);
                (show.in_c, show.out_c) = (result.in_c, result.out_c);
            } else if !use_required && let Some(r) = running {
                show.heat_w = r.solved.heat_w.get(body.index()).copied();
                show.in_c = r.solved.in_c.get(body.index()).copied().flatten();
                show.out_c = r.solved.out_c.get(body.index()).copied().flatten();
            }
            show.loss_pa = [Some(body), emitter.valve, emitter.lockshield]
                .into_iter()
                .flatten()
                .map(loss)
                .try_fold(0.0, |sum, l| l.map(|l| sum + l));
        }
        figures.judge(state);
        figures
    }

    fn judge(&mut self, state: Option<usize>) {
        for finding in self.findings {
            if finding.verdict == Verdict::Note
                || (finding.state.is_some() && finding.state != state)
            {
                continue;
            }
            let slot = match finding.subject {
                Subject::Run(i) => self.run_status.get_mut(i),
                Subject::Emitter(i) => self.emitter_status.get_mut(i),
                Subject::Source(i) => self.source_status.get_mut(i),
                Subject::Pump(p) => {
                    let sources = &self.network.sources;
                    let within = sources.iter().position(|s| s.pump == Some(p));
                    within.and_then(|s| self.source_status.get_mut(s))
                }
                _ => None,
            };
            let Some(slot) = slot else { continue };
            if slot.is_none_or(|s| finding.verdict < s.verdict) {
                *slot = Some(Status {
                    verdict: finding.verdict,
                    finding,
                });
            }
        }
    }

    /// Flow through a source and its least, m³/s, where that trips it in a state drawn without findings.
    pub(crate) fn trip(&self, source: usize) -> Option<(f64, f64)> {
        if !self.findings.is_empty() || self.required.is_some() {
            return None;
        }
        let (running, info) = (self.running?, self.network.sources.get(source)?);
        let solved = &running.solved;
        let flow = match info.pump.and_then(|p| solved.pumps.get(p)) {
            Some(pump) => pump.flow_m3_s,
            None => {
                let at = *solved.at_c.get(info.body.index())?;
                let mass = solved.flow_kg_s.get(info.body.index())?.abs();
                mass / density(self.network, info.body, at)
            }
        };
        let least = info.least_flow_m3_s?;
        (flow < least).then_some((flow, least))
    }

    /// Highest velocity and its run.
    pub(crate) fn fastest(&self) -> Option<(usize, f64)> {
        self.runs
            .iter()
            .enumerate()
            .filter_map(|(i, r)| Some((i, r.velocity?)))
            .max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)))
    }
}

/// The index circuits one by one.
fn index_circuits(
    required: Option<&Required>,
    index: &[bool],
    network: &Network,
) -> Vec<Vec<ElementId>> {
    let Some(required) = required else {
        let on = |id: &ElementId| index.get(id.index()) == Some(&true);
        return vec![network.element_ids().filter(on).collect()];
    };
    let ways = required
        .circuits
        .iter()
        .filter_map(|c| c.paths.get(c.index));
    ways.map(|p| p.elements.iter().map(|e| e.0).collect())
        .collect()
}

fn index_elements(network: &Network, required: Option<&Required>) -> Vec<bool> {
    let mut index = vec![false; network.graph.edge_count()];
    for circuit in required.map_or(&[][..], |r| &r.circuits) {
        let Some(path) = circuit.paths.get(circuit.index) else {
            continue;
        };
        for (id, _) in &path.elements {
            if let Some(flag) = index.get_mut(id.index()) {
                *flag = true;
            }
        }
    }
    index
}

/// The word for what a finding holds against its limit.
pub(crate) fn check_word(finding: &Finding) -> &'static str {
    match finding.check {
        "flow-temperature" => "flow temperature asked",
        "floor-surface" => "floor surface",
        "valve-noise" => "valve noise",
        "warm-return" => "return temperature",
        "source-drop" | "small-drop" => "drop",
        _ => match finding.kind {
            Kind::VelocityMs => "velocity",
            Kind::GradientPaM => "gradient",
            Kind::PressurePa => "head",
            Kind::MassFlowKgS | Kind::VolumeFlowM3S => "flow",
            Kind::PowerW => "heat",
            Kind::TemperatureC | Kind::DifferenceK => "temperature",
            Kind::VolumeM3 => "water",
            Kind::Ratio | Kind::Count => "",
        },
    }
}
