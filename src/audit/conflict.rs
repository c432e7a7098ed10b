//! Smallest sets of claims that cannot all be true, and which claims survive.

use std::collections::{BTreeSet, VecDeque};

/// Claims by index.
pub type Claims = BTreeSet<usize>;

/// Parts of the claims that are looked at before the list is given up as perhaps incomplete.
const PARTS: usize = 6_000;

/// All smallest contradictory sets of `claims`, smallest first; the flag is false if `most` were found, or the work
/// allowed was done, and there may be more.
///
/// `contradicts` must be monotone: adding a claim never mends a contradiction. One set is found by dropping claims
/// one by one; the others by leaving out each of its members in turn (Reiter 1987, hitting-set tree). Every smallest
/// set is met: a path that leaves out, at each set found, a member that the wanted one lacks ends there.
pub fn smallest_contradictions(
    claims: &Claims,
    most: usize,
    contradicts: impl Fn(&Claims) -> bool,
) -> (Vec<Claims>, bool) {
    let mut found: BTreeSet<Claims> = BTreeSet::new();
    let mut seen: BTreeSet<Claims> = BTreeSet::new();
    let mut open: VecDeque<Claims> = VecDeque::from([claims.clone()]);
    let mut complete = true;
    // the last part first: it soon leaves out one member of every set, and so meets them all
    while let Some(part) = open.pop_back() {
        if !seen.insert(part.clone()) {
            continue;
        }
        if seen.len() > PARTS {
            complete = false;
            break;
        }
        // a set known already that lies in this part saves the search for one
        let known = found.iter().find(|set| set.is_subset(&part)).cloned();
        let set = match known {
            Some(set) => set,
            None if contradicts(&part) => {
                if found.len() >= most {
                    complete = false;
                    break;
                }
                let set = shrink(&part, &contradicts);
                found.insert(set.clone());
                set
            }
            None => continue,
        };
        for claim in set {
            let mut rest = part.clone();
            rest.remove(&claim);
            open.push_back(rest);
        }
    }
    let mut found: Vec<Claims> = found.into_iter().collect();
    found.sort_by(|a, b| a.len().cmp(&b.len()).then(a.cmp(b)));
    (found, complete)
}

fn shrink(part: &Claims, contradicts: &impl Fn(&Claims) -> bool) -> Claims {
    let mut set = part.clone();
    for claim in part {
        set.remove(claim);
        if !contradicts(&set) {
            set.insert(*claim);
        }
    }
    set
}

/// Claims that stand in no contradictory set: they survive whichever of the others is withdrawn.
pub fn survivors(claims: &Claims, contradictions: &[Claims]) -> Claims {
    claims
        .iter()
        .copied()
        .filter(|c| !contradictions.iter().any(|set| set.contains(c)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn equal_brute_force(bad in prop::collection::vec(1u32..128, 0..6)) {
            // any family of contradictory sets over seven claims, closed upwards
            let contradicts = |set: &Claims| {
                let mask = set.iter().fold(0u32, |m, c| m | 1 << c);
                bad.iter().any(|b| b & mask == *b)
            };
            let as_set = |mask: u32| (0..7).filter(|c| mask >> c & 1 == 1).collect::<Claims>();
            let mut brute: Vec<Claims> = (0..128u32)
                .map(as_set)
                .filter(|s| contradicts(s))
                .filter(|s| s.iter().all(|c| {
                    let mut less = s.clone();
                    less.remove(c);
                    !contradicts(&less)
                }))
                .collect();
            brute.sort_by(|a, b| a.len().cmp(&b.len()).then(a.cmp(b)));
            let claims: Claims = (0..7).collect();
            let (found, complete) = smallest_contradictions(&claims, 100, contradicts);
            prop_assert!(complete);
            prop_assert_eq!(&found, &brute);
            let alive = survivors(&claims, &found);
            prop_assert!(!contradicts(&alive));
        }
    }
}
