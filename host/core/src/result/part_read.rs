//! What the result of a part says, in few lines: for papers, lists, comparisons and verification.
//!
//! Only stored bytes are read, so that it can be said again in ten years without the capture.

use super::part_v1::PartMethodV1;
use super::record_v1::RecordFault;
use crate::stats::budget::rounding::round_pair;
use crate::units::{KM_H_PER_M_S, decimals};
use serde_json::Value;
use std::fmt::{self, Display, Formatter};

/// Values that differ by less than this share of their uncertainty are the same: no digit that is
/// shown would tell.
const SAME_SHARE: f64 = 0.05;
/// The same for a value without an uncertainty, as a share of itself.
const SAME_EXACT: f64 = 1e-9;

/// What a proof drive says of the value left in the terminal, by name.
pub const AS_LEFT_MEASURED: &str = "as left, measured";

/// What a part's result says.
#[derive(Clone, Debug, PartialEq)]
pub struct PartRead {
    /// State of the result, in the word of its document.
    pub state: String,
    /// One line for each value.
    pub lines: Vec<PartLine>,
}

/// One value of a part.
#[derive(Clone, Debug, PartialEq)]
pub struct PartLine {
    /// Stable word, unique within the part.
    pub key: &'static str,
    /// What it is, in words.
    pub what: &'static str,
    /// The value and the half-width of its interval (95 %), where there is one.
    pub value: Option<(f64, f64)>,
    /// Unit of both.
    pub unit: &'static str,
    /// What else belongs to it, in words; may be empty.
    pub also: Vec<String>,
}

/// The value with its uncertainty, its unit and what else belongs to it.
impl Display for PartLine {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        let unit = if self.unit.is_empty() { String::new() } else { format!(" {}", self.unit) };
        let value = self.value.map(|(value, half)| format!("{}{unit}", round_pair(value, half)));
        let all: Vec<String> = value.into_iter().chain(self.also.iter().cloned()).collect();
        f.write_str(&all.join("; "))
    }
}

impl PartRead {
    /// The line with this key.
    #[must_use]
    pub fn line(&self, key: &str) -> Option<&PartLine> {
        self.lines.iter().find(|line| line.key == key)
    }

    /// Would the same be shown?
    #[must_use]
    pub fn is_like(&self, other: &Self) -> bool {
        let like = |(a, b): (&PartLine, &PartLine)| {
            let close = match (a.value, b.value) {
                (Some((a, u)), Some((b, v))) => {
                    let least = SAME_EXACT * a.abs();
                    let within = |a: f64, b: f64| (a - b).abs() <= (SAME_SHARE * u).max(least);
                    within(a, b) && within(u, v)
                }
                (None, None) => true,
                _ => false,
            };
            close && a.key == b.key && a.also == b.also
        };
        self.state == other.state
            && self.lines.len() == other.lines.len()
            && self.lines.iter().zip(&other.lines).all(like)
    }
}

/// Read the document of a part.
///
/// # Errors
/// [`RecordFault::Unreadable`] when it is not of this part.
pub(super) fn read(method: &PartMethodV1, document: &str) -> Result<PartRead, RecordFault> {
    let word = method.word();
    let unreadable = |why: &str| RecordFault::Unreadable(format!("its part {word}: {why}"));
    let document: Value = serde_json::from_str(document).map_err(|e| unreadable(&e.to_string()))?;
    if document["format"] != format!("trundle-{word}") || document["version"] != 1 {
        return Err(unreadable("its result is of another format"));
    }
    let state = document["state"].as_str().ok_or_else(|| unreadable("it has no state"))?.to_owned();
    let lines = match method {
        PartMethodV1::Pto(_) => pto(&document),
        PartMethodV1::Mount(_) => mount(&document),
        PartMethodV1::Speeds(_) => speeds(&document),
        PartMethodV1::Proof(_) => proof(&document),
    };
    Ok(PartRead { state, lines: lines.ok_or_else(|| unreadable("a value is missing"))? })
}

fn pto(document: &Value) -> Option<Vec<PartLine>> {
    let value = pair(&document["per_revolution"], "value", "expanded_uncertainty")?;
    let mut also = match document["to_enter"].as_u64() {
        Some(number) => vec![format!("to enter: {number}")],
        None => vec!["which whole number to enter is not clear".to_owned()],
    };
    let set = &document["set_now"];
    if let (Some(number), Some(verdict)) = (set["value"].as_f64(), set["verdict"].as_str()) {
        let verdict = match verdict {
            "equal" => "right",
            "twice_too_high" => "a factor of two too high",
            "half_too_low" => "a factor of two too low",
            _ => "wrong",
        };
        also.push(format!("set in the terminal before: {number}, {verdict}"));
    }
    let (what, unit) = ("PTO, impulses per revolution", "");
    Some(vec![PartLine { key: "per_revolution", what, value: Some(value), unit, also }])
}

fn mount(document: &Value) -> Option<Vec<PartLine>> {
    let line = |key, what| {
        let found = &document[key];
        let value = match found {
            Value::Null => None,
            found => Some(pair(found, "value_m", "expanded_uncertainty_m")?),
        };
        let also = if value.is_none() { vec!["not found".to_owned()] } else { Vec::new() };
        Some(PartLine { key, what, value, unit: "m", also })
    };
    let right = line("right", "antenna right of the tractor's middle")?;
    let ahead = line("ahead", "antenna ahead of the rear axle")?;
    Some(vec![right, ahead])
}

fn speeds(document: &Value) -> Option<Vec<PartLine>> {
    let pairs = document["pairs"].as_array()?;
    let sensors = document["sensors"].as_array()?;
    let line = |key: &'static str, what| {
        let mine = |pair: &&Value| pair["of"] == key && pair["against"] == "satellite";
        let pair_of = pairs.iter().find(mine)?;
        let sensor = sensors.iter().find(|sensor| sensor["name"] == key)?;
        // Over a line that misses zero, the mean ratio says nothing.
        let fit = match pair_of["line"]["offset_differs"].as_bool() {
            Some(true) => &pair_of["line"]["gain"],
            _ => &pair_of["ratio"],
        };
        let value = match fit {
            Value::Null => None,
            fit => {
                let (value, half) = pair(fit, "value", "expanded_uncertainty")?;
                Some((100.0 * value, 100.0 * half))
            }
        };
        let mut also = if value.is_none() { vec!["not compared".to_owned()] } else { Vec::new() };
        also.extend(least(sensor));
        Some(PartLine { key, what, value, unit: "impulses per 100 m", also })
    };
    let wheel = line("wheel", "wheel against satellite, over all speeds")?;
    let radar = line("radar", "radar against satellite, over all speeds")?;
    Some(vec![wheel, radar])
}

fn proof(document: &Value) -> Option<Vec<PartLine>> {
    let line = |key, what, value, unit, also| PartLine { key, what, value, unit, also };
    // Of a capture that gives no result any more, this is all that there is to compare.
    let verdict = document["verdict"].as_str().or(document["refusal"]["what"].as_str())?.to_owned();
    let mut lines = vec![line("as_left", AS_LEFT_MEASURED, None, "", vec![verdict])];
    let what = match document["by"].as_str() {
        Some("speed") => "speed shown over true",
        Some(_) => "distance shown over true",
        None => return Some(lines),
    };
    let (value, also) = match &document["shown_over_true"] {
        Value::Null => {
            (None, vec!["not measured: there is no true one by tape or satellite".to_owned()])
        }
        ratio => (Some(pair(ratio, "value", "expanded_uncertainty")?), cost(&document["cost"])),
    };
    lines.push(line("shown_over_true", what, value, "", also));
    if let force @ Value::Object(_) = &document["in_force"] {
        let value = pair(force, "impulses_per_100m", "expanded_uncertainty")?;
        let what = "value in force, by the impulses";
        lines.push(line("in_force", what, Some(value), "impulses per 100 m", Vec::new()));
    }
    Some(lines)
}

/// What a wrong display does to area and rate, where it was calculated.
fn cost(cost: &Value) -> Vec<String> {
    let side = |value: f64| if value > 0.0 { "more" } else { "less" };
    let area = cost["area_m2_per_ha"].as_f64();
    let area = area.map(|m2| format!("{:.0} m² {} counted for each hectare", m2.abs(), side(m2)));
    let rate = cost["difference_l_per_ha"].as_f64();
    let rate = rate.map(|l| format!("{:.1} l/ha {} applied than set", l.abs(), side(l)));
    area.into_iter().chain(rate).collect()
}

/// From which speed on a sensor can be used, where that is known.
fn least(sensor: &Value) -> Option<String> {
    let km_h = |key: &str| Some(decimals(KM_H_PER_M_S * sensor[key].as_f64()?, 1));
    match sensor["least_state"].as_str()? {
        "never" => Some("usable at no speed".to_owned()),
        "from" => Some(format!("usable from {} km/h on", km_h("least_usable_m_s")?)),
        "below_slowest" => {
            Some(format!("usable down to the slowest speed, {} km/h", km_h("least_usable_m_s")?))
        }
        _ => None,
    }
}

fn pair(object: &Value, value: &str, half: &str) -> Option<(f64, f64)> {
    Some((object[value].as_f64()?, object[half].as_f64()?))
}
