//! Where every number on the paper comes from.

use super::{Printed, printed, seen};
use trundle_core::result::work_v1::ChannelV1;
use trundle_core::rig::{FieldKind, Value};

/// Numbers of the JSON, and what may be worked from them by arithmetic that is repeated here.
fn allowed(one: &Printed) -> Vec<f64> {
    let json: serde_json::Value = serde_json::from_str(&one.sample.record.to_json()).unwrap();
    let mut out = Vec::new();
    numbers(&json, &mut out);
    // Of parts: impulses per metre as per 100 m, metres a second as km/h.
    let mut of_parts = Vec::new();
    numbers(&json["parts"], &mut of_parts);
    out.extend(of_parts.iter().flat_map(|number| [100.0 * number, 3.6 * number]));
    for channel in one.work().channels.values() {
        derived(channel, &mut out);
    }
    let m = |x: Option<f64>| x.unwrap_or(0.0);
    out.extend(one.work().course.map(|c| 1000.0 * c.standard_uncertainty_m));
    out.extend(one.work().clock.as_ref().map(|c| 1000.0 * c.receiver_lag_s));
    out.extend(one.work().clock.as_ref().map(|c| 1000.0 * c.receiver_lag_standard_uncertainty_s));
    let wheel = &one.work().channels["wheel"];
    let used = wheel.passes.iter().filter(|p| p.state != "refused" && p.impulses.is_some());
    let used = used.count() as f64;
    out.extend([used, wheel.passes.len() as f64, wheel.passes.len() as f64 - used]);
    out.extend(wheel.passes.iter().map(|p| 2.0 * m(p.satellite_standard_uncertainty_m)));
    out
}

fn numbers(value: &serde_json::Value, out: &mut Vec<f64>) {
    match value {
        serde_json::Value::Number(number) => out.extend(number.as_f64()),
        serde_json::Value::Array(items) => items.iter().for_each(|item| numbers(item, out)),
        serde_json::Value::Object(fields) => fields.values().for_each(|item| numbers(item, out)),
        _ => {}
    }
}

fn derived(channel: &ChannelV1, out: &mut Vec<f64>) {
    for side in channel.sides().into_iter().filter_map(|(_, side)| side) {
        out.push(100.0 * side.expanded_uncertainty / side.impulses_per_100m);
        out.push(100.0 * side.coverage_probability);
        let total = side.standard_uncertainty.powi(2);
        for line in &side.budget {
            out.push(line.contribution.abs());
            out.push(100.0 * line.contribution.powi(2) / total);
        }
    }
    if let (Some(agreement), Some(satellite)) = (channel.agreement, &channel.satellite) {
        let sizes = [agreement.difference, agreement.expanded_uncertainty];
        out.extend(sizes.map(|size| 100.0 * size / satellite.impulses_per_100m));
    }
    for pass in &channel.passes {
        let Some(impulses) = pass.impulses else { continue };
        out.extend(
            [pass.tape_m, pass.satellite_m].into_iter().flatten().map(|m| impulses / m * 1e2),
        );
        let length = pass.satellite_m.zip(pass.satellite_standard_uncertainty_m);
        out.extend(length.map(|(m, u)| 2.0 * impulses / m * 1e2 * u / m));
    }
}

/// Digits of the paper's own sentences: 95 % and the like are numbers of the JSON, these are not.
const FIXED: [&str; 8] = [
    "JCGM 100:2008",
    "JCGM 101:2008",
    "equation 13",
    "G.2b",
    "ISO 13528",
    "SHA-256",
    "up to 1 is",
    "100 m",
];

/// Words of the paper with the digits in them, less all that stands as text in the record.
fn loose_numbers(one: &Printed, text: &str) -> Vec<String> {
    let record = &one.sample.record;
    let mut text = one_line(text);
    let json: serde_json::Value = serde_json::from_str(&record.to_json()).unwrap();
    let mut strings: Vec<String> = FIXED.map(str::to_owned).to_vec();
    texts(&json, &mut strings);
    for (_, thing, entry) in record.rig.parts() {
        for field in entry.map_or(&[][..], |_| thing.fields()) {
            let value = entry.and_then(|entry| entry.values.get(field.key));
            let measured = matches!(field.kind, FieldKind::Measure(_));
            strings.extend(value.filter(|_| measured).map(|value: &Value| field.show(value)));
        }
    }
    strings.extend(one.sample.facts.superseded_by.clone());
    // Instants are shown to the second, days and times alone as well.
    let cut = |text: &String| {
        let instant: String = text.replace('T', " ").chars().take(19).collect();
        let (day, time) = instant.split_once(' ').unwrap_or((&instant, ""));
        [instant.clone(), day.to_owned(), time.to_owned()]
    };
    let dated = |text: &&String| text.starts_with("20") && text.ends_with('Z');
    let instants: Vec<String> = strings.iter().filter(dated).flat_map(cut).collect();
    strings.extend(instants);
    strings.sort_by_key(|text| std::cmp::Reverse(text.len()));
    for known in strings.iter().filter(|text| text.contains(|c: char| c.is_ascii_digit())) {
        text = text.replace(&one_line(known), " ");
    }
    let words = text.split(|c: char| !(c.is_ascii_digit() || c == '.'));
    words.map(|word| word.trim_matches('.').to_owned()).filter(|word| !word.is_empty()).collect()
}

/// Every run of space as one space: a terminal's lines break where they must.
fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn texts(value: &serde_json::Value, out: &mut Vec<String>) {
    match value {
        serde_json::Value::String(text) => {
            out.extend(text.lines().map(str::to_owned));
        }
        serde_json::Value::Array(items) => items.iter().for_each(|item| texts(item, out)),
        serde_json::Value::Object(fields) => fields.values().for_each(|item| texts(item, out)),
        _ => {}
    }
}

/// Every number on the paper is one of the JSON or follows from it, to the digits shown. A number
/// is right within one unit of its last digit, because an uncertainty may be rounded up.
#[test]
fn every_number_shown_is_in_the_record() {
    let mut judged = 0;
    for name in ["plain", "refused-pass", "contradicting", "tape-alone", "satellite-alone", "visit"]
    {
        let one = printed(name);
        let allowed = allowed(one);
        for form in [spaced(&one.long), spaced(&one.short), one.text.clone()] {
            for word in loose_numbers(one, &form) {
                let places = word.split_once('.').map_or(0, |(_, after)| after.len());
                let unit = 10f64.powi(-i32::try_from(places).unwrap());
                let value: f64 = word.parse().unwrap();
                let near = |known: &&f64| (known.abs() - value).abs() < 0.999 * unit;
                assert!(allowed.iter().any(|known| near(&known)), "{name}: {word} from nowhere");
                judged += 1;
            }
        }
    }
    assert!(judged > 500, "only {judged} numbers were judged");
}

/// The text of a page with a space between elements, without drawings, whose scales have round
/// numbers of their own, and without the number that is set large in groups.
fn spaced(page: &str) -> String {
    let mut rest = page;
    let mut out = String::new();
    while let Some((before, after)) = rest.split_once("<svg class=\"chart\"") {
        out.push_str(before);
        rest = end_of_drawing(after);
    }
    out.push_str(rest);
    let (before, after) = out.split_once("<p class=\"number\">").unwrap();
    let after = after.split_once("</p>").unwrap().1;
    seen(&format!("{before}{after}").replace("</", " </"))
}

/// What follows the drawing whose start tag has begun; drawings stand within drawings.
fn end_of_drawing(mut rest: &str) -> &str {
    let mut depth = 1;
    while depth > 0 {
        let close = rest.find("</svg>").unwrap();
        depth += rest[..close].matches("<svg ").count();
        depth -= 1;
        rest = &rest[close + "</svg>".len()..];
    }
    rest
}
