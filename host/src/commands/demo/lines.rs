//! The lines between the simulated tractor and the job: pseudo-terminals, or inside the program.

use crate::ports::PortChoice;
use crate::ports::open::{BOARD_BAUD, READ_WAIT};
use crate::recorder::live::{LiveJob, LiveSetup, OpenPart};
use crate::shell::exit::Trouble;
use std::convert::Infallible;
use std::sync::atomic::AtomicBool;
use trundle_sim::Simulation;
use trundle_sim::inside::{Near, Socket, line};
use trundle_sim::serve::{Pacing, Pair, serve};

/// Told what the tractor does, each time that changes.
type OnChange<'a> = &'a mut dyn FnMut(&Simulation, &str);

/// The simulator's ends of both lines.
pub(super) enum Ends {
    /// Pseudo-terminals, which the job opens by their names.
    #[cfg(unix)]
    Terminals(trundle_sim::serve::Ports),
    /// Inside the program.
    Inside(Pair<Near>),
}

/// Both lines before the job takes its ends.
pub(super) struct Lines {
    ends: Ends,
    /// Where the job gets its ends, board first, unless it opens them by name.
    sockets: Option<[Socket; 2]>,
}

impl Lines {
    /// Pseudo-terminals where the system has them and `inside` does not forbid it.
    pub fn open(inside: bool) -> Result<Self, Trouble> {
        #[cfg(unix)]
        if !inside {
            let ports = trundle_sim::serve::Ports::open(None).map_err(no_ports)?;
            return Ok(Self { ends: Ends::Terminals(ports), sockets: None });
        }
        // Where there is nothing else to choose, the wish is granted anyway.
        let _ = inside;
        let (board, to_board) = line(READ_WAIT);
        let (receiver, to_receiver) = line(READ_WAIT);
        let ends = Ends::Inside(Pair { board, receiver, bus: None });
        Ok(Self { ends, sockets: Some([to_board, to_receiver]) })
    }

    /// What the capture calls the ports: board, receiver.
    pub fn choices(&self) -> (PortChoice, PortChoice) {
        let choice = |path: String| PortChoice { path, baud: BOARD_BAUD };
        match &self.ends {
            #[cfg(unix)]
            Ends::Terminals(ports) => {
                let name = |pty: &trundle_sim::pty::Pty| choice(pty.path().display().to_string());
                (name(&ports.board), name(&ports.receiver))
            }
            Ends::Inside(_) => {
                (choice("simulated board".to_owned()), choice("simulated receiver".to_owned()))
            }
        }
    }

    /// Begin the job on them; gives the simulator's ends back.
    pub fn start(self, setup: &LiveSetup) -> Result<(LiveJob, Ends), Trouble> {
        let Some([board, receiver]) = self.sockets else {
            return Ok((LiveJob::start(setup)?, self.ends));
        };
        let parts = [Some(part(board)?), Some(part(receiver)?), None];
        Ok((LiveJob::start_on(setup, parts)?, self.ends))
    }
}

/// A line inside the program does not come back: when it ends, so does the tractor.
fn part(socket: Socket) -> Result<OpenPart, Trouble> {
    let gone = || "the simulated tractor is disconnected".to_owned();
    let far = socket.connect().map_err(|_| Trouble::internal(gone()))?;
    Ok((Box::new(far), Box::new(move || Err(gone()))))
}

impl Ends {
    /// Serve the tractor until its job is done or `halt` is set.
    pub fn serve(
        &self,
        simulation: &mut Simulation,
        pacing: Pacing,
        halt: &AtomicBool,
        on_change: OnChange<'_>,
    ) -> Result<(), Trouble> {
        match self {
            #[cfg(unix)]
            Self::Terminals(ports) => {
                serve(simulation, ports, pacing, halt, on_change).map_err(no_ports)
            }
            Self::Inside(pair) => serve(simulation, pair, pacing, halt, on_change)
                .map_err(|never: Infallible| match never {}),
        }
    }
}

#[cfg(unix)]
fn no_ports(fault: trundle_sim::pty::PtyError) -> Trouble {
    let means = "The simulated tractor cannot be reached.";
    let next = "Try again with --inside, which needs no pseudo-terminals.";
    Trouble::new(crate::shell::exit::PORT, fault.to_string(), means, next)
}
