use super::*;

#[test]
fn everything_loads_and_every_word_below_exists() {
    let catalogue = Catalogue::embedded();
    for pipe in &catalogue.pipes {
        if let Some(below) = &pipe.below {
            let smaller = catalogue
                .pipe(below)
                .unwrap_or_else(|| panic!("{}: no {below}", pipe.word));
            assert!(
                smaller.bore.0 < pipe.bore.0,
                "{} below {}",
                smaller.word,
                pipe.word
            );
        }
    }
}

#[test]
fn a_guess_admits_the_next_size_below_and_the_plastic_twin() {
    let catalogue = Catalogue::embedded();
    let guess = |word: &str| -> Vec<&str> {
        catalogue
            .guess(word)
            .iter()
            .map(|p| p.word.as_str())
            .collect()
    };
    assert_eq!(guess("cu22"), ["cu15", "pb22"]);
    assert_eq!(guess("CU 22x0.9"), ["cu15", "pb22"]);
    assert_eq!(guess("imperial 3/4"), ["imperial 1/2", "pb22"]);
    assert_eq!(guess("pb22"), ["pb15"]);
}

#[test]
fn printed_within_80_columns_and_filtered_by_family_or_word() {
    let catalogue = Catalogue::embedded();
    let all = print(catalogue, "");
    for line in all.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
    for pipe in &catalogue.pipes {
        assert!(all.contains(&pipe.word), "{}", pipe.word);
        assert!(print(catalogue, &pipe.word).contains(&pipe.word));
    }
    assert!(print(catalogue, "limits").contains("300 Pa/m"));
    assert!(!print(catalogue, "limits").contains("elbow"));
    assert!(print(catalogue, "elbows").contains("0.37"));
    assert_eq!(print(catalogue, "gold"), "");
}
