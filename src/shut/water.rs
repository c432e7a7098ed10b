//! How much water has to be in circulation: the rules of the trade as formulas.

/// One rule that asks for water, m³.
#[derive(Clone, Debug, PartialEq)]
pub struct Rule {
    /// Which rule.
    pub kind: RuleKind,
    /// The house state that it is asked of; `None` for heating with as much shut as leaves least water.
    pub state: Option<String>,
    /// Water asked for, m³.
    pub asked_m3: f64,
    /// Water that counts for it, m³.
    pub counts_m3: f64,
}

/// The rules.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RuleKind {
    /// The maker's least water, from the file.
    Maker,
    /// The heat of one defrost at an allowed fall of temperature.
    Defrost,
    /// The least run time at least output, less the load that can still leave.
    RunTime,
}

impl Rule {
    /// Water missing, m³; negative if there is more than asked for.
    pub fn short_m3(&self) -> f64 {
        self.asked_m3 - self.counts_m3
    }
}

/// Water whose temperature falls by `fall_k` when `energy_j` is drawn from it, m³.
///
/// Energy balance V = E/(ρ·c·ΔT). Arguments in J, K, kg/m³ and J/(kg K).
pub fn defrost_m3(energy_j: f64, fall_k: f64, rho_kg_m3: f64, cp_j_kgk: f64) -> f64 {
    energy_j / (rho_kg_m3 * cp_j_kgk * fall_k)
}

/// Water that takes up the surplus of the least output over the load for `run_s` while warming by `rise_k`, m³.
///
/// Energy balance V = (P_min − load)·t/(ρ·c·ΔT); nothing is asked for without a surplus.
pub fn run_time_m3(
    least_output_w: f64,
    load_w: f64,
    run_s: f64,
    rise_k: f64,
    rho_kg_m3: f64,
    cp_j_kgk: f64,
) -> f64 {
    (least_output_w - load_w).max(0.0) * run_s / (rho_kg_m3 * cp_j_kgk * rise_k)
}

/// The rule that governs: the one that is shortest of water; the first on a tie.
pub fn governing(rules: &[Rule]) -> Option<&Rule> {
    rules
        .iter()
        .fold(None, |worst: Option<&Rule>, rule| match worst {
            Some(w) if w.short_m3() >= rule.short_m3() => Some(w),
            _ => Some(rule),
        })
}

/// The next size of vessel that fills the gap, by a list of sizes in rising order, m³.
pub fn next_size_m3(short_m3: f64, sizes_m3: &[f64]) -> Option<f64> {
    sizes_m3.iter().copied().find(|&size| size >= short_m3)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    #[test]
    fn two_rules_worked_by_hand() {
        // 26.4 l open; 80 l asked; 3.2 kW − 0.4 kW for 10 min at 5 K with 4.146 kJ/(l K): 81.0 l
        let open_m3 = (7.69 + 9.05 + 6.2 + 3.5) / 1000.0;
        let maker = Rule {
            kind: RuleKind::Maker,
            state: None,
            asked_m3: 0.080,
            counts_m3: open_m3,
        };
        let asked_m3 = run_time_m3(3200.0, 400.0, 600.0, 5.0, 1000.0, 4146.0);
        let run = Rule {
            kind: RuleKind::RunTime,
            state: None,
            asked_m3,
            counts_m3: open_m3,
        };
        assert_relative_eq!(maker.short_m3() * 1000.0, 53.6, max_relative = 0.01);
        assert_relative_eq!(run.short_m3() * 1000.0, 54.6, max_relative = 0.01);
        let rules = [maker, run];
        let worst = governing(&rules).unwrap();
        assert_eq!(worst.kind, RuleKind::RunTime);
        let sizes = [0.030, 0.050, 0.060, 0.080];
        assert_eq!(next_size_m3(worst.short_m3(), &sizes), Some(0.060));
    }
}
