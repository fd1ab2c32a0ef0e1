//! The receiver's recording: lines, their arrival times, the epochs they belong to.

use super::BadLine;
use super::dates::{Dated, reference};
use super::fault::{ImportFault, InputFile};
use super::garbled::longest_forward;
use super::vtg_order::vtg_begins;
use crate::capture::BODY_MAX;
use crate::wire::fields::{Date, TimeOfDay};
use crate::wire::fix::{EpochAssembler, Fix, FixEvent, Refusal};
use crate::wire::gate::{Gate, GateRuling};
use crate::wire::nmea_splitter::LineSplitter;
use crate::wire::sentence::{self, Sentence, SentenceFault};
use std::ops::Range;

const DAY_NS: i64 = 86_400_000_000_000;

/// The recording after it was read.
#[derive(Debug, Default)]
pub struct Recording<'a> {
    /// All lines, arrival times taken off, line ends kept; with the UTC of their epoch.
    pub lines: Vec<(&'a [u8], i64)>,
    /// Plausible fixes, as a session will see them. Their host time is the number of their line.
    pub fixes: Vec<Fix>,
    /// Sentences read without a field of theirs: how many, and what the first of them left out.
    pub left_out: (u64, Option<String>),
    /// Where its date is from.
    pub dated: Dated,
    /// Number of the first line of each epoch, from 0, and its UTC.
    pub epochs: Vec<(u64, i64)>,
    /// Numbers of lines, from 0, with the time of arrival that stood before the sentence.
    pub arrivals: Vec<(u64, i64)>,
    /// Numbers of lines, from 0, with a sentence of a kind that its epoch had already.
    pub doubled: Vec<u64>,
    /// Epochs whose time did not go forward.
    pub out_of_order: usize,
    /// Epochs without a usable fix.
    pub refused: u64,
    /// Dates that were not believed.
    pub dates_bad: u64,
    /// Lines that were not used, with their reason.
    pub bad: Vec<BadLine>,
}

impl Recording<'_> {
    /// UTC of the first and of the last line, nanoseconds since 1970.
    #[must_use]
    pub fn span_ns(&self) -> (i64, i64) {
        let ends = (self.lines.first(), self.lines.last());
        (ends.0.map_or(0, |l| l.1), ends.1.map_or(0, |l| l.1))
    }

    /// Seconds since `origin_ns` and speed in m/s: the receiver's own speed, or where most fixes
    /// have none, the distance between positions about a second apart.
    #[must_use]
    pub fn speeds(&self, origin_ns: i64) -> Vec<(f64, f64)> {
        self.speeds_of(0..self.fixes.len(), origin_ns)
    }

    /// The same of some of the fixes.
    pub(super) fn speeds_of(&self, part: Range<usize>, origin_ns: i64) -> Vec<(f64, f64)> {
        let fixes = self.fixes.get(part).unwrap_or_default();
        let at_s = |fix: &Fix| (fix.utc_ns - origin_ns) as f64 * 1e-9;
        let stated: Vec<(f64, f64)> =
            fixes.iter().filter_map(|f| Some((at_s(f), f.speed_m_s?))).collect();
        if 2 * stated.len() >= fixes.len() {
            return stated;
        }
        let mut ahead = 0;
        let mut speeds = Vec::new();
        for (i, a) in fixes.iter().enumerate() {
            while ahead < fixes.len() && at_s(&fixes[ahead]) - at_s(a) < 0.95 {
                ahead += 1;
            }
            let Some(b) = fixes.get(ahead.max(i + 1)) else { break };
            let seconds = at_s(b) - at_s(a);
            if seconds <= 3.0 {
                let plane = crate::geodesy::LocalPlane::new(a.lat_deg, a.lon_deg, 0.0);
                let step = plane.enu(b.lat_deg, b.lon_deg);
                let speed_m_s = step.east_m.hypot(step.north_m) / seconds;
                speeds.push((0.5 * (at_s(a) + at_s(b)), speed_m_s));
            }
        }
        speeds
    }
}

/// Split an arrival time off the front of a line: the time and where the sentence begins.
fn arrival(line: &[u8]) -> Option<(i64, usize)> {
    if !line.first()?.is_ascii_digit() {
        return None;
    }
    let space = line.iter().take(64).position(|&b| b == b' ')?;
    let text = std::str::from_utf8(&line[..space]).ok()?;
    let time = chrono::DateTime::parse_from_rfc3339(text).ok()?;
    Some((time.timestamp_nanos_opt()?, space + 1))
}

/// The lines of a recording with their ends: CR LF, LF, CR alone or NUL. What has no end for
/// longer than a record holds is cut.
fn lines(bytes: &[u8]) -> impl Iterator<Item = &[u8]> {
    let mut rest = bytes;
    std::iter::from_fn(move || {
        let ends = |&byte: &u8| matches!(byte, b'\r' | b'\n' | 0);
        let end = rest.iter().position(ends).map_or(rest.len(), |at| {
            let pair = rest[at] == b'\r' && rest.get(at + 1) == Some(&b'\n');
            at + 1 + usize::from(pair)
        });
        let (line, after) = rest.split_at(end.min(BODY_MAX));
        rest = after;
        (!line.is_empty()).then_some(line)
    })
}

/// Dates in the recording, in its order: times of arrival, dates of valid RMC, dates of ZDA.
/// Nanoseconds since 1970.
#[derive(Debug, Default)]
struct Dates {
    arrivals: Vec<i64>,
    rmc: Vec<i64>,
    zda: Vec<i64>,
}

impl Dates {
    fn note(&mut self, sentence: &Sentence) {
        let full = |date: Option<Date>, time: Option<TimeOfDay>| {
            let (date, time) = date.zip(time)?;
            let (month, day) = (u32::from(date.month), u32::from(date.day));
            let midnight = chrono::NaiveDate::from_ymd_opt(date.year, month, day)?;
            let midnight = midnight.and_time(chrono::NaiveTime::MIN).and_utc();
            midnight.timestamp_nanos_opt()?.checked_add(i64::try_from(time.ns).ok()?)
        };
        match sentence {
            Sentence::Rmc(rmc) if rmc.valid => self.rmc.extend(full(rmc.date, rmc.time)),
            Sentence::Zda(zda) => self.zda.extend(full(zda.date, zda.time)),
            _ => {}
        }
    }
}

/// What was found in the lines so far.
#[derive(Debug, Default)]
struct Found {
    sentences: Vec<(Sentence, u64)>,
    dates: Dates,
    bad: Vec<BadLine>,
    left_out: (u64, Option<String>),
    /// Sentences without a checksum, with a wrong one, with a sound one and of no use.
    without: u64,
    wrong: u64,
    unusable: u64,
}

impl Found {
    fn line(&mut self, text: &[u8], index: u64) {
        let words = |fault: SentenceFault| match fault {
            SentenceFault::NoChecksum => "the sentence has no checksum".to_owned(),
            SentenceFault::Checksum { .. } => "the checksum is wrong".to_owned(),
            SentenceFault::Address => "this is not a sentence".to_owned(),
            SentenceFault::Field { sentence, field } => {
                format!("{sentence} holds an impossible {field}")
            }
        };
        match sentence::read(text) {
            Ok((sentence, fault)) => {
                self.dates.note(&sentence);
                self.sentences.push((sentence, index));
                if let Some(fault) = fault {
                    self.left_out.0 += 1;
                    let first = || format!("line {}: {}", index + 1, words(fault));
                    self.left_out.1.get_or_insert_with(first);
                }
            }
            Err(fault) => {
                *match fault {
                    SentenceFault::NoChecksum => &mut self.without,
                    SentenceFault::Checksum { .. } => &mut self.wrong,
                    SentenceFault::Address | SentenceFault::Field { .. } => &mut self.unusable,
                } += 1;
                self.bad(index, words(fault));
            }
        }
    }

    fn bad(&mut self, index: u64, why: String) {
        self.bad.push(BadLine { file: InputFile::Nmea, line: index as usize + 1, why });
    }
}

/// Read a recording. `outside_ns` is a time near it that is known from elsewhere, `now_ns` the
/// time by now, where it is known.
///
/// # Errors
/// [`ImportFault`] when there is nothing in it to measure from.
pub fn read(
    bytes: &[u8],
    outside_ns: Option<i64>,
    now_ns: Option<i64>,
) -> Result<Recording<'_>, ImportFault> {
    if bytes.trim_ascii().is_empty() {
        return Err(ImportFault::Empty(InputFile::Nmea));
    }
    let mut recording = Recording::default();
    let mut found = Found::default();
    let mut splitter = LineSplitter::default();
    let mut read = 0;
    for (index, line) in (0..).zip(lines(bytes)) {
        let from = arrival(line).map_or(0, |(utc_ns, from)| {
            found.dates.arrivals.push(utc_ns);
            recording.arrivals.push((index, utc_ns));
            from
        });
        let line = &line[from..];
        recording.lines.push((line, 0));
        let before = splitter.counts().lines;
        splitter.push(line, index, |text, at| found.line(text, at));
        read += from + line.len();
        if read == bytes.len() {
            splitter.finish(|text, at| found.line(text, at));
        }
        let blank = line.iter().all(|byte| byte.is_ascii_control() || *byte == b' ');
        if splitter.counts().lines == before && !blank {
            found.bad(index, "there is no whole sentence in it".to_owned());
        }
    }
    if splitter.counts().lines == 0 {
        return Err(ImportFault::NotNmea);
    }
    let Found { sentences, dates, bad, left_out, without, wrong, unusable } = found;
    if sentences.is_empty() {
        return Err(match bad.into_iter().next().filter(|_| unusable > 0) {
            None => ImportFault::NoSoundSentence { without, wrong },
            Some(bad) => {
                let first = format!("line {}: {}", bad.line, bad.why);
                ImportFault::NoUsableSentence { without, wrong, unusable, first }
            }
        });
    }
    (recording.bad, recording.left_out) = (bad, left_out);
    let receiver = if dates.rmc.is_empty() { &dates.zda } else { &dates.rmc };
    let near = reference(outside_ns, &dates.arrivals, receiver, now_ns);
    let Some((reference_ns, dated)) = near else { return Err(ImportFault::NoDate) };
    recording.dated = dated;
    place(&mut recording, &sentences, reference_ns);
    if recording.fixes.is_empty() { Err(ImportFault::NoFix) } else { Ok(recording) }
}

/// Group the sentences as a session will, and give every line the UTC of its epoch.
fn place(recording: &mut Recording<'_>, sentences: &[(Sentence, u64)], reference_ns: i64) {
    let mut assembler = EpochAssembler::new(Some(reference_ns));
    if let Some(begins) = vtg_begins(sentences, reference_ns) {
        assembler.vtg_begins(begins);
    }
    // Lines are numbered here, not timed.
    let mut gate = Gate::without_arrivals();
    // First line of each epoch, and its UTC.
    let mut epochs: Vec<(u64, i64)> = Vec::new();
    let mut known_ns = reference_ns;
    let mut take = |event: FixEvent, recording: &mut Recording<'_>| match event {
        FixEvent::Fix(fix) => {
            known_ns = fix.utc_ns;
            epochs.push((fix.host_ns, fix.utc_ns));
            if matches!(gate.check(&fix), GateRuling::Accepted { .. }) {
                recording.fixes.push(fix);
            } else {
                recording.refused += 1;
            }
        }
        FixEvent::Refused { time, host_ns, why } => {
            recording.refused += 1;
            // A receiver without a fix may not know the time either.
            if why == Refusal::Disagree {
                known_ns = nearest_day(time, known_ns);
                epochs.push((host_ns, known_ns));
            } else {
                epochs.push((host_ns, nearest_day(time, known_ns)));
            }
        }
    };
    for (sentence, line) in sentences {
        let doubled = assembler.counts().duplicates;
        if let Some(event) = assembler.push(sentence, *line) {
            take(event, recording);
        }
        if assembler.counts().duplicates > doubled {
            recording.doubled.push(*line);
        }
    }
    if let Some(event) = assembler.flush() {
        take(event, recording);
    }
    recording.dates_bad = assembler.counts().dates_bad;
    recording.epochs = epochs;
    place_lines(recording);
}

/// Give every line the UTC of its epoch: that of the last one before it that does not go back.
pub(super) fn place_lines(recording: &mut Recording<'_>) {
    let epochs = &recording.epochs;
    let times: Vec<i64> = epochs.iter().map(|epoch| epoch.1).collect();
    // One wild time, early or late, then costs only itself and not everything before or after it.
    let forward = longest_forward(&times);
    recording.out_of_order = epochs.len() - forward.len();
    let mut next = 0;
    let mut utc_ns = forward.first().map_or(0, |&i| times[i]);
    for (index, line) in recording.lines.iter_mut().enumerate() {
        while let Some(&epoch) = forward.get(next)
            && epochs[epoch].0 <= index as u64
        {
            utc_ns = times[epoch];
            next += 1;
        }
        line.1 = utc_ns;
    }
}

fn nearest_day(time: TimeOfDay, near_ns: i64) -> i64 {
    let ahead_ns = (time.ns as i64 - near_ns).rem_euclid(DAY_NS);
    near_ns + if ahead_ns > DAY_NS / 2 { ahead_ns - DAY_NS } else { ahead_ns }
}
