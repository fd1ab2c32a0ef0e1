//! The page of the result so far, worked on a thread of its own while the job goes on.

use super::paged::Reply;
use crate::cli::result::{course_in_force, work_session};
use crate::cli::work::facts;
use crate::shell::exit::Trouble;
use crate::shell::files;
use crate::shell::live::LiveJob;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;
use trundle_core::course::tape::CourseSpec;
use trundle_core::figure::{Job, WorkOptions, work};
use trundle_core::result::work_v1::WorkV1;
use trundle_core::session::window::PassWindow;
use trundle_core::session::{Session, Totals};
use trundle_show::html::work::{Facts, page};

/// How long marks may wait for the disk before a result without them is refused.
const DISK_WAIT: Duration = Duration::from_millis(500);

/// What a result needs beside the passes.
pub struct Working {
    course: Option<CourseSpec>,
    facts: Facts,
    busy: Arc<AtomicBool>,
}

/// The result of a job that is over, as a page.
///
/// # Errors
/// [`Trouble`] of code 2 when the course cannot be read.
pub fn last(session: &Session, capture: &Path) -> Result<String, Trouble> {
    let (course, _) = course_in_force(session, &Default::default())?;
    let facts = facts(session, capture, None)?;
    Ok(page(&WorkV1::of(&work_session(session, course, false)), &facts))
}

impl Working {
    /// Of a job that has begun.
    ///
    /// # Errors
    /// [`Trouble`] of code 2 when the course cannot be read.
    pub fn new(job: &LiveJob, capture: &Path) -> Result<Self, Trouble> {
        job.with_session(|session| {
            let (course, _) = course_in_force(session, &Default::default())?;
            let header = session.header();
            let facts = Facts {
                capture_name: files::name(capture),
                // The capture still grows.
                capture_digest: String::new(),
                started_utc: header.map(|header| header.started_utc.clone()).unwrap_or_default(),
                software: env!("CARGO_PKG_VERSION").to_owned(),
                practice: header.is_some_and(|header| header.practice),
                course_text: session.course_text().map(str::to_owned),
                notes: Vec::new(),
            };
            Ok(Self { course, facts, busy: Arc::default() })
        })
    }

    /// Work the passes so far; one result at a time.
    pub fn begin(&self, job: &LiveJob, reply: Reply) {
        let refuse = |reply: Reply, words: &str| drop(reply.send(Err(words.to_owned())));
        if self.busy.swap(true, Ordering::SeqCst) {
            return refuse(reply, "The result is being worked already. Wait a little.");
        }
        if !job.wait_for_disk(DISK_WAIT) {
            self.busy.store(false, Ordering::SeqCst);
            return refuse(reply, "The disk is slow: the last mark is not safe yet. Try again.");
        }
        let (passes, totals, notes) = job.with_session(|session| {
            let notes = session.notes().iter().map(|note| note.1.clone()).collect();
            (session.passes().to_vec(), session.totals(), notes)
        });
        let facts = Facts { notes, ..self.facts.clone() };
        let options = WorkOptions { course: self.course.clone(), ..WorkOptions::default() };
        let free = Free(Arc::clone(&self.busy));
        std::thread::spawn(move || {
            let _free = free;
            // A device that has gone meanwhile asks again.
            let _ = reply.send(Ok(worked(&passes, &totals, &options, &facts)));
        });
    }
}

/// The next result may be worked, also when this one broke down.
struct Free(Arc<AtomicBool>);

impl Drop for Free {
    fn drop(&mut self) {
        self.0.store(false, Ordering::SeqCst);
    }
}

fn worked(passes: &[PassWindow], totals: &Totals, options: &WorkOptions, facts: &Facts) -> String {
    page(&WorkV1::of(&work(&Job { passes, totals, whole: true }, options)), facts)
}
