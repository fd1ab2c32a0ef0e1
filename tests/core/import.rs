//! Plain recordings made into a capture, and worked: against the simulator's truth, and against
//! what people do to such files.

mod clocks;
mod dialects;
mod garbled;
mod real;
mod recording;
mod road;

use recording::{Clock, Recording};
use trundle_core::capture::{Entry, ImportRow, PortRole, Record};
use trundle_core::course::file::parse as parse_course;
use trundle_core::figure::Work;
use trundle_core::import::{Clocks, ImportFault, ImportSummary, Inputs, to_records};
use trundle_core::result::work_v1::WorkV1;
use trundle_core::timeline::join::JoinRefusal;
use trundle_sim::{Receiver, ReceiverClass, Scenario};
use trundle_tests::{replay, work_session};

const COURSE: &str = "[course]\nnominal_m = 100.0\n[tape]\nclass = \"II\"\n";

fn import(
    nmea: &[u8],
    counts: &str,
    marks: Option<&str>,
) -> Result<(Vec<Record>, ImportSummary), ImportFault> {
    to_records(&Inputs {
        nmea,
        counts: counts.as_bytes(),
        marks: marks.map(str::as_bytes),
        course: Some(COURSE),
    })
}

fn worked(records: &[Record]) -> Work {
    let session = replay(records);
    assert!(session.ended());
    let course = parse_course(session.course_text().unwrap()).unwrap().spec;
    work_session(&session, Some(&course))
}

/// The fault of an import that must fail; its words are complete.
fn fault(nmea: &[u8], counts: &str, marks: Option<&str>) -> ImportFault {
    let fault = match import(nmea, counts, marks) {
        Err(fault) => fault,
        Ok((_, summary)) => panic!("it was taken: {summary:?}"),
    };
    for words in [fault.to_string().as_str(), fault.means(), fault.next()] {
        assert!(words.ends_with(['.', ']', ')']) || words.ends_with("..."), "{words}");
        assert!(words.len() > 15, "{words}");
    }
    fault
}

/// Every estimate of the wheel figure with its expanded uncertainty, from the result file.
fn wheel(work: &Work) -> Vec<(&'static str, f64, f64)> {
    let json: serde_json::Value = serde_json::from_str(&WorkV1::of(work).to_json()).unwrap();
    ["tape", "satellite", "combined"]
        .into_iter()
        .filter_map(|by| {
            let figure = &json["channels"]["wheel"][by];
            let number = |key: &str| figure[key].as_f64();
            Some((by, number("impulses_per_100m")?, number("expanded_uncertainty")?))
        })
        .collect()
}

#[test]
fn figures_hold_the_truth_whatever_joins_the_clocks() {
    let cases = [
        (1, ReceiverClass::Rtk, 10, Clock::BoardS),
        (2, ReceiverClass::Corrected, 50, Clock::BoardS),
        (3, ReceiverClass::Standalone, 10, Clock::Utc),
        (3, ReceiverClass::Standalone, 10, Clock::BoardS),
        (4, ReceiverClass::Corrected, 10, Clock::Utc),
    ];
    for (seed, class, counts_hz, kind) in cases {
        let mut scenario = Scenario { passes: 4, ..Scenario::default() };
        scenario.receiver = Receiver::of_class(class);
        let recording = Recording::new(&scenario, seed);
        let (records, summary) = import(
            &recording.nmea,
            &recording.counts(counts_hz, kind, 0),
            Some(&recording.marks(kind)),
        )
        .unwrap();
        println!("seed {seed}: {:?} {:?}", summary.joined(), summary.remarks);
        let work = worked(&records);
        let truth = &recording.truth;
        let figures = wheel(&work);
        assert_eq!(figures.len(), 3);
        for (by, figure, expanded) in figures {
            let off = figure - truth.wheel_impulses_per_100m;
            assert!(off.abs() <= expanded, "seed {seed}, {by}: off by {off}, stated ± {expanded}");
            assert!(expanded < 0.02 * figure, "seed {seed}, {by}: ± {expanded}");
        }
        // The board counts from the start of the simulation; content is older than its tag by
        // the lag, so a join by speeds takes it for part of the offset.
        let clock = work.clock.unwrap();
        let offset_s = truth.start_utc_ns as f64 * 1e-9 + truth.tag_lag_s;
        let off_s = clock.offset_s - offset_s - recording.zero_s(kind);
        println!("clock off by {off_s} s, stated {}", clock.standard_uncertainty_s);
        assert!(
            off_s.abs() < 3.0 * clock.standard_uncertainty_s.max(0.01),
            "seed {seed}: clock off by {off_s}, stated {}",
            clock.standard_uncertainty_s
        );
        let bad: Vec<&str> = work
            .all_flags()
            .filter(|flag| !flag.code.is_remark())
            .map(|flag| flag.code.word())
            .collect();
        assert!(bad.is_empty(), "seed {seed}: {bad:?}");
    }
}

#[test]
fn utc_and_matched_speeds_give_the_same_figure() {
    let scenario = Scenario { passes: 2, ..Scenario::default() };
    let recording = Recording::new(&scenario, 11);
    let figure = |clock: Clock| {
        let counts = recording.counts(10, clock, 0);
        let (records, _) = import(&recording.nmea, &counts, Some(&recording.marks(clock))).unwrap();
        wheel(&worked(&records))
    };
    let (utc, matched) = (figure(Clock::Utc), figure(Clock::BoardS));
    assert_eq!(utc.len(), 3);
    for (a, b) in utc.iter().zip(&matched) {
        assert!((a.1 - b.1).abs() < 2e-5 * a.1, "{a:?} {b:?}");
    }
}

#[test]
fn a_wrap_of_32_bits_in_a_pass_changes_nothing() {
    let scenario = Scenario { passes: 2, ..Scenario::default() };
    let recording = Recording::new(&scenario, 5);
    let result = |ahead: u64| {
        let counts = recording.counts(10, Clock::Utc, ahead);
        let marks = recording.marks(Clock::Utc);
        let (records, summary) = import(&recording.nmea, &counts, Some(&marks)).unwrap();
        assert!(summary.bad.is_empty() && summary.remarks.is_empty(), "{summary:?}");
        let work = worked(&records);
        let impulses: Vec<_> =
            work.passes.iter().map(|p| p.measured.as_ref().unwrap().impulses).collect();
        (impulses, wheel(&work))
    };
    // The counters stand 5,000 impulses before the end of their range: within the first pass.
    let (plain, wrapped) = (result(0), result((1 << 32) - 5_000));
    assert_eq!(plain.0, wrapped.0);
    for (a, b) in plain.1.iter().zip(&wrapped.1) {
        // Speeds are worked out from counts of ten digits: the lag differs by microseconds.
        assert!((a.1 - b.1).abs() < 1e-7 * a.1, "{a:?} {b:?}");
    }
}

#[test]
fn every_line_stands_in_the_capture_byte_for_byte_in_order_of_time() {
    let recording = Recording::new(&Scenario { passes: 1, ..Scenario::default() }, 6);
    let mut counts = recording.counts(10, Clock::BoardS, 0);
    counts.insert_str(counts.len() / 2, "spoilt");
    counts.push_str("\r\n\r\n");
    let marks = recording.marks(Clock::BoardS) + "1.5,note,\"two\nlines, one mark\"\n";
    let (records, summary) = import(&recording.nmea, &counts, Some(&marks)).unwrap();
    let (mut nmea_out, mut counts_out, mut marks_out) = (Vec::new(), Vec::new(), Vec::new());
    for record in &records {
        match &record.entry {
            Entry::Bytes(PortRole::Receiver, bytes) => nmea_out.extend_from_slice(bytes),
            Entry::Import(ImportRow::Counts, line) => counts_out.extend_from_slice(line),
            Entry::Import(ImportRow::Marks, line) => marks_out.push(line.clone()),
            _ => {}
        }
    }
    assert_eq!(nmea_out, recording.nmea);
    assert_eq!(counts_out, counts.as_bytes());
    // The note stands behind the marks in the file, and first in time.
    assert_eq!(marks_out.len(), 4);
    assert_eq!(marks_out[1], b"1.5,note,\"two\nlines, one mark\"\n");
    assert!(records.windows(2).all(|w| w[0].host_ns <= w[1].host_ns));
    assert_eq!(records.last().unwrap().entry, Entry::End);
    assert_eq!(summary.bad.len(), 1, "{:?}", summary.bad);
    let broken = counts[..counts.len() / 2].lines().count();
    assert!(summary.bad[0].line.abs_diff(broken) <= 1, "{:?} {broken}", summary.bad);
    assert_eq!(replay(&records).notes()[0].1, "two\nlines, one mark");
    // The same files give the same capture.
    assert_eq!(import(&recording.nmea, &counts, Some(&marks)).unwrap().0, records);
}

#[test]
fn arrival_times_are_taken_off_and_date_a_recording_without_dates() {
    let recording = Recording::new(&Scenario { passes: 1, ..Scenario::default() }, 7);
    let gga: Vec<&str> = recording.nmea_lines().filter(|l| l.contains("GGA")).collect();
    let plain: String = gga.iter().map(|l| format!("{l}\r\n")).collect();
    let counts = recording.counts(10, Clock::BoardS, 0);
    assert_eq!(fault(plain.as_bytes(), &counts, None), ImportFault::NoDate);
    let stamped: String =
        gga.iter().map(|l| format!("2026-05-01T10:00:00.25+02:00 {l}\r\n")).collect();
    let (records, summary) = import(stamped.as_bytes(), &counts, None).unwrap();
    let kept: Vec<u8> = records
        .iter()
        .filter_map(|r| match &r.entry {
            Entry::Bytes(_, bytes) => Some(bytes.clone()),
            _ => None,
        })
        .flatten()
        .collect();
    assert_eq!(kept, plain.as_bytes());
    assert!(kept.starts_with(b"$GNGGA"));
    // Speeds from positions alone: the offset is right all the same.
    let Clocks::Matched { offset_s, .. } = summary.clocks else { panic!("{summary:?}") };
    let truth_s = recording.truth.start_utc_ns as f64 * 1e-9;
    assert!((offset_s - truth_s).abs() < 0.3, "{}", offset_s - truth_s);
    // With counts on UTC the date comes from them.
    assert!(import(plain.as_bytes(), &recording.counts(10, Clock::Utc, 0), None).is_ok());
}

#[test]
fn a_utc_that_forgot_the_leap_seconds_is_put_right() {
    let recording = Recording::new(&Scenario { passes: 2, ..Scenario::default() }, 8);
    let mut late = recording.clone();
    late.truth.start_utc_ns += 18_000_000_000;
    let counts = late.counts(10, Clock::Utc, 0);
    let marks = late.marks(Clock::Utc);
    let (records, summary) = import(&recording.nmea, &counts, Some(&marks)).unwrap();
    let Clocks::UtcPutRight { off_s, .. } = summary.clocks else { panic!("{summary:?}") };
    assert!((off_s + 18.0).abs() < 0.2, "{off_s}");
    assert!(summary.remarks[0].contains("18.0 s ahead of"), "{:?}", summary.remarks);
    assert!(!records.is_empty());
}

#[test]
fn a_counter_that_started_anew_refuses_its_pass_only() {
    let recording = Recording::new(&Scenario { passes: 4, ..Scenario::default() }, 9);
    let pass = &recording.truth.passes[1];
    let anew_us = u64::midpoint(pass.start_us, pass.finish_us);
    let counts = recording.counts_restarted(10, anew_us);
    let marks = recording.marks(Clock::Utc);
    let (records, summary) = import(&recording.nmea, &counts, Some(&marks)).unwrap();
    assert!(summary.remarks.iter().any(|r| r.contains("goes down")), "{:?}", summary.remarks);
    let work = worked(&records);
    let states: Vec<&str> = work.passes.iter().map(|pass| pass.state()).collect();
    assert_eq!(states[1], "refused");
    assert!(states.iter().filter(|state| **state == "valid").count() == 3, "{states:?}");
    let words: Vec<&str> = work.passes[1].flags.iter().map(|f| f.code.word()).collect();
    assert!(words.contains(&"COUNT_WENT_BACK"), "{words:?}");
    for (by, figure, expanded) in wheel(&work) {
        let off = figure - recording.truth.wheel_impulses_per_100m;
        assert!(off.abs() <= expanded, "{by}: {off} {expanded}");
    }
}

#[test]
fn once_a_second_is_enough_and_every_two_seconds_is_refused() {
    let recording = Recording::new(&Scenario { passes: 4, ..Scenario::default() }, 10);
    let marks = recording.marks(Clock::Utc);
    let counts = recording.counts(1, Clock::Utc, 0);
    let (records, _) = import(&recording.nmea, &counts, Some(&marks)).unwrap();
    let work = worked(&records);
    assert!(work.passes.iter().all(|p| p.measured.as_ref().is_some_and(|m| m.standing)));
    let (by, figure, expanded) = wheel(&work)[0];
    let off = figure - recording.truth.wheel_impulses_per_100m;
    assert!(by == "tape" && off.abs() <= expanded, "{by} {off} {expanded}");
    let sparse: String = counts
        .lines()
        .enumerate()
        .filter(|(i, _)| i % 2 == 0)
        .map(|(_, line)| format!("{line}\n"))
        .collect();
    let ImportFault::TooCoarse { interval_s } = fault(&recording.nmea, &sparse, None) else {
        panic!()
    };
    assert!((interval_s - 2.0).abs() < 0.1);
}

#[test]
fn what_cannot_be_joined_is_refused() {
    let recording = Recording::new(&Scenario { passes: 4, ..Scenario::default() }, 12);
    let counts = recording.counts(10, Clock::BoardS, 0);
    // The counter missed the first pass: it still fits at one offset only.
    let truth = &recording.truth;
    let second_us = truth.passes[1].start_us - 4_000_000;
    let third_us = truth.passes[2].finish_us + 4_000_000;
    let late_counts = recording.part(second_us, u64::MAX).counts(10, Clock::BoardS, 0);
    let (_, summary) = import(&recording.nmea, &late_counts, None).unwrap();
    let Clocks::Matched { offset_s, .. } = summary.clocks else { panic!("{summary:?}") };
    assert!((offset_s - truth.start_utc_ns as f64 * 1e-9).abs() < 0.3, "{summary:?}");
    // The receiver missed the last as well: what is left looks alike shifted by a pass.
    let early_nmea = recording.part(0, third_us).nmea;
    let refusal = fault(&early_nmea, &late_counts, None);
    let ImportFault::Join(JoinRefusal::Ambiguous(rival)) = refusal else { panic!("{refusal:?}") };
    assert!(rival.apart_s.abs() > 20.0 && rival.misfit_ratio < 1.5, "{rival:?}");
    assert!(refusal.next().contains("utc instead of board_s"));
    // Nothing but even driving.
    let pass = &truth.passes[0];
    let even = recording.part(pass.start_us + 15_000_000, pass.finish_us - 8_000_000);
    let refusal = fault(&even.nmea, &even.counts(10, Clock::BoardS, 0), None);
    assert!(
        matches!(refusal, ImportFault::Join(JoinRefusal::NoAcceleration | JoinRefusal::TooShort)),
        "{refusal:?}"
    );
    // Another drive.
    let rolling = Scenario {
        passes: 3,
        cruise_m_s: 4.1,
        rest_s: 33.0,
        course_m: 60.0,
        ..Scenario::default()
    };
    let other = Recording::new(&rolling, 13);
    let refusal = fault(&other.nmea, &counts, None);
    assert!(
        matches!(
            refusal,
            ImportFault::Join(JoinRefusal::NoMatch { .. } | JoinRefusal::Ambiguous(_))
        ),
        "{refusal:?}"
    );
    // A day apart.
    let mut later = recording.clone();
    later.truth.start_utc_ns += 7_200_000_000_000;
    let refusal = fault(&recording.nmea, &later.counts(10, Clock::Utc, 0), None);
    assert!(matches!(refusal, ImportFault::Apart { .. }), "{refusal:?}");
    let mixed = recording.marks(Clock::BoardS);
    let utc = recording.counts(10, Clock::Utc, 0);
    assert_eq!(fault(&recording.nmea, &utc, Some(&mixed)), ImportFault::MarksClock);
}

#[test]
fn files_of_the_wrong_kind_are_told_apart() {
    let recording = Recording::new(&Scenario { passes: 1, ..Scenario::default() }, 14);
    let nmea = &recording.nmea;
    let counts = recording.counts(10, Clock::Utc, 0);
    let text = |fault: ImportFault| fault.to_string();
    assert!(text(fault(b" \r\n", &counts, None)).starts_with("The receiver recording is empty."));
    assert!(text(fault(nmea, "", None)).starts_with("The counts table is empty."));
    assert!(text(fault(nmea, &counts, Some(""))).starts_with("The marks table is empty."));
    assert_eq!(fault(counts.as_bytes(), &counts, None), ImportFault::NotNmea);
    let nmea_text = String::from_utf8(nmea.clone()).unwrap();
    let exchanged = fault(nmea, &nmea_text, None);
    assert!(matches!(exchanged, ImportFault::Header(..)), "{exchanged:?}");
    let bare: String =
        recording.nmea_lines().map(|l| format!("{}\n", l.split('*').next().unwrap())).collect();
    let lines = recording.nmea_lines().count() as u64;
    let none = ImportFault::NoSoundSentence { without: lines, wrong: 0 };
    assert_eq!(fault(bare.as_bytes(), &counts, None), none);
    let void: String =
        recording.nmea_lines().filter(|l| l.contains("GSA")).map(|l| format!("{l}\n")).collect();
    assert_eq!(fault(void.as_bytes(), &counts, None), ImportFault::NoFix);
    let message = text(fault(nmea, "time,wheel\n1,2\n", None));
    assert!(message.contains("board_s or utc") && message.contains("time,wheel"), "{message}");
    assert!(text(fault(nmea, "board_s,wheel\n", None)).contains("nothing below its header"));
    let message = text(fault(nmea, "board_s,wheel\nx,1\n", None));
    assert!(message.contains("column board_s holds \"x\""), "{message}");
    let back = "board_s,wheel\n1,1\n2,5\n1.5,7\n";
    let wanted = ImportFault::TimeBack { line: 4, back_s: 0.5 };
    assert_eq!(fault(nmea, back, None), wanted);
    let still = "board_s,wheel,radar\n1,1,0\n2,1,0\n3,1,0\n";
    assert_eq!(fault(nmea, still, None), ImportFault::NoMotion);
    let course = "[course]\nnominal_m = \"far\"\n";
    let inputs = Inputs { nmea, counts: counts.as_bytes(), marks: None, course: Some(course) };
    assert!(matches!(to_records(&inputs), Err(ImportFault::Course(_))));
}
