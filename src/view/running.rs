//! As it runs: pumps by their mode, lockshields as set (or as balancing would set them), the source by its flow
//! temperature and output; flow and heat solved together.

use super::required::{mixing, required};
use super::{EmitterResult, LockshieldFrom, Required, Running, Through};
use crate::network::{Blend, ElementId, Law, Manifold, Network, PumpControl, Setter, StateKind};
use crate::solve::{Light, Setting, SolveError, Solver, SourceLimit, State, part_loss};

/// How the house runs in house state `state`; lockshields on which the file is silent stand as balancing would set them,
/// or open if the design says so.
///
/// # Errors
/// Whatever stops the solver.
pub fn running(network: &Network, state: usize) -> Result<Running, SolveError> {
    let lockshields = lockshields(
        network,
        network.design.lockshields_open,
        heating(network).as_ref(),
    );
    run(network, state, &lockshields)
}

/// The required view of plain heating, if anything is required there.
pub fn heating(network: &Network) -> Option<Required> {
    let state = network
        .states
        .iter()
        .position(|s| s.kind == StateKind::Heating)?;
    required(network, state).ok()
}

/// By emitter: kv at which its lockshield stands and where that is from. Balancing takes from every path what the index
/// path of its circuit needs more, so that all emitters get their design flow and the index emitter stands fully open.
pub fn lockshields(
    network: &Network,
    open: bool,
    heating: Option<&Required>,
) -> Vec<(Option<f64>, LockshieldFrom)> {
    let emitters = network.emitters.iter().enumerate();
    emitters
        .map(|(i, emitter)| {
            let Some(setter) = network.setter(i) else {
                return (None, LockshieldFrom::None);
            };
            if let Some(kv) = setter.stands_kv_m3h {
                return (Some(kv), LockshieldFrom::File);
            }
            let open_kv = setter.open_kv_m3h;
            let balanced = heating.filter(|_| !open && emitter.one_pipe.is_none());
            let residual = balanced.and_then(|h| Some((h, residual_pa(h, i)?)));
            match residual {
                Some((h, pa)) => (
                    Some(set_kv(network, h, &setter, pa)),
                    LockshieldFrom::Balanced,
                ),
                None => (Some(open_kv), LockshieldFrom::Open),
            }
        })
        .collect()
}

/// Pressure that an emitter's path leaves over against the index path of its circuit, Pa.
pub fn residual_pa(required: &Required, emitter: usize) -> Option<f64> {
    required.circuits.iter().find_map(|circuit| {
        let path = circuit
            .paths
            .iter()
            .find(|p| p.through == Through::Emitter(emitter))?;
        Some((circuit.needed_pa - path.loss_pa).max(0.0))
    })
}

/// Kv at which a setter takes `residual_pa` beyond its own open loss, at the required flow; never more than open.
fn set_kv(network: &Network, required: &Required, setter: &Setter, residual_pa: f64) -> f64 {
    let i = setter.element.index();
    let open_pa = setter_loss_pa(
        network,
        setter,
        required.flow_kg_s[i],
        required.temperature_c[i],
    );
    throttled_kv(setter.open_kv_m3h, open_pa, residual_pa)
}

/// Loss of a setter alone, fully open, at a flow in kg/s and a temperature in °C, Pa; 0 where the fluid is not known.
pub fn setter_loss_pa(network: &Network, setter: &Setter, flow_kg_s: f64, at_c: f64) -> f64 {
    let law = &network.element(setter.element).law;
    let Law::Parts(parts) = law.with_part_kv(setter.part, setter.open_kv_m3h) else {
        return 0.0;
    };
    parts.get(setter.part).map_or(0.0, |part| {
        part_loss(network, setter.element, part, flow_kg_s, at_c).map_or(0.0, f64::abs)
    })
}

/// Kv at which a valve takes `residual_pa` beyond its loss fully open, at the same flow; never more than open.
pub fn throttled_kv(open_kv: f64, open_pa: f64, residual_pa: f64) -> f64 {
    if residual_pa <= 0.0 || open_pa <= 0.0 {
        return open_kv;
    }
    // the same flow through both: kv goes with one over the root of the loss
    open_kv * (open_pa / (open_pa + residual_pa)).sqrt()
}

/// Kv of a valve's law.
pub fn kv_of(law: &Law) -> Option<f64> {
    match law {
        Law::Parts(parts) => (0..parts.len()).find_map(|part| law.part_kv(part)),
        Law::OneWay { kv_m3h, .. } | Law::HoldFlow { kv_m3h, .. } => Some(*kv_m3h),
        Law::Pump(_) => None,
    }
}

/// The setting in which a house state runs, lockshields as given.
pub fn setting(
    network: &Network,
    state: usize,
    lockshields: &[(Option<f64>, LockshieldFrom)],
) -> Setting {
    let mut setting = Setting::of(network, &network.states[state]);
    for (emitter, (kv, from)) in lockshields.iter().enumerate() {
        if let (Some(setter), Some(kv), LockshieldFrom::Balanced) =
            (network.setter(emitter), kv, from)
        {
            let law = &network.element(setter.element).law;
            setting
                .law
                .insert(setter.element, law.with_part_kv(setter.part, *kv));
        }
    }
    // a coil asks for its own flow temperature
    let coil = network.cylinders.iter().find(|c| {
        let open = |id: ElementId| network.element(id).open && !setting.shut[id.index()];
        open(c.diverter_coil) && open(c.coil)
    });
    if let Some(cylinder) = coil {
        setting.flow_c = cylinder.flow_temperature_c;
        setting.return_c = cylinder.flow_temperature_c - cylinder.drop_k;
        for source in &mut setting.sources {
            source.flow_c = cylinder.flow_temperature_c;
        }
    }
    setting
}

/// Solves a house state with lockshields as given.
///
/// # Errors
/// Whatever stops the solver.
pub fn run(
    network: &Network,
    state: usize,
    lockshields: &[(Option<f64>, LockshieldFrom)],
) -> Result<Running, SolveError> {
    run_near(network, state, lockshields, None)
}

/// The same, begun near a state that is known.
pub(crate) fn run_near(
    network: &Network,
    state: usize,
    lockshields: &[(Option<f64>, LockshieldFrom)],
    near: Option<&State>,
) -> Result<Running, SolveError> {
    let mut setting = setting(network, state, lockshields);
    let solved = solve_near(network, &mut setting, near)?;
    let ends_c: Vec<Option<(f64, f64)>> = solved
        .in_c
        .iter()
        .zip(&solved.out_c)
        .map(|(a, b)| Some(((*a)?, (*b)?)))
        .collect();
    Ok(Running {
        state,
        emitters: emitters(network, &solved),
        lockshields: lockshields.to_vec(),
        mixing: mixing(network, &solved.flow_kg_s, &ends_c),
        solved,
    })
}

/// Solves with every mixing set drawing what keeps its set temperature, as far as the water it gets is warm enough.
///
/// # Errors
/// Whatever stops the solver; a draw that does not settle is heat that does not settle.
pub fn solve_blended(network: &Network, setting: &mut Setting) -> Result<State, SolveError> {
    solve_near(network, setting, None)
}

/// The same, with the search for draws begun at those of a state that is thought to lie near.
pub(crate) fn solve_near(
    network: &Network,
    setting: &mut Setting,
    near: Option<&State>,
) -> Result<State, SolveError> {
    let mut draws: Vec<Draw> = Vec::new();
    let reached = super::reach::reach(network, setting);
    for manifold in &network.manifolds {
        let Some(blend) = manifold.blend else {
            continue;
        };
        let open = !setting.shut[blend.inlet.index()] && network.element(blend.inlet).open;
        if !reached[network.ends(blend.inlet).0.index()] {
            // nothing warm comes: the valve calls in vain, and water that stands does not settle a draw
            setting.shut[blend.inlet.index()] = true;
        } else if open && setting.flow_c > blend.set_c {
            let known = near.map(|state| state.flow_kg_s[blend.inlet.index()]);
            let first = match known.filter(|draw| *draw > 0.0) {
                Some(draw) => draw,
                None => first_draw(network, setting, manifold, &blend)?,
            };
            setting.held_kg_s[blend.inlet.index()] = Some(first);
            draws.push(Draw {
                blend,
                held: first,
                before: None,
            });
        }
    }
    // far below anything shown; a trial beside a known state is only judged, and judged no finer than this
    let close_k = if near.is_some() { 1e-5 } else { 1e-6 };
    const ROUNDS: u32 = 60;
    let mut worst_k = 0.0;
    let solver = Solver::new(network);
    let mut held = setting.clone();
    let mut round = 0;
    'wide: loop {
        let mut holding = solver.holding(&held, near)?;
        while round < ROUNDS {
            round += 1;
            let solved = holding.solve()?;
            worst_k = 0.0;
            let mut wide = false;
            for draw in &mut draws {
                let was = draw.held.is_finite();
                worst_k = f64::max(worst_k, draw.improve(&solved));
                wide |= was && !draw.held.is_finite();
            }
            if worst_k < close_k {
                return Ok(solved.state());
            }
            for draw in &draws {
                let inlet = draw.blend.inlet;
                setting.held_kg_s[inlet.index()] = draw.held.is_finite().then_some(draw.held);
                if draw.held.is_finite() {
                    holding.hold(inlet, draw.held);
                }
            }
            if wide {
                // what was held is free from now on: other unknowns
                held = setting.clone();
                continue 'wide;
            }
        }
        return Err(SolveError::HeatNotConverged {
            change_k: worst_k,
            rounds: ROUNDS,
        });
    }
}

/// A house state with the pumps of the sources at full speed; `change` what else differs.
///
/// # Errors
/// Whatever stops the solver.
pub fn at_full_speed(
    network: &Network,
    state: usize,
    lockshields: &[(Option<f64>, LockshieldFrom)],
    change: impl Fn(&mut Setting),
) -> Result<State, SolveError> {
    let mut setting = setting(network, state, lockshields);
    for (pump, info) in network.pumps.iter().enumerate() {
        if info.source.is_some() {
            setting.control[pump] = PumpControl::FixedSpeed(1.0);
        }
    }
    change(&mut setting);
    solve_blended(network, &mut setting)
}

/// How a state runs with the flow temperature aimed at, where a unit that covers the needs has reached its output and
/// surplus heat is what thermostatic valves hold back; `None` where that is not so.
///
/// # Errors
/// Whatever stops the solver.
pub fn without_output_limit(network: &Network, run: &Running) -> Result<Option<State>, SolveError> {
    let at = &run.solved.sources;
    let limited = at.iter().any(|s| s.limit == SourceLimit::Output);
    let running = &network.states[run.state].sources;
    let output: f64 = running
        .iter()
        .map(|&s| network.sources[s].output_w.unwrap_or(0.0))
        .sum();
    let needs: f64 = network.emitters.iter().map(|e| e.duty_w).sum();
    let heating = network.states[run.state].kind != StateKind::HotWater;
    if !limited || !heating || needs > output {
        return Ok(None);
    }
    let mut setting = setting(network, run.state, &run.lockshields);
    for source in &mut setting.sources {
        source.output_w = None;
    }
    solve_near(network, &mut setting, Some(&run.solved)).map(Some)
}

/// The search for a mixing set's draw.
struct Draw {
    blend: Blend,
    /// kg/s; not finite once the inlet stands wide open because the water it gets is too cool.
    held: f64,
    /// Draw before, and how far the mixed water was off then, K.
    before: Option<(f64, f64)>,
}

impl Draw {
    /// Moves the draw towards the set temperature; returns how far the mixed water is off, K, or zero where the valve
    /// stands at an end of its travel.
    fn improve(&mut self, solved: &Light<'_>) -> f64 {
        let (inlet, mixing) = (self.blend.inlet, self.blend.mixing);
        if !self.held.is_finite() {
            return 0.0;
        }
        // what the pump moves: both ways into the mixing point, the mixing pipe may also run backwards
        let total = solved.flow_kg_s(inlet) + solved.flow_kg_s(mixing);
        let (hot_c, mixed_c) = (solved.in_c(inlet), solved.place_c(self.blend.mixed));
        let (Some(hot_c), Some(mixed_c)) = (hot_c, mixed_c) else {
            return 0.0;
        };
        let off_k = mixed_c - self.blend.set_c;
        if hot_c <= self.blend.set_c {
            // wide open: the inlet's own kv decides
            self.held = f64::INFINITY;
            return 1.0;
        }
        let Some(return_c) = solved.in_c(mixing).filter(|_| total > 0.0) else {
            // nothing moves past the sensor but hot water: the valve shuts
            let was = std::mem::replace(&mut self.held, 0.0);
            return if was > 0.0 { 1.0 } else { 0.0 };
        };
        let balance = total * (self.blend.set_c - return_c) / (hot_c - return_c);
        let secant = self.before.and_then(|(held, off)| {
            let slope = (off_k - off) / (self.held - held);
            (slope.is_finite() && slope > 0.0).then(|| self.held - off_k / slope)
        });
        let next = secant.unwrap_or(balance).clamp(0.0, total);
        self.before = Some((self.held, off_k));
        if (next - self.held).abs() <= 1e-12 * total {
            return 0.0;
        }
        self.held = next;
        off_k.abs()
    }
}

/// A first guess: the energy balance at the design drop.
fn first_draw(
    network: &Network,
    setting: &Setting,
    manifold: &Manifold,
    blend: &Blend,
) -> Result<f64, SolveError> {
    let heat: f64 = manifold
        .emitters
        .iter()
        .map(|&e| network.emitters[e].duty_w)
        .sum();
    let drops = manifold
        .emitters
        .iter()
        .map(|&e| network.emitters[e].drop_k);
    let drop_k = drops.reduce(f64::min).unwrap_or(network.design.drop_k);
    let cp = super::losses::properties(network, blend.inlet, setting.flow_c)?.cp_j_kgk;
    Ok(heat / (cp * (setting.flow_c - blend.set_c + drop_k)))
}

/// What each emitter does.
fn emitters(network: &Network, solved: &State) -> Vec<EmitterResult> {
    let list = network.emitters.iter();
    list.map(|emitter| {
        let body = emitter.body.index();
        EmitterResult {
            flow_kg_s: solved.flow_kg_s[body],
            in_c: solved.in_c[body],
            out_c: solved.out_c[body],
            heat_w: solved.heat_w[body],
            need_w: emitter.duty_w,
            valve_dp_pa: emitter.valve.and_then(|v| solved.dp_pa[v.index()]),
        }
    })
    .collect()
}

/// Volume flow at a source, m³/s, at the temperature of its return.
pub fn source_flow_m3_s(network: &Network, source: usize, solved: &State) -> f64 {
    let body = network.sources[source].body;
    let c = solved.in_c[body.index()].unwrap_or(network.design.flow_temperature_c);
    let rho = super::losses::properties(network, body, c).map_or(1000.0, |p| p.rho_kg_m3);
    solved.flow_kg_s[body.index()].abs() / rho
}
