//! Damaged inputs by the million for every reader of bytes from outside.
//!
//! Each input is made from its own seed, so that one that fails can be had again alone. None may
//! panic, none may take long, and nothing may grow: readers are held against the bounds they
//! state, and the whole process against a limit of memory. A build with `debug-assertions`
//! (`cargo run` without `--release`) finds sums that run over as well.
//!
//! ```text
//! mutate                       every target with its usual number of inputs, and the frames
//! mutate all 100               the same with a hundredth of the inputs
//! mutate TARGET INPUTS [SEED]  one target
//! mutate frames FRAMES [SEED]  frames of which one in a hundred is damaged
//! ```
#![allow(clippy::print_stdout)]

mod frames;
mod targets;

use std::io::Error;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::process::ExitCode;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};
use targets::Target;
use trundle_tests::Draws;

/// Threads of one run.
const THREADS: u64 = 2;
/// Seeds that a thread takes at a time.
const BLOCK: u64 = 256;
/// First seed where none is given.
const SEED: u64 = 1;
/// An input that takes longer hangs; seconds. Sound ones take microseconds.
const HANG_S: u64 = 20;
/// Most resident memory of the whole run, MiB. Pools and decoders take some twenty.
const PEAK_MIB: u64 = 128;
/// Frames of the usual run; the long run of 1,000,000,000 is a command of its own.
const FRAMES: u64 = 100_000_000;

fn main() -> ExitCode {
    let args: Vec<String> = std::env::args().skip(1).collect();
    match command(&args) {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(e) => {
            println!("{e}");
            ExitCode::from(2)
        }
    }
}

fn command(args: &[String]) -> Result<bool, Error> {
    let words: Vec<&str> = args.iter().map(String::as_str).collect();
    let number = |word: &str| {
        word.parse::<u64>().map_err(|_| Error::other(format!("`{word}` is not a number")))
    };
    let usage = || Error::other("usage: mutate [all [PART]] | TARGET INPUTS [SEED]");
    match words.as_slice() {
        [] | ["all"] => all(1),
        ["all", part] => all(number(part)?.max(1)),
        ["frames", frames] => frames::run(number(frames)?, SEED, THREADS),
        ["frames", frames, seed] => frames::run(number(frames)?, number(seed)?, THREADS),
        [name, inputs, rest @ ..] => {
            let target = targets::ALL.iter().find(|target| target.name == *name);
            let target = target.ok_or_else(usage)?;
            let seed = rest.first().map_or(Ok(SEED), |word| number(word))?;
            Ok(run(target, seed, number(inputs)?) && memory()?)
        }
        _ => Err(usage()),
    }
}

fn all(part: u64) -> Result<bool, Error> {
    let began = Instant::now();
    let mut sound = true;
    for target in &targets::ALL {
        sound &= run(target, SEED, target.inputs.div_ceil(part));
    }
    sound &= frames::run(FRAMES.div_ceil(part), SEED, THREADS)?;
    println!("{:.0} s in all", began.elapsed().as_secs_f64());
    Ok(memory()? && sound)
}

/// What the threads of one run share.
struct Shared {
    next: AtomicU64,
    /// Seed in work of each thread; `u64::MAX` when it is done.
    at: [AtomicU64; THREADS as usize],
    failed: AtomicU64,
    taken: AtomicU64,
}

/// Runs a target over `inputs` seeds from `seed` on; false if one failed.
fn run(target: &Target, seed: u64, inputs: u64) -> bool {
    let began = Instant::now();
    let shared = Shared {
        next: AtomicU64::new(seed),
        at: [const { AtomicU64::new(0) }; THREADS as usize],
        failed: AtomicU64::new(0),
        taken: AtomicU64::new(0),
    };
    std::thread::scope(|scope| {
        for thread in 0..THREADS as usize {
            let shared = &shared;
            scope.spawn(move || work(target, shared, thread, seed + inputs));
        }
        watch(target.name, &shared);
    });
    let seconds = began.elapsed().as_secs_f64();
    let failed = shared.failed.load(Ordering::Relaxed);
    println!(
        "{:<9} {inputs:>11} inputs from seed {seed}, {seconds:>6.1} s, {:>9.0}/s, {:>5.1} % taken, \
         {failed} failed",
        target.name,
        inputs as f64 / seconds,
        shared.taken.load(Ordering::Relaxed) as f64 / inputs as f64 * 100.0
    );
    failed == 0
}

/// Marks a thread as done when it ends, by a panic too: who watches would wait for it for ever.
struct Done<'a>(&'a AtomicU64);

impl Drop for Done<'_> {
    fn drop(&mut self) {
        self.0.store(u64::MAX, Ordering::Relaxed);
    }
}

fn work(target: &Target, shared: &Shared, thread: usize, end: u64) {
    let _done = Done(&shared.at[thread]);
    let mut attempt = (target.make)();
    let mut input = Vec::new();
    let mut taken = 0;
    while shared.failed.load(Ordering::Relaxed) == 0 {
        let first = shared.next.fetch_add(BLOCK, Ordering::Relaxed);
        if first >= end {
            break;
        }
        for seed in first..end.min(first + BLOCK) {
            shared.at[thread].store(seed, Ordering::Relaxed);
            let mut draws = Draws::new(seed);
            let tried = catch_unwind(AssertUnwindSafe(|| attempt(&mut draws, &mut input)));
            taken += u64::from(matches!(tried, Ok(true)));
            if tried.is_err() {
                shared.failed.fetch_add(1, Ordering::Relaxed);
                println!("{} failed at seed {seed}, {} bytes:", target.name, input.len());
                println!("{}", input.escape_ascii());
                break;
            }
        }
    }
    shared.taken.fetch_add(taken, Ordering::Relaxed);
}

/// Waits for the threads. One that stays at an input ends the program: it cannot be stopped.
fn watch(name: &str, shared: &Shared) {
    let now = || shared.at.each_ref().map(|at| at.load(Ordering::Relaxed));
    let mut last = now();
    let mut moved = [Instant::now(); THREADS as usize];
    while last.iter().any(|seed| *seed != u64::MAX) {
        std::thread::sleep(Duration::from_millis(20));
        for (thread, seed) in now().into_iter().enumerate() {
            // Seed 0 is none: the thread is still making its pool.
            if seed != last[thread] || seed == 0 {
                moved[thread] = Instant::now();
            }
            last[thread] = seed;
            if seed != u64::MAX && moved[thread].elapsed() > Duration::from_secs(HANG_S) {
                println!("{name} hangs at seed {seed}: more than {HANG_S} s");
                std::process::exit(1);
            }
        }
    }
}

/// Holds the greatest resident memory of this process (Linux: VmHWM of proc(5)) to its limit.
fn memory() -> Result<bool, Error> {
    if !cfg!(target_os = "linux") {
        return Ok(true);
    }
    let status = std::fs::read_to_string("/proc/self/status")?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let kib = line.and_then(|rest| rest.split_whitespace().next()).and_then(|n| n.parse().ok());
    let mib: u64 = kib.unwrap_or(u64::MAX) / 1024;
    println!("peak memory {mib} MiB, limit {PEAK_MIB}");
    Ok(mib <= PEAK_MIB)
}
