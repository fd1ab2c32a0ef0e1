//! `trundle pto`: impulses per revolution of the PTO shaft, live or from a capture.

use super::active;
use super::recording::{PortArgs, recording_only, replay_or_record};
use super::typed::within;
use crate::desk::task::{Do, Method, News, Rendered, Standing, Task, Turn};
use crate::recorder::live::LiveEvent;
use crate::shell::exit::{self, Trouble};
use crate::shell::out::Voice;
use crate::shell::stop;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;
use trundle_core::cautions;
use trundle_core::result::pto_v1;
use trundle_core::session::marks::Ruling;
use trundle_core::session::presses::Wish;
use trundle_core::session::trail::THINNED_US;
use trundle_core::session::{Keeps, Session, SessionEvent};
use trundle_core::survey::pto::{DISPLAY_STEP_RPM, Pto, PtoOptions, note_of, note_out, pto};
use trundle_protocol::message::{SetMinEdgeInterval, ToBoard};
use trundle_protocol::units::{Channel, Fixed32};
use trundle_show::live::page::Shown;
use trundle_show::live::page::document::{PageKind, PageLine};
use trundle_show::live::page::listed::{PTO_LINES, shown_pto};
use trundle_show::live::speeds::Rates;
use trundle_show::model::View;
use trundle_show::stations::Markup;
use trundle_show::stations::measured as cards;
use trundle_show::text::pto as pto_text;

/// Input filter asked of the board, microseconds: 40 impulses per revolution at 1300 rpm,
/// the fastest PTO type (ISO 500-1, as an encyclopaedia quotes it), come every 1154 us.
const EDGE_LIMIT_US: u32 = 500;
/// The keys, in one line each.
const HELP: &str = "\
Hold a shaft speed for ten seconds, read the tractor's display, type it:
540         (Enter) a reading of 540 rpm; two or more different speeds are best
x           reject the last reading
n TEXT      note
r           calculate now
q           end and show the result";

/// Find the impulses per revolution of the PTO shaft, from shaft speeds read off the tractor's
/// display.
///
/// All of it from the seat, with the shaft detached or fully guarded and nobody near. Readings
/// are notes in the capture (`shaft 540`), so the same command recalculates it.
#[derive(Debug, clap::Args)]
pub struct PtoArgs {
    /// A capture to recalculate, instead of recording.
    #[arg(value_name = "CAPTURE", conflicts_with_all = recording_only())]
    pub recorded: Option<PathBuf>,
    /// Ports and file of the recording.
    #[command(flatten)]
    pub ports: PortArgs,
    /// How to calculate.
    #[command(flatten)]
    pub how: PtoHow,
    /// Print the result as one JSON object; everything else goes to stderr.
    #[arg(long)]
    pub json: bool,
}

/// How to calculate impulses per revolution.
#[derive(Clone, Debug, Default, PartialEq, clap::Args)]
pub struct PtoHow {
    /// Last step of the tractor's shaft speed display, rpm; 10 is assumed if not given.
    #[arg(long, value_name = "RPM", value_parser = within(0.01, 100.0))]
    pub display_step: Option<f64>,
    /// Impulses per revolution set in the implement's terminal: says what is wrong with it. The
    /// rig's if not given.
    #[arg(long, value_name = "N", value_parser = within(0.1, 1000.0))]
    pub set_now: Option<f64>,
}

impl PtoHow {
    /// The same for the maths; `of_rig` is what the rig says is set in the terminal.
    #[must_use]
    pub fn options(&self, of_rig: impl FnOnce() -> Option<f64>) -> PtoOptions {
        PtoOptions {
            display_step_rpm: self.display_step.unwrap_or(DISPLAY_STEP_RPM),
            step_given: self.display_step.is_some(),
            set_now: self.set_now.or_else(of_rig),
        }
    }
}

/// Run it; gives the exit code: 1 when no number is given to enter.
///
/// # Errors
/// [`Trouble`]: the capture (4, 5), ports (2, 3, 4), storage (2, 4, 6).
pub fn run(args: &PtoArgs) -> Result<u8, Trouble> {
    let voice = Voice { json: args.json };
    if args.recorded.is_none() {
        voice.say("Before the shaft turns:");
        cautions::PTO.iter().for_each(|caution| voice.say(&format!("- {caution}")));
    }
    let of_rig = || active::rig(voice)?.rig.number("pto_impulses");
    let task = || Readings::new(args.how.options(of_rig));
    let recorded = args.recorded.as_deref();
    let done =
        replay_or_record(recorded, &args.ports, Keeps::Trail(THINNED_US), voice, HELP, task)?;
    Ok(done.map_or_else(stop::code, |done| done.code))
}

impl Method for PtoOptions {
    type Worked = Pto;

    fn work(&self, session: &Session, _growing: bool) -> Pto {
        let trail = session.trail().unwrap_or_default();
        pto(&trail, session.notes(), session.totals().capabilities, *self)
    }

    fn rendered(&self, found: &Pto) -> Rendered {
        let given = found.found.as_ref().is_ok_and(|found| found.to_enter().is_some());
        Rendered {
            text: pto_text::render(found),
            json: pto_v1::to_json(found),
            code: if given { exit::OK } else { exit::FLAGGED },
        }
    }

    fn card(&self, found: &Pto, _: &Session) -> Option<Markup> {
        Some(cards::pto(found))
    }
}

/// Readings of the display, typed as notes.
struct Readings {
    options: Arc<PtoOptions>,
    /// The board was asked for the input filter.
    filtered: bool,
    /// The shaft now, for a picture.
    rates: Rates,
    rate_hz: Option<f64>,
    newest: Option<Pto>,
}

impl Readings {
    fn new(options: PtoOptions) -> Self {
        let options = Arc::new(options);
        Self { options, filtered: false, rates: Rates::default(), rate_hz: None, newest: None }
    }
}

impl Task for Readings {
    type Method = PtoOptions;

    fn method(&self) -> Arc<PtoOptions> {
        Arc::clone(&self.options)
    }

    fn typed(&mut self, line: &str, _: &Standing) -> Do {
        let note = |text: &str| Do::Press(Wish::Note(text.to_owned()));
        match (line, line.strip_prefix("n ")) {
            ("q", _) => Do::End,
            ("x", _) => note(&note_out()),
            ("r", _) => Do::Result,
            (_, Some(text)) => note(text),
            _ => note_of(line).map_or_else(|| Do::Say(HELP.to_owned()), |text| note(&text)),
        }
    }

    /// Only with its note acknowledged is a reading on the disk.
    fn due(&mut self, turn: &Turn<'_>) -> bool {
        if !std::mem::replace(&mut self.filtered, true) {
            // A board that does not know the command, or is not there yet, keeps its own limit:
            // readings that it spoils are refused by the edges it refused.
            turn.job.command_board(&ToBoard::SetMinEdgeInterval(SetMinEdgeInterval {
                request: 0,
                channel: Channel::Pto,
                interval_us: Fixed32(EDGE_LIMIT_US),
            }));
        }
        if let Some(sample) = turn.job.look().sample.filter(|_| turn.pictures) {
            self.rates.take(sample);
            self.rate_hz = self.rates.impulses_per_s()[Channel::Pto.index()];
        }
        let noted = |event: &LiveEvent| {
            matches!(
                event,
                LiveEvent::Acknowledged(SessionEvent::Mark { ruling: Ruling::Note, .. })
            )
        };
        turn.events.iter().any(noted)
    }

    fn news(&mut self, found: Pto, _: Duration) -> News {
        let lines = vec![latest(&found)];
        self.newest = Some(found);
        News { lines, ..News::default() }
    }

    fn page_kind(&self) -> PageKind {
        PageKind::Listed
    }

    fn page_lines(&self) -> &'static [PageLine] {
        PTO_LINES
    }

    fn shown(&self, view: &View) -> Shown {
        shown_pto(view, self.newest.as_ref(), self.rate_hz)
    }
}

/// How things stand after a note.
fn latest(pto: &Pto) -> String {
    let Some(reading) = pto.readings.last() else { return "No reading so far.".to_owned() };
    let (number, shown) = (pto.readings.len(), reading.shown_rpm);
    match reading.rate {
        Ok(rate) => format!(
            "Reading {number}: {shown} rpm, {:.2} impulses/s, {:.3} per revolution.",
            rate.rate_hz,
            rate.rate_hz / (shown / 60.0)
        ),
        Err(refusal) => {
            format!("Reading {number}: {shown} rpm is NOT USED: {refusal}. Hold it and type again.")
        }
    }
}
