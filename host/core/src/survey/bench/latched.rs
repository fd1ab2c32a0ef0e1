//! One whole run on an input of marks, or on the level of the implement.

use super::finding::BenchFinding;
use super::impulses::Shown;
use super::judge::FRAMES_LOST;
use super::runs::{PHASE_COUNT, Run};
use trundle_counter::test_signal::{MARKS, PHASES};
use trundle_protocol::message::MarkSource;

/// Marks may be stamped so much off, microseconds: at 10 m/s that is 0.2 mm.
const MARK_OFF_US: u64 = 20;

/// Judge the marks of the last phase.
pub(super) fn marks(run: &Run<'_>, source: MarkSource) -> Result<Shown, &'static str> {
    run.before(PHASE_COUNT).ok_or(FRAMES_LOST)?;
    let times = times_us(run, source);
    let given = u64::from(PHASES[MARKS].impulses);
    let latched = times.len() as u64;
    let period_us = u64::from(PHASES[MARKS].period_us);
    let off_us = times.windows(2).map(|pair| (pair[1] - pair[0]).abs_diff(period_us)).max();
    let off_us = off_us.unwrap_or(0);
    let mut findings = Vec::new();
    if latched != given {
        findings.push(BenchFinding::Marks { latched, given });
    } else if off_us > MARK_OFF_US {
        findings.push(BenchFinding::MarkTimes { off_us });
    }
    let words = format!("{latched} marks latched, stamped within {} us", off_us.max(1));
    Ok(Shown { findings, words, numbers: vec![("marks", latched as f64)] })
}

/// Judge the changes of level in the last phase.
pub(super) fn level(run: &Run<'_>) -> Result<Shown, &'static str> {
    run.before(PHASE_COUNT).ok_or(FRAMES_LOST)?;
    let given = 2 * u64::from(PHASES[MARKS].impulses);
    let changes = run.level_changes();
    let mut findings = Vec::new();
    if changes != given {
        findings.push(BenchFinding::Level { changes, given });
    }
    let words = format!("the level followed all {changes} changes");
    Ok(Shown { findings, words, numbers: vec![("changes", changes as f64)] })
}

/// Board times of the marks of a source in the last phase, rising.
fn times_us(run: &Run<'_>, source: MarkSource) -> Vec<u64> {
    let (from_us, to_us) = (run.boundary_us(MARKS), run.boundary_us(PHASE_COUNT));
    let mut times: Vec<u64> = run
        .marks
        .iter()
        .filter(|mark| mark.source == source && (from_us..=to_us).contains(&mark.board_us))
        .map(|mark| mark.board_us)
        .collect();
    times.sort_unstable();
    times
}
