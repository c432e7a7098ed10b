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
    /// Ties whose combinations lose something in it.
    pub tied: Vec<usize>,
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
    /// What each of them puts into every row that counts the tie, Pa; not negative. Empty where it puts in nothing.
    pub load_pa: Vec<Vec<f64>>,
    /// By how much each of them is warmer than it must be, by pair of what stands on its sides, K; empty where that is not
    /// known. Under [`COLD_K`] the two do not go together.
    pub spare_k: Vec<Vec<Vec<f64>>>,
    /// What stands on its sides: on a loop the stretches of the main before and after.
    pub sides: [Side; 2],
    /// What a choice of another decision puts in beside it: the decision, and by choice of the hub and its own choice, Pa.
    pub beside: Vec<(usize, Vec<Vec<f64>>)>,
}

/// One side of a tie.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Side {
    /// The decision that stands there, if any.
    pub decision: Option<usize>,
    /// By its choice: which kind of side that is.
    pub kinds: Vec<usize>,
    /// How many kinds there are; one without a decision.
    pub count: usize,
}

impl Side {
    /// The kind of a choice.
    pub fn kind(&self, choice: usize) -> usize {
        self.kinds.get(choice).copied().unwrap_or(0)
    }
}

/// Spare under which a combination does not go together with what stands on its sides, K: what rounding of a solved split may
/// cost, and that of a closed form.
pub const COLD_K: f64 = -1.01e-5;

impl Tie {
    /// Which pair of kinds stands on its sides.
    fn pair(&self, picks: &[usize]) -> usize {
        let [a, b] = &self.sides;
        let kind = |side: &Side| side.decision.map_or(0, |d| side.kind(picks[d]));
        kind(a) * b.count + kind(b)
    }

    /// What a set has to spare here, K; `None` for what cannot stand together, or where spares are not known.
    fn spare(&self, picks: &[usize]) -> Option<f64> {
        let (hub, at) = self.combination(picks)?;
        let by = self.spare_k.get(hub)?.get(at)?;
        by.get(self.pair(picks)).copied()
    }

    /// Whether a combination goes together with what stands on its sides, as far as that is known.
    pub fn goes(&self, picks: &[usize]) -> bool {
        self.spare(picks).is_none_or(|spare| spare >= COLD_K)
    }

    /// Whether a combination can go together with any of these kinds before and after.
    pub fn can_go(&self, (hub, at): (usize, usize), kinds: [&[usize]; 2]) -> bool {
        let Some(by) = self.spare_k.get(hub).and_then(|here| here.get(at)) else {
            return true;
        };
        let mut pairs = kinds[0]
            .iter()
            .flat_map(|a| kinds[1].iter().map(move |b| (a, b)));
        pairs.any(|(a, b)| by[a * self.sides[1].count + b] >= COLD_K)
    }

    /// The combination of a set: choice of the hub and place in its list; none for what cannot stand together.
    pub fn combination(&self, picks: &[usize]) -> Option<(usize, usize)> {
        let hub = self.hub.map_or(0, |hub| picks[hub]);
        let is = |c: &Vec<usize>| self.of.iter().zip(c).all(|(&d, &c)| picks[d] == c);
        let at = self.can.get(hub)?.iter().position(is)?;
        Some((hub, at))
    }

    /// The same, asked to be warmer by so much than a set has it; `None` if no combination is, or spares are not known.
    pub fn warmer(&self, picks: &[usize], more_k: f64) -> Option<Self> {
        let need_k = self.spare(picks)? + more_k;
        let mut tie = self.clone();
        for (h, here) in self.spare_k.iter().enumerate() {
            let less = here
                .iter()
                .map(|by| by.iter().map(|k| k - need_k).collect::<Vec<f64>>());
            let less: Vec<Vec<f64>> = less.collect();
            let kept: Vec<usize> = (0..less.len())
                .filter(|&k| less[k].iter().any(|spare| *spare >= COLD_K))
                .collect();
            tie.can[h] = kept.iter().map(|&k| self.can[h][k].clone()).collect();
            tie.spare_k[h] = kept.iter().map(|&k| less[k].clone()).collect();
            if let Some(loads) = self.load_pa.get(h) {
                tie.load_pa[h] = kept.iter().map(|&k| loads[k]).collect();
            }
        }
        tie.can.iter().any(|here| !here.is_empty()).then_some(tie)
    }

    /// What its choices and those beside it put into a row that counts it, Pa; nothing for what cannot stand together.
    pub fn loss_pa(&self, picks: &[usize]) -> f64 {
        let hub = self.hub.map_or(0, |hub| picks[hub]);
        let own = self.combination(picks);
        let own = own.and_then(|(hub, at)| self.load_pa.get(hub)?.get(at));
        let beside = self.beside.iter().map(|(d, by)| by[hub][picks[*d]]);
        own.copied().unwrap_or(0.0) + beside.sum::<f64>()
    }
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

    /// Loss of one choice of a decision in a row, ties apart, Pa; none in a row that the decision is not in.
    pub fn choice_pa(&self, row: usize, decision: usize, choice: usize) -> f64 {
        let row = &self.rows[row];
        if !row.decisions.contains(&decision) {
            return 0.0;
        }
        let also = row.also.iter().find(|(of, _)| *of == decision);
        let own = self.decisions[decision].choices[choice].load_pa;
        own + also.map_or(0.0, |(_, by)| by[choice])
    }

    /// Loss of a set of choices in a row, Pa.
    pub fn loss_pa(&self, row: usize, picks: &[usize]) -> f64 {
        let row = &self.rows[row];
        let decisions = row.decisions.iter();
        let common: f64 = decisions
            .map(|&d| self.decisions[d].choices[picks[d]].load_pa)
            .sum();
        let also = row.also.iter();
        let sum = also.fold(common, |sum, (d, by)| sum + by[picks[*d]]);
        let tied = row.tied.iter();
        tied.fold(sum, |sum, &t| sum + self.ties[t].loss_pa(picks))
    }

    /// By how much the worst row is over its limit, Pa, and which row that is; negative if all hold.
    pub fn excess(&self, picks: &[usize]) -> (f64, usize) {
        let mut worst = (f64::NEG_INFINITY, 0);
        for (r, row) in self.rows.iter().enumerate() {
            let sum = self.loss_pa(r, picks);
            if sum - row.limit_pa > worst.0 {
                worst = (sum - row.limit_pa, r);
            }
        }
        worst
    }
}
