//! The trail, worked out now and then while driving, on a thread of its own.

use crate::shell::live::LiveJob;
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::time::{Duration, Instant};
use trundle_core::session::Session;
use trundle_core::survey::slip::{Slip, SlipOptions, SlipRefusal, slip};

/// How often the slip is worked while driving.
const EVERY: Duration = Duration::from_secs(5);
/// Working the trail out may take this share of the time, so that a long day does not heat the
/// laptop: one part in twenty.
const REST_FACTOR: u32 = 20;

/// A result, or why there is none so far.
type Worked = Result<Slip, SlipRefusal>;

/// Works the slip so far, again and again.
pub struct Looks {
    next: Instant,
    began: Instant,
    coming: Option<Receiver<Worked>>,
}

impl Default for Looks {
    fn default() -> Self {
        let now = Instant::now();
        Self { next: now + EVERY, began: now, coming: None }
    }
}

impl Looks {
    /// The slip, when it has just been worked; never waits.
    pub fn look(&mut self, job: &LiveJob, options: &SlipOptions) -> Option<Worked> {
        if let Some(coming) = &self.coming {
            let worked = match coming.try_recv() {
                Err(TryRecvError::Empty) => return None,
                // The work broke down: all is recorded, and the next look is another try.
                Err(TryRecvError::Disconnected) => None,
                Ok(worked) => Some(worked),
            };
            self.coming = None;
            self.next = Instant::now() + EVERY.max(self.began.elapsed() * REST_FACTOR);
            return worked;
        }
        if Instant::now() < self.next {
            return None;
        }
        self.began = Instant::now();
        let trail = job.with_session(Session::trail).unwrap_or_default();
        let options = options.clone();
        let (sender, coming) = channel();
        std::thread::spawn(move || {
            // Nobody waits for it any more when the job has ended.
            let _ = sender.send(slip(&trail, &options));
        });
        self.coming = Some(coming);
        None
    }
}
