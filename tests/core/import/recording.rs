//! A simulated job as plain files.

use std::fmt::Write as _;
use trundle_core::wire::board::{BoardEvent, BoardReader, CountSample};
use trundle_sim::{Port, Scenario, Truth, record_all};

/// Which clock the tables carry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Clock {
    BoardS,
    Utc,
}

/// What came out of a simulated job, before it is written down.
#[derive(Clone, Debug)]
pub struct Recording {
    pub nmea: Vec<u8>,
    pub truth: Truth,
    /// Simulated time at the end of each chunk of sentences, and its end in `nmea`.
    chunks: Vec<(u64, usize)>,
    samples: Vec<CountSample>,
    /// Board microseconds of the marks.
    marks_us: Vec<u64>,
}

impl Recording {
    pub fn new(scenario: &Scenario, seed: u64) -> Self {
        let (emissions, truth) = record_all(scenario, seed);
        let mut reader = BoardReader::default();
        let (mut nmea, mut chunks) = (Vec::new(), Vec::new());
        let (mut samples, mut marks_us) = (Vec::new(), Vec::new());
        for emission in emissions {
            match emission.port {
                Port::Receiver => {
                    nmea.extend_from_slice(&emission.bytes);
                    chunks.push((emission.sim_us, nmea.len()));
                }
                Port::Board => reader.push(&emission.bytes, 0, |event| match event {
                    BoardEvent::Counts(sample) => samples.push(sample),
                    BoardEvent::Mark(mark) => marks_us.push(mark.board_us),
                    _ => {}
                }),
                Port::Bus => {}
            }
        }
        Self { nmea, truth, chunks, samples, marks_us }
    }

    /// What was recorded between two simulated instants, in microseconds.
    pub fn part(&self, from_us: u64, to_us: u64) -> Self {
        let mut part = self.clone();
        part.nmea = self.nmea[self.sent(from_us)..self.sent(to_us)].to_vec();
        part.samples.retain(|s| (from_us..to_us).contains(&s.board_us));
        part
    }

    /// How many bytes of `nmea` were sent before a simulated instant, in microseconds.
    pub fn sent(&self, before_us: u64) -> usize {
        let chunk = self.chunks.partition_point(|chunk| chunk.0 < before_us);
        chunk.checked_sub(1).map_or(0, |chunk| self.chunks[chunk].1)
    }

    pub fn nmea_lines(&self) -> impl Iterator<Item = &str> {
        std::str::from_utf8(&self.nmea).unwrap().lines()
    }

    /// Seconds of the board's clock at second 0 of the table's own.
    pub fn zero_s(&self, clock: Clock) -> f64 {
        match clock {
            Clock::BoardS => 0.0,
            Clock::Utc => self.samples[0].board_us as f64 * 1e-6,
        }
    }

    fn time(&self, board_us: u64, clock: Clock) -> String {
        match clock {
            Clock::BoardS => format!("{}.{:06}", board_us / 1_000_000, board_us % 1_000_000),
            // The board's clock is within 20 ppm of the truth, ten milliseconds in a job.
            Clock::Utc => {
                trundle_core::units::rfc3339(self.truth.start_utc_ns + board_us as i64 * 1000)
            }
        }
    }

    /// `counts.csv` with so many lines a second, by a counter of 32 bits that stood `ahead` of
    /// zero at the start.
    pub fn counts(&self, hz: u64, clock: Clock, ahead: u64) -> String {
        self.table(hz, clock, |sample, channel| {
            u64::from((sample.impulses[channel] + ahead) as u32)
        })
    }

    /// `counts.csv` on UTC of a counter that starts anew at an instant.
    pub fn counts_restarted(&self, hz: u64, anew_us: u64) -> String {
        let base = self.samples[self.samples.partition_point(|s| s.board_us < anew_us)].impulses;
        self.table(hz, Clock::Utc, |sample, channel| {
            let lost = if sample.board_us < anew_us { 0 } else { base[channel] };
            sample.impulses[channel] - lost
        })
    }

    fn table(&self, hz: u64, clock: Clock, value: impl Fn(&CountSample, usize) -> u64) -> String {
        let name = if clock == Clock::Utc { "utc" } else { "board_s" };
        let mut text = format!("{name},wheel,radar,working\n");
        let mut next_us = 0;
        for sample in &self.samples {
            if sample.board_us >= next_us {
                let time = self.time(sample.board_us, clock);
                let working = u8::from(sample.in_work);
                writeln!(text, "{time},{},{},{working}", value(sample, 0), value(sample, 1))
                    .unwrap();
                next_us = sample.board_us + 1_000_000 / hz - 10_000;
            }
        }
        text
    }

    /// `marks.csv`.
    pub fn marks(&self, clock: Clock) -> String {
        let name = if clock == Clock::Utc { "utc" } else { "board_s" };
        let mut text = format!("{name},mark,note\n");
        for (i, &board_us) in self.marks_us.iter().enumerate() {
            let what = if i % 2 == 0 { "start" } else { "finish" };
            writeln!(text, "{},{what},", self.time(board_us, clock)).unwrap();
        }
        text
    }
}
