//! A small time simulation of a source that stops and starts because its least output is more than the house takes.
//!
//! The water in circulation is a ring of plug-flow cells with mixed volumes (emitters, vessels) in it; the pump runs on while
//! the source stands still. The source modulates to hold its flow temperature down to its least output; above the
//! band it stops, below the band and after its least stop time it starts again.

use crate::maths::exp;

/// What turns round and how it is controlled.
#[derive(Clone, Debug, PartialEq)]
pub struct Plant {
    /// Circulating flow, kg/s.
    pub flow_kg_s: f64,
    /// Heat capacity, J/(kg K).
    pub cp_j_kgk: f64,
    /// Mass of plug-flow water from the source to the emitters, kg.
    pub flow_side_kg: f64,
    /// Mass of plug-flow water from the emitters back to the source, kg.
    pub return_side_kg: f64,
    /// Mass of mixed water in the emitters, kg; 0 puts their heat at one point of the ring.
    pub emitters_kg: f64,
    /// Mass of a mixed vessel on the flow, kg; 0 if there is none.
    pub flow_vessel_kg: f64,
    /// Mass of a mixed vessel on the return, kg; 0 if there is none.
    pub return_vessel_kg: f64,
    /// Least output, W.
    pub least_output_w: f64,
    /// Greatest output, W.
    pub output_w: f64,
    /// Flow temperature aimed at, °C.
    pub flow_c: f64,
    /// Whole width of the control band, K: stops half of it above, starts half of it below.
    pub band_k: f64,
    /// Least stop, s.
    pub least_stop_s: f64,
    /// What leaves the water at the emitters.
    pub takes: Takes,
}

/// Heat that leaves the water at the emitters.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Takes {
    /// Always this, W: the case of the closed form.
    Fixed(f64),
    /// In proportion to (water − room)ⁿ, W at an inlet of `inlet_c`. The water is the mean of inlet and outlet where the
    /// emitters hold water, else the inlet.
    Emitters {
        /// W at `inlet_c`.
        heat_w: f64,
        /// °C.
        inlet_c: f64,
        /// °C.
        room_c: f64,
        /// n.
        exponent: f64,
    },
}

impl Takes {
    /// W at a temperature of the water; never negative. `below_k` is how far the water that counts lies below the inlet
    /// when `heat_w` is given.
    fn at(&self, water_c: f64, below_k: f64) -> f64 {
        match *self {
            Takes::Fixed(heat_w) => heat_w,
            Takes::Emitters {
                heat_w,
                inlet_c,
                room_c,
                exponent,
            } => {
                let share = (water_c - room_c) / (inlet_c - below_k - room_c).max(1e-3);
                if share > 0.0 {
                    heat_w * crate::maths::pow(share, exponent)
                } else {
                    0.0
                }
            }
        }
    }
}

/// How the source runs once it has settled into a rhythm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Rhythm {
    /// It modulates without stopping, at this output, W.
    Steady {
        /// W.
        output_w: f64,
    },
    /// It stops and starts.
    Cycles {
        /// s, mean of the last cycles.
        run_s: f64,
        /// s, mean of the last cycles.
        stop_s: f64,
        /// Starts per hour.
        starts_per_hour: f64,
        /// Highest less lowest return temperature over a cycle, K.
        return_swing_k: f64,
    },
    /// It does not start again within the time simulated (the house takes next to nothing).
    Stands,
}

/// Cells of the plug-flow ring: fine enough that a front is sharp to half a percent of the ring.
const CELLS: usize = 240;
/// Cycles looked at after the first ones have died away.
const CYCLES: usize = 4;
/// Time after which the search for a rhythm ends, s: a long winter's night.
const LONGEST_S: f64 = 12.0 * 3600.0;

/// Simulates until four settled cycles are seen or twelve hours are over.
///
/// Explicit in steps of one cell; a mixed vessel follows its exact exponential within a step. Returns `None` for a
/// plant without flow or water, which has no rhythm.
pub fn simulate(plant: &Plant) -> Option<Rhythm> {
    let plug_kg = plant.flow_side_kg + plant.return_side_kg;
    let all_kg = plug_kg + plant.emitters_kg + plant.flow_vessel_kg + plant.return_vessel_kg;
    let fits = plant.flow_kg_s > 0.0 && all_kg > 0.0 && plant.cp_j_kgk > 0.0 && plant.band_k > 0.0;
    if !fits || !(all_kg / plant.flow_kg_s).is_finite() {
        return None;
    }
    // with little plug-flow water the vessel sets the step
    let step_s = (plug_kg.max(all_kg / 20.0)) / plant.flow_kg_s / CELLS as f64;
    let cell_kg = plant.flow_kg_s * step_s;
    let cells = |kg: f64| (kg / cell_kg).round() as usize;
    let capacity_w_k = plant.flow_kg_s * plant.cp_j_kgk;
    let full_w = plant.takes.at(plant.flow_c, 0.0);
    let below_k = if plant.emitters_kg > 0.0 {
        0.5 * full_w / capacity_w_k
    } else {
        0.0
    };
    let start_c = plant.flow_c - full_w / capacity_w_k;
    let mut emitters_c = start_c;
    let mut flow = Pipe::new(cells(plant.flow_side_kg), plant.flow_c);
    let mut back = Pipe::new(cells(plant.return_side_kg), start_c);
    let mut flow_vessel_c = plant.flow_c;
    let mut return_vessel_c = start_c;
    let follow = |kg: f64| {
        if kg > 0.0 {
            1.0 - exp(-cell_kg / kg)
        } else {
            1.0
        }
    };
    let (flow_share, return_share) = (follow(plant.flow_vessel_kg), follow(plant.return_vessel_kg));
    let emitters_share = follow(plant.emitters_kg);

    let mut runs = true;
    let mut since_s = 0.0;
    let mut time_s = 0.0;
    let mut starts: Vec<f64> = Vec::new();
    let mut run_times: Vec<f64> = Vec::new();
    let mut stop_times: Vec<f64> = Vec::new();
    let (mut low_c, mut high_c) = (f64::INFINITY, f64::NEG_INFINITY);
    let mut swings: Vec<f64> = Vec::new();
    let mut output_w = plant.least_output_w;
    while time_s < LONGEST_S {
        let return_c = return_vessel_c;
        low_c = low_c.min(return_c);
        high_c = high_c.max(return_c);
        // what it would take to make the flow temperature, within what the source can
        let wanted_w = capacity_w_k * (plant.flow_c - return_c);
        output_w = if runs {
            wanted_w.clamp(plant.least_output_w, plant.output_w)
        } else {
            0.0
        };
        let made_c = return_c + output_w / capacity_w_k;
        flow_vessel_c += flow_share * (flow.push(made_c) - flow_vessel_c);
        let water_c = if plant.emitters_kg > 0.0 {
            0.5 * (flow_vessel_c + emitters_c)
        } else {
            flow_vessel_c
        };
        let left_c = flow_vessel_c - plant.takes.at(water_c, below_k) / capacity_w_k;
        emitters_c += emitters_share * (left_c - emitters_c);
        return_vessel_c += return_share * (back.push(emitters_c) - return_vessel_c);
        time_s += step_s;
        since_s += step_s;
        if runs && made_c >= plant.flow_c + plant.band_k / 2.0 {
            run_times.push(since_s);
            (runs, since_s) = (false, 0.0);
        } else if !runs
            && made_c <= plant.flow_c - plant.band_k / 2.0
            && since_s >= plant.least_stop_s
        {
            stop_times.push(since_s);
            starts.push(time_s);
            swings.push(high_c - low_c);
            (low_c, high_c) = (f64::INFINITY, f64::NEG_INFINITY);
            (runs, since_s) = (true, 0.0);
            if starts.len() > 2 * CYCLES {
                break;
            }
        }
    }
    let settled = starts.len().saturating_sub(CYCLES);
    if starts.len() > CYCLES {
        let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
        let last = |values: &[f64]| mean(&values[values.len().saturating_sub(CYCLES)..]);
        let period_s = (starts[starts.len() - 1] - starts[settled - 1]) / CYCLES as f64;
        return Some(Rhythm::Cycles {
            run_s: last(&run_times),
            stop_s: last(&stop_times),
            starts_per_hour: 3600.0 / period_s,
            return_swing_k: last(&swings),
        });
    }
    if !starts.is_empty() {
        // slow cycles: fewer than were asked for, still told as they are
        let n = starts.len() as f64;
        return Some(Rhythm::Cycles {
            run_s: run_times.iter().sum::<f64>() / run_times.len() as f64,
            stop_s: stop_times.iter().sum::<f64>() / n,
            starts_per_hour: n / (time_s / 3600.0),
            return_swing_k: swings.iter().copied().fold(0.0, f64::max),
        });
    }
    Some(if runs {
        Rhythm::Steady { output_w }
    } else {
        Rhythm::Stands
    })
}

/// Run time by the closed form, s: the water in circulation warmed by the surplus over `rise_k`.
///
/// t = m·c·ΔT / (P_min − load). `None` if there is no surplus, so that the source need not stop.
pub fn closed_form_run_s(
    mass_kg: f64,
    cp_j_kgk: f64,
    rise_k: f64,
    least_output_w: f64,
    load_w: f64,
) -> Option<f64> {
    let surplus_w = least_output_w - load_w;
    (surplus_w > 0.0).then(|| mass_kg * cp_j_kgk * rise_k / surplus_w)
}

/// Plug flow: what goes in comes out after the others.
struct Pipe {
    cells: Vec<f64>,
    next: usize,
}

impl Pipe {
    fn new(cells: usize, start_c: f64) -> Self {
        Self {
            cells: vec![start_c; cells],
            next: 0,
        }
    }

    fn push(&mut self, in_c: f64) -> f64 {
        if self.cells.is_empty() {
            return in_c;
        }
        let out_c = std::mem::replace(&mut self.cells[self.next], in_c);
        self.next = (self.next + 1) % self.cells.len();
        out_c
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// 81 l, 3.2 kW against 0.4 kW, 5 K: ten minutes by the closed form.
    fn mixed(load_w: f64) -> Plant {
        Plant {
            flow_kg_s: 0.25,
            cp_j_kgk: 4180.0,
            flow_side_kg: 0.0,
            return_side_kg: 0.0,
            emitters_kg: 0.0,
            flow_vessel_kg: 0.0,
            return_vessel_kg: 80.4,
            least_output_w: 3200.0,
            output_w: 8000.0,
            flow_c: 35.0,
            band_k: 5.0,
            least_stop_s: 0.0,
            takes: Takes::Fixed(load_w),
        }
    }

    #[test]
    fn one_mixed_volume_agrees_with_the_closed_form() {
        // between start and stop the made flow temperature steps up by output/(m·cp) when the source starts, so the
        // water itself rises by the band less that step; when it stops, by the band less the same step down
        // a source that cannot modulate: one that can gives more at first, when the water is coldest
        let plant = Plant {
            band_k: 8.0,
            output_w: 3200.0,
            ..mixed(400.0)
        };
        let step_k = 3200.0 / (0.25 * 4180.0);
        let run_s = closed_form_run_s(80.4, 4180.0, 8.0 - step_k, 3200.0, 400.0).unwrap();
        let Some(Rhythm::Cycles {
            run_s: found_s,
            stop_s,
            ..
        }) = simulate(&plant)
        else {
            panic!("it must cycle")
        };
        assert_relative_eq!(found_s, run_s, max_relative = 0.02);
        let fall_s = 80.4 * 4180.0 * (8.0 - step_k) / 400.0;
        assert_relative_eq!(stop_s, fall_s, max_relative = 0.02);
    }

    #[test]
    fn emitters_that_hold_water_take_what_they_take_at_rest() {
        // least output just what the emitters take at the flow temperature: it runs through, and makes just that
        let plant = Plant {
            flow_side_kg: 8.0,
            return_side_kg: 8.0,
            emitters_kg: 30.0,
            return_vessel_kg: 0.0,
            least_output_w: 1000.0,
            takes: Takes::Emitters {
                heat_w: 2000.0,
                inlet_c: 35.0,
                room_c: 20.0,
                exponent: 1.3,
            },
            ..mixed(0.0)
        };
        let Some(Rhythm::Steady { output_w }) = simulate(&plant) else {
            panic!("it must run through")
        };
        assert_relative_eq!(output_w, 2000.0, max_relative = 1e-3);
    }

    #[test]
    fn a_load_above_the_least_output_runs_steadily() {
        let Some(Rhythm::Steady { output_w }) = simulate(&mixed(4000.0)) else {
            panic!("it must run through")
        };
        assert_relative_eq!(output_w, 4000.0, max_relative = 1e-3);
    }

    #[test]
    fn more_water_means_longer_runs_and_fewer_starts() {
        let mut last = (0.0, f64::INFINITY);
        for litres in [20.0, 40.0, 80.0, 160.0] {
            let plant = Plant {
                return_vessel_kg: litres,
                flow_side_kg: 10.0,
                return_side_kg: 10.0,
                takes: Takes::Emitters {
                    heat_w: 1000.0,
                    inlet_c: 35.0,
                    room_c: 20.0,
                    exponent: 1.3,
                },
                ..mixed(0.0)
            };
            let Some(Rhythm::Cycles {
                run_s,
                starts_per_hour,
                ..
            }) = simulate(&plant)
            else {
                panic!("it must cycle")
            };
            assert!(run_s > last.0 && starts_per_hour < last.1);
            last = (run_s, starts_per_hour);
        }
    }
}
