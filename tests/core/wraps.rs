//! Every counter that wraps, at every phase near its wrap, with frames and lines missing:
//! sequence numbers, timers and hardware counters of 32 bits, counts in tables, the day's end.
//!
//! Each is held against plain arithmetic in 64 bits. The widening on the board alone is held so
//! in its own package.

use trundle_bounds::sums::sentence_of;
use trundle_core::capture::ImportRow;
use trundle_core::wire::board::{BoardEvent, BoardReader};
use trundle_core::wire::import_rows::{ImportReader, ImportedRow};
use trundle_core::wire::receiver::{ReceiverEvent, ReceiverReader};
use trundle_counter::{Board, Config, Counter};
use trundle_protocol::WireMessage;
use trundle_protocol::message::{ChannelCounts, Counts, Stamp, ToHost};
use trundle_protocol::units::{BoardMicros, Channel, Fixed32, Impulses};
use trundle_tests::Draws;

/// Length of a 32-bit range.
const TURN: u64 = 1 << 32;

/// A report with sequence number and count near each other's wraps.
fn report(start: u32, index: u32) -> ToHost {
    let stamp = Stamp {
        boot_id: Fixed32(9),
        sequence: Fixed32(start.wrapping_add(index)),
        board_us: BoardMicros(u64::from(index) * 20_000),
    };
    // Counts on the wire have 64 bits; these cross the 32nd.
    let channel = ChannelCounts {
        impulses: Impulses(TURN - 3_000 + u64::from(index) * 7),
        ..ChannelCounts::default()
    };
    ToHost::Counts(Counts { stamp, channels: [channel; 3], ..Counts::default() })
}

/// What the host's reader makes of the reports with these indices, in this order: the counts
/// told, frames lost, frames that came again.
fn read(start: u32, indices: &[u32]) -> (Vec<u64>, u64, u64) {
    let mut reader = BoardReader::default();
    // Behind the first delimiter the reader is in step.
    let mut told = Vec::new();
    let mut lost_told = 0;
    reader.push(&[0], 0, |_| ());
    for &index in indices {
        reader.push(report(start, index).frame().as_bytes(), 0, |event| match event {
            BoardEvent::Counts(sample) => told.push(sample.impulses[0]),
            BoardEvent::Lost { frames } => lost_told += u64::from(frames),
            other => panic!("start {start}, {indices:?}: {other:?}"),
        });
    }
    let totals = reader.totals();
    assert_eq!(totals.lost, lost_told, "start {start}, {indices:?}");
    assert_eq!((totals.resets, totals.frames), (0, told.len() as u64));
    (told, totals.lost, totals.repeated)
}

/// Every start within forty of the wrap, every place and length of one gap, and the frame before
/// the gap once more behind it.
#[test]
fn one_gap_at_every_phase_of_the_sequence_wrap() {
    const FRAMES: u32 = 24;
    for phase in 0..=40_u32 {
        let start = 0_u32.wrapping_sub(phase);
        for from in 1..FRAMES - 1 {
            for to in from..FRAMES - 1 {
                let mut kept: Vec<u32> = (0..from).chain(to..FRAMES).collect();
                let truth: Vec<u64> =
                    kept.iter().map(|index| TURN - 3_000 + u64::from(*index) * 7).collect();
                let gap = u64::from(to - from);
                assert_eq!(read(start, &kept), (truth.clone(), gap, 0), "{start}: {from}..{to}");
                kept.insert(from as usize + 1, from - 1);
                assert_eq!(read(start, &kept), (truth, gap, 1), "{start}: {from}..{to}, again");
            }
        }
    }
}

#[test]
fn any_frames_missing_near_the_sequence_wrap() {
    for seed in 1..=400 {
        let mut draws = Draws::new(seed);
        let start = 0_u32.wrapping_sub(draws.below(200) as u32);
        let kept_in = 1 + draws.below(6);
        let kept: Vec<u32> = (0..400).filter(|_| draws.below(6) < kept_in).collect();
        let (Some(first), Some(last)) = (kept.first(), kept.last()) else { continue };
        let missing = u64::from(last - first) + 1 - kept.len() as u64;
        let truth = kept.iter().map(|index| TURN - 3_000 + u64::from(*index) * 7).collect();
        assert_eq!(read(start, &kept), (truth, missing, 0), "seed {seed}");
    }
}

/// A board whose frames all fit.
#[derive(Default)]
struct Line(Vec<u8>);

impl Board for Line {
    fn tx_room(&mut self) -> usize {
        usize::MAX
    }
    fn tx(&mut self, bytes: &[u8]) {
        self.0.extend_from_slice(bytes);
    }
    fn supply_mv(&mut self) -> u16 {
        12_000
    }
    fn identify(&mut self, _on: bool) {}
}

/// Timer and hardware counter start at each phase before their wraps; frames are lost on the way.
#[test]
fn board_to_host_across_the_wraps_of_timer_and_counter() {
    const STEP_US: u64 = 20_000;
    for seed in 0..600_u64 {
        let mut draws = Draws::new(seed);
        // Each of the last 200 phases of the counter, and the timer within a second of its wrap.
        let hardware = 0_u32.wrapping_sub((seed % 200) as u32);
        let timer = 0_u32.wrapping_sub(draws.below(1_000_000) as u32);
        let mut counter = Counter::new(Config { boot_id: 3, ..Config::default() }, timer);
        counter.on_hardware_count(Channel::Pto, hardware, timer);
        let mut reader = BoardReader::default();
        reader.push(&[0], 0, |_| ());
        let (mut truth, mut seen, mut dropped, mut unsettled) = (0_u64, 0, 0_u64, 0);
        let mut sent = 0_u32;
        for step in 1..=100 {
            let now_us = step * STEP_US;
            let ticks = (u64::from(timer) + now_us) as u32;
            truth += draws.below(9) as u64;
            let raw = (u64::from(hardware) + truth) as u32;
            counter.on_hardware_count(Channel::Pto, raw, ticks);
            let mut line = Line::default();
            counter.poll(ticks, &mut line);
            for frame in line.0.split_inclusive(|byte| *byte == 0) {
                sent += 1;
                // The first is never lost: what was before it cannot be missed.
                if sent > 1 && draws.below(3) == 0 {
                    unsettled += 1;
                    continue;
                }
                dropped += std::mem::take(&mut unsettled);
                reader.push(frame, 0, |event| match event {
                    BoardEvent::Counts(sample) => {
                        seen += 1;
                        let found = (sample.board_us, sample.impulses[2]);
                        assert_eq!(found, (now_us, truth), "seed {seed}, step {step}");
                    }
                    BoardEvent::Reset { .. } | BoardEvent::WentBack => panic!("seed {seed}"),
                    _ => {}
                });
            }
        }
        assert!(seen > 30, "seed {seed}: {seen} reports");
        assert_eq!(reader.totals().lost, dropped, "seed {seed}");
    }
}

/// The widened counts of a table whose lines hold these raw counts.
fn table(raw: &[u64]) -> Vec<u64> {
    let mut reader = ImportReader::default();
    reader.line(ImportRow::Counts, b"board_s,wheel", 0).unwrap();
    let read = |(at, raw): (usize, &u64)| {
        let line = format!("{at},{raw}");
        match reader.line(ImportRow::Counts, line.as_bytes(), 0).unwrap() {
            Some(ImportedRow::Counts(sample)) => sample.impulses[0],
            other => panic!("{raw}: {other:?}"),
        }
    };
    raw.iter().enumerate().map(read).collect()
}

/// Counts of 32 bits in a table: each of the last 300 phases, lines missing, and steps up to the
/// sixteenth of the range that still counts as a wrap.
#[test]
fn tables_across_the_wrap_of_32_bits() {
    let mut tried = 0;
    for seed in 0..900_u64 {
        let mut draws = Draws::new(seed);
        let phase = TURN - 1 - seed % 300;
        let longest = [3, 500, TURN as usize / 16 - 1][draws.below(3)];
        let mut wide = phase;
        let mut truth: Vec<u64> = Vec::new();
        for _ in 0..60 {
            // A line in three is missing.
            if draws.below(3) > 0 {
                truth.push(wide);
            }
            wide += draws.below(longest + 1) as u64;
        }
        // Two missing lines in a row may step over the sixteenth: no wrap is claimed there.
        if truth.windows(2).any(|pair| pair[1] - pair[0] >= TURN / 16) {
            continue;
        }
        tried += 1;
        let raw: Vec<u64> = truth.iter().map(|wide| wide % TURN).collect();
        let found = table(&raw);
        let steps = |wide: &[u64]| wide.windows(2).map(|w| w[1] - w[0]).collect::<Vec<u64>>();
        assert_eq!(steps(&found), steps(&truth), "seed {seed}, raw {raw:?}");
    }
    assert!(tried > 550, "only {tried} tables had no gap too wide");
}

/// The time of day starts anew at midnight, the date in one kind of sentence only, either of the
/// two kinds missing now and then: every fix has the UTC of its epoch.
#[test]
fn fixes_across_the_end_of_the_day_and_of_the_year() {
    const EPOCHS: i64 = 60;
    const STEP_NS: i64 = 100_000_000;
    for seed in 0..400_i64 {
        let mut draws = Draws::new(seed.cast_unsigned());
        let ends = ["2026-05-02T00:00:00Z", "2027-01-01T00:00:00Z", "2028-02-29T00:00:00Z"];
        let midnight = chrono::DateTime::parse_from_rfc3339(ends[draws.below(3)]).unwrap();
        let midnight_ns = midnight.timestamp_nanos_opt().unwrap();
        // Each phase from one epoch after midnight to two seconds before it.
        let first_ns = midnight_ns - (seed % 40 - 1) * STEP_NS;
        let mut reader = ReceiverReader::default();
        let mut seen = 0;
        let mut tell = |event| {
            if let ReceiverEvent::Fix { fix, .. } = event {
                seen += 1;
                let expected_ns = first_ns + fix.host_ns.cast_signed();
                assert_eq!(fix.utc_ns, expected_ns, "seed {seed}");
            }
        };
        for index in 0..EPOCHS {
            let now = chrono::DateTime::from_timestamp_nanos(first_ns + index * STEP_NS);
            let time = now.format("%H%M%S%.3f");
            let place = format!("47{:07.4},N,02817.5000,W", 21.0 + index as f64 * 1.6e-4);
            let gga = format!("GNGGA,{time},{place},4,12,0.7,31.7,M,58.2,M,,");
            let date = now.format("%d%m%y");
            let rmc = format!("GNRMC,{time},A,{place},5.83,0.0,{date},,,R");
            let host_ns = (index * STEP_NS).cast_unsigned();
            // The first has its date.
            let which = if index == 0 { 3 } else { draws.below(8) };
            if which != 1 {
                reader.push(&sentence_of(gga.as_bytes()), host_ns, &mut tell);
            }
            if which > 2 {
                reader.push(&sentence_of(rmc.as_bytes()), host_ns, &mut tell);
            }
        }
        reader.flush(&mut tell);
        assert!(seen > EPOCHS / 2, "seed {seed}: {seen} fixes");
    }
}
