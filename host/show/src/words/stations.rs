//! The stations.

use super::station::Station;

pub(crate) const fn name(station: Station) -> &'static str {
    match station {
        Station::Start => "Start",
        Station::Rig => "Rig",
        Station::Check => "Check",
        Station::Course => "Course",
        Station::Drive => "Drive",
        Station::Value => "Value",
        Station::Proof => "Proof drive",
        Station::Pto => "PTO",
        Station::Antenna => "Antenna",
        Station::Speeds => "Speeds",
        Station::Slip => "Slip",
        Station::Bus => super::stations_measured::NAME_BUS,
        Station::Sign => "Sign off",
        Station::Records => "Records",
    }
}

pub(crate) const fn about(station: Station) -> &'static str {
    match station {
        Station::Start => "What is plugged in, and what is due next.",
        Station::Rig => "Which tractor on which tyres, and where its antenna is.",
        Station::Check => "Are board, receiver and sensors sound? Before the course is taped.",
        Station::Course => "The taped length and its uncertainty, and how many passes it takes.",
        Station::Drive => "Drive the course out and back, and mark at each peg.",
        Station::Value => "The number to enter, how good it is, and what the old one cost.",
        Station::Proof => "With the value keyed in: did the tractor take it?",
        Station::Pto => "Impulses per revolution of the shaft, from the seat.",
        Station::Antenna => "Where the antenna is on the tractor, from driving.",
        Station::Speeds => "Wheel, radar and satellite speed side by side.",
        Station::Slip => "How far the wheels turn further than the tractor goes, as a map.",
        Station::Bus => super::stations_measured::ABOUT_BUS,
        Station::Sign => "Save the results as a record that never changes.",
        Station::Records => "What was signed off: find, compare, print, hand on, save.",
    }
}

/// How far a station is.
pub(crate) const DONE: &str = "done";
pub(crate) const DUE: &str = "due next";
pub(crate) const IN_THE_WAY: &str = "needs something first";
pub(crate) const GOES_ON: &str = "going on";
pub(crate) const WAY: &str = "The job";
pub(crate) const PRACTICE: &str = "PRACTICE, not a measurement: a simulated tractor";
pub(crate) const LIVE: &str = "A recording is going on:";
pub(crate) const TO_LIVE: &str = "go to it";
pub(crate) const COMMAND: &str = "The same as a command";
pub(crate) const DONE_NOTICE: &str = "Done";
pub(crate) const LOOK_AT_IT: &str = "Look at this";
pub(crate) const NOT_DONE: &str = "Not done";
pub(crate) const NONE_CHOSEN: &str = "not said";
/// A page from before the program was started again, or that was left open very long.
pub const STALE: [&str; 3] = [
    "This page is older than the program that runs now.",
    "Nothing was done, and nothing that you typed is lost: it stands in the fields.",
    "Look it over and send it again.",
];
pub(crate) const NEXT: &str = "Next";
/// Before anything moves.
pub const CAUTIONS: &str = "Before anything moves";
/// How the last recording of a station ended.
pub const LAST: &str = "The last time";
/// A recording goes on already.
pub const TAKEN: [&str; 3] = [
    "A recording is going on already.",
    "Two recordings cannot have the same ports, and the first one goes on.",
    "Finish it first: the link at the top leads to it.",
];

/// A recording is over; its capture.
#[must_use]
pub fn recorded(capture: &str) -> String {
    format!("The recording is over. Its capture is {capture}")
}

/// Begin to record.
pub const BEGIN: &str = "Begin";
/// Save what was typed.
pub const SAVE: &str = "Save";
/// Label of a name.
pub const NAME: &str = "Name";
