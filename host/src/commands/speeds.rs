//! `trundle speeds`: do wheel, radar and satellite speed agree, live or from a capture.

use super::recording::{PortArgs, recording_only, replay_or_record};
use super::typed::within;
use super::work::facts;
use crate::desk::given::{self, Given};
use crate::desk::task::{Do, Method, News, Rendered, Standing, Task, Turn};
use crate::desk::worker::Rhythm;
use crate::shell::exit::{self, Trouble};
use crate::shell::out::Voice;
use crate::shell::{files, stop};
use crate::store::settings::Settings;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;
use trundle_core::result::speeds_v1;
use trundle_core::session::trail::THINNED_US;
use trundle_core::session::{Keeps, Session};
use trundle_core::survey::speeds::over_time::{Moment, over_time};
use trundle_core::survey::speeds::{ANGLE_DEG, Speeds, SpeedsOptions, SpeedsRefusal, speeds};
use trundle_show::html::work as html;
use trundle_show::live::page::Shown;
use trundle_show::live::page::document::PageKind;
use trundle_show::live::page::listed::shown_speeds;
use trundle_show::model::View;
use trundle_show::reading::SpeedUnit;
use trundle_show::stations::measured as cards;
use trundle_show::svg::over_time as drawing;
use trundle_show::text::speeds as speeds_text;

/// The keys, in one line each.
const HELP: &str = "\
Stand for half a minute, then hold several steady speeds, ten seconds each, straight ahead.
q           (Enter) end and show the result; stop the tractor first";

/// Compare wheel, radar and satellite speed: gain, offset, least usable speed, counts at
/// standstill.
#[derive(Debug, clap::Args)]
pub struct SpeedsArgs {
    /// A capture to calculate, instead of recording.
    #[arg(value_name = "CAPTURE", conflicts_with_all = recording_only())]
    pub recorded: Option<PathBuf>,
    /// Ports and file of the recording.
    #[command(flatten)]
    pub ports: PortArgs,
    /// How to compare.
    #[command(flatten)]
    pub how: SpeedsHow,
    /// Print the result as one JSON object; everything else goes to stderr.
    #[arg(long)]
    pub json: bool,
    /// Also write the result as a page for browser and paper; an existing file is replaced.
    #[arg(long, value_name = "FILE")]
    pub report: Option<PathBuf>,
}

/// How to compare the speeds.
#[derive(Clone, Debug, PartialEq, clap::Args)]
pub struct SpeedsHow {
    /// Impulses per metre that the radar should give: shows, as a hint, how far its beam would
    /// have to be off.
    #[arg(long, value_name = "N", value_parser = within(1.0, 10_000.0))]
    pub radar_nominal: Option<f64>,
    /// Angle of the radar's beam below the horizontal, degrees.
    #[arg(long, value_name = "DEGREES", default_value_t = ANGLE_DEG,
        value_parser = within(5.0, 85.0))]
    pub radar_angle: f64,
}

impl Default for SpeedsHow {
    fn default() -> Self {
        Self { radar_nominal: None, radar_angle: ANGLE_DEG }
    }
}

impl SpeedsHow {
    /// The same for the maths.
    #[must_use]
    pub const fn options(&self) -> SpeedsOptions {
        SpeedsOptions { radar_nominal_per_m: self.radar_nominal, radar_angle_deg: self.radar_angle }
    }
}

/// The comparison, and the speeds against time.
type Compared = (Result<Speeds, SpeedsRefusal>, Vec<Moment>);

/// Moments that are drawn: more than a phone has pixels for is of no use.
const DRAWN: usize = 400;

/// Run it; gives the exit code: 1 when the speeds do not agree or that cannot be determined.
///
/// # Errors
/// [`Trouble`]: the capture (4, 5), ports (2, 3, 4), storage and the page (2, 4, 6).
pub fn run(args: &SpeedsArgs) -> Result<u8, Trouble> {
    let voice = Voice { json: args.json };
    let options = args.how.options();
    let task = || Driving::new(Arc::new(Comparing(options)));
    let recorded = args.recorded.as_deref();
    let done =
        replay_or_record(recorded, &args.ports, Keeps::Trail(THINNED_US), voice, HELP, task)?;
    let Some(done) = done else { return Ok(stop::code()) };
    let (compared, _) = &done.worked;
    let page = || -> Result<String, Trouble> {
        Ok(html::speeds::page(compared, &facts(&done.session, &done.capture, None, false)?))
    };
    let unit = Settings::reading_in_force().speed;
    given::give(|| Given {
        card: Some(cards::speeds(compared, &done.worked.1, unit)),
        drawing: drawing::alone(&done.worked.1, unit),
        paper: page().ok(),
    });
    if let Some(path) = &args.report {
        let page = page()?;
        files::replace_page(path, &page)?;
        voice.say(&format!("The page is in {}", path.display()));
    }
    Ok(done.code)
}

struct Comparing(SpeedsOptions);

impl Method for Comparing {
    type Worked = Compared;

    fn work(&self, session: &Session, _growing: bool) -> Compared {
        let trail = session.trail().unwrap_or_default();
        (speeds(&trail, self.0), over_time(&trail, DRAWN))
    }

    fn rendered(&self, (compared, _): &Compared) -> Rendered {
        let sound = compared.as_ref().is_ok_and(|speeds| speeds_text::warnings(speeds).is_empty());
        Rendered {
            text: speeds_text::render(compared),
            json: speeds_v1::to_json(compared),
            code: if sound { exit::OK } else { exit::FLAGGED },
        }
    }
}

/// Shows what has been seen so far, where somebody looks.
struct Driving {
    method: Arc<Comparing>,
    rhythm: Rhythm,
    newest: Option<Compared>,
    /// Drawings so far.
    drawn: u64,
    /// In which unit they are read.
    unit: SpeedUnit,
}

impl Driving {
    fn new(method: Arc<Comparing>) -> Self {
        let unit = Settings::reading_in_force().speed;
        Self { method, rhythm: Rhythm::default(), newest: None, drawn: 0, unit }
    }
}

impl Task for Driving {
    type Method = Comparing;

    fn method(&self) -> Arc<Comparing> {
        Arc::clone(&self.method)
    }

    fn typed(&mut self, line: &str, _: &Standing) -> Do {
        if line == "q" { Do::End } else { Do::Say(HELP.to_owned()) }
    }

    fn due(&mut self, turn: &Turn<'_>) -> bool {
        turn.pictures && self.rhythm.due()
    }

    fn news(&mut self, compared: Compared, took: Duration) -> News {
        self.rhythm.took(took);
        let map = drawing::alone(&compared.1, self.unit);
        self.drawn += u64::from(map.is_some());
        self.newest = Some(compared);
        News { map, ..News::default() }
    }

    fn page_kind(&self) -> PageKind {
        PageKind::Drawn
    }

    fn shown(&self, view: &View) -> Shown {
        shown_speeds(view, self.newest.as_ref().map(|newest| &newest.0), self.drawn)
    }
}
