//! `trundle-sim`: a simulated tractor on two pseudo-terminals.

#![expect(clippy::disallowed_methods, clippy::disallowed_types, reason = "a command")]

/// The command, on systems that have pseudo-terminals.
#[cfg(unix)]
mod command {
    use clap::Parser;
    use std::io::Write as _;
    use std::path::PathBuf;
    use std::process::ExitCode;
    use std::sync::atomic::AtomicBool;
    use trundle_sim::image::{HARNESS, HostLine, Image};
    use trundle_sim::serve::{Pacing, Ports, serve, serve_image};
    use trundle_sim::{
        BenchFault, BenchInput, Fault, Port, ReceiverClass, Scenario, Simulation, Wish,
    };

    /// Simulate a tractor, its counter board and its satellite receiver on two pseudo-terminals.
    #[derive(Debug, Parser)]
    #[command(name = "trundle-sim", version)]
    struct Options {
        /// What to simulate; --list names the scenarios.
        #[arg(default_value = "plain")]
        scenario: String,
        /// Name the scenarios, say what each is for, and stop.
        #[arg(long)]
        list: bool,
        /// Same scenario and seed: same tractor, same errors, same bytes.
        #[arg(long, default_value_t = 1)]
        seed: u64,
        /// Simulated seconds for each second.
        #[arg(long, default_value_t = 1.0)]
        pace: f64,
        /// Seconds (of the clock on the wall) to stand before the first pass, so that the other
        /// program can be connected.
        #[arg(long, value_name = "SECONDS", default_value_t = 20.0)]
        lead_in: f64,
        /// Class of receiver: standalone, corrected or rtk.
        #[arg(long, value_name = "CLASS")]
        receiver: Option<String>,
        /// Passes to drive.
        #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=200))]
        passes: Option<u32>,
        /// Make links named `board`, `receiver` and, where the scenario has one, `bus` in this
        /// folder.
        #[arg(long, value_name = "FOLDER")]
        links: Option<PathBuf>,
        /// Write the truth to this file as JSON whenever a pass is finished, with what a terminal
        /// showed at the pegs.
        #[arg(long, value_name = "FILE")]
        truth: Option<PathBuf>,
        /// Run this firmware image (an ELF or UF2 file) under an emulated processor in the place of
        /// the simulated board.
        #[arg(long, value_name = "FILE")]
        image: Option<PathBuf>,
        /// Scenario `bench`: bridge the board's test pin to these inputs, one after the other
        /// (wheel, radar, pto, implement, button, gate).
        #[arg(long, value_name = "INPUT", value_delimiter = ',')]
        bridge: Vec<String>,
        /// Scenario `bench`: what is wrong with the board, as `drops:wheel`, `dead:radar`,
        /// `no-filter:pto`, `shaky:wheel`, `joined:wheel:radar` or `swapped:wheel:radar`.
        #[arg(long, value_name = "FAULT:INPUT")]
        board_fault: Vec<String>,
        /// The board's clock gains this much, parts per million.
        #[arg(long, value_name = "PPM", allow_hyphen_values = true,
            value_parser = clap::value_parser!(i32).range(-2_000..=2_000))]
        board_clock: Option<i32>,
        /// Firmware version that the board reports, as 0.1.0.
        #[arg(long, value_name = "VERSION", value_parser = version)]
        firmware: Option<[u8; 3]>,
        /// The image's line to the host is its serial line, not USB.
        #[arg(long, requires = "image")]
        uart: bool,
        /// Folder of the emulator's harness.
        #[arg(long, value_name = "FOLDER", default_value = HARNESS, requires = "image")]
        emulator: PathBuf,
        /// No mark button on the board: mark by hand in the other program.
        #[arg(long)]
        no_button: bool,
        /// Let the receiver's time begin now, not at the scenario's date.
        #[arg(long)]
        now: bool,
        /// Stop when the job is done (the default).
        #[arg(long, conflicts_with = "keep_open")]
        once: bool,
        /// Go on when the job is done, with the tractor standing, until interrupted.
        #[arg(long)]
        keep_open: bool,
    }

    /// Runs the command. Exit 0: done; 1: it could not be served; 2: wrong options.
    pub(crate) fn run() -> ExitCode {
        let options = Options::parse();
        if options.list {
            return say(&Scenario::list()).map_or(ExitCode::FAILURE, |()| ExitCode::SUCCESS);
        }
        let scenario = match scenario(&options) {
            Ok(scenario) => scenario,
            Err(message) => return complain(&message, 2),
        };
        match drive(&options, &scenario) {
            Ok(()) => ExitCode::SUCCESS,
            Err(message) => complain(&message, 1),
        }
    }

    fn say(text: &str) -> Result<(), String> {
        let mut out = std::io::stdout().lock();
        writeln!(out, "{text}")
            .and_then(|()| out.flush())
            .map_err(|error| format!("standard output cannot be written ({error}); stopped"))
    }

    fn complain(message: &str, code: u8) -> ExitCode {
        // When standard error is gone too, nobody is left to tell.
        let _ = writeln!(std::io::stderr(), "trundle-sim: {message}");
        ExitCode::from(code)
    }

    fn version(typed: &str) -> Result<[u8; 3], String> {
        let numbers: Option<Vec<u8>> = typed.split('.').map(|part| part.parse().ok()).collect();
        let numbers = numbers.and_then(|numbers| numbers.try_into().ok());
        numbers.ok_or_else(|| "three numbers from 0 to 255, as 0.1.0".to_owned())
    }

    /// Wire and faults of the board on the bench.
    fn bench(options: &Options, scenario: &mut Scenario) -> Result<(), String> {
        let input = |word: &String| {
            BenchInput::from_word(word).ok_or_else(|| {
                let known = BenchInput::ALL.map(BenchInput::word).join(", ");
                format!("there is no input `{word}`; try {known}")
            })
        };
        let fault = |words: &String| {
            BenchFault::from_words(words)
                .ok_or_else(|| format!("there is no board fault `{words}`; --help names them"))
        };
        if !options.bridge.is_empty() {
            scenario.bench.bridge = options.bridge.iter().map(input).collect::<Result<_, _>>()?;
        }
        scenario.bench.faults = options.board_fault.iter().map(fault).collect::<Result<_, _>>()?;
        scenario.board_drift_ppm = options.board_clock.map_or(scenario.board_drift_ppm, f64::from);
        scenario.bench.firmware = options.firmware.unwrap_or(scenario.bench.firmware);
        Ok(())
    }

    fn scenario(options: &Options) -> Result<Scenario, String> {
        let class = |word: &String| {
            ReceiverClass::from_word(word).ok_or_else(|| {
                format!("there is no receiver class `{word}`; try standalone, corrected or rtk")
            })
        };
        let wish = Wish {
            scenario: options.scenario.clone(),
            receiver: options.receiver.as_ref().map(class).transpose()?,
            passes: options.passes,
            no_button: options.no_button,
            lead_in_s: options.lead_in.clamp(0.0, 3600.0) * options.pace,
            start_utc_ns: options.now.then(now_utc_ns).transpose()?,
        };
        let mut scenario = wish.scenario().ok_or_else(|| {
            format!("there is no scenario `{}`; --list names them", options.scenario)
        })?;
        if !(options.pace.is_finite() && options.pace > 0.0) {
            return Err("the pace has to be above 0; try --pace 1".to_owned());
        }
        bench(options, &mut scenario)?;
        if options.image.is_some() && scenario.faults.iter().any(is_of_the_board) {
            return Err(format!(
                "scenario `{}` resets the board or spoils its line, which is only simulated; \
                 choose another scenario, or leave --image out",
                scenario.name
            ));
        }
        let of_simulated = !options.board_fault.is_empty() || options.firmware.is_some();
        if options.image.is_some() && of_simulated {
            let what = "--board-fault and --firmware are of the simulated board; leave them out, \
                        or --image";
            return Err(what.to_owned());
        }
        Ok(scenario)
    }

    /// The last whole second, Unix nanoseconds: a receiver's sentences come at round times.
    fn now_utc_ns() -> Result<i64, String> {
        let since = std::time::SystemTime::now()
            .duration_since(std::time::UNIX_EPOCH)
            .map_err(|_| "the computer's clock stands before 1970; set it".to_owned())?;
        let seconds = i64::try_from(since.as_secs()).ok();
        seconds
            .and_then(|seconds| seconds.checked_mul(1_000_000_000))
            .ok_or_else(|| "the computer's clock is centuries ahead; set it".to_owned())
    }

    fn is_of_the_board(fault: &Fault) -> bool {
        matches!(
            fault,
            Fault::BoardReset { .. }
                | Fault::BoardSilent { .. }
                | Fault::ByteDamage { port: Port::Board, .. }
        )
    }

    fn drive(options: &Options, scenario: &Scenario) -> Result<(), String> {
        let mut simulation = Simulation::new(scenario, options.seed);
        let links = options.links.as_deref();
        let mut ports = Ports::open(links).map_err(|error| error.to_string())?;
        if scenario.bus.is_some() {
            ports = ports.with_bus(links).map_err(|error| error.to_string())?;
        }
        say(&format!("scenario  {}, seed {}", scenario.name, options.seed))?;
        let lines = [("board", Some(&ports.board)), ("receiver", Some(&ports.receiver))];
        let lines = lines.into_iter().chain([("bus", ports.bus.as_ref())]);
        for (name, port) in lines.filter_map(|(name, port)| Some((name, port?))) {
            say(&format!("{name:8}  {}", port.path().display()))?;
        }
        if let Some(words) = simulation.keyed_in() {
            say(&format!("keyed in  {words}"))?;
        }
        let image = options.image.as_deref();
        let start = simulation.bench_start();
        let line = if options.uart { HostLine::Uart } else { HostLine::Usb };
        let mut image = image
            .map(|image| Image::start(image, &options.emulator, line, &start))
            .transpose()
            .map_err(|error| error.to_string())?;
        let pacing = Pacing { pace: options.pace, keep_open: options.keep_open };
        let mut written = 0;
        let mut failed = None;
        let stop = AtomicBool::new(false);
        let mut on_change = |simulation: &Simulation, doing: &str| {
            let seconds = simulation.now_us() / 1_000_000;
            let shown = simulation.shown().map_or_else(String::new, |words| format!("; {words}"));
            let line = format!("{:3}:{:02}  {doing}{shown}", seconds / 60, seconds % 60);
            let done = simulation.truth().passes.len();
            let mut outcome = say(&line);
            if outcome.is_ok() && done != written {
                written = done;
                outcome = write_truth(options, simulation);
            }
            if let Err(message) = outcome {
                failed = Some(message);
                stop.store(true, std::sync::atomic::Ordering::Relaxed);
            }
        };
        match &mut image {
            None => serve(&mut simulation, &ports, pacing, &stop, &mut on_change)
                .map_err(|error| error.to_string()),
            Some(image) => {
                serve_image(&mut simulation, image, &ports, pacing, &stop, &mut on_change)
                    .map_err(|error| error.to_string())
            }
        }?;
        failed.map_or_else(|| write_truth(options, &simulation), Err)
    }

    fn write_truth(options: &Options, simulation: &Simulation) -> Result<(), String> {
        let Some(path) = &options.truth else { return Ok(()) };
        let text = simulation.truth().to_json().map_err(|error| error.to_string())?;
        std::fs::write(path, text).map_err(|error| {
            format!("{} cannot be written ({error}); choose another --truth", path.display())
        })
    }
}

#[cfg(unix)]
fn main() -> std::process::ExitCode {
    command::run()
}

#[cfg(not(unix))]
fn main() -> std::process::ExitCode {
    use std::io::Write as _;
    let _ = writeln!(
        std::io::stderr(),
        "trundle-sim needs pseudo-terminals, which this system does not have; \
         practise with the --practice option of trundle's live commands instead"
    );
    std::process::ExitCode::FAILURE
}
