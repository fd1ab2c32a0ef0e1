//! A lost port is found again by what comes from it, whatever its name and speed are now. The
//! seconds from the moment it was back are printed (`-- --nocapture`); they are to be below two.
#![allow(clippy::unwrap_used, clippy::print_stderr, missing_docs)]

#[path = "shell_again/bench.rs"]
mod on_bench;

use on_bench::{Bench, Device, PATIENCE, until};
use std::time::{Duration, Instant};
use tempfile::TempDir;
use trundle::capture::PortRole;
use trundle::fitness::Loss;
use trundle::ports::open::BOARD_BAUD;
use trundle::recorder::live::{LiveEvent, LiveJob};

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
    let started = Instant::now();
    while let Err(reasons) = job.fit_to_start() {
        assert!(started.elapsed() < PATIENCE, "{reasons:?}");
        std::thread::sleep(Duration::from_millis(20));
    }
    (job, folder)
}

fn lost(role: PortRole, loss: Loss) -> impl Fn(&LiveEvent) -> bool {
    move |e| matches!(e, LiveEvent::PortLost { role: r, loss: l, .. } if (*r, *l) == (role, loss))
}

fn found(role: PortRole) -> impl Fn(&LiveEvent) -> bool {
    move |event| matches!(event, LiveEvent::PortFound { role: r, .. } if *r == role)
}

/// Where a part was found.
fn place(seen: &[LiveEvent], wanted: PortRole) -> Option<String> {
    seen.iter().find_map(|event| match event {
        LiveEvent::PortFound { role, place } if *role == wanted => Some(place.clone()),
        _ => None,
    })?
}

fn told(what: &str, seconds: f64) {
    eprintln!("{what}: found again after {seconds:.2} s");
}

#[test]
fn a_board_under_another_name_is_found_by_its_identity() {
    let bench = bench();
    let (job, _folder) = job(&bench);
    bench.unplug("ttyUSB0");
    until(&job, lost(PortRole::Board, Loss::Gone));
    // Another board is plugged in first: it is not ours, and is left alone.
    bench.plug("ttyUSB3", Device::Board(0xBAD));
    std::thread::sleep(Duration::from_millis(700));
    assert!(!job.look().board.open, "another board was taken");
    bench.plug("ttyUSB4", BOARD);
    let (seconds, seen) = until(&job, found(PortRole::Board));
    told("board under another name", seconds);
    assert_eq!(place(&seen, PortRole::Board).as_deref(), Some("ttyUSB4 at 115200 baud"));
    // Lost once more, it is found where it was last.
    bench.unplug("ttyUSB4");
    until(&job, lost(PortRole::Board, Loss::Gone));
    bench.plug("ttyUSB4", BOARD);
    let (_, seen) = until(&job, found(PortRole::Board));
    assert_eq!(place(&seen, PortRole::Board), None);
    assert_eq!(job.finish().trouble, None);
}

#[test]
fn a_receiver_under_another_name_is_found_and_a_strangers_is_not_taken() {
    let bench = bench();
    let (job, _folder) = job(&bench);
    bench.unplug("ttyUSB1");
    until(&job, lost(PortRole::Receiver, Loss::Gone));
    std::thread::sleep(Duration::from_millis(1500));
    assert!(!bench.opened().iter().any(|name| name == STRANGER), "{:?}", bench.opened());
    bench.plug("ttyUSB2", RECEIVER);
    let (seconds, seen) = until(&job, found(PortRole::Receiver));
    told("receiver under another name", seconds);
    assert_eq!(place(&seen, PortRole::Receiver).as_deref(), Some("ttyUSB2 at 115200 baud"));
    assert_eq!(job.finish().trouble, None);
}

#[test]
fn parts_that_come_back_under_each_others_names_are_told_apart() {
    let bench = bench();
    let (job, _folder) = job(&bench);
    bench.unplug("ttyUSB0");
    bench.unplug("ttyUSB1");
    bench.plug("ttyUSB0", RECEIVER);
    bench.plug("ttyUSB1", BOARD);
    let back = Instant::now();
    let started = Instant::now();
    let mut places = (None, None);
    while places.0.is_none() || places.1.is_none() {
        for event in job.poll(Duration::from_millis(20)) {
            if let LiveEvent::PortFound { role, place: Some(place) } = event {
                let at = back.elapsed().as_secs_f64();
                told(&format!("{} under the other's name", role.name()), at);
                match role {
                    PortRole::Board => places.0 = Some(place),
                    PortRole::Receiver => places.1 = Some(place),
                }
            }
        }
        assert!(started.elapsed() < PATIENCE, "{places:?}");
    }
    assert_eq!(places.0.as_deref(), Some("ttyUSB1 at 115200 baud"));
    assert_eq!(places.1.as_deref(), Some("ttyUSB0 at 115200 baud"));
    assert_eq!(job.finish().trouble, None);
}

#[test]
fn a_receiver_set_to_another_speed_is_found_at_that_speed() {
    for speed in [9_600, 38_400, 460_800, 19_200] {
        let bench = bench();
        let (job, _folder) = job(&bench);
        bench.set_speed("ttyUSB1", speed);
        let changed = Instant::now();
        until(&job, lost(PortRole::Receiver, Loss::Unreadable));
        let (_, seen) = until(&job, found(PortRole::Receiver));
        told(&format!("receiver set to {speed} baud"), changed.elapsed().as_secs_f64());
        let place = place(&seen, PortRole::Receiver);
        assert_eq!(place, Some(format!("ttyUSB1 at {speed} baud")));
        assert!(!bench.opened().iter().any(|name| name == STRANGER));
        assert_eq!(job.finish().trouble, None);
    }
}

/// A receiver that restarts may fall back to the speed of its maker.
#[test]
fn a_receiver_that_comes_back_at_another_speed_is_found() {
    let bench = bench();
    let (job, _folder) = job(&bench);
    bench.unplug("ttyUSB1");
    until(&job, lost(PortRole::Receiver, Loss::Gone));
    bench.plug("ttyUSB1", Device::Receiver(38_400));
    let back = Instant::now();
    let started = Instant::now();
    loop {
        let events = job.poll(Duration::from_millis(20));
        if place(&events, PortRole::Receiver).as_deref() == Some("ttyUSB1 at 38400 baud") {
            break;
        }
        assert!(started.elapsed() < PATIENCE);
    }
    told("receiver back at another speed", back.elapsed().as_secs_f64());
    assert_eq!(job.finish().trouble, None);
}
