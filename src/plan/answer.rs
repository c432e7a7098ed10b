//! What a search is told about the sets that it looks at, and how it ends.

/// What a search found.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// One choice per decision.
    pub picks: Vec<usize>,
    /// Money, hundredths of the currency.
    pub money: i64,
    /// Points of disruption.
    pub disruption: u32,
    /// Worst row: over its limit by this, Pa (negative: to spare), and its index.
    pub excess_pa: (f64, usize),
    /// Proved lower bound of the objective, in the objective's own steps, and the objective reached.
    pub bound: (i64, i64),
    /// Nodes looked at.
    pub nodes: usize,
}

impl Answer {
    /// Share by which the answer may be dearer than the best, 0 when it is proved.
    pub fn gap(&self) -> f64 {
        let (bound, reached) = self.bound;
        if reached <= bound {
            0.0
        } else {
            (reached - bound) as f64 / reached.max(1) as f64
        }
    }
}

/// Choices that must not stand together: by decision and choice. A whole set, or the part of it that makes it fail.
pub type Cut = Vec<(usize, usize)>;

/// What a look at a set in full says.
#[derive(Clone, Debug, PartialEq)]
pub enum Look {
    /// It works.
    Works,
    /// It fails, and so does every other set with the same choices at these decisions.
    Fails(Vec<usize>),
    /// Enough was looked at.
    Enough,
}

/// How a search ended.
#[derive(Clone, Debug, PartialEq)]
pub enum End {
    /// With this answer.
    Found(Answer),
    /// There is none within the cap.
    None,
    /// On a limit; nothing under this price works.
    Stopped(i64),
}

impl End {
    pub(super) fn answer(self) -> Option<Answer> {
        match self {
            Self::Found(answer) => Some(answer),
            Self::None | Self::Stopped(_) => None,
        }
    }
}
