//! `trundle slip`: wheel slip, live or from a capture.

mod figure;
mod how;
mod log;

pub use figure::from_rig;
pub use how::HowArgs;
use log::{Log, Slipping};

use super::export::{origin, refused};
use super::recording::{PortArgs, ScreenArgs, begin, recording_only, serve};
use super::result::say_practice;
use super::typed::positive;
use super::work::{facts, replay_with_trail};
use super::{active, piped};
use crate::desk::face::Manner;
use crate::desk::given::{self, Given};
use crate::desk::paged::{PageArgs, PageWish};
use crate::desk::task::Method as _;
use crate::shell::exit::{self, Trouble};
use crate::shell::out::Voice;
use crate::shell::{files, out, stop};
use crate::store::settings::Settings;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use trundle_core::result::slip_v1;
use trundle_core::session::trail::THINNED_US;
use trundle_core::session::{Keeps, Session};
use trundle_core::survey::ride::RideRefusal;
use trundle_core::survey::slip::compare::{Difference, compare};
use trundle_core::survey::slip::{Slip, SlipOptions, SlipRefusal, slip};
use trundle_show::export::{self, Format};
use trundle_show::html::slip as slip_html;
use trundle_show::stations::measured as cards;
use trundle_show::svg::slip_map;
use trundle_show::text::slip as slip_text;

/// Calculate slip, from a capture or while driving.
#[derive(Debug, clap::Args)]
pub struct SlipArgs {
    /// The capture; - reads it from the standard input and prints one line of JSON. Without one,
    /// slip is recorded and shown live until q is typed.
    #[arg(value_name = "CAPTURE", conflicts_with_all = recording_only())]
    pub work: Option<PathBuf>,
    /// How to calculate slip.
    #[command(flatten)]
    pub how: HowArgs,
    /// Earlier capture of the same ground to compare with, at the same places.
    #[arg(long, value_name = "CAPTURE")]
    pub compare: Option<PathBuf>,
    /// Zero-slip value of the earlier capture, if it had other tyres.
    #[arg(long, value_name = "N", requires = "compare", value_parser = positive)]
    pub compare_value: Option<f64>,
    /// Also write a page with a map, for browser and paper; an existing file is replaced.
    #[arg(long, value_name = "FILE")]
    pub report: Option<PathBuf>,
    /// Also write the sections as GeoJSON (RFC 7946).
    #[arg(long, value_name = "FILE")]
    pub geojson: Option<PathBuf>,
    /// Also write the sections as tracks (GPX 1.1).
    #[arg(long, value_name = "FILE")]
    pub gpx: Option<PathBuf>,
    /// Also write the sections as a table (RFC 4180).
    #[arg(long, value_name = "FILE")]
    pub csv: Option<PathBuf>,
    /// Print one JSON object and nothing else.
    #[arg(long)]
    pub json: bool,
    /// Screen or lines, while recording.
    #[command(flatten)]
    pub screen: ScreenArgs,
    /// As a page for phone or tablet, while recording.
    #[command(flatten)]
    pub page: PageArgs,
    /// Ports and file of a live recording.
    #[command(flatten)]
    pub ports: PortArgs,
}

/// Run it; gives the exit code.
///
/// # Errors
/// [`Trouble`] when a capture cannot be read, a value cannot be had, a port is missing, or a file
/// cannot be written.
pub fn run(args: &SlipArgs) -> Result<u8, Trouble> {
    let mut options = args.how.options()?;
    match &args.work {
        Some(_) if args.page.page => Err(Trouble::new(
            exit::USAGE,
            "--page shows a recording that goes on, and a capture was named.",
            "Nothing was calculated.",
            "Leave --page out; --report FILE writes a page of a capture.",
        )),
        Some(path) => {
            let session = session_of(args, path)?;
            from_rig(&mut options, active::named_in(&session))?;
            let slipping = Slipping { options, capture: path.clone() };
            let code = show(args, &slipping, &session, &slipping.work(&session, false))?;
            say_practice(&session, args.json || piped::is_piped(path));
            Ok(code)
        }
        None => {
            from_rig(&mut options, None)?;
            live(args, options)
        }
    }
}

/// What the capture holds.
fn session_of(args: &SlipArgs, path: &Path) -> Result<Session, Trouble> {
    if !piped::is_piped(path) {
        return replay_with_trail(path, THINNED_US);
    }
    piped::without("--report", args.report.is_some())?;
    piped::without("--geojson", args.geojson.is_some())?;
    piped::without("--gpx", args.gpx.is_some())?;
    piped::without("--csv", args.csv.is_some())?;
    piped::replay(Keeps::Trail(THINNED_US).session())
}

/// Print a result in every form that was asked for.
fn show(
    args: &SlipArgs,
    slipping: &Slipping,
    session: &Session,
    worked: &Result<Slip, SlipRefusal>,
) -> Result<u8, Trouble> {
    let compare = |slip| compared(args, &slipping.options, slip);
    let compared = worked.as_ref().ok().map(compare).transpose()?.flatten();
    let mut rendered = slipping.rendered(worked);
    if let (Ok(slip), Some(compared)) = (worked, &compared) {
        rendered.text = slip_text::render(slip, Some(compared));
        rendered.json = slip_v1::to_json(slip, Some(compared));
    }
    given::give(|| given(args, slipping, session, worked, compared.as_ref()));
    let piped = piped::is_piped(&slipping.capture);
    out::say_either(args.json || piped, || rendered.json, || rendered.text);
    if let (Ok(slip), false) = (worked, piped) {
        let found = compared.as_ref().and_then(|c| c.as_ref().ok());
        write_files(args, slip, found, &slipping.capture, session)?;
    }
    let refused = compared.is_some_and(|c| c.is_err());
    Ok(if refused { exit::FLAGGED } else { rendered.code })
}

/// The same for a station.
fn given(
    args: &SlipArgs,
    slipping: &Slipping,
    session: &Session,
    worked: &Result<Slip, SlipRefusal>,
    compared: Option<&Result<Difference, SlipRefusal>>,
) -> Given {
    let earlier = args.compare.as_deref().map(files::name).unwrap_or_default();
    let compared = compared.map(|found| found.map(|found| (earlier, found)));
    let paper = match worked {
        Ok(slip) => facts(session, &slipping.capture, None, false).ok().map(|facts| {
            slip_html::page(slip, &facts, compared.as_ref().and_then(|found| found.as_ref().ok()))
        }),
        Err(_) => slipping.page(worked, session, false).ok(),
    };
    let map = |slip: &Slip| slip_map::alone(&slip.sections);
    Given {
        card: Some(cards::slip(worked, compared.as_ref(), &Settings::reading_in_force())),
        drawing: worked.as_ref().ok().and_then(map),
        paper,
    }
}

/// Every file that was asked for.
fn write_files(
    args: &SlipArgs,
    worked: &Slip,
    compared: Option<&Difference>,
    capture: &Path,
    session: &Session,
) -> Result<(), Trouble> {
    let facts = facts(session, capture, None, false)?;
    let files =
        [(&args.geojson, Format::GeoJson), (&args.gpx, Format::Gpx), (&args.csv, Format::Csv)];
    if files.iter().any(|(path, _)| path.is_some()) {
        let windows = export::slip::export(&[(origin(&facts), worked.clone())]);
        for (path, format) in files {
            if let Some(path) = path {
                let bytes = windows.bytes(format, false).map_err(refused)?;
                files::replace(path, &bytes)?;
            }
        }
    }
    let Some(path) = &args.report else { return Ok(()) };
    let earlier = args.compare.as_deref().map(files::name).unwrap_or_default();
    let compared = compared.map(|found| (earlier, *found));
    files::replace_page(path, &slip_html::page(worked, &facts, compared.as_ref()))?;
    out::notice(&format!("The page is in {}", path.display()));
    Ok(())
}

/// The earlier capture, calculated the same way, and the difference.
fn compared(
    args: &SlipArgs,
    options: &SlipOptions,
    now: &Slip,
) -> Result<Option<Result<Difference, SlipRefusal>>, Trouble> {
    let Some(path) = &args.compare else { return Ok(None) };
    let mut options = options.clone();
    if let Some(n) = args.compare_value {
        options.zero_slip = Some(figure::given(n, args.how.zero_slip_percent));
    }
    let earlier = replay_with_trail(path, THINNED_US)?.trail().unwrap_or_default();
    let earlier = slip(&earlier, &options);
    Ok(Some(earlier.and_then(|earlier| compare(&earlier, now))))
}

/// Record, show the last section now and then, and calculate the whole at the end.
fn live(args: &SlipArgs, options: SlipOptions) -> Result<u8, Trouble> {
    let voice = Voice { json: args.json };
    if args.ports.no_receiver {
        let refused = RideRefusal::NoFixes;
        let what = "Slip is measured against the ground, which takes a satellite receiver.";
        let trouble = Trouble::new(exit::USAGE, what, refused.means(), "Leave --no-receiver out.");
        return Err(trouble.of_option("no-receiver"));
    }
    if options.zero_slip.is_none() {
        let no = SlipRefusal::NoZeroSlip;
        return Err(Trouble::new(exit::USAGE, no.to_string(), no.means(), no.next()));
    }
    args.page.check()?;
    let Some(recording) = begin(&args.ports, None, Keeps::Trail(THINNED_US), voice)? else {
        return Ok(stop::code());
    };
    let slipping = Arc::new(Slipping { options, capture: recording.capture.clone() });
    let manner = Manner {
        voice,
        help: "Drive off, and the slip of each section is shown. q ends, n TEXT writes a note.",
        standing: false,
        screen: args.screen.play("trundle slip", &slipping.capture, args.json),
        page: Some(PageWish {
            args: &args.page,
            title: "Trundle: slip",
            handbook: super::book::whole,
        }),
    };
    let ended = serve(recording, Log::new(Arc::clone(&slipping)), None, manner)?;
    ended.close(show(args, &slipping, &ended.session, &ended.worked)?)
}
