//! A simulated tractor inside the program: one job after another measures it, one at a time.

use crate::fakes::{Heard, PATIENCE, wait_until};
use std::io::ErrorKind;
use std::time::Instant;
use trundle::commands::result::work_session;
use trundle::ports::choose::BusPart;
use trundle::ports::practice::{Needs, Practice};
use trundle::recorder::live::{LiveEvent, LiveJob, LiveSetup};
use trundle::shell::exit;
use trundle_core::capture::PortRole;
use trundle_core::figure::WorkOptions;
use trundle_core::session::{Keeps, Session, SessionEvent};
use trundle_core::survey::sensors::check::{Mark, check};
use trundle_protocol::units::Channel;
use trundle_sim::{ReceiverClass, Wish};

const BOTH: Needs = Needs { board: true, receiver: true, bus: BusPart::Beside };

/// Begin a job at the tractor, as live commands do.
fn begin(tractor: &Practice, folder: &tempfile::TempDir, name: &str, keeps: Keeps) -> LiveJob {
    let [board, receiver, bus] = tractor.choices(BOTH).unwrap();
    let setup = LiveSetup {
        board,
        receiver,
        bus,
        capture: folder.path().join(name),
        course_text: Some("[course]\nnominal_m = 100\n".to_owned()),
        keeps,
        pace: tractor.pace(),
        started_utc: None,
        practice: true,
    };
    let job = LiveJob::start_on(&setup, tractor.connect(BOTH).unwrap()).unwrap();
    tractor.tell(job.tractor_tells());
    job
}

fn does(words: &str) -> impl Fn(&LiveEvent) -> bool {
    move |event| matches!(event, LiveEvent::Tractor(doing) if doing.contains(words))
}

fn pto(job: &LiveJob) -> u64 {
    job.look().sample.map_or(0, |sample| sample.impulses[Channel::Pto.index()])
}

#[test]
fn one_tractor_is_checked_then_driven_and_then_stopped() {
    let receiver = Some(ReceiverClass::Corrected);
    let wish = Wish { passes: Some(2), receiver, lead_in_s: 400.0, ..Wish::default() };
    let tractor = Practice::start(&wish, 3, 20.0).unwrap();
    assert!(tractor.doing().contains("sets off with the first job"), "{}", tractor.doing());
    let folder = tempfile::tempdir().unwrap();

    let job = begin(&tractor, &folder, "check", Keeps::Trail(0));
    let mut heard = Heard::default();
    heard.until(&job, |event| matches!(event, LiveEvent::Seen(SessionEvent::Hello(_))));
    let passes = |session: &Session, key: &str| {
        let checked = check(&session.trail().unwrap(), &session.totals(), true);
        checked.lines.iter().any(|line| line.key == key && line.mark == Mark::Pass)
    };
    let heard = |session: &Session| ["supply", "receiver"].iter().all(|key| passes(session, key));
    wait_until("supply and receiver", || heard(&job.copy()));
    let refused = tractor.connect(BOTH).map(drop).unwrap_err();
    assert_eq!(refused.code, exit::BLOCKED);
    assert!(refused.what.contains("Another job measures this simulated tractor"), "{refused}");
    let (before, looked) = (pto(&job), job.look());
    assert!(looked.practice && looked.board.open);
    let session = job.finish().session;
    assert!(session.header().unwrap().practice);
    assert!(heard(&session), "the session is what the copy was");

    let job = begin(&tractor, &folder, "drive", Keeps::Passes);
    let mut heard = Heard::default();
    heard.until(&job, does("pass 1 of 2, out: standing beside the start peg, mark now"));
    assert!(pto(&job) > before, "the board counts on from one job to the next");
    heard.until(&job, does("the job is done"));
    assert_eq!(tractor.doing(), "the job is done; standing");
    let finished = job.finish();
    assert_eq!(finished.trouble, None);
    let work = work_session(&finished.session, WorkOptions::default(), false);
    let wheel = work.channels.iter().find(|channel| channel.name == "wheel").unwrap();
    let (found, truth) = (wheel.best().unwrap().value(), tractor.truth().wheel_impulses_per_100m);
    assert!((found / truth - 1.0).abs() < 0.005, "{found} for {truth}");
    assert_eq!(finished.session.passes().len(), 2);

    let job = begin(&tractor, &folder, "stopped", Keeps::Passes);
    tractor.stop();
    let lost =
        |event: &LiveEvent| matches!(event, LiveEvent::PortLost { role: PortRole::Board, .. });
    Heard::default().until(&job, lost);
    assert!(tractor.is_over());
    assert_eq!(job.finish().trouble, None, "the capture is whole all the same");
    let refused = tractor.connect(BOTH).map(drop).unwrap_err();
    assert!(refused.code == exit::PORT && refused.what.contains("was stopped"), "{refused}");
}

#[test]
fn lines_that_nobody_reads_hold_no_more_than_a_driver_would() {
    let wish = Wish { passes: Some(1), ..Wish::default() };
    let tractor = Practice::start(&wish, 1, 100.0).unwrap();
    let [board, ..] = tractor.connect(BOTH).unwrap();
    // Two minutes of frames, some hundred thousand bytes, while the line is held and not read.
    wait_until("the job", || tractor.doing().contains("the job is done"));
    tractor.stop();
    wait_until("the end", || tractor.is_over());
    let (mut port, _) = board.unwrap();
    let (mut buffer, mut waited, started) = ([0; 1024], 0, Instant::now());
    loop {
        assert!(started.elapsed() < PATIENCE, "the line does not end");
        match port.read(&mut buffer) {
            Ok(0) => break,
            Ok(count) => waited += count,
            Err(error) => assert_eq!(error.kind(), ErrorKind::TimedOut),
        }
    }
    assert!((1..=4096).contains(&waited), "{waited} bytes waited");
}

#[test]
fn what_cannot_be_practised_is_refused_with_the_way_out() {
    let start = |wish: &Wish, pace| Practice::start(wish, 1, pace).map(drop).unwrap_err();
    let unknown = start(&Wish { scenario: "moon".to_owned(), ..Wish::default() }, 1.0);
    assert!(unknown.what.contains("\"moon\"") && unknown.next.contains("demo --list"), "{unknown}");
    for pace in [0.0, 101.0, f64::NAN] {
        let pace = start(&Wish::default(), pace);
        assert!(pace.code == exit::USAGE && pace.next.contains("from 0.1 to 100"), "{pace}");
    }
    let plain = Practice::start(&Wish::default(), 1, 1.0).unwrap();
    let no_bus = plain.choices(Needs { bus: BusPart::Needed, ..BOTH }).unwrap_err();
    assert!(no_bus.next.contains("bus, bus-full, proof-bus") || no_bus.next.contains("bus-full"));
    assert_eq!(no_bus.code, exit::USAGE);
    // Dropped before any job came: its thread ends too, or this test would not.
}
