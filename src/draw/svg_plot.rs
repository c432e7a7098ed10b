//! Companion plots in the style of the schematic: pump and system curve, pressure along the index circuit. Directly
//! labelled, legible in grey.

use super::style::Style;
use super::svg_axes::Plot;
use super::words::{Words, tidy};
use crate::network::{ElementId, Law, Network, PumpCurve, Role};
use crate::solve::element_loss;
use crate::survey::Side;
use crate::view::{Path, Required, Running};

/// Head of a curve at full speed, Pa, at a flow in m³/h.
fn head_pa(curve: &PumpCurve, q: f64) -> f64 {
    match curve {
        PumpCurve::Quadratic { a_pa, b_pa, c_pa } => a_pa + b_pa * q + c_pa * q * q.abs(),
        PumpCurve::Points(points) => {
            let i = points
                .iter()
                .position(|p| p.0 > q)
                .unwrap_or(points.len())
                .clamp(1, points.len().saturating_sub(1).max(1));
            match (points.get(i - 1), points.get(i)) {
                (Some(a), Some(b)) if b.0 > a.0 => a.1 + (b.1 - a.1) * (q - a.0) / (b.0 - a.0),
                (Some(a), _) => a.1,
                _ => 0.0,
            }
        }
    }
}

/// Loss along a path with all required flows multiplied by `k`, Pa; tee losses go with the square of the flow.
fn loss_at(network: &Network, required: &Required, path: &Path, k: f64) -> Option<f64> {
    let mut sum = 0.0;
    for &(id, _) in &path.elements {
        if matches!(network.element(id).law, Law::Pump(_)) {
            continue;
        }
        let flow = required.flow_kg_s.get(id.index()).copied()?;
        let c = required.temperature_c.get(id.index()).copied()?;
        sum += element_loss(network, id, flow.abs() * k, c).ok()?;
        sum += required.tee_loss_pa.get(id.index()).copied().unwrap_or(0.0) * k * k;
    }
    Some(sum)
}

/// The circuit that has the least head left; the first where none has a curve.
pub fn tightest(required: &Required) -> usize {
    let left = |i: &usize| {
        let c = &required.circuits[*i];
        c.available_pa
            .map_or(f64::INFINITY, |has| has - c.needed_pa)
    };
    (0..required.circuits.len())
        .min_by(|a, b| left(a).total_cmp(&left(b)))
        .unwrap_or(0)
}

/// The pump's curve at full speed, and at the speed that it runs at, against the index circuit's loss, with the point
/// required and the one it runs at.
///
/// `circuit` counts the pumped circuits of the required view. `None` if that circuit has no pump with a curve. Axes
/// in the user's units. Tee losses are scaled with the square of the flow.
pub fn pump(
    network: &Network,
    required: &Required,
    running: Option<&Running>,
    circuit: usize,
    style: &Style,
) -> Option<String> {
    let c = required.circuits.get(circuit)?;
    let info = network.pumps.get(c.pump?)?;
    let Law::Pump(curve) = &network.element(info.element).law else {
        return None;
    };
    let path = c.paths.get(c.index)?;
    let words = Words::new(network, style, super::density_of(network));
    let (m3_s, flow_word) = words.flow_unit();
    let (pa, head_word) = words.pressure_unit();
    // curves are given over m³/h
    let shown = 1.0 / (3600.0 * m3_s);
    let needed = c.flow_m3_s * 3600.0;
    if needed <= 0.0 {
        return None;
    }
    let mut end = needed * 1.3;
    while head_pa(curve, end) > 0.0 && end < needed * 4.0 {
        end += needed * 0.1;
    }
    let steps = 40;
    let mut flows: Vec<f64> = (0..=steps)
        .map(|i| end * f64::from(i) / f64::from(steps))
        .collect();
    if let PumpCurve::Points(points) = curve {
        // straight pieces need their own ends only
        flows = points.iter().map(|p| p.0).filter(|q| *q < end).collect();
        flows.extend([0.0, end]);
        flows.sort_by(f64::total_cmp);
    }
    let pump: Vec<(f64, f64)> = flows
        .into_iter()
        .map(|q| (q * shown, head_pa(curve, q).max(0.0) / pa))
        .collect();
    let top = pump
        .iter()
        .map(|p| p.1)
        .fold(c.needed_pa / pa * 1.1, f64::max);
    let mut plot = Plot::new((210.0, 130.0), (end * shown, top));
    let system: Vec<(f64, f64)> = (0..=steps)
        .map(|i| end / needed * f64::from(i) / f64::from(steps))
        .filter_map(|k| {
            Some((
                k * needed * shown,
                loss_at(network, required, path, k)? / pa,
            ))
        })
        .take_while(|p| p.1 <= plot.most.1)
        .collect();
    plot.axes(
        &words,
        &format!("flow, {flow_word}"),
        &format!("head, {head_word}"),
    );
    plot.curve(&pump, false, 1.0);
    plot.curve(&system, true, 1.0);
    // named where it falls, clear of the points at work
    let low = |p: &&(f64, f64)| p.1 > 0.1 * top && p.1 < 0.6 * c.needed_pa / pa;
    if let Some(p) = pump.iter().rev().find(low).or(pump.first()) {
        plot.call(p.0, p.1, "pump, full speed".into());
    }
    if let Some(p) = system.last() {
        plot.call(p.0, p.1, "index circuit".into());
    }
    let state = c.pump.and_then(|p| running?.solved.pumps.get(p));
    // a pump that is not at full speed has a curve of its own
    if let Some(state) = state.filter(|s| s.speed > 0.0 && s.speed < 0.995) {
        let slower: Vec<(f64, f64)> = (0..=steps)
            .map(|i| end * f64::from(i) / f64::from(steps))
            .map(|q| {
                (
                    q,
                    state.speed * state.speed * head_pa(curve, q / state.speed),
                )
            })
            .take_while(|p| p.1 > 0.0)
            .map(|(q, p)| (q * shown, p / pa))
            .collect();
        plot.curve(&slower, false, 0.5);
        if let Some(p) = slower.get(slower.len() / 8) {
            let percent = words.number(state.speed * 100.0, 0);
            plot.call(p.0, p.1, format!("pump as it runs, {percent}\u{a0}%"));
        }
    }
    let req = (needed * shown, c.needed_pa / pa);
    plot.mark(req.0, req.1, true);
    plot.call(
        req.0,
        req.1,
        format!(
            "required: {} at {}",
            words.flow(c.flow_m3_s),
            words.pressure(c.needed_pa)
        ),
    );
    if let Some(state) = state {
        let (q, h) = (state.flow_m3_s * 3600.0 * shown, state.head_pa / pa);
        if q >= 0.0 && q <= plot.most.0 && h >= 0.0 && h <= plot.most.1 {
            plot.mark(q, h, false);
            plot.call(
                q,
                h,
                format!(
                    "runs: {} at {}",
                    words.flow(state.flow_m3_s),
                    words.pressure(state.head_pa)
                ),
            );
        }
    }
    let title = format!("{}: pump and system", c.name);
    let desc = format!(
        "Needs {} at {}; has {}.",
        words.flow(c.flow_m3_s),
        words.pressure(c.needed_pa),
        c.available_pa
            .map_or("an unknown head".into(), |p| words.pressure(p))
    );
    Some(plot.finish(&title, &desc, style))
}

/// Where a path turns home: behind what it goes through, else where the first return begins.
fn turns(network: &Network, path: &Path) -> usize {
    let body = |(id, _): &(ElementId, bool)| {
        let role = network.element(*id).role;
        matches!(role, Role::EmitterBody | Role::Coil)
    };
    let home = |(id, _): &(ElementId, bool)| {
        let run = network.element(*id).run.and_then(|r| network.runs.get(r));
        run.is_some_and(|r| r.side == Some(Side::Return))
    };
    let all = &path.elements;
    all.iter()
        .position(body)
        .map(|i| i + 1)
        .or_else(|| all.iter().position(home))
        .unwrap_or(all.len())
}

/// Pressure along the index circuit from the pump round and back, part by part: length of pipe against
/// pressure left, in the user's unit, the way home dashed; and the head that the pump gives, with what is left or short.
pub fn pressure(
    network: &Network,
    required: &Required,
    circuit: usize,
    style: &Style,
) -> Option<String> {
    let c = required.circuits.get(circuit)?;
    let path = c.paths.get(c.index)?;
    let words = Words::new(network, style, super::density_of(network));
    let (pa, word) = words.pressure_unit();
    let mut at = (0.0, path.loss_pa / pa);
    let mut points = vec![at];
    let mut drops: Vec<(f64, (f64, f64), String)> = Vec::new();
    let home = turns(network, path);
    let mut turn = None;
    for (i, &(id, _)) in path.elements.iter().enumerate() {
        if i == home {
            turn = Some(points.len() - 1);
        }
        let element = network.element(id);
        if matches!(element.law, Law::Pump(_)) {
            continue;
        }
        let loss = required.loss_pa.get(id.index()).copied().unwrap_or(0.0) / pa;
        let length = element
            .run
            .and_then(|r| network.runs.get(r))
            .map_or(0.0, |r| r.length_m / r.elements.len().max(1) as f64);
        let before = at;
        at = (at.0 + length, at.1 - loss);
        points.push(at);
        let middle = ((before.0 + at.0) / 2.0, (before.1 + at.1) / 2.0);
        drops.push((loss, middle, element.name.clone()));
    }
    let most_y = points.iter().map(|p| p.1).fold(0.0, f64::max);
    let least_y = points.iter().map(|p| p.1).fold(0.0, f64::min);
    if most_y <= 0.0 || least_y < -0.02 * most_y {
        return None;
    }
    let points: Vec<(f64, f64)> = points.into_iter().map(|p| (p.0, p.1.max(0.0))).collect();
    let has = c.available_pa.map(|has| has / pa);
    let top = has.map_or(most_y, |has| most_y.max(has));
    let mut plot = Plot::new((210.0, 130.0), (at.0.max(1.0), top));
    plot.axes(
        &words,
        "along the circuit, m of pipe",
        &format!("pressure left, {word}"),
    );
    let turn = turn.unwrap_or(points.len() - 1);
    plot.curve(&points[..=turn], false, 1.0);
    plot.curve(&points[turn..], true, 1.0);
    let through = tidy(&path.through.name(network), 20).0;
    let mut verdict = String::new();
    if let Some(has) = has {
        let left = has * pa - path.loss_pa;
        verdict = match left < 0.0 {
            true => format!("{} short", words.pressure(-left)),
            false => format!("{} left", words.pressure(left)),
        };
        let end = plot.most.0;
        plot.level(has);
        let gives = words.pressure(has * pa);
        let gives = format!("pump: {gives}, {verdict}");
        verdict = format!(" Has {}.", gives.trim_start_matches("pump: "));
        plot.call_as(end, has, gives, left < 0.0);
    }
    drops.sort_by(|a, b| b.0.total_cmp(&a.0));
    for (i, (loss, p, name)) in drops.into_iter().take(9).enumerate() {
        // the name gives way to the figure, and nothing of ours to a long name
        let figure = words.pressure(loss * pa);
        let name = name.replace(" thermostatic valve", " valve");
        let room = super::svg_axes::CALL.saturating_sub(figure.chars().count() + 1);
        // what takes most stands out
        let label = format!("{} {figure}", tidy(&name, room).0);
        plot.call_as(p.0, p.1.max(0.0), label, i == 0);
    }
    let title = format!("{}: pressure along the index circuit, {through}", c.name);
    let total = words.pressure(path.loss_pa);
    Some(plot.finish(&title, &format!("Needs {total}.{verdict}"), style))
}
