//! From an impulse at the sensor to the picture that shows it, painted in a browser; one
//! measurement over all that lies between: `painted CAPTURE PICTURES.json`.
//!
//! The pictures come from `.ci/painted.mjs`. An impulse's time is that of the board's report before
//! the first one that has it, through the board's clock as the capture gives it; a picture's is the
//! computer's wall clock, which the capture notes beside its own.

#![allow(clippy::print_stdout)]

use serde_json::Value;
use std::path::Path;
use trundle::recorder::capture_read::read_capture;
use trundle_core::capture::{Entry, Piece};
use trundle_core::session::Keeps;

/// An impulse is to be painted within this, milliseconds.
const LIMIT_MS: f64 = 120.0;
/// As many times the limit is a fault of the program, on whatever machine.
const GROSS: f64 = 4.0;
/// A share of fewer says nothing of the slowest.
const CHANGES_MIN: usize = 100;

/// One picture: on the screen since, by the wall clock; look and count that it shows.
struct Picture {
    painted_utc_ms: f64,
    host_ns: u64,
    count: u64,
}

fn picture(json: &Value) -> Option<Picture> {
    Some(Picture {
        painted_utc_ms: json["painted_utc_ms"].as_f64()?,
        host_ns: json["host_ns"].as_u64()?,
        count: json["count"].as_u64()?,
    })
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [capture, pictures] = &arguments[..] else {
        return Err("painted CAPTURE PICTURES.json".into());
    };
    let pictures: Vec<Value> = serde_json::from_slice(&std::fs::read(pictures)?)?;
    let pictures: Vec<Picture> = pictures.iter().filter_map(picture).collect();
    let late_ms = late(Path::new(capture), &pictures)?;
    if late_ms.len() < CHANGES_MIN {
        return Err(format!("only {} changes of the count were seen", late_ms.len()).into());
    }
    let part = |share: f64| late_ms[((late_ms.len() - 1) as f64 * share) as usize];
    println!(
        "impulse to painted, {} changes: median {:.0} ms, p99 {:.0} ms, slowest {:.0} ms, ratio of \
         p99 to {LIMIT_MS:.0} ms: {:.2}",
        late_ms.len(),
        part(0.5),
        part(0.99),
        part(1.0),
        part(0.99) / LIMIT_MS
    );
    if part(0.99) >= GROSS * LIMIT_MS {
        return Err(format!("not within {GROSS} times the limit").into());
    }
    Ok(())
}

/// How late each new count was painted, milliseconds, in order of size.
fn late(capture: &Path, pictures: &[Picture]) -> Result<Vec<f64>, Box<dyn std::error::Error>> {
    let (mut session, mut events) = (Keeps::Trail(0).session(), Vec::new());
    let mut wall_offsets_ms: Vec<f64> = Vec::new();
    read_capture(capture, |piece| {
        if let Piece::Record(record) = piece
            && let Entry::WallClock(wall) = &record.entry
        {
            wall_offsets_ms.push(wall.utc_ns as f64 * 1e-6 - record.host_ns as f64 * 1e-6);
        }
        session.take(piece, &mut events);
    })
    .map_err(|trouble| format!("{trouble:?}"))?;
    session.finish(&mut events);
    wall_offsets_ms.sort_by(f64::total_cmp);
    let wall_ms = *wall_offsets_ms.get(wall_offsets_ms.len() / 2).ok_or("no wall clock")?;
    let spell = session.trail().and_then(|trail| trail.spells.into_iter().next());
    let spell = spell.ok_or("no board was heard")?;
    let clock = spell.board_clock.as_ref().ok_or("the board's clock is not known")?;
    let samples: Vec<_> = spell.counts.iter().collect();
    // What the count stood at when the pass began: what most pictures agree on.
    let known = |host_ns: u64| samples.partition_point(|sample| sample.host_ns <= host_ns);
    let based = |picture: &Picture| {
        samples[known(picture.host_ns).checked_sub(1)?].impulses[0].checked_sub(picture.count)
    };
    let mut bases: Vec<u64> = pictures.iter().filter_map(based).collect();
    bases.sort_unstable();
    let base = *bases.get(bases.len() / 2).ok_or("no picture of a pass")?;
    let mut late_ms = Vec::new();
    for pair in pictures.windows(2).filter(|pair| pair[1].count > pair[0].count) {
        // The oldest impulse that is new: it came after the last report without it.
        let before = samples.partition_point(|one| one.impulses[0] <= base + pair[0].count);
        let Some(report) = before.checked_sub(1).map(|at| samples[at]) else { continue };
        let impulse_ms = 1e3 * clock.host_s(report.board_us as f64 * 1e-6);
        late_ms.push(pair[1].painted_utc_ms - wall_ms - impulse_ms);
    }
    late_ms.sort_by(f64::total_cmp);
    Ok(late_ms)
}
