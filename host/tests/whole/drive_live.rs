//! Jobs through the built program: a simulated tractor behind two pseudo-terminals, `trundle
//! drive` in between, and `trundle work` on what it recorded.
//!
//! Whatever happens on the way, live equals replay, to the byte, in any time zone and locale,
//! and no figure is wrong without a flag.

use crate::support;
use crate::support::job::{Done, Plan, drive, patient};
use crate::support::tractor::{Hands, Recording};
use crate::support::{best, codes, codes_of_pass, in_tree, state_of_pass};
use std::collections::BTreeSet;
use trundle_core::capture::{Piece, PortRole, Reader};
use trundle_sim::{Fault, Port, Scenario};

fn plan(scenario: Scenario, seed: u64) -> Plan {
    Plan { scenario, seed, pace: 20.0, hands: None, typed: None }
}

/// Simulated time in the middle of a pass, seconds: between its start and its finish.
fn middle_of_pass(scenario: &Scenario, seed: u64, number: usize) -> f64 {
    let (_, truth) = trundle_sim::record_all(scenario, seed);
    let pass = &truth.passes[number - 1];
    (pass.start_us + pass.finish_us) as f64 / 2e6
}

fn bytes_of_receiver(capture: &str) -> Vec<u8> {
    let mut reader = Reader::default();
    reader.push(&std::fs::read(capture).unwrap());
    let mut out = Vec::new();
    let mut keep = |piece: Piece<'_>| match piece {
        Piece::Bytes { role: PortRole::Receiver, bytes, .. } => out.extend_from_slice(bytes),
        Piece::Bytes { .. } | Piece::Record(_) => {}
        Piece::Damage(damage) => panic!("the capture is damaged: {damage:?}"),
    };
    while let Some(piece) = reader.take() {
        keep(piece);
    }
    while let Some(piece) = reader.finish() {
        keep(piece);
    }
    out
}

/// The figure of the wheel lies within its own interval of the truth.
fn assert_right(done: &Done) {
    let (figure, half_width) =
        best(&done.result, "wheel").unwrap_or_else(|| panic!("{}", done.story()));
    let off = figure - done.truth.wheel_impulses_per_100m;
    assert!(off.abs() <= half_width, "{figure} is off by {off}: {}", done.story());
}

fn assert_refused(done: &Done, number: u64, reason: &str) {
    let codes = codes_of_pass(&done.result, number);
    assert!(codes.iter().any(|code| code == reason), "{reason}: {}", done.story());
    assert_eq!(state_of_pass(&done.result, number), "refused", "{}", done.story());
}

#[test]
fn a_job_by_the_button_is_right_and_replays_to_the_same_bytes() {
    drive(&plan(patient("corrected", 4), 3), |done| {
        assert_right(done);
        assert_eq!(done.result["state"], "valid", "{}", done.story());
        for number in 1..=4 {
            assert_ne!(state_of_pass(&done.result, number), "refused", "{}", done.story());
        }
    });
}

#[test]
fn a_job_by_typed_marks_takes_undo_notes_and_rejected_passes() {
    let scenario = Scenario { button: false, ..patient("corrected", 3) };
    let typed = |pass, start| -> &'static [&'static str] {
        match (pass, start) {
            // Taken back and given again, at either peg.
            (1, true) => &["m", "u", "m"],
            (2, false) => &["m", "u", "", "n wet grass by the hedge"],
            (3, false) => &["m", "x slipped on the wet patch"],
            _ => &["m"],
        }
    };
    drive(&Plan { typed: Some(typed), ..plan(scenario, 4) }, |done| {
        assert_right(done);
        for number in 1..=2 {
            assert_ne!(state_of_pass(&done.result, number), "refused", "{}", done.story());
        }
        assert_refused(done, 3, "REJECTED");
        let flags = done.result["flags"].as_array().unwrap();
        assert!(
            flags.iter().any(|f| f["what"].as_str().unwrap().contains("slipped on the wet patch"))
        );
        let said = &done.finished.stderr;
        assert!(said.contains("start undone") && said.contains("end undone"), "{said}");
        let page = done.folder.file("page.html");
        support::trundle(&["work", &done.capture, "--report", &page]);
        assert!(std::fs::read_to_string(page).unwrap().contains("wet grass by the hedge"));
    });
}

/// The moving recording of a real receiver: `receiver-05` of tests/data/receivers (see SOURCE.md
/// there: gpsd 3.22, BSD-2-Clause), its sentences grouped by their time of day.
fn real_recording() -> (Recording, Vec<u8>) {
    let bytes = std::fs::read(in_tree("tests/data/receivers/receiver-05.nmea")).unwrap();
    let mut parts: Vec<(u64, Vec<u8>)> = Vec::new();
    let mut first_s = None;
    for line in bytes.split_inclusive(|&byte| byte == b'\n') {
        let text = String::from_utf8_lossy(line);
        let mut fields = text.split(',');
        let kind = fields.next().unwrap();
        let clock = fields.next().filter(|_| kind.ends_with("GGA")).and_then(|time| {
            let part = |from, to| time.get(from..to)?.parse::<f64>().ok();
            Some(3600.0 * part(0, 2)? + 60.0 * part(2, 4)? + part(4, time.len())?)
        });
        let now_us = clock.map_or(parts.last().map_or(0, |part| part.0), |clock_s| {
            ((clock_s - *first_s.get_or_insert(clock_s)) * 1e6) as u64
        });
        match parts.last_mut() {
            Some((at_us, part)) if *at_us == now_us => part.extend_from_slice(line),
            _ => parts.push((now_us, line.to_vec())),
        }
    }
    (Recording(parts), bytes)
}

#[test]
fn a_real_receiver_beside_the_simulated_board_is_recorded_whole_and_judged_honestly() {
    let (recording, file) = real_recording();
    let hands = Hands { recording: Some(recording), unplug: None };
    // Half the pace: one second of this receiver is half a kilobyte, and none may be lost.
    let scenario = patient("corrected", 2);
    drive(&Plan { hands: Some(hands), pace: 10.0, ..plan(scenario, 5) }, |done| {
        let (sent, before) = &done.receiver_sent;
        let recorded = bytes_of_receiver(&done.capture);
        assert!(
            file.starts_with(sent) && sent.ends_with(&recorded),
            "recorded bytes are not the file's"
        );
        assert!(
            recorded.len() >= sent.len() - before,
            "{} of {}",
            recorded.len(),
            sent.len() - before
        );
        assert_eq!(sent.len(), file.len(), "the recording was not played to its end");
        // A boat's way is not the tractor's: whatever the receiver says is no witness here.
        assert_eq!(done.result["state"], "flagged", "{}", done.story());
        let found: BTreeSet<String> = codes(&done.result).into_iter().collect();
        let expected = ["TAPE_SATELLITE_DISAGREE", "NOT_CROSS_CHECKED", "FIX_REJECTED", "NO_FIX"];
        assert!(expected.iter().any(|code| found.contains(*code)), "{found:?}");
    });
}

#[test]
fn the_receiver_unplugged_for_ten_seconds_in_a_pass_leaves_a_right_or_flagged_result() {
    let scenario = patient("corrected", 2);
    let at_s = middle_of_pass(&scenario, 6, 2) - 10.0;
    let hands = Hands { unplug: Some((Port::Receiver, at_s, at_s + 10.0)), recording: None };
    drive(&Plan { hands: Some(hands), pace: 15.0, ..plan(scenario, 6) }, |done| {
        let said = &done.finished.stderr;
        assert!(said.contains("The satellite receiver is disconnected"), "{said}");
        assert!(said.contains("The satellite receiver is connected again"), "{said}");
        let codes = codes_of_pass(&done.result, 2);
        assert!(
            codes.iter().any(|code| code == "FIX_GAP" || code == "LINK_GAP"),
            "{}",
            done.story()
        );
        assert_right(done);
    });
}

#[test]
fn the_board_unplugged_for_ten_seconds_in_a_pass_loses_no_impulse() {
    let scenario = patient("corrected", 2);
    let at_s = middle_of_pass(&scenario, 7, 2) - 10.0;
    let hands = Hands { unplug: Some((Port::Board, at_s, at_s + 10.0)), recording: None };
    drive(&Plan { hands: Some(hands), pace: 15.0, ..plan(scenario, 7) }, |done| {
        let said = &done.finished.stderr;
        assert!(said.contains("The counter board is disconnected"), "{said}");
        assert!(said.contains("The counter board is connected again"), "{said}");
        let codes = codes_of_pass(&done.result, 2);
        assert!(codes.iter().any(|code| code == "LINK_GAP"), "{}", done.story());
        assert_right(done);
    });
}

#[test]
fn a_pass_in_which_the_board_starts_anew_is_refused() {
    let mut scenario = patient("corrected", 3);
    let at_s = middle_of_pass(&scenario, 8, 2);
    scenario.faults = vec![Fault::BoardReset { at_s, boot_s: 0.9 }];
    drive(&plan(scenario, 8), |done| {
        assert_refused(done, 2, "BOARD_RESET");
        assert!(done.finished.stderr.contains("restarted"), "{}", done.finished.stderr);
        assert_ne!(done.result["state"], "valid", "{}", done.story());
        if best(&done.result, "wheel").is_some() {
            assert_right(done);
        }
    });
}

#[test]
fn one_byte_in_a_hundred_damaged_gives_no_wrong_figure() {
    let mut scenario = patient("corrected", 2);
    scenario.faults =
        [Port::Board, Port::Receiver].map(|port| Fault::ByteDamage { port, rate: 0.01 }).to_vec();
    drive(&plan(scenario, 9), |done| {
        let found = codes(&done.result);
        assert!(
            found.iter().any(|code| code == "LINK_NOISY" || code == "FRAMES_LOST"),
            "{found:?}"
        );
        if best(&done.result, "wheel").is_some() {
            assert_right(done);
        }
    });
}

#[test]
fn a_counter_that_wraps_in_a_pass_changes_nothing() {
    let mut scenario = patient("timer-wrap", 2);
    let at_s = middle_of_pass(&scenario, 10, 1);
    scenario.timer_start = u32::MAX - (at_s * 1e6) as u32;
    drive(&plan(scenario, 10), |done| {
        assert_right(done);
        for number in 1..=2 {
            assert_eq!(codes_of_pass(&done.result, number), [""; 0], "{}", done.story());
            assert_eq!(state_of_pass(&done.result, number), "valid", "{}", done.story());
        }
    });
}
