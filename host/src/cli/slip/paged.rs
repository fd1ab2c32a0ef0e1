//! A slip log as a page for phone or tablet, with a map that grows.

use super::looking::Looks;
use crate::cli::drive::paged::{self, Closing, PageArgs, Play, Reply};
use crate::cli::recording::Voice;
use crate::cli::work::facts;
use crate::shell::exit::Trouble;
use crate::shell::live::{Finished, LiveJob};
use std::path::Path;
use trundle_core::session::Session;
use trundle_core::survey::slip::{Slip, SlipOptions, SlipRefusal, slip};
use trundle_show::html::slip as slip_html;
use trundle_show::html::slip::SlipFacts;
use trundle_show::live::page::slip::shown_slip;
use trundle_show::svg::slip_map;

/// Windows on the live map: the newest, so that a long day's map stays small enough for a phone.
const MAPPED: usize = 1500;

/// Serve until the job is to end; `None` when no page is wanted.
///
/// # Errors
/// [`Trouble`]: an address that cannot be had (2).
pub fn serve(
    args: &PageArgs,
    job: &LiveJob,
    options: &SlipOptions,
    capture: &Path,
    voice: Voice,
) -> Result<Option<Closing>, Trouble> {
    let mut looks = Looks::default();
    let mut newest: Option<Result<Slip, SlipRefusal>> = None;
    let (mut drawn, mut number, mut mapped) = (0, 0, 0);
    let play = Play {
        title: "Trundle: slip along the way",
        passes: false,
        result: &|reply| begin(job, options, capture, reply),
        picture: &mut |view| {
            let mut map = None;
            if let Some(worked) = looks.look(job, options) {
                if let Ok(slip) = &worked
                    && slip.windows.len() != drawn
                {
                    drawn = slip.windows.len();
                    mapped = drawn.min(MAPPED);
                    map = slip_map::alone(&slip.windows[drawn - mapped..]);
                    number += u64::from(map.is_some());
                }
                newest = Some(worked);
            }
            (shown_slip(view, newest.as_ref(), number, mapped), map)
        },
    };
    paged::serve(args, job, voice, play)
}

/// Work the result so far on a thread of its own.
fn begin(job: &LiveJob, options: &SlipOptions, capture: &Path, reply: Reply) {
    let (trail, facts) = job.with_session(|session| {
        (session.trail().unwrap_or_default(), facts_so_far(session, capture))
    });
    let options = options.clone();
    std::thread::spawn(move || {
        let worked = slip(&trail, &options);
        let page = worked.map(|slip| slip_html::page(&slip, &facts));
        // A device that has gone meanwhile asks again.
        let _ = reply.send(page.map_err(|refused| format!("{refused} {}", refused.next())));
    });
}

/// The capture still grows, so that it has no digest yet.
fn facts_so_far(session: &Session, capture: &Path) -> SlipFacts {
    let header = session.header();
    SlipFacts {
        capture_name: crate::shell::files::name(capture),
        started_utc: header.map(|header| header.started_utc.clone()).unwrap_or_default(),
        software: env!("CARGO_PKG_VERSION").to_owned(),
        practice: header.is_some_and(|header| header.practice),
        ..SlipFacts::default()
    }
}

/// Give the pages the result of the job that is over.
///
/// # Errors
/// [`Trouble`] when the capture cannot be read for its digest.
pub fn close(
    closing: Closing,
    finished: &Finished,
    options: &SlipOptions,
    capture: &Path,
) -> Result<(), Trouble> {
    let session = &finished.session;
    let facts = super::page_facts(facts(session, capture, None)?);
    let page = match slip(&session.trail().unwrap_or_default(), options) {
        Ok(slip) => slip_html::page(&slip, &facts),
        Err(refused) => slip_html::refused(&refused, &facts),
    };
    let name = capture.display().to_string();
    closing.close(&page, &name, finished.trouble.as_ref());
    Ok(())
}
