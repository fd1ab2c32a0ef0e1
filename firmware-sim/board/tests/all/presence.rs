//! Who reads, and what becomes of what nobody reads.

use trundle_board::presence::{Duty, Presence, Seen};

const LINKED: Seen = Seen { linked: true, ..NOTHING };
const NOTHING: Seen = Seen { linked: false, ready: false, heard: false, full: false, moved: false };
const READY: Seen = Seen { ready: true, ..LINKED };
const FULL: Seen = Seen { full: true, ..READY };

/// With a reader.
fn read() -> Presence {
    let mut presence = Presence::default();
    assert_eq!(presence.look(READY, 0), Duty::Greet);
    presence.greeted();
    assert_eq!(presence.look(READY, 1_000), Duty::Send);
    presence
}

#[test]
fn nobody_is_sent_anything_before_he_is_there() {
    let mut presence = Presence::default();
    for at in 0..5 {
        assert_eq!(presence.look(Seen::default(), at), Duty::Wait);
        assert_eq!(presence.look(LINKED, at), Duty::Wait);
    }
    assert!(!presence.reads());
}

#[test]
fn a_reader_is_greeted_until_the_greeting_has_a_place() {
    let mut presence = Presence::default();
    assert_eq!(presence.look(READY, 0), Duty::Greet);
    assert_eq!(presence.look(FULL, 9_000_000), Duty::Greet);
    presence.greeted();
    assert!(presence.reads());
}

#[test]
fn who_speaks_reads_though_no_terminal_is_ready() {
    let mut presence = Presence::default();
    assert_eq!(presence.look(Seen { heard: true, ..LINKED }, 0), Duty::Greet);
    assert_eq!(presence.look(LINKED, 1), Duty::Greet);
    presence.greeted();
    assert_eq!(presence.look(LINKED, 2), Duty::Send);
}

#[test]
fn what_waits_is_forgotten_when_the_reader_goes() {
    let gone =
        [("terminal", LINKED), ("bus", Seen { linked: false, ..READY }), ("both", Seen::default())];
    for (what, seen) in gone {
        let mut presence = read();
        assert_eq!(presence.look(seen, 2_000), Duty::Forget, "{what}");
        assert_eq!(presence.look(seen, 3_000), Duty::Wait, "{what}");
        assert_eq!(presence.look(READY, 4_000), Duty::Greet, "{what}: he comes back");
    }
}

#[test]
fn a_reader_that_takes_nothing_for_half_a_second_is_gone() {
    // Over the wrap of the timer.
    let start = u32::MAX - 100_000;
    let mut presence = read();
    assert_eq!(presence.look(FULL, start), Duty::Send);
    assert_eq!(presence.look(FULL, start.wrapping_add(499_999)), Duty::Send);
    assert_eq!(presence.look(FULL, start.wrapping_add(500_000)), Duty::Forget);
    assert_eq!(presence.look(FULL, start.wrapping_add(600_000)), Duty::Greet);
}

#[test]
fn a_slow_reader_is_no_gone_reader() {
    let mut presence = read();
    for at in 0..20 {
        assert_eq!(presence.look(FULL, at * 400_000), Duty::Send);
        assert_eq!(presence.look(READY, at * 400_000 + 399_000), Duty::Send);
    }
}

#[test]
fn a_reader_that_always_finds_more_is_no_gone_reader() {
    // Each look finds the endpoint full again, since more waits than one packet holds; but the
    // packets move.
    let mut presence = read();
    for at in 0..3_000 {
        let seen = Seen { moved: true, ..FULL };
        assert_eq!(presence.look(seen, at * 1_000), Duty::Send, "after {at} ms");
    }
    // The last of them moved at 2.999 s.
    assert_eq!(presence.look(FULL, 3_000_000), Duty::Send);
    assert_eq!(presence.look(FULL, 3_498_999), Duty::Send);
    assert_eq!(presence.look(FULL, 3_499_000), Duty::Forget, "once they stand still");
}
