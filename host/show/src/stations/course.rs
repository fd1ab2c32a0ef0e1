//! A taped course and a plan, as the commands say them, in tables.

use super::Markup;
use crate::phrases::plain::line;
use crate::reading::{LengthUnit, Reading};
use crate::text::course as text;
use crate::words::stations_course as words;
use maud::html;
use trundle_core::course::typed::{CourseField, Kind, Value};
use trundle_core::figure::plan::Plan;
use trundle_core::result::course_v1::TapedCourse;
use trundle_core::units::{FOOT_M, decimals};

/// A value of a course file as it is typed.
#[must_use]
pub fn shown(field: &CourseField, value: &Value, reading: &Reading) -> String {
    let number = value.as_float().or_else(|| value.as_integer().map(|whole| whole as f64));
    match (field.kind, number) {
        (Kind::Measure(measure), Some(number)) => reading.measure(measure, number),
        (Kind::Height, Some(metres)) => length(metres, reading),
        (Kind::Small, Some(metres)) => small(metres, reading),
        (Kind::Plain(unit), Some(number)) => format!("{number} {unit}"),
        (Kind::Lengths, _) => {
            let all = value.as_array().into_iter().flatten();
            let metres = all.filter_map(|one| {
                one.as_float().or_else(|| one.as_integer().map(|whole| whole as f64))
            });
            metres.map(|metres| length(metres, reading)).collect::<Vec<_>>().join("; ")
        }
        // A word is in small letters on the form, however it was written in the file.
        (_, None) => value.as_str().map(str::to_lowercase).unwrap_or_else(|| value.to_string()),
        (Kind::Word(_), Some(number)) => number.to_string(),
    }
}

fn length(metres: f64, reading: &Reading) -> String {
    reading.measure(trundle_core::units::typed::Measure::Offset, metres)
}

/// Millimetres, or inches for who reads feet.
fn small(metres: f64, reading: &Reading) -> String {
    let (number, unit) = match reading.length {
        LengthUnit::Metres => (decimals(1000.0 * metres, 3), "mm"),
        LengthUnit::Feet => (decimals(metres / FOOT_M * 12.0, 4), "in"),
    };
    format!("{} {unit}", number.trim_end_matches('0').trim_end_matches('.'))
}

/// Where a script puts what the form comes to while it is being typed.
const HEAD: &str = "comes-to";
const REST: &str = "comes-of";

/// What a course comes to: the answer, to stand above the form, and how it comes about.
#[derive(Clone, Debug)]
pub struct Come {
    /// The answer.
    pub head: Markup,
    /// Tables and sentences.
    pub rest: Markup,
}

impl Come {
    /// The answer in its place, which a script fills anew while something is typed.
    #[must_use]
    pub fn above(&self) -> Markup {
        html! {
            section .comes aria-live="polite" aria-label=(words::COMES_TO) {
                div id=(HEAD) { (self.head) }
            }
        }
    }

    /// The rest in its place.
    #[must_use]
    pub fn below(&self) -> Markup {
        html! { div id=(REST) { (self.rest) } }
    }

    /// Both for the script, each with its place.
    #[must_use]
    pub fn part(&self) -> Markup {
        html! {
            div data-to=(HEAD) { (self.head) }
            div data-to=(REST) { (self.rest) }
        }
    }
}

/// The length, its corrections, its sources, and what was assumed.
#[must_use]
pub fn taped(course: &TapedCourse<'_>, reading: &Reading) -> Come {
    let bad = !course.unknown_keys.is_empty();
    let head = html! {
        div .come .bad[bad] {
            p .length-said { (text::headline(course)) }
            @if reading.length == LengthUnit::Feet {
                p { (reading.length(course.length.length.value(), 2)) }
            }
            @for detail in text::details(course) { p { (detail) } }
            @for warning in text::warnings(course) { p .why { (line(&warning)) } }
        }
    };
    let rest = html! {
        (corrections(course))
        (sources(course))
        (assumed(&course.length.assumptions))
    };
    Come { head, rest }
}

/// Why there is no length.
#[must_use]
pub fn refused(said: &[String]) -> Come {
    let head = html! { div .come .bad { @for words in said { p { (line(words)) } } } };
    Come { head, rest: html! {} }
}

/// Nothing is typed yet.
#[must_use]
pub fn nothing() -> Come {
    Come { head: html! { p { (words::NOTHING) } }, rest: html! {} }
}

fn assumed(sentences: &[String]) -> Markup {
    html! {
        @if !sentences.is_empty() {
            h3 { (words::ASSUMED) }
            ul { @for words in sentences { li { (line(words)) } } }
        }
    }
}

fn table(caption: &str, heads: &[&str], rows: &[Vec<String>]) -> Markup {
    html! {
        h3 { (caption) }
        div .wide-table tabindex="0" role="region" aria-label=(caption) {
            table .list {
                thead { tr { @for (n, head) in heads.iter().enumerate() {
                    th .figures[n > 0] scope="col" { (head) }
                } } }
                tbody { @for row in rows { tr { @for (n, cell) in row.iter().enumerate() {
                    @if n == 0 { th scope="row" { (line(cell)) } }
                    @else { td .figures { (line(cell)) } }
                } } } }
            }
        }
    }
}

fn corrections(course: &TapedCourse<'_>) -> Markup {
    let mm = |metres: f64, places| decimals(1000.0 * metres, places).replace('-', "\u{2212}");
    let mut rows = vec![vec![words::NOMINAL.to_owned(), mm(course.nominal_m, 1), String::new()]];
    rows.extend(
        course.length.corrections.iter().map(|one| {
            vec![one.name.clone(), mm(one.value_m, 2), mm(one.standard_uncertainty_m, 2)]
        }),
    );
    table(words::CORRECTIONS, &words::CORRECTION_HEADS, &rows)
}

fn sources(course: &TapedCourse<'_>) -> Markup {
    let length = &course.length.length;
    let variance = length.standard_uncertainty().powi(2);
    let row = |line: trundle_core::stats::budget::BudgetLine| {
        vec![
            line.source.clone(),
            format!("{:.2}", 1000.0 * line.contribution.abs()),
            format!("{:.1} %", 100.0 * line.contribution.powi(2) / variance),
            format!("{}, {}", line.kind.word(), line.distribution.word()),
        ]
    };
    let rows: Vec<_> = length.budget(course.sources).into_iter().map(row).collect();
    table(text::SOURCES, &words::SOURCE_HEADS, &rows)
}

/// A plan: the answer first, the tables below.
#[must_use]
pub fn plan(plan: &Plan, remarks: &[String]) -> Markup {
    html! {
        section {
            h2 { (words::PLAN_TITLE) }
            @for remark in remarks { p .why { (line(remark)) } }
            @for length in &plan.lengths {
                div .come .bad[length.needed.is_none()] {
                    p .answer { (text::answer(plan, length)) }
                    @for words in text::why(length) { p { (line(&words)) } }
                }
            }
            p { (text::TABLE) "." }
            @for length in &plan.lengths {
                @let rows: Vec<Vec<String>> = length.rows.iter().map(|row| {
                    let show = |share: Option<f64>| {
                        share.map_or_else(|| "\u{2013}".to_owned(), text::percent)
                    };
                    vec![
                        row.passes.to_string(),
                        text::percent(row.tape),
                        show(row.satellite),
                        show(row.combined),
                    ]
                }).collect();
                (table(&format!("{} m", length.length_m), &words::PLAN_HEADS, &rows))
            }
            (assumed(&plan.assumptions))
            p { (text::FEW) }
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use trundle_core::course::tape::{CourseSpec, course_length};
    use trundle_core::course::typed::COURSE_FIELDS;
    use trundle_core::stats::budget::Sources;

    #[test]
    fn what_is_shown_of_a_value_is_read_as_the_same_value() {
        let feet = Reading { length: LengthUnit::Feet, ..Reading::default() };
        for field in COURSE_FIELDS {
            let value = match field.kind {
                Kind::Measure(_) | Kind::Plain(_) => Value::Float(12.0),
                Kind::Height => Value::Float(-0.8),
                Kind::Small => Value::Float(0.0015),
                Kind::Lengths => Value::Array(vec![Value::Float(50.0), Value::Integer(49)]),
                Kind::Word(words) => Value::String(words[0].to_uppercase()),
            };
            for reading in [Reading::default(), feet] {
                let shown = shown(field, &value, &reading);
                let read = field.read(&shown).unwrap();
                let number = |value: &Value| {
                    let one = value.as_array().map_or(value, |all| all.last().unwrap());
                    one.as_float().or_else(|| one.as_integer().map(|whole| whole as f64))
                };
                match number(&value) {
                    Some(value) => {
                        assert!((number(&read).unwrap() - value).abs() < 1e-4, "{shown}")
                    }
                    None => {
                        assert_eq!(read.as_str().unwrap(), value.as_str().unwrap().to_lowercase())
                    }
                }
            }
        }
    }

    #[test]
    fn the_page_says_what_the_command_says() {
        let spec = CourseSpec::new(100.0);
        let mut sources = Sources::new();
        let length = course_length(&spec, &mut sources).unwrap();
        let unknown = ["[tape] clas<s".to_owned()];
        let course = TapedCourse {
            nominal_m: 100.0,
            length: &length,
            sources: &sources,
            unknown_keys: &unknown,
        };
        let page = taped(&course, &Reading::default()).part().into_string();
        let said = text::render_course(&course);
        assert!(page.contains(&text::headline(&course)), "{page}");
        assert!(said.starts_with(&text::headline(&course)), "{said}");
        assert!(page.contains("clas&lt;s is not known") && !page.contains(" ft"), "{page}");
        for words in &length.assumptions {
            assert!(page.contains(&words.replace('"', "&quot;")), "{words}");
        }
    }
}
