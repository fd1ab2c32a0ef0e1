//! A bus adapter beside board and receiver: only its set-up is ever written to it, it is recorded
//! byte by byte, and lost and found again like the others.

use crate::fakes::job::{counts, never, records, setup};
use crate::fakes::{Disk, Hand, Heard, Step, fake_port, wait_until};
use crate::shell_again::on_bench::{Bench, Device, FRAME};
use std::io::{self, Read, Write};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;
use trundle::ports::PortChoice;
use trundle::ports::adapter::{Adapter, AdapterFault};
use trundle::ports::choose::{BusPart, Wanted, decide};
use trundle::ports::open::BOARD_BAUD;
use trundle::ports::probe::Probe;
use trundle::ports::search::Ports as _;
use trundle::ports::serial::BytePort;
use trundle::recorder::capture_file::CaptureWriter;
use trundle::recorder::live::{LiveEvent, LiveJob, LiveSetup, Parts};
use trundle::shell::exit;
use trundle_core::capture::{Entry, HostMarkAction, PortRole, Reader};
use trundle_core::fitness::content::{PortContent, ReceiverFinding};
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

/// What is behind a board's, a receiver's and two adapters' ports.
fn two_adapters() -> [Probe; 4] {
    let receiver =
        ReceiverFinding { kinds: vec![], rate_hz: None, bytes_per_s: None, quality: None };
    let found = [
        PortContent::Board { hello: Some(Default::default()) },
        PortContent::Receiver(receiver),
        PortContent::Adapter(None),
        PortContent::Adapter(None),
    ];
    let mut number = 0..;
    found.map(|content| Probe {
        path: format!("ttyUSB{}", number.next().unwrap()),
        baud: BOARD_BAUD,
        found: Ok(content),
    })
}

#[test]
fn a_job_beside_two_adapters_goes_on_without_the_bus_and_says_which_ones() {
    let chosen = decide(&Wanted::default(), &two_adapters()).unwrap();
    assert_eq!(chosen.board.unwrap().path, "ttyUSB0");
    assert_eq!(chosen.bus, None);
    let said = chosen.without_bus.unwrap();
    for words in ["ttyUSB2", "ttyUSB3", "goes on without the implement bus", "--bus PORT"] {
        assert!(said.contains(words), "{words:?} is missing: {said}");
    }
    // One alone is recorded, and one that is named too: then there is nothing to say.
    let named = Wanted { bus: Some("ttyUSB3".to_owned()), ..Wanted::default() };
    for (wanted, probes) in
        [(named, &two_adapters()[..]), (Wanted::default(), &two_adapters()[..3])]
    {
        let chosen = decide(&wanted, probes).unwrap();
        assert_eq!((&chosen.bus, chosen.without_bus), (&probes.last().cloned(), None));
    }
}

#[test]
fn a_job_that_reads_the_bus_asks_which_of_two_adapters() {
    for bus_part in [BusPart::Read, BusPart::Needed] {
        let trouble = decide(&Wanted { bus_part, ..Wanted::default() }, &two_adapters());
        let trouble = trouble.unwrap_err();
        assert_eq!(trouble.code, exit::USAGE);
        for words in ["More than one bus adapter", "ttyUSB2", "ttyUSB3", "--bus PORT"] {
            assert!(trouble.to_string().contains(words), "{words:?} is missing: {trouble}");
        }
        let bus = Some("ttyUSB2".to_owned());
        let named = Wanted { bus, bus_part, ..Wanted::default() };
        assert_eq!(decide(&named, &two_adapters()).unwrap().bus.unwrap().path, "ttyUSB2");
        let none = decide(&Wanted { bus_part, ..Wanted::default() }, &two_adapters()[..2]);
        // Only where nothing is done without a bus is one missed.
        assert_eq!(none.is_err(), bus_part == BusPart::Needed);
    }
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
fn one_that_refuses_in_the_place_of_a_lost_adapter_is_not_used() {
    let bench = bench(true);
    let (job, _folder) = bench.job_with_bus("ttyUSB0", "ttyUSB1", "ttyUSB2");
    let mut heard = Heard::default();
    wait_until("a speed of the bus", || !job.copy().bus().speeds.is_empty());
    bench.unplug("ttyUSB2");
    heard.until(&job, |e| matches!(e, LiveEvent::PortLost { role: PortRole::Bus, .. }));
    let before = bench.told_adapters().len();
    bench.plug("ttyUSB2", Device::Adapter(false));
    let asked = || bench.told_adapters()[before..].windows(2).filter(|c| *c == b"L\r").count();
    wait_until("asked twice to listen only", || asked() >= 2);
    bench.plug("ttyUSB2", Device::Adapter(true));
    let found = |e: &LiveEvent| matches!(e, LiveEvent::PortFound { role: PortRole::Bus, .. });
    heard.until(&job, found);
    assert_eq!(heard.seen.iter().filter(|event| found(event)).count(), 1);
    assert_eq!(job.finish().trouble, None);
    assert_only_set_up(&bench);
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

/// A port that counts the reads that gave something.
struct Counted(Box<dyn BytePort>, Arc<AtomicUsize>);

impl Counted {
    fn port() -> (Box<dyn BytePort>, Hand, Arc<AtomicUsize>) {
        let ((port, hand), reads) = (fake_port(), Arc::new(AtomicUsize::new(0)));
        (Box::new(Self(port, Arc::clone(&reads))), hand, reads)
    }
}

impl Read for Counted {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.0.read(buffer)?;
        self.1.fetch_add(1, Ordering::SeqCst);
        Ok(count)
    }
}

impl Write for Counted {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.0.flush()
    }
}

impl BytePort for Counted {
    fn set_wait(&mut self, wait: Duration) {
        self.0.set_wait(wait);
    }
}

/// Lets a disk go on however a test ends: a job that is given up waits for it.
struct Stalled<'a>(&'a Disk);

impl<'a> Stalled<'a> {
    fn new(disk: &'a Disk) -> Self {
        disk.with(|state| state.stalled = true);
        Self(disk)
    }
}

impl Drop for Stalled<'_> {
    fn drop(&mut self) {
        self.0.with(|state| state.stalled = false);
    }
}

/// Some twenty seconds of a full bus, in the pieces in which it comes, while nothing can be
/// written: the board is read on, and nothing of either is missing afterwards.
#[test]
fn a_full_bus_on_a_stalled_disk_takes_no_room_from_the_board() {
    const PIECES: usize = 10_000;
    const COUNTS: u32 = 200;
    let (disk, bus) = (Disk::default(), PortChoice { path: "bus".to_owned(), baud: BOARD_BAUD });
    let ((board, board_hand, board_reads), (port, bus_hand, bus_reads)) =
        (Counted::port(), Counted::port());
    let writer = CaptureWriter::on(Box::new(disk.clone()), Path::new("fake.capture"));
    let (board, port) = (Some((board, never())), Some((port, never())));
    let parts = Parts { writer, board, receiver: None, bus: port };
    let job = LiveJob::start_with(&LiveSetup { bus: Some(bus), ..setup() }, parts).unwrap();
    let stalled = Stalled::new(&disk);
    for _ in 0..PIECES {
        bus_hand.steps.send(Step::Bytes(FRAME.to_vec())).unwrap();
    }
    // What may wait of the bus waits.
    wait_until("a full queue", || bus_reads.load(Ordering::SeqCst) > 8_000);
    for number in 0..COUNTS {
        board_hand.steps.send(Step::Bytes(counts(number))).unwrap();
    }
    let read = || board_reads.load(Ordering::SeqCst);
    wait_until("the board is read on", || read() == COUNTS as usize);
    assert!(bus_reads.load(Ordering::SeqCst) < PIECES, "the bus waited");
    drop(stalled);
    wait_until("the bus is read on", || bus_reads.load(Ordering::SeqCst) == PIECES);
    let finished = job.finish();
    assert_eq!(finished.trouble, None);
    let whole = |wanted| {
        let entries = records(&disk.bytes()).into_iter();
        let bytes = |entry| match entry {
            Entry::Bytes(role, bytes) if role == wanted => bytes.len(),
            _ => 0,
        };
        entries.map(bytes).sum::<usize>()
    };
    assert_eq!(whole(PortRole::Bus), PIECES * FRAME.len());
    assert_eq!(whole(PortRole::Board), (0..COUNTS).map(|n| counts(n).len()).sum::<usize>());
}
