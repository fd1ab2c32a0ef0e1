//! Days of the long sweep on which a valid pass once had a length far beyond its uncertainty, and
//! no flag.

use trundle_tests::days::{Lived, Plan};

/// Seed of the sweep that the days are of.
const SEED: u64 = 1;

fn lived(day: u64) -> Lived {
    Plan::new(day, SEED).live()
}

#[test]
fn a_wild_height_of_one_fix_makes_no_level_course_steep() {
    // 6.9 m too long, 25 standard uncertainties, in all passes.
    assert_eq!(lived(8909).wrong_passes(), Vec::<String>::new());
}

#[test]
fn one_position_that_is_wrong_by_decimetres_hides_no_slow_error() {
    // 10 and 18 standard uncertainties: the receiver's noise looked like one without memory.
    for day in [5953, 8085] {
        assert_eq!(lived(day).wrong_passes(), Vec::<String>::new(), "day {day}");
    }
}

#[test]
fn positions_at_the_marks_unlike_those_between_and_unlike_other_passes_are_less_certain() {
    // A frozen position and a jump beside a peg, both nearly 10 standard uncertainties.
    for day in [4133, 5154] {
        let lived = lived(day);
        assert_eq!(lived.wrong_passes(), Vec::<String>::new(), "day {day}");
        // The other passes are as certain as before.
        let uncertainties = lived.work.passes.iter().filter_map(|pass| {
            Some(pass.measured.as_ref()?.satellite.as_ref()?.joined.standard_uncertainty_m)
        });
        let mut sorted: Vec<f64> = uncertainties.collect();
        sorted.sort_by(f64::total_cmp);
        assert!(sorted[sorted.len() - 2] < 0.05, "day {day}: {sorted:?}");
        assert!(sorted[sorted.len() - 1] > 0.1, "day {day}: {sorted:?}");
    }
}
