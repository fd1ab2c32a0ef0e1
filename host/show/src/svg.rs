//! Drawings of the report: few kinds, ours, as plain SVG inside the page.
//!
//! Lengths along the page are given in per cent and everything else in CSS pixels, so that a
//! drawing grows with the page while its letters keep their size: it can be read on a phone and
//! on paper without a second version. Colours come from the page's style sheet and never carry
//! a meaning alone: tape, satellite and combined differ by shape. Nothing here knows about
//! captures or files.

mod axis;
pub mod course_map;
pub(crate) mod history;
pub mod over_time;
mod passes;
pub(crate) mod plan;
mod residuals;
pub(crate) mod slip_charts;
pub mod slip_classes;
pub mod slip_map;
pub(crate) mod speeds;

pub(crate) use passes::{Interval, PassChart, PassRow, Summary};
pub(crate) use residuals::{Residual, residual_chart};

use maud::{Markup, html};

/// What a mark stands for; each has a shape of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Series {
    /// Against the taped length: a filled square.
    Tape,
    /// Against the satellite length: an open circle.
    Satellite,
    /// Both combined: a filled diamond.
    Combined,
}

impl Series {
    /// The word in labels and legend; also its class in the style sheet.
    pub const fn word(self) -> &'static str {
        match self {
            Series::Tape => "tape",
            Series::Satellite => "satellite",
            Series::Combined => "combined",
        }
    }

    /// The outline of its mark about the origin, pixels.
    const fn outline(self) -> &'static str {
        match self {
            Series::Tape => "M-4.5-4.5H4.5V4.5H-4.5Z",
            Series::Satellite => "M-5 0A5 5 0 1 1 5 0A5 5 0 1 1-5 0Z",
            Series::Combined => "M0-7L7 0L0 7L-7 0Z",
        }
    }
}

/// Name and description of a drawing, for those who cannot see it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Caption<'a> {
    /// Prefix of its ids, unique on the page.
    pub id: &'a str,
    /// Name of the drawing, short.
    pub title: &'a str,
    /// What is to be seen.
    pub description: &'a str,
}

/// A chart of this height; `body` is what is drawn.
fn chart(said: Caption<'_>, height_px: f64, body: &Markup) -> Markup {
    let (title, desc) = (format!("{}-title", said.id), format!("{}-desc", said.id));
    html! {
        svg class="chart" role="img" width="100%" height=(height_px) aria-labelledby=(title)
            aria-describedby=(desc) {
            title id=(title) { (said.title) }
            desc id=(desc) { (said.description) }
            (body)
        }
    }
}

/// A share of the width, 0 to 1, as SVG wants it.
fn percent(share: f64) -> String {
    format!("{:.2}%", 100.0 * share)
}

/// The mark of a series at a share of the width and a height in pixels.
fn mark(series: Series, share: f64, y_px: f64) -> Markup {
    // A nested drawing is the one way to place a shape of fixed size at a per cent.
    html! {
        svg x=(percent(share)) y=(y_px) overflow="visible" {
            path class=(format!("mark {}", series.word())) d=(series.outline()) {}
        }
    }
}

/// The mark of a series alone, for a legend.
pub(crate) fn legend_mark(series: Series) -> Markup {
    key(&format!("mark {}", series.word()), series.outline())
}

/// A mark for a legend; hidden from screen readers, which read the word beside it.
fn key(class: &str, outline: &str) -> Markup {
    html! {
        svg class="key" width="18" height="18" aria-hidden="true" focusable="false" {
            svg x="9" y="9" overflow="visible" { path class=(class) d=(outline) {} }
        }
    }
}

/// Class and outline of an open circle, or of a filled square.
const fn shape(open: bool) -> (&'static str, &'static str) {
    if open {
        ("mark radar", "M-4.5 0A4.5 4.5 0 1 1 4.5 0A4.5 4.5 0 1 1-4.5 0Z")
    } else {
        ("mark", "M-4-4H4V4H-4Z")
    }
}

/// The mark alone of an open circle or a filled square, for a legend.
pub(crate) fn legend_shape(open: bool) -> Markup {
    let (class, outline) = shape(open);
    key(class, outline)
}

/// A bar of `share` (0 to 1) of the width. It repeats a number that stands beside it, so it is
/// hidden from screen readers.
pub(crate) fn bar(share: f64) -> Markup {
    let share = if share.is_finite() { share.clamp(0.0, 1.0) } else { 0.0 };
    html! {
        svg class="bar" width="100%" height="12" aria-hidden="true" focusable="false" {
            rect class="bar-track" x="0" y="5.5" width="100%" height="1" {}
            rect class="bar-fill" x="0" y="0" width=(percent(share)) height="12" {}
        }
    }
}

/// The course as a line between two pegs with nine marks between them: the page's only ornament.
pub(crate) fn course_line() -> Markup {
    html! {
        svg class="course-line" width="100%" height="22" aria-hidden="true" focusable="false" {
            line class="rule" x1="0" y1="17" x2="100%" y2="17" {}
            @for tenth in 1..10 {
                @let x = percent(f64::from(tenth) / 10.0);
                @let top = if tenth == 5 { 9 } else { 12 };
                line class="rule" x1=(x) y1=(top) x2=(x) y2="17" {}
            }
            rect class="peg" x="0" y="1" width="5" height="21" {}
            svg x="100%" y="0" overflow="visible" {
                rect class="peg" x="-5" y="1" width="5" height="21" {}
            }
        }
    }
}
