//! Lines of counts that were garbled on their way, and counters that do not only count up.

use super::recording::{Clock, Recording};
use super::{import, wheel, worked};
use trundle_core::capture::{Entry, ImportRow};
use trundle_core::flags::Code;
use trundle_sim::Scenario;

/// The table with the wheel's count of some lines, from 0 below the header, made another one.
fn changed(counts: &str, change: impl Fn(usize, u64) -> Option<u64>) -> String {
    let line = |(i, line): (usize, &str)| {
        let mut fields: Vec<String> = line.split(',').map(str::to_owned).collect();
        if let Some(count) = i.checked_sub(1).and_then(|i| change(i, fields[1].parse().unwrap())) {
            fields[1] = count.to_string();
        }
        fields.join(",") + "\n"
    };
    counts.lines().enumerate().map(line).collect()
}

#[test]
fn a_garbled_line_is_named_and_costs_nothing_else() {
    let recording = Recording::new(&Scenario { passes: 4, ..Scenario::default() }, 3);
    let sound = recording.counts(10, Clock::BoardS, 0);
    let marks = recording.marks(Clock::BoardS);
    let result = |counts: &str| {
        let (records, summary) = import(&recording.nmea, counts, Some(&marks)).unwrap();
        let refused = |r: &&trundle_core::capture::Record| {
            matches!(r.entry, Entry::Import(ImportRow::Refused, _))
        };
        assert_eq!(records.iter().filter(refused).count(), summary.bad.len());
        (worked(&records), summary)
    };
    let (before, _) = result(&sound);
    let middle = sound.lines().count() / 2;
    for wrong in [0, 1, 4_294_967_295, 99_999_999] {
        let (work, summary) =
            result(&changed(&sound, |i, _| (i == middle || i == 700).then_some(wrong)));
        let lines: Vec<usize> = summary.bad.iter().map(|bad| bad.line).collect();
        assert_eq!(lines, [702, middle + 2], "{:?}", summary.bad_lines());
        assert!(summary.bad_lines()[0].contains(&format!("column wheel holds {wrong}, between")));
        let codes: Vec<Code> = work.all_flags().map(|flag| flag.code).collect();
        assert!(codes.contains(&Code::BadImportLine), "{codes:?}");
        assert!(!codes.contains(&Code::BoardReset), "{codes:?}");
        let lag = |work: &trundle_core::figure::Work| {
            let clock = work.clock.unwrap();
            (clock.lag_s, clock.lag_standard_uncertainty_s)
        };
        let ((a_s, a_u_s), (b_s, b_u_s)) = (lag(&work), lag(&before));
        assert!((a_s - b_s).abs() < b_u_s && a_u_s > 0.5 * b_u_s, "{a_s} {a_u_s} {b_s} {b_u_s}");
        for ((by, a, _), (_, b, expanded)) in wheel(&work).iter().zip(&wheel(&before)) {
            assert!((a - b).abs() < 0.2 * expanded, "{by}: {a} {b}");
        }
    }
}

#[test]
fn a_garbled_time_is_refused_like_a_garbled_count() {
    let recording = Recording::new(&Scenario { passes: 2, ..Scenario::default() }, 4);
    let sound = recording.counts(10, Clock::BoardS, 0);
    let lines: Vec<&str> = sound.lines().collect();
    for time in ["0.000000", "999999.5"] {
        let mut spoilt: Vec<String> = lines.iter().map(|line| (*line).to_owned()).collect();
        let (_, rest) = lines[900].split_once(',').unwrap();
        spoilt[900] = format!("{time},{rest}");
        let (_, summary) = import(&recording.nmea, &spoilt.join("\n"), None).unwrap();
        let bad: Vec<usize> = summary.bad.iter().map(|bad| bad.line).collect();
        assert_eq!(bad, [901], "{:?}", summary.bad_lines());
    }
}

#[test]
fn counts_that_waver_are_no_restart_and_those_that_turn_back_are_told() {
    let recording = Recording::new(&Scenario { passes: 4, ..Scenario::default() }, 5);
    let sound = recording.counts(10, Clock::Utc, 0);
    let marks = recording.marks(Clock::Utc);
    let codes = |counts: &str| {
        let (records, summary) = import(&recording.nmea, counts, Some(&marks)).unwrap();
        assert!(summary.bad.is_empty(), "{:?}", summary.bad_lines());
        let work = worked(&records);
        let codes: Vec<Code> = work.all_flags().map(|flag| flag.code).collect();
        (codes, wheel(&work), summary.remarks)
    };
    let (_, before, _) = codes(&sound);
    // A quadrature encoder on an edge: down by one, and up again.
    let (found, after, remarks) =
        codes(&changed(&sound, |i, count| (i % 3 == 1).then_some(count.saturating_sub(1))));
    assert!(!found.contains(&Code::BoardReset), "{found:?} {remarks:?}");
    assert!(!found.contains(&Code::CountWentBack), "{found:?} {remarks:?}");
    for ((by, a, _), (_, b, expanded)) in after.iter().zip(&before) {
        assert!((a - b).abs() < 0.3 * expanded, "{by}: {a} {b}");
    }
    // Backed up by some metres in the middle of the second pass.
    let pass = &recording.truth.passes[1];
    let (from, middle) =
        (pass.start_us / 100_000, u64::midpoint(pass.start_us, pass.finish_us) / 100_000);
    assert!(from < middle);
    let backed = changed(&sound, |i, count| {
        let past = (i as u64).checked_sub(middle).filter(|past| *past < 60)?;
        Some(count - 40 * past.min(60 - past))
    });
    let (found, _, remarks) = codes(&backed);
    assert!(found.contains(&Code::CountWentBack), "{found:?} {remarks:?}");
    assert!(!found.contains(&Code::BoardReset), "{found:?} {remarks:?}");
}
