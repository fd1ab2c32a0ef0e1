//! Recordings as other programs write them, and receivers that state what cannot be: the same
//! sentences, however they are written down, give the same capture.

use super::recording::{Clock, Recording};
use super::{fault, import};
use trundle_core::capture::{Entry, Record};
use trundle_core::import::{ImportFault, ImportSummary, Inputs, to_records, to_records_at};
use trundle_core::wire::fix::Fix;
use trundle_sim::Scenario;
use trundle_tests::{replay, replay_with_trail};

fn one_pass() -> Recording {
    Recording::new(&Scenario { passes: 1, ..Scenario::default() }, 14)
}

fn line(body: &str) -> String {
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${body}*{sum:02X}\r\n")
}

/// Every sentence of a recording with its body changed.
fn changed(recording: &Recording, mut change: impl FnMut(usize, &str) -> Option<String>) -> String {
    let bodies = recording.nmea_lines().map(|l| l[1..].split('*').next().unwrap());
    bodies.enumerate().filter_map(|(n, body)| change(n, body)).map(|body| line(&body)).collect()
}

fn fixes(records: &[Record]) -> Vec<Fix> {
    let trail = replay_with_trail(records, 0).trail().unwrap();
    trail.spells.iter().flat_map(|spell| spell.fixes.iter().collect::<Vec<_>>()).collect()
}

/// What is said of a capture is what is in it.
fn holds(records: &[Record], summary: &ImportSummary) {
    let totals = replay(records).totals();
    assert_eq!(summary.sentences, totals.receiver.sentences);
    assert_eq!(summary.fixes, fixes(records).len());
}

fn started(records: &[Record]) -> &str {
    let Entry::Header(header) = &records[0].entry else { panic!() };
    &header.started_utc
}

#[test]
fn the_same_sentences_written_another_way_give_the_same_fixes() {
    let recording = one_pass();
    let counts = recording.counts(10, Clock::Utc, 0);
    let text = String::from_utf8(recording.nmea.clone()).unwrap();
    let utf16 = |text: &str, mark: &str, bytes: fn(u16) -> [u8; 2]| -> Vec<u8> {
        format!("{mark}{text}").encode_utf16().flat_map(bytes).collect()
    };
    let (plain, summary) = import(text.as_bytes(), &counts, None).unwrap();
    holds(&plain, &summary);
    assert!(summary.bad.is_empty() && summary.fixes > 500, "{summary:?}");
    let written: [(&str, Vec<u8>); 11] = [
        ("CR", text.replace("\r\n", "\r").into_bytes()),
        ("LF", text.replace("\r\n", "\n").into_bytes()),
        ("CR CR LF", text.replace("\r\n", "\r\r\n").into_bytes()),
        ("without the last end", text.trim_end().as_bytes().to_vec()),
        ("NUL", text.replace("\r\n", "\0\r\n").into_bytes()),
        ("NUL alone", text.replace("\r\n", "\0").into_bytes()),
        ("a control byte at the end", format!("{text}\u{1a}").into_bytes()),
        ("UTF-8 with its mark", format!("\u{feff}{text}").into_bytes()),
        ("UTF-16, little end first", utf16(&text, "\u{feff}", u16::to_le_bytes)),
        ("UTF-16, big end first", utf16(&text, "\u{feff}", u16::to_be_bytes)),
        ("UTF-16 without a mark", utf16(&text, "", u16::to_le_bytes)),
    ];
    for (how, bytes) in written {
        let (records, found) = import(&bytes, &counts, None).unwrap();
        holds(&records, &found);
        let same = (found.sentences, found.fixes, found.bad.len());
        assert_eq!(same, (summary.sentences, summary.fixes, 0), "{how}");
        assert_eq!(fixes(&records), fixes(&plain), "{how}");
    }
    // A last line that is cut off is no sentence, and is named.
    let cut = &text.as_bytes()[..text.len() - 4];
    let (records, found) = import(cut, &counts, None).unwrap();
    holds(&records, &found);
    assert_eq!((found.sentences, found.bad.len()), (summary.sentences - 1, 1), "{:?}", found.bad);
}

#[test]
fn the_tables_may_be_utf_16_too() {
    let recording = one_pass();
    let wide = |text: &str| -> Vec<u8> {
        format!("\u{feff}{text}").encode_utf16().flat_map(u16::to_le_bytes).collect()
    };
    let (counts, marks) = (recording.counts(10, Clock::Utc, 0), recording.marks(Clock::Utc));
    let of = |counts: &[u8], marks: &[u8]| {
        let nmea = &recording.nmea;
        to_records(&Inputs { nmea, counts, marks: Some(marks), course: None }).unwrap().0
    };
    assert_eq!(of(&wide(&counts), &wide(&marks)), of(counts.as_bytes(), marks.as_bytes()));
}

#[test]
fn what_is_counted_at_import_is_what_the_capture_holds() {
    let recording = one_pass();
    let counts = recording.counts(10, Clock::Utc, 0) + "spoilt\n";
    let spoilt = changed(&recording, |n, body| match n % 97 {
        3 => Some(body.replace(",A,", ",Q,")),
        5 => Some(body.replace(',', ";")),
        7 => None,
        // The same time again, and an old one.
        11 => Some(format!("{body}*00\r\n${body}")),
        _ => Some(body.to_owned()),
    });
    let (records, summary) = import(spoilt.as_bytes(), &counts, None).unwrap();
    holds(&records, &summary);
    assert!(!summary.bad.is_empty());
    assert_eq!(summary.counts, counts.lines().count() - 2, "header and spoilt line");
}

#[test]
fn one_wrong_date_does_not_date_the_job() {
    let recording = one_pass();
    let counts = recording.counts(10, Clock::BoardS, 0);
    let (right, _) = import(&recording.nmea, &counts, None).unwrap();
    let mut rmc = 0;
    let wrong_first = changed(&recording, |_, body| {
        let mut fields: Vec<&str> = body.split(',').collect();
        rmc += usize::from(body.starts_with("GNRMC"));
        if rmc == 1 && body.starts_with("GNRMC") {
            fields[9] = "060180";
        }
        Some(fields.join(","))
    });
    let (records, summary) = import(wrong_first.as_bytes(), &counts, None).unwrap();
    assert_eq!(started(&records)[..10], started(&right)[..10]);
    let bad: Vec<&String> = summary.remarks.iter().filter(|r| r.contains("not believed")).collect();
    assert!(bad.len() == 1 && bad[0].starts_with("1 dates"), "{:?}", summary.remarks);
    // A clock that was never set is not believed against the receiver either.
    let arrivals: String = recording
        .nmea_lines()
        .enumerate()
        .map(|(n, l)| format!("1970-01-01T00:{:02}:{:02}Z {l}\r\n", n / 600, n / 10 % 60))
        .collect();
    let (records, summary) = import(arrivals.as_bytes(), &counts, None).unwrap();
    assert_eq!(started(&records)[..10], started(&right)[..10]);
    assert!(summary.remarks.iter().any(|r| r.contains("was not set")), "{:?}", summary.remarks);
}

/// 1024 weeks are 7168 days (IS-GPS-200, 20.3.3.3.1.1, from memory).
#[test]
fn weeks_that_rolled_over_are_stated() {
    let recording = one_pass();
    let back = chrono::Days::new(7168);
    let rolled = changed(&recording, |_, body| {
        let mut fields: Vec<String> = body.split(',').map(str::to_owned).collect();
        if body.starts_with("GNRMC") && !fields[9].is_empty() {
            let day = chrono::NaiveDate::parse_from_str(&fields[9], "%d%m%y").unwrap() - back;
            fields[9] = day.format("%d%m%y").to_string();
        }
        (!body.contains("ZDA")).then(|| fields.join(","))
    });
    let (right, sound) =
        import(&recording.nmea, &recording.counts(10, Clock::BoardS, 0), None).unwrap();
    let day = &started(&right)[..10];
    let told = |summary: &ImportSummary| {
        summary.remarks.iter().any(|r| r.contains("1024 weeks") && r.contains(day))
    };
    assert!(!told(&sound), "{:?}", sound.remarks);
    let board_s = recording.counts(10, Clock::BoardS, 0);
    let (_, summary) = import(rolled.as_bytes(), &board_s, None).unwrap();
    assert!(told(&summary), "{:?}", summary.remarks);
    // In the year of the recording it may be rolled, before that it cannot be.
    let (counts, marks, course) = (board_s.as_bytes(), None, None);
    let inputs = Inputs { nmea: rolled.as_bytes(), counts, marks, course };
    for (now, may_be) in [("2026-12-31T00:00:00Z", true), ("2024-01-01T00:00:00Z", false)] {
        let now = chrono::DateTime::parse_from_rfc3339(now).unwrap().timestamp_nanos_opt();
        assert_eq!(told(&to_records_at(&inputs, now).unwrap().1), may_be, "{now:?}");
    }
    let utc = recording.counts(10, Clock::Utc, 0);
    let (records, summary) = import(rolled.as_bytes(), &utc, None).unwrap();
    assert!(!told(&summary) && &started(&records)[..10] == day, "{:?}", summary.remarks);
}

#[test]
fn sentences_of_no_use_are_called_what_they_are() {
    let recording = one_pass();
    let counts = recording.counts(10, Clock::Utc, 0);
    let spoilt = changed(&recording, |_, body| {
        ["GGA", "RMC", "GLL"].contains(&&body[2..5]).then(|| body.replace(".", ":"))
    });
    let refusal = fault(spoilt.as_bytes(), &counts, None);
    let ImportFault::NoUsableSentence { without: 0, wrong: 0, unusable, .. } = refusal else {
        panic!("{refusal:?}")
    };
    assert_eq!(unusable, spoilt.lines().count() as u64);
    let words = refusal.to_string();
    assert!(words.contains("line 1:") && words.contains("impossible time"), "{words}");
}

#[test]
fn a_field_that_is_not_needed_costs_only_itself() {
    let recording = one_pass();
    let counts = recording.counts(10, Clock::Utc, 0);
    let (plain, sound) = import(&recording.nmea, &counts, None).unwrap();
    let spoilt = changed(&recording, |n, body| {
        let mut fields: Vec<&str> = body.split(',').collect();
        if body.starts_with("GNRMC") && n % 3 == 0 {
            (fields[8], fields[9]) = ("nan", "2208-1");
        }
        Some(fields.join(","))
    });
    let (records, summary) = import(spoilt.as_bytes(), &counts, None).unwrap();
    assert_eq!((summary.fixes, summary.bad.len()), (sound.fixes, 0));
    let speeds = |records: &[Record]| -> Vec<Option<f64>> {
        fixes(records).iter().map(|fix| fix.speed_m_s).collect()
    };
    assert_eq!(speeds(&records), speeds(&plain));
    let remark = summary.remarks.iter().find(|r| r.contains("impossible field")).unwrap();
    assert!(remark.contains("RMC holds an impossible"), "{remark}");
}

/// VTG has no time: which of two epochs it belongs to, the steps between the positions show, and
/// the capture says the same when it is read again. Wherever the recording begins.
#[test]
fn speeds_without_a_time_are_put_where_the_positions_say() {
    let recording = one_pass();
    let counts = recording.counts(10, Clock::Utc, 0);
    let vtg = |body: &str| {
        let fields: Vec<&str> = body.split(',').collect();
        format!("GNVTG,,T,,M,{},N,,K,A", fields[7])
    };
    let of = |kind: &str| -> Vec<String> {
        let bodies = recording.nmea_lines().map(|l| l[1..].split('*').next().unwrap().to_owned());
        bodies.filter(|body| body.starts_with(kind)).collect()
    };
    let (gga, rmc) = (of("GNGGA"), of("GNRMC"));
    assert_eq!(gga.len(), rmc.len());
    let both = |first: bool| -> Vec<String> {
        let pair = |(gga, rmc): (&String, &String)| {
            let vtg = vtg(rmc);
            if first { [line(&vtg), line(gga)] } else { [line(gga), line(&vtg)] }
        };
        gga.iter().zip(&rmc).flat_map(pair).collect()
    };
    let wanted: Vec<(i64, Option<f64>)> = {
        let with_rmc: String =
            gga.iter().zip(&rmc).flat_map(|(gga, rmc)| [line(gga), line(rmc)]).collect();
        let (records, _) = import(with_rmc.as_bytes(), &counts, None).unwrap();
        fixes(&records).iter().map(|fix| (fix.utc_ns, fix.speed_m_s)).collect()
    };
    for (first, skip) in [(true, 0), (true, 1), (false, 0), (false, 1)] {
        let text = both(first)[skip..].concat();
        let (records, summary) = import(text.as_bytes(), &counts, None).unwrap();
        holds(&records, &summary);
        let found: Vec<(i64, Option<f64>)> =
            fixes(&records).iter().map(|fix| (fix.utc_ns, fix.speed_m_s)).collect();
        let from = wanted.iter().position(|fix| fix.0 == found[1].0).unwrap();
        let differ = found[1..].iter().zip(&wanted[from..]).find(|(a, b)| a != b);
        assert_eq!(differ, None, "{first} {skip}");
    }
}
