//! The value of a driven course: what is wrong first, what is to be entered, and how good it is.

use super::Markup;
use crate::html::page::with_entries;
use crate::html::work::{Facts, warnings};
use crate::phrases::plain::{groups, line, sentence_case, significant};
use crate::phrases::result::{agreement, largest_uncertainty, percent};
use crate::reading::Reading;
use crate::words::station::Station;
use crate::words::stations_drive as words;
use maud::{PreEscaped, html};
use trundle_core::result::work_v1::{ChannelV1, WeightV1, WorkV1};

/// The result as it stands at the station, with remarks on the course.
#[must_use]
pub fn value(work: &WorkV1, facts: &Facts, remarks: &[String], reading: &Reading) -> Markup {
    let used = work.passes.iter().filter(|pass| pass.state != "refused").count();
    let flags = work.flags.iter().filter(|flag| flag.weight != WeightV1::Remark);
    html! {
        @if facts.practice { p .practice { (words::PRACTICE) } }
        p { (line(&words::of_capture(&facts.capture_name, used, work.passes.len()))) }
        p { (line(&driven(work, facts, reading))) }
        @for remark in remarks { p { (line(remark)) } }
        section .first aria-labelledby="first-name" {
            h2 #first-name { (words::FIRST) }
            @if let Some(list) = warnings::list("found", flags) {
                (PreEscaped(with_entries(&list.into_string())))
            } @else {
                p { (words::NOTHING_WRONG) }
            }
        }
        @for (name, channel) in work.sensors() { (sensor(name, channel)) }
        @if work.channels.is_empty() {
            section { p .none { (words::NO_VALUE) } p { (words::NO_PASS) } }
        }
        section aria-labelledby="whole-name" {
            h2 #whole-name { (words::PAPERS) }
            a .wide href=("/value/report") { (words::REPORT) }
            a .wide href=("/value/report.html") download { (words::REPORT_FILE) }
            a .wide href=("/value/result.json") download { (words::JSON_FILE) }
            a .wide href=(Station::Proof.path()) { (words::SIGN) }
        }
    }
}

/// When it was driven and how far, as the reader reads times and lengths.
fn driven(work: &WorkV1, facts: &Facts, reading: &Reading) -> String {
    let length = work.course.map(|course| reading.length(course.length_m, 3));
    words::driven(&reading.moment(&facts.started_utc), length.as_deref())
}

fn sensor(name: &str, channel: &ChannelV1) -> Markup {
    let best = channel.best().zip(channel.value_to_enter);
    html! {
        section .enter {
            h2 { (sentence_case(&line(name))) }
            @if let Some((best, number)) = best {
                p .big {
                    span .number { @for group in groups(number) { span .group { (group) } } }
                    " " span .unit { (words::UNIT) }
                }
                @if channel.agreement.is_none() { p { strong { (words::PROVISIONAL) } } }
                @let half = significant(best.expanded_uncertainty, 2);
                p { strong { (words::good(percent(best), &half)) } }
                p { (agreement(channel)) }
                p { (words::largest(&largest_uncertainty(best))) }
            } @else {
                p .none { (words::NO_VALUE) }
                p { strong { (words::DO_NOT) } }
                p { (agreement(channel)) }
            }
            @if let Some(found) = &channel.as_found { p { (line(&found.sentence)) } }
            @if let Some(rolling) = &channel.rolling { p { (line(&rolling.sentence)) } }
            @for one in &channel.unanswered {
                p { (line(&one.what)) " " (line(&one.means)) " " (line(&one.next)) }
            }
            (crate::html::work::figures::second_opinion(channel))
        }
    }
}
