//! Heat that pipes lose on their way.
//!
//! A pipe inside the heated house warms the house: its loss is useful heat, the water is not cooled by it here, and the
//! list of what was assumed says so. A pipe in a loft, a garage, a plant space or outdoors loses heat to the air round
//! it (the catalogue's row of the place; outdoors the design's outside air), by the catalogue's figure for bare or
//! lagged pipe in still air.

use super::build::Builder;
use super::lookup::short;
use crate::catalogue::{Catalogue, Pipe};
use crate::network::Heat;
use crate::survey::{Leg, Lies};

/// Whether heat lost there is lost to the house.
pub(super) fn in_the_cold(lies: Lies) -> bool {
    matches!(
        lies,
        Lies::Loft | Lies::Garage | Lies::PlantSpace | Lies::Outdoors
    )
}

/// What a leg's surroundings do to the water in it.
pub(super) fn heat(builder: &mut Builder, leg: &Leg, pipe: &Pipe, subject: &str) -> Heat {
    let catalogue = Catalogue::embedded();
    let row = leg
        .lies
        .filter(|lies| in_the_cold(*lies))
        .and_then(|lies| catalogue.place(lies));
    let Some(row) = row else {
        builder.assume(
            "pipes in the heated house",
            "their heat loss is useful heat and does not cool the water",
            "how pipecarry reckons",
        );
        return Heat::None;
    };
    let ambient_c = match (row.air, builder.network.design.outside_c) {
        (Some(air), _) => {
            let said = format!("{}: air at {} °C", row.word, short(air.0));
            builder.assume("surroundings", &said, &row.source);
            air.0
        }
        (None, Some(outside_c)) => outside_c,
        (None, None) => {
            builder.assume(
                "surroundings",
                "outside air at 0 °C",
                "common practice, no source",
            );
            0.0
        }
    };
    let u_w_mk = catalogue.heat_loss_w_mk(pipe, leg.lagging);
    let lagged = leg.lagging.is_some_and(|m| m.0 > 0.0);
    let said = if lagged {
        "heat loss through lagging of 0.04 W/(m K), surface 10 W/(m² K)"
    } else {
        "heat loss of bare pipe in still air; wind can double it"
    };
    let source = if lagged {
        "usual foam or mineral wool, from memory"
    } else {
        "computed after Churchill and Chu (1975) with radiation"
    };
    builder.assume(subject, said, source);
    Heat::Loss {
        u_w_mk,
        length_m: leg.length.likeliest.0,
        ambient_c,
    }
}
