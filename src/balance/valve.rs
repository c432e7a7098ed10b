//! A valve as it is to be set, said as turns or a number where its table is known, with what speaks against it.

use super::expect::Day;
use super::fit::Fit;
use super::settle::{Ground, OPEN_PA, Settled};
use crate::network::{Law, Setter, ValveTable};
use crate::view::Through;
use crate::view::limits::{Limit, limit};
use crate::view::running::setter_loss_pa;

/// Flow that counts as the design's: within one part in a hundred.
pub const CLOSE: f64 = 0.01;
/// A lockshield without a table that has to go below this share of its open kv is hardly set by hand (common practice,
/// no source).
const NEARLY_SHUT: f64 = 0.05;

/// A setting on a valve's own scale.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mark {
    /// Index into `valve_tables`.
    pub table: usize,
    /// Turns from shut, or preset number, between the table's.
    pub mark: f64,
    /// For presets: the number of the ring that comes nearest in kv, with its kv in m³/h.
    pub nearest: Option<(f64, f64)>,
}

/// What speaks against a setting.
#[derive(Clone, Debug, PartialEq)]
pub enum Warning {
    /// Below the least kv of its table, m³/h.
    BelowTable(f64),
    /// Above the greatest kv of its table, m³/h.
    AboveTable(f64),
    /// So nearly shut that a hand can hardly set it: share of the open kv.
    NearlyShut(f64),
    /// Its head has little say: authority and its limit.
    LowAuthority(f64, Limit),
    /// It takes so much that it may be heard: Pa and limit.
    Noise(f64, Limit),
}

/// Why an emitter does not get its design flow.
#[derive(Clone, Debug, PartialEq)]
pub enum Why {
    /// Nothing on it can be set.
    NothingToSet,
    /// On a one-pipe main tee and kv decide.
    OnePipe,
    /// Its pump (by index) lacks head, Pa.
    PumpShort(usize, f64),
    /// Its pump (by index) moves no less than the unit's least flow, m³/s.
    LeastFlow(usize, f64),
    /// A flow-holding valve on its way holds less: kg/s.
    Held(f64),
    /// Others take more or less than their share, because nothing on them can be set.
    Others,
    /// Nothing is asked of it in this state.
    NotAsked,
}

/// A valve to set.
#[derive(Clone, Debug, PartialEq)]
pub struct Valve {
    /// What is set; `None` where nothing can be.
    pub setter: Option<Setter>,
    /// Kv at which it is to stand, m³/h.
    pub kv_m3h: Option<f64>,
    /// The same on its own scale.
    pub mark: Option<Mark>,
    /// It stands fully open.
    pub open: bool,
    /// It is the index emitter of its circuit.
    pub index: bool,
    /// Flow that it is to give, kg/s.
    pub wanted_kg_s: f64,
    /// Flow that it gives as everything is set, kg/s.
    pub gets_kg_s: f64,
    /// Loss that it takes, Pa.
    pub loss_pa: f64,
    /// Share of the emitter's thermostatic valve (or of the preset valve) in the loss from tee to tee.
    pub authority: Option<f64>,
    /// What speaks against it.
    pub warnings: Vec<Warning>,
    /// Why it does not get its design flow, if so.
    pub why: Option<Why>,
    /// The lockshield that is missing, where nothing can be set and some emitter is off for that.
    pub fit: Option<Fit>,
}

/// A kv on a valve's scale, with range warnings.
fn on_scale(table: Option<(usize, &ValveTable)>, kv_m3h: f64) -> (Option<Mark>, Option<Warning>) {
    let Some((index, table)) = table else {
        return (None, None);
    };
    let nearest = table.points.iter().copied().reduce(|a, b| {
        let off = |p: (f64, f64)| (crate::maths::ln(p.1 / kv_m3h)).abs();
        if off(b) < off(a) { b } else { a }
    });
    let mark = Mark {
        table: index,
        mark: table.mark(kv_m3h),
        nearest: nearest.filter(|_| table.presets),
    };
    // rounding of the last digit is no breach
    let warning = table.range().and_then(|(least, greatest)| {
        if kv_m3h < least * (1.0 - 1e-9) {
            Some(Warning::BelowTable(least))
        } else if kv_m3h > greatest * (1.0 + 1e-9) {
            Some(Warning::AboveTable(greatest))
        } else {
            None
        }
    });
    (Some(mark), warning)
}

/// By emitter.
pub(super) fn emitters(ground: &Ground<'_>, set: &Settled, design: &Day) -> Vec<Valve> {
    let count = ground.network.emitters.len();
    let mut valves: Vec<Valve> = (0..count)
        .map(|i| emitter(ground, set, design, i))
        .collect();
    let loose = valves.iter().any(|v| {
        matches!(
            v.why,
            Some(
                Why::NothingToSet
                    | Why::OnePipe
                    | Why::PumpShort(..)
                    | Why::LeastFlow(..)
                    | Why::Held(_)
            )
        )
    });
    for v in &mut valves {
        // without a cause of its own it can only be that of others; where there is none it stays unsaid and is a fault
        if v.why == Some(Why::Others) && !loose {
            v.why = None;
        }
    }
    valves
}

fn emitter(ground: &Ground<'_>, set: &Settled, design: &Day, i: usize) -> Valve {
    let network = ground.network;
    let e = &network.emitters[i];
    let solved = &design.solved;
    let wanted_kg_s = ground.required.emitters[i].flow_kg_s;
    let gets_kg_s = solved.flow_kg_s[e.body.index()];
    let setter = ground.setters[i].filter(|_| ground.target(i).is_some());
    let mut valve = Valve {
        setter,
        kv_m3h: setter.and(set.kv[i]),
        mark: None,
        open: set.spare_pa[i].is_none_or(|pa| pa <= OPEN_PA),
        index: set.circuits.iter().any(|c| c.index == Some(i)),
        wanted_kg_s,
        gets_kg_s,
        loss_pa: 0.0,
        authority: None,
        warnings: Vec::new(),
        why: None,
        fit: None,
    };
    if let (Some(setter), Some(kv)) = (setter, valve.kv_m3h) {
        finish(ground, &mut valve, setter, kv, design);
        let share = kv / setter.open_kv_m3h;
        if setter.table.is_none() && share < NEARLY_SHUT {
            valve.warnings.push(Warning::NearlyShut(share));
        }
    }
    let dp = |id: crate::network::ElementId| solved.dp_pa[id.index()].map(f64::abs);
    let whole: Option<f64> = e.branch.iter().map(|id| dp(*id)).sum();
    if let (Some(valve_pa), Some(whole)) = (e.valve.and_then(dp), whole.filter(|pa| *pa > 0.0)) {
        let authority = valve_pa / whole;
        valve.authority = Some(authority);
        if let Some(limit) =
            limit(network, "authority", Some(&e.name)).filter(|l| authority < l.value)
        {
            valve.warnings.push(Warning::LowAuthority(authority, limit));
        }
    }
    let close = wanted_kg_s > 0.0 && (gets_kg_s / wanted_kg_s - 1.0).abs() <= CLOSE;
    if !close {
        valve.why = Some(why(ground, set, i));
    }
    valve
}

/// Loss, scale and noise of a valve at its kv.
fn finish(ground: &Ground<'_>, valve: &mut Valve, setter: Setter, kv: f64, design: &Day) {
    let network = ground.network;
    let table = setter
        .table
        .and_then(|t| Some((t, network.valve_tables.get(t)?)));
    let (mark, warning) = on_scale(table, kv);
    valve.mark = mark;
    valve.warnings.extend(warning);
    let stands = Setter {
        open_kv_m3h: kv,
        ..setter
    };
    let e = setter.element.index();
    let solved = &design.solved;
    valve.loss_pa = setter_loss_pa(network, &stands, solved.flow_kg_s[e], solved.at_c[e]);
    let name = &network.element(setter.element).name;
    if let Some(limit) =
        limit(network, "thermostatic valve", Some(name)).filter(|l| valve.loss_pa > l.value)
    {
        valve.warnings.push(Warning::Noise(valve.loss_pa, limit));
    }
}

fn why(ground: &Ground<'_>, set: &Settled, i: usize) -> Why {
    let network = ground.network;
    let e = &network.emitters[i];
    if ground.required.emitters[i].flow_kg_s == 0.0 {
        return Why::NotAsked;
    }
    let on = |p: &crate::view::Path| p.through == Through::Emitter(i);
    for (circuit, found) in ground.required.circuits.iter().zip(&set.circuits) {
        if let (Some(pump), true, true) = (
            circuit.pump,
            found.short_pa > 0.0,
            circuit.paths.iter().any(on),
        ) {
            return Why::PumpShort(pump, found.short_pa);
        }
        if let (Some(pump), true) = (circuit.pump, circuit.paths.iter().any(on))
            && let Some(least) = super::pump::below_least(network, pump, found.flow_m3_s)
        {
            return Why::LeastFlow(pump, least);
        }
    }
    if e.one_pipe.is_some() {
        return Why::OnePipe;
    }
    for &id in &e.branch {
        if let Law::HoldFlow { flow_kg_s, .. } = network.element(id).law
            && flow_kg_s < ground.required.emitters[i].flow_kg_s
        {
            return Why::Held(flow_kg_s);
        }
    }
    if ground.setters[i].is_none() {
        return Why::NothingToSet;
    }
    Why::Others
}

/// Balancing valves on runs.
pub(super) fn branches(ground: &Ground<'_>, set: &Settled, design: &Day) -> Vec<Valve> {
    let list = ground.branches.iter().zip(&set.branch_kv);
    list.map(|(setter, &kv)| {
        let e = setter.element.index();
        let mut valve = Valve {
            setter: Some(*setter),
            kv_m3h: Some(kv),
            mark: None,
            open: kv >= setter.open_kv_m3h * (1.0 - 1e-9),
            index: false,
            wanted_kg_s: ground.required.flow_kg_s[e].abs(),
            gets_kg_s: design.solved.flow_kg_s[e].abs(),
            loss_pa: 0.0,
            authority: None,
            warnings: Vec::new(),
            why: None,
            fit: None,
        };
        finish(ground, &mut valve, *setter, kv, design);
        valve
    })
    .collect()
}
