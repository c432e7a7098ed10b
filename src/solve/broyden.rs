//! The fixed point of what heat asks of flow.

/// Fixed point x = g(x) by Broyden's second method, kept positive and near what g says.
#[derive(Clone, Debug)]
pub(super) struct Broyden {
    inverse: Vec<f64>,
    pub last: Option<(Vec<f64>, Vec<f64>)>,
}

impl Broyden {
    pub fn new(n: usize) -> Self {
        let mut inverse = vec![0.0; n * n];
        (0..n).for_each(|i| inverse[i * n + i] = 1.0);
        Self {
            inverse,
            last: None,
        }
    }

    /// The next x from x and g(x).
    pub fn next(&mut self, x: &[f64], g: &[f64]) -> Vec<f64> {
        let n = x.len();
        let residual: Vec<f64> = g.iter().zip(x).map(|(g, x)| g - x).collect();
        if let Some((x0, r0)) = &self.last {
            let dx: Vec<f64> = x.iter().zip(x0).map(|(a, b)| a - b).collect();
            let dr: Vec<f64> = residual.iter().zip(r0).map(|(a, b)| a - b).collect();
            let norm: f64 = dr.iter().map(|d| d * d).sum();
            if norm > 0.0 {
                for i in 0..n {
                    let row: f64 = (0..n).map(|j| self.inverse[i * n + j] * dr[j]).sum();
                    // x moves against the residual: inverse approximates −(dr/dx)⁻¹
                    let miss = (-dx[i] - row) / norm;
                    for j in 0..n {
                        self.inverse[i * n + j] += miss * dr[j];
                    }
                }
            }
        }
        self.last = Some((x.to_vec(), residual.clone()));
        (0..n)
            .map(|i| {
                let step: f64 = (0..n).map(|j| self.inverse[i * n + j] * residual[j]).sum();
                let (low, high) = (0.25 * x[i].min(g[i]), 4.0 * x[i].max(g[i]));
                (x[i] + step).clamp(low, high)
            })
            .collect()
    }
}
