//! Smallest sets of shut valves that trip the unit, and smallest sets of valves that keep it safe when left open.
//!
//! A set of valves is a bit mask. A set kept open is safe if no state that includes it trips. A set is safe exactly
//! if it shares a valve with every smallest tripping set, so the smallest safe sets are the minimal hitting sets of
//! the smallest tripping sets (Berge 1989, Hypergraphs, ch. 2: transversals).

/// A set of valves, bit `i` for valve `i`.
pub type Mask = u64;

/// The smallest masks of a family: no other member is part of them. Sorted by size, then by value.
pub fn minimal(mut family: Vec<Mask>) -> Vec<Mask> {
    family.sort_by_key(|m| (m.count_ones(), *m));
    family.dedup();
    let mut kept: Vec<Mask> = Vec::new();
    for mask in family {
        if !kept.iter().any(|k| k & mask == *k) {
            kept.push(mask);
        }
    }
    kept
}

/// The smallest sets of shut valves that trip, from the outcome of all 2ⁿ states (`trips[shut]`).
///
/// Needs no law of monotony: a state trips or does not as it was solved.
pub fn smallest_trips(valves: u32, trips: &[bool]) -> Vec<Mask> {
    // below[m]: some part of m trips (m itself included); a zeta transform over subsets
    let mut below: Vec<bool> = trips.to_vec();
    for bit in 0..valves {
        for mask in 0..below.len() {
            if mask & (1 << bit) != 0 && below[mask ^ (1 << bit)] {
                below[mask] = true;
            }
        }
    }
    let mut found: Vec<Mask> = (0..trips.len())
        .filter(|&m| trips[m])
        .filter(|&m| (0..valves).all(|bit| m & (1 << bit) == 0 || !below[m ^ (1 << bit)]))
        .map(|m| m as Mask)
        .collect();
    found.sort_by_key(|m| (m.count_ones(), *m));
    found
}

/// The smallest sets of valves that keep the unit safe when left open, from the outcome of all 2ⁿ states: no state in which
/// they are open is one of `trips[shut]`.
pub fn smallest_safe(valves: u32, trips: &[bool]) -> Vec<Mask> {
    let mut below: Vec<bool> = trips.to_vec();
    for bit in 0..valves {
        for mask in 0..below.len() {
            if mask & (1 << bit) != 0 && below[mask ^ (1 << bit)] {
                below[mask] = true;
            }
        }
    }
    let all = below.len() - 1;
    let mut found: Vec<Mask> = (0..below.len())
        .filter(|open| !below[all ^ open])
        .filter(|open| {
            (0..valves).all(|bit| open & (1 << bit) == 0 || below[(all ^ open) | (1 << bit)])
        })
        .map(|m| m as Mask)
        .collect();
    found.sort_by_key(|m| (m.count_ones(), *m));
    found
}

/// A set of few valves that shares a member with each of `sets`: again and again the valve that is in most of those not hit
/// yet, and the least on a tie. `None` if one of them is empty.
pub fn some_hitting(sets: &[Mask]) -> Option<Mask> {
    let (mut left, mut chosen) = (sets.to_vec(), 0);
    while !left.is_empty() {
        let count = |b: &u32| left.iter().filter(|set| *set >> b & 1 == 1).count();
        let best = (0..Mask::BITS).rev().max_by_key(count)?;
        if count(&best) == 0 {
            return None;
        }
        chosen |= 1 << best;
        left.retain(|set| set >> best & 1 == 0);
    }
    Some(chosen)
}

/// The smallest sets of valves that share a member with each of `sets`; `None` if there are more than `most` on the
/// way (the count grows without bound for odd families, and a cut list would not be exact).
///
/// An empty family is hit by the empty set; a family with the empty set by nothing (an empty list).
pub fn smallest_hitting(sets: &[Mask], most: usize) -> Option<Vec<Mask>> {
    let mut hitting: Vec<Mask> = vec![0];
    for &set in sets {
        hitting = hit_one(&hitting, set)?;
        if hitting.len() > most {
            return None;
        }
    }
    Some(hitting)
}

/// Sets on the way from one family to the next before it is given up.
const ON_THE_WAY: usize = 2_000;

/// The smallest sets that hit `set` and all that a family of smallest hitting sets hits; `None` if they are too many.
///
/// Members that hit it stay. Any other needs one valve of `set` more, and of those a set is left out only if a member that
/// stays is part of it, which then has that valve: two new ones never contain each other.
pub fn hit_one(hitting: &[Mask], set: Mask) -> Option<Vec<Mask>> {
    let (mut next, missing): (Vec<Mask>, Vec<Mask>) = hitting.iter().partition(|h| *h & set != 0);
    let bits = || (0..Mask::BITS).filter(|b| set >> b & 1 == 1);
    let with: Vec<Vec<Mask>> = bits()
        .map(|b| next.iter().copied().filter(|k| k >> b & 1 == 1).collect())
        .collect();
    for h in missing {
        for (b, with) in bits().zip(&with) {
            let more = h | 1 << b;
            if !with.iter().any(|k| k & more == *k) {
                next.push(more);
            }
        }
        if next.len() > ON_THE_WAY {
            return None;
        }
    }
    next.sort_by_key(|m| (m.count_ones(), *m));
    Some(next)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Every definition taken at its word.
    fn naive_safe(valves: u32, trips: &[bool]) -> Vec<Mask> {
        let all = (1usize << valves) - 1;
        let safe = (0..=all)
            .filter(|open| (0..=all).all(|shut| shut & open != 0 || !trips[shut]))
            .map(|m| m as Mask)
            .collect();
        minimal(safe)
    }

    proptest! {
        #[test]
        fn agree_with_the_definitions(trips in prop::collection::vec(prop::bool::weighted(0.15), 32)) {
            let family = (0..32u64).filter(|&m| trips[m as usize]).collect();
            let found = smallest_trips(5, &trips);
            prop_assert_eq!(&found, &minimal(family));
            prop_assert_eq!(smallest_hitting(&found, 1000).unwrap(), naive_safe(5, &trips));
            prop_assert_eq!(smallest_safe(5, &trips), naive_safe(5, &trips));
            if let Some(hitting) = some_hitting(&found) {
                prop_assert!(found.iter().all(|set| set & hitting != 0));
            } else {
                prop_assert_eq!(found, vec![0]);
            }
        }
    }

    #[test]
    fn nothing_trips_and_everything_trips() {
        assert_eq!(smallest_trips(2, &[false; 4]), Vec::<Mask>::new());
        assert_eq!(smallest_hitting(&[], 9), Some(vec![0]));
        assert_eq!(smallest_trips(2, &[true; 4]), vec![0]);
        assert_eq!(smallest_hitting(&[0], 9), Some(vec![]));
        assert_eq!(smallest_safe(2, &[false; 4]), vec![0]);
        assert_eq!(smallest_safe(2, &[true; 4]), Vec::<Mask>::new());
    }
}
