//! Who measured what, for whom, where and when.

use super::super::page::section;
use crate::paper::Sheet;
use crate::phrases::plain::{enumerate, line};
use crate::phrases::result::instant;
use maud::{Markup, html};
use trundle_core::rig::{Entry, Thing, conditions};

/// The mark of what nobody checked.
pub const STATED: &str = "(stated by the customer)";
/// What is behind that mark.
pub const DISCLAIMER: &str = "What is marked as stated by the customer was not checked. Where it \
                              is wrong, the result may be wrong; the signer is not liable for it.";

/// The sections on people and item.
pub fn section_of(sheet: &Sheet<'_>) -> Markup {
    let rig = &sheet.record.rig;
    let people = html! {
        div class="pairs" {
            (thing(sheet, "Measured by", "operator", Thing::Person, rig.operator.as_ref()))
            (thing(sheet, "Customer", "customer", Thing::Person, rig.customer.as_ref()))
            (where_and_when(sheet))
        }
    };
    let item = html! {
        div class="pairs" {
            (thing(sheet, "Tractor", "tractor", Thing::Tractor, rig.tractor.as_ref()))
            (thing(sheet, "Tyres", "tyres", Thing::Tyres, rig.tyres.as_ref()))
            (thing(sheet, "Rig", "rig", Thing::Rig, Some(&rig.rig)))
            (thing(sheet, "Tape", "tape", Thing::Tape, rig.tape.as_ref()))
        }
        @let others = others(sheet);
        @if !others.is_empty() {
            p { "Also stated by the customer: " (others) "." }
        }
        @if !sheet.record.stated_by_customer.is_empty() { p class="quiet" { (DISCLAIMER) } }
    };
    html! {
        (section("who", "Who, where, when", &people))
        (section("item", "What was measured", &item))
    }
}

fn where_and_when(sheet: &Sheet<'_>) -> Markup {
    let record = sheet.record;
    let course = |pick: fn(&trundle_core::result::work_v1::PassV1) -> Option<&String>| {
        sheet.passes().iter().filter_map(pick).collect::<Vec<_>>()
    };
    let starts = course(|pass| pass.start_utc.as_ref());
    let ends = course(|pass| pass.finish_utc.as_ref());
    html! {
        div {
            h3 { "Where and when" }
            dl class="item-list" {
                @let place = record.place.as_deref().unwrap_or("not given");
                (row("Place", place, sheet.stated("place")))
                @if let (Some(first), Some(last)) = (starts.iter().min(), ends.iter().max()) {
                    (row("Passes driven", &span(sheet, first, last), false))
                } @else {
                    (row("Measured", &sheet.measured_on(), false))
                }
                (row("Issued", &sheet.moment(&record.issued_utc), false))
                (row("Date of receipt", "none: measured where it stood", false))
            }
        }
    }
}

/// From the first mark to the last.
fn span(sheet: &Sheet<'_>, first: &str, last: &str) -> String {
    let utc = format!("{} to {} UTC", instant(first), instant(last));
    let local = |at: &str| sheet.facts.reading.and_then(|reading| reading.local(at));
    match (local(first), local(last)) {
        (Some(first), Some(last)) => format!("{utc} ({first} to {last} local time)"),
        _ => utc,
    }
}

fn thing(
    sheet: &Sheet<'_>,
    heading: &str,
    part: &str,
    thing: Thing,
    entry: Option<&Entry>,
) -> Markup {
    html! {
        div {
            h3 { (heading) }
            dl class="item-list" {
                @if let Some(entry) = entry {
                    (row("Name", &entry.name, sheet.stated(&format!("rig.{part}.name"))))
                    @for (label, value, stated) in sheet.rows(part, thing, entry) {
                        (row(&label, &value, stated))
                    }
                } @else {
                    (row("Name", "not given", false))
                }
            }
        }
    }
}

/// A label with its value; `value` may be text from outside.
pub(super) fn row(label: &str, value: &str, stated: bool) -> Markup {
    html! {
        div {
            dt { (label) }
            dd {
                bdi { (line(value)) }
                @if stated { " " span class="stated" { (STATED) } }
            }
        }
    }
}

/// Keys stated by the customer that no row of the paper carries: nothing of it is kept back.
fn others(sheet: &Sheet<'_>) -> String {
    let shown = |key: &str| {
        let parts = ["rig.", "conditions.", "method."];
        let alone = ["place", "as_found", "as_left"];
        let condition = sheet
            .conditions()
            .iter()
            .any(|(field, value, _)| value.is_some() && conditions::named(key) == Some(*field));
        condition || parts.iter().any(|part| key.starts_with(part)) || alone.contains(&key)
    };
    let stated = sheet.record.stated_by_customer.iter();
    enumerate(&stated.filter(|key| !shown(key)).map(|key| line(key)).collect::<Vec<_>>())
}
