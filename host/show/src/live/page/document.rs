//! The page itself: a heading and empty places, which the script fills as data come.

use super::filled::{self, labelled};
use super::{Onward, Shown, Value};
use crate::html::head::head;
use crate::words as texts;
use crate::words::book;
use crate::words::page as words;
use maud::{DOCTYPE, Markup, html};
use serde::Serialize;
use trundle_core::rig::conditions::CONDITIONS;

/// What a page is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Form {
    /// This device may mark.
    pub marks: bool,
    /// What the job shows.
    pub kind: PageKind,
    /// What can be typed.
    pub lines: &'static [PageLine],
    /// Where the page goes when the job is over.
    pub after: &'static str,
}

/// What a live job shows beside what all of them do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum PageKind {
    /// Passes that are marked.
    Passes,
    /// Slip, and where it was.
    Slip,
    /// What is looked at, each with how it stands.
    Listed,
    /// The same below a drawing.
    Drawn,
    /// What was said, line by line.
    Said,
}

/// A line that can be typed in a live job, as a button or a field of its page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PageLine {
    /// What the button says.
    pub button: &'static str,
    /// What is typed in the terminal for it, before what the field holds.
    pub typed: &'static str,
    /// The field, where one is needed.
    pub field: Option<PageField>,
}

/// A field of a [`PageLine`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PageField {
    /// What is to be typed, with its unit.
    pub label: &'static str,
    /// It is a number: a phone shows the keys for it.
    pub number: bool,
}

impl PageKind {
    /// As it stands in the data.
    const fn word(self) -> &'static str {
        match self {
            Self::Passes => "passes",
            Self::Slip => "slip",
            Self::Listed => "listed",
            Self::Drawn => "drawn",
            Self::Said => "said",
        }
    }
}

impl Form {
    /// It has a list of what is looked at.
    const fn lists(self) -> bool {
        matches!(self.kind, PageKind::Listed | PageKind::Drawn)
    }

    const fn passes(self) -> bool {
        matches!(self.kind, PageKind::Passes)
    }
}

/// The page, ending with a line end.
#[must_use]
pub fn document(title: &str, shown: Option<&Shown>, form: Form) -> String {
    let practice = shown.is_some_and(|shown| shown.practice);
    let whole = html! {
        (DOCTYPE)
        html lang="en" {
            (head(title, Some("/page.js")))
            body data-say=(words::script()) data-after=(form.after)
                data-kind=(form.kind.word()) {
                header {
                    h1 { (title) }
                    p #at .clock { (shown.map_or("", |shown| shown.at.as_str())) }
                    p #practice .practice hidden[!practice] { (words::PRACTICE) }
                }
                p #quiet .banner hidden {
                    strong { (words::QUIET) } " " span #quiet-since {}
                }
                noscript {
                    p .banner { (words::NO_SCRIPT) }
                    a .wide href="" { (words::NO_SCRIPT_AGAIN) }
                }
                p #over .banner role="status" hidden {}
                main { (job(shown, form)) (more(shown, form)) }
                footer {
                    p {
                        a .wide href=(book::PATH) target="_blank" rel="noopener" {
                            (book::HANDBOOK)
                        }
                    }
                    p #awake { (words::STAY_ON) }
                    p { (words::PLAIN) }
                }
                p #calm .unseen role="status" aria-live="polite" {}
            }
        }
    };
    let mut out = whole.into_string();
    out.push('\n');
    out
}

/// What is needed under way, in one screen. What changes its height stands beside or below the
/// marks, so that they stay where they are.
fn job(shown: Option<&Shown>, form: Form) -> Markup {
    let next = shown.map_or("", |shown| shown.next.as_str());
    html! {
        div .drive {
            div {
                section .next aria-labelledby="next-name" {
                    h2 #next-name { (words::NEXT) }
                    p #next .next-words { (next) }
                }
                @let troubles = list(shown, |shown| &shown.troubles);
                ul #troubles .troubles aria-label=(words::TROUBLE) hidden[troubles.is_empty()] {
                    (filled::troubles(troubles))
                }
                section .value aria-labelledby="main-label" {
                    h2 #main-label { (shown.map_or("", |shown| shown.main.label.as_str())) }
                    (main_value(shown.map(|shown| &shown.main)))
                    @if form.passes() { (strip()) }
                }
            }
            @if form.kind == PageKind::Slip {
                (map())
            } @else if form.lists() {
                div {
                    @if form.kind == PageKind::Drawn { (filled::picture(shown)) }
                    (filled::checks(list(shown, |shown| &shown.checks)))
                }
            } @else if form.kind == PageKind::Said {
                (lines_said(shown))
            } @else if form.marks {
                (buttons())
            } @else {
                p .plate { (words::VIEW_ONLY) }
            }
        }
    }
}

/// A list of what is shown; empty where nothing is yet.
fn list<T>(shown: Option<&Shown>, part: impl Fn(&Shown) -> &Vec<T>) -> &[T] {
    shown.map_or(&[], |shown| part(shown))
}

fn onward(line: &Onward) -> (&str, &str, bool) {
    (&line.label, &line.words, false)
}

fn main_value(value: Option<&Value>) -> Markup {
    html! {
        p .big {
            span #main .number { (value.map_or("-", |value| value.value.as_str())) }
            " "
            span #main-unit .unit { (value.map_or("", |value| value.unit)) }
        }
        p #main-since .since {}
    }
}

/// Where the slip was, as a drawing that is asked for anew when there is a newer one.
fn map() -> Markup {
    html! {
        section aria-labelledby="map-name" {
            h2 #map-name { (words::WHERE) }
            img #map .map alt="" hidden;
            p #map-words .strip-words { (words::NO_MAP) }
        }
    }
}

/// What was said, line by line, as a terminal would show it.
fn lines_said(shown: Option<&Shown>) -> Markup {
    html! {
        section aria-labelledby="lines-name" {
            h2 #lines-name { (words::SAID_SO_FAR) }
            ul #lines .said .lines-said { (filled::rows(list(shown, |shown| &shown.lines))) }
        }
    }
}

/// Where between the pegs: 0 at the start peg, 1000 at the far one.
fn strip() -> Markup {
    html! {
        svg #strip .strip viewBox="-120 0 1240 150" role="img" aria-labelledby="strip-words" {
            line x1="0" y1="75" x2="1000" y2="75" .way {}
            line #strip-done x1="0" y1="75" x2="0" y2="75" .done {}
            path d="M-24 30h48v90h-48z" .peg {}
            path d="M976 30h48v90h-48z" .peg {}
            path #strip-at d="M-48 0l96 0l-48 66z" .here visibility="hidden" {}
        }
        p .pegs aria-hidden="true" { span { (words::START_PEG) } span { (words::FAR_PEG) } }
        p #strip-words .strip-words {}
    }
}

/// Start and finish, each always in its own place.
fn buttons() -> Markup {
    html! {
        section .presses aria-labelledby="press-name" {
            h2 #press-name .unseen { (words::MARK) }
            div .bar {
                div .pair {
                    button #start .mark type="button" aria-disabled="true" { (words::START) }
                    button #finish .mark type="button" aria-disabled="true" { (words::FINISH) }
                }
                p #confirm .confirm {}
            }
            button #undo .wide type="button" aria-disabled="true" { (words::NO_UNDO) }
        }
    }
}

/// What is looked at while standing.
fn more(shown: Option<&Shown>, form: Form) -> Markup {
    let passes = list(shown, |shown| &shown.passes);
    html! {
        @if form.marks { (typing(form.lines)) }
        @if form.passes() && !form.lines.is_empty() {
            (filled::checks(list(shown, |shown| &shown.checks)))
        }
        section aria-labelledby="speed-name" {
            h2 #speed-name { (texts::LABEL_SPEED) }
            (filled::values("speeds", list(shown, |shown| &shown.speeds)))
            (filled::values("bus", list(shown, |shown| &shown.bus)))
            (filled::lines("links", list(shown, |shown| &shown.links).iter().map(labelled)))
        }
        section aria-labelledby="figure-name" {
            @if form.kind == PageKind::Passes {
                h2 #figure-name { (texts::LABEL_FIGURE) }
                (filled::lines("figures", list(shown, |shown| &shown.figures).iter().map(labelled)))
                (filled::lines("onward", list(shown, |shown| &shown.onward).iter().map(onward)))
            } @else if form.lists() {
                h2 #figure-name { (words::RESULT_SO_FAR) }
                (filled::lines("figures", list(shown, |shown| &shown.figures).iter().map(labelled)))
            } @else if form.kind == PageKind::Said {
                h2 #figure-name { (words::RESULT) }
            } @else {
                h2 #figure-name { (words::SLIP) }
                dl #totals .lines {}
                ul #sections .said aria-label=(words::NEWEST) {}
            }
            @if form.marks {
                button #work .wide type="button" { (words::CALCULATE) }
            }
            a .wide href="/result" { (words::LAST_RESULT) }
        }
        @if form.passes() {
            section aria-labelledby="pass-name" {
                h2 #pass-name { (words::PASSES) }
                p #no-pass hidden[!passes.is_empty()] { (words::NO_PASSES) }
                ol #passes .passes reversed hidden[passes.is_empty()] { (filled::passes(passes)) }
            }
            section aria-labelledby="course-name" { (filled::course(shown)) }
        }
        @if form.marks {
            @if form.passes() || form.kind == PageKind::Slip { (writing(form)) }
            (finishing(form))
        }
        section aria-labelledby="said-name" {
            h2 #said-name { (words::MESSAGES) }
            @if form.passes() { p #last-mark {} }
            ul #said .said { (filled::rows(list(shown, |shown| &shown.said))) }
            @if form.lists() || form.passes() && !form.lines.is_empty() {
                ul #lines .said .lines-said { (filled::rows(list(shown, |shown| &shown.lines))) }
            }
        }
        (look())
    }
}

/// Finishing takes two presses in two places, and the second is offered for some seconds only, so
/// that no stray touch ends a job.
fn finishing(form: Form) -> Markup {
    html! {
        section .screen aria-labelledby="end-name" {
            h2 #end-name { (words::WHEN_DONE) }
            @if !form.passes() { p #confirm .confirm {} }
            button #end .wide type="button" aria-expanded="false" aria-controls="ending" {
                (words::END)
            }
            div #ending .ending hidden {
                p #ending-words {}
                button #end-not .wide type="button" { (words::END_NOT) }
                button #end-now .wide type="button" { (words::END_NOW) }
            }
        }
    }
}

/// Readings and what else is typed; each with the words that a person would look for.
fn typing(lines: &[PageLine]) -> Markup {
    html! {
        @if !lines.is_empty() {
            section .screen aria-labelledby="type-name" {
                h2 #type-name { (words::READINGS) }
                @for (n, line) in lines.iter().enumerate() {
                    form .line data-typed=(line.typed) {
                        @if let Some(field) = line.field {
                            label for={ "line-" (n) } { (field.label) }
                            input id={ "line-" (n) } maxlength="200" autocomplete="off"
                                inputmode=[field.number.then_some("decimal")];
                        }
                        button .wide type="submit" { (line.button) }
                    }
                }
                p #line-confirm .confirm {}
            }
        }
    }
}

fn writing(form: Form) -> Markup {
    html! {
        section .screen aria-labelledby="write-name" {
            h2 #write-name { (words::NOTES) }
            form #note-form {
                label for="about" { (words::ABOUT) }
                select #about name="about" autocomplete="off" {
                    option value="" { (words::NOTE) }
                    @for field in CONDITIONS {
                        option value={ (field.label) ": " } { (field.label) }
                    }
                }
                label for="note" { (words::TEXT) }
                input #note name="note" maxlength="500" autocomplete="off";
                button .wide type="submit" { (words::SAVE) }
            }
            @if form.passes() {
                form #reject-form {
                    label for="reason" { (words::REASON) }
                    input #reason name="reason" maxlength="500" autocomplete="off";
                    button #reject .wide type="submit" aria-disabled="true" {
                        (words::NONE_TO_REJECT)
                    }
                }
            }
        }
    }
}

fn look() -> Markup {
    html! {
        section .screen aria-labelledby="look-name" {
            h2 #look-name { (words::DISPLAY) }
            div .looks role="group" aria-labelledby="look-name" {
                @for (look, name) in words::LOOKS {
                    button type="button" data-look=(look) aria-pressed="false" { (name) }
                }
            }
        }
    }
}
