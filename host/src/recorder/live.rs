//! A live job: its ports, one capture, one session.
//!
//! Readers stamp what comes, one thread records it and feeds the session, one thread syncs. The
//! front end only looks: it polls events, asks for the state, gives marks. However slow it is,
//! no byte waits for it.

use super::capture_file::{CaptureWriter, try_room};
use super::head::{begin, open_parts};
use super::state::Shared;
use super::thread::{Core, Input, Sleep};
pub use super::types::{Finished, LiveSetup};
use crate::ports::practice::Listener;
use crate::ports::probe::{command_bytes, nonce};
use crate::ports::serial::{BytePort, Link, Opener};
use crate::shell::clock::{Clock, slept_s, wall_offset_s, wall_utc_ns};
use crate::shell::exit::{self, Trouble};
use std::collections::VecDeque;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Sender, SyncSender, sync_channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};
use trundle_core::capture::{Entry, HostMark, HostMarkAction, PortRole};
pub use trundle_core::fitness::look::LiveEvent;
use trundle_core::fitness::look::{LinkLook, Look, Wall};
use trundle_core::fitness::start;
use trundle_core::session::Session;
use trundle_core::wire::board::CountSample;
use trundle_protocol::message::{CHANNELS, ToBoard};

/// Chunks that may wait between readers and recorder: minutes of board and receiver.
const CHUNKS: usize = 8192;
/// Chunks of the bus that may wait besides. A full one brings hundreds a second: while the disk
/// stalls it would take the room of board and receiver, which come first.
const BUS_CHUNKS: usize = 8192;
/// Longest text of a note, characters: a record holds 4096 bytes.
const TEXT_MAX: usize = 500;
/// Longest wait for the recorder at the end.
const END_WAIT: Duration = Duration::from_secs(15);

/// The parts of a job that touch the world.
pub struct Parts {
    /// The capture that entries go to.
    pub writer: CaptureWriter,
    /// The board's port, open, and how to open it again.
    pub board: Option<OpenPart>,
    /// Port and opener of the receiver.
    pub receiver: Option<OpenPart>,
    /// Port and opener of the bus adapter, which listens.
    pub bus: Option<OpenPart>,
}

/// An open port, and what opens it again.
pub type OpenPart = (Box<dyn BytePort>, Opener);

/// A job that is going on.
pub struct LiveJob {
    input: SyncSender<Input>,
    shared: Arc<Shared>,
    clock: Clock,
    links: Vec<Link>,
    to_board: Option<Sender<Vec<u8>>>,
    core: Option<JoinHandle<()>>,
    next_key: AtomicU64,
    practice: bool,
}

impl LiveJob {
    /// Open the ports, create the capture, begin.
    ///
    /// # Errors
    /// [`Trouble`]: ports (3, 4), a course text that is too long (2), storage (2, 4, 6).
    pub fn start(setup: &LiveSetup) -> Result<Self, Trouble> {
        setup.check_course()?;
        Self::start_on(setup, open_parts(setup)?)
    }

    /// Begin on ports that are open, in the order of [`LiveSetup::choices`]: create the capture.
    ///
    /// # Errors
    /// As [`Self::start`].
    pub fn start_on(
        setup: &LiveSetup,
        [board, receiver, bus]: [Option<OpenPart>; 3],
    ) -> Result<Self, Trouble> {
        setup.check_course()?;
        try_room(&setup.capture)?;
        let writer = CaptureWriter::create(&setup.capture)?;
        Self::start_with(setup, Parts { writer, board, receiver, bus })
    }

    /// Begin with ports and storage given; for tests with ones that fail.
    ///
    /// # Errors
    /// As [`Self::start`].
    pub fn start_with(setup: &LiveSetup, parts: Parts) -> Result<Self, Trouble> {
        Self::start_asleep(setup, parts, Box::new(slept_s))
    }

    /// The same on a computer that has slept for `slept_s`, seconds since it was
    /// started; for tests.
    ///
    /// # Errors
    /// As [`Self::start`].
    pub fn start_asleep(
        setup: &LiveSetup,
        parts: Parts,
        mut slept_s: Box<dyn FnMut() -> f64 + Send>,
    ) -> Result<Self, Trouble> {
        setup.check_course()?;
        let (input, inbox) = sync_channel(CHUNKS + BUS_CHUNKS);
        let (bus_place, bus_places) = sync_channel(BUS_CHUNKS);
        let shared = Arc::new(Shared::default());
        shared.lock().session = setup.keeps.session();
        let clock = Clock::start(setup.pace);
        let to_core = input.clone();
        let also = input.clone();
        let report = move |result| {
            // The recorder outlives every wish it waits for.
            let _ = to_core.send(Input::Synced(result));
        };
        let named = move |in_place| {
            let _ = also.send(Input::InPlace(in_place));
        };
        let syncer = parts.writer.start_syncer(report, named)?;
        let mut job = Self {
            input,
            shared: Arc::clone(&shared),
            clock,
            links: Vec::new(),
            to_board: None,
            core: None,
            next_key: AtomicU64::new(1),
            practice: setup.practice,
        };
        let mut core = Core {
            input: inbox,
            bus_places,
            writer: parts.writer,
            syncer,
            clock,
            shared,
            to_board: None,
            nonce: nonce(0),
            waiting: VecDeque::new(),
            written: 0,
            asked_sync: 0,
            failed: false,
            sleep: Sleep { known_s: slept_s(), slept_s },
            reopen: Vec::new(),
        };
        begin(&mut core, setup);
        core.sync_head();
        if let Some(trouble) = job.shared.lock().trouble.clone() {
            return Err(trouble);
        }
        if let Some(board) = parts.board {
            job.link(PortRole::Board, board, None)?;
            job.to_board = job.links.first().map(Link::writer);
            core.to_board.clone_from(&job.to_board);
        }
        if let Some(receiver) = parts.receiver {
            job.link(PortRole::Receiver, receiver, None)?;
        }
        if let Some(bus) = parts.bus {
            job.link(PortRole::Bus, bus, Some(bus_place))?;
        }
        core.reopen = job.links.iter().map(Link::reopens).collect();
        let run = std::thread::Builder::new().spawn(move || core.run());
        job.core = Some(run.map_err(|error| no_thread(&error))?);
        Ok(job)
    }

    fn link(
        &mut self,
        role: PortRole,
        (port, reopen): (Box<dyn BytePort>, Opener),
        place: Option<SyncSender<()>>,
    ) -> Result<(), Trouble> {
        let input = self.input.clone();
        let hand_on = move |arrived| {
            let placed = place.as_ref().is_none_or(|place| place.send(()).is_ok());
            placed && input.send(Input::Port(arrived)).is_ok()
        };
        let link = Link::start(role, port, reopen, self.clock, hand_on);
        self.links.push(link.map_err(|error| no_thread(&error))?);
        Ok(())
    }

    /// The job's clock, to stamp a press where it is made.
    #[must_use]
    pub const fn clock(&self) -> Clock {
        self.clock
    }

    /// Send a command to the board; its answer comes with the capture. A board that is not there
    /// gets nothing, which the caller sees by the missing answer.
    pub fn command_board(&self, command: &ToBoard) {
        if let Some(to_board) = &self.to_board {
            // A link that has ended says so at the next poll.
            let _ = to_board.send(command_bytes(command));
        }
    }

    /// What tells the job, in practice, what the simulated tractor does. It may outlive the job.
    #[must_use]
    pub fn tractor_tells(&self) -> Listener {
        let shared = Arc::downgrade(&self.shared);
        Box::new(move |doing| {
            let Some(shared) = shared.upgrade() else { return };
            shared.lock().push(LiveEvent::Tractor(doing.to_owned()));
            shared.changed.notify_all();
        })
    }

    /// What happened since the last call; waits up to `timeout` for something.
    #[must_use]
    pub fn poll(&self, timeout: Duration) -> Vec<LiveEvent> {
        let mut state = self.shared.after(timeout, |state| state.events.is_empty());
        if !state.events.is_empty() {
            return state.events.drain(..).collect();
        }
        if state.trouble.is_none() && self.core.as_ref().is_some_and(JoinHandle::is_finished) {
            let trouble = Trouble::internal("The recorder stopped by itself.");
            state.trouble = Some(trouble.clone());
            return vec![LiveEvent::Failed(trouble.what)];
        }
        Vec::new()
    }

    /// Whether a pass may be started now.
    ///
    /// # Errors
    /// Every reason against it, each with what to do next.
    pub fn fit_to_start(&self) -> Result<(), Vec<String>> {
        let readiness = self.shared.lock().readiness(&self.clock);
        start::fit_to_start(&readiness)
    }

    /// A mark, note or correction given now, whatever the state; returns its key. The answer comes
    /// as [`LiveEvent::Acknowledged`].
    pub fn host_mark(&self, action: HostMarkAction, text: &str) -> u64 {
        self.host_mark_at(self.clock.now_ns(), action, text)
    }

    /// The same, given at `host_ns`.
    pub fn host_mark_at(&self, host_ns: u64, action: HostMarkAction, text: &str) -> u64 {
        let key = self.next_key.fetch_add(1, Ordering::Relaxed);
        let text = text.chars().take(TEXT_MAX).collect();
        let mark = HostMark { key, action, text };
        // A recorder that has ended says so at the next poll.
        let _ = self.input.send(Input::Host(host_ns, Entry::HostMark(mark)));
        key
    }

    /// A copy of the session as it is now: what takes long is done with it, while the session
    /// itself goes on. There is no other way to it, so that nothing can hold up the recorder.
    /// Marks that wait for the disk are in it already; see [`Self::wait_for_disk`].
    #[must_use]
    pub fn copy(&self) -> Session {
        self.shared.lock().session.clone()
    }

    /// The pass that is open in the session, acknowledged or not.
    #[must_use]
    pub fn open_pass(&self) -> Option<u32> {
        self.shared.lock().session.open_pass()
    }

    /// Passes recorded so far: number, and whether rejected.
    #[must_use]
    pub fn recorded(&self) -> Vec<(u32, bool)> {
        let state = self.shared.lock();
        let passes = state.session.passes().iter();
        passes.map(|pass| (pass.number, pass.rejected.is_some())).collect()
    }

    /// Wait until every mark given so far is on the disk, or `limit` has passed; returns which.
    pub fn wait_for_disk(&self, limit: Duration) -> bool {
        let state = self.shared.after(limit, |state| state.pending > 0);
        state.pending == 0 && state.trouble.is_none()
    }

    /// The job at this moment.
    #[must_use]
    pub fn look(&self) -> Look {
        let state = self.shared.lock();
        let readiness = state.readiness(&self.clock);
        let (sample, fix) = state.session.latest();
        let counted = |sample: &CountSample, start: [u64; CHANNELS]| {
            std::array::from_fn(|n| sample.impulses[n].saturating_sub(start[n]))
        };
        let open = state.open_pass.and(state.baseline);
        Look {
            now_ns: self.clock.now_ns(),
            pace: self.clock.pace(),
            wall: Wall { utc_ns: wall_utc_ns(), offset_s: wall_offset_s() },
            practice: self.practice,
            board: LinkLook { open: readiness.board_open, age_s: readiness.counts_age_s },
            receiver: readiness
                .receiver
                .map(|receiver| LinkLook { open: receiver.open, age_s: receiver.fix_age_s }),
            inputs: readiness.capabilities,
            sample: sample.copied(),
            fix: fix.copied(),
            sky: state.session.sky(self.clock.now_ns()),
            bus: state.bus.map(|link| LinkLook {
                open: link.open,
                age_s: Some(link.last_bytes.elapsed().as_secs_f64()),
            }),
            bus_now: state.session.bus().clone(),
            open_pass: state.open_pass,
            marked: state.marked,
            impulses: open.zip(sample).map(|(start, sample)| counted(sample, start)),
            against_start: start::fit_to_start(&readiness).err().unwrap_or_default(),
        }
    }

    /// Close the capture in order, wait for the disk, and hand over the session.
    #[must_use]
    pub fn finish(mut self) -> Finished {
        self.close();
        let mut state = self.shared.lock();
        Finished {
            session: std::mem::take(&mut state.session),
            events: state.events.drain(..).collect(),
            saved_as: state.saved_as.take(),
            trouble: state.trouble.take(),
        }
    }

    fn close(&mut self) {
        let Some(core) = self.core.take() else { return };
        self.links.iter().for_each(Link::ask_to_stop);
        self.links.clear();
        let _ = self.input.send(Input::Finish);
        let until = Instant::now() + END_WAIT;
        while !core.is_finished() && Instant::now() < until {
            std::thread::sleep(Duration::from_millis(1));
        }
        if !(core.is_finished() && core.join().is_ok()) {
            let trouble = Trouble::internal("The recorder did not end in order.");
            self.shared.lock().trouble.get_or_insert(trouble);
        }
    }
}

impl Drop for LiveJob {
    /// A job that is given up halfway still closes its capture.
    fn drop(&mut self) {
        self.close();
    }
}

/// The system gives no thread.
fn no_thread(error: &std::io::Error) -> Trouble {
    let what = format!("The system gives this program no more threads ({error}).");
    let means =
        "The ports cannot be read: nothing was measured. A capture that was begun is empty.";
    Trouble::new(exit::BLOCKED, what, means, "Close other programs and try again.")
}
