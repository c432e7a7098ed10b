//! Thousands of states of one setting that differ in what is shut. Each starts from the state with nothing more shut, or
//! within a block of a fold from what those solved before foretell; blocks are always the same, so that no answer depends
//! on the number of threads.

use super::begin::Start;
use super::couple::Coupled;
use super::flow::Finish;
use super::heat::Made;
use super::state::{SolveError, State, Stats};
use super::{Setting, Solver, result};
use crate::network::{ElementId, PlaceId};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::ops::ControlFlow;

/// States that one thread solves before it hands over what it has gathered.
const BLOCK: u64 = 1024;
/// Blocks whose gatherings are held at once.
const AT_ONCE: u64 = 8;
/// Ways of a state that are opened again, alone and together, to foretell it: twice as many states for each more.
const MOST_OPENED: usize = 5;

/// Something that shuts on its own: one valve, or a zone with its valves and its pump.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Way {
    /// Elements that are then shut.
    pub elements: Vec<ElementId>,
    /// Pumps that then stand, by index.
    pub pumps: Vec<usize>,
}

/// One setting, ready for many states: see [`Solver::states`]. Bit k of a state's number says that `ways[k]` is shut.
#[derive(Clone)]
pub struct States<'a> {
    coupled: Coupled<'a>,
    ways: &'a [Way],
    /// Before any solve, and with nothing more shut if that has an answer.
    cold: Start,
    open: Option<Start>,
}

impl<'a> Solver<'a> {
    /// Makes one setting ready to be solved in many states that differ in what is shut: at most the first 64 ways count.
    ///
    /// # Errors
    /// Held flows that contradict each other; a temperature out of range. That the setting itself has no answer is no
    /// error here: other states may have one.
    pub fn states<'s>(
        &'s self,
        setting: &'s Setting,
        ways: &'s [Way],
    ) -> Result<States<'s>, SolveError> {
        let mut coupled = Coupled::new(self.network, setting, &self.classes, &self.nodal)?;
        let cold = coupled.start();
        let open = coupled.run(Finish::Full, false);
        let open = open.ok().map(|()| coupled.start());
        Ok(States {
            coupled,
            ways,
            cold,
            open,
        })
    }

    /// Solves `count` states on all threads and folds what is seen of them. Memory does not grow with their number.
    ///
    /// The k-th state is the one whose number is `number(k)`; bit i of it says that `ways[i]` is shut. States are
    /// looked at in blocks: each begins with `empty()`, `look` adds a state to it (an answer is read through
    /// [`Light`], which keeps nothing), and `join` takes finished blocks in the order of k, with how many states are
    /// done by then; it may break off. A block starts from the setting itself and blocks are always the same, so every bit
    /// of the outcome is the same with one thread or many.
    ///
    /// From a house with closed valves: `setting` is the house state with everything open
    /// ([`crate::view::running::setting`]), and each valve or zone that closes is a [`Way`] with its elements and pumps.
    /// Mixing sets draw what their set temperature asks in each state. A state in which nothing can move is
    /// [`SolveError::NothingMoves`].
    ///
    /// ```
    /// # use pipecarry::{network::reference, solve::{Setting, Solver, Way}};
    /// # use std::ops::ControlFlow;
    /// # let text = include_str!("../../tests/data/speed_networks/house_8.json");
    /// # let network = reference::load(text).unwrap();
    /// let setting = Setting::of(&network, &network.states[0]);
    /// let ways: Vec<Way> = network
    ///     .element_ids()
    ///     .filter(|id| network.element(*id).name.starts_with("trv"))
    ///     .map(|id| Way { elements: vec![id], pumps: Vec::new() })
    ///     .collect();
    /// let source = network.sources[0].body;
    /// let mut least = f64::INFINITY;
    /// let solver = Solver::new(&network);
    /// let ended = solver.fold_states(
    ///     &setting,
    ///     &ways,
    ///     1 << ways.len(),
    ///     |k| k,
    ///     || f64::INFINITY,
    ///     |least, _, answer| {
    ///         let flow = answer.map_or(0.0, |state| state.flow_kg_s(source).abs());
    ///         *least = least.min(flow);
    ///     },
    ///     |block, _| {
    ///         least = least.min(block);
    ///         ControlFlow::Continue(())
    ///     },
    /// );
    /// assert_eq!(ended, Ok(ControlFlow::Continue(())));
    /// assert_eq!(least, 0.0); // all valves shut
    /// ```
    ///
    /// # Errors
    /// As [`Solver::states`]; what stops a single state goes to `look`.
    #[allow(clippy::too_many_arguments)] // a fold has its parts, and names for each say more than a struct for one call
    pub fn fold_states<T: Send>(
        &self,
        setting: &Setting,
        ways: &[Way],
        count: u64,
        number: impl Fn(u64) -> u64 + Sync,
        empty: impl Fn() -> T + Sync,
        look: impl Fn(&mut T, u64, Result<Light<'_>, SolveError>) + Sync,
        mut join: impl FnMut(T, u64) -> ControlFlow<()>,
    ) -> Result<ControlFlow<()>, SolveError> {
        let ready = self.states(setting, ways)?;
        let mut done = 0;
        while done < count {
            let blocks = (count - done).div_ceil(BLOCK).min(AT_ONCE);
            let gathered: Vec<T> = (0..blocks)
                .into_par_iter()
                .map(|block| {
                    let mut states = ready.clone();
                    let mut solved = Solved::default();
                    let mut all = empty();
                    let from = done + block * BLOCK;
                    for k in from..(from + BLOCK).min(count) {
                        let state = number(k);
                        look(&mut all, state, states.follow(state, &mut solved));
                    }
                    all
                })
                .collect();
            for block in gathered {
                done = (done + BLOCK).min(count);
                if join(block, done).is_break() {
                    return Ok(ControlFlow::Break(()));
                }
            }
        }
        Ok(ControlFlow::Continue(()))
    }
}

impl States<'_> {
    /// Solves the state with this number.
    ///
    /// # Errors
    /// As [`super::solve`]; [`SolveError::NothingMoves`] where every way is shut.
    pub fn solve(&mut self, number: u64) -> Result<Light<'_>, SolveError> {
        self.from(number, None)?;
        Ok(Light {
            coupled: &self.coupled,
        })
    }

    /// The same, from what the states of the block that were solved before foretell.
    fn follow(&mut self, number: u64, solved: &mut Solved) -> Result<Light<'_>, SolveError> {
        let near = solved.foretell(number);
        self.from(number, near)?;
        solved.keep(number, &self.coupled);
        Ok(Light {
            coupled: &self.coupled,
        })
    }

    /// Solves from `near`, else from the setting itself, else cold: a start that is far away is no reason to have no
    /// answer.
    fn from(&mut self, number: u64, near: Option<&Start>) -> Result<(), SolveError> {
        let done = |ended: &Result<(), SolveError>| {
            matches!(ended, Ok(()) | Err(SolveError::NothingMoves))
        };
        if let Some(start) = near {
            self.coupled.restore(start);
            let ended = self.run(number, true);
            if done(&ended) {
                return ended;
            }
        }
        if let Some(start) = &self.open {
            self.coupled.restore(start);
            let ended = self.run(number, true);
            if done(&ended) {
                return ended;
            }
        }
        self.coupled.restore(&self.cold);
        self.run(number, false)
    }

    fn run(&mut self, number: u64, warm: bool) -> Result<(), SolveError> {
        let ways = self.ways.iter().take(64).enumerate();
        let shut = ways.filter(|(k, _)| number >> k & 1 == 1).map(|(_, w)| w);
        self.coupled.hydraulics.shut(shut);
        self.coupled.run(Finish::Quick, warm)
    }
}

/// Solved states of a block, that later ones may start from.
#[derive(Default)]
struct Solved {
    numbers: Vec<u64>,
    /// By number, its place among them.
    places: BTreeMap<u64, usize>,
    starts: Vec<Start>,
    foretold: Option<Start>,
}

impl Solved {
    fn find(&self, number: u64) -> Option<usize> {
        // numbers mostly count up
        let first = self.numbers.first()?;
        let guess = number
            .checked_sub(*first)
            .and_then(|k| usize::try_from(k).ok());
        let guess = guess.filter(|k| self.numbers.get(*k) == Some(&number));
        guess.or_else(|| self.places.get(&number).copied())
    }

    fn keep(&mut self, number: u64, coupled: &Coupled) {
        self.places.insert(number, self.numbers.len());
        self.numbers.push(number);
        self.starts.push(coupled.start());
    }

    /// A start for a state: what shuts together changes flows and temperatures by nearly what each changes alone. With
    /// some ways of it open in the states f(1), f(2) … and more of them in f(12), f(13) … it is Σf(i) − Σf(ij) + Σf(ijk) − …,
    /// for as many ways as all those states are known of; else the latest state with nothing shut that is open here.
    fn foretell(&mut self, number: u64) -> Option<&Start> {
        let mut ways = [0_u64; MOST_OPENED];
        let mut order = 0;
        // which of the states solved before has the ways of an index's bits open
        let mut known = [0; 1 << MOST_OPENED];
        let mut rest = number;
        while rest != 0 && order < ways.len() {
            let way = rest & rest.wrapping_neg();
            rest ^= way;
            let all = (0..1 << order).all(|also| {
                let bits = (0..order).filter(|i| also >> i & 1 == 1);
                let open = bits.fold(way, |open, i| open | ways[i]);
                let at = self.find(number & !open);
                known[(1 << order) + also] = at.unwrap_or(0);
                at.is_some()
            });
            if all {
                ways[order] = way;
                order += 1;
            }
        }
        if order == 0 {
            let nearest = self.numbers.iter().rposition(|n| n & !number == 0)?;
            return self.starts.get(nearest);
        }
        let base = &self.starts[known[1]];
        if order == 1 {
            return Some(base);
        }
        let foretold = self.foretold.get_or_insert_with(|| base.clone());
        let terms: Vec<(f64, &Start)> = (1..1 << order)
            .map(|k: usize| {
                let sign = if k.count_ones() % 2 == 1 { 1.0 } else { -1.0 };
                (sign, &self.starts[known[k]])
            })
            .collect();
        foretold.combine(&terms);
        self.foretold.as_ref()
    }
}

/// A solved state, looked at in place until the next one. Flows are within 1e-9 of the largest (2e-9 where one
/// emitter alone decides what a pump held to its drop moves), temperatures within 1e-4 K.
pub struct Light<'s> {
    pub(super) coupled: &'s Coupled<'s>,
}

impl Light<'_> {
    /// Mass flow of an element, kg/s, positive from `from` to `to`.
    pub fn flow_kg_s(&self, id: ElementId) -> f64 {
        self.coupled.flow[id.index()]
    }

    /// Mass flow of every element, kg/s.
    pub fn flows_kg_s(&self) -> &[f64] {
        &self.coupled.flow
    }

    /// p(from) − p(to) of an element, Pa, as [`State::dp_pa`] has it.
    pub fn dp_pa(&self, id: ElementId) -> Option<f64> {
        result::drop_pa(self.coupled, id)
    }

    /// Pressure that a pump (by index) adds, Pa.
    pub fn head_pa(&self, pump: usize) -> f64 {
        let pump = self.coupled.network.pumps.get(pump);
        pump.and_then(|p| self.dp_pa(p.element))
            .map_or(0.0, |dp| -dp)
    }

    /// Heat that an element gives off, W; negative for a source; zero if heat was not asked for.
    pub fn heat_w(&self, id: ElementId) -> f64 {
        self.coupled.found().map_or(0.0, |f| f.heat_w[id.index()])
    }

    /// Temperature where the water enters an element, °C.
    pub fn in_c(&self, id: ElementId) -> Option<f64> {
        self.coupled.found().and_then(|f| f.in_c[id.index()])
    }

    /// Temperature where it leaves, °C.
    pub fn out_c(&self, id: ElementId) -> Option<f64> {
        self.coupled.found().and_then(|f| f.out_c[id.index()])
    }

    /// Temperature of a place, °C.
    pub fn place_c(&self, id: PlaceId) -> Option<f64> {
        self.coupled.found().and_then(|f| f.place_c[id.index()])
    }

    /// Whether a source (by index) makes its full output.
    pub fn output_limited(&self, source: usize) -> bool {
        self.coupled
            .found()
            .is_some_and(|f| f.made_by[source] == Made::Output)
    }

    /// Everything about the state, for the few that are kept.
    pub fn state(&self) -> State {
        result::state(self.coupled)
    }

    /// Work done.
    pub fn stats(&self) -> Stats {
        self.coupled.stats
    }
}

/// One setting made ready, to be solved from a cold start again and again: for benchmarks, which also want to know what
/// an evaluation of all laws, filling the matrix and factorising it take on their own.
pub struct Ready<'a> {
    pub(super) coupled: Coupled<'a>,
}

impl Ready<'_> {
    /// Hydraulics from a cold start to 1e-10 of the largest flow; Newton steps taken.
    ///
    /// # Errors
    /// As [`super::solve`].
    pub fn solve(&mut self) -> Result<u32, SolveError> {
        let mut stats = Stats::default();
        self.coupled.hydraulics.forget();
        self.coupled
            .hydraulics
            .solve(Finish::Quick, false, &mut stats)?;
        Ok(stats.iterations)
    }

    /// Evaluates every law once at the flows that stand.
    pub fn laws(&mut self) {
        self.coupled.hydraulics.laws();
    }

    /// Fills the matrix once.
    pub fn assemble(&mut self) {
        self.coupled.hydraulics.assemble();
    }

    /// Factorises and solves what [`Ready::assemble`] filled.
    pub fn factorise(&mut self) {
        self.coupled.hydraulics.factorise();
    }
}
