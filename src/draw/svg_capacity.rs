//! Capacity of every pipe by itself against its duty. Directly labelled, legible in grey.

use super::style::Style;
use super::svg_axes::{CAP, page, step, text};
use super::svg_path::number;
use super::svg_style::LIGHT;
use super::words::{Words, tidy};
use crate::network::Network;
use crate::view::limits::{limit, noise_limit};
use crate::view::{Bites, Required, RunCapacity};
use svg::Node;
use svg::node::element::{Element, Group, Rectangle};

/// One bar.
struct Bar {
    duty_w: f64,
    /// What the pipe itself may carry, W.
    limit_w: f64,
    /// What sets that.
    by: &'static str,
    name: String,
}

/// By velocity, and by gradient where the file makes that a limit; heat goes with the flow, since the drop stays.
fn own_limit(network: &Network, c: &RunCapacity) -> Option<(f64, &'static str)> {
    let run = network.runs.get(c.run)?;
    let by_velocity = noise_limit(network, run)
        .filter(|_| c.velocity_m_s > 0.0)
        .map(|l| (c.duty_w * l.value / c.velocity_m_s, "velocity"));
    let by_gradient = limit(network, "gradient", Some(&run.name))
        .filter(|l| l.counts)
        .and_then(|_| {
            let (_, velocity_w, gradient_w, _) = c.carries.first()?;
            let (by_velocity, _) = by_velocity?;
            Some((by_velocity * gradient_w / velocity_w, "gradient"))
        });
    let both = [by_velocity, by_gradient].into_iter().flatten();
    both.filter(|l| l.0.is_finite())
        .min_by(|a, b| a.0.total_cmp(&b.0))
}

/// One bar for each run, one for both pipes of a pair that are of the same size: the fuller of the two speaks.
fn bars(network: &Network, required: &Required, words: &Words) -> Vec<Bar> {
    let mut all: Vec<Bar> = Vec::new();
    let of = |run: usize| {
        let found = required
            .capacity
            .iter()
            .find(|c| c.run == run && c.duty_w > 0.0)?;
        let (limit_w, by) = own_limit(network, found)?;
        Some((found, limit_w, by))
    };
    for c in required.capacity.iter().filter(|c| c.duty_w > 0.0) {
        let (Some(run), Some(own)) = (network.runs.get(c.run), of(c.run)) else {
            continue;
        };
        let twin = run
            .partner
            .filter(|p| {
                network
                    .runs
                    .get(*p)
                    .is_some_and(|p| words.size(p) == words.size(run))
            })
            .and_then(of);
        let mut tags = tidy(&run.tag, 8).0;
        let mut fuller = own;
        if let Some(twin) = twin {
            if twin.0.run < c.run {
                continue;
            }
            tags = format!("{tags}/{}", tidy(&network.runs[twin.0.run].tag, 8).0);
            if twin.0.duty_w / twin.1 > own.0.duty_w / own.1 {
                fuller = twin;
            }
        }
        let (c, limit_w, by) = fuller;
        all.push(Bar {
            duty_w: c.duty_w,
            limit_w,
            by,
            name: label(&tags, &run.name, &words.size(run)),
        });
    }
    // the fullest first
    all.sort_by(|a, b| (b.duty_w / b.limit_w).total_cmp(&(a.duty_w / a.limit_w)));
    all.truncate(40);
    all
}

/// Tags, name and size of a pipe; the name gives way.
fn label(tags: &str, name: &str, size: &str) -> String {
    const ROOM: usize = 30;
    let taken = tags.chars().count() + size.chars().count() + 4;
    format!(
        "{tags} {} · {size}",
        tidy(name, ROOM.saturating_sub(taken).max(4)).0
    )
}

/// What each pumped circuit may carry as a whole, where the head counts, too.
fn circuits(network: &Network, required: &Required, words: &Words) -> Vec<(String, bool)> {
    let all = required.circuits.iter().filter_map(|c| {
        let has = c.available_pa?;
        let left = has - c.needed_pa;
        let rest = match left < 0.0 {
            true => format!("{} short", words.pressure(-left)),
            false => format!("{} left", words.pressure(left)),
        };
        let design = network.design.drop_k;
        let near = |a: &&(f64, f64, Bites), b: &&(f64, f64, Bites)| {
            (a.0 - design).abs().total_cmp(&(b.0 - design).abs())
        };
        let name = tidy(&c.name, 18).0;
        let most = c.carries.iter().min_by(near).map(|m| {
            let tag = |run: usize| network.runs.get(run).map_or("", |r| r.tag.as_str());
            let why = match m.2 {
                Bites::Head => "then the head ends".to_owned(),
                Bites::Velocity(run) => format!("then the velocity in {}", tidy(tag(run), 8).0),
                Bites::Gradient(run) => format!("then the gradient in {}", tidy(tag(run), 8).0),
                Bites::SourceFlow => "then the source's greatest flow".to_owned(),
            };
            let (w, k) = (words.number(m.1 / 1e3, 2), words.number(m.0, 0));
            format!("{name} as a whole: {w}\u{a0}kW at {k}\u{a0}K, {why}")
        });
        let (needs, has) = (words.pressure(c.needed_pa), words.pressure(has));
        let head = (
            format!("{name}: needs {needs}, has {has}, {rest}"),
            left < 0.0,
        );
        Some([Some(head), most.map(|m| (m, false))])
    });
    all.take(6).flatten().flatten().collect()
}

fn rectangle(class: &str, fill: &str, (x, y, w, h): (f64, f64, f64, f64)) -> Rectangle {
    Rectangle::new()
        .set("class", class)
        .set("fill", fill)
        .set("x", number(x))
        .set("y", number(y))
        .set("width", number(w))
        .set("height", number(h))
}

/// What each run may carry by its own velocity (and gradient, where the file limits it), against what it has to carry,
/// kW: the fullest first, forty at most. The head is the whole circuit's affair and stands once, in words.
pub fn capacity(network: &Network, required: &Required, style: &Style) -> Option<String> {
    let words = Words::new(network, style, super::density_of(network));
    let bars = bars(network, required, &words);
    let most = bars
        .iter()
        .map(|b| b.duty_w.max(b.limit_w) / 1e3)
        .fold(0.0, f64::max);
    if bars.is_empty() || most <= 0.0 {
        return None;
    }
    let circuits = circuits(network, required, &words);
    let (left, right, pitch) = (80.0, 144.0, 6.6);
    let top = 25.0 + 5.5 * circuits.len() as f64;
    let foot = top + pitch * bars.len() as f64;
    let size = (210.0, foot + 18.0);
    let mut g = Group::new();
    let title = "What each pipe carries, and could carry";
    g.append(text(10.0, 9.0, title, "start", true, 3.5));
    let legend = "filled: duty; outline: what the pipe itself may carry at the same drop";
    g.append(text(10.0, 16.0, legend, "start", false, CAP));
    for (i, (line, short)) in circuits.iter().enumerate() {
        g.append(text(
            10.0,
            22.0 + 5.5 * i as f64,
            line,
            "start",
            *short,
            CAP,
        ));
    }
    let s = step(most);
    let end = (most / s).ceil() * s;
    let scale = (right - left) / end;
    let decimals = if s >= 1.0 {
        0
    } else if s >= 0.1 {
        1
    } else {
        2
    };
    let mut axis = format!("M{} {}H{}", number(left), number(foot), number(right));
    for i in 0..=(end / s).round() as usize {
        let v = s * i as f64;
        let x = left + v * scale;
        axis.push_str(&format!("M{} {}v1.6", number(x), number(foot)));
        let label = words.number(v, decimals);
        g.append(text(x, foot + 6.0, &label, "middle", false, CAP));
    }
    let mut line = Element::new("path");
    line.assign("class", "axis n");
    line.assign("fill", "none");
    line.assign("stroke", LIGHT.ink);
    line.assign("stroke-width", "0.5");
    line.assign("d", axis);
    g.append(line);
    g.append(text(right, foot + 12.5, "heat, kW", "end", false, CAP));
    for (i, bar) in bars.iter().enumerate() {
        let y = top + pitch * i as f64;
        let over = bar.duty_w > bar.limit_w;
        let (duty, limit) = (bar.duty_w / 1e3, bar.limit_w / 1e3);
        g.append(text(left - 3.0, y + 3.4, &bar.name, "end", over, CAP));
        let outline = rectangle("o", LIGHT.sheet, (left, y, limit * scale, 4.2));
        g.append(outline.set("stroke", LIGHT.ink).set("stroke-width", "0.35"));
        let filled = (left, y + 1.1, duty * scale, 2.0);
        g.append(rectangle("d", LIGHT.ink, filled));
        let verb = if over { "over: " } else { "" };
        let by = match bar.by {
            "gradient" => ", gradient",
            _ if over => ", velocity",
            _ => "",
        };
        let figures = (words.number(duty, 2), words.number(limit, 2));
        let label = format!("{verb}{} of {}{by}", figures.0, figures.1);
        g.append(text(right + 4.0, y + 3.4, &label, "start", over, CAP));
    }
    let desc = "Each pipe's duty against what it may carry by its own velocity, in kW.";
    Some(page(size, g, "Capacity of the pipes", desc, style))
}
