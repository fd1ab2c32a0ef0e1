//! How far each station of the job at hand is, from what lies on the disk.

use super::super::house::House;
use super::super::job::Job;
use crate::shell::clock::{wall_offset_s, wall_utc_ns};
use crate::shell::exit::{FLAGGED, OK};
use std::path::Path;
use std::time::UNIX_EPOCH;
use trundle_show::stations::frame::Stage;
use trundle_show::words::station::Station;

/// Seconds of a day.
const DAY_S: i64 = 24 * 3600;
/// What is due, in this order, when it is not done.
const WORK: [Station; 7] = [
    Station::Rig,
    Station::Check,
    Station::Course,
    Station::Drive,
    Station::Value,
    Station::Proof,
    Station::Sign,
];

/// What is known beside the job at hand.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Facts {
    /// A rig is active.
    pub rig: bool,
    /// A course was taped.
    pub course: bool,
    /// The newest check was today.
    pub today: bool,
    /// A record was signed off after the newest capture of the course.
    pub signed: bool,
}

/// How far each station is.
pub fn way(house: &House, live: Option<Station>) -> Vec<(Station, Stage)> {
    let job = house.job();
    stages(&job, facts(house, &job), live)
}

/// What is due next.
pub fn due(way: &[(Station, Stage)]) -> Option<Station> {
    way.iter().find(|(_, stage)| *stage == Stage::Due).map(|(station, _)| *station)
}

fn facts(house: &House, job: &Job) -> Facts {
    // A register that cannot be read is told of where it is used; measuring does not need it.
    let newest = house.front.recent.newest(&house.place).unwrap_or_default();
    let changed = |station| job.capture(station).and_then(|capture| changed_s(capture));
    let today = changed(Station::Check).is_some_and(|at| day(at) == day(wall_utc_ns() / NS));
    let signed = changed(Station::Drive).is_some_and(|driven| {
        let issued = newest.rows.iter().filter_map(|row| seconds(&row.issued_utc)).max();
        issued.is_some_and(|issued| issued >= driven)
    });
    let course = house.course_file().is_some();
    Facts { rig: newest.rig.is_some(), course, today, signed }
}

/// Nanoseconds of a second.
const NS: i64 = 1_000_000_000;

fn day(utc_s: i64) -> i64 {
    (utc_s + i64::from(wall_offset_s())).div_euclid(DAY_S)
}

/// When a file was written last, seconds of Unix time; `None` when it is not there.
fn changed_s(path: &Path) -> Option<i64> {
    let changed = path.metadata().and_then(|found| found.modified()).ok()?;
    let since = changed.duration_since(UNIX_EPOCH).unwrap_or_default();
    i64::try_from(since.as_secs()).ok()
}

fn seconds(rfc3339: &str) -> Option<i64> {
    chrono::DateTime::parse_from_rfc3339(rfc3339).ok().map(|at| at.timestamp())
}

/// The stages, as a function of what is known.
#[must_use]
pub fn stages(job: &Job, facts: Facts, live: Option<Station>) -> Vec<(Station, Stage)> {
    let mut due = false;
    let mut stage = |station: Station| {
        if live == Some(station) {
            return Stage::GoesOn;
        }
        let stage = own(job, facts, station);
        let next = stage == Stage::Open && WORK.contains(&station) && !due && live.is_none();
        due |= next;
        if next { Stage::Due } else { stage }
    };
    Station::ALL.iter().map(|station| (*station, stage(*station))).collect()
}

/// Done, in the way or open; what is due follows from all of them.
fn own(job: &Job, facts: Facts, station: Station) -> Stage {
    let done = |yes: bool| if yes { Stage::Done } else { Stage::Open };
    let captured = job.capture(station).is_some();
    let driven = job.capture(Station::Drive).is_some() && job.code(Station::Drive) <= FLAGGED;
    match station {
        Station::Start | Station::Records => Stage::Open,
        Station::Rig => done(facts.rig),
        // What was found wrong is to be seen to, and looked at again.
        Station::Check => done(captured && facts.today && job.code(station) == OK),
        Station::Course => done(facts.course || has_length(job)),
        Station::Drive => done(driven),
        Station::Value | Station::Proof if !driven => Stage::InTheWay,
        Station::Value => done(job.code(Station::Drive) == OK),
        Station::Proof => done(captured),
        Station::Sign if !facts.rig || !driven => Stage::InTheWay,
        Station::Sign => done(facts.signed),
        Station::Pto | Station::Antenna | Station::Speeds | Station::Slip | Station::Bus => {
            done(captured)
        }
    }
}

/// A length was typed where it is driven.
fn has_length(job: &Job) -> bool {
    !job.typed(Station::Drive, "length").trim().is_empty()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn due_of(job: &Job, facts: Facts) -> Option<Station> {
        due(&stages(job, facts, None))
    }

    fn stage_of(job: &Job, facts: Facts, station: Station) -> Option<Stage> {
        stages(job, facts, None).into_iter().find(|(one, _)| *one == station).map(|(_, s)| s)
    }

    #[test]
    fn the_work_is_due_in_its_order() {
        let mut job = Job::default();
        let mut facts = Facts::default();
        assert_eq!(due_of(&job, facts), Some(Station::Rig));
        assert_eq!(stage_of(&job, facts, Station::Value), Some(Stage::InTheWay));
        facts.rig = true;
        assert_eq!(due_of(&job, facts), Some(Station::Check));
        job.recorded(Station::Check, "check".into());
        job.ended(Station::Check, FLAGGED);
        facts.today = true;
        assert_eq!(due_of(&job, facts), Some(Station::Check), "something is to be seen to");
        job.ended(Station::Check, OK);
        assert_eq!(due_of(&job, facts), Some(Station::Course));
        job.note(Station::Drive, [("length".to_owned(), "100 m".to_owned())]);
        assert_eq!(due_of(&job, facts), Some(Station::Drive));
        job.recorded(Station::Drive, "drive".into());
        job.ended(Station::Drive, 5);
        assert_eq!(due_of(&job, facts), Some(Station::Drive), "that one was of no use");
        job.ended(Station::Drive, FLAGGED);
        assert_eq!(due_of(&job, facts), Some(Station::Value), "something is to be looked at");
        job.ended(Station::Drive, OK);
        assert_eq!(due_of(&job, facts), Some(Station::Proof));
        job.recorded(Station::Proof, "proof".into());
        assert_eq!(due_of(&job, facts), Some(Station::Sign));
        facts.signed = true;
        assert_eq!(due_of(&job, facts), None);
        facts.today = false;
        assert_eq!(due_of(&job, facts), Some(Station::Check), "the next day");
    }

    #[test]
    fn without_a_rig_nothing_is_signed_off_and_while_recording_nothing_is_due() {
        let mut job = Job::default();
        job.recorded(Station::Drive, "drive".into());
        assert_eq!(stage_of(&job, Facts::default(), Station::Sign), Some(Stage::InTheWay));
        let live = stages(&job, Facts::default(), Some(Station::Drive));
        assert_eq!(due(&live), None);
        assert!(live.contains(&(Station::Drive, Stage::GoesOn)));
    }
}
