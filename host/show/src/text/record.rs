//! A signed-off record for the terminal: what to enter and how sure first, then on what and by
//! whom, then what stands against it; the long form on paper has the rest.

use super::lines::wrap;
use crate::html::page::words::{line, significant};
use crate::paper::{PaperFacts, Sheet, coverage, day, freedom, pair, relative, used};
use std::fmt::Write as _;
use trundle_core::result::record_v1::RecordV1;
use trundle_core::result::work_read::WorkRead;
use trundle_core::units::typed::Measure;

/// Most lines of the budget that are shown; they come largest first.
const BUDGET_SHOWN: usize = 5;

/// The record as text of at most 100 columns where its words allow, ending with a line end.
/// `work` is the result inside the record ([`RecordV1::worked`]).
#[must_use]
pub fn render(record: &RecordV1, work: &WorkRead, facts: &PaperFacts) -> String {
    let sheet = Sheet { record, work, facts };
    let mut out = String::new();
    headline(&mut out, &sheet);
    standing(&mut out, &sheet);
    against(&mut out, &sheet);
    about(&mut out, &sheet);
    conditions(&mut out, &sheet);
    passes(&mut out, &sheet);
    figures(&mut out, &sheet);
    foundation(&mut out, &sheet);
    let _ = writeln!(out, "\n{}", sheet.end());
    wrap(&out.replace('\u{a0}', " "))
}

fn headline(out: &mut String, sheet: &Sheet<'_>) {
    let record = sheet.record;
    let practice = if record.practice { "PRACTICE, do not enter. " } else { "" };
    let good = match sheet.best() {
        Some(best) => format!("good to {}", relative(best)),
        None => "with no doubt worked".to_owned(),
    };
    let _ = writeln!(
        out,
        "{practice}{}: {} impulses per 100 m were signed off, {good}",
        sheet.sensor(),
        record.to_enter
    );
    let shown =
        |value: Option<f64>| value.map_or_else(|| "not given".to_owned(), |v| v.to_string());
    let _ = writeln!(
        out,
        "  as found {}; to enter {}; as left {}",
        shown(record.as_found),
        record.to_enter,
        shown(record.as_left)
    );
    let _ = writeln!(out, "  record {}, signed off {}", sheet.id(), day(&record.issued_utc));
    if let Some(cost) = sheet.cost() {
        let _ = writeln!(out, "  {cost}");
    }
}

fn standing(out: &mut String, sheet: &Sheet<'_>) {
    if let Some(by) = &sheet.facts.superseded_by {
        let _ = writeln!(out, "  SUPERSEDED by record {}: go by that one", line(by));
    }
    if let Some(amends) = &sheet.record.amends {
        let (id, reason) = (line(&amends.id), line(&amends.reason));
        let _ = writeln!(out, "  takes the place of record {id}, because: {reason}");
    }
}

fn against(out: &mut String, sheet: &Sheet<'_>) {
    let discrepancies = sheet.discrepancies();
    let silent = sheet.work.flags.is_empty() && sheet.record.accepted_because.is_none();
    if silent && discrepancies.is_empty() {
        return;
    }
    out.push_str("\nLook at this first:\n");
    for warning in discrepancies {
        let _ = writeln!(out, "  {warning}");
    }
    for flag in &sheet.work.flags {
        let place = flag.pass.map_or_else(String::new, |pass| format!("pass {pass}: "));
        let _ = writeln!(
            out,
            "  {} {place}{}. {}. Next: {}.",
            line(&flag.code),
            line(&flag.what),
            line(&flag.means),
            line(&flag.next)
        );
    }
    if let Some(because) = &sheet.record.accepted_because {
        let _ = writeln!(out, "  Signed off all the same: {}", line(because));
    }
}

fn about(out: &mut String, sheet: &Sheet<'_>) {
    let _ = writeln!(out, "\n{}", sheet.done());
    for (part, thing, entry) in sheet.record.rig.parts() {
        let Some(entry) = entry else { continue };
        let rows = sheet.rows(part, thing, entry).into_iter().map(|(label, value, told)| {
            let told = if told { " (told by the customer)" } else { "" };
            format!("; {}: {value}{told}", label.to_lowercase())
        });
        let rows: String = rows.collect();
        let _ = writeln!(out, "  {part:<9} {}{rows}", line(&entry.name));
    }
    if let Some(place) = &sheet.record.place {
        let _ = writeln!(out, "  {:<9} {}", "place", line(place));
    }
}

fn conditions(out: &mut String, sheet: &Sheet<'_>) {
    let c = &sheet.record.conditions;
    let known: Vec<String> = [
        c.surface.as_deref().map(|text| format!("ground: {}", line(text))),
        c.inflation_kpa.map(|kpa| format!("inflation: {}", Measure::Pressure.show(kpa))),
        c.temperature_c.map(|c| format!("air: {}", Measure::Temperature.show(c))),
        c.load.as_deref().map(|text| format!("load: {}", line(text))),
    ]
    .into_iter()
    .flatten()
    .collect();
    if !known.is_empty() {
        let _ = writeln!(out, "  {:<9} {}", "that day", known.join("; "));
    }
}

fn passes(out: &mut String, sheet: &Sheet<'_>) {
    if sheet.passes().is_empty() {
        return;
    }
    out.push_str("\nPass  way   state       impulses    by tape  by satellite  use\n");
    let show = |value: Option<f64>| value.map_or_else(|| "-".to_owned(), |v| format!("{v:.1}"));
    for pass in sheet.passes() {
        let counts = used(pass);
        let _ = writeln!(
            out,
            "{:>4}  {:<4}  {:<9} {:>10} {:>10} {:>13}  {}",
            pass.number,
            line(pass.direction.as_deref().unwrap_or("-")),
            line(&pass.state),
            show(pass.impulses),
            show(pass.by_tape().filter(|_| counts)),
            show(pass.by_satellite().filter(|_| counts)),
            sheet.reason(pass)
        );
    }
}

fn figures(out: &mut String, sheet: &Sheet<'_>) {
    let Some(channel) = sheet.channel() else { return };
    let _ = writeln!(out, "\n{}, impulses per 100 m", sheet.sensor());
    let sides = [
        ("tape", &channel.tape),
        ("satellite", &channel.satellite),
        ("combined", &channel.combined),
    ];
    for (side, figure) in sides {
        let Some(figure) = figure else {
            let _ = writeln!(out, "  {side:<10} not given");
            continue;
        };
        let _ = writeln!(
            out,
            "  {side:<10} {}  ({} coverage, k = {:.2}, {} degrees of freedom)",
            pair(figure),
            coverage(figure),
            figure.coverage_factor,
            freedom(figure.degrees_of_freedom)
        );
    }
    let mut lines: Vec<_> = channel.budget.iter().collect();
    lines.sort_by(|a, b| b.contribution.abs().total_cmp(&a.contribution.abs()));
    if !lines.is_empty() {
        out.push_str("  where the doubt comes from (standard uncertainty in the figure):\n");
    }
    for one in lines.iter().take(BUDGET_SHOWN) {
        let size = significant(one.contribution.abs(), 2);
        let _ = writeln!(out, "    {size:>8}  {}", line(&one.source));
    }
    if lines.len() > BUDGET_SHOWN {
        let _ = writeln!(out, "    and {} smaller", lines.len() - BUDGET_SHOWN);
    }
}

fn foundation(out: &mut String, sheet: &Sheet<'_>) {
    let record = sheet.record;
    out.push('\n');
    for sentence in sheet.traceability() {
        let _ = writeln!(out, "{sentence}");
    }
    if let Some(remark) = &record.remark {
        let _ = writeln!(out, "Opinion of the signer: {}", line(remark));
    }
    let _ = writeln!(
        out,
        "Method {}, version {}; trundle {}; capture {}, {} bytes, SHA-256 {}",
        line(&record.method.name),
        record.method.version,
        line(&record.software),
        line(&record.capture.name),
        record.capture.bytes,
        line(&record.capture.sha256)
    );
}
