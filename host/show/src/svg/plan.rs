//! The tractor from above: where each length of a sheet of settings is measured, and its sign.
//!
//! Not to scale, but for the side on which the antenna stands. Letters name the lengths; what is
//! not known is drawn broken. Nothing here has a colour of its own.

use super::Caption;
use maud::{Markup, html};

/// Width and height of the drawing, in its own units.
const SIZE: (f64, f64) = (420.0, 330.0);
/// The middle of the tractor, and its rear axle.
const MIDDLE_X: f64 = 190.0;
const AXLE_Y: f64 = 205.0;
/// The coupling point.
const HITCH_Y: f64 = 285.0;
/// Antenna from the middle, and from the axle ahead or behind.
const ASIDE: f64 = 34.0;
const AHEAD: f64 = 82.0;
const BEHIND: f64 = 38.0;
/// Where the lengths along the tractor are drawn, that of the coupling point nearer: an antenna
/// behind the axle would lie on it.
const SIDE_X: f64 = 330.0;
const HITCH_SIDE_X: f64 = 312.0;
/// Where the length across is drawn.
const TOP_Y: f64 = 34.0;
/// Where the letter of the height stands.
const HEIGHT_Y: f64 = 140.0;
/// Half the stroke at the end of a length.
const STOP: f64 = 5.0;

/// One length of the drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct Measure {
    /// The letter beside it.
    pub letter: char,
    /// The number and its unit beside the letter; `None` where it is not known.
    pub shown: Option<String>,
    /// It is negative: to the left, or behind.
    pub negative: bool,
}

/// The lengths of the drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct Measures {
    /// Antenna right of the middle.
    pub right: Measure,
    /// Antenna ahead of the rear axle.
    pub ahead: Measure,
    /// Antenna above ground.
    pub height: Measure,
    /// Rear axle to coupling point.
    pub hitch: Measure,
}

/// Draw it.
pub fn plan(said: Caption<'_>, of: &Measures) -> Markup {
    let (title, desc) = (format!("{}-title", said.id), format!("{}-desc", said.id));
    let x = MIDDLE_X + if of.right.negative { -ASIDE } else { ASIDE };
    let y = AXLE_Y + if of.ahead.negative { BEHIND } else { -AHEAD };
    html! {
        svg class="plan" role="img" viewBox=(format!("0 0 {} {}", SIZE.0, SIZE.1))
            aria-labelledby=(title) aria-describedby=(desc) {
            title id=(title) { (said.title) }
            desc id=(desc) { (said.description) }
            (tractor())
            (across(&of.right, (x, y)))
            (along(&of.ahead, (x, y), SIDE_X, f64::midpoint(y, AXLE_Y)))
            (along(&of.hitch, (MIDDLE_X, HITCH_Y), HITCH_SIDE_X, HITCH_Y - 8.0))
            (antenna(&of.height, (x, y)))
            (signs())
        }
    }
}

/// Wheels, bonnet, cab, drawbar, and the two lines that all is measured from.
fn tractor() -> Markup {
    let wheel = |x: f64, y: f64, wide: f64, long: f64| {
        html! {
            rect class="part" x=(MIDDLE_X + x - wide / 2.0) y=(y - long / 2.0) width=(wide)
                height=(long) rx="7" {}
        }
    };
    html! {
        rect class="part" x=(MIDDLE_X - 88.0) y=(AXLE_Y - 6.0) width="176" height="12" {}
        rect class="part" x=(MIDDLE_X - 66.0) y="86" width="132" height="8" {}
        (wheel(-90.0, AXLE_Y, 34.0, 104.0))
        (wheel(90.0, AXLE_Y, 34.0, 104.0))
        (wheel(-68.0, 90.0, 22.0, 58.0))
        (wheel(68.0, 90.0, 22.0, 58.0))
        rect class="part" x=(MIDDLE_X - 24.0) y="52" width="48" height="102" rx="9" {}
        rect class="part" x=(MIDDLE_X - 48.0) y="134" width="96" height="96" rx="12" {}
        line class="bar" x1=(MIDDLE_X) y1="230" x2=(MIDDLE_X) y2=(HITCH_Y) {}
        line class="base" x1=(MIDDLE_X) y1="16" x2=(MIDDLE_X) y2="314" {}
        line class="base" x1="62" y1=(AXLE_Y) x2=(SIDE_X + 12.0) y2=(AXLE_Y) {}
        circle class="point" cx=(MIDDLE_X) cy=(HITCH_Y) r="7" {}
        circle class="dot" cx=(MIDDLE_X) cy=(HITCH_Y) r="2.5" {}
        text x=(MIDDLE_X - 14.0) y=(HITCH_Y + 5.0) text-anchor="end" { "coupling point" }
        text x="58" y=(AXLE_Y - 6.0) text-anchor="end" { "rear" }
        text x="58" y=(AXLE_Y + 9.0) text-anchor="end" { "axle" }
        text x=(MIDDLE_X - 6.0) y="26" text-anchor="end" { "middle" }
    }
}

/// Whole where it is known, broken where not.
const fn line_class(of: &Measure) -> &'static str {
    if of.shown.is_some() { "length" } else { "length unknown" }
}

fn label(of: &Measure, x: f64, y: f64) -> Markup {
    html! {
        text x=(x) y=(y) {
            tspan class="letter" { (of.letter) }
            " "
            @if let Some(shown) = &of.shown { (shown) } @else { "?" }
        }
    }
}

/// The length across, above the bonnet.
fn across(of: &Measure, (x, y): (f64, f64)) -> Markup {
    html! {
        line class="guide" x1=(x) y1=(TOP_Y - 8.0) x2=(x) y2=(y) {}
        line class=(line_class(of)) x1=(MIDDLE_X) y1=(TOP_Y) x2=(x) y2=(TOP_Y) {}
        line class="stop" x1=(MIDDLE_X) y1=(TOP_Y - STOP) x2=(MIDDLE_X) y2=(TOP_Y + STOP) {}
        line class="stop" x1=(x) y1=(TOP_Y - STOP) x2=(x) y2=(TOP_Y + STOP) {}
        (label(of, MIDDLE_X.max(x) + 10.0, TOP_Y + 5.0))
    }
}

/// A length from the rear axle along the tractor to where something stands, drawn at its side.
fn along(of: &Measure, (x, y): (f64, f64), side_x: f64, label_y: f64) -> Markup {
    html! {
        line class="guide" x1=(x) y1=(y) x2=(side_x + 8.0) y2=(y) {}
        line class=(line_class(of)) x1=(side_x) y1=(AXLE_Y) x2=(side_x) y2=(y) {}
        @for stop in [AXLE_Y, y] {
            line class="stop" x1=(side_x - STOP) y1=(stop) x2=(side_x + STOP) y2=(stop) {}
        }
        (label(of, SIDE_X + 10.0, label_y + 5.0))
    }
}

/// The antenna: a ring with a point, as an arrow is drawn that comes towards the eye. Its height
/// cannot be seen from above, so that its letter stands at the side.
fn antenna(of: &Measure, (x, y): (f64, f64)) -> Markup {
    html! {
        line class="guide" x1="70" y1=(HEIGHT_Y - 5.0) x2=(x - 9.0) y2=(y) {}
        circle class="antenna" cx=(x) cy=(y) r="9" {}
        circle class="dot" cx=(x) cy=(y) r="2.5" {}
        (label(of, 2.0, HEIGHT_Y))
        text x="2" y=(HEIGHT_Y + 15.0) { "+ up" }
    }
}

/// The signs, as two crossed arrows.
fn signs() -> Markup {
    let (x, y, long) = (52.0, 62.0, 26.0);
    html! {
        line class="sign" x1=(x - long) y1=(y) x2=(x + long) y2=(y) {}
        line class="sign" x1=(x) y1=(y - long) x2=(x) y2=(y + long) {}
        path class="dot" d=(format!("M{} {y}l-8-4v8z", x + long + 4.0)) {}
        path class="dot" d=(format!("M{x} {}l-4 8h8z", y - long - 4.0)) {}
        text x=(x) y=(y - long - 9.0) text-anchor="middle" { "+ ahead" }
        text x=(x) y=(y + long + 15.0) text-anchor="middle" { "\u{2212} behind" }
        text x=(x + 5.0) y=(y - 6.0) { "+ right" }
        text x=(x - 4.0) y=(y + 15.0) text-anchor="end" { "\u{2212} left" }
    }
}
