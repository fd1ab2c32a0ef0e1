//! `trundle mount`: the antenna position on the tractor, from driving.

use super::recording::{PortArgs, recording_only, replay_or_record};
use super::typed::{length_within, measure, positive, within};
use crate::desk::task::{Do, Method, News, Rendered, Standing, Task, Turn};
use crate::desk::worker::Rhythm;
use crate::shell::exit::{self, Trouble};
use crate::shell::out::Voice;
use crate::shell::stop;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;
use trundle_core::result::mount_v1;
use trundle_core::session::trail::THINNED_US;
use trundle_core::session::{Keeps, Session};
use trundle_core::survey::mount::{
    LINE_HELD_M, Mount, MountOptions, MountRefusal, TURN_SLIP, Taped, work,
};
use trundle_core::units::typed::Measure;
use trundle_show::live::page::Shown;
use trundle_show::live::page::document::PageKind;
use trundle_show::live::page::listed::shown_antenna;
use trundle_show::model::View;
use trundle_show::stations::Markup;
use trundle_show::stations::measured as cards;
use trundle_show::text::mount as mount_text;

/// What to do while it records.
const HELP: &str = "Stop, drive off, and drive: one line out and back a few times, then three full \
                    circles each way, slowly and steadily. Then stand, type q and Enter.";

/// Calculate the antenna position: right of the tractor's middle, ahead of the rear axle.
#[derive(Debug, clap::Args)]
pub struct MountArgs {
    /// The capture; without it, record now.
    #[arg(value_name = "CAPTURE", conflicts_with_all = recording_only())]
    pub recorded: Option<PathBuf>,
    /// Ports and file, when it records.
    #[command(flatten)]
    pub ports: PortArgs,
    /// How to calculate.
    #[command(flatten)]
    pub how: MountHow,
    /// Print one JSON object and nothing else on stdout.
    #[arg(long)]
    pub json: bool,
}

/// How to calculate the antenna position.
#[derive(Clone, Debug, PartialEq, clap::Args)]
pub struct MountHow {
    /// How well the driver held the line, standard uncertainty, metres.
    #[arg(long, value_name = "METRES", default_value_t = LINE_HELD_M,
        value_parser = within(0.0, 5.0))]
    pub line_held: f64,
    /// Uncertainty of the wheel's slip in turns, standard uncertainty, per cent.
    #[arg(long, value_name = "PERCENT", default_value_t = 100.0 * TURN_SLIP,
        value_parser = within(0.0, 5.0))]
    pub turn_slip: f64,
    /// Wheel impulses per 100 m, where known; else taken from the straights.
    #[arg(long, value_name = "N", value_parser = positive)]
    pub wheel_value: Option<f64>,
    /// Taped: antenna right of the middle: "0.35 m", "14 in"; left is negative.
    #[arg(long, value_name = "OFFSET", allow_hyphen_values = true,
        value_parser = measure(Measure::Offset))]
    pub taped_right: Option<f64>,
    /// Taped: antenna ahead of the rear axle: "1.5 m".
    #[arg(long, value_name = "OFFSET", allow_hyphen_values = true,
        value_parser = measure(Measure::Offset))]
    pub taped_ahead: Option<f64>,
    /// Taped: rear axle to the coupling point behind it: "1.1 m".
    #[arg(long, value_name = "LENGTH", value_parser = length_within(0.01, 20.0))]
    pub axle_to_hitch: Option<f64>,
}

impl Default for MountHow {
    fn default() -> Self {
        Self {
            line_held: LINE_HELD_M,
            turn_slip: 100.0 * TURN_SLIP,
            wheel_value: None,
            taped_right: None,
            taped_ahead: None,
            axle_to_hitch: None,
        }
    }
}

impl MountHow {
    /// The same for the maths.
    #[must_use]
    pub fn options(&self) -> MountOptions {
        MountOptions {
            line_held_m: self.line_held,
            turn_slip: self.turn_slip / 100.0,
            value_per_100m: self.wheel_value,
            taped: Taped {
                right_m: self.taped_right,
                ahead_m: self.taped_ahead,
                axle_to_hitch_m: self.axle_to_hitch,
            },
        }
    }
}

/// Run it; gives the exit code: 1 when a number is missing, contradicted or refused.
///
/// # Errors
/// [`Trouble`]: the capture cannot be read (4, 5), ports (2, 3, 4), storage (2, 4, 6).
pub fn run(args: &MountArgs) -> Result<u8, Trouble> {
    let method = Arc::new(Mounting(args.how.options()));
    let task = || Driving { method, rhythm: Rhythm::default(), newest: None };
    let (recorded, voice) = (args.recorded.as_deref(), Voice { json: args.json });
    let done =
        replay_or_record(recorded, &args.ports, Keeps::Trail(THINNED_US), voice, HELP, task)?;
    Ok(done.map_or_else(stop::code, |done| done.code))
}

struct Mounting(MountOptions);

impl Method for Mounting {
    type Worked = Result<Mount, MountRefusal>;

    fn work(&self, session: &Session, _growing: bool) -> Self::Worked {
        work(&session.trail().unwrap_or_default(), &self.0)
    }

    fn rendered(&self, worked: &Self::Worked) -> Rendered {
        let clean = worked.as_ref().is_ok_and(Mount::is_clean);
        Rendered {
            text: mount_text::render(worked),
            json: mount_v1::to_json(worked),
            code: if clean { exit::OK } else { exit::FLAGGED },
        }
    }

    fn card(&self, worked: &Self::Worked, _: &Session) -> Option<Markup> {
        Some(cards::antenna(worked))
    }
}

/// Shows what the drive has shown so far, where somebody sees it.
struct Driving {
    method: Arc<Mounting>,
    rhythm: Rhythm,
    newest: Option<Result<Mount, MountRefusal>>,
}

impl Task for Driving {
    type Method = Mounting;

    fn method(&self) -> Arc<Mounting> {
        Arc::clone(&self.method)
    }

    fn typed(&mut self, line: &str, _: &Standing) -> Do {
        if line == "q" { Do::End } else { Do::Say("q ends the recording.".to_owned()) }
    }

    fn due(&mut self, turn: &Turn<'_>) -> bool {
        turn.pictures && self.rhythm.due()
    }

    fn news(&mut self, worked: Result<Mount, MountRefusal>, took: Duration) -> News {
        self.rhythm.took(took);
        self.newest = Some(worked);
        News::default()
    }

    fn page_kind(&self) -> PageKind {
        PageKind::Listed
    }

    fn shown(&self, view: &View) -> Shown {
        shown_antenna(view, self.newest.as_ref())
    }
}
