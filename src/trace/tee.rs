//! Steps of what tees add to an element's loss by how the flow splits.

use super::arithmetic::{Expr, n, s, sum};
use super::{Evidence, Input, Step, Trace, Unit, properties};
use crate::check::Kind;
use crate::hydraulics::{friction, tee};
use crate::network::{ElementId, Network, Tee};
use crate::view::Required;

const PA: Unit = Unit::Kind(Kind::PressurePa);
const FLOW: Unit = Unit::Kind(Kind::MassFlowKgS);

/// What tees add at both ends of an element. Where a tee's reading is plain, its coefficient is shown; near a share
/// of nothing readings are blended, and the figure is taken as the solver has it.
pub(super) fn steps(
    trace: &mut Trace,
    network: &Network,
    view: &Required,
    id: ElementId,
    (tag, found): (&str, f64),
) -> Expr {
    let each: Vec<(Vec<Step>, Vec<Input>)> = network
        .tees
        .iter()
        .enumerate()
        .filter_map(|(i, tee)| plain(network, view, tee, id, &format!("{tag}_{}", i + 1)))
        .collect();
    let come_to: f64 = each
        .iter()
        .filter_map(|(steps, _)| steps.last())
        .map(|s| s.value)
        .sum();
    let symbol = format!("dp_tees{tag}");
    if !each.is_empty() && (come_to - found).abs() <= 1e-6 * found.abs().max(1.0) {
        let terms = each
            .iter()
            .filter_map(|(steps, _)| steps.last())
            .map(|step| s(step.symbol.clone(), step.value));
        let formula = sum(terms.collect::<Vec<_>>());
        for (steps, inputs) in each {
            inputs.into_iter().for_each(|input| trace.input(input));
            trace.steps.extend(steps);
        }
        trace
            .steps
            .push(Step::new("tees", symbol.clone(), formula, found, PA));
    } else {
        trace.input(Input {
            symbol: symbol.clone(),
            what: format!(
                "loss at the tees of {}, by how the flow splits there",
                network.element(id).name
            ),
            value: found,
            unit: PA,
            evidence: Evidence::Found,
            source:
                "table of equal tees, Vogel, Petermann and Kinne 1926-1931, as the solver reads it"
                    .into(),
            span: None,
        });
    }
    s(symbol, found)
}

/// One tee's loss on one of its legs in the direction of flow, where it follows from one reading of the table.
fn plain(
    network: &Network,
    view: &Required,
    tee: &Tee,
    id: ElementId,
    tag: &str,
) -> Option<(Vec<Step>, Vec<Input>)> {
    let legs = [tee.straight.0, tee.straight.1, tee.branch];
    let leg = legs.iter().position(|l| *l == id)?;
    let bores = [tee.bores_m.0, tee.bores_m.1, tee.bores_m.2];
    let into = legs.map(|l| {
        let flow = view.flow_kg_s.get(l.index()).copied().unwrap_or(0.0);
        if network.ends(l).1 == tee.place {
            flow
        } else {
            -flow
        }
    });
    let size = into.map(f64::abs);
    let total = (0..3).max_by(|a, b| size[*a].total_cmp(&size[*b]).then(b.cmp(a)))?;
    let smallest = size.iter().copied().fold(f64::INFINITY, f64::min);
    let whole = size[total];
    if whole <= 0.0 || leg == total || total == 2 || smallest / whole < tee::BLEND {
        return None;
    }
    let share = size[2] / whole;
    let dividing = into[total] > 0.0;
    let column = usize::from(leg != 2) + 2 * usize::from(!dividing);
    let zeta = tee::zeta(share)[column];
    let celsius = view.temperature_c.get(legs[0].index()).copied()?;
    let side = |c: f64| properties(network, legs[0], c).map(|p| p.rho_kg_m3);
    let design = &network.design;
    let candidates = [
        celsius,
        design.flow_temperature_c,
        design.flow_temperature_c - design.drop_k,
    ];
    let found = tee::pressures(into, bores, 1.0)[leg].abs();
    // the solver takes a tee's density at the side's own temperature
    let loss_at = |rho: f64| found / rho;
    let own = view.tee_loss_pa.get(id.index()).copied()?;
    let rho = candidates.into_iter().filter_map(side).min_by(|a, b| {
        (loss_at(*a) - own.abs())
            .abs()
            .total_cmp(&(loss_at(*b) - own.abs()).abs())
    })?;
    let which = [
        "branch, dividing",
        "straight on, dividing",
        "branch, joining",
        "straight on, joining",
    ][column];
    let low = (share * 5.0).floor().min(4.0) / 5.0;
    let (a, b) = (tee::zeta(low)[column], tee::zeta(low + 0.2)[column]);
    let at = network
        .graph
        .node_weight(tee.place)
        .map(|p| p.name.clone())
        .unwrap_or_default();
    let name = |what: &str| format!("{what}{tag}");
    let (branch, all) = (s(name("m_branch"), size[2]), s(name("m_total"), whole));
    let between = n(round(a)) + n(round(b - a)) * (branch / all.clone() - n(low)) / n(0.2);
    let coefficient = Step::new(
        format!("loss coefficient at {at}, {which}"),
        name("zeta_tee"),
        between,
        zeta,
        Unit::Plain(""),
    )
    .by("straight between two rows of the table, on the velocity of the total")
    .from("equal tees, Vogel, Petermann and Kinne 1926-1931");
    let fourth = s(name("d_total"), bores[total]).pow(n(4.0));
    let formula = s(name("zeta_tee"), zeta) * n(8.0) * all.squared()
        / (Expr::Pi.squared() * s(name("rho_tee"), rho) * fourth);
    let area = friction::area_m2(bores[total]);
    let loss = zeta * whole * whole / (2.0 * rho * area * area);
    let step = Step::new(format!("tee at {at}"), name("dp_tee"), formula, loss, PA)
        .from("loss coefficient on the velocity of the total");
    let found = |symbol: &str, what: &str, value: f64, unit: Unit, evidence: Evidence| Input {
        symbol: name(symbol),
        what: format!("{what} at {at}"),
        value,
        unit,
        evidence,
        source: String::new(),
        span: None,
    };
    let inputs = vec![
        found(
            "m_branch",
            "flow in the branch",
            size[2],
            FLOW,
            Evidence::Found,
        ),
        found(
            "m_total",
            "flow in the common leg",
            whole,
            FLOW,
            Evidence::Found,
        ),
        found(
            "d_total",
            "bore of the common leg",
            bores[total],
            Unit::Plain("m"),
            Evidence::Table,
        ),
        found(
            "rho_tee",
            "density",
            rho,
            Unit::Plain("kg/m3"),
            Evidence::Table,
        ),
    ];
    Some((vec![coefficient, step], inputs))
}

/// Rows of a table have few digits; a difference of two is written with no more.
fn round(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}
