//! Where a falling figure passes through zero: a bracket that secants close quickly and halving closes surely.

/// Steps after which a bracket is as narrow as numbers are.
const MOST: usize = 80;

/// Narrows a bracket, `low` with a figure that is not negative and `high` with a negative one, until it is `width` wide;
/// both ends with their figures.
///
/// The rule of false position in the Illinois form (Dowell and Jarratt 1971), every third step a halving; probes keep half of
/// `width` from both ends, so that a good guess closes the bracket on both sides.
///
/// # Errors
/// What the figure returns.
pub fn narrow<E>(
    mut low: (f64, f64),
    mut high: (f64, f64),
    width: f64,
    figure: &mut dyn FnMut(f64) -> Result<f64, E>,
) -> Result<(f64, f64), E> {
    let (mut weight_low, mut weight_high) = (1.0, 1.0);
    for step in 0..MOST {
        let gap = (high.0 - low.0).abs();
        if gap <= width {
            break;
        }
        let (a, b) = (low.1 * weight_low, high.1 * weight_high);
        let share = if step % 3 == 2 || !(a - b).is_normal() {
            0.5
        } else {
            let keep = (0.5 * width / gap).min(0.5);
            (a / (a - b)).clamp(keep, 1.0 - keep)
        };
        let x = low.0 + share * (high.0 - low.0);
        let found = figure(x)?;
        if found >= 0.0 {
            low = (x, found);
            (weight_low, weight_high) = (1.0, 0.5 * weight_high);
        } else {
            high = (x, found);
            (weight_low, weight_high) = (0.5 * weight_low, 1.0);
        }
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
