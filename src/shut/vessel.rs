//! What a vessel between source and emitters costs: mixing at unequal flows, in the emitters' mean temperature.

/// Temperatures round a four-port vessel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mixing {
    /// What the emitters get, °C.
    pub emitters_c: f64,
    /// What comes back from the emitters, °C.
    pub emitters_return_c: f64,
    /// What the source gets back, °C.
    pub source_return_c: f64,
    /// Supply lost against equal flows, K.
    pub supply_lost_k: f64,
    /// Mean of the emitters lost against a circuit without the vessel, at the primary flow, K.
    pub mean_lost_k: f64,
}

/// Balance of a four-port vessel that draws a fixed heat.
///
/// `primary` and `secondary` are capacity flows m·cp in W/K, `flow_c` what the source makes, `heat_w` what the
/// emitters draw. With more secondary than primary flow the emitters' supply is cooled by their own return; with less,
/// the source's return is warmed by its own flow. The mean is what the emitters live on: at a smaller secondary flow
/// their own drop is larger and their mean lower, though their supply is not.
pub fn mixing(flow_c: f64, heat_w: f64, primary: f64, secondary: f64) -> Mixing {
    let source_return_c = flow_c - heat_w / primary;
    // the emitters' return leaves the vessel at the foot; surplus secondary water rises and cools the supply
    let (emitters_c, emitters_return_c) = if secondary > primary {
        let back_c = source_return_c;
        (back_c + heat_w / secondary, back_c)
    } else {
        (flow_c, flow_c - heat_w / secondary)
    };
    let mean_c = 0.5 * (emitters_c + emitters_return_c);
    // joined without a vessel, the emitters would carry the primary flow
    let unmixed_mean_c = flow_c - 0.5 * heat_w / primary;
    Mixing {
        emitters_c,
        emitters_return_c,
        source_return_c,
        supply_lost_k: flow_c - emitters_c,
        mean_lost_k: unmixed_mean_c - mean_c,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// Capacity flow of l/min at 40 °C: ρ 992.2 kg/m³, cp 4179 J/(kg K).
    fn capacity(l_min: f64) -> f64 {
        l_min / 60_000.0 * 992.2 * 4179.0
    }

    #[test]
    fn six_kilowatts_both_ways_worked_by_hand() {
        // more secondary: 45 °C made, 6.20 K and 3.95 K, return 38.80, emitters 42.74, mean 40.77 against 41.90
        let wide = mixing(45.0, 6000.0, capacity(14.0), capacity(22.0));
        assert_abs_diff_eq!(wide.source_return_c, 38.80, epsilon = 0.01);
        assert_abs_diff_eq!(wide.emitters_c, 42.74, epsilon = 0.01);
        assert_abs_diff_eq!(wide.supply_lost_k, 2.26, epsilon = 0.01);
        assert_abs_diff_eq!(wide.mean_lost_k, 1.13, epsilon = 0.01);
        // less secondary: no penalty on supply, 1.13 K on the mean all the same
        let narrow = mixing(45.0, 6000.0, capacity(22.0), capacity(14.0));
        assert_abs_diff_eq!(narrow.supply_lost_k, 0.0, epsilon = 1e-9);
        assert_abs_diff_eq!(narrow.emitters_return_c, 38.80, epsilon = 0.01);
        assert_abs_diff_eq!(narrow.source_return_c, 41.05, epsilon = 0.01);
        assert_abs_diff_eq!(narrow.mean_lost_k, 1.13, epsilon = 0.01);
        let equal = mixing(45.0, 6000.0, capacity(18.0), capacity(18.0));
        assert_abs_diff_eq!(equal.mean_lost_k, 0.0, epsilon = 1e-9);
    }
}
