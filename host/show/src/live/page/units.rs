//! What the page shows, in the units of its reader. Words that no peg or speed stands in stay as
//! they are.

use super::{Shown, texts, words};
use crate::live::next::drive;
use crate::model::View;
use crate::reading::{LengthUnit, Reading, SpeedUnit};
use trundle_core::units::KM_H_PER_M_S;

/// The same in the reader's units.
#[must_use]
pub fn in_units(mut shown: Shown, view: &View, reading: &Reading) -> Shown {
    if reading.speed != SpeedUnit::KmH {
        speeds(&mut shown, view, reading.speed);
    }
    if reading.length != LengthUnit::Metres {
        lengths(&mut shown, view, reading.length);
    }
    shown
}

/// Each speed again from what it was made of, so that it is rounded once.
fn speeds(shown: &mut Shown, view: &View, unit: SpeedUnit) {
    let own = [
        (texts::WHEEL, view.speeds.wheel),
        (texts::RADAR, view.speeds.radar),
        (texts::SATELLITE, view.speeds.satellite),
    ];
    let own = own.map(|(name, speed)| (words::speed_by(name), speed));
    let bus = view.bus.iter().flat_map(|bus| &bus.speeds);
    let bus = bus.map(|row| (words::bus_speed(&row.name), row.speed));
    let known: Vec<_> = own.into_iter().chain(bus).collect();
    for value in shown.speeds.iter_mut().chain(&mut shown.bus) {
        let word = match value.unit {
            words::KM_H => words::MPH,
            words::KM_H_PROVISIONAL => words::MPH_PROVISIONAL,
            _ => continue,
        };
        let found = known.iter().find(|(label, _)| *label == value.label);
        if let Some(km_h) = found.and_then(|(_, speed)| speed.km_h) {
            value.value = format!("{:.1}", km_h / KM_H_PER_M_S * unit.per_m_s());
            value.unit = word;
        }
    }
}

fn lengths(shown: &mut Shown, view: &View, unit: LengthUnit) {
    let Some(open) = &view.open else { return };
    if shown.next == drive(open, LengthUnit::Metres).1 {
        shown.next = drive(open, unit).1;
    }
    if let Some(place) = &open.place
        && shown.strip.words == texts::place(place, false, LengthUnit::Metres)
    {
        shown.strip.words = texts::place(place, false, unit);
    }
}
