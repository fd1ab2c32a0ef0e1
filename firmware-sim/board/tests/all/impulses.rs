//! The test signal as its machine gives it, against the table that says what it is to be.

use crate::machine::Machine;
use trundle_board::pio::IMPULSES;
use trundle_board::signal::Player;
use trundle_counter::test_signal::{Changes, LENGTH_US, PHASES, starts_us};

/// Plays all of it, with a look by software only every so many microseconds; every change of the
/// pin: when, microseconds, and whether it falls.
fn play(look_us: u64) -> Vec<(u64, bool)> {
    let mut machine = Machine::new(&IMPULSES);
    let (mut player, mut clock_us, mut at_us) = (Player::default(), 1_u64, 0_u64);
    let (mut out, mut looked_us, mut pin) = (Vec::new(), None, true);
    while !player.is_over(at_us) {
        if looked_us.is_none_or(|looked| at_us >= looked + look_us) {
            looked_us = Some(at_us);
            while let Some(order) = player.due(at_us)
                && machine.to_send.len() <= 2
            {
                clock_us = order.clock_us.into();
                machine.to_send.extend(order.burst.words());
                player.given();
            }
        }
        machine.clock(false);
        if machine.pin_out != pin {
            pin = machine.pin_out;
            out.push((at_us, !pin));
        }
        at_us += clock_us;
    }
    assert!(machine.to_send.is_empty() && pin, "all went out, and the pin idles high");
    out
}

#[test]
fn every_change_comes_at_its_time_within_the_phase() {
    for look_us in [1, 700, 3_000] {
        let given = play(look_us);
        let wanted: Vec<_> = Changes::default().collect();
        assert_eq!(given.len(), wanted.len(), "looking every {look_us} us");
        let mut at = 0;
        for (number, phase) in PHASES.iter().enumerate() {
            let changes = 2 * phase.falls() as usize;
            let (given, wanted) = (&given[at..at + changes], &wanted[at..at + changes]);
            let late_us = given[0].0 - starts_us(number);
            assert!(late_us <= look_us + 200, "{}: {late_us} us late", phase.name);
            for (given, wanted) in given.iter().zip(wanted) {
                assert_eq!((given.0 - late_us, given.1), (wanted.at_us, wanted.falls));
            }
            at += changes;
        }
    }
}

#[test]
fn it_ends() {
    let mut player = Player::default();
    let mut bursts = 0;
    while player.due(LENGTH_US).is_some() {
        player.given();
        bursts += 1;
    }
    assert_eq!(bursts, 3 + 400 + 1);
    assert!(!player.is_over(LENGTH_US) && player.is_over(LENGTH_US + 1_000_001));
}
