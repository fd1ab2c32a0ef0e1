//! The map of course and passes, and its numbers as text beside it.

use crate::phrases::plain::line;
use crate::svg::course_map::DRAWN;
use crate::words::under_way as words;
use serde::Serialize;
use trundle_core::figure::ground::{Ground, PassWay};

/// The map and its numbers.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct CoursePart {
    /// Number of the map; it grows with each newer one.
    pub map: u64,
    /// The map in words.
    pub map_words: String,
    /// Of each pass on it, the newest last: its name, way, length and what it lies beside the line.
    pub rows: Vec<[String; 4]>,
}

/// The numbers of the map of this number, which is so many times wider across the course.
#[must_use]
pub fn course_part(ground: &Ground, map: u64, wider: f64) -> CoursePart {
    let drawn = &ground.ways[ground.ways.len().saturating_sub(DRAWN)..];
    CoursePart {
        map,
        map_words: words::map_words(drawn.len(), wider),
        rows: drawn.iter().map(row).collect(),
    }
}

fn row(way: &PassWay) -> [String; 4] {
    let refused = if way.state == "refused" { words::not_used() } else { String::new() };
    [
        format!("{}{refused}", way.number),
        way.direction.map_or_else(|| "-".to_owned(), |way| line(way.word())),
        way.length_m.map_or_else(|| "-".to_owned(), |m| format!("{m:.2} m")),
        format!("{:.2} m", way.beside_m),
    ]
}

/// The sentences about further passes, by sensor.
pub(super) fn onward(view: &crate::model::View) -> Vec<super::Onward> {
    let of = |row: &crate::model::FigureRow| {
        let further = row.further.as_ref()?;
        Some(super::Onward {
            label: words::further_of(row.channel),
            words: words::further(further, false),
            further: further.clone(),
        })
    };
    view.figures.iter().filter_map(of).collect()
}
