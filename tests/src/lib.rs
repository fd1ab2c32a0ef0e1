//! What the checks of the whole share: simulated jobs made into captures, captures replayed.

pub mod asking;
pub mod bridging;
pub mod days;
pub mod export_schema;
pub mod headland;
pub mod held;
pub mod mutation;
pub mod on_seeds;
pub mod pages;
pub mod papers;
pub mod pictures;
pub mod proof_cases;
pub mod receiver_clock;
pub mod sensor_cases;
pub mod sheets;
pub mod signed;
pub mod visit;

use std::path::PathBuf;
use trundle_core::capture::{
    Arrival, Entry, HEADER_FORMAT, Header, HostMark, HostMarkAction, PortRole, Reader, Record,
};
use trundle_core::course::tape::CourseSpec;
use trundle_core::figure::{COVERAGE, Job, Work, WorkOptions, work};
use trundle_core::flags::Flag;
use trundle_core::session::samples::{Sample, Samples};
use trundle_core::session::{Keeps, Session};
use trundle_core::stats::budget::cover;
use trundle_sim::{Emission, Port, Scenario, Truth, record_all};

/// The folder of the tests and their data.
#[must_use]
pub fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// How many seeds a property is tried on: a few in a quick run, all where `TEST_SEEDS=all` is set,
/// as in the heavier checks.
#[must_use]
pub fn seeds(few: u64, all: u64) -> u64 {
    if std::env::var_os("TEST_SEEDS").is_some_and(|word| word == "all") { all } else { few }
}

/// Host time of the simulator's start in these captures, nanoseconds: not zero, so that a mix-up
/// of clocks shows.
pub const HOST_START_NS: u64 = 3_000_000_000;

/// Delay from the end of a chunk on the wire to its stamp, nanoseconds: one-sided, as an
/// operating system's is, and the same for the same chunk (a hash of its time, not a generator,
/// so that splitting and joining streams changes nothing).
#[must_use]
pub fn arrival_delay_ns(sim_us: u64) -> u64 {
    let mut x = sim_us.wrapping_mul(0x9E37_79B9_7F4A_7C15);
    x ^= x >> 29;
    x = x.wrapping_mul(0xBF58_476D_1CE4_E5B9);
    x ^= x >> 32;
    // Mostly within a millisecond, now and then up to 16 ms, as USB adapters bunch bytes.
    if x.is_multiple_of(16) { x % 16_000_000 } else { 50_000 + x % 1_000_000 }
}

/// The records of a job from what the simulator put on its two lines.
#[must_use]
pub fn records(emissions: &[Emission], start_utc_ns: i64, course: Option<&str>) -> Vec<Record> {
    let header = Header {
        format: HEADER_FORMAT.to_owned(),
        version: 1,
        software: env!("CARGO_PKG_VERSION").to_owned(),
        started_utc: trundle_core::units::rfc3339(start_utc_ns),
        arrival: Arrival::Measured,
        pace: 1.0,
        practice: true,
    };
    let mut out = vec![Record { host_ns: 0, entry: Entry::Header(header) }];
    if let Some(text) = course {
        out.push(Record { host_ns: 0, entry: Entry::Course(text.to_owned()) });
    }
    // Bytes of one line never overtake each other.
    let mut latest_ns = [0; 3];
    for emission in emissions {
        let (role, line) = match emission.port {
            Port::Board => (PortRole::Board, 0),
            Port::Receiver => (PortRole::Receiver, 1),
            Port::Bus => (PortRole::Bus, 2),
        };
        let arrival_ns = HOST_START_NS + emission.sim_us * 1000 + arrival_delay_ns(emission.sim_us);
        let host_ns = arrival_ns.max(latest_ns[line]);
        latest_ns[line] = host_ns;
        out.push(Record { host_ns, entry: Entry::Bytes(role, emission.bytes.clone()) });
    }
    out.sort_by_key(|record| record.host_ns);
    let end_ns = out.last().map_or(0, |record| record.host_ns) + 1_000_000;
    out.push(Record { host_ns: end_ns, entry: Entry::End });
    out
}

/// Simulate a job and give its records and truth.
#[must_use]
pub fn simulate(scenario: &Scenario, seed: u64, course: Option<&str>) -> (Vec<Record>, Truth) {
    let (emissions, truth) = record_all(scenario, seed);
    (records(&emissions, truth.start_utc_ns, course), truth)
}

/// Put a note typed at a simulated second into a job's records.
pub fn note(records: &mut Vec<Record>, sim_s: f64, text: &str) {
    let host_ns = HOST_START_NS + (sim_s * 1e9) as u64;
    let action = HostMarkAction::Note;
    let mark = HostMark { key: host_ns, action, text: text.to_owned() };
    let at = records.partition_point(|record| record.host_ns < host_ns);
    records.insert(at, Record { host_ns, entry: Entry::HostMark(mark) });
}

/// Feed records to a fresh session.
#[must_use]
pub fn replay(records: &[Record]) -> Session {
    fed(Session::default(), records)
}

/// Feed records to a fresh session that keeps its trail, counts at least `apart_us` apart.
#[must_use]
pub fn replay_with_trail(records: &[Record], apart_us: u64) -> Session {
    fed(Keeps::Trail(apart_us).session(), records)
}

/// The same, keeping what the bus said, and the samples of its passes too.
#[must_use]
pub fn replay_with_both(records: &[Record], apart_us: u64) -> Session {
    fed(Keeps::All(apart_us).session(), records)
}

/// Feed records to a fresh session that keeps these samples.
#[must_use]
pub fn replay_keeping(records: &[Record], keeps: Keeps) -> Session {
    fed(keeps.session(), records)
}

fn fed(mut session: Session, records: &[Record]) -> Session {
    let mut events = Vec::new();
    for record in records {
        session.feed(record, &mut events);
        events.clear();
    }
    session.finish(&mut events);
    session
}

/// Change each of some samples.
pub fn change<T: Sample>(samples: &mut Samples<T>, change: impl FnMut(&mut T)) {
    let mut changed: Vec<T> = samples.iter().collect();
    changed.iter_mut().for_each(change);
    *samples = changed.into_iter().collect();
}

/// Work a session with a course.
#[must_use]
pub fn work_session(session: &Session, course: Option<&CourseSpec>) -> Work {
    let totals = session.totals();
    let job = Job { passes: session.passes(), totals: &totals, whole: session.ended() };
    work(&job, &WorkOptions { course: course.cloned(), ..WorkOptions::default() })
}

/// Simulate and work in one go.
#[must_use]
pub fn simulated_work(scenario: &Scenario, seed: u64, course: &CourseSpec) -> (Work, Truth) {
    let (records, truth) = simulate(scenario, seed, None);
    (work_session(&replay(&records), Some(course)), truth)
}

/// A figure to enter is within twice its expanded uncertainty of the truth, and the half impulse of
/// rounding.
///
/// # Panics
/// If one is not.
pub fn assert_not_misled(work: &Work, truth: &Truth, at: &str) {
    for channel in &work.channels {
        let (Some(figure), Some(best)) = (channel.value_to_enter, channel.best()) else {
            continue;
        };
        let truth = [truth.wheel_impulses_per_100m, truth.radar_impulses_per_100m][channel.index];
        let flags: Vec<String> = work.all_flags().map(Flag::sentence).collect();
        let off = (figure as f64 - truth).abs();
        let half = cover(best, &channel.sources, COVERAGE).expanded_uncertainty;
        let allowed = 2.0 * half + 0.5;
        assert!(off <= allowed, "{at}: {} off by {off}, {:?}", channel.name, flags);
    }
}

/// Read a capture's bytes, damage included, into a session.
#[must_use]
pub fn replay_bytes(bytes: &[u8], chunk: usize) -> Session {
    let mut session = Session::default();
    let mut events = Vec::new();
    let mut reader = Reader::default();
    for part in bytes.chunks(chunk) {
        reader.push(part);
        while let Some(piece) = reader.take() {
            session.take(&piece, &mut events);
        }
    }
    while let Some(piece) = reader.finish() {
        session.take(&piece, &mut events);
    }
    session.finish(&mut events);
    session
}

/// A class II tape of 100 m, read at 20 degrees: what most scenarios use.
#[must_use]
pub fn plain_course(nominal_m: f64) -> CourseSpec {
    let mut course = CourseSpec::new(nominal_m);
    course.tape.accuracy =
        trundle_core::course::tape::TapeAccuracy::Class(trundle_core::course::tape::TapeClass::II);
    course
}

/// A small seeded generator for tests, stable for ever (SplitMix64, Steele et al. 2014).
#[derive(Clone, Debug)]
pub struct Draws(u64);

impl Draws {
    /// From a seed.
    #[must_use]
    pub const fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// Next 64 bits.
    pub const fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// A whole number below `end`; the bias of the remainder does not matter in a test.
    pub const fn below(&mut self, end: usize) -> usize {
        (self.bits() % end as u64) as usize
    }

    /// A standard normal number, by Box and Muller's formula.
    pub fn normal(&mut self) -> f64 {
        let unit = |bits: u64| ((bits >> 11) as f64 + 0.5) / (1_u64 << 53) as f64;
        let (u, v) = (unit(self.bits()), unit(self.bits()));
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    }

    /// Evenly between 0 and 1.
    pub const fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Evenly between -1 and 1.
    pub const fn symmetric(&mut self) -> f64 {
        2.0 * self.unit() - 1.0
    }
}
