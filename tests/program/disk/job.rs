//! A whole live job on a simulated disk, led one lump of bytes after another.

use super::{CAPTURE, SEED};
use crate::fakes::{Hand, PATIENCE, Step, fake_port};
use crate::sim_disk::{Failure, SimDisk};
use std::collections::BTreeMap;
use std::path::Path;
use std::time::{Duration, Instant};
use trundle::ports::PortChoice;
use trundle::recorder::capture_file::CaptureWriter;
use trundle::recorder::live::{Finished, LiveEvent, LiveJob, LiveSetup, Parts};
use trundle::shell::exit::Trouble;
use trundle_core::capture::HostMarkAction;
use trundle_core::session::{Keeps, Session, SessionEvent};
use trundle_sim::{Port, Scenario, record_all};

/// A short job with all its kinds of record: two passes by the board's button, notes, undo.
pub fn scenario() -> Scenario {
    let mut s = Scenario { passes: 2, course_m: 15.0, rest_s: 3.0, ..Scenario::default() };
    s.report_period_us = 100_000;
    s.receiver.rate_hz = 2;
    s
}

/// What the two ports give, in lumps of `lump_us`.
pub fn lumps(scenario: &Scenario, lump_us: u64) -> Vec<[Vec<u8>; 2]> {
    let (emissions, _) = record_all(scenario, SEED);
    let mut lumps: BTreeMap<u64, [Vec<u8>; 2]> = BTreeMap::new();
    for emission in emissions {
        let port = usize::from(emission.port == Port::Receiver);
        let lump = lumps.entry(emission.sim_us / lump_us).or_default();
        lump[port].extend_from_slice(&emission.bytes);
    }
    lumps.into_values().collect()
}

fn setup() -> LiveSetup {
    let port = |path: &str| PortChoice { path: path.to_owned(), baud: 115_200 };
    LiveSetup {
        board: Some(port("board")),
        receiver: Some(port("receiver")),
        bus: None,
        capture: CAPTURE.into(),
        course_text: Some("[course]\nnominal_m = 15\n".to_owned()),
        keeps: Keeps::Passes,
        // Presses that lie close together on the clock are one press: the clock has to run along.
        pace: 100.0,
        started_utc: Some("2026-03-30T10:15:00Z".to_owned()),
        practice: true,
    }
}

/// A job on a disk, and what it acknowledged after how many operations of that disk.
pub struct Run {
    pub disk: SimDisk,
    /// Operations done when the job said that it was recording.
    pub begun: usize,
    pub acknowledged: Vec<(usize, SessionEvent)>,
    pub failed: Option<usize>,
    pub trouble: Option<Trouble>,
    pub finished: Option<Finished>,
}

impl Run {
    fn look(&mut self, job: &LiveJob) {
        let events = job.poll(Duration::ZERO);
        // Counted afterwards: what came to the disk between a count and a look would be taken for
        // acknowledged before it was there.
        let done = self.disk.done();
        for event in events {
            self.note(done, event);
        }
    }

    fn note(&mut self, done: usize, event: LiveEvent) {
        match event {
            LiveEvent::Acknowledged(event) => {
                assert_eq!(self.failed, None, "acknowledged after the disk had failed");
                self.acknowledged.push((done, event));
            }
            LiveEvent::Failed(_) => self.failed = Some(done),
            _ => {}
        }
    }
}

/// Lead a whole job through, one lump after another.
pub fn run(lumps: &[[Vec<u8>; 2]], failure: Option<Failure>) -> Run {
    let disk = SimDisk::default();
    failure.into_iter().for_each(|failure| disk.fail(failure));
    let mut run = Run {
        disk: disk.clone(),
        begun: usize::MAX,
        acknowledged: Vec::new(),
        failed: None,
        trouble: None,
        finished: None,
    };
    let (board, board_hand) = fake_port();
    let (receiver, receiver_hand) = fake_port();
    let never = || -> trundle::ports::serial::Opener { Box::new(|| Err("gone".to_owned())) };
    let begun = CaptureWriter::create_on(&disk, Path::new(CAPTURE)).and_then(|writer| {
        let (board, receiver) = ((board, never()), Some((receiver, never())));
        LiveJob::start_with(&setup(), Parts { writer, board: Some(board), receiver, bus: None })
    });
    let job = match begun {
        Ok(job) => job,
        Err(trouble) => {
            run.trouble = Some(trouble);
            return run;
        }
    };
    run.begun = disk.done();
    lead(&job, lumps, &[board_hand, receiver_hand], &mut run);
    let mut finished = job.finish();
    let done = disk.done();
    for event in std::mem::take(&mut finished.events) {
        run.note(done, event);
    }
    run.trouble = finished.trouble.take();
    run.finished = Some(finished);
    run
}

fn lead(job: &LiveJob, lumps: &[[Vec<u8>; 2]], hands: &[Hand; 2], run: &mut Run) {
    let mut given = [0; 2];
    for (n, lump) in lumps.iter().enumerate() {
        for (port, bytes) in lump.iter().enumerate().filter(|(_, bytes)| !bytes.is_empty()) {
            hands[port].steps.send(Step::Bytes(bytes.clone())).unwrap();
            let lines = bytes.iter().filter(|&&byte| byte == b'\n').count();
            given[port] += if port == 0 { bytes.len() } else { lines } as u64;
        }
        let started = Instant::now();
        let taken = |session: &Session| {
            let totals = session.totals();
            totals.line.bytes >= given[0] && totals.receiver.lines.lines >= given[1]
        };
        while run.failed.is_none() && !taken(&job.copy()) {
            run.look(job);
            assert!(started.elapsed() < PATIENCE, "lump {n} was not taken");
            std::thread::sleep(Duration::from_micros(200));
        }
        match n % 9 {
            3 => drop(job.host_mark(HostMarkAction::Note, "wet grass")),
            6 => drop(job.host_mark(HostMarkAction::Note, "gate open")),
            _ => {}
        }
        // A note is on its way through a channel: a moment, then it waits for the disk.
        if n % 3 == 0 {
            std::thread::sleep(Duration::from_millis(1));
        }
        job.wait_for_disk(PATIENCE);
        run.look(job);
        if run.failed.is_some() {
            return;
        }
    }
}
