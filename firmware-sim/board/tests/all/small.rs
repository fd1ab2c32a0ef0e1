//! Stamps, supply, lamp, causes of a reset.

use proptest::prelude::*;
use trundle_board::{lamp, reset, stamp, supply};
use trundle_protocol::message::ResetCause;

proptest! {
    /// A step in the past or a little ahead, whatever the clocks stand at.
    #[test]
    fn a_step_becomes_the_timer_s_reading(now in any::<u32>(), back in -1_000_i64..2_000_000_000) {
        let truth_steps = i64::from(now) * 8 - back;
        let step = (truth_steps & 0xFFFF_FFFF) as u32;
        let want = (truth_steps.div_euclid(8) & 0xFFFF_FFFF) as u32;
        prop_assert_eq!(stamp::timer_us(step, now), want);
    }

    #[test]
    fn a_change_s_word_becomes_its_step(
        now in any::<u32>(),
        back in -1_000_i64..1_000_000_000,
        level in any::<bool>(),
    ) {
        let step = (i64::from(now) - back) as u32;
        let word = !step << 1 | u32::from(level);
        prop_assert_eq!(stamp::change(word, now), (step, level));
    }
}

#[test]
fn supply_by_hand() {
    // 12.6 V / 11 = 1.14545 V; 1.14545 / 3.3 * 4096 = 1421.8.
    assert_eq!(supply::millivolts(1_422 * 8, 8), 12_602);
    assert_eq!(supply::millivolts(4_095 * 8, 8), 36_291);
    // A wire that hangs in the air, and none at all.
    assert_eq!(supply::millivolts(100 * 8, 8), 0);
    assert_eq!(supply::millivolts(0, 0), 0);
}

#[test]
fn the_lamp_blinks_when_searched_and_else_shows_life() {
    let lit = |searched, read, over_us: u32| {
        (0..over_us).step_by(1_000).filter(|&at| lamp::is_lit(at, searched, read)).count()
    };
    assert_eq!(lit(true, true, 4_000_000), 2_000);
    assert_eq!(lit(false, true, 4_000_000), 200);
    assert_eq!(lit(false, false, 4_000_000), 50);
}

#[test]
fn causes_of_a_reset() {
    // Reason, chip, scratch.
    let cases = [
        (0, 1 << 8, 0, ResetCause::PowerOn),
        (0, 1 << 16, reset::WATCHED, ResetCause::Pin),
        (0, 1 << 20, 0, ResetCause::Software),
        // The chip's register still holds why power came on.
        (1, 1 << 8, reset::WATCHED, ResetCause::Watchdog),
        // By the boot ROM, after a file was dragged onto the board.
        (1, 1 << 8, 0, ResetCause::Software),
        (2, 1 << 8, reset::WATCHED, ResetCause::Software),
        (0, 0, 0, ResetCause::Unknown),
    ];
    for (reason, chip, scratch, cause) in cases {
        assert_eq!(reset::cause(reason, chip, scratch), cause, "{reason} {chip:X} {scratch:X}");
    }
}
