//! `trundle check`: everything a measurement stands on, before the course is taped.

mod bench;

use super::recording::{PortArgs, recording_only, replay_or_record};
use crate::desk::task::{Do, Method, News, Rendered, Standing, Task, Turn};
use crate::recorder::live::LiveJob;
use crate::shell::exit::{self, Trouble};
use crate::shell::out::Voice;
use crate::shell::stop;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;
use trundle_core::result::check_v1;
use trundle_core::session::{Keeps, Session};
use trundle_core::survey::bench::Input;
use trundle_core::survey::sensors::check::{Check, CheckLine, Mark, check};
use trundle_protocol::message::{AskEdgeTrain, CHANNELS, ToBoard};
use trundle_protocol::units::{Channel, Fixed16};
use trundle_show::live::page::Shown;
use trundle_show::live::page::document::PageKind;
use trundle_show::live::page::listed::shown_check;
use trundle_show::model::View;
use trundle_show::stations::Markup;
use trundle_show::stations::measured as cards;
use trundle_show::text::check as check_text;

/// From one look at the counts to the next, while nothing moves, nanoseconds of the job's clock.
const ASK_EVERY_NS: u64 = 1_300_000_000;
/// What a train takes longer than its impulses, nanoseconds: the trip there and back.
const AFTER_TRAIN_NS: f64 = 400e6;
/// Longest wait for a train, nanoseconds: the board gives up on one without edges after as long.
const TRAIN_MAX_NS: f64 = 5e9;
/// Intervals of one train: four turns of a ring of 60, and then some, in a second at working
/// speed.
const INTERVALS: u16 = 320;
/// Impulses since the last look from which a sensor is asked: at standstill a request would only
/// wait.
const MOVING: u64 = 40;
/// From one look at the whole to the next, nanoseconds of the job's clock.
const CHECK_EVERY_NS: u64 = 5_000_000_000;
/// What the driver does.
const STEPS: &str = "\
The check, before the course is taped. Read this to the end now, not while driving:
1. Let the tractor stand for half a minute, engine running, no one near it.
2. Roll off slowly, walking pace, for twenty seconds, and stop.
3. Drive straight at working speed for half a minute, and stop; stand again.
Never look at or touch the screen while the tractor moves. The check ends by itself when all is
tested; at standstill, q ends it.";

/// Check board, receiver and sensors before the course is taped; with --bench the board alone.
#[derive(Debug, clap::Args)]
pub struct CheckArgs {
    /// A capture to check; without one, the check is live.
    #[arg(value_name = "CAPTURE", conflicts_with_all = recording_only())]
    pub recorded: Option<PathBuf>,
    /// Check the counter board alone, on the bench: its own test signal is bridged to each input.
    #[arg(long)]
    pub bench: bool,
    /// With --bench: only these inputs (wheel, radar, pto, implement, button, gate).
    #[arg(long, value_name = "INPUT", value_delimiter = ',', requires = "bench",
        value_parser = bench::input)]
    pub input: Vec<Input>,
    /// Ports and file of the recording.
    #[command(flatten)]
    pub ports: PortArgs,
    /// Print the result as one JSON object; everything else goes to stderr.
    #[arg(long)]
    pub json: bool,
}

/// Run it; gives the exit code: 1 when a line failed or could not be judged.
///
/// # Errors
/// [`Trouble`]: capture (5), ports (2, 3, 4), storage (2, 4, 6).
pub fn run(args: &CheckArgs) -> Result<u8, Trouble> {
    if args.bench {
        return bench::run(args);
    }
    let (recorded, voice) = (args.recorded.as_deref(), Voice { json: args.json });
    let done = replay_or_record(recorded, &args.ports, Keeps::Trail(0), voice, STEPS, Watch::new)?;
    Ok(done.map_or_else(stop::code, |done| done.code))
}

struct Checking;

impl Method for Checking {
    type Worked = Check;

    fn work(&self, session: &Session, growing: bool) -> Check {
        let trail = session.trail().unwrap_or_default();
        check(&trail, &session.totals(), growing || session.ended())
    }

    fn rendered(&self, checked: &Check) -> Rendered {
        Rendered {
            text: check_text::render(checked),
            json: check_v1::to_json(checked),
            code: if checked.passes() { exit::OK } else { exit::FLAGGED },
        }
    }

    fn card(&self, checked: &Check, _: &Session) -> Option<Markup> {
        Some(cards::check(checked))
    }
}

/// Asks for edge times and looks at what has come, until all is judged or somebody ends it.
struct Watch {
    request: u8,
    /// When the counts were looked at last, and when they are to be looked at again.
    looked_ns: u64,
    ask_ns: u64,
    checked_ns: u64,
    /// Counts at the last request of each input.
    counts: [u64; CHANNELS],
    last_asked: Channel,
    shown: Vec<(&'static str, Mark)>,
    newest: Option<Check>,
}

impl Task for Watch {
    type Method = Checking;

    fn method(&self) -> Arc<Checking> {
        Arc::new(Checking)
    }

    fn typed(&mut self, line: &str, _: &Standing) -> Do {
        if line == "q" { Do::End } else { Do::Say("q ends the check.".to_owned()) }
    }

    fn due(&mut self, turn: &Turn<'_>) -> bool {
        let now_ns = turn.job.clock().now_ns();
        if now_ns >= self.ask_ns {
            self.ask_ns = now_ns + ASK_EVERY_NS;
            self.ask(turn.job, now_ns);
        }
        let due = now_ns >= self.checked_ns + CHECK_EVERY_NS;
        if due {
            self.checked_ns = now_ns;
        }
        due
    }

    fn news(&mut self, checked: Check, _: Duration) -> News {
        let lines = checked.lines.iter().filter_map(|line| self.changed(line)).collect();
        let over = checked.judged();
        self.newest = Some(checked);
        News { lines, over, ..News::default() }
    }

    fn page_kind(&self) -> PageKind {
        PageKind::Listed
    }

    fn shown(&self, view: &View) -> Shown {
        shown_check(view, self.newest.as_ref())
    }
}

impl Watch {
    const fn new() -> Self {
        Self {
            request: 0,
            looked_ns: 0,
            ask_ns: ASK_EVERY_NS,
            checked_ns: 0,
            counts: [0; CHANNELS],
            last_asked: Channel::Radar,
            shown: Vec::new(),
            newest: None,
        }
    }

    /// Ask the sensor whose turn it is for edge times, if it moves; else the other one.
    fn ask(&mut self, job: &LiveJob, now_ns: u64) {
        let Some(counts) = job.look().sample.map(|sample| sample.impulses) else { return };
        let moving =
            |channel: Channel| counts[channel.index()] >= self.counts[channel.index()] + MOVING;
        let first = if self.last_asked == Channel::Wheel { Channel::Radar } else { Channel::Wheel };
        let turn = [first, self.last_asked].into_iter().find(|&channel| moving(channel));
        let before = std::mem::replace(&mut self.counts, counts);
        let passed_ns = now_ns.saturating_sub(std::mem::replace(&mut self.looked_ns, now_ns));
        let Some(channel) = turn else { return };
        // A request that comes while a train is under way is refused: wait until it is over.
        let moved = (counts[channel.index()] - before[channel.index()]) as f64;
        let train_ns = f64::from(INTERVALS) / moved * passed_ns as f64;
        self.ask_ns = now_ns + (train_ns + AFTER_TRAIN_NS).min(TRAIN_MAX_NS) as u64;
        self.last_asked = channel;
        self.request = self.request.wrapping_add(1);
        let ask = AskEdgeTrain { request: self.request, channel, intervals: Fixed16(INTERVALS) };
        job.command_board(&ToBoard::AskEdgeTrain(ask));
    }

    /// A line that was first judged, or is judged otherwise now.
    fn changed(&mut self, line: &CheckLine) -> Option<String> {
        match self.shown.iter_mut().find(|(key, _)| *key == line.key) {
            Some((_, before)) if *before == line.mark => return None,
            Some((_, before)) => *before = line.mark,
            None if line.mark == Mark::NotSeen => return None,
            None => self.shown.push((line.key, line.mark)),
        }
        Some(check_text::one(line))
    }
}
