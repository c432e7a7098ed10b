//! Relations between stated quantities, and whether any values within their tolerances satisfy them all.
//!
//! Intervals are narrowed relation by relation until nothing moves (hull consistency: Benhamou, Goualard, Granvilliers,
//! Puget 1999); what remains is split. An empty interval proves a contradiction; a point that satisfies everything
//! proves that there is none.

use crate::maths::pow;

/// All values from `low` to `high`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// Least.
    pub low: f64,
    /// Greatest.
    pub high: f64,
}

impl Interval {
    /// A value give or take a share of itself.
    pub fn around(value: f64, share: f64) -> Self {
        let half = value.abs() * share;
        Self {
            low: value - half,
            high: value + half,
        }
    }

    fn is_empty(self) -> bool {
        // a NaN counts as empty: nothing satisfies it
        self.low.is_nan() || self.high.is_nan() || self.low > self.high
    }

    /// Both at once; a hair of rounding is forgiven so that equal figures never contradict.
    fn meet(self, other: Interval) -> Self {
        let hair = 1e-12 * (self.low.abs().max(self.high.abs()).min(1e300));
        Self {
            low: self.low.max(other.low - hair),
            high: self.high.min(other.high + hair),
        }
    }

    fn width(self) -> f64 {
        let size = self.low.abs().max(self.high.abs());
        if size > 0.0 {
            (self.high - self.low) / size
        } else {
            0.0
        }
    }

    fn middle(self) -> f64 {
        self.low + (self.high - self.low) / 2.0
    }
}

/// One relation; quantities are named by index.
#[derive(Clone, Debug, PartialEq)]
pub enum Relation {
    /// result = constant × product of factors^exponent, all quantities positive: heat–flow–drop, flow–bore–velocity,
    /// gradient–length–loss, rating–excess–output.
    Product {
        /// The result.
        result: usize,
        /// Quantity and its exponent.
        factors: Vec<(usize, f64)>,
        /// Constant in SI.
        constant: f64,
    },
    /// result = constant + sum of coefficient × quantity: parts–sum, head–loss, volume–parts, mean excess.
    Sum {
        /// The result.
        result: usize,
        /// Quantity and its coefficient, not 0.
        terms: Vec<(usize, f64)>,
        /// Constant in SI.
        constant: f64,
    },
}

/// Whether a system has a solution.
#[derive(Clone, Debug, PartialEq)]
pub enum Consistent {
    /// These values satisfy everything.
    Yes(Vec<f64>),
    /// Nothing does: proved.
    No,
    /// Neither was shown within the work allowed.
    Unknown,
}

/// Parts looked at before a question is given up as unknown.
const PARTS: usize = 4_000;
/// Relative width under which an interval counts as a value.
const VALUE: f64 = 1e-9;
/// Rounds of narrowing over all relations before the box is split.
const ROUNDS: usize = 60;

/// Looks for values within `bounds` that satisfy all `relations`.
pub fn consistent(bounds: &[Interval], relations: &[Relation]) -> Consistent {
    consistent_within(bounds, relations, PARTS)
}

/// The same with other bounds on the work: parts of the box that are looked at.
pub fn consistent_within(bounds: &[Interval], relations: &[Relation], parts: usize) -> Consistent {
    let mut left = parts;
    search(bounds.to_vec(), relations, &mut left)
}

fn search(mut bounds: Vec<Interval>, relations: &[Relation], left: &mut usize) -> Consistent {
    let mut open = vec![std::mem::take(&mut bounds)];
    while let Some(mut part) = open.pop() {
        if *left == 0 {
            return Consistent::Unknown;
        }
        *left -= 1;
        if !narrow(&mut part, relations) {
            continue;
        }
        let widest = (0..part.len())
            .max_by(|&a, &b| part[a].width().total_cmp(&part[b].width()).then(b.cmp(&a)));
        let Some(at) = widest.filter(|&at| part[at].width() > VALUE) else {
            return Consistent::Yes(part.iter().map(|i| i.middle()).collect());
        };
        // the middle is tried as a value first (a solution is usually near it), then both halves
        let whole = part[at];
        let middle = whole.middle();
        for half in [
            Interval {
                low: middle,
                ..whole
            },
            Interval {
                high: middle,
                ..whole
            },
        ] {
            let mut next = part.clone();
            next[at] = half;
            open.push(next);
        }
        part[at] = Interval {
            low: middle,
            high: middle,
        };
        open.push(part);
    }
    Consistent::No
}

/// Narrows until nothing moves; false if something became empty.
fn narrow(bounds: &mut [Interval], relations: &[Relation]) -> bool {
    for _ in 0..ROUNDS {
        let mut moved = false;
        for relation in relations {
            let old: f64 = bounds.iter().map(|b| b.width()).sum();
            let held = match relation {
                Relation::Product {
                    result,
                    factors,
                    constant,
                } => product(bounds, *result, factors, *constant),
                Relation::Sum {
                    result,
                    terms,
                    constant,
                } => sum(bounds, *result, terms, *constant),
            };
            if !held {
                return false;
            }
            moved |= bounds.iter().map(|b| b.width()).sum::<f64>() < old * (1.0 - 1e-6);
        }
        if !moved {
            break;
        }
    }
    true
}

fn product(
    bounds: &mut [Interval],
    result: usize,
    factors: &[(usize, f64)],
    constant: f64,
) -> bool {
    // 1 = constant · result⁻¹ · Π factors^e: each quantity in turn is what the others leave for it
    let mut all: Vec<(usize, f64)> = factors.to_vec();
    all.push((result, -1.0));
    for i in 0..all.len() {
        let (at, exponent) = all[i];
        let (mut low, mut high) = (constant, constant);
        for (j, &(other, e)) in all.iter().enumerate() {
            if i != j {
                let b = bounds[other];
                let (x, y) = (pow(b.low.max(0.0), e), pow(b.high.max(0.0), e));
                low *= x.min(y);
                high *= x.max(y);
            }
        }
        // quantity^exponent · rest = 1
        let (x, y) = (pow(low, -1.0 / exponent), pow(high, -1.0 / exponent));
        bounds[at] = bounds[at].meet(Interval {
            low: x.min(y),
            high: x.max(y),
        });
        if bounds[at].is_empty() {
            return false;
        }
    }
    true
}

fn sum(bounds: &mut [Interval], result: usize, terms: &[(usize, f64)], constant: f64) -> bool {
    let mut all: Vec<(usize, f64)> = terms.to_vec();
    all.push((result, -1.0));
    for i in 0..all.len() {
        let (at, coefficient) = all[i];
        let (mut low, mut high) = (constant, constant);
        for (j, &(other, c)) in all.iter().enumerate() {
            if i != j {
                let (x, y) = (bounds[other].low * c, bounds[other].high * c);
                low += x.min(y);
                high += x.max(y);
            }
        }
        let (x, y) = (-low / coefficient, -high / coefficient);
        bounds[at] = bounds[at].meet(Interval {
            low: x.min(y),
            high: x.max(y),
        });
        if bounds[at].is_empty() {
            return false;
        }
    }
    true
}

#[cfg(test)]
mod tests {
    use super::*;

    const ANY: Interval = Interval {
        low: 1e-9,
        high: 1e9,
    };

    /// heat = 4179 · flow · drop.
    fn heat_flow_drop() -> Relation {
        Relation::Product {
            result: 0,
            factors: vec![(1, 1.0), (2, 1.0)],
            constant: 4179.0,
        }
    }

    #[test]
    fn nine_kilowatts_at_five_kelvin_is_26_litres_a_minute() {
        let bounds = [
            Interval::around(9000.0, 0.01),
            Interval::around(0.4307, 0.01),
            ANY,
        ];
        let Consistent::Yes(values) = consistent(&bounds, &[heat_flow_drop()]) else {
            panic!("they agree")
        };
        assert!((values[2] - 5.0).abs() < 0.11);
    }

    #[test]
    fn a_boiler_drop_contradicts_the_flow() {
        let bounds = [
            Interval::around(9000.0, 0.01),
            Interval::around(0.4307, 0.01),
            Interval::around(11.0, 0.02),
        ];
        assert_eq!(consistent(&bounds, &[heat_flow_drop()]), Consistent::No);
    }

    #[test]
    fn a_contradiction_through_two_relations_is_found() {
        // parts 3 + 4 kPa make a loss of 7; the head is 9 and has to equal it
        let bounds = [
            Interval::around(3.0, 0.02),
            Interval::around(4.0, 0.02),
            ANY,
            Interval::around(9.0, 0.02),
        ];
        let parts = Relation::Sum {
            result: 2,
            terms: vec![(0, 1.0), (1, 1.0)],
            constant: 0.0,
        };
        let head = Relation::Sum {
            result: 2,
            terms: vec![(3, 1.0)],
            constant: 0.0,
        };
        assert_eq!(consistent(&bounds, &[parts.clone(), head]), Consistent::No);
        assert!(matches!(consistent(&bounds, &[parts]), Consistent::Yes(_)));
    }
}
