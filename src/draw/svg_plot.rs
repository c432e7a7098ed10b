//! Companion plots in the style of the schematic: pump and system curve, pressure along the index circuit, capacity of
//! every run against its duty. Directly labelled, legible in grey.

use super::figures::Figures;
use super::style::Style;
use super::svg_axes::{CAP, Plot, page, text};
use super::svg_path::number;
use super::svg_style::LIGHT;
use super::words::{Words, tidy};
use crate::network::{ElementId, Law, Network, PumpCurve};
use crate::solve::element_loss;
use crate::view::{Required, Running};
use svg::Node;
use svg::node::element::{Group, Rectangle};

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

fn loss_at(
    network: &Network,
    required: &Required,
    ids: &[(ElementId, bool)],
    k: f64,
) -> Option<f64> {
    let mut sum = 0.0;
    for &(id, _) in ids {
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

/// The pump's curve at full speed against the index circuit's loss, with the point required and the one it runs at.
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
                loss_at(network, required, &path.elements, k)? / pa,
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
    if let Some(state) = c.pump.and_then(|p| running?.solved.pumps.get(p)) {
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

/// Pressure along the index circuit from the pump round and back, part by part: length of pipe against
/// pressure left, in the user's unit.
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
    for &(id, _) in &path.elements {
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
    let mut plot = Plot::new((210.0, 130.0), (at.0.max(1.0), most_y));
    plot.axes(
        &words,
        "along the circuit, m of pipe",
        &format!("pressure left, {word}"),
    );
    plot.curve(&points, false, 1.0);
    drops.sort_by(|a, b| b.0.total_cmp(&a.0));
    for (loss, p, name) in drops.into_iter().take(9) {
        // the name gives way to the figure, and nothing of ours to a long name
        let figure = words.pressure(loss * pa);
        let name = name.replace(" thermostatic valve", " valve");
        let room = super::svg_axes::CALL.saturating_sub(figure.chars().count() + 1);
        plot.call(
            p.0,
            p.1.max(0.0),
            format!("{} {figure}", tidy(&name, room).0),
        );
    }
    let title = format!("{}: pressure along the index circuit", c.name);
    Some(plot.finish(
        &title,
        &format!("Total {}.", words.pressure(path.loss_pa)),
        style,
    ))
}

/// What each run could carry at the design drop before velocity or head stops it, against what it has to carry, kW:
/// the fullest runs first, forty at most.
pub fn capacity(network: &Network, required: &Required, style: &Style) -> Option<String> {
    let figures = Figures::new(network, Some(required), None, &[], style);
    let words = Words::new(network, style, 1000.0);
    let design = network.design.drop_k;
    let mut bars: Vec<(f64, f64, String)> = required
        .capacity
        .iter()
        .filter(|c| c.duty_w > 0.0)
        .filter_map(|c| {
            let near = c
                .carries
                .iter()
                .min_by(|a, b| (a.0 - design).abs().total_cmp(&(b.0 - design).abs()))?;
            // a run that the others leave no head at all carries nothing: the first to show
            let limit = near.1.min(near.3.unwrap_or(f64::INFINITY)).max(0.0);
            let run = figures.network.runs.get(c.run)?;
            Some((
                c.duty_w / 1e3,
                limit / 1e3,
                format!("{} {}", tidy(&run.tag, 8).0, words.size(run)),
            ))
        })
        .filter(|b| b.1.is_finite())
        .collect();
    if bars.is_empty() {
        return None;
    }
    // first the runs that are over by themselves, then those to which they leave nothing, then the rest by fullness; a
    // duty is more than nothing, so that no share is 0/0
    let rank = |b: &(f64, f64, String)| (b.0 <= b.1, b.1 <= 0.0);
    bars.sort_by(|a, b| {
        let fuller = (b.0 / b.1).total_cmp(&(a.0 / a.1));
        rank(a).cmp(&rank(b)).then(fuller).then(a.2.cmp(&b.2))
    });
    bars.truncate(40);
    let most = bars.iter().map(|b| b.0.max(b.1)).fold(0.0, f64::max);
    let (left, right, pitch) = (52.0, 150.0, 6.6);
    let size = (210.0, 30.0 + pitch * bars.len() as f64);
    let mut g = Group::new();
    g.append(text(
        10.0,
        9.0,
        "What each run carries, and could carry",
        "start",
        true,
        3.5,
    ));
    g.append(text(
        10.0,
        16.0,
        "filled: duty; outline: limit by velocity, or by the head that the other runs leave, kW",
        "start",
        false,
        CAP,
    ));
    for (i, (duty, limit, name)) in bars.iter().enumerate() {
        let y = 21.0 + pitch * i as f64;
        let scale = (right - left) / most;
        g.append(text(left - 3.0, y + 3.4, name, "end", false, CAP));
        g.append(
            Rectangle::new()
                .set("class", "o")
                .set("fill", LIGHT.sheet)
                .set("stroke", LIGHT.ink)
                .set("stroke-width", "0.35")
                .set("x", number(left))
                .set("y", number(y))
                .set("width", number(limit * scale))
                .set("height", "4.2"),
        );
        g.append(
            Rectangle::new()
                .set("class", "d")
                .set("fill", LIGHT.ink)
                .set("x", number(left))
                .set("y", number(y + 1.1))
                .set("width", number(duty * scale))
                .set("height", "2"),
        );
        let over = if duty > limit { "over: " } else { "" };
        let label = format!(
            "{over}{} of {}",
            words.number(*duty, 2),
            words.number(*limit, 2)
        );
        g.append(text(
            right + 4.0,
            y + 3.4,
            &label,
            "start",
            duty > limit,
            CAP,
        ));
    }
    Some(page(
        size,
        g,
        "Capacity of the runs",
        "Each run's duty against what it could carry, in kW.",
        style,
    ))
}
