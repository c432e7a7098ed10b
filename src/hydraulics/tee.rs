//! Tees whose loss depends on how the flow splits.
//!
//! Table: 90° equal tee with sharp edges, Munich hydraulic institute 1926–1931 (G. Vogel, F. Petermann, E. Kinne), as
//! reprinted in handbooks; the rows at 0.6, 0.8 and 1.0 checked against a public fitting catalogue, those at 0, 0.2 and
//! 0.4 from memory. All coefficients refer to the velocity in the leg that carries the total; negative means that the
//! stream gains pressure. Tees whose legs differ in bore use the same table on the bore of the total: no table of them is
//! at hand.
//!
//! The leg with the largest flow carries the total. If that is a leg of the straight run, the others are "through" and
//! "branch". If it is the branch (head-on), no table is at hand either: each stream turns by 90° and takes the
//! dividing-branch figure at its own share.
//!
//! Where a leg's flow passes through zero, two readings of the table meet (another leg carries the total, dividing becomes
//! combining) and do not agree. Within a share of [`BLEND`] the losses run straight from the mean of both readings at
//! zero to the table's value at that share, so that they are continuous in all flows.

/// Share of the total below which a leg's losses are blended through zero.
pub const BLEND: f64 = 0.05;

/// Branch share of the total; ζ dividing branch, dividing through, combining branch, combining through.
const TABLE: [(f64, [f64; 4]); 6] = [
    (0.0, [0.95, 0.04, -1.2, 0.04]),
    (0.2, [0.88, -0.08, -0.4, 0.17]),
    (0.4, [0.89, -0.05, 0.08, 0.3]),
    (0.6, [0.95, 0.07, 0.47, 0.41]),
    (0.8, [1.1, 0.21, 0.72, 0.51]),
    (1.0, [1.28, 0.35, 0.91, 0.6]),
];

/// ζ of an equal tee at a branch's share of the total, straight between the rows: dividing branch, dividing through,
/// combining branch, combining through.
pub fn zeta(share: f64) -> [f64; 4] {
    let share = share.clamp(0.0, 1.0);
    let k = ((share * 5.0) as usize).min(4);
    let ((low, a), (high, b)) = (TABLE[k], TABLE[k + 1]);
    let x = (share - low) / (high - low);
    std::array::from_fn(|i| a[i] + (b[i] - a[i]) * x)
}

/// Pressure in each leg above the pressure at the tee's place (where the total flows), Pa, from the flows into the place
/// in kg/s. Legs in the order straight, straight, branch; `bores_m` likewise.
pub fn pressures(flow_in: [f64; 3], bores_m: [f64; 3], rho: f64) -> [f64; 3] {
    let size = flow_in.map(f64::abs);
    let mut total = 0;
    for leg in 1..3 {
        if size[leg] > size[total] {
            total = leg;
        }
    }
    if size[total] == 0.0 {
        return [0.0; 3];
    }
    let (a, b) = ((total + 1) % 3, (total + 2) % 3);
    let small = if size[a] < size[b] { a } else { b };
    let other = 3 - total - small;
    let share = size[small] / size[total];
    let reading = |total: usize, small: usize, share: f64, dividing: bool| {
        // Pa at the velocity of the total
        let area = super::friction::area_m2(bores_m[total]);
        let dynamic = size_of(size) * size_of(size) / (2.0 * rho * area * area);
        coefficients(total, small, share, dividing).map(|z| z * dynamic)
    };
    fn size_of(size: [f64; 3]) -> f64 {
        size[0].max(size[1]).max(size[2])
    }
    let dividing = flow_in[total] > 0.0;
    if share >= BLEND {
        return reading(total, small, share, dividing);
    }
    let here = reading(total, small, 0.0, dividing);
    let across = reading(other, small, 0.0, !dividing);
    let edge = reading(total, small, BLEND, dividing);
    let x = share / BLEND;
    std::array::from_fn(|leg| {
        let at_zero = 0.5 * (here[leg] + across[leg]);
        at_zero + (edge[leg] - at_zero) * x
    })
}

/// Pressure of each leg above the total's, over its dynamic pressure.
fn coefficients(total: usize, small: usize, share: f64, dividing: bool) -> [f64; 3] {
    let other = 3 - total - small;
    let share_of = |leg: usize| if leg == small { share } else { 1.0 - share };
    let mut above = [0.0; 3];
    if total == 2 {
        for leg in [0, 1] {
            let turn = zeta(share_of(leg))[0];
            above[leg] = if dividing { -turn } else { turn };
        }
    } else {
        let [
            divide_branch,
            divide_through,
            combine_branch,
            combine_through,
        ] = zeta(share_of(2));
        let through = if small == 2 { other } else { small };
        above[2] = if dividing {
            -divide_branch
        } else {
            combine_branch
        };
        above[through] = if dividing {
            -divide_through
        } else {
            combine_through
        };
    }
    above
}

#[cfg(test)]
mod tests {
    use super::*;

    const BORES: [f64; 3] = [0.0202, 0.0202, 0.0136];

    #[test]
    fn rows_of_the_table_come_back() {
        let dynamic =
            |f: f64, d: f64| f * f / (2.0 * 990.0 * super::super::friction::area_m2(d).powi(2));
        let t = pressures([0.1, -0.04, -0.06], BORES, 990.0);
        assert!((t[0] - t[2] - 0.95 * dynamic(0.1, 0.0202)).abs() < 1e-9);
        assert!((t[0] - t[1] - 0.07 * dynamic(0.1, 0.0202)).abs() < 1e-9);
        let t = pressures([0.08, -0.1, 0.02], BORES, 990.0);
        assert!(
            (t[2] - t[1] + 0.4 * dynamic(0.1, 0.0202)).abs() < 1e-9,
            "a side stream may gain pressure"
        );
    }

    #[test]
    fn losses_are_continuous_through_zero_flow_of_every_leg() {
        // once round all splits of three flows that sum to zero
        let at = |angle: f64| {
            let f = |k: f64| 0.1 * crate::maths::sin(angle + k * std::f64::consts::TAU / 3.0);
            pressures([f(0.0), f(1.0), f(2.0)], BORES, 990.0)
        };
        let steps = 20_000;
        let mut before = at(0.0);
        for k in 1..=steps {
            let now = at(f64::from(k) / f64::from(steps) * std::f64::consts::TAU);
            for leg in 0..3 {
                assert!(
                    (now[leg] - before[leg]).abs() < 1.0,
                    "jump of {} Pa at step {k}",
                    now[leg] - before[leg]
                );
            }
            before = now;
        }
        assert_eq!(pressures([0.0; 3], BORES, 990.0), [0.0; 3]);
    }
}
