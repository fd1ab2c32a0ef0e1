//! A lost port is found again by what comes from it, whatever its name and speed are now. The
//! seconds from the moment it was back are printed (`-- --nocapture`); they are to be below two.

pub mod on_bench;

use crate::fakes::{Heard, wait_until};
use on_bench::{Bench, Device, seconds_until};
use std::time::Instant;
use tempfile::TempDir;
use trundle::ports::open::BOARD_BAUD;
use trundle::recorder::live::{LiveEvent, LiveJob};
use trundle_core::capture::PortRole;
use trundle_core::fitness::Loss;

const BOARD: Device = Device::Board(0xB0A2D);
const RECEIVER: Device = Device::Receiver(BOARD_BAUD);
/// Where a stranger's second receiver stands all the time.
const STRANGER: &str = "ttyUSB7";

fn bench() -> Bench {
    let bench = Bench::default();
    bench.plug("ttyUSB0", BOARD);
    bench.plug("ttyUSB1", RECEIVER);
    bench.plug(STRANGER, RECEIVER);
    bench
}

fn job(bench: &Bench) -> (LiveJob, TempDir) {
    let (job, folder) = bench.job("ttyUSB0", ("ttyUSB1", BOARD_BAUD));
    wait_until("fit to start", || job.fit_to_start().is_ok());
    (job, folder)
}

fn lost(role: PortRole, loss: Loss) -> impl Fn(&LiveEvent) -> bool {
    move |e| matches!(e, LiveEvent::PortLost { role: r, loss: l, .. } if (*r, *l) == (role, loss))
}

fn found(role: PortRole) -> impl Fn(&LiveEvent) -> bool {
    move |event| matches!(event, LiveEvent::PortFound { role: r, .. } if *r == role)
}

/// Where the part was found that was awaited last.
fn place(heard: &Heard) -> Option<String> {
    match heard.seen.last() {
        Some(LiveEvent::PortFound { place, .. }) => place.clone(),
        other => panic!("{other:?}"),
    }
}

/// How many parts were found so far.
fn finds(heard: &Heard) -> usize {
    heard.seen.iter().filter(|event| matches!(event, LiveEvent::PortFound { .. })).count()
}

fn told(what: &str, seconds: f64) {
    eprintln!("{what}: found again after {seconds:.2} s");
}

/// Fault row: plugs change places while both ports stay open.
#[test]
fn plugs_swapped_on_open_ports_are_both_found_again() {
    let (bench, mut heard) = (bench(), Heard::default());
    let (job, _folder) = job(&bench);
    bench.swap("ttyUSB0", "ttyUSB1");
    let started = Instant::now();
    heard.until(&job, lost(PortRole::Receiver, Loss::Foreign));
    let back = |heard: &Heard, role| heard.seen.iter().any(found(role));
    while !(back(&heard, PortRole::Board) && back(&heard, PortRole::Receiver)) {
        heard.until(&job, |_| true);
    }
    told("plugs swapped on open ports", started.elapsed().as_secs_f64());
    assert!(heard.seen.iter().any(lost(PortRole::Board, Loss::Foreign)), "{:?}", heard.seen);
    wait_until("fit to start", || job.fit_to_start().is_ok());
}

#[test]
fn a_board_under_another_name_is_found_by_its_identity() {
    let (bench, mut heard) = (bench(), Heard::default());
    let (job, _folder) = job(&bench);
    bench.unplug("ttyUSB0");
    heard.until(&job, lost(PortRole::Board, Loss::Gone));
    // Another board is plugged in first: it is not ours. Once it is opened a second time it was
    // heard and let go of before.
    bench.plug("ttyUSB3", Device::Board(0xBAD));
    let tries = || bench.opened().iter().filter(|name| *name == "ttyUSB3").count();
    wait_until("the other board let go of", || tries() >= 2);
    bench.plug("ttyUSB4", BOARD);
    let seconds = seconds_until(&mut heard, &job, found(PortRole::Board));
    told("board under another name", seconds);
    assert_eq!(place(&heard).as_deref(), Some("ttyUSB4 at 115200 baud"));
    assert_eq!(finds(&heard), 1, "another board was taken: {:?}", heard.seen);
    // Lost once more, it is found where it was last.
    bench.unplug("ttyUSB4");
    heard.until(&job, lost(PortRole::Board, Loss::Gone));
    bench.plug("ttyUSB4", BOARD);
    heard.until(&job, found(PortRole::Board));
    assert_eq!(place(&heard), None);
    assert_eq!(job.finish().trouble, None);
}

#[test]
fn a_receiver_under_another_name_is_found_and_a_strangers_is_not_taken() {
    let (bench, mut heard) = (bench(), Heard::default());
    let (job, _folder) = job(&bench);
    bench.unplug("ttyUSB1");
    heard.until(&job, lost(PortRole::Receiver, Loss::Gone));
    // A list is made anew when all of the one before was tried: two lists, one whole search.
    let before = bench.listed();
    wait_until("a whole search in vain", || bench.listed() >= before + 2);
    bench.plug("ttyUSB2", RECEIVER);
    let seconds = seconds_until(&mut heard, &job, found(PortRole::Receiver));
    told("receiver under another name", seconds);
    assert_eq!(place(&heard).as_deref(), Some("ttyUSB2 at 115200 baud"));
    assert_eq!(finds(&heard), 1, "another receiver was taken: {:?}", heard.seen);
    assert!(!bench.opened().iter().any(|name| name == STRANGER), "{:?}", bench.opened());
    assert_eq!(job.finish().trouble, None);
}

#[test]
fn parts_that_come_back_under_each_others_names_are_told_apart() {
    let (bench, mut heard) = (bench(), Heard::default());
    let (job, _folder) = job(&bench);
    bench.unplug("ttyUSB0");
    bench.unplug("ttyUSB1");
    bench.plug("ttyUSB0", RECEIVER);
    bench.plug("ttyUSB1", BOARD);
    let back = Instant::now();
    let mut places = (None, None);
    while places.0.is_none() || places.1.is_none() {
        heard.until(&job, |event| matches!(event, LiveEvent::PortFound { place: Some(_), .. }));
        let Some(LiveEvent::PortFound { role, .. }) = heard.seen.last() else { unreachable!() };
        told(&format!("{} under the other's name", role.name()), back.elapsed().as_secs_f64());
        match role {
            PortRole::Board => places.0 = place(&heard),
            PortRole::Receiver => places.1 = place(&heard),
        }
    }
    assert_eq!(places.0.as_deref(), Some("ttyUSB1 at 115200 baud"));
    assert_eq!(places.1.as_deref(), Some("ttyUSB0 at 115200 baud"));
    assert_eq!(job.finish().trouble, None);
}

#[test]
fn a_receiver_set_to_another_speed_is_found_at_that_speed() {
    for speed in [9_600, 38_400, 460_800, 19_200] {
        let (bench, mut heard) = (bench(), Heard::default());
        let (job, _folder) = job(&bench);
        bench.set_speed("ttyUSB1", speed);
        let changed = Instant::now();
        heard.until(&job, lost(PortRole::Receiver, Loss::Unreadable));
        heard.until(&job, found(PortRole::Receiver));
        told(&format!("receiver set to {speed} baud"), changed.elapsed().as_secs_f64());
        assert_eq!(place(&heard), Some(format!("ttyUSB1 at {speed} baud")));
        assert!(!bench.opened().iter().any(|name| name == STRANGER));
        assert_eq!(job.finish().trouble, None);
    }
}

/// A receiver that restarts may fall back to the speed of its maker.
#[test]
fn a_receiver_that_comes_back_at_another_speed_is_found() {
    let (bench, mut heard) = (bench(), Heard::default());
    let (job, _folder) = job(&bench);
    bench.unplug("ttyUSB1");
    heard.until(&job, lost(PortRole::Receiver, Loss::Gone));
    bench.plug("ttyUSB1", Device::Receiver(38_400));
    let back = Instant::now();
    heard.until(&job, |event| {
        let LiveEvent::PortFound { role: PortRole::Receiver, place } = event else { return false };
        place.as_deref() == Some("ttyUSB1 at 38400 baud")
    });
    told("receiver back at another speed", back.elapsed().as_secs_f64());
    assert_eq!(job.finish().trouble, None);
}
