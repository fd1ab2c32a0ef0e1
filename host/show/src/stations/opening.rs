//! The first station: what is due, what is plugged in, what there is.

use super::Markup;
use super::parts;
use crate::phrases::plain::line;
use crate::words::opening as words;
use crate::words::station::Station;
use maud::html;
use trundle_core::cautions;
use trundle_core::result::records_v1::RecordRow;

/// A port and what was found behind it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Port {
    /// Its path.
    pub path: String,
    /// What the system says of it.
    pub description: String,
    /// What it is, why it is taken to be that, and what to do about it; none before it was looked
    /// at.
    pub found: Option<(String, String, String)>,
}

/// All ports.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Ports {
    /// They.
    pub ports: Vec<Port>,
    /// Some are looked at now.
    pub looking: bool,
    /// A recording has them.
    pub recording: bool,
}

/// Path of the ports alone, for the script that keeps them fresh.
pub const PORTS: &str = "/plugged";

/// What is plugged in. It keeps itself fresh where there is a script; without, by a link.
#[must_use]
pub fn ports(ports: &Ports) -> Markup {
    html! {
        section #plugged data-fresh=(PORTS) aria-live="polite" {
            h2 { (words::PLUGGED) }
            @if ports.recording { p { (words::PLUGGED_RECORDING) } }
            @if ports.ports.is_empty() && !ports.recording { p { (words::PLUGGED_NONE) } }
            ul .ports { @for port in &ports.ports { (one(port)) } }
            @if ports.looking { p .hint { (words::PLUGGED_LOOKING) } }
            @if !ports.recording { p { a .apart href="/?look=again#plugged" {
                (words::PLUGGED_AGAIN)
            } } }
        }
    }
}

fn one(port: &Port) -> Markup {
    html! {
        li {
            @if let Some((role, why, next)) = &port.found {
                strong { (line(role)) } ": " (line(why))
                @if !next.is_empty() { br; "\u{2192} " (line(next)) }
            } @else { (words::PLUGGED_LOOKING) }
            br; span .hint { (line(&port.path)) " " (line(&port.description)) }
        }
    }
}

/// What is said of a browser that may only look.
#[must_use]
pub fn look_only(inside: bool) -> Markup {
    let how = if inside { words::LOOK_ONLY_INSIDE } else { words::LOOK_ONLY_OUTSIDE };
    html! { div .notice { p { strong { (words::LOOK_ONLY) } } p { (how) } } }
}

/// Something to be read first.
#[must_use]
pub fn notice(said: &str) -> Markup {
    html! { div .notice .bad { p { strong { (line(said)) } } } }
}

/// What is due next, or that all is done.
#[must_use]
pub fn next(due: Option<Station>, live: bool) -> Markup {
    match due {
        Some(station) => parts::due(station),
        None if live => html! {},
        None => html! { section { p { (words::ALL_DONE) } } },
    }
}

/// Which rig is active.
#[must_use]
pub fn rig(name: Option<&str>) -> Markup {
    html! {
        p { (words::RIG) ": "
            a .apart href=(Station::Rig.path()) {
                @match name { Some(name) => (line(name)), None => (words::NO_RIG) }
            }
        }
    }
}

/// The order of the job, for whoever does it for the first time.
#[must_use]
pub fn first_run() -> Markup {
    html! {
        section {
            h2 { (words::FIRST) }
            p { (words::FIRST_SAID) }
            ol .steps {
                @for (station, said) in words::FIRST_STEPS {
                    li { a .apart href=(station.path()) { (station.name()) } ": " (said) }
                }
            }
            p { (words::FIRST_TRY) }
            a .wide href="/practice" { (words::TO_PRACTICE) }
        }
        (parts::cautions(crate::words::stations::CAUTIONS, cautions::ALL))
    }
}

/// The captures of the job at hand: station, the newest one, and how many.
#[must_use]
pub fn job(captures: &[(Station, String, usize)]) -> Markup {
    let rows: Vec<_> = captures
        .iter()
        .map(|(station, capture, count)| {
            let path = Some(station.path().to_owned());
            (path, vec![station.name().to_owned(), capture.clone(), count.to_string()])
        })
        .collect();
    html! {
        section {
            h2 { (words::JOB) }
            @if rows.is_empty() { p { (words::JOB_EMPTY) } } @else {
                (parts::table(&[words::STATION, words::CAPTURE, words::MORE_CAPTURES], &rows))
            }
        }
    }
}

/// The newest records.
#[must_use]
pub fn recent(rows: &[RecordRow]) -> Markup {
    let cells = |row: &RecordRow| {
        let value = row.to_enter.map_or_else(String::new, |value| value.to_string());
        let practice = if row.practice { format!(", {}", words::PRACTISED) } else { String::new() };
        let state = format!("{}{practice}", row.state);
        (None, vec![row.rig.clone(), row.issued_utc.clone(), value, state])
    };
    let rows: Vec<_> = rows.iter().map(cells).collect();
    let heads = [words::RIG_OF, words::ISSUED, words::VALUE, words::STATE];
    html! {
        section {
            h2 { (words::RECENT) }
            @if rows.is_empty() { p { (words::RECENT_NONE) } } @else {
                (parts::table(&heads, &rows))
                p { a .apart href=(Station::Records.path()) { (words::TO_RECORDS) } }
            }
        }
    }
}

/// A recording that was cut off: what is known, and the ways on, each a form.
#[must_use]
pub fn killed(said: &[String], ways: &[Markup]) -> Markup {
    html! {
        section .notice .bad {
            h2 { (words::KILLED) }
            (parts::sentences(said))
            @for way in ways { (way) }
        }
    }
}

/// The ways out of the stations.
#[must_use]
pub fn ways_out() -> Markup {
    html! {
        section {
            h2 { (words::PROGRAM) }
            p { a .wide href="/practice" { (words::TO_PRACTICE) } }
            p { a .wide href="/settings" { (words::SETTINGS) } }
            p { a .wide href="/close" { (words::CLOSE) } }
        }
    }
}

/// The last page of a program that closes. It asks for nothing more than the style sheet.
#[must_use]
pub fn closed() -> Markup {
    html! { @for said in words::CLOSED_SAID { p { (said) } } }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_stands_at_a_port_is_only_shown() {
        let hostile = "<img src=x>\u{202e}".to_owned();
        let port = Port {
            path: hostile.clone(),
            description: hostile.clone(),
            found: Some((hostile.clone(), hostile.clone(), hostile)),
        };
        let shown = ports(&Ports { ports: vec![port], ..Ports::default() }).into_string();
        assert!(!shown.contains("<img") && !shown.contains('\u{202e}'), "{shown}");
        let none = ports(&Ports::default()).into_string();
        assert!(none.contains(words::PLUGGED_NONE) && none.contains(words::PLUGGED_AGAIN));
        let held = ports(&Ports { recording: true, ..Ports::default() }).into_string();
        assert!(held.contains(words::PLUGGED_RECORDING) && !held.contains(words::PLUGGED_AGAIN));
    }

    #[test]
    fn the_first_time_the_order_and_the_cautions_are_said() {
        let said = first_run().into_string();
        assert!(words::FIRST_STEPS.iter().all(|(station, _)| said.contains(station.path())));
        assert!(said.contains(cautions::ALL[0]) && said.contains("/practice"));
    }
}
