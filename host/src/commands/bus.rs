//! `trundle bus`: the speeds on the implement bus against the satellites, live or from a capture.

use super::recording::{PortArgs, recording_only, replay_or_record};
use super::typed::within;
use crate::desk::task::{Do, Method, News, Rendered, Standing, Task, Turn};
use crate::desk::worker::Rhythm;
use crate::ports::choose::BusPart;
use crate::shell::exit::{self, Trouble};
use crate::shell::out::Voice;
use crate::shell::stop;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;
use trundle_core::cautions;
use trundle_core::result::bus_v1;
use trundle_core::session::trail::THINNED_US;
use trundle_core::session::{Keeps, Session};
use trundle_core::survey::bus::{BusSurvey, KeyedIn, survey};
use trundle_show::live::page::Shown;
use trundle_show::live::page::document::PageKind;
use trundle_show::live::page::listed::shown_bus;
use trundle_show::model::View;
use trundle_show::stations::Markup;
use trundle_show::stations::measured as cards;
use trundle_show::text::bus as bus_text;

/// The keys, in one line each.
const HELP: &str = "\
Drive 100 m or more straight ahead, stop, and drive off again; twice or more.
(Enter)     show what the bus shows now
q           (Enter) end and show the result; stop the tractor first";
/// What is older is not shown as if it were live, seconds.
const STALE_S: f64 = 2.0;

/// Listen to the implement bus beside the satellite receiver: by how much each speed there is too
/// high or too low, how late it is, and which one implements are given.
///
/// The adapter is opened to listen only; nothing is ever sent to the bus.
#[derive(Debug, clap::Args)]
pub struct BusArgs {
    /// A capture to calculate, instead of recording.
    #[arg(value_name = "CAPTURE", conflicts_with_all = recording_only())]
    pub recorded: Option<PathBuf>,
    /// Ports and file of the recording.
    #[command(flatten)]
    pub ports: PortArgs,
    /// Go without a counter board.
    #[arg(long, conflicts_with_all = ["board", "recorded"])]
    pub no_board: bool,
    /// Impulses per 100 m that are keyed in for the wheel sensor: gives the value that fits.
    #[arg(long, value_name = "N", value_parser = within(1.0, 1_000_000.0))]
    pub wheel_value: Option<f64>,
    /// The same for the radar.
    #[arg(long, value_name = "N", value_parser = within(1.0, 1_000_000.0))]
    pub radar_value: Option<f64>,
    /// Print the result as one JSON object; everything else goes to stderr.
    #[arg(long)]
    pub json: bool,
}

/// Run it; gives the exit code: 1 when no scale can be given.
///
/// # Errors
/// [`Trouble`]: the capture (4, 5), ports (2, 3, 4), storage (2, 4, 6).
pub fn run(args: &BusArgs) -> Result<u8, Trouble> {
    let voice = Voice { json: args.json };
    if args.recorded.is_none() {
        voice.say("Before the adapter is plugged in:");
        cautions::BUS.iter().for_each(|caution| voice.say(&format!("- {caution}")));
    }
    let keyed = KeyedIn { wheel: args.wheel_value, ground: args.radar_value };
    let ports =
        PortArgs { no_board: args.no_board, bus_part: BusPart::Needed, ..args.ports.clone() };
    let task = || Listening {
        method: Arc::new(Surveying(keyed)),
        now: String::new(),
        rhythm: Rhythm::default(),
        newest: None,
    };
    let done = replay_or_record(
        args.recorded.as_deref(),
        &ports,
        Keeps::Bus(THINNED_US),
        voice,
        HELP,
        task,
    )?;
    Ok(done.map_or_else(stop::code, |done| done.code))
}

struct Surveying(KeyedIn);

impl Method for Surveying {
    type Worked = Option<BusSurvey>;

    fn work(&self, session: &Session, _growing: bool) -> Option<BusSurvey> {
        survey(&session.trail()?)
    }

    fn rendered(&self, surveyed: &Option<BusSurvey>) -> Rendered {
        let streams = surveyed.iter().flat_map(|survey| &survey.streams);
        let given = streams.filter(|stream| stream.scale.is_ok()).count();
        Rendered {
            text: bus_text::render(surveyed.as_ref(), &self.0),
            json: bus_v1::to_json(surveyed.as_ref(), &self.0),
            code: if given > 0 { exit::OK } else { exit::FLAGGED },
        }
    }

    fn card(&self, surveyed: &Option<BusSurvey>, _: &Session) -> Option<Markup> {
        Some(cards::bus(surveyed.as_ref(), &self.0))
    }
}

/// Shows what the bus shows, when asked, and the result at the end.
struct Listening {
    method: Arc<Surveying>,
    now: String,
    rhythm: Rhythm,
    newest: Option<BusSurvey>,
}

impl Task for Listening {
    type Method = Surveying;

    fn method(&self) -> Arc<Surveying> {
        Arc::clone(&self.method)
    }

    fn typed(&mut self, line: &str, _: &Standing) -> Do {
        match line {
            "q" => Do::End,
            "" => Do::Say(self.now.clone()),
            _ => Do::Say(HELP.to_owned()),
        }
    }

    fn due(&mut self, turn: &Turn<'_>) -> bool {
        let look = turn.job.look();
        let stale_ns = (STALE_S * 1e9 * look.pace) as u64;
        bus_text::now(&look.bus_now, look.now_ns, stale_ns).clone_into(&mut self.now);
        turn.pictures && self.rhythm.due()
    }

    fn news(&mut self, surveyed: Option<BusSurvey>, took: Duration) -> News {
        self.rhythm.took(took);
        self.newest = surveyed;
        News::default()
    }

    fn page_kind(&self) -> PageKind {
        PageKind::Listed
    }

    fn shown(&self, view: &View) -> Shown {
        shown_bus(view, self.newest.as_ref())
    }
}
