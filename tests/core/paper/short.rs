//! The short form when everything comes together: still on one sheet (which only a printer shows:
//! `.ci/55-paper.sh`), and nothing is left out for it.

use super::{printed, seen};

#[test]
fn with_all_there_is_the_short_form_holds_every_value_and_warning() {
    for name in ["long-visit", "long-visit-letter"] {
        let one = printed(name);
        let short = seen(&one.short);
        for part in &one.sample.record.parts {
            for line in part.read().unwrap().lines {
                let value = line.to_string().replace('\u{a0}', " ");
                assert!(short.contains(&value), "{name}: {value:?} is missing in {short}");
            }
        }
        for warning in [
            "The value to enter was set to 13425; the result gives 13325.",
            "Typed as left in the terminal: 12990; as left, measured: it works with",
            "than it does, and applies 2.6 % too much.",
            "the clock of the computer was 24 hours behind the receiver's.",
            "The PTO: the readings contradict each other",
            "The antenna position: the readings contradict each other",
            "The speeds: the readings contradict each other",
            "Superseded by record 20260502-0123456789.",
            "This record replaces record 20260501-abcdef0123.",
            "Practice. These data come from the simulator.",
        ] {
            assert!(short.contains(warning), "{name}: {warning:?} is missing in {short}");
        }
    }
}

/// Small letters only where they are needed.
#[test]
fn the_short_form_is_set_no_closer_than_it_must_be() {
    let closest = |name: &str| printed(name).short.contains("with nothing left out");
    assert!(closest("long-visit") && closest("long-visit-letter"));
    for name in ["visit", "did-not-take", "long-parts", "long", "plain", "parts-alone"] {
        assert!(!closest(name), "{name}");
    }
}
