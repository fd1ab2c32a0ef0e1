//! A recording that a killed program left behind: record anew, use what is there, or leave it.

use super::super::house::{Acted, House};
use super::super::job::{Job, Recording};
use super::{DO, done};
use crate::shell::exit::Trouble;
use trundle_show::stations::form::Form;
use trundle_show::stations::{Markup, opening};
use trundle_show::words::opening as words;
use trundle_show::words::station::Station;

const AGAIN: &str = "record-anew";
const USE: &str = "use-capture";
const LEAVE: &str = "leave-capture";

/// The ways on, where there is such a recording.
pub fn offer(house: &House, job: &Job) -> Option<Markup> {
    let left = job.recording.as_ref()?;
    let (station, there) = (station_of(left), left.capture.exists());
    let mut ways = vec![(AGAIN, words::KILLED_AGAIN)];
    if there {
        ways.push((USE, words::KILLED_WORK));
    }
    ways.push((LEAVE, words::KILLED_LEAVE));
    let form = |(what, button): &(&str, &str)| {
        let form = Form {
            action: "/".to_owned(),
            hidden: vec![(DO.to_owned(), (*what).to_owned())],
            button: (*button).to_owned(),
            key: house.key("/"),
            ..Form::default()
        };
        form.markup()
    };
    let ways: Vec<Markup> = ways.iter().map(form).collect();
    let said = words::killed(station, &left.capture.display().to_string(), there);
    Some(opening::killed(&said, &ways))
}

fn station_of(left: &Recording) -> Station {
    let named = |station: &&Station| station.word() == left.station;
    Station::ALL.iter().find(named).copied().unwrap_or(Station::Drive)
}

/// Where what was recorded at a station is worked.
fn worked_at(station: Station) -> &'static str {
    match station {
        Station::Drive => Station::Value.path(),
        other => other.path(),
    }
}

/// Do what was chosen; `refused` makes the page with words of why not.
pub fn act(house: &House, what: &str, refused: impl FnOnce(&[String]) -> Acted) -> Acted {
    let left = house.job().recording.filter(|_| house.live.station().is_none());
    let Some(left) = left else { return refused(&words::KILLED_GONE.map(str::to_owned)) };
    let (station, capture) = (station_of(&left), left.capture.display().to_string());
    let lost = |trouble: &Trouble| -> Vec<String> {
        trouble.to_string().lines().map(str::to_owned).collect()
    };
    let kept = vec![words::KILLED_KEPT.to_owned(), capture.clone()];
    let kept = if left.capture.exists() { kept } else { Vec::new() };
    let (path, lines, used) = match what {
        AGAIN => (station.path(), kept, false),
        USE if left.capture.exists() => {
            (worked_at(station), vec![words::KILLED_USED.to_owned(), capture], true)
        }
        LEAVE => ("/", kept, false),
        _ => return refused(&words::KILLED_GONE.map(str::to_owned)),
    };
    let changed = house.change(|job| {
        job.recording = None;
        if used {
            job.recorded(station, left.capture.clone());
        }
    });
    match changed {
        Ok(()) => Acted::Done(done(path, lines)),
        Err(trouble) => refused(&lost(&trouble)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_way_back_leads_to_the_station_that_recorded() {
        for station in Station::ALL.into_iter().chain([Station::Bus]) {
            let station_word = station.word().to_owned();
            let left = Recording { station: station_word, argv: vec![], capture: "one".into() };
            assert_eq!(station_of(&left), station);
        }
    }
}
