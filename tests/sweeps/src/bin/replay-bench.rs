//! How fast a long day is replayed, and in how much memory.
//!
//! Makes a capture of a simulated day on disk (10 Hz GGA RMC VTG GSA GSV GST, 50 Hz board
//! frames), replays it, and prints
//! megabytes a second, the ratio to a bare parse of the same sentences by the `nmea` crate, our
//! own reader over those same sentences as far as fixes, and the peak memory. Replays and parses
//! run as child processes of their own, so that the peak is theirs alone. A tenth of the day is
//! replayed as well: the peak should not follow the length. The day is packed too: how much smaller
//! it is, how fast that went, and how fast it is replayed as it is. Nothing is asserted about time.
//!
//! `cargo run --release -p trundle-sweeps --bin replay-bench -- [HOURS]`
//!
//! For a profiler, `--make HOURS CAPTURE SENTENCES` keeps a day on disk, with `FRAMES` behind it
//! one with the implement bus and so many frames a second of others there, and `--replay CAPTURE`
//! works it as the bench does.
#![allow(clippy::print_stdout)]

use std::collections::BTreeMap;
use std::fs::File;
use std::io::{BufRead, BufReader, BufWriter, Error, Read, Write};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;
use trundle::packed::pack::pack;
use trundle_core::capture::{Entry, PortRole, Record, encode};
use trundle_core::session::Session;
use trundle_core::wire::receiver::{ReceiverEvent, ReceiverReader};
use trundle_sim::{BusTractor, Emission, Port, Scenario, Sentence, Simulation};
use trundle_tests::{HOST_START_NS, arrival_delay_ns, records};

type Outcome<T> = Result<T, Error>;

const READ_BYTES: usize = 64 * 1024;
/// Runs of which the quickest counts: the others were disturbed.
const RUNS: usize = 3;

fn main() -> Outcome<()> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = args.iter().map(String::as_str).collect();
    match words.as_slice() {
        ["--replay", path] => replay(Path::new(path)),
        ["--parse", path] => bare_parse(Path::new(path)),
        ["--read", path] => own_read(Path::new(path)),
        ["--make", hours, capture, sentences] => make(
            &scenario(number(hours)?),
            number(hours)?,
            Path::new(capture),
            Path::new(sentences),
        ),
        ["--make", hours, capture, sentences, frames] => {
            let foreign_hz = number(frames)? as u32;
            let bus = Some(BusTractor { foreign_hz, ..BusTractor::default() });
            let day = Scenario { bus, ..scenario(number(hours)?) };
            make(&day, number(hours)?, Path::new(capture), Path::new(sentences))
        }
        [] => bench(10.0),
        [hours] => bench(number(hours)?),
        _ => Err(Error::other("usage: replay-bench [HOURS]")),
    }
}

fn number(word: &str) -> Outcome<f64> {
    word.parse().map_err(|_| Error::other(format!("`{word}` is not a number")))
}

/// All six kinds of sentence at 10 Hz do not fit into 115200 bits a second.
fn scenario(hours: f64) -> Scenario {
    let mut scenario = Scenario::default();
    scenario.receiver.sentences = vec![
        Sentence::Gga,
        Sentence::Rmc,
        Sentence::Vtg,
        Sentence::Gsa,
        Sentence::Gsv,
        Sentence::Gst,
    ];
    scenario.receiver.slow_sentences = Vec::new();
    scenario.receiver.baud = 460_800;
    let six_s = Simulation::new(&scenario, 1).end_us() as f64 * 1e-6;
    scenario.passes = (6.0 * hours * 3600.0 / six_s).ceil() as u32 + 1;
    scenario
}

/// Records waiting for their turn: bytes of the two lines overtake each other by some
/// milliseconds.
struct Day {
    capture: BufWriter<File>,
    sentences: BufWriter<File>,
    waiting: BTreeMap<(u64, u64), Record>,
    latest_ns: [u64; 3],
    number: u64,
    bytes: Vec<u8>,
}

impl Day {
    fn take(&mut self, emission: Emission) -> Outcome<()> {
        let (role, line) = match emission.port {
            Port::Board => (PortRole::Board, 0),
            Port::Receiver => (PortRole::Receiver, 1),
            Port::Bus => (PortRole::Bus, 2),
        };
        if role == PortRole::Receiver {
            self.sentences.write_all(&emission.bytes)?;
        }
        let arrival_ns = HOST_START_NS + emission.sim_us * 1000 + arrival_delay_ns(emission.sim_us);
        let host_ns = arrival_ns.max(self.latest_ns[line]);
        self.latest_ns[line] = host_ns;
        self.number += 1;
        let entry = Entry::Bytes(role, emission.bytes);
        self.waiting.insert((host_ns, self.number), Record { host_ns, entry });
        Ok(())
    }

    fn write_before(&mut self, host_ns: u64) -> Outcome<()> {
        while let Some(first) = self.waiting.first_entry()
            && first.key().0 < host_ns
        {
            self.bytes.clear();
            encode(&first.remove(), &mut self.bytes);
            self.capture.write_all(&self.bytes)?;
        }
        Ok(())
    }
}

fn make(scenario: &Scenario, hours: f64, capture: &Path, sentences: &Path) -> Outcome<()> {
    let mut simulation = Simulation::new(scenario, 1);
    let mut day = Day {
        capture: BufWriter::new(File::create(capture)?),
        sentences: BufWriter::new(File::create(sentences)?),
        waiting: BTreeMap::new(),
        latest_ns: [0; 3],
        number: 0,
        bytes: Vec::new(),
    };
    // The header and the end record are those of any simulated job.
    let frame = records(&[], simulation.start_utc_ns(), None);
    encode(&frame[0], &mut day.bytes);
    day.capture.write_all(&day.bytes)?;
    let end_us = (hours * 3.6e9) as u64;
    let mut emissions = Vec::new();
    let mut now_us = 0;
    while now_us < end_us {
        now_us += 1_000_000;
        simulation.advance_to(now_us, &mut emissions);
        for emission in emissions.drain(..) {
            day.take(emission)?;
        }
        day.write_before(HOST_START_NS + now_us * 1000)?;
    }
    day.write_before(u64::MAX)?;
    day.bytes.clear();
    let host_ns = HOST_START_NS + (now_us + 1_000_000) * 1000;
    encode(&Record { host_ns, entry: Entry::End }, &mut day.bytes);
    day.capture.write_all(&day.bytes)?;
    day.capture.flush()?;
    day.sentences.flush()
}

/// Child process: replay a capture as `trundle work` does and print what it took.
fn replay(path: &Path) -> Outcome<()> {
    let began = Instant::now();
    let session = trundle::recorder::replay::replay(path, Session::default)
        .map_err(|trouble| Error::other(trouble.to_string()))?;
    let seconds = began.elapsed().as_secs_f64();
    let totals = session.totals();
    println!("{seconds} {} {} {}", peak_kib()?, totals.board.frames, session.passes().len());
    Ok(())
}

/// Child process: parse every sentence of a file and print what it took.
fn bare_parse(path: &Path) -> Outcome<()> {
    let began = Instant::now();
    let mut file = BufReader::with_capacity(READ_BYTES, File::open(path)?);
    let mut line = String::new();
    let (mut parsed, mut refused) = (0_u64, 0_u64);
    while file.read_line(&mut line)? > 0 {
        match nmea::parse_str(line.trim_end()) {
            Ok(_) => parsed += 1,
            Err(_) => refused += 1,
        }
        line.clear();
    }
    println!("{} {} {parsed} {refused}", began.elapsed().as_secs_f64(), peak_kib()?);
    Ok(())
}

/// Child process: read the same sentences with our own reader, as far as plausible fixes, and
/// print what it took.
fn own_read(path: &Path) -> Outcome<()> {
    let began = Instant::now();
    let mut file = File::open(path)?;
    let mut buffer = vec![0; READ_BYTES];
    let mut reader = ReceiverReader::default();
    let mut fixes = 0_u64;
    let mut tell = |event| fixes += u64::from(matches!(event, ReceiverEvent::Fix { .. }));
    loop {
        let length = file.read(&mut buffer)?;
        if length == 0 {
            break;
        }
        reader.push(&buffer[..length], 0, &mut tell);
    }
    reader.flush(&mut tell);
    let seconds = began.elapsed().as_secs_f64();
    println!("{seconds} {} {} {fixes}", peak_kib()?, reader.totals().sentences);
    Ok(())
}

/// Greatest resident memory of this process, KiB (Linux: VmHWM of proc(5)); 0 elsewhere.
fn peak_kib() -> Outcome<u64> {
    if !cfg!(target_os = "linux") {
        return Ok(0);
    }
    let status = std::fs::read_to_string("/proc/self/status")?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let figure = line.and_then(|rest| rest.split_whitespace().next());
    figure.and_then(|n| n.parse().ok()).ok_or_else(|| Error::other("no VmHWM in the status"))
}

/// The numbers that the quickest of some runs of a child printed.
fn quickest(args: &[&str]) -> Outcome<Vec<f64>> {
    let mut best: Option<Vec<f64>> = None;
    for _ in 0..RUNS {
        let out = Command::new(std::env::current_exe()?).args(args).output()?;
        let text = String::from_utf8_lossy(&out.stdout).into_owned();
        let numbers: Vec<f64> = text.split_whitespace().filter_map(|n| n.parse().ok()).collect();
        if !out.status.success() || numbers.len() != 4 {
            let words = String::from_utf8_lossy(&out.stderr).into_owned();
            return Err(Error::other(format!("{args:?} failed: {text}{words}")));
        }
        if best.as_ref().is_none_or(|b| numbers[0] < b[0]) {
            best = Some(numbers);
        }
    }
    best.ok_or_else(|| Error::other("no run"))
}

fn bench(hours: f64) -> Outcome<()> {
    let folder = tempfile::tempdir()?;
    let capture: PathBuf = folder.path().join("day.capture");
    let sentences: PathBuf = folder.path().join("day.nmea");
    println!("making a day of {hours} h ...");
    make(&scenario(hours), hours, &capture, &sentences)?;
    let tenth: PathBuf = folder.path().join("tenth.capture");
    let tenth_hours = hours / 10.0;
    make(&scenario(tenth_hours), tenth_hours, &tenth, &folder.path().join("tenth.nmea"))?;
    let bytes = std::fs::metadata(&capture)?.len();
    let nmea_bytes = std::fs::metadata(&sentences)?.len();
    let (capture, sentences) = (capture.to_string_lossy(), sentences.to_string_lossy());
    let whole = quickest(&["--replay", &capture])?;
    let tenth = quickest(&["--replay", &tenth.to_string_lossy()])?;
    let bare = quickest(&["--parse", &sentences])?;
    let own = quickest(&["--read", &sentences])?;
    let mb = |bytes: u64| bytes as f64 * 1e-6;
    println!("capture      {:>8.1} MB, of which sentences {:.1} MB", mb(bytes), mb(nmea_bytes));
    println!(
        "replay       {:>8.3} s, {:.1} MB/s, {:.0} times real time; {} frames, {} passes kept",
        whole[0],
        mb(bytes) / whole[0],
        hours * 3600.0 / whole[0],
        whole[2],
        whole[3]
    );
    println!(
        "bare parse   {:>8.3} s, {:.1} MB/s; {} sentences parsed, {} refused",
        bare[0],
        mb(nmea_bytes) / bare[0],
        bare[2],
        bare[3]
    );
    println!(
        "own reader   {:>8.3} s, {:.1} MB/s; {} sentences read, {} fixes; {:.2} times as fast",
        own[0],
        mb(nmea_bytes) / own[0],
        own[2],
        own[3],
        bare[0] / own[0]
    );
    println!("ratio        {:>8.2} (replay of everything / bare parse)", whole[0] / bare[0]);
    println!("peak memory  {:>8.1} MiB; of a tenth of the day {:.1} MiB", whole[1] / 1024.0, {
        tenth[1] / 1024.0
    });
    packed(Path::new(&*capture), &whole)
}

/// Pack the day, replay it packed, and print both beside the plain one, which took `whole`.
fn packed(capture: &Path, whole: &[f64]) -> Outcome<()> {
    let to = capture.with_extension("packed");
    let bytes = std::fs::metadata(capture)?.len();
    let began = Instant::now();
    let mut file = BufWriter::new(File::create(&to)?);
    let done = pack(&mut File::open(capture)?, bytes, &mut file)?;
    file.flush()?;
    let seconds = began.elapsed().as_secs_f64();
    let read = quickest(&["--replay", &to.to_string_lossy()])?;
    if read[2..] != whole[2..] {
        return Err(Error::other(format!("packed: {read:?}, and {whole:?} plain")));
    }
    let mb = |bytes: u64| bytes as f64 * 1e-6;
    println!(
        "packed       {:>8.1} MB, {:.2} times smaller, in {seconds:.3} s, {:.1} MB/s",
        mb(done.length),
        bytes as f64 / done.length as f64,
        mb(bytes) / seconds
    );
    println!(
        "its replay   {:>8.3} s, {:.1} MB/s of plain bytes, {:.2} times as long; peak {:.1} MiB",
        read[0],
        mb(bytes) / read[0],
        read[0] / whole[0],
        read[1] / 1024.0
    );
    Ok(())
}
