//! The sentence reader against a second opinion, and against sentences printed elsewhere.
//!
//! Second opinion: the `nmea` crate 0.8, over every position and speed sentence of the 43
//! recordings. Where both read a sentence, the values agree; where one refuses, the pair of
//! verdicts is in [`VERDICTS`] with its count and why.
//!
//! Printed sentences: each with where it was printed.

use std::collections::BTreeMap;

use chrono::{NaiveTime, Timelike};
use nmea::{Error, ParseResult};
use trundle_core::wire::fields::{KNOT_M_S, Position, TimeOfDay};
use trundle_core::wire::nmea_splitter::LineSplitter;
use trundle_core::wire::sentence::{Sentence, SentenceFault, parse};

/// Our verdict, the crate's verdict, sentences, why.
const VERDICTS: &[(&str, &str, u32, &str)] = &[
    ("GGA latitude", "read", 7, "8960.0: sixty minutes; printed before the first fix"),
    ("GGA read", "read", 1045, ""),
    ("GLL read", "parsing", 19, "without the mode letter, as before version 2.3"),
    ("GLL read", "read", 412, ""),
    ("GLL status", "parsing", 11, "status and mode swapped by the receiver (N,V); void either way"),
    ("GNS read", "parsing", 5, "four systems, a station number, no navigational status"),
    ("GNS read", "read", 5, ""),
    ("RMC latitude", "read", 8, "8960.0: sixty minutes; printed before the first fix"),
    ("RMC read", "parsing", 25, "a mode letter where the side of the variation belongs"),
    ("RMC read", "read", 856, ""),
    ("VTG read", "read", 624, ""),
    ("checksum", "checksum", 23, "one receiver's GGA, wrong in every sentence of its recording"),
    ("no checksum", "parsing", 4, "old receivers that print none"),
];

fn ours(line: &[u8]) -> String {
    match parse(line) {
        Ok(_) => format!("{} read", String::from_utf8_lossy(&line[3..6])),
        Err(SentenceFault::Field { sentence, field }) => format!("{sentence} {field}"),
        Err(SentenceFault::Checksum { .. }) => "checksum".into(),
        Err(SentenceFault::NoChecksum) => "no checksum".into(),
        Err(SentenceFault::Address) => "address".into(),
    }
}

fn theirs(result: &Result<ParseResult, Error<'_>>) -> String {
    match result {
        Ok(ParseResult::Unsupported(kind)) => format!("unsupported {kind:?}"),
        Ok(_) => "read".into(),
        Err(Error::ChecksumMismatch { .. }) => "checksum".into(),
        Err(Error::ParsingError(_)) => "parsing".into(),
        Err(Error::SentenceLength(_)) => "length".into(),
        Err(other) => format!("{other:?}"),
    }
}

fn lines() -> Vec<(u8, Vec<u8>)> {
    let folder = trundle_tests::folder().join("data/receivers");
    let mut lines = Vec::new();
    for recording in 1..=43 {
        let bytes = std::fs::read(folder.join(format!("receiver-{recording:02}.nmea"))).unwrap();
        let mut splitter = LineSplitter::default();
        // The last line may have no end.
        for part in [&bytes[..], b"\n"] {
            splitter.push(part, 0, |line, _| lines.push((recording, line.to_vec())));
        }
    }
    lines
}

/// The crate keeps most numbers in 32 bits: one part in 2^23.
fn near32(ours: Option<f64>, theirs: Option<f32>) {
    let theirs = theirs.map(f64::from);
    let close = match (ours, theirs) {
        (Some(a), Some(b)) => (a - b).abs() <= 2e-7 * a.abs().max(b.abs()),
        (None, None) => true,
        _ => false,
    };
    assert!(close, "{ours:?} against {theirs:?}");
}

fn same_place(ours: Option<Position>, lat: Option<f64>, lon: Option<f64>) {
    let (our_lat, our_lon) = (ours.map(|p| p.lat_deg), ours.map(|p| p.lon_deg));
    for (a, b) in [(our_lat, lat), (our_lon, lon)] {
        match (a, b) {
            // A rounding step of the crate's sum of degrees and minutes.
            (Some(a), Some(b)) => assert!((a - b).abs() < 1e-13 * 360.0, "{a} against {b}"),
            (a, b) => assert_eq!(a, b),
        }
    }
}

fn same_time(ours: Option<TimeOfDay>, theirs: Option<NaiveTime>) {
    let theirs = theirs.map(|time| {
        u64::from(time.num_seconds_from_midnight()) * 1_000_000_000 + u64::from(time.nanosecond())
    });
    match (ours, theirs) {
        // The crate reads the seconds as a floating number.
        (Some(a), Some(b)) => assert!(a.ns.abs_diff(b) <= 10, "{a:?} against {b}"),
        (a, b) => assert_eq!(a.map(|time| time.ns), b),
    }
}

/// Compares the values of one sentence that both have read.
fn compare(ours: &Sentence, theirs: &ParseResult) {
    match (ours, theirs) {
        (Sentence::Gga(a), ParseResult::GGA(b)) => {
            same_time(a.time, b.fix_time);
            same_place(a.position, b.latitude, b.longitude);
            near32(a.altitude_m, b.altitude);
            near32(a.geoid_separation_m, b.geoid_separation);
            near32(a.hdop.map(f64::from), b.hdop);
            assert_eq!(a.satellites.map(u32::from), b.fix_satellites);
        }
        (Sentence::Rmc(a), ParseResult::RMC(b)) => {
            same_time(a.time, b.fix_time);
            same_place(a.position, b.lat, b.lon);
            near32(a.speed.map(|speed| speed.m_s / KNOT_M_S), b.speed_over_ground);
            near32(a.track_deg, b.true_course);
            // The sentence prints two digits of the year; the crate reads 80 as 2080, we as the
            // 1980 that a receiver starts from.
            let date = b.fix_date.map(|date| date.format("%y-%m-%d").to_string());
            let ours = a.date.map(|d| format!("{:02}-{:02}-{:02}", d.year % 100, d.month, d.day));
            assert_eq!(ours, date);
        }
        (Sentence::Vtg(a), ParseResult::VTG(b)) => {
            near32(a.speed.map(|speed| speed.m_s / KNOT_M_S), b.speed_over_ground);
            near32(a.track_deg, b.true_course);
        }
        (Sentence::Gll(a), ParseResult::GLL(b)) => {
            same_time(a.time, b.fix_time);
            same_place(a.position, b.latitude, b.longitude);
        }
        (Sentence::Gns(a), ParseResult::GNS(b)) => {
            same_time(a.time, b.fix_time);
            same_place(a.position, b.lat, b.lon);
            near32(a.altitude_m, b.alt);
            near32(a.geoid_separation_m, b.geoid_separation);
        }
        (ours, theirs) => panic!("{ours:?} against {theirs:?}"),
    }
}

#[test]
fn every_recorded_sentence_against_the_nmea_crate() {
    let kinds = [b"GGA", b"RMC", b"VTG", b"GLL", b"GNS"];
    let mut verdicts: BTreeMap<(String, String), u32> = BTreeMap::new();
    for (recording, line) in lines() {
        if line.len() < 6 || !kinds.iter().any(|kind| line[3..6] == **kind) {
            continue;
        }
        let second = nmea::parse_bytes(&line);
        let key = (ours(&line), theirs(&second));
        if let (Ok(first), Ok(second)) = (parse(&line), second) {
            println!("recording {recording}: {}", String::from_utf8_lossy(&line));
            compare(&first, &second);
        }
        *verdicts.entry(key).or_default() += 1;
    }
    for ((ours, theirs), count) in &verdicts {
        println!("    ({ours:?}, {theirs:?}, {count}, \"\"),");
    }
    let known: BTreeMap<(String, String), u32> = VERDICTS
        .iter()
        .map(|&(ours, theirs, count, _)| ((ours.into(), theirs.into()), count))
        .collect();
    assert_eq!(verdicts, known);
}

/// Printed sentences: the sentence, whether its printed checksum is right, where it was printed.
const PRINTED: &[(&str, bool, &str)] = &[
    (
        "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47",
        true,
        "printed in several public introductions to NMEA 0183",
    ),
    (
        "$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A",
        true,
        "printed in several public introductions to NMEA 0183",
    ),
    (
        "$GPGGA,123519,4807.038,N,01131.324,E,1,08,0.9,545.4,M,46.9,M, , *42",
        true,
        "docs.rs, crate nmea, quoting a comment in gpsd; blanks in empty fields",
    ),
    (
        "$GPGGA,121505,4807.038,N,01131.324,E,1,08,0.9,133.4,M,46.9,M, , *42",
        false,
        "a help page of a GIS; the true checksum is 48",
    ),
    ("$GPGST,182141.000,15.5,15.3,7.2,21.8,0.9,0.5,0.8*54", true, "gpsd, NMEA Revealed, GST"),
    (
        "$GPGST,082356.00,1.8,,,,1.7,1.3,2.2*7E",
        true,
        "public logs, page not recorded; empty ellipse",
    ),
    (
        "$GNGST,003956.00,235111,,,,2.3,3.5,4.0*46",
        true,
        "public logs, page not recorded; absurd RMS",
    ),
    ("$GPVTG,220.86,T,,M,2.550,N,4.724,K,A*34", true, "from memory"),
    ("$GPVTG,156.6,T,,M,000.0,N,000.0,K,A*09", true, "public logs, page not recorded"),
    (
        "$GPRMC,042901.00,A,3745.871698,N,12224.825960,W,0.874,327.72,130219,13.39,E,A,V*60",
        true,
        "public logs, page not recorded; navigational status of version 4.1",
    ),
    (
        "$GPRMC,110125,A,5505.337580,N,03858.653666,E,148.8,84.6,310317,8.9,E,D*2E",
        true,
        "crate nmea 0.8.0, tests/data/nmea1.log",
    ),
    (
        "$GPGGA,133605.0,5521.75946,N,03731.93769,E,0,00,,,M,,M,,*4F",
        true,
        "crate nmea 0.8.0, src/sentences/gga.rs; quality 0 beside an old position",
    ),
    (
        "$GPGGA,050701.00,2713.5680820,N,10254.3169400,E,4,17,2.0,823.0678,M,-34.480,M,02,0004*73",
        true,
        "public logs, page not recorded; whole cycles known",
    ),
    (
        "$GPGGA,092204.999,4250.5589,S,14718.5084,E,1,04,24.4,19.7,M,,,,0000*1F",
        true,
        "public logs, page not recorded; no geoid separation",
    ),
    (
        "$GPGNS,112257.00,3844.24011,N,00908.43828,W,AN,03,10.5,,*57",
        true,
        "public logs, page not recorded",
    ),
    (
        "$GPGLL,5107.0013414,N,11402.3279144,W,205412.00,A,A*73",
        true,
        "crate nmea 0.8.0, src/sentences/gll.rs",
    ),
    ("$GPZDA,160012.71,11,03,2004,-1,00*7D", true, "crate nmea 0.8.0, src/sentences/zda.rs"),
];

#[test]
fn printed_sentences_are_read_and_the_misprinted_one_is_not() {
    for &(sentence, right, source) in PRINTED {
        let read = parse(sentence.as_bytes());
        if right {
            assert!(read.is_ok(), "{sentence} ({source}): {read:?}");
        } else {
            let expected = SentenceFault::Checksum { expected: 0x48, found: 0x42 };
            assert_eq!(read, Err(expected), "{sentence} ({source})");
        }
    }
}

fn printed(start: &str) -> Sentence {
    let row = PRINTED.iter().find(|row| row.0.starts_with(start)).unwrap();
    parse(row.0.as_bytes()).unwrap()
}

/// 4807.038,N is 48 degrees and 7.038 minutes: 48 + 7.038/60 = 48.1173 degrees exactly; 1131.000
/// is 11 + 31/60. The knot is 1852 m/h (International Hydrographic Conference, Monaco
/// 1929; SI brochure, 8th edition, table 8; from memory): 22.4 kn = 11.5235556 m/s.
#[test]
fn printed_values_in_si_units() {
    let Sentence::Gga(gga) = printed("$GPGGA,123519,4807.038,N,01131.000") else { panic!() };
    let place = gga.position.unwrap();
    assert_eq!(place.lat_deg, 48.1173);
    assert!((place.lon_deg - 11.516_666_666_667).abs() < 1e-12);
    assert!((place.quantum_m - 1.852).abs() < 1e-12, "third decimal of a minute of arc");
    assert_eq!((gga.altitude_m, gga.geoid_separation_m), (Some(545.4), Some(46.9)));
    assert_eq!(gga.time.unwrap().ns, (12 * 3600 + 35 * 60 + 19) * 1_000_000_000);

    let Sentence::Rmc(rmc) = printed("$GPRMC,123519") else { panic!() };
    let speed = rmc.speed.unwrap();
    assert!((speed.m_s - 11.523_555_555_556).abs() < 1e-9);
    assert!((speed.quantum_m_s - 0.051_444_444).abs() < 1e-9, "0.1 kn");
    let date = rmc.date.unwrap();
    assert_eq!((date.year, date.month, date.day), (1994, 3, 23));

    let Sentence::Gst(gst) = printed("$GNGST") else { panic!() };
    let sigma = gst.sigma.unwrap();
    assert_eq!((sigma.lat_m, sigma.lon_m, sigma.height_m), (2.3, 3.5, Some(4.0)));

    let Sentence::Gga(south) = printed("$GPGGA,092204") else { panic!() };
    assert!((south.position.unwrap().lat_deg + 42.842_648_333_333).abs() < 1e-12);
    let Sentence::Vtg(vtg) = printed("$GPVTG,220") else { panic!() };
    assert!((vtg.speed.unwrap().m_s - 2.55 * 1852.0 / 3600.0).abs() < 1e-12);
    let Sentence::Rmc(v41) = printed("$GPRMC,042901") else { panic!() };
    assert_eq!((v41.valid, v41.mode, v41.nav_status), (true, Some(b'A'), Some(b'V')));
}
