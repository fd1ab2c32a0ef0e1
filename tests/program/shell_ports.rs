//! Ports by their content, on real pseudo-terminals.

use crate::fakes::{Heard, wait_until};
use std::io::Read as _;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::Duration;
use trundle::ports::PortChoice;
use trundle::ports::choose::{Wanted, choose};
use trundle::ports::open::{BOARD_BAUD, OpenFault, open_now};
use trundle::ports::probe::probe_all;
use trundle::recorder::capture_file::CaptureWriter;
use trundle::recorder::capture_read::read_capture;
use trundle::recorder::live::{LiveEvent, LiveJob, LiveSetup};
use trundle::shell::exit;
use trundle_core::capture::{Piece, PortRole};
use trundle_core::fitness::content::PortContent;
use trundle_core::session::{Keeps, Session, SessionEvent};
use trundle_sim::pty::Pty;
use trundle_sim::serve::{Pacing, Ports, serve};
use trundle_sim::{Scenario, Simulation};

/// Something that goes on behind a port until it is dropped.
struct Behind {
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Behind {
    fn simulation(ports: Ports, pace: f64) -> Self {
        Self::run(move |stop| {
            let mut simulation = Simulation::new(&Scenario::default(), 1);
            let pacing = Pacing { pace, keep_open: true };
            serve(&mut simulation, &ports, pacing, stop, &mut |_, _| {}).unwrap();
        })
    }

    fn sending(pty: Pty, bytes: &'static [u8]) -> Self {
        Self::run(move |stop| {
            while !stop.load(Ordering::Relaxed) {
                pty.send(bytes).unwrap();
                std::thread::sleep(Duration::from_millis(20));
            }
        })
    }

    fn run(work: impl FnOnce(&AtomicBool) + Send + 'static) -> Self {
        let stop = Arc::new(AtomicBool::new(false));
        let seen = stop.clone();
        Self { stop, thread: Some(std::thread::spawn(move || work(&seen))) }
    }
}

impl Drop for Behind {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        self.thread.take().unwrap().join().unwrap();
    }
}

fn path(pty: &Pty) -> String {
    pty.path().to_string_lossy().into_owned()
}

#[test]
fn every_port_is_known_by_what_comes_from_it() {
    let ports = Ports::open(None).unwrap();
    let (board, receiver) = (path(&ports.board), path(&ports.receiver));
    let (text, binary, silent, taken) =
        (Pty::open().unwrap(), Pty::open().unwrap(), Pty::open().unwrap(), Pty::open().unwrap());
    let (text_path, binary_path) = (path(&text), path(&binary));
    let _behind = [
        Behind::simulation(ports, 1.0),
        Behind::sending(text, b"[ 1.25] sensor task up, 3 of 3\r\n"),
        Behind::sending(binary, &[0x81, 0xB5, 0x62, 0xFF, 0x01, 0x07, 0x9C]),
    ];
    let holding = open_now(&path(&taken), BOARD_BAUD).unwrap();
    let all = [&board, &receiver, &text_path, &binary_path, &path(&silent), &path(&taken)];
    let probes = probe_all(&all.map(|path| (path.clone(), None)));
    drop(holding);
    assert!(
        matches!(probes[0].found, Ok(PortContent::Board { hello: Some(_) })),
        "{:?}",
        probes[0]
    );
    let Ok(PortContent::Receiver(found)) = &probes[1].found else { panic!("{:?}", probes[1]) };
    // The simulated receiver's rate, as its scenario states it.
    assert!((found.rate_hz.unwrap() - 10.0).abs() < 0.5, "{found:?}");
    assert!(found.kinds.iter().any(|kind| kind.ends_with("GGA")), "{found:?}");
    assert!(matches!(probes[2].found, Ok(PortContent::Text(_))), "{:?}", probes[2]);
    let why = probes[2].words().1;
    assert!(why.contains("0 frames"), "{why}");
    assert!(matches!(probes[3].found, Ok(PortContent::Binary(_))), "{:?}", probes[3]);
    assert_eq!(probes[4].found, Ok(PortContent::Silent));
    let Err(OpenFault::Taken(by)) = &probes[5].found else { panic!("{:?}", probes[5]) };
    if cfg!(target_os = "linux") {
        let me = format!("(pid {})", std::process::id());
        assert!(by.iter().any(|name| name.ends_with(&me)), "{by:?}");
    }
}

#[test]
fn swapped_names_are_refused_and_right_ones_taken() {
    let ports = Ports::open(None).unwrap();
    let (board, receiver) = (path(&ports.board), path(&ports.receiver));
    let _behind = Behind::simulation(ports, 5.0);
    let wanted = |board: &str, receiver: &str| Wanted {
        board: Some(board.to_owned()),
        receiver: Some(receiver.to_owned()),
        ..Wanted::default()
    };
    let trouble = choose(&wanted(&receiver, &board)).unwrap_err();
    assert_eq!(trouble.code, exit::USAGE);
    assert!(trouble.what.contains("swapped"), "{trouble}");
    let chosen = choose(&wanted(&board, &receiver)).unwrap();
    assert_eq!(chosen.board.unwrap().path, board);
    assert_eq!(chosen.receiver.unwrap().path, receiver);
    let trouble = choose(&wanted(&board, &board)).unwrap_err();
    assert_eq!(trouble.code, exit::USAGE);
}

/// A node that may not be opened. The superuser may open everything, so for that user only the
/// message is looked at; that the system's "permission denied" leads to it is tested beside the
/// code.
#[test]
fn a_port_without_permission_is_called_that() {
    use std::os::unix::fs::PermissionsExt as _;
    let pty = Pty::open().unwrap();
    std::fs::set_permissions(pty.path(), std::fs::Permissions::from_mode(0o000)).unwrap();
    if std::fs::File::open(pty.path()).is_ok() {
        let trouble = OpenFault::NoPermission.trouble("/dev/x");
        assert_eq!(trouble.code, exit::BLOCKED);
        assert!(trouble.what.contains("no permission"), "{trouble}");
    } else {
        let fault = open_now(&path(&pty), BOARD_BAUD).err();
        assert_eq!(fault, Some(OpenFault::NoPermission));
    }
}

#[test]
fn what_came_before_the_port_was_opened_is_dropped() {
    let pty = Pty::open().unwrap();
    pty.send(b"stale").unwrap();
    let mut port = open_now(&path(&pty), BOARD_BAUD).unwrap();
    pty.send(b"fresh").unwrap();
    let (mut heard, mut buffer) = (Vec::new(), [0; 64]);
    while heard.len() < 5 {
        let count = port.read(&mut buffer).unwrap();
        heard.extend_from_slice(&buffer[..count]);
    }
    assert_eq!(heard, b"fresh");
}

fn until(job: &LiveJob, fits: impl Fn(&LiveEvent) -> bool) {
    Heard::default().until(job, fits);
}

fn until_fit(job: &LiveJob) {
    wait_until("fit to start", || job.fit_to_start().is_ok());
}

/// Fault row: the cable is pulled and comes back, under another node behind the same name.
#[test]
fn a_pulled_cable_is_told_and_the_job_goes_on_when_it_is_back() {
    let folder = tempfile::tempdir().unwrap();
    let links = folder.path();
    let behind = Behind::simulation(Ports::open(Some(links)).unwrap(), 1.0);
    let port = |name: &str| PortChoice {
        path: links.join(name).to_string_lossy().into_owned(),
        baud: BOARD_BAUD,
    };
    let capture: PathBuf = links.join("x.capture");
    let setup = LiveSetup {
        board: Some(port("board")),
        receiver: Some(port("receiver")),
        bus: None,
        capture: capture.clone(),
        course_text: None,
        keeps: Keeps::Passes,
        pace: 1.0,
        started_utc: None,
        practice: true,
    };
    let job = LiveJob::start(&setup).unwrap();
    // A second job can have neither the ports nor the file.
    let trouble = LiveJob::start(&setup).err().unwrap();
    assert_eq!(trouble.code, exit::BLOCKED, "{trouble}");
    let trouble = CaptureWriter::create(&capture).err().unwrap();
    assert_eq!(trouble.code, exit::USAGE, "{trouble}");
    until_fit(&job);
    drop(behind);
    until(&job, |e| matches!(e, LiveEvent::PortLost { role: PortRole::Board, .. }));
    assert!(job.fit_to_start().is_err());
    let _behind = Behind::simulation(Ports::open(Some(links)).unwrap(), 1.0);
    until(&job, |e| matches!(e, LiveEvent::PortFound { role: PortRole::Board, .. }));
    until_fit(&job);
    let live = job.finish();
    assert_eq!(live.trouble, None);
    let (mut replay, mut events, mut hellos) = (Session::default(), Vec::new(), 0);
    read_capture(&capture, |piece| {
        assert!(!matches!(piece, Piece::Damage(_)), "{piece:?}");
        replay.take(piece, &mut events);
        hellos += events.iter().filter(|e| matches!(e, SessionEvent::Hello(_))).count();
        events.clear();
    })
    .unwrap();
    assert_eq!(format!("{replay:?}"), format!("{:?}", live.session));
    assert!(hellos >= 2 && replay.ended());
}
