//! The check of a counter board on the bench, for the terminal: the verdict first, then line by
//! line.

use super::check::one;
use super::lines::wrap;
use std::fmt::Write as _;
use trundle_core::survey::bench::Bench;
use trundle_core::survey::sensors::check::Mark;

/// The check as text of at most 100 columns, ending with a line end.
#[must_use]
pub fn render(bench: &Bench) -> String {
    let mut out = String::new();
    headline(&mut out, bench);
    out.push('\n');
    for line in &bench.lines {
        let _ = writeln!(out, "{}", one(line));
        if !line.next.is_empty() {
            let _ = writeln!(out, "       Next: {}", line.next);
        }
    }
    wrap(&out)
}

/// The verdict, a sentence each.
pub(crate) fn head(bench: &Bench) -> Vec<String> {
    let mut out = String::new();
    headline(&mut out, bench);
    out.lines().map(str::to_owned).collect()
}

fn headline(out: &mut String, bench: &Bench) {
    let titles = |mark: Mark, optional: bool| -> Vec<&str> {
        let lines = bench.with(mark).filter(|line| optional || !line.optional);
        lines.map(|line| line.title).collect()
    };
    let (failed, open) = (titles(Mark::Fail, true), titles(Mark::NotSeen, false));
    let inputs = bench.planned.len();
    if bench.planned.is_empty() {
        out.push_str("NO CHECK ON THE BENCH in this capture.\n");
        out.push_str("Run `trundle check --bench` with the board connected.\n");
    } else if bench.passes() {
        let of = if inputs == 1 { "The input" } else { "Every input" };
        let _ = writeln!(out, "THE BOARD PASSES: {of} that was bridged counts right.");
        let untested = bench.untested();
        if !untested.is_empty() {
            let _ = writeln!(out, "Not tested: {}.", untested.join(", "));
        }
        out.push_str("The test signal shows the board from its pins on; it shows nothing of the\n");
        out.push_str("parts of the input board before them, nor of any sensor.\n");
    } else if !failed.is_empty() {
        let _ = writeln!(out, "THE BOARD FAILS: {}: {}.", failed.len(), failed.join(", "));
        out.push_str("Do not measure with it before this is put right and checked again.\n");
    } else if !open.is_empty() {
        let _ = writeln!(out, "INCOMPLETE: {} not tested: {}.", open.len(), open.join(", "));
    } else {
        out.push_str("NOT JUDGED: the capture is damaged. Check again with a new capture.\n");
    }
    if bench.damaged_bytes > 0 {
        let _ = writeln!(out, "The capture holds {} damaged bytes.", bench.damaged_bytes);
    }
    if !bench.whole {
        out.push_str("The capture was not closed properly; all that was saved was checked.\n");
    }
}
