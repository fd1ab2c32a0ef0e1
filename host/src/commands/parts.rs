//! What is signed off beside a measured course: each part calculated from its own capture.

use super::mount::MountHow;
use super::proof::how::ProofHow;
use super::proof::register;
use super::pto::PtoHow;
use super::sign::course::Course;
use super::speeds::SpeedsHow;
use crate::packed::plain::{self, Named};
use crate::recorder::replay::replay;
use crate::shell::exit::{self, Trouble};
use crate::shell::files;
use std::path::{Path, PathBuf};
use trundle_core::result::part_of::part;
use trundle_core::result::part_v1::{PartMethodV1, PartV1, ProofMethodV1, keeps, title};
use trundle_core::result::record_v1::CaptureV1;
use trundle_core::result::sign_off::{Said, signed_value};
use trundle_core::session::Session;
use trundle_core::survey::proof::Known;
use trundle_core::wire::clock_offset::ClockOffset;

/// The parts in the order of a record.
pub const ORDER: [&str; 4] = ["pto", "mount", "speeds", "proof"];
/// What is said when a part cannot be signed off.
const MEANS: &str = "Nothing was signed off. The captures are untouched.";

/// What else was measured on the visit.
#[derive(Clone, Debug, Default, clap::Args)]
pub struct PartArgs {
    /// Capture of `trundle pto`, signed off with it.
    #[arg(long, value_name = "CAPTURE")]
    pub pto: Option<PathBuf>,
    /// How to calculate the PTO.
    #[command(flatten)]
    pub pto_how: PtoHow,
    /// Capture of `trundle mount`, the antenna position, signed off with it.
    #[arg(long, value_name = "CAPTURE")]
    pub mount: Option<PathBuf>,
    /// How to calculate the antenna position.
    #[command(flatten)]
    pub mount_how: MountHow,
    /// Capture of `trundle speeds`, signed off with it.
    #[arg(long, value_name = "CAPTURE")]
    pub speeds: Option<PathBuf>,
    /// How to compare the speeds.
    #[command(flatten)]
    pub speeds_how: SpeedsHow,
    /// Capture of `trundle proof`, signed off with it: the value left in the terminal, measured.
    #[arg(long, value_name = "CAPTURE")]
    pub proof: Option<PathBuf>,
    /// What the proof drive is told of the terminal; the value keyed in is the one signed off.
    #[command(flatten)]
    pub proof_how: ProofHow,
}

/// A capture of a part, read.
pub struct Given {
    /// The part by its word.
    pub word: &'static str,
    /// The file.
    pub file: PathBuf,
    /// What it holds.
    pub session: Session,
}

/// A part that can be signed off.
pub struct Ready {
    /// As it stands in the record.
    pub part: PartV1,
    /// The file to save.
    pub file: PathBuf,
    /// It came from the simulator.
    pub practice: bool,
    /// How far computer and receiver lay apart while it was recorded.
    pub clocks: Option<ClockOffset>,
}

impl PartArgs {
    /// The captures that were given, read.
    ///
    /// # Errors
    /// Exit code 2 when a part is described and its capture is not given; the captures' (4, 5).
    pub fn given(&self) -> Result<Vec<Given>, Trouble> {
        let all = [
            (&self.pto, self.pto_how != PtoHow::default()),
            (&self.mount, self.mount_how != MountHow::default()),
            (&self.speeds, self.speeds_how != SpeedsHow::default()),
            (&self.proof, self.proof_how != ProofHow::default()),
        ];
        let mut given = Vec::new();
        for ((file, described), word) in all.into_iter().zip(ORDER) {
            if let Some(file) = file {
                let session = replay_for(file, word)?;
                given.push(Given { word, file: file.clone(), session });
            } else if described {
                let what =
                    format!("How to calculate the {} was given, no capture of it.", title(word));
                let next = format!("Give the capture with --{word}, or leave that out.");
                return Err(Trouble::new(exit::USAGE, what, MEANS, next));
            }
        }
        Ok(given)
    }

    /// How a part is to be calculated.
    fn method(
        &self,
        given: &Given,
        said: &Said,
        course: Option<&Course<'_>>,
    ) -> Result<PartMethodV1, Trouble> {
        Ok(match given.word {
            "pto" => self.pto_how.options(|| said.rig.rig.number("pto_impulses")).into(),
            "mount" => self.mount_how.options().into(),
            "speeds" => self.speeds_how.options().into(),
            _ => PartMethodV1::Proof(self.proof_method(&given.session, said, course)?),
        })
    }

    /// What is typed wins, then what is signed off with it, then what the capture notes, then the
    /// register as it stands.
    fn proof_method(
        &self,
        session: &Session,
        said: &Said,
        course: Option<&Course<'_>>,
    ) -> Result<ProofMethodV1, Trouble> {
        let before = Known::noted(session.notes()).or(register::of(&said.rig)?);
        let signed = course.and_then(|course| signed_value(&course.work, said));
        let known = match signed {
            Some(signed) => before.signed_with(signed),
            None => before,
        };
        let known = self.proof_how.known().or(known);
        // A drive elsewhere has a course of its own, or none.
        let elsewhere = |course: &Course<'_>| {
            session.course_text().is_some() && session.course_text() != course.session.course_text()
        };
        let given = said.course_toml.clone().filter(|_| !course.is_some_and(elsewhere));
        if let Some(text) = &given {
            super::result::course(text)?;
        }
        Ok(ProofMethodV1::of(given, &known, self.proof_how.stated(said.rate_l_per_ha)))
    }

    /// The parts of the captures that were given, calculated for what is said with them and for the
    /// course that is signed off with them.
    ///
    /// # Errors
    /// Exit code 1 when one has no result, 2 for a course that cannot be read; the captures' and
    /// the register's (4, 5).
    pub fn ready(
        &self,
        given: Vec<Given>,
        said: &Said,
        course: Option<&Course<'_>>,
    ) -> Result<Vec<Ready>, Trouble> {
        let ready = |one: Given| {
            let method = self.method(&one, said, course)?;
            ready(&one.file, &one.session, method, None)
        };
        given.into_iter().map(ready).collect()
    }
}

/// Feed the capture of the part with this word to a session that keeps what the part needs.
///
/// # Errors
/// The capture's (4, 5).
pub fn replay_for(file: &Path, word: &str) -> Result<Session, Trouble> {
    replay(file, || keeps(word).session())
}

/// A part of a capture; `name` is what people know its file by, when that is not its own name.
///
/// # Errors
/// Exit code 1 when it has no result; the capture's (4, 5).
pub fn ready(
    file: &Path,
    session: &Session,
    method: PartMethodV1,
    name: Option<&str>,
) -> Result<Ready, Trouble> {
    let mut capture = capture_of(file, session)?;
    if let Some(name) = name {
        name.clone_into(&mut capture.name);
    }
    let (word, title) = (method.word(), method.title());
    let part = part(session, method, capture).map_err(|why| {
        let what = format!("{}: there is no result for the {title}: {why}.", file.display());
        let next = format!("See `trundle {word}` for what to do, or sign off without it.");
        Trouble::new(exit::FLAGGED, what, MEANS, next)
    })?;
    let practice = session.header().is_some_and(|header| header.practice);
    let clocks = session.totals().receiver.clock;
    Ok(Ready { part, file: file.to_owned(), practice, clocks })
}

/// Parts in the order of a record: those given anew, and the others as they were.
#[must_use]
pub fn in_order(mut all: Vec<Ready>) -> Vec<Ready> {
    let place = |one: &Ready| ORDER.iter().position(|word| *word == one.part.method.word());
    all.sort_by_key(place);
    all
}

/// What a record says of a capture.
///
/// # Errors
/// The capture's (4, 5).
pub fn capture_of(file: &Path, session: &Session) -> Result<CaptureV1, Trouble> {
    let Named { sha256, bytes, .. } = plain::name(file)?;
    Ok(CaptureV1 {
        name: files::name(file),
        sha256,
        bytes,
        started_utc: session.header().map(|h| h.started_utc.clone()).unwrap_or_default(),
    })
}
