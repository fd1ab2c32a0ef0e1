//! The check before the course is taped, for the terminal: ready or not first, then line by line.

use super::lines::wrap;
use std::fmt::Write as _;
use trundle_core::survey::sensors::Health;
use trundle_core::survey::sensors::check::{Check, CheckLine, Mark};

/// The check as text of at most 100 columns, ending with a line end. The marks are words, so that
/// nothing hangs on colour.
#[must_use]
pub fn render(check: &Check) -> String {
    let mut out = String::new();
    headline(&mut out, check);
    out.push('\n');
    for line in &check.lines {
        let _ = writeln!(out, "{}", one(line));
        if !line.next.is_empty() {
            let _ = writeln!(out, "       Next: {}", line.next);
        }
    }
    details(&mut out, check);
    wrap(&out)
}

/// One line of the check.
#[must_use]
pub fn one(line: &CheckLine) -> String {
    let mark = match line.mark {
        Mark::Pass => "[pass]",
        Mark::Fail => "[FAIL]",
        Mark::NotSeen => "[ ?? ]",
    };
    let seen = if line.mark == Mark::NotSeen { "not tested: " } else { "" };
    format!("{mark} {}: {seen}{}", line.title, line.what)
}

/// Ready or not, a sentence each.
pub(crate) fn head(check: &Check) -> Vec<String> {
    let mut out = String::new();
    headline(&mut out, check);
    out.lines().map(str::to_owned).collect()
}

fn headline(out: &mut String, check: &Check) {
    let titles = |mark: Mark, needed: bool| -> Vec<&str> {
        check.with(mark).filter(|line| !(needed && line.optional)).map(|line| line.title).collect()
    };
    let failed = titles(Mark::Fail, false);
    let open = titles(Mark::NotSeen, true);
    if check.passes() {
        let passed = check.with(Mark::Pass).count();
        let _ = writeln!(out, "READY TO TAPE THE COURSE: {passed} lines pass, none fails.");
    } else if !failed.is_empty() {
        let _ = writeln!(out, "NOT READY: {} failed: {}.", failed.len(), failed.join(", "));
        out.push_str("Put these right before the course is taped, and check again.\n");
    } else if !open.is_empty() {
        let _ = writeln!(out, "INCOMPLETE: {} not tested.", open.len());
        let _ = writeln!(out, "Not tested: {}.", open.join(", "));
    } else {
        out.push_str("NOT READY: the capture is damaged. Check again with a new capture.\n");
    }
    if check.damaged_bytes > 0 {
        let _ = writeln!(out, "The capture holds {} damaged bytes.", check.damaged_bytes);
    }
    if !check.whole {
        out.push_str("The capture was not closed properly; all that was saved was checked.\n");
    }
}

fn details(out: &mut String, check: &Check) {
    out.push_str("\nThe sensors in numbers\n");
    for health in &check.sensors {
        sensor(out, health);
    }
    for (channel, per_100m) in &check.rough_per_100m {
        let name = channel.name();
        let _ = writeln!(
            out,
            "  {name}: roughly {per_100m:.0} impulses per 100 m by satellite; never enter this"
        );
    }
}

fn sensor(out: &mut String, health: &Health) {
    let name = health.channel.name();
    let Some(even) = health.evenness else {
        let _ = writeln!(out, "  {name}: no edge times at a steady speed");
        return;
    };
    let intervals = health.intervals;
    let _ = write!(out, "  {name}: {intervals} intervals, spread {:.2} %", 100.0 * even.spread);
    if let (Some(teeth), Some(noise)) = (even.teeth, even.noise) {
        let _ = write!(out, ", a ring of {teeth} teeth, {:.2} % without it", 100.0 * noise);
    }
    out.push('\n');
    if let [(slow_hz, slow), (fast_hz, fast)] = health.by_rate[..] {
        let (slow, fast) = (100.0 * slow, 100.0 * fast);
        let _ = writeln!(
            out,
            "    spread {slow:.2} % at {slow_hz:.0} impulses a second, {fast:.2} % at {fast_hz:.0}"
        );
    }
}
