//! Real receivers: 43 recordings through the sentence reader and the epoch assembler, against the
//! fix reports that an independent decoder (gpsd 3.22) made of the same bytes.
//!
//! Source: the regression recordings and reports of gpsd 3.22, `tests/data/receivers/SOURCE.md`.
//!
//! Reports are matched by UTC and compared on latitude, longitude, height, speed and track, to
//! half of the last digit of the report. Every difference has to fall under one of the named
//! [`Reason`]s, whose condition is checked against the recording, and the number of times each
//! occurs in each recording is [`KNOWN`]. A difference without a reason fails, and so does a row
//! of the table that no longer occurs as counted.

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;

use trundle_core::wire::fields::Position;
use trundle_core::wire::fix::{EpochAssembler, Fix, FixEvent, Refusal};
use trundle_core::wire::nmea_splitter::LineSplitter;
use trundle_core::wire::sentence::{Sentence, SentenceFault, parse};

const RECORDINGS: u8 = 43;
const DAY_MS: i64 = 86_400_000;
/// gpsd moves dates from before its own release by whole rollovers of the ten-bit week number, so
/// times are compared within 1024 weeks; 2005-03-16 and 2024-10-30 are the same time here.
const ROLLOVER_MS: i64 = 1024 * 7 * DAY_MS;
/// Half of the ninth decimal, and a rounding step of the division by sixty.
const ANGLE_DEG: f64 = 5.1e-10;
/// Half of the third decimal, and 0.5144444 for the knot in gpsd's source against 1852/3600:
/// 4e-8 of any speed here is below 1e-5.
const SPEED_M_S: f64 = 5.1e-4;
const HEIGHT_M: f64 = 5.1e-4;
const TRACK_DEG: f64 = 5.1e-4;

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Reason {
    /// gpsd reports as sentences come in and takes the position of the last one; we prefer GGA,
    /// which has more digits or the other rounding. The report is the RMC or GLL of that time.
    PositionOfOtherSentence,
    /// Two sentences print one UTC and places a movement apart; we refuse the epoch, gpsd reports
    /// each in turn. The report is one of them.
    Disagree,
    /// The sentences carry no checksum; gpsd reports from them, we do not measure from them.
    NoChecksum,
    /// The receiver gives no geoid separation; gpsd adds that of its own geoid model. We give no
    /// ellipsoidal height.
    GeoidModel,
    /// gpsd reports on RMC, before the GGA of that time has come, and leaves the height out.
    HeightLeftOut,
    /// gpsd has not had RMC for that time (or ever) and gives a speed of its own from the last
    /// two positions, without a track, or none; we give what the receiver printed, or nothing.
    SpeedFromPositions,
    /// RMC and VTG of one epoch print different speeds or tracks; gpsd reports the last it had,
    /// VTG, we take RMC, which has a time of its own.
    SpeedOfVtg,
    /// gpsd takes the track from a compass sentence (HDG, VHW), and a speed of its own from the
    /// last two positions.
    TrackOfCompass,
    /// gpsd gives no report for one of the first two positions, while it learns which sentence
    /// ends a cycle.
    FirstFix,
    /// The epoch has fewer sentences than the one before it: the recording has a gap there, and
    /// the sentence that gpsd waits for at the end of a cycle fell into it.
    CycleEndMissing,
}
use Reason::{
    CycleEndMissing, Disagree, FirstFix, GeoidModel, HeightLeftOut, NoChecksum,
    PositionOfOtherSentence, SpeedFromPositions, SpeedOfVtg, TrackOfCompass,
};

/// Every difference: recording, reason, times it occurs.
const KNOWN: &[(u8, Reason, u32)] = &[
    (1, PositionOfOtherSentence, 7),
    (2, SpeedFromPositions, 1),
    (2, FirstFix, 1),
    (3, SpeedFromPositions, 3),
    (3, FirstFix, 1),
    (5, PositionOfOtherSentence, 696),
    (5, Disagree, 1379),
    (5, SpeedFromPositions, 111),
    (5, SpeedOfVtg, 321),
    (5, TrackOfCompass, 217),
    (9, HeightLeftOut, 1),
    (12, CycleEndMissing, 1),
    (15, HeightLeftOut, 1),
    (16, SpeedFromPositions, 6),
    (17, NoChecksum, 1),
    (18, GeoidModel, 23),
    (20, GeoidModel, 4),
    (21, SpeedFromPositions, 4),
    (21, FirstFix, 1),
    (22, SpeedFromPositions, 3),
    (22, FirstFix, 1),
    (24, CycleEndMissing, 1),
    (29, GeoidModel, 36),
    (30, GeoidModel, 30),
    (31, SpeedFromPositions, 1),
    (31, FirstFix, 1),
    (36, SpeedFromPositions, 3),
    (36, FirstFix, 1),
    (38, SpeedFromPositions, 7),
    (38, FirstFix, 1),
    (40, HeightLeftOut, 5),
    (40, SpeedFromPositions, 1),
    (40, CycleEndMissing, 1),
    (42, HeightLeftOut, 1),
    (43, CycleEndMissing, 1),
];

/// One fix report of gpsd.
#[derive(Debug, Clone, Copy)]
struct Report {
    /// UTC within 1024 weeks.
    time_ms: i64,
    lat_deg: f64,
    lon_deg: f64,
    height_m: Option<f64>,
    speed_m_s: Option<f64>,
    track_deg: Option<f64>,
}

/// Speed, metres per second, and track, degrees.
type Motion = (Option<f64>, Option<f64>);

/// What our reader made of one recording.
#[derive(Debug, Default)]
struct Reading {
    fixes: Vec<Fix>,
    refused: BTreeMap<i64, Refusal>,
    /// By time of day, milliseconds.
    sentences: BTreeMap<i64, Vec<Sentence>>,
    compass: bool,
    without_checksum: usize,
}

fn folder() -> PathBuf {
    trundle_tests::folder().join("data/receivers")
}

fn reports(recording: u8) -> Vec<Report> {
    let path = folder().join(format!("receiver-{recording:02}.expected.csv"));
    let mut reader = csv::Reader::from_path(path).unwrap();
    let rows = reader.records().map(|row| {
        let row = row.unwrap();
        let number = |column: usize| row[column].parse::<f64>().ok();
        let time = chrono::DateTime::parse_from_rfc3339(&row[0]).unwrap();
        Report {
            time_ms: time.timestamp_millis().rem_euclid(ROLLOVER_MS),
            lat_deg: number(1).unwrap(),
            lon_deg: number(2).unwrap(),
            height_m: number(3),
            speed_m_s: number(4),
            track_deg: number(5),
        }
    });
    rows.collect()
}

fn time_ms(fix: &Fix) -> i64 {
    (fix.utc_ns / 1_000_000).rem_euclid(ROLLOVER_MS)
}

fn sentence_time_ms(sentence: &Sentence) -> Option<i64> {
    let time = match sentence {
        Sentence::Gga(gga) => gga.time,
        Sentence::Rmc(rmc) => rmc.time,
        Sentence::Gll(gll) => gll.time,
        Sentence::Gns(gns) => gns.time,
        _ => None,
    };
    time.map(|time| time.ns as i64 / 1_000_000)
}

fn read(recording: u8) -> Reading {
    let bytes = std::fs::read(folder().join(format!("receiver-{recording:02}.nmea"))).unwrap();
    let mut reading = Reading::default();
    let mut assembler = EpochAssembler::new(None);
    let take = |event: Option<FixEvent>, reading: &mut Reading| match event {
        Some(FixEvent::Fix(fix)) => reading.fixes.push(fix),
        Some(FixEvent::Refused { why, time, .. }) => {
            reading.refused.insert(time.ns as i64 / 1_000_000, why);
        }
        None => {}
    };
    let mut splitter = LineSplitter::default();
    // VTG has no time; it stands with the sentence before it.
    let mut now_ms = 0;
    let mut line = |line: &[u8], host_ns: u64| match parse(line) {
        Ok(sentence) => {
            now_ms = sentence_time_ms(&sentence).unwrap_or(now_ms);
            match sentence {
                Sentence::Other(kind) => reading.compass |= [*b"HDG", *b"VHW"].contains(&kind),
                _ => reading.sentences.entry(now_ms).or_default().push(sentence),
            }
            take(assembler.push(&sentence, host_ns), &mut reading);
        }
        Err(SentenceFault::NoChecksum) => reading.without_checksum += 1,
        Err(_) => {}
    };
    splitter.push(&bytes, 0, &mut line);
    // The last line may have no end.
    splitter.push(b"\n", 0, &mut line);
    take(assembler.flush(), &mut reading);
    reading
}

fn same(a: Option<f64>, b: Option<f64>, tolerance: f64) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() <= tolerance,
        (None, None) => true,
        _ => false,
    }
}

fn at(report: &Report, lat_deg: f64, lon_deg: f64) -> bool {
    (report.lat_deg - lat_deg).abs() <= ANGLE_DEG && (report.lon_deg - lon_deg).abs() <= ANGLE_DEG
}

fn place(sentence: &Sentence) -> Option<Position> {
    match sentence {
        Sentence::Gga(gga) => gga.position,
        Sentence::Rmc(rmc) => rmc.position,
        Sentence::Gll(gll) => gll.position,
        Sentence::Gns(gns) => gns.position,
        _ => None,
    }
}

impl Reading {
    fn of_time(&self, time_ms: i64) -> &[Sentence] {
        self.sentences.get(&time_ms.rem_euclid(DAY_MS)).map_or(&[], Vec::as_slice)
    }

    /// Whether a sentence with the report's time prints the report's position.
    fn printed_place(&self, report: &Report) -> bool {
        let mut places = self.of_time(report.time_ms).iter().filter_map(place);
        places.any(|place| at(report, place.lat_deg, place.lon_deg))
    }

    /// Speed and track of RMC (`true`) or VTG with the report's time.
    fn printed_motion(&self, report: &Report, of_rmc: bool) -> Option<Motion> {
        self.of_time(report.time_ms).iter().find_map(|sentence| match sentence {
            Sentence::Rmc(rmc) if of_rmc => Some((rmc.speed.map(|s| s.m_s), rmc.track_deg)),
            Sentence::Vtg(vtg) if !of_rmc => Some((vtg.speed.map(|s| s.m_s), vtg.track_deg)),
            _ => None,
        })
    }

    /// Why the report's speed and track differ from ours, if they do.
    fn explain_motion(&self, report: &Report, ours: Motion) -> Option<BTreeSet<Reason>> {
        let as_reported = |(speed, track): Motion| {
            same(report.speed_m_s, speed, SPEED_M_S) && same(report.track_deg, track, TRACK_DEG)
        };
        let tracks = [true, false].map(|of_rmc| self.printed_motion(report, of_rmc)?.1);
        let a_track = tracks.iter().any(|&track| same(report.track_deg, track, TRACK_DEG));
        if as_reported(ours) {
            Some(BTreeSet::new())
        } else if report.track_deg.is_none() {
            Some(BTreeSet::from([SpeedFromPositions]))
        } else if self.printed_motion(report, false).is_some_and(as_reported) {
            Some(BTreeSet::from([SpeedOfVtg]))
        } else {
            (self.compass && !a_track).then(|| BTreeSet::from([TrackOfCompass]))
        }
    }

    /// Why a report differs from our fix of the same time; empty when it does not. `None` is a
    /// difference nobody has explained.
    fn explain(&self, report: &Report) -> Option<BTreeSet<Reason>> {
        match self.fixes.iter().find(|fix| time_ms(fix) == report.time_ms) {
            Some(fix) => self.explain_values(report, fix),
            None => self.explain_absent(report),
        }
    }

    fn explain_values(&self, report: &Report, fix: &Fix) -> Option<BTreeSet<Reason>> {
        let mut reasons = BTreeSet::new();
        if !at(report, fix.lat_deg, fix.lon_deg) {
            self.printed_place(report).then(|| reasons.insert(PositionOfOtherSentence))?;
        }
        if !same(report.height_m, fix.height_m, HEIGHT_M) {
            let reason = match (report.height_m, fix.height_m) {
                (Some(_), None) => self.no_separation(report).then_some(GeoidModel),
                (None, Some(_)) if !self.starts_with_gga(report) => Some(HeightLeftOut),
                _ => None,
            };
            reasons.insert(reason?);
        }
        reasons.append(&mut self.explain_motion(report, (fix.speed_m_s, fix.track_deg))?);
        Some(reasons)
    }

    fn starts_with_gga(&self, report: &Report) -> bool {
        matches!(self.of_time(report.time_ms).first(), Some(Sentence::Gga(_)))
    }

    fn no_separation(&self, report: &Report) -> bool {
        self.of_time(report.time_ms)
            .iter()
            .any(|s| matches!(s, Sentence::Gga(gga) if gga.geoid_separation_m.is_none()))
    }

    /// Why we have no fix at the time of a report.
    fn explain_absent(&self, report: &Report) -> Option<BTreeSet<Reason>> {
        match self.refused.get(&report.time_ms.rem_euclid(DAY_MS)) {
            Some(Refusal::Disagree) if self.printed_place(report) => {
                let ours = self.printed_motion(report, true).unwrap_or((None, None));
                let mut reasons = self.explain_motion(report, ours)?;
                reasons.insert(Disagree);
                Some(reasons)
            }
            None if self.sentences.is_empty() && self.without_checksum > 0 => {
                Some(BTreeSet::from([NoChecksum]))
            }
            _ => None,
        }
    }

    /// Why gpsd has no report for our fix.
    fn explain_extra(&self, index: usize) -> Option<Reason> {
        let fix = &self.fixes[index];
        let count = |fix: &Fix| self.of_time(time_ms(fix)).len();
        let before = index.checked_sub(1).map(|before| &self.fixes[before]);
        if index < 2 {
            Some(FirstFix)
        } else {
            before.is_some_and(|before| count(fix) < count(before)).then_some(CycleEndMissing)
        }
    }
}

#[test]
fn every_recording_agrees_with_gpsd_or_says_why_not() {
    let mut found: BTreeMap<(u8, Reason), u32> = BTreeMap::new();
    let mut unexplained = Vec::new();
    let (mut rows, mut agreeing, mut fixes) = (0, 0, 0);
    for recording in 1..=RECORDINGS {
        let (reports, reading) = (reports(recording), read(recording));
        let times: BTreeSet<i64> = reports.iter().map(|report| report.time_ms).collect();
        for report in &reports {
            let Some(reasons) = reading.explain(report) else {
                unexplained.push(format!("{recording}: {report:?}"));
                continue;
            };
            agreeing += u32::from(reasons.is_empty());
            for reason in reasons {
                *found.entry((recording, reason)).or_default() += 1;
            }
        }
        for (index, fix) in reading.fixes.iter().enumerate() {
            if times.contains(&time_ms(fix)) {
                continue;
            }
            match reading.explain_extra(index) {
                Some(reason) => *found.entry((recording, reason)).or_default() += 1,
                None => unexplained.push(format!("{recording}: not reported: {fix:?}")),
            }
        }
        rows += reports.len();
        fixes += reading.fixes.len();
    }
    println!("{rows} reports, {agreeing} agree in every value; {fixes} fixes of ours");
    for ((recording, reason), count) in &found {
        println!("    ({recording}, {reason:?}, {count}),");
    }
    assert!(unexplained.is_empty(), "no reason for:\n{}", unexplained.join("\n"));
    let known: BTreeMap<(u8, Reason), u32> =
        KNOWN.iter().map(|&(r, why, n)| ((r, why), n)).collect();
    assert_eq!(found, known, "the table of differences no longer matches");
}
