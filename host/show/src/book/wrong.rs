//! Everything that can be found wrong, each with its word, what it means and what to do next.

use crate::html::slip::MEANINGS;
use crate::live::troubles::TroubleKind;
use crate::phrases::plain::sentence_case;
use crate::text::speeds;
use crate::words::book as words;
use maud::{Markup, html};
use trundle_core::flags::Code;
use trundle_core::survey::sensors::SensorWarning;

/// Every flag, every trouble of a live job, and every refusal of the page: each refusal with what
/// it means and what to do.
pub fn wrong(refusals: &[[String; 3]]) -> Markup {
    html! {
        h3 id="flags" { (words::FLAGS) }
        dl { @for code in Code::ALL { (flag(*code)) } }
        h3 id="slip-flags" { (words::SLIP_FLAGS) }
        p { (words::SLIP_ABOUT) }
        dl { @for (flag, means, next) in MEANINGS {
            (entry(&slip_flag(flag.word()), flag.word(), &[], means, next))
        } }
        h3 id="speed-flags" { (words::SPEED_FLAGS) }
        dl { @for one in &speeds::KNOWN {
            (entry(&words::flag(one.code), one.code, &[one.about], one.means, one.next))
        } }
        h3 id="troubles" { (words::TROUBLES) }
        p { (words::EXAMPLE) }
        dl { @for kind in TroubleKind::ALL { (trouble(kind)) } }
        h3 id="sensors" { (words::SENSORS) }
        p { (words::EXAMPLE) }
        dl { @for fault in SensorWarning::EXAMPLES {
            div id=(words::anchor("sensor", fault.word())) {
                dt { (sentence_case(&fault.word().replace('_', " "))) }
                dd { (words::SAYS) ": " (sentence_case(&fault.what())) "." }
                dd { (words::NEXT) ": " (fault.next()) }
            }
        } }
        h3 id="refused" { (words::REFUSED) }
        dl { @for [what, means, next] in refusals {
            div { dt { (what) } dd { (means) } dd { (next) } }
        } }
    }
}

/// Name of the entry of a flag of a section of slip. One that results have too is explained there
/// under its word, and here beside.
#[must_use]
pub fn slip_flag(word: &str) -> String {
    let of_results = Code::ALL.iter().any(|code| code.word() == word);
    if of_results { words::anchor("slip-flag", word) } else { words::flag(word) }
}

fn flag(code: Code) -> Markup {
    let none = code.leaves_no_value() || code.withholds() || code == Code::TooUncertain;
    let weight = if none {
        words::WITHHOLDS
    } else if code.refuses() {
        words::REFUSES
    } else if code.is_remark() {
        words::REMARK
    } else {
        words::CARE
    };
    let place = words::flag(code.word());
    entry(&place, code.word(), &[code.about(), weight], code.means(), code.advice())
}

fn entry(place: &str, word: &str, about: &[&str], means: &str, next: &str) -> Markup {
    let ended = |words: &str| format!("{}.", words.trim_end_matches('.'));
    html! {
        div id=(place) {
            dt { code { (word) } }
            @if !about.is_empty() {
                dd { @for words in about { (words) " " } }
            }
            dd { (words::MEANS) ": " (ended(means)) }
            dd { (words::NEXT) ": " (ended(next)) }
        }
    }
}

fn trouble(kind: TroubleKind) -> Markup {
    html! {
        div id=(words::trouble(kind.word())) {
            dt { (sentence_case(&kind.word().replace('-', " "))) }
            @for says in kind.says() { dd { (says) } }
        }
    }
}
