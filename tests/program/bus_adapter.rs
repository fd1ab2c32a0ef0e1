//! A bus adapter beside board and receiver: only its set-up is ever written to it, it is recorded
//! byte by byte, and lost and found again like the others.

use crate::fakes::{Heard, wait_until};
use crate::shell_again::on_bench::{Bench, Device, FRAME};
use std::io::Write as _;
use trundle::ports::adapter::{Adapter, AdapterFault};
use trundle::ports::open::BOARD_BAUD;
use trundle::ports::search::Ports as _;
use trundle::recorder::live::{LiveEvent, LiveJob};
use trundle_core::capture::{Entry, HostMarkAction, PortRole, Reader};
use trundle_core::wire::bus::message::BusSpeed;
use trundle_core::wire::bus::setup::SetupFault;
use trundle_protocol::message::{Identify, ToBoard};

fn bench(listens: bool) -> Bench {
    let bench = Bench::default();
    bench.plug("ttyUSB0", Device::Board(0xB0A2D));
    bench.plug("ttyUSB1", Device::Receiver(BOARD_BAUD));
    bench.plug("ttyUSB2", Device::Adapter(listens));
    bench
}

/// Only `C`, `S5` and `L`, each with its end.
#[track_caller]
fn assert_only_set_up(bench: &Bench) {
    let told = bench.told_adapters();
    let commands: Vec<&[u8]> = told.split_inclusive(|byte| *byte == b'\r').collect();
    assert!(!commands.is_empty());
    for command in commands {
        let known = [&b"C\r"[..], b"S5\r", b"L\r"].contains(&command);
        assert!(known, "sent: {}", told.escape_ascii());
    }
}

#[test]
fn an_adapter_that_does_not_listen_only_is_refused_and_nothing_else_is_tried() {
    let mut bench = bench(false);
    let port = bench.open("ttyUSB2", BOARD_BAUD).unwrap();
    let fault = Adapter::listen_only(port).err().unwrap();
    assert_eq!(fault, AdapterFault::Setup(SetupFault::ListenRefused));
    let trouble = fault.trouble("ttyUSB2").to_string();
    assert!(trouble.contains("listen") && trouble.contains("another adapter"), "{trouble}");
    assert_only_set_up(&bench);
}

/// Wait until this part and the adapter were found again.
fn both_found(heard: &mut Heard, job: &LiveJob, role: PortRole) {
    let found = |event: &LiveEvent| match event {
        LiveEvent::PortFound { role: found, .. } => Some(*found),
        _ => None,
    };
    let mut left = vec![role, PortRole::Bus];
    while !left.is_empty() {
        heard.until(job, |event| found(event).is_some());
        let last = heard.seen.last().and_then(found);
        left.retain(|role| Some(*role) != last);
    }
}

#[test]
fn whatever_a_job_does_an_adapter_is_sent_its_set_up_and_nothing_else() {
    let bench = bench(true);
    let (job, folder) = bench.job_with_bus("ttyUSB0", "ttyUSB1", "ttyUSB2");
    let mut heard = Heard::default();
    wait_until("fit to start", || job.fit_to_start().is_ok());
    let samples = || job.copy().bus().speeds.len();
    wait_until("a speed of the bus", || samples() > 0);
    job.host_mark(HostMarkAction::Mark, "");
    job.host_mark(HostMarkAction::Note, "T18FE48F0800\rL\r");
    job.command_board(&ToBoard::Identify(Identify { request: 1, seconds: 2 }));
    // Everything that a job does about a lost port, and with the other two in its place.
    bench.unplug("ttyUSB2");
    heard.until(&job, |e| matches!(e, LiveEvent::PortLost { role: PortRole::Bus, .. }));
    bench.plug("ttyUSB2", Device::Adapter(true));
    heard.until(&job, |e| matches!(e, LiveEvent::PortFound { role: PortRole::Bus, .. }));
    for (other, role) in [("ttyUSB0", PortRole::Board), ("ttyUSB1", PortRole::Receiver)] {
        for _there_and_back in 0..2 {
            bench.swap(other, "ttyUSB2");
            both_found(&mut heard, &job, role);
        }
    }
    let finished = job.finish();
    assert_eq!(finished.trouble, None);
    assert_only_set_up(&bench);
    // Byte by byte in the capture, and the frames in it are whole.
    let mut reader = Reader::default();
    reader.push(&std::fs::read(folder.path().join("x.capture")).unwrap());
    let mut bytes = Vec::new();
    while let Some(piece) = reader.take() {
        if let Ok(record) = trundle_bounds::streams::owned(&piece)
            && let Entry::Bytes(PortRole::Bus, part) = record.entry
        {
            bytes.extend(part);
        }
    }
    let frames = bytes.windows(FRAME.len()).filter(|part| *part == FRAME).count();
    assert!(frames >= 2, "{}", bytes.escape_ascii());
    let totals = finished.session.totals().bus;
    assert_eq!(totals.line.bytes, bytes.len() as u64);
    let now = finished.session.bus().speeds.values().next().unwrap();
    assert_eq!((now.sender, now.kind, now.speed_mm_s), (0xF0, BusSpeed::Wheel, Some(2_000)));
}

#[test]
fn nothing_can_be_written_through_an_adapter_that_listens() {
    let mut bench = bench(true);
    let port = bench.open("ttyUSB2", BOARD_BAUD).unwrap();
    let mut adapter = Adapter::listen_only(port).unwrap();
    let before = bench.told_adapters();
    assert_eq!(before, b"C\rS5\rL\r");
    assert!(adapter.write_all(b"T18FE48F08D0074042000FFFFD\r").is_err());
    assert_eq!(bench.told_adapters(), before);
    drop(adapter);
    assert_eq!(bench.told_adapters(), b"C\rS5\rL\rC\r");
}
