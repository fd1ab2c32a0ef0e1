//! What the active rig shows the commands: its board, its antenna, its value.
//!
//! Measuring never depends on the register: where it cannot be read, that is said, and the
//! command goes on as if there were no rig.

use crate::shell::exit::{self, Trouble};
use crate::shell::out;
use crate::shell::out::Voice;
use crate::store::place::DataFolder;
use crate::store::register::{Named, Register};
use trundle_core::rig::{Snapshot, clean};
use trundle_core::session::Session;
use trundle_core::survey::slip::ZeroSlip;
use trundle_protocol::message::CHANNELS;
use trundle_protocol::units::Channel;
use trundle_show::tongue::stays_as_typed;

/// What a note begins with that names the rig of a capture.
const NOTE: &str = "rig: ";
/// What a note begins with that says why another board than the rig's is right.
const OTHER_BOARD: &str = "other board: ";
/// Longest reason for another board, characters: the note holds both boards' identities too.
const WHY_MAX: usize = 200;

/// The active rig, when there is one.
#[must_use]
pub fn rig(voice: Voice) -> Option<Snapshot> {
    let look = || -> Result<Option<Snapshot>, Trouble> {
        let register = Register::read(&DataFolder::in_force()?)?;
        register.active()?.map(|rig| register.snapshot(&rig.entry)).transpose()
    };
    look().unwrap_or_else(|trouble| {
        voice.say(&format!("The register of rigs was not used: {}", trouble.what));
        None
    })
}

/// What the active rig's last records hold for wheel and radar, impulses per 100 m: to show speeds
/// by, until there is something better.
#[must_use]
pub fn last_values(voice: Voice) -> [Option<f64>; CHANNELS] {
    let find = || -> Result<Option<(Register, Named)>, Trouble> {
        let register = Register::read(&DataFolder::in_force()?)?;
        Ok(register.active()?.map(|rig| (register, rig)))
    };
    // A register that cannot be read is spoken of where the recording begins.
    let Ok(Some((register, rig))) = find() else { return [None; CHANNELS] };
    let look = || -> Result<[Option<f64>; CHANNELS], Trouble> {
        let mut values = [None; CHANNELS];
        for channel in [Channel::Wheel, Channel::Radar] {
            let record = register.latest(&rig.entry.name, channel.name())?;
            values[channel.index()] =
                record.and_then(|record| record.to_enter).map(|value| value as f64);
        }
        Ok(values)
    };
    look().unwrap_or_else(|trouble| {
        voice.say(&format!("No speed is shown by the rig's records: {}", trouble.what));
        [None; CHANNELS]
    })
}

/// The note that names the rig in a capture.
#[must_use]
pub fn note(rig: &Snapshot) -> String {
    format!("{NOTE}{}", rig.rig.name)
}

/// The rig that a capture names; somebody typed it.
#[must_use]
pub fn named_in(session: &Session) -> Option<&str> {
    let name = session.notes().iter().find_map(|(_, note)| note.strip_prefix(NOTE));
    name.inspect(|name| stays_as_typed(name))
}

/// Is the board the one that belongs to the rig? `None` when either is not known.
#[must_use]
pub fn same_board(rig: &Snapshot, board_id: Option<u64>) -> Option<bool> {
    let wanted = rig.rig.text("board")?.trim().trim_start_matches("0x");
    Some(u64::from_str_radix(wanted, 16).ok()? == board_id?)
}

/// The note that confirms another board than the rig's; `None` when it is the rig's own, or when
/// either is not known.
///
/// # Errors
/// Exit code 2: another board and no reason, or one that cannot be written down.
pub fn confirmed(
    rig: &Snapshot,
    board_id: Option<u64>,
    why: Option<&str>,
) -> Result<Option<String>, Trouble> {
    if same_board(rig, board_id) != Some(false) {
        return Ok(None);
    }
    let trouble = other_board(rig, board_id);
    let Some(why) = why else { return Err(trouble) };
    let why = clean("The reason for the other board", why, WHY_MAX).map_err(|fault| {
        let means = "Nothing was recorded.";
        Trouble::new(exit::USAGE, format!("{fault}."), means, "Give --other-board again.")
            .of_option("other-board")
    })?;
    Ok(Some(format!("{OTHER_BOARD}{} Confirmed: {why}", trouble.what)))
}

/// What was said in a capture for another board than the rig's.
#[must_use]
pub fn confirmed_in(session: &Session) -> Option<&str> {
    session.notes().iter().rev().find_map(|(_, note)| note.strip_prefix(OTHER_BOARD))
}

/// The rig's board is not the one that answers.
#[must_use]
pub fn other_board(rig: &Snapshot, board_id: Option<u64>) -> Trouble {
    let here = board_id.map_or("unknown".to_owned(), |id| format!("{id:016x}"));
    Trouble::new(
        exit::USAGE,
        format!(
            "The active rig \"{}\" goes with counter board {}, but this is board {here}.",
            out::scrub(&rig.rig.name, trundle_core::rig::NAME_MAX),
            out::scrub(rig.rig.text("board").unwrap_or_default(), 40),
        ),
        "Nothing was recorded: the values would be saved under the wrong tractor.",
        "Choose the right rig with `trundle rig use NAME`; if the board was changed, say so with \
         `trundle rig edit NAME --board ID`, or confirm it for this job with --other-board WHY.",
    )
}

/// The wheel's zero-slip value of a rig: that of its last record that no other one supersedes.
///
/// # Errors
/// The register's.
pub fn zero_slip(rig: &str) -> Result<Option<(ZeroSlip, String)>, Trouble> {
    let register = Register::read(&DataFolder::in_force()?)?;
    let Some(record) = register.latest(rig, "wheel")? else { return Ok(None) };
    let worked = record.worked().map_err(|e| Trouble::internal(e.to_string()))?;
    let best = worked.as_ref().and_then(|work| work.channels.get("wheel")?.best());
    Ok(best.map(|best| {
        let standard_uncertainty = best.expanded_uncertainty / 2.0;
        let value = ZeroSlip { per_100m: best.impulses_per_100m, standard_uncertainty };
        (value, record.id.clone())
    }))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use trundle_core::rig::Value;

    #[test]
    fn a_board_is_known_by_its_identity_however_it_was_typed() {
        let mut rig = Snapshot::default();
        assert_eq!(same_board(&rig, Some(10)), None, "the rig names no board");
        for (typed, same) in [
            ("000000000000000a", Some(true)),
            ("0x0A", Some(true)),
            ("b", Some(false)),
            ("the grey one", None),
        ] {
            rig.rig.values.insert("board".to_owned(), Value::Text(typed.to_owned()));
            assert_eq!(same_board(&rig, Some(10)), same, "{typed}");
            assert_eq!(same_board(&rig, None), None, "the board did not answer");
        }
        rig.rig.values.insert("board".to_owned(), Value::Text("b".to_owned()));
        assert_eq!(confirmed(&rig, Some(11), None).unwrap(), None);
        assert_eq!(confirmed(&rig, Some(10), None).unwrap_err().code, exit::USAGE);
        assert_eq!(confirmed(&rig, Some(10), Some(" ")).unwrap_err().code, exit::USAGE);
        let words = confirmed(&rig, Some(10), Some("lent by the neighbour")).unwrap().unwrap();
        for part in ["goes with counter board b", "000000000000000a", "lent by the neighbour"] {
            assert!(words.contains(part), "{words}");
        }
        rig.rig.values.insert("board".to_owned(), Value::Text("the grey one".to_owned()));
        let said = other_board(&rig, Some(10)).to_string();
        assert!(said.contains("000000000000000a") && said.contains("the grey one"), "{said}");
    }
}
