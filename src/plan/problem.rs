//! The choice of changes as numbers: decisions with priced choices, rows that add up losses against a limit, places
//! that are opened once for several decisions.

/// What may be chosen for one run, device or emitter.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Decision {
    /// Never empty; by custom the first one keeps things as they are.
    pub choices: Vec<Choice>,
}

/// One choice of a decision.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Choice {
    /// Price of material and work, in hundredths of the currency, without the opening of places.
    pub money: i64,
    /// Loss that it puts into every row of its decision, Pa; not negative.
    pub load_pa: f64,
    /// Places that must be opened for it, indices into [`Problem::openings`].
    pub opens: Vec<usize>,
}

/// A place (boards, a tiled floor, a ceiling) whose opening is paid once, however many runs are changed there.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Opening {
    /// Price, hundredths of the currency.
    pub money: i64,
    /// Disruption in whole points (a room for a day, or as the user counts it).
    pub disruption: u32,
}

/// A limit on the sum of loads: one way round a circuit against the head that is there for it.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Row {
    /// Decisions along it.
    pub decisions: Vec<usize>,
    /// What may be lost in them, Pa: the head less all that no decision touches.
    pub limit_pa: f64,
    /// What a choice adds to this row alone, by decision of the row and choice, Pa; not negative. A tee's loss hangs on
    /// the bore of its common leg, and is not the same on its two ways.
    pub also: Vec<(usize, Vec<f64>)>,
}

impl Row {
    /// Loss of a set of choices in this row, Pa.
    pub fn loss_pa(&self, decisions: &[Decision], picks: &[usize]) -> f64 {
        let common: f64 = self
            .decisions
            .iter()
            .map(|&d| decisions[d].choices[picks[d]].load_pa)
            .sum();
        self.also
            .iter()
            .fold(common, |sum, (d, by)| sum + by[picks[*d]])
    }
}

/// Everything that a search needs.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Problem {
    /// What may be chosen.
    pub decisions: Vec<Decision>,
    /// Places.
    pub openings: Vec<Opening>,
    /// Limits.
    pub rows: Vec<Row>,
    /// Choices that can only stand in some combinations.
    pub ties: Vec<Tie>,
}

/// Decisions of which only some combinations can work at all, by what one other decision is: on a one-pipe loop tails,
/// valve and radiator of one emitter, by the size of the main between its tees.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Tie {
    /// The other decision; several ties may share it.
    pub hub: Option<usize>,
    /// The decisions; each is in one tie only.
    pub of: Vec<usize>,
    /// By choice of the hub (one entry without a hub): the combinations that can be, a choice for each of `of`.
    pub can: Vec<Vec<Vec<usize>>>,
}

/// What is to be least.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Objective {
    /// Money; among equals, disruption.
    Money,
    /// Disruption first, then money.
    Disruption,
    /// Money + disruption × this many hundredths of the currency per point.
    Weighted(i64),
}

/// Money of one point of disruption where disruption counts first: more than any plan costs.
const DISRUPTION_FIRST: i64 = 1_000_000_000_000;
/// Steps of one hundredth where money counts first, so that disruption breaks ties.
const MONEY_FIRST: i64 = 1 << 16;

impl Objective {
    /// What money and disruption come to, in the objective's own steps.
    pub fn price(self, money: i64, disruption: u32) -> i64 {
        let points = i64::from(disruption);
        match self {
            Self::Money => money * MONEY_FIRST + points,
            Self::Disruption => points * DISRUPTION_FIRST + money,
            Self::Weighted(each) => money + points * each,
        }
    }

    /// Money of which a price says that it is the least, hundredths; `None` where money does not count first.
    pub fn money_of(self, price: i64) -> Option<i64> {
        (self == Self::Money).then_some(price / MONEY_FIRST)
    }
}

impl Problem {
    /// Money and disruption of a set of choices, openings paid once.
    ///
    /// `picks` holds one choice index per decision.
    pub fn cost(&self, picks: &[usize]) -> (i64, u32) {
        let mut open = vec![false; self.openings.len()];
        let mut money = 0;
        for (decision, &pick) in self.decisions.iter().zip(picks) {
            let choice = &decision.choices[pick];
            money += choice.money;
            for &place in &choice.opens {
                open[place] = true;
            }
        }
        let mut disruption = 0;
        for (opening, open) in self.openings.iter().zip(open) {
            if open {
                money += opening.money;
                disruption += opening.disruption;
            }
        }
        (money, disruption)
    }

    /// By how much the worst row is over its limit, Pa, and which row that is; negative if all hold.
    pub fn excess(&self, picks: &[usize]) -> (f64, usize) {
        let mut worst = (f64::NEG_INFINITY, 0);
        for (r, row) in self.rows.iter().enumerate() {
            let sum = row.loss_pa(&self.decisions, picks);
            if sum - row.limit_pa > worst.0 {
                worst = (sum - row.limit_pa, r);
            }
        }
        worst
    }
}
