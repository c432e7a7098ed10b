//! Where a falling figure passes through zero: a bracket that secants close quickly and halving closes surely.

/// Share of the first bracket by which a guess is drawn towards its middle, as the authors advise.
const DRAWN: f64 = 0.2;

/// Narrows a bracket, `low` with a figure that is not negative and `high` with a negative one, until it is `width` wide;
/// both ends.
///
/// Interpolate, truncate, project (Oliveira and Takahashi 2020, ACM TOMS 47, 5): secants where the figure is smooth, and
/// never more than one step beyond what halving takes.
///
/// # Errors
/// What the figure returns.
pub fn narrow<E>(
    mut low: (f64, f64),
    mut high: (f64, f64),
    width: f64,
    figure: &mut dyn FnMut(f64) -> Result<f64, E>,
) -> Result<(f64, f64), E> {
    let first = (high.0 - low.0).abs();
    // as wide as the bracket may be after a step if halving has still to end one step late
    let mut may_be = width;
    while may_be < first {
        may_be *= 2.0;
    }
    while (high.0 - low.0).abs() > width {
        let gap = (high.0 - low.0).abs();
        let middle = 0.5 * (low.0 + high.0);
        if middle == low.0 || middle == high.0 {
            break;
        }
        let secant = (high.1 * low.0 - low.1 * high.0) / (high.1 - low.1);
        let secant = if secant.is_finite() { secant } else { middle };
        let inwards = (middle - secant).signum();
        let drawn = DRAWN / first * gap * gap;
        let guess = if drawn <= (middle - secant).abs() {
            secant + inwards * drawn
        } else {
            middle
        };
        let room = (may_be - 0.5 * gap).max(0.0);
        let x = if (guess - middle).abs() <= room {
            guess
        } else {
            middle - inwards * room
        };
        let found = figure(x)?;
        if found >= 0.0 {
            low = (x, found);
        } else {
            high = (x, found);
        }
        may_be *= 0.5;
    }
    Ok((low.0, high.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn steps_to(root: f64, figure: &dyn Fn(f64) -> f64, ends: (f64, f64)) -> usize {
        let mut steps = 0;
        let mut counted = |x: f64| {
            steps += 1;
            Ok::<f64, ()>(figure(x))
        };
        let (low, high) = narrow(
            (ends.0, figure(ends.0)),
            (ends.1, figure(ends.1)),
            1e-6,
            &mut counted,
        )
        .unwrap();
        assert!(figure(low) >= 0.0 && figure(high) < 0.0);
        assert!((low - root).abs() <= 1e-6 && (high - root).abs() <= 1e-6);
        steps
    }

    #[test]
    fn smooth_figures_take_few_steps_and_odd_ones_end_too() {
        assert!(steps_to(3.0, &|x| 9.0 - x * x, (0.0, 100.0)) < 20);
        // flat on one side, as a valve that stays shut; a jump; the bracket the other way round
        assert!(
            steps_to(
                3.0,
                &|x| if x < 3.0 { 3.0 - x } else { -1e-3 },
                (0.0, 500.0)
            ) < 60
        );
        assert!(steps_to(3.0, &|x| if x < 3.0 { 1.0 } else { -1.0 }, (0.0, 500.0)) < 70);
        assert!(steps_to(3.0, &|x| x * x * x - 27.0, (50.0, 0.0)) < 40);
    }
}
