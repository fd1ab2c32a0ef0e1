//! What has been seen of the three speeds, and what is still missing.

use super::{CheckRow, How, Picture, Shown, View, answer, listed, measured, satellite};
use crate::text::speeds as text;
use trundle_core::survey::speeds::{STEADY_RUNS_MIN, Speeds, SpeedsRefusal};

/// What the drive has shown so far; `pictures`: how many drawings there were.
#[must_use]
pub fn shown_speeds(
    view: &View,
    compared: Option<&Result<Speeds, SpeedsRefusal>>,
    pictures: u64,
) -> Shown {
    let rows = match compared {
        None => Vec::new(),
        Some(Err(why)) => vec![CheckRow::new(
            How::Missing,
            measured::MISSING,
            measured::STEADY,
            format!("{why}."),
            why.next(),
        )],
        Some(Ok(speeds)) => rows(speeds),
    };
    let next = match (rows.iter().find(|row| !row.done), compared) {
        (
            _,
            None | Some(Err(SpeedsRefusal::Stationary { .. } | SpeedsRefusal::NoSteady { .. })),
        ) => measured::SPEEDS_BEGIN.to_owned(),
        (Some(row), _) if !row.next.is_empty() => row.next.clone(),
        _ => measured::SPEEDS_MORE.to_owned(),
    };
    let figures = compared.and_then(|compared| compared.as_ref().ok()).map(|speeds| {
        let beware = !text::warnings(speeds).is_empty();
        let headline = text::headline(speeds);
        answer(measured::SPEEDS, headline.trim_start_matches("SPEEDS: ").to_owned(), beware)
    });
    let picture = (pictures > 0)
        .then(|| Picture { number: pictures, words: measured::SPEEDS_DRAWN.to_owned() });
    Shown {
        figures: figures.into_iter().collect(),
        picture,
        ..listed(view, &next, satellite(view), rows)
    }
}

fn rows(speeds: &Speeds) -> Vec<CheckRow> {
    let clear = speeds.steady_runs.iter().filter(|run| run.clear).count();
    let runs = measured::steady_runs(clear, STEADY_RUNS_MIN);
    let stood = speeds.standing.seconds > 0.0;
    let standing = text::standing(speeds);
    let mut rows = vec![
        CheckRow::new(How::Good, measured::SEEN, measured::STEADY, runs, ""),
        if stood {
            CheckRow::new(How::Good, measured::SEEN, measured::STANDSTILL, standing, "")
        } else {
            let next = measured::STAND;
            CheckRow::new(How::Missing, measured::MISSING, measured::STANDSTILL, standing, next)
        },
    ];
    rows.extend(text::warnings(speeds).into_iter().map(|warning| {
        let seen = format!("{} {}", warning.what, warning.means);
        let next = crate::phrases::plain::sentence_case(warning.next);
        CheckRow::new(How::Bad, measured::LOOK, measured::WARNING, seen, &next)
    }));
    rows
}
