//! Where the bytes of a job come from: ports that were looked at, or a simulated tractor.

use super::{PortArgs, practise};
use crate::ports::choose::{BusPart, Chosen, Wanted, choose};
use crate::ports::practice::{Needs, Practice};
use crate::ports::probe::Probe;
use crate::ports::{PortChoice, adapter};
use crate::shell::exit::Trouble;
use crate::shell::out::Voice;
use crate::shell::{out, stop};
use crate::store::settings::Settings;

/// Where the bytes are to come from.
pub(super) struct Found {
    /// Ports of board, receiver and bus adapter, as far as the job has them.
    pub choices: [Option<PortChoice>; 3],
    /// Identity of the board, once it is known.
    pub board_id: Option<u64>,
    /// The simulated tractor, in practice.
    pub practice: Option<Practice>,
}

/// Find the ports, or the simulated tractor in their place, and say what they are; `None` when
/// asked to stop meanwhile.
pub(super) fn find(
    args: &PortArgs,
    settings: &Settings,
    voice: Voice,
) -> Result<Option<Found>, Trouble> {
    if let Some(tractor) = args.practice.tractor(args.pace)? {
        voice.say("");
        practise::introduce(&tractor, voice);
        let (choices, board_id) = (tractor.choices(needs(args))?, Some(tractor.board_id()));
        return Ok(Some(Found { choices, board_id, practice: Some(tractor) }));
    }
    voice.say("\nLooking for the ports ...");
    let receiver = || settings.receiver.clone().filter(|_| !args.no_receiver);
    let board = || settings.board.clone().filter(|_| !args.no_board);
    let chosen = choose(&Wanted {
        board: args.board.clone().or_else(board),
        bus: args.bus.clone(),
        no_board: args.no_board,
        bus_part: args.bus_part,
        receiver: args.receiver.clone().or_else(receiver),
        no_receiver: args.no_receiver,
        receiver_baud: args.receiver_speed.or(settings.receiver_speed),
    });
    // Who stops meanwhile does not care what was not found by then.
    if stop::wanted() {
        return Ok(None);
    }
    let mut chosen = chosen?;
    introduce(&chosen, voice);
    listens(args, &mut chosen, voice)?;
    let port = |probe: &Probe| PortChoice { path: probe.path.clone(), baud: probe.baud };
    let board_id = chosen.board.as_ref().and_then(Probe::board_id);
    let choices = [&chosen.board, &chosen.receiver, &chosen.bus];
    let choices = choices.map(|probe| probe.as_ref().map(port));
    Ok(Some(Found { choices, board_id, practice: None }))
}

/// What of a simulated tractor the job measures.
pub(super) const fn needs(args: &PortArgs) -> Needs {
    Needs { board: !args.no_board, receiver: !args.no_receiver, bus: args.bus_part }
}

/// An adapter that does not listen only is not used; a job that does not need one goes on without.
fn listens(args: &PortArgs, chosen: &mut Chosen, voice: Voice) -> Result<(), Trouble> {
    let Some(probe) = &chosen.bus else { return Ok(()) };
    let Err(trouble) = adapter::check(&probe.path, probe.baud) else { return Ok(()) };
    if args.bus.is_some() || args.bus_part == BusPart::Needed {
        return Err(trouble);
    }
    voice.say(&format!("{}\n  {}", trouble.what, trouble.next));
    chosen.bus = None;
    Ok(())
}

fn introduce(chosen: &Chosen, voice: Voice) {
    for probe in chosen.board.iter().chain(&chosen.receiver).chain(&chosen.bus) {
        let path = out::scrub(&probe.path, 200);
        let (role, why, next) = probe.words();
        voice.say(&format!("{path}: {role}, {why}"));
        if !next.is_empty() {
            voice.say(&format!("  {next}"));
        }
    }
    chosen.without_bus.iter().for_each(|words| voice.say(words));
}
