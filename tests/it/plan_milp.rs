//! The exact search against a mixed-integer formulation, solved by a general-purpose solver, on random trees.

use microlp::{ComparisonOp, LinearExpr, OptimizationDirection, Problem as Milp, Variable};
use pipecarry::plan::problem::{Choice, Decision, Objective, Opening, Problem, Row};
use pipecarry::plan::{cheapest, not_containing};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// A tree of runs with openings that several share; loads are whole Pa, so that no tolerance of the solver matters.
fn tree(rng: &mut ChaCha8Rng) -> Problem {
    let n = rng.random_range(4..12_usize);
    let parent: Vec<usize> = (0..n)
        .map(|i| if i == 0 { 0 } else { rng.random_range(0..i) })
        .collect();
    let openings: Vec<Opening> = (0..rng.random_range(0..4_usize))
        .map(|_| Opening {
            money: rng.random_range(0..40_000),
            disruption: 0,
        })
        .collect();
    let decisions: Vec<Decision> = (0..n)
        .map(|_| {
            let mut load = f64::from(rng.random_range(2_000..9_000_u32));
            let mut money = 0;
            let place = (!openings.is_empty()).then(|| rng.random_range(0..openings.len()));
            let choices = (0..rng.random_range(2..5_u32)).map(|c| {
                let choice = Choice {
                    money,
                    load_pa: load,
                    opens: place.filter(|_| c > 0).into_iter().collect(),
                };
                money += rng.random_range(5_000..60_000);
                load = (load * rng.random_range(0.3..0.8)).floor();
                choice
            });
            Decision {
                choices: choices.collect(),
            }
        })
        .collect();
    let leaves = (0..n).filter(|i| !parent[1..].contains(i) || n == 1);
    let rows = leaves
        .map(|leaf| {
            let mut way = vec![leaf];
            while *way.last().unwrap() != 0 {
                way.push(parent[*way.last().unwrap()]);
            }
            way.sort_unstable();
            let most: f64 = way.iter().map(|&d| decisions[d].choices[0].load_pa).sum();
            Row {
                limit_pa: (most * rng.random_range(0.35..1.0)).floor() + 0.5,
                also: Vec::new(),
                tied: Vec::new(),
                decisions: way,
            }
        })
        .collect();
    Problem {
        decisions,
        openings,
        rows,
        ties: Vec::new(),
    }
}

/// Least money by the general-purpose solver.
pub fn by_milp(problem: &Problem) -> Option<i64> {
    let mut milp = Milp::new(OptimizationDirection::Minimize);
    let opens: Vec<Variable> = problem
        .openings
        .iter()
        .map(|o| milp.add_binary_var(o.money as f64))
        .collect();
    let picks: Vec<Vec<Variable>> = problem
        .decisions
        .iter()
        .map(|d| {
            d.choices
                .iter()
                .map(|c| milp.add_binary_var(c.money as f64))
                .collect()
        })
        .collect();
    for (decision, vars) in problem.decisions.iter().zip(&picks) {
        let one: LinearExpr = vars.iter().map(|v| (*v, 1.0)).collect();
        milp.add_constraint(one, ComparisonOp::Eq, 1.0);
        for (choice, var) in decision.choices.iter().zip(vars) {
            for &o in &choice.opens {
                milp.add_constraint([(*var, 1.0), (opens[o], -1.0)], ComparisonOp::Le, 0.0);
            }
        }
    }
    for row in &problem.rows {
        let mut sum = LinearExpr::empty();
        for &d in &row.decisions {
            let also = row.also.iter().find(|(of, _)| *of == d);
            for (c, (choice, var)) in problem.decisions[d]
                .choices
                .iter()
                .zip(&picks[d])
                .enumerate()
            {
                let also_pa = also.map_or(0.0, |(_, by)| by[c]);
                sum.add(*var, (choice.load_pa + also_pa) / 1e3);
            }
        }
        milp.add_constraint(sum, ComparisonOp::Le, row.limit_pa / 1e3);
    }
    let solved = milp.solve().ok()?;
    Some(solved.objective().round() as i64)
}

#[test]
fn equals_a_general_purpose_solver_on_200_trees() {
    let mut rng = ChaCha8Rng::seed_from_u64(20_261_125);
    let (mut changed, mut none) = (0, 0);
    for case in 0..200 {
        let problem = tree(&mut rng);
        let found = cheapest(&problem, Objective::Money, &[]);
        assert_eq!(
            found.as_ref().map(|a| a.money),
            by_milp(&problem),
            "case {case}: {problem:?}"
        );
        match &found {
            None => none += 1,
            Some(a) => {
                assert_eq!(a.gap(), 0.0);
                changed += usize::from(a.money > 0);
                // the next plan costs no less and leaves something of the best out
                let keep = vec![0; problem.decisions.len()];
                if let Some(next) = not_containing(&problem, Objective::Money, &a.picks, &keep, &[])
                {
                    assert!(next.money >= a.money);
                }
            }
        }
    }
    assert!(changed > 100 && none < 60, "{changed} {none}");
}
