//! The stations at which something is measured: their commands, and what is asked before.

use crate::stations::form::Of;
use trundle_core::cautions;
use trundle_show::words::station::Station;
use trundle_show::words::stations as words;
use trundle_show::words::stations_measured as measured;

/// Options with their labels.
type Options = &'static [(&'static str, &'static str)];

/// One of them.
pub struct Kind {
    /// The station.
    pub station: Station,
    /// Its command.
    pub command: &'static [&'static str],
    /// What is asked for the calculation: of a new recording, and of a capture.
    pub how: Options,
    /// What is asked of a new recording alone.
    pub first: Options,
    /// What is asked of a capture alone.
    pub again: Options,
    /// The command's argument that is a capture; none where captures are not calculated here.
    pub capture: Option<&'static str>,
    /// Heading and lines of what is to be heeded first.
    pub cautions: (&'static str, &'static [&'static str]),
}

/// What is asked of a new recording only once a command wants it, or once it was given: the
/// command finds the ports by itself.
const WANTED: Options = &[
    ("other-board", measured::OTHER_BOARD),
    ("board", measured::BOARD),
    ("receiver", measured::RECEIVER),
    ("receiver-speed", measured::RECEIVER_SPEED),
    ("no-receiver", measured::NO_RECEIVER),
    ("bus", measured::ADAPTER),
];

const PLAIN: Kind = Kind {
    station: Station::Drive,
    command: &["drive"],
    how: &[],
    first: &[("length", measured::LENGTH)],
    again: &[],
    capture: None,
    cautions: (words::CAUTIONS, cautions::ALL),
};

const KINDS: [Kind; 8] = [
    PLAIN,
    Kind {
        station: Station::Check,
        command: &["check"],
        how: &[("bench", measured::BENCH)],
        first: &[("input", measured::INPUT)],
        capture: Some("recorded"),
        ..PLAIN
    },
    Kind {
        station: Station::Proof,
        command: &["proof"],
        how: &[
            ("entered", measured::ENTERED),
            ("old", measured::OLD),
            ("rate", measured::RATE),
            ("length", measured::LENGTH),
            ("source", measured::SOURCE),
            ("step", measured::STEP),
            ("speed-step", measured::SPEED_STEP),
            ("wrap", measured::WRAP),
        ],
        first: &[],
        capture: Some("recorded"),
        cautions: (measured::CAUTIONS_PROOF, cautions::PROOF),
        ..PLAIN
    },
    Kind {
        station: Station::Pto,
        command: &["pto"],
        how: &[("set-now", measured::SET_NOW), ("display-step", measured::DISPLAY_STEP)],
        first: &[],
        capture: Some("recorded"),
        cautions: (measured::CAUTIONS_PTO, cautions::PTO),
        ..PLAIN
    },
    Kind {
        station: Station::Antenna,
        command: &["mount"],
        how: &[
            ("taped-right", measured::TAPED_RIGHT),
            ("taped-ahead", measured::TAPED_AHEAD),
            ("axle-to-hitch", measured::HITCH),
            ("line-held", measured::LINE_HELD),
            ("turn-slip", measured::TURN_SLIP),
            ("wheel-value", measured::WHEEL_VALUE),
        ],
        first: &[],
        capture: Some("recorded"),
        ..PLAIN
    },
    Kind {
        station: Station::Speeds,
        command: &["speeds"],
        how: &[("radar-nominal", measured::RADAR_NOMINAL), ("radar-angle", measured::RADAR_ANGLE)],
        first: &[],
        capture: Some("recorded"),
        ..PLAIN
    },
    Kind {
        station: Station::Slip,
        command: &["slip"],
        how: &[
            ("zero-slip-value", measured::ZERO_SLIP),
            ("zero-slip-percent", measured::ZERO_SLIP_PERCENT),
            ("zero-slip", measured::ZERO_SLIP_CAPTURE),
            ("right", measured::TAPED_RIGHT),
            ("ahead", measured::TAPED_AHEAD),
            ("section", measured::SECTION),
        ],
        first: &[],
        again: &[("compare", measured::COMPARE), ("compare-value", measured::COMPARE_VALUE)],
        capture: Some("work"),
        ..PLAIN
    },
    Kind {
        station: Station::Bus,
        command: &["bus"],
        how: &[("wheel-value", measured::KEYED_WHEEL), ("radar-value", measured::KEYED_RADAR)],
        first: &[("no-board", measured::NO_BOARD)],
        capture: Some("recorded"),
        cautions: (measured::CAUTIONS_BUS, cautions::BUS),
        ..PLAIN
    },
];

/// The one at a path, or at a path below it.
pub fn at(path: &str) -> &'static Kind {
    /// In a place of its own, so that it can be lent for ever.
    static ALL: [Kind; 8] = KINDS;
    let first = path.split('/').nth(1).unwrap_or_default();
    ALL.iter().find(|kind| kind.station.word() == first).unwrap_or(&ALL[0])
}

impl Kind {
    /// What is asked before a recording begins.
    pub fn begin(&self) -> Of {
        self.of(&[self.how, self.first, WANTED].concat())
    }

    /// What is asked of a capture.
    pub fn work(&self) -> Of {
        let capture = self.capture.map(|name| (name, measured::CAPTURE));
        self.of(&capture.into_iter().chain([self.how, self.again].concat()).collect::<Vec<_>>())
    }

    fn of(&self, options: &[(&str, &str)]) -> Of {
        Of::new(self.command, options)
    }

    /// It is asked only once it is wanted.
    pub fn only_wanted(name: &str) -> bool {
        WANTED.iter().any(|(wanted, _)| *wanted == name)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_field_is_an_option_of_its_command_and_says_what_it_is() {
        for kind in &KINDS {
            for of in [kind.begin(), kind.work()] {
                for field in of.fields(&|_| String::new()) {
                    let at = (kind.command, &field.name);
                    assert!(!field.hint.is_empty(), "no such option: {at:?}");
                    assert!(!field.label.is_empty() && field.label != field.name, "{at:?}");
                }
            }
        }
    }

    #[test]
    fn a_path_leads_to_its_station_and_so_does_what_lies_below() {
        for (path, station) in [
            ("/pto", Station::Pto),
            ("/pto/work", Station::Pto),
            ("/antenna/paper", Station::Antenna),
            ("/bus", Station::Bus),
            ("/drive", Station::Drive),
        ] {
            assert_eq!(at(path).station, station, "{path}");
        }
    }
}
