//! The lists of the page as they stood when it was asked for, in the places that the script fills
//! anew: without a script they are all there is.

use super::listed::CheckRow;
use super::{LabelledLine, PassLine, Shown, Value};
use crate::model::Finding;
use crate::phrases::plain::line;
use crate::words::book;
use crate::words::page as page_words;
use crate::words::under_way as words;
use maud::{Markup, html};

/// Lines with their names.
pub fn lines<'a>(id: &str, lines: impl Iterator<Item = (&'a str, &'a str, bool)>) -> Markup {
    let lines: Vec<_> = lines.collect();
    html! {
        dl id=(id) .lines hidden[lines.is_empty()] {
            @for (label, words, beware) in lines {
                div .beware[beware] { dt { (line(label)) } dd { (line(words)) } }
            }
        }
    }
}

/// The parts of a [`LabelledLine`].
pub fn labelled(line: &LabelledLine) -> (&str, &str, bool) {
    (&line.label, &line.words, line.beware)
}

/// Values with their units.
pub fn values(id: &str, values: &[Value]) -> Markup {
    html! {
        dl id=(id) .values hidden[values.is_empty()] {
            @for value in values {
                div .stale[value.stale.is_some()] {
                    dt { (line(&value.label)) }
                    dd {
                        span .value-number { (line(&value.value)) } " " (value.unit)
                        @if let Some(since) = &value.stale {
                            span .value-since { (crate::words::page::since(since)) }
                        }
                    }
                }
            }
        }
    }
}

/// Sentences, one a row.
pub fn rows(said: &[String]) -> Markup {
    html! { @for words in said { li { (line(words)) } } }
}

/// What is wrong, each with its entry in the handbook.
pub fn troubles(troubles: &[Finding]) -> Markup {
    html! { @for trouble in troubles { li { (found(trouble)) } } }
}

/// What was found, as a way to its entry in the handbook: beside the job, which goes on.
fn found(found: &Finding) -> Markup {
    html! {
        @if found.entry.is_empty() { (line(&found.words)) } @else {
            a .entry href=(book::at(&found.entry)) target="_blank" rel="noopener" {
                (line(&found.words))
            }
        }
    }
}

/// The passes, the newest first.
pub fn passes(passes: &[PassLine]) -> Markup {
    html! {
        @for pass in passes {
            li .flagged[pass.sign == "!"] .refused[pass.sign == "\u{2715}"] {
                span .sign aria-hidden="true" { (pass.sign) }
                p .pass-head { (crate::words::page::pass_head(pass.number, pass.way, pass.state)) }
                @if !pass.values.is_empty() { p { (line(&pass.values)) } }
                @for why in &pass.why { p { (found(why)) } }
            }
        }
    }
}

/// The map of course and passes, its words and its numbers.
pub fn course(shown: Option<&Shown>) -> Markup {
    let course = shown.and_then(|shown| shown.course.as_ref());
    let said = course.map_or(words::NO_COURSE_MAP, |course| &course.map_words);
    html! {
        h2 #course-name { (words::COURSE_MAP) }
        @match course {
            Some(course) => {
                img #course-map .map src={ "/map.svg?" (course.map) } alt=(line(&course.map_words));
            }
            None => img #course-map .map alt="" hidden;,
        }
        p #course-words .strip-words { (line(said)) }
        div #course-table .wide-table hidden[course.is_none()] {
            table .list {
                thead { tr { @for head in words::MAP_HEADS { th scope="col" { (head) } } } }
                tbody #course-rows {
                    @for row in course.iter().flat_map(|course| &course.rows) {
                        tr { @for cell in row { td { (line(cell)) } } }
                    }
                }
            }
        }
    }
}

/// What is looked at, each with how it stands.
pub fn checks(checks: &[CheckRow]) -> Markup {
    html! {
        section aria-labelledby="checks-name" {
            h2 #checks-name { (page_words::STANDING) }
            p #no-check hidden[!checks.is_empty()] { (page_words::NO_CHECK) }
            ul #checks .passes .checks hidden[checks.is_empty()] { (check_rows(checks)) }
        }
    }
}

/// Each thing that was looked at, with how it stands.
pub fn check_rows(rows: &[CheckRow]) -> Markup {
    html! {
        @for row in rows {
            li .refused[row.beware] .open[!row.done && !row.beware] {
                span .sign aria-hidden="true" { (row.sign) }
                p .pass-head { (line(&row.label)) ": " (row.state) }
                @if !row.words.is_empty() { p { (line(&row.words)) } }
                @if !row.next.is_empty() { p .check-next { (line(&row.next)) } }
            }
        }
    }
}

/// The newest drawing of the job, and its words.
pub fn picture(shown: Option<&Shown>) -> Markup {
    let picture = shown.and_then(|shown| shown.picture.as_ref());
    html! {
        section aria-labelledby="map-name" {
            h2 #map-name { (page_words::DRAWN) }
            @match picture {
                Some(picture) => {
                    img #map .map src={ "/map.svg?" (picture.number) } alt=(picture.words);
                }
                None => img #map .map alt="" hidden;,
            }
            p #map-words .strip-words {
                (picture.map_or(page_words::NO_PICTURE, |picture| &picture.words))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::live::page::before;
    use crate::live::page::course::CoursePart;
    use crate::live::page::document::{Form, PageKind, document};

    /// The program's words reach a reader without a script, and no text of a device acts.
    #[test]
    fn a_page_says_how_things_stand_without_its_script() {
        let hostile = "<script>x</script>\u{202e}";
        let said = |words: &str| LabelledLine {
            label: hostile.to_owned(),
            words: words.to_owned(),
            beware: true,
        };
        let finding = Finding { words: hostile.to_owned(), entry: "flag-outlier".to_owned() };
        let pass = PassLine {
            number: 3,
            way: "back",
            sign: "!",
            state: "flagged",
            values: "wheel 12680.0 impulses".to_owned(),
            why: vec![finding.clone()],
        };
        let row = ["3", "back", "100.01 m", hostile].map(str::to_owned);
        let course = CoursePart { map: 7, map_words: hostile.to_owned(), rows: vec![row] };
        let speed = Value {
            label: hostile.to_owned(),
            value: "7.9".to_owned(),
            unit: "km/h",
            stale: Some("14:03:27".to_owned()),
        };
        let shown = Shown {
            next: "Stand still: 7 s more.".to_owned(),
            figures: vec![said("12679 impulses per 100 m")],
            links: vec![said("live: counts received")],
            passes: vec![pass],
            speeds: vec![speed],
            troubles: vec![finding],
            course: Some(course),
            ..before(vec![hostile.to_owned()], true)
        };
        let form = Form { marks: true, kind: PageKind::Passes, lines: &[], after: "/" };
        let page = document("Job", Some(&shown), form);
        for words in [
            "Stand still: 7 s more.",
            "12679 impulses per 100 m",
            "live: counts received",
            "Pass 3, back: flagged",
            "7.9</span> km/h",
            "no data since 14:03:27",
            "src=\"/map.svg?7\"",
            "100.01 m",
            "href=\"/handbook#flag-outlier\"",
        ] {
            assert!(page.contains(words), "{words} is missing");
        }
        assert!(!page.contains("<script>x") && !page.contains('\u{202e}'), "{page}");
        // Before anything is known the same places are there, empty.
        let empty = document("Job", None, form);
        for place in ["speeds", "bus", "links", "figures", "onward", "passes", "troubles"] {
            assert!(empty.contains(&format!("id=\"{place}\"")), "{place}");
        }
    }
}
