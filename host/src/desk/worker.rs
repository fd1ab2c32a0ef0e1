//! The thread that calculates. It gets a copy of the session, so that neither the recorder nor
//! the person waits for it, however long it takes.

use super::task::Method;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::{Duration, Instant};
use tokio::sync::oneshot;
use trundle_core::session::Session;

/// Who waits for a page of the result: the page, or why there is none.
pub type Reply = oneshot::Sender<Result<String, String>>;

/// What is wanted of one calculation.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Order {
    /// The result itself, for the task.
    pub look: bool,
    /// The result as text.
    pub text: bool,
    /// The result as a page.
    pub page: bool,
}

/// What it gave; a calculation that broke down gives nothing, and the next one is another try.
pub struct Done<W> {
    /// What was asked for.
    pub order: Order,
    /// The result, if it was calculated.
    pub worked: Option<W>,
    /// It as text, where that was wanted.
    pub text: Option<String>,
    /// It as a page, likewise.
    pub page: Option<Result<String, String>>,
    /// How long it took.
    pub took: Duration,
}

/// Calculates one copy after the other.
pub struct Worker<M: Method> {
    to: Sender<(Session, Order)>,
    done: Receiver<Done<M::Worked>>,
    busy: bool,
}

impl<M: Method> Worker<M> {
    /// Begin; the thread ends when nobody wants anything any more.
    #[must_use]
    pub fn start(method: Arc<M>) -> Self {
        let (to, orders) = channel();
        let (from, done) = channel();
        std::thread::spawn(move || {
            for (session, order) in orders {
                if from.send(work(&*method, &session, order)).is_err() {
                    return;
                }
            }
        });
        Self { to, done, busy: false }
    }

    /// True when nothing is being calculated.
    #[must_use]
    pub const fn is_free(&self) -> bool {
        !self.busy
    }

    /// Begin to calculate this copy.
    pub fn begin(&mut self, session: Session, order: Order) {
        self.busy = self.to.send((session, order)).is_ok();
    }

    /// What was calculated since the last look; never waits.
    pub fn done(&mut self) -> Option<Done<M::Worked>> {
        let done = self.done.try_recv().ok()?;
        self.busy = false;
        Some(done)
    }
}

fn work<M: Method>(method: &M, session: &Session, order: Order) -> Done<M::Worked> {
    let began = Instant::now();
    let worked = catch_unwind(AssertUnwindSafe(|| {
        let worked = method.work(session, true);
        let text = order.text.then(|| method.rendered(&worked).text);
        let page = order.page.then(|| method.page(&worked, session, true));
        (worked, text, page)
    }));
    let (worked, text, page) = match worked {
        Ok((worked, text, page)) => (Some(worked), text, page),
        Err(_) => (None, None, None),
    };
    Done { order, worked, text, page, took: began.elapsed() }
}

/// From one look to the next, at least.
const EVERY: Duration = Duration::from_secs(2);
/// A look that takes long is taken more seldom: one part in twenty of the time, so that a long day
/// does not heat the laptop.
const REST_FACTOR: u32 = 20;
/// A look that gave nothing by then is tried again.
const LOST: Duration = Duration::from_secs(100);

/// When the result so far is looked at next, in a job that only drives.
#[derive(Debug)]
pub struct Rhythm {
    every: Duration,
    next: Instant,
}

impl Default for Rhythm {
    fn default() -> Self {
        Self::every(EVERY)
    }
}

impl Rhythm {
    /// No sooner than this after the look before.
    #[must_use]
    pub fn every(every: Duration) -> Self {
        Self { every, next: Instant::now() + every }
    }

    /// It is time; it will not be again before [`Rhythm::took`].
    pub fn due(&mut self) -> bool {
        let now = Instant::now();
        let due = now >= self.next;
        if due {
            self.next = now + LOST;
        }
        due
    }

    /// The look is over, and took so long.
    pub fn took(&mut self, took: Duration) {
        self.next = Instant::now() + self.every.max(took * REST_FACTOR);
    }
}

/// What is wanted next, and who waits for it.
#[derive(Default)]
pub struct Wants {
    /// The task wants a look.
    pub look: bool,
    text: bool,
    pages: Vec<Reply>,
    /// Since when somebody waits.
    since: Option<Instant>,
    /// Who waits for the page of what is being calculated.
    coming: Vec<Reply>,
}

impl Wants {
    /// Somebody asks for the result: as a page where there is a reply to give, else as text.
    pub fn ask(&mut self, reply: Option<Reply>) {
        self.since.get_or_insert_with(Instant::now);
        match reply {
            Some(reply) => self.pages.push(reply),
            None => self.text = true,
        }
    }

    /// Since when somebody waits for a result.
    #[must_use]
    pub const fn asked_since(&self) -> Option<Instant> {
        self.since
    }

    /// What the next calculation has to give; `None`: nothing is wanted.
    pub fn take(&mut self) -> Option<Order> {
        let order = Order { look: self.look, text: self.text, page: !self.pages.is_empty() };
        (self.look, self.text) = (false, false);
        self.coming = std::mem::take(&mut self.pages);
        (order != Order::default()).then_some(order)
    }

    /// A calculation is through: give its page to whoever waits. A device that has gone
    /// meanwhile asks again.
    pub fn answer(&mut self, page: Option<Result<String, String>>) {
        let replies = std::mem::take(&mut self.coming);
        if !self.text && self.pages.is_empty() {
            self.since = None;
        }
        let Some(page) = page else { return };
        replies.into_iter().for_each(|reply| drop(reply.send(page.clone())));
    }

    /// Answer everybody why there is no result; true when a text was waited for.
    pub fn refuse(&mut self, words: &str) -> bool {
        self.since = None;
        let refused = Err(words.to_owned());
        self.pages.drain(..).for_each(|reply| drop(reply.send(refused.clone())));
        std::mem::take(&mut self.text)
    }
}
