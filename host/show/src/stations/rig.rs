//! Rigs and what they are made of: what is known of each, and the antenna from above.

use super::Markup;
use crate::phrases::plain::line;
use crate::reading::Reading;
use crate::svg::Caption;
use crate::svg::plan::{Measure, Measures, plan};
use crate::words::stations_rig as words;
use maud::html;
use trundle_core::rig::{Entry, Field, FieldKind, Thing};

/// The value of a field as it is read and typed; empty where it is not known.
#[must_use]
pub fn shown(field: &Field, entry: &Entry, reading: &Reading) -> String {
    match (field.kind, entry.values.get(field.key), entry.number(field.key)) {
        (FieldKind::Measure(measure), _, Some(number)) => reading.measure(measure, number),
        (_, Some(value), _) => field.show(value),
        (_, None, _) => String::new(),
    }
}

/// Fields that tell one from the other in a list.
#[must_use]
pub const fn telling(thing: Thing) -> &'static [&'static str] {
    match thing {
        Thing::Tractor => &["make", "model", "serial"],
        Thing::Tyres => &["size", "inflation", "wear"],
        Thing::Rig => &["tractor", "tyres", "source"],
        Thing::Tape => &["length", "material", "class", "certificate"],
        Thing::Person => &["company", "contact"],
    }
}

/// All of a kind: names lead to `path`, and the rig in use is marked.
#[must_use]
pub fn list(
    thing: Thing,
    entries: &[(String, Entry)],
    active: Option<&str>,
    reading: &Reading,
) -> Markup {
    let fields: Vec<&Field> = telling(thing).iter().filter_map(|key| thing.field(key)).collect();
    let mut heads = vec![crate::words::stations::NAME];
    heads.extend(fields.iter().map(|field| field.label));
    if thing == Thing::Rig {
        heads.push(words::IN_USE);
    }
    let row = |(path, entry): &(String, Entry)| {
        let mut cells = vec![entry.name.clone()];
        cells.extend(fields.iter().map(|field| shown(field, entry, reading)));
        if thing == Thing::Rig {
            let mark = if active == Some(entry.name.as_str()) { words::YES } else { "" };
            cells.push(mark.to_owned());
        }
        (Some(path.clone()), cells)
    };
    let rows: Vec<_> = entries.iter().map(row).collect();
    super::parts::table(&heads, &rows)
}

/// All that is known of one, for a rig with the drawing of its antenna.
#[must_use]
pub fn facts(thing: Thing, entry: &Entry, reading: &Reading) -> Markup {
    let known = thing.fields().iter().filter(|field| entry.values.contains_key(field.key));
    html! {
        dl .known {
            @for field in known {
                div {
                    dt { (field.label) }
                    dd { bdi { (line(&shown(field, entry, reading))) } }
                }
            }
        }
        @if thing == Thing::Rig { (antenna(entry, reading)) }
    }
}

/// The tractor from above with the lengths of a rig, and what each letter means.
#[must_use]
pub fn antenna(entry: &Entry, reading: &Reading) -> Markup {
    let measure = |(key, letter, _): (&str, char, &str)| {
        let number = entry.number(key);
        Measure {
            letter,
            shown: number.map(|metres| signed(key, metres, reading)),
            negative: number.is_some_and(|number| number < 0.0),
        }
    };
    let [right, ahead, height, hitch] = words::LETTERS.map(measure);
    let said = Caption { id: "plan", title: words::PLAN, description: words::PLAN_SAYS };
    html! {
        figure .drawn {
            (plan(said, &Measures { right, ahead, height, hitch }))
            figcaption {
                dl .letters {
                    @for (key, letter, sign) in words::LETTERS {
                        div {
                            dt { (letter) }
                            dd {
                                @if let Some(field) = Thing::Rig.field(key) { (field.label) ", " }
                                (sign) ": "
                                @match entry.number(key) {
                                    Some(metres) => b { (signed(key, metres, reading)) },
                                    None => (words::NOT_KNOWN),
                                }
                                "."
                            }
                        }
                    }
                }
                p .hint { (words::BROKEN) }
            }
        }
    }
}

/// A length as it stands in the drawing, with a true minus; what has two sides says which.
fn signed(key: &str, metres: f64, reading: &Reading) -> String {
    let text = reading.length(metres, 2);
    let both = matches!(key, "antenna_right" | "antenna_ahead");
    match text.strip_prefix('-') {
        Some(rest) => format!("\u{2212}{rest}"),
        None if both && metres > 0.0 => format!("+{text}"),
        None => text,
    }
}

/// What is saved now beside what was typed: only where they differ.
#[must_use]
pub fn compared(rows: &[[String; 3]]) -> Markup {
    html! {
        section {
            h2 { (words::COMPARE) }
            div .wide-table tabindex="0" role="region" aria-label=(words::COMPARE) {
                table .list {
                    thead { tr { @for head in words::COMPARE_HEADS { th scope="col" { (head) } } } }
                    tbody {
                        @for [what, saved, typed] in rows {
                            tr {
                                th scope="row" { (line(what)) }
                                @for text in [saved, typed] {
                                    td { @if text.is_empty() { "\u{2013}" } @else {
                                        bdi { (line(text)) }
                                    } }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::LengthUnit;
    use trundle_core::rig::Value;

    fn rig() -> Entry {
        let mut rig = Entry { name: "Big one".to_owned(), ..Entry::default() };
        for (key, metres) in [("antenna_right", -0.35), ("antenna_ahead", 1.2)] {
            rig.values.insert(key.to_owned(), Value::Number(metres));
        }
        rig.values.insert("note".to_owned(), Value::Text("<b>\u{202e}".to_owned()));
        rig
    }

    #[test]
    fn the_drawing_says_each_length_with_its_sign_as_text_too() {
        let page = antenna(&rig(), &Reading::default()).into_string();
        // Once in the drawing, once in the words below it.
        for (text, times) in [("\u{2212}0.35 m", 2), ("+1.20 m", 2), ("not known", 3)] {
            assert_eq!(page.matches(text).count(), times, "{text}: {page}");
        }
        let feet = Reading { length: LengthUnit::Feet, ..Reading::default() };
        let page = antenna(&rig(), &feet).into_string();
        assert!(page.contains("\u{2212}1.15 ft") && !page.contains(" m<"), "{page}");
    }

    #[test]
    fn what_people_typed_stays_text() {
        let page = facts(Thing::Rig, &rig(), &Reading::default()).into_string();
        assert!(page.contains("&lt;b&gt;[U+202E]") && !page.contains("<b>\u{202e}"), "{page}");
    }
}
