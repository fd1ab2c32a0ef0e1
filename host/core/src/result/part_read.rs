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
