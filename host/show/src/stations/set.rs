//! Settings and other devices.

use super::Markup;
use super::form::Kind;
use super::parts;
use crate::phrases::plain::line;
use crate::tongue::Tongue;
use crate::words::settings as words;
use maud::html;
use std::fmt::Write as _;
use std::path::Path;

/// Light modules around a picture for a camera (ISO/IEC 18004 asks for four).
const QUIET: usize = 4;

/// A link to join.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Link {
    /// What it is for.
    pub heading: &'static str,
    /// What it allows.
    pub said: &'static str,
    /// The link.
    pub link: String,
    /// It as a picture: dark squares, row by row; empty where it is too long for one.
    pub squares: Vec<Vec<bool>>,
}

/// What kind of field a setting is.
#[must_use]
pub fn kind(key: &str) -> Kind {
    let choice = |all: &[[&str; 2]]| {
        let one = |[sent, shown]: &[&str; 2]| ((*sent).to_owned(), (*shown).to_owned());
        Kind::Choice(all.iter().map(one).collect())
    };
    match key {
        "receiver_speed" => Kind::Number,
        "speed_unit" => choice(&[["km/h", "km/h"], ["mph", "mph"]]),
        "pressure_unit" => choice(&[["bar", "bar"], ["psi", "psi"]]),
        "length_unit" => choice(&[["m", "m"], ["ft", "ft"]]),
        "time" => choice(&[["utc", words::UTC], ["local", words::LOCAL]]),
        "language" => Kind::Choice(
            Tongue::ALL.map(|one| (one.code().to_owned(), one.name().to_owned())).to_vec(),
        ),
        _ => Kind::Text,
    }
}

/// The way to other devices.
#[must_use]
pub fn devices(lan: bool) -> Markup {
    html! {
        section {
            h2 { (words::DEVICES) }
            @if !lan { p { (words::DEVICES_NOT[0]) } }
            a .wide href="/settings/devices" { (words::DEVICES) }
        }
    }
}

/// Where the settings are, and which folder is in force.
#[must_use]
pub fn file(path: Option<&str>, folder: &Path, origin: &str) -> Markup {
    html! {
        p { @match path {
            Some(path) => { (words::FILE) ": " (line(path)) },
            None => (words::NO_FILE),
        } }
        p { (words::FOLDER) " " (line(&folder.display().to_string())) " ("
            (words::CHOSEN_BY) " " (line(origin)) ")" }
    }
}

/// The way to a look at everything.
#[must_use]
pub fn doctor(path: &str) -> Markup {
    html! { section { h2 { (words::DOCTOR) } (parts::go(path, words::DOCTOR_GO)) } }
}

/// Links and their pictures.
#[must_use]
pub fn links(lan: bool, links: &[Link]) -> Markup {
    html! {
        @if lan {
            div .notice .bad { @for said in words::DEVICES_CAUTION { p { (said) } } }
        } @else {
            @for said in words::DEVICES_NOT { p { (said) } }
        }
        @for link in links {
            section {
                h2 { (link.heading) }
                p { (link.said) }
                p { code .spelled { (line(&link.link)) } }
                @if !link.squares.is_empty() { (picture(&link.squares)) }
            }
        }
    }
}

/// What a device on the network has to do by hand.
#[must_use]
pub fn wake() -> Markup {
    html! { section { h2 { (words::WAKE) } @for said in words::WAKE_SAID { p { (said) } } } }
}

/// A picture for a camera: dark on light in any look of the page, or cameras do not read it.
fn picture(squares: &[Vec<bool>]) -> Markup {
    let side = squares.len() + 2 * QUIET;
    let mut path = String::new();
    for (y, row) in squares.iter().enumerate() {
        for (x, _) in row.iter().enumerate().filter(|(_, dark)| **dark) {
            // Writing to a string cannot fail.
            let _ = write!(path, "M{} {}h1v1h-1z", x + QUIET, y + QUIET);
        }
    }
    html! {
        svg .camera viewBox=(format!("0 0 {side} {side}")) role="img"
            aria-label=(words::PICTURE) shape-rendering="crispEdges" {
            rect width=(side) height=(side) fill="#ffffff" {}
            path d=(path) fill="#000000" {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_picture_has_its_dark_squares_and_a_light_rim() {
        let shown = picture(&[vec![true, false], vec![false, true]]).into_string();
        assert!(shown.contains("0 0 10 10"), "{shown}");
        assert!(shown.contains("M4 4h1v1h-1zM5 5h1v1h-1z"), "{shown}");
    }

    #[test]
    fn the_caution_stands_before_the_links() {
        let link = Link {
            heading: words::MARK[0],
            said: words::MARK[1],
            link: "http://192.0.2.1/<x>".to_owned(),
            squares: Vec::new(),
        };
        let shown = links(true, &[link]).into_string();
        let at = |what: &str| shown.find(what).map_or(usize::MAX, |at| at);
        assert!(at("not encrypted") < at("192.0.2.1/&lt;x&gt;"), "{shown}");
        assert!(links(false, &[]).into_string().contains("--lan"));
    }
}
