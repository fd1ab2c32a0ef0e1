//! What the result rests on, what is and is not claimed, and who stands behind it.

use super::super::page::section;
use super::super::work::foundation as worked;
use super::item::row;
use super::parts::DESCRIBED;
use crate::paper::Sheet;
use crate::phrases::plain::line;
use crate::phrases::result::{clocks, course, day, reason, stop};
use maud::{Markup, html};
use trundle_core::result::work_v1::WorkV1;

/// What is claimed by this paper and what is not, in sentences that stand on every record.
const STATEMENTS: [&str; 5] = [
    "The results relate only to the item described here, as it stood on the days named: tyres, \
     inflation, load and ground included.",
    "No accreditation is claimed, and no statement of conformity with a specification is made.",
    "Nothing is said about when to measure again.",
    "Positions, speeds and time come from the satellite receiver and its services, which are \
     outside the signer's control.",
    "This record may be passed on whole; parts of it alone can mislead.",
];

/// The section on the method, and what departs from it.
pub fn method(sheet: &Sheet<'_>) -> Markup {
    let (Some(method), Some(work)) = (&sheet.record.method, sheet.work) else {
        return html! {};
    };
    let numbers = [
        ("Set rate, l/ha", "method.rate_l_per_ha", method.rate_l_per_ha),
        ("Impulses per turn", "method.impulses_per_turn", method.impulses_per_turn),
        ("Circumference by tyre's data, m", "method.circumference_m", method.circumference_m),
    ];
    let body = html! {
        dl class="item-list" {
            (row("Method", &format!("{}, version {}", method.name, method.version), false))
            @for (label, key, value) in numbers {
                @if let Some(value) = value { (row(label, &value.to_string(), sheet.stated(key))) }
            }
        }
        (worked::method())
        @for sentence in course(work).into_iter().chain(clocks(work)) {
            p { (sentence) }
        }
        (worked::described(DESCRIBED, method.course_toml.as_deref()))
        h3 { "Additions, deviations and exclusions" }
        ul { @for deviation in deviations(sheet, work) { li { (deviation) } } }
    };
    section("method", "Method", &body)
}

fn deviations(sheet: &Sheet<'_>, work: &WorkV1) -> Vec<String> {
    let out_of = sheet.passes().iter().filter(|pass| !pass.used());
    let channel = sheet.record.channel.as_deref().unwrap_or_default();
    let mut out: Vec<String> = out_of
        .map(|pass| format!("Pass {} {}.", pass.number, reason(work, channel, pass)))
        .chain(sheet.discrepancies())
        .collect();
    let granted = work.assumptions.iter();
    out.extend(granted.map(|text| format!("Assumed: {}", stop(text))));
    if out.is_empty() {
        out.push("None.".to_owned());
    }
    out
}

/// The section on the conditions of the day.
pub fn conditions(sheet: &Sheet<'_>) -> Markup {
    let body = html! {
        dl class="item-list" {
            @for (field, value, stated) in sheet.conditions() {
                (row(field.label, value.as_deref().unwrap_or("not given"), stated))
            }
        }
    };
    section("conditions", "Conditions", &body)
}

/// The section on metrological traceability.
pub fn traceability(sheet: &Sheet<'_>) -> Markup {
    let body = html! {
        @for sentence in sheet.traceability() { p { (sentence) } }
        p { "Impulses are whole numbers and need no standard." }
    };
    section("traceability", "Traceability", &body)
}

/// The section with what is opinion and not result.
pub fn opinions(sheet: &Sheet<'_>) -> Markup {
    let body = html! {
        @if let Some(remark) = &sheet.record.remark {
            p class="opinion-of" {
                strong { "Opinion of the signer: " }
                bdi translate="no" { (line(remark)) }
            }
        } @else { p { "The signer gave none." } }
    };
    section("opinions", "Opinions", &body)
}

/// The section with what is claimed and what is not, and the cautions.
pub fn statements(sheet: &Sheet<'_>) -> Markup {
    let claims = html! { ul { @for statement in STATEMENTS { li { (statement) } } } };
    let said = sheet.work.map_or(&[][..], |work| &work.cautions);
    let cautions = html! { ul { @for caution in said { li { (line(caution)) } } } };
    html! {
        (section("statements", "What is claimed", &claims))
        @if !said.is_empty() { (section("cautions", "Cautions", &cautions)) }
    }
}

/// The section that names what is needed to recalculate the result.
pub fn again(sheet: &Sheet<'_>) -> Markup {
    let record = sheet.record;
    let (Some(capture), Some(work)) = (&record.capture, sheet.work) else {
        let body = html! {
            p {
                "Each part has its own capture, named with it. Recalculated by the same version \
                 it gives the same result, byte for byte."
            }
            dl class="item-list" {
                (row("Signed off by", &format!("trundle {}", record.software), false))
            }
        };
        return section("again", "To recalculate it", &body);
    };
    let began = match capture.started_utc.as_str() {
        "" => "not stated".to_owned(),
        began => sheet.moment(began),
    };
    let body = html! {
        p {
            "The capture holds all data received. Recalculated by the same version it gives "
            "the same result, byte for byte."
        }
        dl class="item-list" {
            (row("Capture", &capture.name, false))
            div { dt { "SHA-256" } dd class="digest" { (line(&capture.sha256)) } }
            (row("Bytes", &capture.bytes.to_string(), false))
            (row("Began", &began, false))
            (row("Calculated by", &format!("trundle {}", work.software), false))
            (row("Signed off by", &format!("trundle {}", record.software), false))
        }
    };
    section("again", "To recalculate it", &body)
}

/// Who signs.
pub fn signature(sheet: &Sheet<'_>) -> Markup {
    let operator = sheet.record.rig.operator.as_ref();
    let company = operator.and_then(|person| person.text("company"));
    let body = html! {
        p {
            @if operator.is_some() {
                "Signed off by " bdi { (sheet.name(operator)) }
                @if let Some(company) = company { ", " bdi { (line(company)) } }
            } @else {
                "Signed off by someone who is not named"
            }
            ", " (day(&sheet.record.issued_utc)) "."
        }
        dl class="sign" {
            div { dt { "Signature" } dd {} }
            div { dt { "Place and date" } dd {} }
        }
    };
    section("signature", "Signature", &body)
}
