//! What each claim should say: the house looked at once, and one figure read off for each kind of claim.

use super::beside::noise;
use super::claim::{About, Claim, Claims, Value, What};
use crate::catalogue::Catalogue;
use crate::check::{Study, Verdict};
use crate::fluid::Properties;
use crate::hydraulics::{heat, liquid};
use crate::network::{ElementId, HeatLaw, Network, PartGroup, Run, StateKind, excess_k};
use crate::solve::{SolveError, State};
use crate::survey::{Fluid, Mean};
use crate::view::{self, LockshieldFrom, PumpedCircuit, Required, RunFigures, running as runs};

/// What a claim should say.
#[derive(Clone, Debug, PartialEq)]
pub enum Expected {
    /// This figure, SI.
    Figure(f64),
    /// At least this, SI.
    AtLeast(f64),
    /// These words.
    Words(String),
    /// Yes or no.
    Flag(bool),
}

/// A house looked at for an audit: required, and where a claim asks for it as it runs.
pub(super) struct Seen<'a> {
    pub network: &'a Network,
    /// In plain heating.
    pub required: Required,
    figures: Vec<RunFigures>,
    pub lockshields: Vec<(Option<f64>, LockshieldFrom)>,
    /// As it runs, if asked for.
    running: Option<Result<State, SolveError>>,
    /// The house works, if a check has said so.
    passes: Option<bool>,
}

/// Whether some claim is about the house as it runs.
pub(super) fn asks_how_it_runs(claims: &Claims) -> bool {
    claims.list.iter().any(|c| {
        matches!(
            c.row.what,
            What::OperatingFlow | What::OperatingHead | What::Carries
        )
    })
}

fn heating(network: &Network) -> usize {
    network
        .states
        .iter()
        .position(|s| s.kind == StateKind::Heating)
        .unwrap_or(0)
}

impl<'a> Seen<'a> {
    /// The house as it is.
    ///
    /// # Errors
    /// Whatever stops the solver.
    pub fn of(network: &'a Network, runs: bool, open: bool) -> Result<Self, SolveError> {
        let required = view::required(network, heating(network))?;
        let lockshields = view::lockshields(network, open, Some(&required));
        let running = runs.then(|| {
            let mut setting = runs::setting(network, required.state, &lockshields);
            runs::solve_blended(network, &mut setting)
        });
        Ok(Self {
            network,
            figures: view::run_figures(network, &required)?,
            required,
            lockshields,
            running,
            passes: None,
        })
    }

    /// With the verdict of a study.
    pub fn judged(self, study: &Study) -> Self {
        Self {
            passes: match study.verdict {
                Verdict::Fails | Verdict::Depends => Some(false),
                Verdict::Tight | Verdict::Holds => Some(true),
                Verdict::NotShown | Verdict::Note => None,
            },
            ..self
        }
    }

    /// The circuit of the first source's pump, else the first.
    pub fn circuit(&self) -> Option<&PumpedCircuit> {
        let pump = self.network.sources.first().and_then(|s| s.pump);
        let circuits = &self.required.circuits;
        circuits
            .iter()
            .find(|c| c.pump.is_some() && c.pump == pump)
            .or_else(|| circuits.first())
    }

    /// Loss of the unit itself in the index circuit, Pa; zero where its sheet gives free head.
    fn own_loss_pa(&self) -> f64 {
        let path = self.circuit().and_then(|c| c.paths.get(c.index));
        path.map_or(0.0, |p| {
            let own = p.breakdown.iter().filter(|(g, _)| *g == PartGroup::Source);
            own.map(|(_, pa)| pa).sum()
        })
    }

    fn properties(&self, id: ElementId, c: f64) -> Option<Properties> {
        let fluid = self.network.fluids.get(self.network.element(id).fluid)?;
        liquid(fluid).at(c).ok()
    }

    /// Volume flow of an element as required, m³/s at its own temperature.
    fn volume_flow(&self, id: ElementId) -> Option<f64> {
        self.flow_in(&self.required, id)
    }

    /// The same in another view.
    pub fn flow_in(&self, required: &Required, id: ElementId) -> Option<f64> {
        let i = id.index();
        let at = self.properties(id, *required.temperature_c.get(i)?)?;
        Some(required.flow_kg_s.get(i)?.abs() / at.rho_kg_m3)
    }

    fn run(&self, i: usize) -> Option<&Run> {
        self.network.runs.get(i)
    }

    /// The pipes that a claim is about.
    pub fn pipes(&self, about: About) -> Vec<usize> {
        match about {
            About::Pipe(i) => vec![i],
            About::Pair(i) => {
                let partner = self.run(i).and_then(|r| r.partner);
                std::iter::once(i).chain(partner).collect()
            }
            About::House
            | About::Emitter(_)
            | About::Vessel(_)
            | About::Circuit(_)
            | About::Cylinder(_) => Vec::new(),
        }
    }

    /// What a claim should say, or why that cannot be shown.
    pub fn expected(&self, claim: &Claim, claims: &Claims) -> Result<Expected, String> {
        match claim.about {
            About::House => self.of_house(claim, claims),
            About::Pair(_) | About::Pipe(_) => self.of_run(claim),
            About::Emitter(i) => self.of_emitter(i, claim),
            About::Circuit(i) => self.of_circuit(i, claim),
            About::Cylinder(i) => self.of_cylinder(i, claim),
            About::Vessel(i) => {
                let vessel = self.network.vessels.get(i).map(|v| v.volume_m3);
                known(vessel, "the file does not say how much water it holds")
            }
        }
    }

    fn of_house(&self, claim: &Claim, claims: &Claims) -> Result<Expected, String> {
        let network = self.network;
        let source = network.sources.first();
        let design = &network.design;
        let silent = |what: &str| format!("the file does not say {what}");
        match claim.row.what {
            What::Load => {
                let basis = self.required.basis.first();
                let load = basis.map(|b| b.rooms_w.max(b.load_w.unwrap_or(0.0)));
                known(load.filter(|w| *w > 0.0), &silent("what the rooms need"))
            }
            What::Drop => Ok(Expected::Figure(design.drop_k)),
            What::Flow => known(
                self.circuit().map(|c| c.flow_m3_s),
                "nothing is required of the unit's circuit",
            ),
            What::FlowTemperature => Ok(Expected::Figure(
                source.map_or(design.flow_temperature_c, |s| s.flow_temperature_c),
            )),
            What::ReturnTemperature => {
                let ends = source.and_then(|s| self.required.ends_c.get(s.body.index()).copied());
                known(
                    ends.flatten().map(|(inlet, _)| inlet),
                    "no water returns to the unit in this state",
                )
            }
            What::Head => known(
                self.circuit().map(|c| c.needed_pa - self.own_loss_pa()),
                "nothing is required of the unit's circuit",
            ),
            What::HeadAvailable => {
                let available = self.circuit().and_then(|c| c.available_pa);
                known(
                    available.map(|pa| pa - self.own_loss_pa()),
                    &silent("what the pump gives: no head curve"),
                )
            }
            What::Index => {
                let path = self.circuit().and_then(|c| c.paths.get(c.index));
                match path {
                    Some(path) => Ok(Expected::Words(path.through.name(self.network))),
                    None => Err("nothing is required of the unit's circuit".into()),
                }
            }
            What::OperatingFlow | What::OperatingHead | What::Carries => self.as_it_runs(claim),
            What::UnitOutput => known(
                source.and_then(|s| s.output_w),
                &silent("the unit's output"),
            ),
            What::LeastFlow => known(
                source.and_then(|s| s.least_flow_m3_s),
                &silent("the unit's least flow"),
            ),
            What::Fluid => self.fluid(),
            What::SystemVolume => self.water(&|_| true),
            What::CirculatingVolume => self.circulating(),
            What::Volume => {
                let all: f64 = network.vessels.iter().map(|v| v.volume_m3).sum();
                known(Some(all).filter(|v| *v > 0.0), "the house has no volume vessel")
            }
            What::ExpansionVessel => self.expansion(claims),
            What::Passes => match self.passes {
                Some(passes) => Ok(Expected::Flag(passes)),
                None => Err("no check could be shown".into()),
            },
            What::Precharge | What::GreatestPressure => Err(
                "the file holds no static height and no pressures; used for the expansion vessel as stated".into(),
            ),
            What::Noise => noise(claims),
            What::SoundPower | What::SoundDistance | What::SoundFactor => Err(
                "the file says nothing of the unit's sound; used for the noise as stated: ask for the maker's sheet".into(),
            ),
            _ => Err("nothing of this kind is worked out for the house".into()),
        }
    }

    fn as_it_runs(&self, claim: &Claim) -> Result<Expected, String> {
        let solved = match &self.running {
            Some(Ok(solved)) => solved,
            Some(Err(_)) => return Err("the house has no converged answer as it runs".into()),
            None => return Err("the house was not looked at as it runs".into()),
        };
        let Some(source) = self.network.sources.first() else {
            return Err("the house has no source".into());
        };
        let body = source.body.index();
        let flow = solved.flow_kg_s.get(body).map_or(0.0, |f| f.abs());
        match claim.row.what {
            What::OperatingFlow => Ok(Expected::Figure(runs::source_flow_m3_s(
                self.network,
                0,
                solved,
            ))),
            What::OperatingHead => {
                let pump = source.pump.and_then(|p| solved.pumps.get(p));
                let own = solved.dp_pa.get(body).copied().flatten();
                let head = pump.zip(own).map(|(p, own)| p.head_pa - own.abs());
                known(head, "the file has no head curve")
            }
            _ => {
                let at =
                    self.properties(source.body, solved.at_c.get(body).copied().unwrap_or(40.0));
                let heat = at.map(|p| flow * p.cp_j_kgk * self.network.design.drop_k);
                known(heat, "the water's properties are not known")
            }
        }
    }

    fn fluid(&self) -> Result<Expected, String> {
        let fluid = self.network.fluids.first().map(liquid);
        Ok(Expected::Words(match fluid {
            Some(crate::fluid::Liquid::Water) | None => "water".into(),
            Some(crate::fluid::Liquid::Propylene(p)) => format!("propylene glycol {p}%"),
            Some(crate::fluid::Liquid::Ethylene(p)) => format!("ethylene glycol {p}%"),
            Some(crate::fluid::Liquid::Constant(p)) => {
                return Err(format!(
                    "the file gives the fluid by its properties ({:.0} kg/m3), not by name",
                    p.rho_kg_m3
                ));
            }
        }))
    }

    fn of_run(&self, claim: &Claim) -> Result<Expected, String> {
        let pipes = self.pipes(claim.about);
        let Some(run) = pipes.first().and_then(|i| self.run(*i)) else {
            return Err("the house has no such pipe".into());
        };
        let still = "it carries nothing in heating";
        let figures = || self.figures.iter().filter(|f| pipes.contains(&f.run));
        let most = |of: fn(&RunFigures) -> f64| figures().map(of).reduce(f64::max);
        match claim.row.what {
            What::Pipe => self.pipe_words(run),
            What::Bore => Ok(Expected::Figure(run.bore_m)),
            What::Length => Ok(Expected::Figure(run.length_m)),
            What::Velocity => known(most(|f| f.velocity_m_s), still),
            What::Gradient => known(most(|f| f.gradient_pa_m), still),
            What::Flow => known(
                figures().next().and_then(|f| self.volume_flow(f.element)),
                still,
            ),
            What::Heat => {
                let capacity = self.required.capacity.iter();
                let mut duty = capacity
                    .filter(|c| pipes.contains(&c.run))
                    .map(|c| c.duty_w);
                known(duty.next(), still)
            }
            What::Loss => {
                let elements = pipes
                    .iter()
                    .filter_map(|i| self.run(*i))
                    .flat_map(|r| &r.elements);
                let loss = elements.map(|id| self.required.loss_pa.get(id.index()).copied());
                let loss: Option<f64> = loss.sum();
                known(loss.filter(|_| figures().next().is_some()), still)
            }
            _ => Err("nothing of this kind is worked out for a run".into()),
        }
    }

    fn pipe_words(&self, run: &Run) -> Result<Expected, String> {
        match Catalogue::embedded().pipe(&run.pipe) {
            Some(pipe) => Ok(Expected::Words(pipe.word.clone())),
            None => Err("the file knows this pipe by its bore alone".into()),
        }
    }

    fn of_emitter(&self, i: usize, claim: &Claim) -> Result<Expected, String> {
        let Some(emitter) = self.network.emitters.get(i) else {
            return Err("the house has no such emitter".into());
        };
        match claim.row.what {
            What::Needs => known(
                Some(emitter.duty_w).filter(|w| *w > 0.0),
                "the file does not say what its room needs",
            ),
            What::Drop => Ok(Expected::Figure(match emitter.one_pipe {
                Some(_) => self
                    .required
                    .emitters
                    .get(i)
                    .map_or(emitter.drop_k, |e| e.drop_k),
                None => emitter.drop_k,
            })),
            What::Room => {
                let room = self.network.rooms.get(emitter.room);
                known(room.map(|r| r.temperature_c), "its room has no temperature")
            }
            What::Flow => known(
                self.volume_flow(emitter.body).filter(|q| *q > 0.0),
                "it is shut in heating",
            ),
            What::Rated => match self.at_excess(i, RATING) {
                Some(w) => Ok(Expected::Figure(w)),
                None => Err("it has no rated output in the file".into()),
            },
            What::Output => {
                let ends = self
                    .required
                    .ends_c
                    .get(emitter.body.index())
                    .copied()
                    .flatten();
                let Some((inlet, outlet)) = ends else {
                    return Err("it is shut in heating".into());
                };
                known(
                    self.at_temperatures(i, inlet, outlet),
                    "the file gives its heat outright, without a rating",
                )
            }
            What::Mark => self.mark(i),
            What::Setting => {
                let stands = self.lockshields.get(i).copied();
                match stands {
                    Some((Some(kv), LockshieldFrom::Balanced | LockshieldFrom::Open)) => {
                        Ok(Expected::Figure(kv))
                    }
                    Some((Some(kv), _)) => Ok(Expected::Figure(kv)),
                    _ => Err("it has nothing that could be set".into()),
                }
            }
            _ => Err("nothing of this kind is worked out for an emitter".into()),
        }
    }

    /// Output of an emitter between two water temperatures in its room, W.
    pub fn at_temperatures(&self, i: usize, inlet_c: f64, outlet_c: f64) -> Option<f64> {
        let emitter = self.network.emitters.get(i)?;
        let room_c = self.network.rooms.get(emitter.room)?.temperature_c;
        let mean = mean_of(&emitter.law)?;
        let excess = excess_k(mean, inlet_c, outlet_c, room_c);
        Some(heat::output_w(&emitter.law, excess))
    }

    /// Output of a rated emitter at flow, return and room temperature, W.
    pub fn at_excess(&self, i: usize, at: (f64, f64, f64)) -> Option<f64> {
        let emitter = self.network.emitters.get(i)?;
        matches!(emitter.law, HeatLaw::Rated { .. }).then(|| emitter.law.heat_w(at.0, at.1, at.2))
    }
}

/// Flow, return and room temperature of the rating, °C (EN 442-2).
pub(super) const RATING: (f64, f64, f64) = (75.0, 65.0, 20.0);

fn mean_of(law: &HeatLaw) -> Option<Mean> {
    match law {
        HeatLaw::Rated { mean, .. } | HeatLaw::Floor { mean, .. } => Some(*mean),
        HeatLaw::Fixed(_) => None,
    }
}

pub(super) fn known(value: Option<f64>, otherwise: &str) -> Result<Expected, String> {
    match value {
        Some(value) if value.is_finite() => Ok(Expected::Figure(value)),
        _ => Err(otherwise.to_owned()),
    }
}

/// Whether a claim says what is expected, within its tolerance.
pub(super) fn agrees(claim: &Claim, expected: &Expected, network: &Network) -> bool {
    match (expected, &claim.value) {
        (Expected::Figure(x), Value::Figure { si, .. }) => (si - x).abs() <= claim.allowed(*x),
        (Expected::AtLeast(x), Value::Figure { si, .. }) => *si >= x - claim.allowed(*x),
        (Expected::Words(x), Value::Name(said) | Value::Pipe(said)) => x.eq_ignore_ascii_case(said),
        (Expected::Words(_), Value::Fluid(said)) => same_fluid(said, network),
        (Expected::Flag(x), Value::Flag(said)) => x == said,
        _ => false,
    }
}

fn same_fluid(said: &Fluid, network: &Network) -> bool {
    use crate::fluid::Liquid;
    let is = network.fluids.first().map(liquid);
    match (said, is) {
        (Fluid::Water, Some(Liquid::Water)) => true,
        (
            Fluid::Glycol {
                propylene: true,
                percent,
            },
            Some(Liquid::Propylene(p)),
        )
        | (
            Fluid::Glycol {
                propylene: false,
                percent,
            },
            Some(Liquid::Ethylene(p)),
        ) => (percent - p).abs() <= 1.0,
        _ => false,
    }
}
