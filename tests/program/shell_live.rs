//! The live job on ports and disks that fail: nothing is acknowledged before it is safe, nothing
//! is fed that is not in the file, nothing waits for a port or a disk that never answers.

use crate::fakes::job::{acknowledged, counts, hello, never, records, setup, start};
use crate::fakes::{Disk, Heard, PATIENCE, Step, fake_port, wait_until};
use std::io::ErrorKind;
use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};
use trundle::ports::serial::Opener;
use trundle::recorder::capture_file::CaptureWriter;
use trundle::recorder::capture_read::read_from;
use trundle::recorder::live::{LiveEvent, LiveJob, Parts};
use trundle::shell::exit;
use trundle_core::capture::{Entry, HostMarkAction, Piece, PortRole};
use trundle_core::figure::{Job, WorkOptions, work};
use trundle_core::session::{Session, SessionEvent};

fn marked(bytes: &[u8]) -> bool {
    records(bytes).iter().any(|entry| matches!(entry, Entry::HostMark(_)))
}

#[test]
fn a_mark_is_acknowledged_only_when_the_disk_has_it() {
    let disk = Disk::default();
    let (port, hand) = fake_port();
    let job = start(&disk, (port, never()));
    disk.with(|state| state.held = true);
    let syncs = disk.syncs_begun();
    job.host_mark(HostMarkAction::Start, "");
    let mut heard = Heard::default();
    wait_until("the sync behind the mark", || marked(&disk.bytes()) && disk.syncs_begun() > syncs);
    // What comes later and needs no disk is told; had the mark been told, it would stand before.
    hand.steps.send(Step::Bytes(hello(0))).unwrap();
    heard.until(&job, |e| matches!(e, LiveEvent::Seen(SessionEvent::Hello(_))));
    assert!(!heard.seen.iter().any(acknowledged), "{:?}", heard.seen);
    assert_eq!(job.look().open_pass, None, "the status line must not run ahead of the disk");
    assert!(!job.wait_for_disk(Duration::from_millis(1)));
    disk.with(|state| state.held = false);
    heard.until(&job, acknowledged);
    assert!(marked(&disk.on_platter()));
    assert_eq!(job.look().open_pass, Some(1));
    assert!(job.wait_for_disk(PATIENCE));
    let finished = job.finish();
    assert_eq!(finished.trouble, None);
    assert_eq!(disk.on_platter().len(), disk.bytes().len(), "the end is on the disk too");
}

#[test]
fn a_full_disk_ends_the_job_and_acknowledges_nothing_more() {
    let disk = Disk::default();
    let (port, _hand) = fake_port();
    let job = start(&disk, (port, never()));
    let mut heard = Heard::default();
    job.host_mark(HostMarkAction::Start, "");
    heard.until(&job, acknowledged);
    // Room for half of the next record.
    disk.with(|state| state.room = Some(state.bytes.len() + 9));
    job.host_mark(HostMarkAction::Finish, "");
    heard.until(&job, |event| matches!(event, LiveEvent::Failed(_)));
    disk.with(|state| state.room = None);
    job.host_mark(HostMarkAction::Finish, "");
    let refused = job.fit_to_start().unwrap_err();
    assert!(refused[0].contains("cannot be written"), "{refused:?}");
    let finished = job.finish();
    let seen = heard.all(finished.events);
    assert_eq!(seen.iter().filter(|event| acknowledged(event)).count(), 1);
    assert_eq!(finished.trouble.unwrap().code, exit::STORAGE);
    // What was confirmed can be read, and the session knows no more than the file.
    assert_eq!(
        records(&disk.bytes()).iter().filter(|e| matches!(e, Entry::HostMark(_))).count(),
        1
    );
    assert_eq!(finished.session.open_pass(), Some(1));
}

#[test]
fn a_sync_that_failed_once_is_never_believed_again() {
    let disk = Disk::default();
    let (port, _hand) = fake_port();
    let job = start(&disk, (port, never()));
    disk.with(|state| state.sync_fails = true);
    job.host_mark(HostMarkAction::Start, "");
    let mut heard = Heard::default();
    heard.until(&job, |event| matches!(event, LiveEvent::Failed(_)));
    let syncs = disk.syncs();
    job.host_mark(HostMarkAction::Finish, "");
    let finished = job.finish();
    let seen = heard.all(finished.events);
    assert!(!seen.iter().any(acknowledged), "{seen:?}");
    assert_eq!(disk.syncs(), syncs, "fsync must not be tried again");
    assert_eq!(finished.trouble.unwrap().code, exit::STORAGE);
}

#[test]
fn the_session_is_fed_exactly_what_the_file_holds() {
    let disk = Disk::default();
    let (port, hand) = fake_port();
    let job = start(&disk, (port, never()));
    let mut stream = hello(0);
    (1..60).for_each(|n| stream.extend(counts(n)));
    stream.extend_from_slice(&[7; 300]);
    stream.push(0);
    // Pieces of uneven size, so that frames are cut everywhere.
    for (n, piece) in stream.chunks(37).enumerate() {
        hand.steps.send(Step::Bytes(piece.to_vec())).unwrap();
        if n == 40 {
            job.host_mark(HostMarkAction::Mark, "");
            job.host_mark(HostMarkAction::Note, "wet grass");
        }
    }
    let mut heard = Heard::default();
    heard.until(&job, acknowledged);
    let sent = stream.len() as u64;
    wait_until("all bytes", || job.copy().totals().line.bytes >= sent);
    let finished = job.finish();
    let mut replay = Session::default();
    let mut events = Vec::new();
    read_from(&disk.bytes()[..], Path::new("fake.capture"), |piece| {
        assert!(!matches!(piece, Piece::Damage(_)), "{piece:?}");
        replay.take(piece, &mut events);
    })
    .unwrap();
    assert_eq!(format!("{replay:?}"), format!("{:?}", finished.session));
    assert_eq!(replay.totals().board.frames, 60);
    assert!(replay.ended() && replay.course_text().is_some());
}

#[test]
fn a_lost_port_is_let_go_and_found_again() {
    for lose in [Step::Nothing, Step::Fail(ErrorKind::BrokenPipe), Step::Fail(ErrorKind::Other)] {
        let disk = Disk::default();
        let (port, hand) = fake_port();
        let (second, second_hand) = fake_port();
        let tries = Arc::new(AtomicUsize::new(0));
        let (counted, was_alive) = (tries.clone(), hand.alive.clone());
        let mut second = Some(second);
        let reopen: Opener = Box::new(move || {
            assert!(!was_alive.load(Ordering::SeqCst), "the old handle is still open");
            match counted.fetch_add(1, Ordering::SeqCst) {
                0 | 1 => Err("not yet".to_owned()),
                _ => second.take().ok_or_else(|| "only once".to_owned()),
            }
        });
        let job = start(&disk, (port, reopen));
        hand.steps.send(Step::Bytes(hello(0))).unwrap();
        let mut heard = Heard::default();
        heard.until(&job, |e| matches!(e, LiveEvent::Seen(SessionEvent::Hello(_))));
        hand.steps.send(lose).unwrap();
        heard.until(&job, |e| matches!(e, LiveEvent::PortLost { .. }));
        let reasons = job.fit_to_start().unwrap_err();
        assert!(reasons[0].contains("is disconnected"), "{reasons:?}");
        heard.until(&job, |e| matches!(e, LiveEvent::PortFound { .. }));
        assert_eq!(tries.load(Ordering::SeqCst), 3);
        // Whoever is there now is asked who it is, once it has shown that it is a board: an adapter
        // may have taken the name, and is given nothing meant for a board.
        assert!(second_hand.written.lock().unwrap().is_empty());
        second_hand.steps.send(Step::Bytes([vec![0], counts(8)].concat())).unwrap();
        wait_until("the question", || !second_hand.written.lock().unwrap().is_empty());
        let reasons = job.fit_to_start().unwrap_err();
        assert!(reasons[0].contains("not yet said"), "{reasons:?}");
        second_hand.steps.send(Step::Bytes([hello(9), counts(10)].concat())).unwrap();
        heard.until(&job, |e| matches!(e, LiveEvent::Seen(SessionEvent::Hello(_))));
        assert_eq!(job.finish().trouble, None);
        let ports: Vec<bool> = records(&disk.bytes())
            .iter()
            .filter_map(|entry| if let Entry::Port(port) = entry { Some(port.open) } else { None })
            .collect();
        assert_eq!(ports, [true, false, true]);
    }
}

#[test]
fn a_port_that_fails_at_every_turn_does_not_spin() {
    let disk = Disk::default();
    let (port, hand) = fake_port();
    hand.steps.send(Step::Nothing).unwrap();
    let tries = Arc::new(Mutex::new(Vec::new()));
    let noted = tries.clone();
    let reopen: Opener = Box::new(move || {
        noted.lock().unwrap().push(Instant::now());
        let (port, hand) = fake_port();
        hand.steps.send(Step::Nothing).unwrap();
        Ok(port)
    });
    let job = start(&disk, (port, reopen));
    wait_until("the third try", || tries.lock().unwrap().len() >= 3);
    // Pauses of 400 and 800 ms lie before the second and the third; a slower machine takes longer.
    let tries = tries.lock().unwrap().clone();
    for (pair, least_ms) in tries.windows(2).zip([400, 800]) {
        let pause = pair[1] - pair[0];
        assert!(pause >= Duration::from_millis(least_ms), "{pause:?} of {least_ms} ms");
    }
    let _ = job.finish();
}

#[test]
fn a_read_that_never_returns_holds_up_nothing() {
    let disk = Disk::default();
    let (port, hand) = fake_port();
    let job = start(&disk, (port, never()));
    hand.steps.send(Step::Hang).unwrap();
    let mut heard = Heard::default();
    heard.until(&job, |e| matches!(e, LiveEvent::NotAnswering { role: PortRole::Board }));
    job.host_mark(HostMarkAction::Start, "");
    heard.until(&job, acknowledged);
    let started = Instant::now();
    assert_eq!(job.finish().trouble, None);
    assert!(started.elapsed() < PATIENCE, "finishing waited for the port");
}

#[test]
fn a_job_that_is_dropped_still_closes_its_capture() {
    let disk = Disk::default();
    let (port, _hand) = fake_port();
    drop(start(&disk, (port, never())));
    assert_eq!(records(&disk.on_platter()).last(), Some(&Entry::End));
}

/// A laptop whose lid was closed: it is told, the open pass cannot be used, the ports are opened
/// anew, and the next pass can be started.
#[test]
fn a_computer_that_slept_says_so_refuses_the_open_pass_and_opens_its_ports_anew() {
    let disk = Disk::default();
    let (port, hand) = fake_port();
    let (second, second_hand) = fake_port();
    let mut second = Some(second);
    let was_alive = hand.alive.clone();
    let reopen: Opener = Box::new(move || {
        assert!(!was_alive.load(Ordering::SeqCst), "the old handle is still open");
        second.take().ok_or_else(|| "only once".to_owned())
    });
    let slept_ms = Arc::new(AtomicUsize::new(90_000));
    let (told, looks) = (Arc::clone(&slept_ms), Arc::new(AtomicUsize::new(0)));
    let looked = Arc::clone(&looks);
    let writer = CaptureWriter::on(Box::new(disk.clone()), Path::new("fake.capture"));
    let parts = Parts { writer, board: Some((port, reopen)), receiver: None, bus: None };
    // Time asleep before the job began is nobody's business.
    let slept = move || {
        looked.fetch_add(1, Ordering::SeqCst);
        told.load(Ordering::SeqCst) as f64 * 1e-3
    };
    let job = LiveJob::start_asleep(&setup(), parts, Box::new(slept)).unwrap();
    hand.steps.send(Step::Bytes([hello(0), counts(1)].concat())).unwrap();
    let mut heard = Heard::default();
    heard.until(&job, |e| matches!(e, LiveEvent::Seen(SessionEvent::Hello(_))));
    job.host_mark(HostMarkAction::Start, "");
    heard.until(&job, acknowledged);
    // Two clocks read one after the other are never quite equal: that is no sleep.
    slept_ms.fetch_add(20, Ordering::SeqCst);
    let before = looks.load(Ordering::SeqCst);
    wait_until("two looks at the clock", || looks.load(Ordering::SeqCst) >= before + 2);
    slept_ms.fetch_add(34_000, Ordering::SeqCst);
    heard.until(&job, |e| matches!(e, LiveEvent::Seen(SessionEvent::Slept { .. })));
    if !heard.seen.iter().any(|e| matches!(e, LiveEvent::PortFound { .. })) {
        heard.until(&job, |e| matches!(e, LiveEvent::PortFound { .. }));
    }
    second_hand.steps.send(Step::Bytes([hello(5), counts(6)].concat())).unwrap();
    heard.until(&job, |e| matches!(e, LiveEvent::Seen(SessionEvent::Hello(_))));
    job.host_mark(HostMarkAction::Finish, "");
    heard.until(&job, acknowledged);
    let slept: Vec<f64> = heard
        .seen
        .iter()
        .filter_map(|event| match event {
            LiveEvent::Seen(SessionEvent::Slept { seconds }) => Some(*seconds),
            _ => None,
        })
        .collect();
    assert!(slept.len() == 1 && (slept[0] - 34.0).abs() < 0.1, "{slept:?}");
    let finished = job.finish();
    assert_eq!(finished.trouble, None);
    let (passes, totals) = (finished.session.passes(), finished.session.totals());
    let job = Job { passes, totals: &totals, whole: true };
    let worked = work(&job, &WorkOptions::default());
    assert_eq!(worked.passes[0].state(), "refused");
    let words: Vec<&str> = worked.passes[0].flags.iter().map(|flag| flag.code.word()).collect();
    assert!(words.contains(&"COMPUTER_SLEPT"), "{words:?}");
    // What is in the file says the same.
    let (mut replay, mut events) = (Session::default(), Vec::new());
    read_from(&disk.bytes()[..], Path::new("fake.capture"), |piece| {
        assert!(!matches!(piece, Piece::Damage(_)), "{piece:?}");
        replay.take(piece, &mut events);
    })
    .unwrap();
    assert_eq!(format!("{:?}", replay.passes()), format!("{:?}", finished.session.passes()));
}
