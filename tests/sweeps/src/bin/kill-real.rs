//! The program killed at random moments of real jobs: everything it called saved is in its
//! capture, and the capture can be worked.
//!
//! Each round starts `trundle drive` on a simulated tractor behind pseudo-terminals, types notes
//! and takes the board's presses, and kills the program (SIGKILL) at a moment drawn from the seed:
//! at any time, or straight after a line that calls something saved. The lines that the capture
//! gives when it is read again must begin with those that were printed.
//!
//! `cargo run --release -p trundle-sweeps --bin kill-real -- [ROUNDS] [SEED]`; the program is taken
//! from beside this one, so build it first: `cargo build --release`.

#![allow(clippy::print_stdout, clippy::unwrap_used)]

use std::process::ExitCode;

#[cfg(unix)]
fn main() -> ExitCode {
    rounds::all()
}

#[cfg(not(unix))]
fn main() -> ExitCode {
    println!("the simulated tractor needs pseudo-terminals");
    ExitCode::FAILURE
}

#[cfg(unix)]
mod rounds {
    use std::io::{BufRead as _, BufReader, Write as _};
    use std::path::{Path, PathBuf};
    use std::process::{Child, Command, ExitCode, Stdio};
    use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
    use std::sync::{Arc, Mutex};
    use std::thread::JoinHandle;
    use std::time::{Duration, Instant};
    use trundle::desk::words;
    use trundle::recorder::capture_read::read_capture;
    use trundle::recorder::live::LiveEvent;
    use trundle::shell::exit;
    use trundle_core::capture::Piece;
    use trundle_core::session::{Session, SessionEvent};
    use trundle_sim::serve::{Pacing, Ports, serve};
    use trundle_sim::{Scenario, Simulation};
    use trundle_tests::Draws;

    /// Jobs at a time: they mostly wait for ports and disk.
    const ABREAST: usize = 6;
    /// Simulated seconds for each second: a pass in about half a second.
    const PACE: f64 = 40.0;
    /// Longest life of a program whose time to die is drawn freely, seconds.
    const LIFE_S: f64 = 2.5;
    /// Longest wait for a line after which it is to die.
    const PATIENCE: Duration = Duration::from_secs(20);

    /// What came of all rounds.
    #[derive(Default)]
    struct Sum {
        rounds: u64,
        /// Killed before anything was recorded.
        early: u64,
        /// Captures that ended inside a record.
        torn: u64,
        said: u64,
        presses: u64,
        kept: u64,
        faults: Vec<String>,
    }

    pub fn all() -> ExitCode {
        let mut args = std::env::args().skip(1);
        let mut number = |default| args.next().and_then(|n| n.parse().ok()).unwrap_or(default);
        let (rounds, seed): (u64, u64) = (number(300), number(1));
        let program = std::env::current_exe().unwrap().with_file_name("trundle");
        let started = Instant::now();
        let (next, sum) = (AtomicU64::new(0), Mutex::new(Sum::default()));
        std::thread::scope(|scope| {
            for _ in 0..ABREAST {
                scope.spawn(|| {
                    while let round = next.fetch_add(1, Ordering::Relaxed)
                        && round < rounds
                    {
                        one(&program, seed, round, &sum);
                    }
                });
            }
        });
        let sum = sum.into_inner().unwrap();
        println!("seed                       {seed}");
        println!("killed                     {}", sum.rounds);
        println!("  before a capture stood   {}", sum.early);
        println!("  inside a record          {}", sum.torn);
        println!("lines that said saved      {}", sum.said);
        println!("  of them board presses    {}", sum.presses);
        println!("  kept in the captures     {}", sum.kept);
        println!("faults                     {}", sum.faults.len());
        println!("seconds                    {:.0}", started.elapsed().as_secs_f64());
        sum.faults.iter().for_each(|fault| println!("FAULT {fault}"));
        let enough = sum.said > rounds && sum.early < rounds / 2;
        if !enough {
            println!("FAULT the kills came too early to say anything");
        }
        ExitCode::from(u8::from(!sum.faults.is_empty() || !enough))
    }

    /// A tractor behind two terminals until it is dropped.
    struct Tractor {
        stop: Arc<AtomicBool>,
        thread: Option<JoinHandle<()>>,
    }

    impl Tractor {
        fn start(folder: &Path, seed: u64) -> Self {
            let mut scenario =
                Scenario { passes: 60, course_m: 12.0, rest_s: 3.0, ..Scenario::default() };
            scenario.run_out_m = 4.0;
            let ports = Ports::open(Some(folder)).unwrap();
            let stop = Arc::new(AtomicBool::new(false));
            let halt = Arc::clone(&stop);
            let thread = std::thread::spawn(move || {
                let mut simulation = Simulation::new(&scenario, seed);
                let pacing = Pacing { pace: PACE, keep_open: true };
                serve(&mut simulation, &ports, pacing, &halt, &mut |_, _| {}).unwrap();
            });
            Self { stop, thread: Some(thread) }
        }
    }

    impl Drop for Tractor {
        fn drop(&mut self) {
            self.stop.store(true, Ordering::Relaxed);
            if let Some(thread) = self.thread.take() {
                // One that broke down has said so by itself.
                let _ = thread.join();
            }
        }
    }

    fn one(program: &Path, seed: u64, round: u64, sum: &Mutex<Sum>) {
        let folder = tempfile::tempdir().unwrap();
        let capture = folder.path().join("killed.capture");
        let said = {
            let _tractor = Tractor::start(folder.path(), seed ^ round << 20);
            let said = drive_and_kill(program, folder.path(), &capture, seed ^ round);
            said.into_iter().filter(|line| is_saved(line)).collect::<Vec<_>>()
        };
        let judged = judge(program, &capture, &said);
        let mut sum = sum.lock().unwrap();
        sum.rounds += 1;
        sum.said += said.len() as u64;
        sum.presses += said.iter().filter(|line| line.contains("by the board")).count() as u64;
        match judged {
            Ok(Judged::None) => sum.early += 1,
            Ok(Judged::Read { torn }) => {
                sum.torn += u64::from(torn);
                sum.kept += said.len() as u64;
            }
            Err(fault) => sum.faults.push(format!("seed {seed} round {round}: {fault}")),
        }
    }

    /// Start a job, let it live a while, kill it; gives all it said on its standard output.
    fn drive_and_kill(program: &Path, folder: &Path, capture: &Path, seed: u64) -> Vec<String> {
        let mut draws = Draws::new(seed);
        let file = |name: &str| folder.join(name);
        let mut child = Command::new(program)
            .args(["drive", "--length", "12 m", "--pace", &PACE.to_string(), "--board"])
            .arg(file("board"))
            .args(["--receiver-speed", "115200", "--receiver"])
            .arg(file("receiver"))
            .arg("--capture")
            .arg(capture)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap_or_else(|e| panic!("{} cannot be started: {e}", program.display()));
        let lines = Arc::new(Mutex::new(Vec::new()));
        let listener = listen(&mut child, Arc::clone(&lines));
        let saved = || lines.lock().unwrap().iter().filter(|line| is_saved(line)).count();
        let life = Duration::from_secs_f64(LIFE_S * draws.unit());
        let after = draws.below(2).checked_sub(1).map(|_| 1 + draws.below(25));
        let started = Instant::now();
        let mut stdin = child.stdin.take().unwrap();
        let mut typed = 0;
        loop {
            let dies = match after {
                Some(count) => saved() >= count || started.elapsed() > PATIENCE,
                None => started.elapsed() >= life,
            };
            if dies {
                break;
            }
            if started.elapsed() > Duration::from_millis(40) * typed {
                typed += 1;
                // Notes, and now and then a mark or an undo.
                let line = ["n wet grass", "n gate open", "n stone", "m", "u"][draws.below(5)];
                // A program that has ended takes nothing more, and is judged by what it said.
                let _ = writeln!(stdin, "{line}");
            }
            std::thread::sleep(Duration::from_micros(300));
        }
        child.kill().unwrap();
        child.wait().unwrap();
        listener.join().unwrap();
        std::mem::take(&mut *lines.lock().unwrap())
    }

    fn listen(child: &mut Child, into: Arc<Mutex<Vec<String>>>) -> JoinHandle<()> {
        let mut out = BufReader::new(child.stdout.take().unwrap());
        std::thread::spawn(move || {
            let mut line = String::new();
            // A line without its end was not said yet.
            while out.read_line(&mut line).is_ok() && line.ends_with('\n') {
                into.lock().unwrap().push(line.trim_end().to_owned());
                line.clear();
            }
        })
    }

    /// A line that a person takes for a promise.
    fn is_saved(line: &str) -> bool {
        ["saved", "undone", "not counted", "No pass is open", "nothing to undo"]
            .iter()
            .any(|words| line.contains(words))
            && !line.starts_with("- ")
            // A press that was turned away is in no capture, and nothing of it was promised.
            && !line.starts_with("Mark not ")
    }

    enum Judged {
        /// There is no capture yet.
        None,
        Read {
            torn: bool,
        },
    }

    /// Read the capture again, here and with the program itself.
    fn judge(program: &Path, capture: &PathBuf, said: &[String]) -> Result<Judged, String> {
        let length = std::fs::metadata(capture).map_or(0, |meta| meta.len());
        if length == 0 && said.is_empty() {
            return Ok(Judged::None);
        }
        let mut session = Session::default();
        let mut events = Vec::new();
        let mut torn = false;
        read_capture(capture, |piece| {
            torn |= matches!(piece, Piece::Damage(_));
            session.take(piece, &mut events);
        })
        .map_err(|trouble| format!("unreadable: {trouble}"))?;
        let mark = |e: &SessionEvent| {
            matches!(e, SessionEvent::Mark { .. } | SessionEvent::MarkLost { .. })
        };
        let again: Vec<String> = events
            .into_iter()
            .filter(mark)
            .filter_map(|event| words::event(&LiveEvent::Acknowledged(event)))
            .filter(|line| is_saved(line))
            .collect();
        if !again.starts_with(said) {
            let at = again.iter().zip(said).take_while(|(a, b)| a == b).count();
            return Err(format!("said {:?} as line {at}, kept {:?}", said.get(at), again.get(at)));
        }
        let worked = Command::new(program).arg("work").arg(capture).arg("--json").output().unwrap();
        let code = worked.status.code().and_then(|code| u8::try_from(code).ok());
        let sound = matches!(code, Some(exit::OK | exit::FLAGGED))
            && serde_json::from_slice::<serde_json::Value>(&worked.stdout).is_ok();
        if !sound {
            let words = String::from_utf8_lossy(&worked.stderr);
            return Err(format!("worked with code {code:?}: {words}"));
        }
        Ok(Judged::Read { torn })
    }
}
