//! What every live screen of a job with passes does between two drawings: hand events and looks
//! to the view, have the passes so far worked out, give presses to the job.

use super::result::course_in_force;
use crate::shell::exit::Trouble;
use crate::shell::live::{LiveEvent, LiveJob};
use crate::shell::live_view::{happened, look, press};
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use trundle_core::course::tape::{CourseSpec, course_length};
use trundle_core::figure::{Job, WorkOptions, work};
use trundle_core::session::Session;
use trundle_core::session::presses::{Answer, Press, Presses};
use trundle_core::stats::budget::Sources;
use trundle_show::live::results::Results;
use trundle_show::live::watch::Watch;
use trundle_show::model::View;

/// A job being watched.
pub struct Watching {
    presses: Presses,
    watch: Watch,
    course: Option<CourseSpec>,
    /// The passes that were worked last: number, and whether left out.
    worked: Vec<(u32, bool)>,
    /// The passes are being worked on a thread of their own; a day's passes take a while.
    coming: Option<Receiver<Results>>,
}

impl Watching {
    /// Watch a job; the course is the one in its capture.
    ///
    /// # Errors
    /// [`Trouble`] of code 2 when the course cannot be read.
    pub fn new(job: &LiveJob) -> Result<Self, Trouble> {
        let (course, _) =
            job.with_session(|session| course_in_force(session, &Default::default()))?;
        let mut watch = Watch::default();
        let length = course.as_ref().map(|spec| course_length(spec, &mut Sources::new()));
        if let Some(Ok(length)) = length {
            watch.course_m(length.length.value());
        }
        let presses = Presses::default();
        Ok(Self { presses, watch, course, worked: Vec::new(), coming: None })
    }

    /// Take what happened and give the screen of this moment.
    pub fn turn(&mut self, job: &LiveJob, events: &[LiveEvent]) -> View {
        let look = look(job);
        for event in events {
            match event {
                LiveEvent::Acknowledged(mark) => self.presses.ruled(mark),
                LiveEvent::Failed(_) => self.presses.failed(),
                _ => {}
            }
            self.watch.happened(&happened(event), &look, &self.presses);
        }
        self.work(job);
        self.watch.view(&look, &self.presses)
    }

    /// Give a press to the job; its answer, as far as known at once.
    pub fn press(&mut self, job: &LiveJob, pressed: Press) -> Answer {
        let answer = press(job, &mut self.presses, pressed);
        self.watch.answered(&answer, &look(job));
        answer
    }

    /// The presses, for answers that came later.
    #[must_use]
    pub const fn presses(&self) -> &Presses {
        &self.presses
    }

    /// Have the passes worked when there are other ones than before.
    fn work(&mut self, job: &LiveJob) {
        if let Some(coming) = &self.coming {
            match coming.try_recv() {
                Ok(results) => self.watch.results(results),
                Err(TryRecvError::Empty) => return,
                // The work broke down: the passes are recorded all the same, and the next one
                // is another try.
                Err(TryRecvError::Disconnected) => {}
            }
            self.coming = None;
        }
        let names = |session: &Session| -> Vec<(u32, bool)> {
            let passes = session.passes().iter();
            passes.map(|pass| (pass.number, pass.left_out.is_some())).collect()
        };
        let now = job.with_session(names);
        if now == self.worked {
            return;
        }
        self.worked = now;
        // A copy, so that nothing waits for the work while it lasts.
        let (passes, totals) =
            job.with_session(|session| (session.passes().to_vec(), session.totals()));
        let options = WorkOptions { course: self.course.clone(), ..WorkOptions::default() };
        let (sender, coming) = channel();
        std::thread::spawn(move || {
            let worked = work(&Job { passes: &passes, totals: &totals, whole: true }, &options);
            // Nobody waits for it any more when the job has ended.
            let _ = sender.send(Results::of(&worked));
        });
        self.coming = Some(coming);
    }
}
