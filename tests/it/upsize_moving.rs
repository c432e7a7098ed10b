//! Long one-pipe loops and reverse returns of twenty radiators: a plan, and a gap of at most 5 %.

use super::planning::{Planned, one_pipe, reverse_return};
use pipecarry::plan::search::WIDE_GAP;

const RADIATORS: usize = 20;

#[test]
fn twenty_radiators_on_a_one_pipe_loop_are_proved() {
    let mut changed = 0;
    for seed in 0..4 {
        let text = one_pipe(seed, RADIATORS);
        let found = Planned::of(&text).search().run().unwrap();
        let best = found
            .best
            .as_ref()
            .unwrap_or_else(|| panic!("seed {seed}: none\n{text}"));
        assert!(found.gap <= WIDE_GAP, "seed {seed}: {}", found.gap);
        changed += usize::from(best.money > 0);
    }
    assert!(changed >= 2, "{changed}");
}

#[test]
fn twenty_radiators_on_a_reverse_return_end_within_5_percent() {
    let mut changed = 0;
    for seed in 0..3 {
        let text = reverse_return(seed, RADIATORS);
        let found = Planned::of(&text).search().run().unwrap();
        let best = found
            .best
            .as_ref()
            .unwrap_or_else(|| panic!("seed {seed}: none\n{text}"));
        assert!(found.tangled);
        assert!(found.gap <= WIDE_GAP, "seed {seed}: {}", found.gap);
        changed += usize::from(best.money > 0);
    }
    assert!(changed >= 2, "{changed}");
}
