//! Small dense linear algebra: the loop-space step and the heat's tear system have a few dozen unknowns.

/// Solves A·x = b in place by Cholesky for a symmetric positive definite A (row-major, n×n, upper part ignored);
/// a pivot that vanishes leaves its unknown at zero.
pub(super) fn cholesky(a: &mut [f64], n: usize, b: &mut [f64]) {
    for j in 0..n {
        let mut pivot = a[j * n + j];
        let whole = pivot;
        for k in 0..j {
            pivot -= a[j * n + k] * a[j * n + k];
        }
        let usable = pivot > 1e-15 * whole && pivot.is_finite();
        let root = if usable { pivot.sqrt() } else { f64::INFINITY };
        a[j * n + j] = root;
        for i in j + 1..n {
            let mut sum = a[i * n + j];
            for k in 0..j {
                sum -= a[i * n + k] * a[j * n + k];
            }
            a[i * n + j] = if usable { sum / root } else { 0.0 };
        }
        let mut sum = b[j];
        for k in 0..j {
            sum -= a[j * n + k] * b[k];
        }
        b[j] = sum / root;
    }
    for j in (0..n).rev() {
        let mut sum = b[j];
        for i in j + 1..n {
            sum -= a[i * n + j] * b[i];
        }
        b[j] = sum / a[j * n + j];
    }
}

/// Solves A·x = b in place by elimination with row pivoting (row-major, n×n); an unknown without a usable pivot is left
/// at zero.
pub(super) fn eliminate(a: &mut [f64], n: usize, b: &mut [f64]) {
    let scale = a.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
    let mut usable = vec![true; n];
    for j in 0..n {
        let best = (j..n)
            .max_by(|&x, &y| a[x * n + j].abs().total_cmp(&a[y * n + j].abs()))
            .unwrap_or(j);
        if a[best * n + j].abs() <= 1e-13 * scale {
            usable[j] = false;
            continue;
        }
        if best != j {
            for k in 0..n {
                a.swap(best * n + k, j * n + k);
            }
            b.swap(best, j);
        }
        for i in j + 1..n {
            let factor = a[i * n + j] / a[j * n + j];
            if factor != 0.0 {
                for k in j..n {
                    a[i * n + k] -= factor * a[j * n + k];
                }
                b[i] -= factor * b[j];
            }
        }
    }
    for j in (0..n).rev() {
        if !usable[j] {
            b[j] = 0.0;
            continue;
        }
        let mut sum = b[j];
        for k in j + 1..n {
            sum -= a[j * n + k] * b[k];
        }
        b[j] = sum / a[j * n + j];
    }
}
