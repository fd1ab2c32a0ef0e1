//! The answer and the mistakes in words: one wording for terminal, document, record and paper.

use super::candidates::{Candidate, Cause};
use super::judge::{Alarm, By, Judged, Taken};
use super::known::Known;
use crate::wire::bus::message::SelectedSource;

impl Candidate {
    /// It in a clause. Names of tyres stand in it as they were typed.
    #[must_use]
    pub fn words(&self, known: &Known) -> String {
        let sensor = self.channel.name();
        let other = if self.channel == known.source() { known.other() } else { known.source() };
        let value = self.per_100m.map_or_else(String::new, |value| format!(" {value:.0}"));
        match &self.cause {
            Cause::Entered => format!("value{value} is in force"),
            Cause::Old => format!("the old value{value} is still in force"),
            Cause::OtherSensorsValue => {
                format!("the {}'s value{value} was keyed in for the {sensor}", other.name())
            }
            Cause::OtherSource => {
                format!("it goes by the {sensor}, with that sensor's value{value}")
            }
            Cause::OtherSourceEntered => format!("it goes by the {sensor}, with the value{value}"),
            Cause::OtherSourceOld => format!("it goes by the {sensor}, with the old value{value}"),
            Cause::OtherSourceStandard => {
                format!("it goes by the {sensor}, with the standard's value{value}")
            }
            Cause::Tyres(name) => {
                format!("the wheel's value{value} for the tyres \"{name}\" is in force")
            }
            Cause::Times(times) => of_times(*times, &value),
            Cause::Satellite => "it goes by the satellite receiver".to_owned(),
            Cause::OnTyres(name) => {
                format!("the impulses are those of the tyres \"{name}\", value{value}")
            }
            Cause::Standard => format!(
                "the standard's value{value} (130 impulses per metre) is in force: nothing was \
                 keyed in, or it was not stored"
            ),
        }
    }
}

fn of_times(times: f64, value: &str) -> String {
    let is = |other: f64| (times / other - 1.0).abs() < 1e-9;
    let value = if value.is_empty() { String::new() } else { format!(" (value{value})") };
    if is(2.0) {
        format!("it shows twice what it should{value}")
    } else if is(0.5) {
        format!("it shows half of what it should{value}")
    } else if is(10.0) {
        format!("it shows ten times what it should{value}: a digit is missing")
    } else if is(0.1) {
        format!("it shows a tenth of what it should{value}: there is a digit too many")
    } else if times > 1.0 {
        format!("impulses per metre were keyed in, where it wants them per 100 m{value}")
    } else {
        format!("impulses per 100 m were keyed in, where it wants them per metre{value}")
    }
}

/// A speed of the tractor, as a source of the one that it hands on.
#[must_use]
pub fn source_words(source: SelectedSource) -> String {
    match source {
        SelectedSource::Wheel => "the wheel-based speed".to_owned(),
        SelectedSource::Ground => "the ground-based speed".to_owned(),
        SelectedSource::Navigation => "the speed of a satellite receiver".to_owned(),
        SelectedSource::Blended => "several speeds, blended".to_owned(),
        SelectedSource::Simulated => "a simulated speed".to_owned(),
        SelectedSource::Reserved(number) => format!("a source with the unknown number {number}"),
    }
}

impl Judged {
    /// The answer in a clause, without numbers of its own but the values that are known.
    #[must_use]
    pub fn verdict(&self, known: &Known) -> String {
        let named: Vec<String> = self.mistakes().map(|one| one.words(known)).collect();
        let because = |words: &str| {
            let named = named.join("; or ");
            if named.is_empty() { words.to_owned() } else { format!("{words}: {named}") }
        };
        let display = if self.by == By::Bus { "bus" } else { "display" };
        match (self.taken, known.entered()) {
            (Taken::Took, Some(value)) => format!("it took: value {value} is in force"),
            (Taken::Took, None) => format!("the {display} is right"),
            (Taken::TookButOff, Some(value)) => {
                because(&format!("value {value} is in force, but what is shown is wrong"))
            }
            (Taken::TookButOff, None) => format!("the {display} is wrong"),
            (Taken::DidNotTake, _) if named.is_empty() => match self.handed_on_instead() {
                Some(instead) => format!("it did not take: {instead}"),
                None => "it did not take, and no known mistake fits".to_owned(),
            },
            (Taken::DidNotTake, _) => because("it did not take"),
            (Taken::CannotTell, _) => {
                let all = self.all_that_fits(known);
                let words = "it cannot be told whether it took";
                if all.len() > 1 {
                    format!("{words}; all of this fits: {}", all.join("; or "))
                } else {
                    words.to_owned()
                }
            }
        }
    }

    /// Which speed the tractor hands on in the place of the one that it should, in a clause.
    #[must_use]
    pub fn handed_on_instead(&self) -> Option<String> {
        self.alarms.iter().find_map(|one| match one {
            Alarm::OtherHandedOn(source) => {
                Some(format!("the tractor hands on {}", source_words(*source)))
            }
            _ => None,
        })
    }

    /// Everything that the readings bear out, the value keyed in first.
    #[must_use]
    pub fn all_that_fits(&self, known: &Known) -> Vec<String> {
        let own = known.entered().map(|value| format!("value {value} is in force"));
        let fits = self.candidates.first().is_some_and(|one| one.fits);
        let own = own.into_iter().filter(|_| fits);
        own.chain(self.mistakes().map(|one| one.words(known))).collect()
    }
}

impl Alarm {
    /// What it says against a value that took; nothing where it only says what is not known.
    #[must_use]
    pub const fn against(self) -> Option<&'static str> {
        match self {
            Self::SpeedDisagrees { .. } => {
                Some("the speed that is shown does not go with the distance that is shown")
            }
            Self::Contradict => Some("the readings contradict each other"),
            Self::OtherSensorFollowed => {
                Some("what is shown goes with the impulses of the other sensor")
            }
            Self::BusDisagrees { .. } => Some("the bus does not show what the terminal shows"),
            Self::BusContradicts => Some("the passes on the bus contradict each other"),
            Self::OtherHandedOn(_) => Some("the tractor hands on another speed"),
            Self::HandedOnChanged => Some("the tractor handed on now one speed, now another"),
            Self::NoTruth | Self::EnteredUnknown => None,
        }
    }
}
