//! The pseudo-terminals, opened the way a host would.

use std::cell::RefCell;
use std::convert::Infallible;
use std::fs::{File, OpenOptions};
use std::io::{Read as _, Write as _};
use std::os::unix::fs::OpenOptionsExt as _;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};
use trundle_protocol::message::{HelloRequest, ToBoard, ToHost};
use trundle_protocol::units::Fixed32;
use trundle_protocol::{Deframer, WireMessage as _};
use trundle_sim::serve::{LineEnd, Pacing, Pair, Ports, serve};
use trundle_sim::{Port, Scenario, Simulation};

struct Served {
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Served {
    fn start(ports: Ports) -> Self {
        let stop = Arc::new(AtomicBool::new(false));
        let seen = Arc::clone(&stop);
        let thread = std::thread::spawn(move || {
            let mut simulation = Simulation::new(&Scenario::default(), 1);
            let pacing = Pacing { pace: 5.0, keep_open: true };
            serve(&mut simulation, &ports, pacing, &seen, &mut |_, _| {}).unwrap();
        });
        Self { stop, thread: Some(thread) }
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            thread.join().unwrap();
        }
    }
}

fn open(path: &Path) -> File {
    let nonblocking = rustix::fs::OFlags::NONBLOCK | rustix::fs::OFlags::NOCTTY;
    let flags = i32::try_from(nonblocking.bits()).unwrap();
    OpenOptions::new().read(true).write(true).custom_flags(flags).open(path).unwrap()
}

/// Reads until `enough` says so; gives up after ten seconds.
fn read_until(port: &mut File, mut enough: impl FnMut(&[u8]) -> bool) {
    let (started, mut buffer) = (Instant::now(), [0; 512]);
    loop {
        assert!(started.elapsed() < Duration::from_secs(10), "nothing fitting came");
        match port.read(&mut buffer) {
            Ok(count) if enough(&buffer[..count]) => return,
            Ok(_) => {}
            Err(error) if error.kind() == std::io::ErrorKind::WouldBlock => {}
            Err(error) => panic!("{error}"),
        }
        std::thread::sleep(Duration::from_millis(1));
    }
}

#[test]
fn both_ports_serve_bytes_and_the_board_answers() {
    let ports = Ports::open(None).unwrap();
    let paths = [ports.board.path().to_owned(), ports.receiver.path().to_owned()];
    let _served = Served::start(ports);
    // The second opening shows that a client that closes does not take the port with it.
    for nonce in [77, 78] {
        let mut board = open(&paths[0]);
        let request = ToBoard::HelloRequest(HelloRequest { nonce: Fixed32(nonce) });
        let frame = request.frame();
        board.write_all(&[&[0], frame.as_bytes()].concat()).unwrap();
        let mut deframer = Deframer::<ToHost>::new();
        let (mut answered, mut counts) = (false, 0);
        read_until(&mut board, |bytes| {
            deframer.push_slice(bytes, |frame| match frame {
                Ok(ToHost::Hello(hello)) => answered |= hello.nonce.0 == nonce,
                Ok(ToHost::Counts(_)) => counts += 1,
                _ => {}
            });
            answered && counts > 5
        });
    }
    let mut text = Vec::new();
    read_until(&mut open(&paths[1]), |bytes| {
        text.extend_from_slice(bytes);
        text.windows(7).filter(|window| window == b"$GNGGA,").count() > 3
    });
}

#[test]
fn unread_bytes_never_hold_the_simulation_up() {
    let ports = Ports::open(None).unwrap();
    for _ in 0..4_000 {
        ports.board.send(&[0x55; 64]).unwrap();
    }
    let mut client = open(ports.board.path());
    ports.board.send(b"newest").unwrap();
    let mut heard = Vec::new();
    read_until(&mut client, |bytes| {
        heard.extend_from_slice(bytes);
        heard.ends_with(b"newest")
    });
}

#[test]
fn links_are_made_replaced_and_removed() {
    let name = format!("trundle-sim-links-{}", std::process::id());
    let folder = std::env::temp_dir().join(name);
    std::fs::create_dir(&folder).unwrap();
    std::os::unix::fs::symlink("nowhere", folder.join("board")).unwrap();
    let ports = Ports::open(Some(&folder)).unwrap();
    assert_eq!(std::fs::read_link(folder.join("board")).unwrap(), ports.board.path());
    assert_eq!(std::fs::read_link(folder.join("receiver")).unwrap(), ports.receiver.path());
    drop(ports);
    // Fails when a link was left behind.
    std::fs::remove_dir(&folder).unwrap();
}

/// A client that takes a share of what is offered at a time.
struct Slow {
    /// One part in so many stays.
    leaves: usize,
    taken: RefCell<Vec<u8>>,
}

impl LineEnd for Slow {
    type Error = Infallible;

    fn offer(&self, bytes: &[u8]) -> Result<usize, Infallible> {
        let taken = bytes.len() - bytes.len() / self.leaves;
        self.taken.borrow_mut().extend(&bytes[..taken]);
        Ok(taken)
    }

    fn send(&self, bytes: &[u8]) -> Result<usize, Infallible> {
        panic!("{} bytes would be lost", bytes.len())
    }

    fn receive(&self, _: &mut Vec<u8>) -> Result<(), Infallible> {
        Ok(())
    }
}

#[test]
fn a_client_that_is_slow_at_the_end_has_all_of_it() {
    let scenario = Scenario { passes: 1, ..Scenario::default() };
    let end = || Slow { leaves: 4, taken: RefCell::default() };
    let ports = Pair { board: end(), receiver: end(), bus: None };
    // As fast as it can be calculated.
    let pacing = Pacing { pace: 1e6, keep_open: false };
    let mut served = Simulation::new(&scenario, 1);
    serve(&mut served, &ports, pacing, &AtomicBool::new(false), &mut |_, _| {}).unwrap();
    let (mut all, mut out) = ([Vec::new(), Vec::new()], Vec::new());
    Simulation::new(&scenario, 1).advance_to(served.now_us(), &mut out);
    for emission in out {
        all[usize::from(emission.port == Port::Receiver)].extend(emission.bytes);
    }
    let taken = [ports.board, ports.receiver].map(|port| port.taken.into_inner());
    let lengths = |bytes: &[Vec<u8>; 2]| bytes.each_ref().map(Vec::len);
    assert!(taken == all, "{:?} of {:?} bytes", lengths(&taken), lengths(&all));
}
