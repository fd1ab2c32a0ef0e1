//! What the register knows of the values that may be in a terminal.

use crate::commands::active;
use crate::shell::exit::Trouble;
use crate::shell::out::Voice;
use crate::store::place::DataFolder;
use crate::store::register::{Register, Wanted};
use trundle_core::rig::{Snapshot, Thing};
use trundle_core::survey::proof::{Known, Origin};
use trundle_protocol::units::Channel;

/// So many values from before are tried: older ones are in no terminal any more.
const OLD_MOST: usize = 3;

/// What it knows of the active rig; nothing where there is none or it cannot be read, which is
/// said.
pub fn known(voice: Voice) -> Known {
    let Some(rig) = active::rig(voice) else { return Known::default() };
    of(&rig).unwrap_or_else(|trouble| {
        voice.say(&format!("The records of the rig were not used: {}", trouble.what));
        Known::default()
    })
}

/// What it knows of a rig.
///
/// # Errors
/// The register's (4, 5).
pub fn of(rig: &Snapshot) -> Result<Known, Trouble> {
    let register = Register::read(&DataFolder::in_force()?)?;
    let source = [Channel::Wheel, Channel::Radar].into_iter();
    let source = source.into_iter().find(|channel| Some(channel.name()) == rig.source());
    let mut known = Known { source, ..Known::default() };
    let (sensor, other) = (known.source().name(), known.other().name());
    let name = &rig.rig.name;
    if let Some(record) = register.latest(name, sensor)? {
        if let Some(entered) = record.as_left.or(record.to_enter.map(|value| value as f64)) {
            known = known.with(Origin::Entered, entered);
        }
        if let Some(found) = record.as_found {
            known = known.with(Origin::Old, found);
        }
        let worked = record.worked().map_err(|e| Trouble::internal(e.to_string()))?;
        let others = worked.as_ref().and_then(|worked| worked.channels.get(other));
        let others = others.and_then(|channel| channel.value_to_enter);
        if let Some(value) = others {
            known = known.with(Origin::OtherSensor, value as f64);
        }
        let wanted = Wanted { rig: Some(name.clone()), ..Wanted::default() };
        let older = register.records(&wanted)?.into_iter().filter(|one| {
            one.channel == sensor && one.id != record.id && !one.practice && one.damage.is_none()
        });
        for value in older.filter_map(|one| one.to_enter).take(OLD_MOST) {
            known = known.with(Origin::Old, value as f64);
        }
    }
    on_other_tyres(&register, rig, known)
}

/// The wheel's values of the same tractor on other tyres.
fn on_other_tyres(register: &Register, rig: &Snapshot, mut known: Known) -> Result<Known, Trouble> {
    let Some(tractor) = rig.rig.text("tractor") else { return Ok(known) };
    for other in register.list(Thing::Rig)? {
        let (entry, mine) = (&other.entry, &rig.rig);
        let Some(tyres) = entry.text("tyres") else { continue };
        if entry.text("tractor") != Some(tractor) || mine.text("tyres") == Some(tyres) {
            continue;
        }
        let record = register.latest(&entry.name, Channel::Wheel.name())?;
        if let Some(value) = record.and_then(|record| record.to_enter) {
            known = known.with(Origin::Tyres(tyres.to_owned()), value as f64);
        }
    }
    Ok(known)
}
