//! Vertical and horizontal tracks with distances to keep: two systems of differences, each solved by longest path.

/// Distances along one direction.
#[derive(Clone, Debug, Default)]
pub(crate) struct Axis {
    n: usize,
    gaps: Vec<Gap>,
}

#[derive(Clone, Copy, Debug)]
struct Gap {
    from: usize,
    to: usize,
    least: f64,
    stretch: f64,
}

/// A place on an axis: a track and an offset.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct At(pub usize, pub f64);

impl At {
    /// Further by `d`.
    pub(crate) fn plus(self, d: f64) -> At {
        At(self.0, self.1 + d)
    }
}

impl Axis {
    /// A new track.
    pub(crate) fn track(&mut self) -> At {
        self.n += 1;
        At(self.n - 1, 0.0)
    }

    /// Keep `b` at least `least` beyond `a`; slack is shared out by `stretch`.
    pub(crate) fn keep(&mut self, a: At, b: At, least: f64, stretch: f64) {
        if a.0 == b.0 {
            return;
        }
        self.gaps.push(Gap {
            from: a.0,
            to: b.0,
            least: least + a.1 - b.1,
            stretch,
        });
    }

    /// Least positions with every stretchable distance grown by `k` of its share; `None` if distances contradict.
    pub(crate) fn solve(&self, k: f64) -> Option<Vec<f64>> {
        let mut pos = vec![0.0_f64; self.n];
        let mut indegree = vec![0_usize; self.n];
        let mut out: Vec<Vec<usize>> = vec![Vec::new(); self.n];
        for (i, gap) in self.gaps.iter().enumerate() {
            indegree[gap.to] += 1;
            out[gap.from].push(i);
        }
        let mut ready: Vec<usize> = (0..self.n).filter(|&v| indegree[v] == 0).collect();
        let mut done = 0;
        while let Some(v) = ready.pop() {
            done += 1;
            for &i in &out[v] {
                let gap = self.gaps[i];
                // whole quarter units keep neighbours in line when the sheet is read with a rule
                let d = ((gap.least + k * gap.stretch) * 4.0).ceil() / 4.0;
                pos[gap.to] = pos[gap.to].max(pos[v] + d);
                indegree[gap.to] -= 1;
                if indegree[gap.to] == 0 {
                    ready.push(gap.to);
                }
            }
        }
        (done == self.n).then_some(pos)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn longest_path_and_slack() {
        let mut axis = Axis::default();
        let (a, b, c) = (axis.track(), axis.track(), axis.track());
        axis.keep(a, b, 10.0, 1.0);
        axis.keep(b, c, 5.0, 0.0);
        axis.keep(a, c, 12.0, 0.0);
        assert_eq!(axis.solve(0.0), Some(vec![0.0, 10.0, 15.0]));
        assert_eq!(axis.solve(4.0), Some(vec![0.0, 14.0, 19.0]));
        axis.keep(c, a, 1.0, 0.0);
        assert_eq!(axis.solve(0.0), None);
    }
}
