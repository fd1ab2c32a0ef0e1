//! A real receiver's recording beside counts made from its own speed: the capture in the logs.

use std::fmt::Write as _;
use trundle_bounds::streams;
use trundle_core::capture::{Entry, Record, encode};
use trundle_core::import::{Clocks, ImportFault, Inputs, to_records};
use trundle_core::timeline::join::JoinRefusal;

use super::worked;

/// Impulses per metre of the invented counter.
const PER_METRE: f64 = 130.0;
/// Lines of counts a second.
const HZ: usize = 5;
const COURSE: &str = "[course]\nnominal_m = 100.0\n[tape]\nclass = \"II\"\n";

/// Counts and marks along the speeds of the recording's RMC sentences, which are a second apart
/// but for two that are missing: running counts of the way, and a mark every hundred metres.
fn tables(nmea: &str, time: impl Fn(f64) -> String, name: &str) -> (String, String) {
    let mut speeds: Vec<(f64, f64)> = Vec::new();
    for line in nmea.lines().filter(|line| line.starts_with("$GPRMC")) {
        let fields: Vec<&str> = line.split(',').collect();
        let clock: u32 = fields[1].parse().unwrap();
        let at_s = f64::from(clock / 10_000 * 3600 + clock / 100 % 100 * 60 + clock % 100);
        if speeds.last().is_none_or(|last| last.0 < at_s) {
            speeds.push((at_s, fields[7].parse::<f64>().unwrap() * 1852.0 / 3600.0));
        }
    }
    let (first_s, last_s) = (speeds[0].0, speeds[speeds.len() - 1].0);
    let mut counts = format!("{name},wheel\n");
    let mut marks = format!("{name},mark,note\n");
    let (mut way_m, mut before, mut marked) = (0.0, None, 0);
    for step in 0..=(last_s - first_s) as usize * HZ {
        let at_s = first_s + step as f64 / HZ as f64;
        let next = speeds.partition_point(|p| p.0 <= at_s).min(speeds.len() - 1);
        let (a, b) = (speeds[next - 1], speeds[next]);
        let speed_m_s = a.1 + (b.1 - a.1) * (at_s - a.0) / (b.0 - a.0);
        way_m += before.map_or(0.0, |old: f64| f64::midpoint(old, speed_m_s) / HZ as f64);
        before = Some(speed_m_s);
        writeln!(counts, "{},{}", time(at_s), (way_m * PER_METRE) as u64).unwrap();
        // Pass by pass: from 20 m on, five metres from each to the next.
        let due_m = 20.0 + 105.0 * f64::from(marked / 2) + 100.0 * f64::from(marked % 2);
        if marked < 6 && way_m >= due_m {
            let what = if marked % 2 == 0 { "start" } else { "finish" };
            writeln!(marks, "{},{what},", time(at_s)).unwrap();
            marked += 1;
        }
    }
    (counts, marks)
}

fn utc(at_s: f64) -> String {
    let tenths = (at_s * 10.0).round() as u64;
    let (hour, minute) = (tenths / 36_000, tenths / 600 % 60);
    format!("2018-08-20T{hour:02}:{minute:02}:{:02}.{}Z", tenths / 10 % 60, tenths % 10)
}

fn file(path: &str) -> Vec<u8> {
    std::fs::read(trundle_tests::folder().join(path)).unwrap()
}

fn logged() -> Vec<Record> {
    let bytes = file("../logs/joined-real-receiver.capture");
    streams::read(&bytes, bytes.len()).into_iter().map(Result::unwrap).collect()
}

#[test]
fn a_real_receiver_that_contradicts_itself_gives_no_distance() {
    let nmea = file("data/receivers/receiver-05.nmea");
    let text = String::from_utf8_lossy(&nmea);
    let (counts, marks) = tables(&text, utc, "utc");
    let inputs = Inputs {
        nmea: &nmea,
        counts: counts.as_bytes(),
        marks: Some(marks.as_bytes()),
        course: Some(COURSE),
    };
    let (records, summary) = to_records(&inputs).unwrap();
    assert!(matches!(summary.clocks, Clocks::Utc { .. }));
    // The boat sails at an even speed: without a clock in common nothing could join the two.
    let board = |at_s: f64| format!("{at_s:.1}");
    let (board_counts, _) = tables(&text, board, "board_s");
    let clockless = Inputs { counts: board_counts.as_bytes(), marks: None, ..inputs };
    assert_eq!(to_records(&clockless).unwrap_err(), ImportFault::Join(JoinRefusal::NoAcceleration));
    // RMC prints the time of GGA plus one second in the first half: those epochs are refused.
    assert!(summary.remarks.iter().any(|r| r.starts_with("82 epochs")), "{:?}", summary.remarks);
    let work = worked(&records);
    assert_eq!(work.passes.len(), 3);
    let wheel = &work.channels[0];
    // Only the taped length is left, which nothing confirms, and the result says so.
    assert!(wheel.satellite.is_none());
    let words: Vec<&str> = work.all_flags().map(|flag| flag.code.word()).collect();
    assert!(words.contains(&"NOT_CROSS_CHECKED") && words.contains(&"FIX_REJECTED"), "{words:?}");
    assert!(!work.is_clean());
    assert!((wheel.tape.as_ref().unwrap().value() - 100.0 * PER_METRE).abs() < 60.0);
    if std::env::var_os("TRUNDLE_WRITE_LOGS").is_some() {
        let mut bytes = Vec::new();
        records.iter().for_each(|record| encode(record, &mut bytes));
        let path = trundle_tests::folder().join("../logs/joined-real-receiver.capture");
        std::fs::write(path, bytes).unwrap();
    }
    // The capture in the logs is this one, whatever version of the program wrote its header and
    // the remarks of its note.
    let same = |records: &[Record]| -> Vec<Record> {
        let data = |r: &&Record| match &r.entry {
            Entry::Header(_) => false,
            Entry::HostMark(mark) => mark.key != u64::MAX,
            _ => true,
        };
        records.iter().filter(data).cloned().collect()
    };
    assert_eq!(same(&logged()).len(), same(&records).len());
    assert!(same(&logged()) == same(&records), "the capture in the logs is another one");
}
