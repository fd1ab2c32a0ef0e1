//! Phrases of a sheet of settings: one wording for terminal and paper.
//!
//! Nothing in a sheet is trusted: text goes through `line` here or where it is shown.

use super::plain::{line, sentence_case};
use super::result::stop;
use trundle_core::result::settings_v1::{RemarkV1, SettingV1, SettingsV1, SourceV1};
use trundle_core::stats::budget::rounding::round_pair;
use trundle_core::units::{decimals, signed};

/// Title of the sheet.
pub const TITLE: &str = "Sheet of settings";
/// Decimals of a length, at most: millimetres.
const LENGTH_DECIMALS: i32 = 3;

/// The number to key in; `None` where there is none.
pub fn number(one: &SettingV1) -> Option<String> {
    let number = one.to_enter?;
    if one.signs.is_none() {
        return Some(number.to_string());
    }
    let rounded = round_pair(number, one.expanded_uncertainty?);
    let places = usize::try_from(rounded.decimals.clamp(0, LENGTH_DECIMALS)).unwrap_or(0);
    let both_ways = matches!(one.key.as_str(), "antenna_right" | "antenna_ahead");
    Some(if both_ways { signed(number, places) } else { decimals(number, places) })
}

/// The half-width of its interval; `None` where there is none.
pub fn half(one: &SettingV1) -> Option<String> {
    let rounded = round_pair(one.value?, one.expanded_uncertainty?);
    let places = usize::try_from(rounded.decimals.max(0)).unwrap_or(0);
    Some(format!("±\u{a0}{:.places$}", rounded.uncertainty))
}

/// What it is, and whether it is in force.
pub fn name(one: &SettingV1) -> (String, &'static str) {
    let force = match one.in_force {
        Some(true) => "in force",
        Some(false) => "not in force",
        None => "",
    };
    (sentence_case(&line(&one.what)), force)
}

/// Where it comes from, and the identity of the record that holds it.
pub fn origin(one: &SettingV1) -> (String, Option<String>) {
    let day = one.measured_on.as_deref().map(|day| format!(" {}", line(day))).unwrap_or_default();
    let how = match one.source {
        SourceV1::Measured => format!("measured{day}"),
        SourceV1::Taped => format!("taped{day}, not measured by driving"),
        SourceV1::Typed => "typed with the rig, not measured".to_owned(),
        SourceV1::Missing => "not known".to_owned(),
    };
    (how, one.record.as_deref().map(line))
}

/// Which speed the implement goes by.
pub fn in_force(sheet: &SettingsV1) -> String {
    match sheet.source.as_deref() {
        Some("satellite") => "satellite: no sensor is in force".to_owned(),
        Some(sensor) => format!("the {} sensor", line(sensor)),
        None => "not stated".to_owned(),
    }
}

/// The standing of the sheet in capitals where it may not be used as it is, and what that means.
pub fn standing(sheet: &SettingsV1) -> Option<(&'static str, &'static str)> {
    match sheet.state.as_str() {
        "current" => None,
        "incomplete" => Some(("INCOMPLETE", "the value that the implement goes by is not known")),
        // Then the numbers are right, and it is the terminal that has others.
        _ if sheet.out_of_date.iter().all(|remark| remark.code == "proof_failed") => {
            Some(("OUT OF DATE", "the last proof drive speaks against it, see below"))
        }
        _ => Some(("OUT OF DATE", "do not key it in as it stands")),
    }
}

/// A remark in one sentence or two.
pub fn sentence(remark: &RemarkV1) -> String {
    format!("{} {}", stop(&sentence_case(&remark.what)), line(&remark.next))
}

/// Name of the tyres with their size.
pub fn tyres(sheet: &SettingsV1) -> String {
    let size = sheet.tyre_size.as_deref().map(|size| format!(", {}", line(size)));
    format!("{}{}", named(sheet.tyres.as_deref()), size.unwrap_or_default())
}

/// A name, or a plain word for none.
pub fn named(name: Option<&str>) -> String {
    name.map_or_else(|| "not given".to_owned(), line)
}

/// How to see later whether the sheet still holds.
pub fn again(sheet: &SettingsV1) -> String {
    format!(
        "It holds until another record of this rig is signed off or its tyres are changed. To see \
         whether it still does: `trundle sheet RIG --printed {}`.",
        line(&sheet.id)
    )
}
