//! A recording of the bus beside the receiver's sentences, without a counter board.
//!
//! The distances on the bus are the counts that show the motion. Lines of the groups that are read
//! go into the capture as they stand in the file; those of other groups, by far the most, are
//! passed over and counted.

use super::fault::{ImportFault, InputFile};
use super::place::axis;
use super::plain::plain;
use super::table::{CountsTable, Table};
use super::{BadLine, ImportSummary, Placed, assemble, place_lines, receiver, steps, summary};
use crate::capture::{BODY_MAX, Entry, ImportRow, Record};
use crate::wire::board::CountSample;
use crate::wire::bus::log::{LogLine, read_line};
use crate::wire::bus::message::{BusSpeed, Decoded, decode};
use crate::wire::bus::reader::{BusEvent, BusReader};
use std::collections::BTreeMap;

/// A time from here on is one since 1970, seconds: 2001. A recording that counts from its own
/// beginning does not last so long.
const SINCE_1970_S: u64 = 1_000_000_000;
/// Lines that cannot be read and are listed; the rest are only counted.
const BAD_MAX: usize = 10_000;

/// What the file holds beside the lines that are used.
#[derive(Clone, Copy, Debug, Default)]
struct Beside {
    other_groups: u64,
    other_interfaces: u64,
}

/// Make the records of a capture of the receiver's sentences and a recording of the bus, where
/// the time is known (nanoseconds since 1970): no recording is newer.
///
/// # Errors
/// [`ImportFault`] when no honest capture can be made.
pub fn bus_to_records(
    nmea: &[u8],
    bus: &[u8],
    now_utc_ns: Option<i64>,
) -> Result<(Vec<Record>, ImportSummary), ImportFault> {
    let nmea = plain(nmea);
    let mut remarks = Vec::new();
    let (table, beside) = table(bus)?;
    let first_utc_ns = table.table.is_utc.then(|| table.table.span_ns().0);
    let mut recording = receiver::read(&nmea, first_utc_ns, now_utc_ns)?;
    let moved = |_| ImportFault::BusStood;
    let motions = table.motions(table.table.span_ns().0).map_err(moved)?;
    steps::take_out(&mut recording, &motions, first_utc_ns, &mut remarks);
    let axis = axis(&recording, &table, &motions, &mut remarks)?;
    let mut placed: Placed = Vec::new();
    for (line, time_ns) in &table.table.lines {
        let Some(time_ns) = time_ns else { continue };
        let host_ns = axis.host_ns(axis.counts_utc_ns(*time_ns));
        placed.push((host_ns, 0, Entry::Import(ImportRow::Bus, line.to_vec())));
    }
    let messages = placed.len();
    place_lines(&recording, &axis, &mut placed);
    let mut records = assemble(placed, axis.zero_utc_ns, None);
    summary::receiver_remarks(&recording, &mut remarks);
    let counted = [
        (beside.other_groups, "frames of the bus are of other groups and were passed over."),
        (beside.other_interfaces, "frames are of another bus in the file and were passed over."),
    ];
    let seen = counted.into_iter().filter(|(count, _)| *count > 0);
    remarks.extend(seen.map(|(count, what)| format!("{count} {what}")));
    let bad = recording.bad.into_iter().chain(table.table.bad).collect();
    let summary = ImportSummary::of_bus(&records, messages, axis.clocks, remarks, bad);
    super::note_join(&summary, &mut records);
    Ok((records, summary))
}

/// The lines of the groups that are read, in order of time, and the motion they show.
fn table(bytes: &[u8]) -> Result<(CountsTable<'_>, Beside), ImportFault> {
    if bytes.trim_ascii().is_empty() {
        return Err(ImportFault::Empty(InputFile::Bus));
    }
    let (mut bad, mut sound) = (Vec::new(), 0_u64);
    let mut beside = Beside::default();
    let mut read: Vec<(u64, &str, &[u8])> = Vec::new();
    for (number, line) in (1..).zip(bytes.split_inclusive(|byte| *byte == b'\n')) {
        if line.trim_ascii().is_empty() {
            continue;
        }
        let Some(found) = read_line(line).filter(|_| line.len() <= BODY_MAX) else {
            if bad.len() < BAD_MAX {
                let why = "it is no frame in the form (seconds) bus identifier#data".to_owned();
                bad.push(BadLine { file: InputFile::Bus, line: number, why });
            }
            continue;
        };
        sound += 1;
        let LogLine { time_us, interface, frame } = found;
        match frame.map(|frame| decode(&frame)) {
            Some(Decoded::Message(..) | Decoded::WrongLength) => {
                read.push((time_us, interface, line));
            }
            Some(Decoded::Other) | None => beside.other_groups += 1,
        }
    }
    if sound == 0 {
        return Err(ImportFault::NotBus);
    }
    if read.is_empty() {
        return Err(ImportFault::NoBusSpeed);
    }
    let mut by_name: BTreeMap<&str, u64> = BTreeMap::new();
    read.iter().for_each(|(_, interface, _)| *by_name.entry(interface).or_default() += 1);
    let most = by_name.iter().max_by_key(|(_, count)| **count).map(|(name, _)| *name);
    beside.other_interfaces = read.len() as u64;
    read.retain(|(_, interface, _)| Some(*interface) == most);
    beside.other_interfaces -= read.len() as u64;
    // Several queues of one system may stand a little out of order.
    read.sort_by_key(|(time_us, ..)| *time_us);
    let is_utc = read[0].0 >= SINCE_1970_S * 1_000_000;
    let lines = read.iter().map(|(time_us, _, line)| (*line, Some(nanos(*time_us)))).collect();
    let samples = motion(&read);
    let table = Table { lines, is_utc, bad, refused: Vec::new() };
    let (repeated, went_back) = (0, Vec::new());
    Ok((CountsTable { table, samples, repeated, went_back, interval_s: 0.0 }, beside))
}

/// Bounded by the reader of the line.
const fn nanos(time_us: u64) -> i64 {
    (time_us * 1_000).cast_signed()
}

/// Distances by wheel and over ground, mm, of whoever states each first; a restart goes on.
fn motion(read: &[(u64, &str, &[u8])]) -> Vec<(i64, CountSample)> {
    let mut reader = BusReader::default();
    let mut samples: Vec<(i64, CountSample)> = Vec::new();
    let mut senders = [None; 2];
    // Of each: run, distance at its beginning.
    let mut runs = [(0, 0_u64); 2];
    let mut now = [0_u64; 3];
    for (time_us, _, line) in read {
        let Some(frame) = read_line(line).and_then(|line| line.frame) else { continue };
        reader.frame(&frame, time_us * 1_000, |event| {
            let BusEvent::Speed(sample) = event else { return };
            let channel = match sample.kind {
                BusSpeed::Wheel => 0,
                BusSpeed::Ground => 1,
                BusSpeed::Selected => return,
            };
            let Some(at) = sample.distance else { return };
            if *senders[channel].get_or_insert(sample.sender) != sample.sender {
                return;
            }
            if runs[channel].0 != at.run {
                runs[channel] = (at.run, now[channel]);
            }
            now[channel] = runs[channel].1 + at.distance_mm;
            let host_ns = sample.host_ns;
            let sample = CountSample {
                host_ns,
                board_us: host_ns / 1_000,
                impulses: now,
                last_edge_us: [None; 3],
                rejected: [0; 3],
                in_work: false,
                overruns: 0,
            };
            samples.push((nanos(host_ns / 1_000), sample));
        });
    }
    samples.sort_by_key(|(time_ns, _)| *time_ns);
    samples
}
