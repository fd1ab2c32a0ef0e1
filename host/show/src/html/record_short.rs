//! A signed-off record on one page, for the customer: what was found, what was entered, how sure,
//! what the old value cost, who did it, and which record says the rest.
//!
//! One sheet exactly: texts that people wrote are cut to what a line or two hold; the long form
//! ([`super::record`]) has them whole.

use super::page::{Page, document_with};
use super::record::{
    DISCLAIMER, PRACTICE, STATED, STYLE, across, digest, large, margins, part_values, standing,
    steps, window_title,
};
use crate::paper::{PaperFacts, Sheet};
use crate::phrases::plain::{cut, line};
use crate::phrases::result::{coverage, day, instant, pair, relative};
use maud::{Markup, html};
use trundle_core::result::record_v1::RecordV1;
use trundle_core::result::work_v1::WorkV1;
use trundle_core::rig::{Entry, FieldKind};

/// What the short form adds to the style sheet of the long one.
const SHORT_STYLE: &str = include_str!("record_short.css");
/// Beside it where more than one notice stands above the answer, or parts beside the course.
const TIGHT_STYLE: &str = include_str!("record_tight.css");
/// Beside both where all of that comes together.
const FULL_STYLE: &str = include_str!("record_full.css");
/// Characters of a name or a place: two lines of its column, more only of wide letters.
const FACT_MOST: usize = 90;
/// Characters of a sentence: four lines of the page, unless it is all of the widest letter.
const SENTENCE_MOST: usize = 320;

/// Characters of a condition in words: half a line of common letters.
const SAID_MOST: usize = 40;
/// Letters below the notices, wide ones for two, beyond which texts beside parts are long: plain
/// words with all parts have some 2,500, and 3,800 just stand on a sheet without any notice.
const WIDTH_MOST: usize = 3_000;

/// The whole page, ending with a line end. `work` is the result of its course
/// ([`RecordV1::worked`]).
#[must_use]
pub fn page(record: &RecordV1, work: Option<&WorkV1>, facts: &PaperFacts) -> String {
    // Cut once, at the door, so that no sentence below can run over the sheet.
    let work = work.map(|work| cut_work(work, record.channel.as_deref().unwrap_or_default()));
    let record = cut_record(record);
    let superseded_by = facts.superseded_by.as_deref().map(|by| cut(&line(by), FACT_MOST));
    let facts = PaperFacts { superseded_by, ..facts.clone() };
    let sheet = Sheet { record: &record, work: work.as_ref(), facts: &facts };
    let main = html! {
        div class="short-top" {
            (large(&sheet))
            (people(&sheet))
        }
        @if work.is_some() { (steps(&sheet)) }
        (sentences(&sheet))
        (small_print(&sheet))
        dl class="sign" {
            div { dt { "Signature" } dd {} }
            div { dt { "Place and date" } dd {} }
        }
    };
    let (tight, full) = closer(&sheet, width(&main));
    document_with(
        &Page {
            title: &window_title(&sheet),
            digest: digest(&record),
            style: &format!("{STYLE}{SHORT_STYLE}{tight}{full}"),
            practice: record.practice.then_some(PRACTICE),
            header: header(&sheet),
            main,
        },
        &margins(&sheet),
        &format!("{} in short", sheet.end()),
    )
}

/// Letters of its text, wide ones for two.
fn width(markup: &Markup) -> usize {
    let outside =
        markup.0.split('<').map(|part| part.split_once('>').map_or(part, |(_, text)| text));
    let wide = |c: char| c.is_uppercase() || "mw@".contains(c) || c > '\u{2e7f}';
    outside.flat_map(str::chars).map(|c| if wide(c) { 2 } else { 1 }).sum()
}

/// What sets the page closer, by how much has to stand on its one sheet.
fn closer(sheet: &Sheet<'_>, width: usize) -> (&'static str, &'static str) {
    let superseded = sheet.facts.superseded_by.is_some();
    let notices = [sheet.record.practice, sheet.record.amends.is_some(), superseded];
    let notices = notices.into_iter().filter(|holds| *holds).count();
    // Parts take as much room as two notices, long texts beside them and a warning as one.
    let parts = match (sheet.record.parts.is_empty(), width > WIDTH_MOST) {
        (true, _) => 0,
        (false, long) => 2 + usize::from(long),
    };
    match notices + parts + sheet.discrepancies().len() {
        0 | 1 => ("", ""),
        2 | 3 => (TIGHT_STYLE, ""),
        _ => (TIGHT_STYLE, FULL_STYLE),
    }
}

fn header(sheet: &Sheet<'_>) -> Markup {
    html! {
        header {
            p class="maker" { "Trundle · record in short" }
            h1 { (sheet.title()) }
            dl class="facts" {
                div { dt { "Record" } dd class="id" { (sheet.id()) } }
                div { dt { "Measured" } dd { (sheet.measured_on()) } }
                div { dt { "Signed off" } dd { (signed_off(sheet)) } }
            }
            (standing(sheet))
        }
        (across(sheet))
    }
}

fn people(sheet: &Sheet<'_>) -> Markup {
    let rig = &sheet.record.rig;
    let mut items = vec![
        ("For", sheet.name(rig.customer.as_ref())),
        ("Tractor", with(rig.tractor.as_ref(), &["make", "model", "serial"])),
        ("Tyres", with(rig.tyres.as_ref(), &["size"])),
        ("Measured by", with(rig.operator.as_ref(), &["company", "contact"])),
    ];
    if let Some(place) = &sheet.record.place {
        items.push(("Place", line(place)));
    }
    html! {
        dl class="item-list" {
            @for (label, text) in &items {
                div { dt { (label) } dd { bdi { (cut(text, FACT_MOST)) } } }
            }
        }
    }
}

/// The day; where it is wanted the reader's own time and UTC, each to the minute: one line.
fn signed_off(sheet: &Sheet<'_>) -> String {
    let issued = &sheet.record.issued_utc;
    match sheet.facts.reading.and_then(|reading| reading.local(issued)) {
        Some(local) => {
            let utc: String = instant(issued).chars().skip(11).take(5).collect();
            format!("{local} local time ({utc} UTC)")
        }
        None => day(issued),
    }
}

/// The conditions that were said, what the customer stated in a sentence of its own. Numbers and
/// words that are given come first: the line that a long text runs over is the last.
fn conditions(sheet: &Sheet<'_>) -> Vec<String> {
    let mut said = sheet.conditions();
    said.sort_by_key(|(field, ..)| field.kind == FieldKind::Text);
    let sentence = |(begin, of_customer): (&str, bool)| {
        let mine = said.iter().filter(|(.., stated)| *stated == of_customer);
        let shown = mine.filter_map(|(field, value, _)| {
            let value = cut(value.as_deref()?, SAID_MOST);
            Some(format!("{}: {value}", field.label.to_lowercase()))
        });
        let shown: Vec<String> = shown.collect();
        (!shown.is_empty()).then(|| format!("{begin}: {}.", shown.join("; ")))
    };
    let stated = format!("Conditions {STATED}");
    [("Conditions", false), (&stated, true)].into_iter().filter_map(sentence).collect()
}

/// A name with some of what is known of it.
fn with(entry: Option<&Entry>, keys: &[&str]) -> String {
    let Some(entry) = entry else { return "not given".to_owned() };
    let more = keys.iter().filter_map(|key| entry.text(key)).map(line);
    std::iter::once(line(&entry.name)).chain(more).collect::<Vec<_>>().join(", ")
}

fn sentences(sheet: &Sheet<'_>) -> Markup {
    let cost = sheet.cost().unwrap_or_else(|| {
        "No value was read in the terminal before, so its cost is not known.".to_owned()
    });
    let warnings = sheet.flags().len();
    html! {
        h2 { "What was done" }
        p { (cut(&sheet.done(), SENTENCE_MOST)) }
        @let conditions = conditions(sheet);
        @if !conditions.is_empty() { p { bdi { (conditions.join(" ")) } } }
        (part_values(sheet, SENTENCE_MOST))
        @if sheet.work.is_some() { h2 { "Uncertainty" } }
        @if let Some(best) = sheet.best() {
            p {
                (sheet.ways()) ", " (pair(best)) " impulses per 100\u{a0}m: with a probability of "
                (coverage(best)) " the true value lies within " (relative(best)) " of this one."
            }
        } @else if sheet.work.is_some() {
            p { (cut(&sheet.sureness(), SENTENCE_MOST)) }
        }
        @if !sheet.is_valid() {
            p {
                @if warnings > 0 {
                    "The result is flagged; the record has "
                    (warnings) @if warnings == 1 { " warning" } @else { " warnings" } ". "
                }
                @if let Some(because) = &sheet.record.accepted_because {
                    "Signed off in spite of this: "
                    bdi translate="no" { (cut(&line(because), FACT_MOST)) }
                }
            }
        } @else if let Some(because) = &sheet.record.accepted_because {
            p {
                "Signed off in spite of this: "
                bdi translate="no" { (cut(&line(because), FACT_MOST)) }
            }
        }
        @for warning in sheet.discrepancies() {
            p { strong { (cut(&warning, SENTENCE_MOST)) } }
        }
        @if sheet.work.is_some() {
            h2 { "Cost of the old value" }
            p { (cut(&cost, SENTENCE_MOST)) }
        }
    }
}

fn small_print(sheet: &Sheet<'_>) -> Markup {
    html! {
        p class="small" {
            "The result holds for this tractor as it was that day. No accreditation is claimed. "
            "Method, uncertainty and all passes are in record " span class="id" { (sheet.id()) }
            ", which alone is complete."
            @if !sheet.record.stated_by_customer.is_empty() { " " (STATED) ": " (DISCLAIMER) }
        }
    }
}

fn cut_record(record: &RecordV1) -> RecordV1 {
    let mut record = record.clone();
    let shorten = |text: &mut String, most: usize| *text = cut(&line(text), most);
    let rig = &mut record.rig;
    let named = [&mut rig.tractor, &mut rig.tyres, &mut rig.operator, &mut rig.customer];
    for entry in named.into_iter().flatten() {
        shorten(&mut entry.name, FACT_MOST);
    }
    shorten(&mut record.id, FACT_MOST);
    record.channel.iter_mut().for_each(|channel| shorten(channel, FACT_MOST));
    if let Some(amends) = &mut record.amends {
        shorten(&mut amends.id, FACT_MOST);
        shorten(&mut amends.reason, FACT_MOST * 2);
    }
    record
}

/// The result under the cut name of its sensor.
fn cut_work(work: &WorkV1, channel: &str) -> WorkV1 {
    let mut work = work.clone();
    if let Some(figures) = work.channels.remove(channel) {
        work.channels.insert(cut(&line(channel), FACT_MOST), figures);
    }
    work
}
