//! The person's side of a live job: every press takes one road, and nothing waits for a
//! calculation.

use crate::fakes::job::{counts, hello, never, records, start};
use crate::fakes::{Disk, Step, fake_port, wait_until};
use std::sync::mpsc::{Receiver, Sender, TryRecvError, channel};
use std::sync::{Arc, Condvar, Mutex};
use std::time::Duration;
use trundle::desk::face::{Asked, Face};
use trundle::desk::task::{Do, Method, Rendered, Standing, Task};
use trundle::desk::{Desk, End, words};
use trundle::recorder::live::{LiveEvent, LiveJob};
use trundle::shell::clock::Clock;
use trundle_core::capture::{Entry, PortRole};
use trundle_core::session::Session;
use trundle_core::session::presses::{Answer, Wish};
use trundle_show::words as texts;

/// A calculation that ends only when it may.
#[derive(Default)]
struct Gate {
    /// Calculations begun, and whether they may end.
    state: Mutex<(usize, bool)>,
    changed: Condvar,
}

impl Gate {
    fn begun(&self) -> usize {
        self.state.lock().unwrap().0
    }

    fn open(&self) {
        self.state.lock().unwrap().1 = true;
        self.changed.notify_all();
    }
}

impl Method for Gate {
    type Worked = usize;

    fn work(&self, session: &Session, growing: bool) -> usize {
        assert!(growing);
        let mut state = self.state.lock().unwrap();
        state.0 += 1;
        while !state.1 {
            state = self.changed.wait(state).unwrap();
        }
        session.totals().board.frames as usize
    }

    fn rendered(&self, frames: &usize) -> Rendered {
        Rendered { text: format!("{frames} frames"), json: frames.to_string(), code: 0 }
    }
}

struct Plain(Arc<Gate>);

impl Task for Plain {
    type Method = Gate;

    fn method(&self) -> Arc<Gate> {
        Arc::clone(&self.0)
    }

    fn passes(&self) -> bool {
        true
    }

    fn typed(&mut self, line: &str, now: &Standing) -> Do {
        match line {
            "m" => Do::Press(Wish::Mark(now.due)),
            "u" => now.undo.map_or(Do::NotDue, |due| Do::Press(Wish::Undo(due))),
            "r" => Do::Result,
            _ => Do::End,
        }
    }
}

/// A face that asks what the test gives it.
struct Scripted {
    asked: Receiver<Asked>,
    said: Arc<Mutex<Vec<String>>>,
}

impl Face for Scripted {
    fn pace(&self) -> (Duration, Option<Duration>) {
        (Duration::from_millis(5), None)
    }

    fn asked(&mut self) -> Vec<Asked> {
        let next = || match self.asked.try_recv() {
            Ok(asked) => Some(asked),
            Err(TryRecvError::Empty) => None,
            // A test that has failed ends it, too.
            Err(TryRecvError::Disconnected) => Some(Asked::End(End::Finished)),
        };
        next().into_iter().collect()
    }

    fn happened(&mut self, event: &LiveEvent, _: &LiveJob) {
        words::event(event).iter().for_each(|words| self.say(words));
    }

    fn answered(&mut self, answer: &Answer) {
        texts::answer(answer, |_| String::new()).iter().for_each(|words| self.say(words));
    }

    fn say(&mut self, words: &str) {
        self.said.lock().unwrap().push(words.to_owned());
    }

    fn result(&mut self, text: &str) {
        self.say(text);
    }
}

/// The test's side of it.
struct Person {
    clock: Clock,
    to: Sender<Asked>,
    said: Arc<Mutex<Vec<String>>>,
}

impl Person {
    fn types(&self, line: &str) {
        self.to.send(Asked::Line(self.clock.now_ns(), line.to_owned())).unwrap();
    }

    fn said(&self, words: &str) -> usize {
        self.said.lock().unwrap().iter().filter(|line| line.contains(words)).count()
    }

    fn until(&self, words: &str, times: usize) {
        wait_until(words, || self.said(words) >= times);
    }
}

/// Serve `job` while `act` plays its person; it has to end it.
fn served(job: &LiveJob, gate: &Arc<Gate>, act: impl FnOnce(&Person)) {
    let (to, asked) = channel();
    let said = Arc::new(Mutex::new(Vec::new()));
    let mut face = Scripted { asked, said: Arc::clone(&said) };
    let task = Plain(Arc::clone(gate));
    std::thread::scope(|scope| {
        let desk = scope.spawn(|| Desk::new(job, task, None).serve(&mut face));
        let person = Person { clock: job.clock(), to, said };
        act(&person);
        drop(person);
        assert_eq!(desk.join().unwrap(), End::Finished);
    });
}

#[test]
fn bytes_and_marks_go_on_while_a_calculation_hangs() {
    let disk = Disk::default();
    let (port, hand) = fake_port();
    let job = start(&disk, (port, never()));
    let gate = Arc::new(Gate::default());
    served(&job, &gate, |person| {
        hand.steps.send(Step::Bytes([hello(0), counts(1)].concat())).unwrap();
        wait_until("fit to start", || job.fit_to_start().is_ok());
        person.types("r");
        wait_until("a calculation", || gate.begun() == 1);
        // Another one is worked when this one is through, with all that came before it.
        person.types("r");
        let bytes = |disk: &Disk| -> usize {
            let of = |entry: &Entry| match entry {
                Entry::Bytes(PortRole::Board, bytes) => bytes.len(),
                _ => 0,
            };
            records(&disk.bytes()).iter().map(of).sum()
        };
        let (before, more) = (bytes(&disk), counts(2));
        hand.steps.send(Step::Bytes(more.clone())).unwrap();
        wait_until("the bytes", || bytes(&disk) == before + more.len());
        person.types("m");
        person.until("start saved", 1);
        assert_eq!((person.said("frames"), gate.begun()), (0, 1));
        gate.open();
        person.types("q");
        // Asked for before the end, they come before it.
        person.until("2 frames", 1);
        person.until("3 frames", 1);
    });
    assert_eq!(job.finish().trouble, None);
}

#[test]
fn a_typed_start_is_refused_until_the_board_is_fit_and_a_finish_never_is() {
    let disk = Disk::default();
    let (port, hand) = fake_port();
    let job = start(&disk, (port, never()));
    served(&job, &Arc::default(), |person| {
        person.types("m");
        person.until("Not started, and nothing was marked", 1);
        assert!(person.said("The counter board has not yet said who it is") > 0);
        hand.steps.send(Step::Bytes([hello(0), counts(1)].concat())).unwrap();
        wait_until("fit to start", || job.fit_to_start().is_ok());
        // Each line waits for the answer to the one before it, however fast they are typed.
        ["m", "u", "u", "m"].iter().for_each(|line| person.types(line));
        person.until("start saved", 2);
        assert_eq!((person.said("start undone"), person.said("Mark not counted")), (1, 1));
        // The counts stop: no new pass could be begun, but the open one can be ended.
        wait_until("old counts", || job.fit_to_start().is_err());
        person.types("m");
        person.until("end saved", 1);
        person.types("q");
    });
    assert_eq!(job.finish().trouble, None);
    let marks = records(&disk.bytes());
    assert_eq!(marks.iter().filter(|entry| matches!(entry, Entry::HostMark(_))).count(), 4);
}
