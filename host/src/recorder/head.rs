//! What a job begins with: its ports, open, and the head of its capture.

use super::capture_read::CAPTURE_VERSION;
use super::live::OpenPart;
use super::state::LinkState;
use super::thread::Core;
use super::types::LiveSetup;
use crate::ports::PortChoice;
use crate::ports::adapter::Adapter;
use crate::ports::open::{OpenFault, open};
use crate::ports::search::{Search, SystemPorts};
use crate::ports::serial::{BytePort, Opener};
use crate::shell::clock::wall_rfc3339;
use crate::shell::exit::Trouble;
use trundle_core::capture::{Arrival, Entry, HEADER_FORMAT, Header, PortEvent, PortRole};

/// Board, receiver and adapter, as far as the job has them.
pub(super) fn open_parts(setup: &LiveSetup) -> Result<[Option<OpenPart>; 3], Trouble> {
    let choices = setup.choices();
    let mut parts = [None, None, None];
    for (at, (role, choice)) in choices.into_iter().enumerate() {
        let Some(choice) = choice else { continue };
        let others = choices.into_iter().filter(|other| other.0 != role);
        let partners: Vec<&PortChoice> = others.filter_map(|other| other.1).collect();
        let trouble = |fault: OpenFault| fault.trouble(&choice.path);
        let port = open(&choice.path, choice.baud).map_err(trouble)?;
        let port: Box<dyn BytePort> = match role {
            PortRole::Bus => {
                Box::new(Adapter::listen_only(port).map_err(|fault| fault.trouble(&choice.path))?)
            }
            PortRole::Board | PortRole::Receiver => Box::new(port),
        };
        let search = Search::new(role, choice, &partners, Box::new(SystemPorts));
        parts[at] = Some((port, Box::new(search) as Opener));
    }
    Ok(parts)
}

/// The head of the capture: who, when, which course, which ports.
pub(super) fn begin(core: &mut Core, setup: &LiveSetup) {
    let header = Header {
        format: HEADER_FORMAT.to_owned(),
        version: CAPTURE_VERSION,
        software: env!("CARGO_PKG_VERSION").to_owned(),
        started_utc: setup.started_utc.clone().unwrap_or_else(wall_rfc3339),
        arrival: Arrival::Measured,
        pace: setup.pace,
        practice: setup.practice,
    };
    core.record(0, Entry::Header(header));
    core.note_wall();
    let now_ns = core.clock.now_ns();
    if let Some(text) = &setup.course_text {
        core.record(now_ns, Entry::Course(text.clone()));
    }
    let mut open = |role, choice: &PortChoice| {
        let detail =
            format!("{} at {} baud", crate::shell::out::scrub(&choice.path, 200), choice.baud);
        core.record(now_ns, Entry::Port(PortEvent { role, open: true, detail }));
    };
    for (role, choice) in setup.choices() {
        choice.into_iter().for_each(|choice| open(role, choice));
    }
    let mut state = core.shared.lock();
    let linked = |choice: &Option<PortChoice>| choice.as_ref().map(|_| LinkState::opened());
    state.board = linked(&setup.board);
    state.receiver = linked(&setup.receiver);
    state.bus = linked(&setup.bus);
}
