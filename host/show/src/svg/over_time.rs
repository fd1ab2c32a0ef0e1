//! The three speeds against time: one line each, told apart by how it is drawn and by its mark.
//!
//! A file with its own style.

use super::axis::{Scale, ticks};
use crate::reading::SpeedUnit;
use maud::{Markup, PreEscaped, html};
use trundle_core::survey::speeds::over_time::Moment;

/// Width and height of the drawing, in its own units.
const SIZE: (f64, f64) = (720.0, 430.0);
/// The plot: left, right, top, bottom.
const PLOT: [f64; 4] = [70.0, 700.0, 78.0, 370.0];
/// Most numbers along an axis.
const TICKS_MOST: usize = 6;
/// Marks along a line.
const MARKS: usize = 9;
/// The drawing shows at least this speed, km/h: noise of a standing tractor is no drive.
const LEAST_KM_H: f64 = 2.0;

/// Colours of ground and writing, light and dark; those of the page that shows it.
const OWN: &str = ":root{--ground:#fffefb;--text:#10140f;--line:#626a60}\n\
    @media (prefers-color-scheme: dark){:root{--ground:#0f1311;--text:#f4f3ec;--line:#8e9a91}}\n\
    @media (forced-colors: active){:root{--ground:Canvas;--text:CanvasText;--line:CanvasText}}\n";

/// Style of the drawing.
const STYLE: &str = "\
.over-time{display:block;width:100%;max-width:48rem}\
.over-time .paper{fill:var(--ground)}\
.over-time text{fill:var(--text);font:600 20px system-ui,sans-serif}\
.over-time .grid{stroke:var(--line);stroke-width:1}\
.over-time .line{fill:none;stroke:var(--text);stroke-width:2.5}\
.over-time .wheel{stroke-dasharray:12 6}\
.over-time .radar{stroke-dasharray:2 6}\
.over-time .sign{fill:var(--ground);stroke:var(--text);stroke-width:2;stroke-dasharray:none}\
.over-time .full{fill:var(--text)}\n";

/// The lines: name, class, outline of the mark about the origin.
const LINES: [(&str, &str, &str); 3] = [
    ("satellite", "satellite", ""),
    ("wheel", "wheel", "M-6-6H6V6H-6Z"),
    ("radar", "radar", "M-6 0A6 6 0 1 1 6 0A6 6 0 1 1-6 0Z"),
];

/// The drawing as a whole SVG file; `None` where there is nothing to draw.
#[must_use]
pub fn alone(moments: &[Moment], unit: SpeedUnit) -> Option<String> {
    let read: Vec<Moment> = moments.iter().map(|moment| in_unit(moment, unit)).collect();
    let body = body(&read, unit)?;
    let drawing = html! {
        svg xmlns="http://www.w3.org/2000/svg" class="over-time"
            viewBox=(format!("0 0 {} {}", SIZE.0, SIZE.1)) {
            style { (PreEscaped(OWN)) (PreEscaped(STYLE)) }
            (body)
        }
    };
    Some(drawing.into_string())
}

/// The same moment with its speeds in the reader's unit.
fn in_unit(moment: &Moment, unit: SpeedUnit) -> Moment {
    let read = |speed_km_h: f64| unit.of_km_h(speed_km_h);
    Moment {
        satellite_km_h: read(moment.satellite_km_h),
        sensors_km_h: moment.sensors_km_h.map(|speed| speed.map(read)),
        ..*moment
    }
}

fn body(moments: &[Moment], unit: SpeedUnit) -> Option<Markup> {
    let [left, right, top, bottom] = PLOT;
    let last_s = moments.last()?.at_s;
    let speeds = moments.iter().flat_map(values).flatten().filter(|speed| speed.is_finite());
    let fastest = speeds.fold(unit.of_km_h(LEAST_KM_H), f64::max);
    let across = Scale { low: 0.0, high: last_s.max(1.0), left, right };
    let up = Scale { low: 0.0, high: 1.05 * fastest, left: bottom, right: top };
    let (times, numbers) = (ticks(&across, TICKS_MOST), ticks(&up, TICKS_MOST));
    Some(html! {
        rect class="paper" width=(SIZE.0) height=(SIZE.1) {}
        (legend())
        @for value in &numbers.values {
            @let y = f1(up.at(*value));
            line class="grid" x1=(left) x2=(right) y1=(y) y2=(y) {}
            text x=(left - 10.0) y=(f1(up.at(*value) + 7.0)) text-anchor="end" {
                (format!("{value:.0$}", numbers.decimals))
            }
        }
        text x=(left) y=(top - 14.0) { (unit.word()) }
        @for value in &times.values {
            text x=(f1(across.at(*value))) y=(bottom + 26.0) text-anchor="middle" {
                (format!("{value:.0$}", times.decimals))
            }
        }
        text x=(right) y=(bottom + 52.0) text-anchor="end" { "seconds" }
        @for (n, (_, class, outline)) in LINES.iter().enumerate() {
            path class={ "line " (class) } d=(path(moments, n, &across, &up)) {}
            @for (x, y) in marks(moments, n, &across, &up) {
                @if !outline.is_empty() {
                    path class={ "sign " (filled(class)) } d=(outline)
                        transform={ "translate(" (f1(x)) " " (f1(y)) ")" } {}
                }
            }
        }
    })
}

/// Satellite, wheel, radar.
const fn values(moment: &Moment) -> [Option<f64>; 3] {
    [Some(moment.satellite_km_h), moment.sensors_km_h[0], moment.sensors_km_h[1]]
}

/// A square is filled, so that it is seen on a broken line.
fn filled(class: &str) -> &'static str {
    if class == "wheel" { "full" } else { "" }
}

fn legend() -> Markup {
    let step = (SIZE.0 - 40.0) / LINES.len() as f64;
    html! {
        @for (n, (name, class, outline)) in LINES.iter().enumerate() {
            @let x = 20.0 + step * n as f64;
            line class={ "line " (class) } x1=(f1(x)) x2=(f1(x + 70.0)) y1="26" y2="26" {}
            @if !outline.is_empty() {
                path class={ "sign " (filled(class)) } d=(outline)
                    transform={ "translate(" (f1(x + 35.0)) " 26)" } {}
            }
            text x=(f1(x + 82.0)) y="33" { (name) }
        }
    }
}

/// The line of one speed; broken where it is not known.
fn path(moments: &[Moment], n: usize, across: &Scale, up: &Scale) -> String {
    let mut out = String::new();
    let mut open = false;
    for moment in moments {
        match values(moment)[n] {
            Some(speed) => {
                let verb = if open { 'L' } else { 'M' };
                out += &format!("{verb}{} {}", f1(across.at(moment.at_s)), f1(up.at(speed)));
                open = true;
            }
            None => open = false,
        }
    }
    out
}

/// A few places along a line, so that it is known without its dashes; those of the sensors lie
/// apart from each other.
fn marks(moments: &[Moment], n: usize, across: &Scale, up: &Scale) -> Vec<(f64, f64)> {
    let step = (moments.len() / MARKS).max(1);
    let place = |moment: &Moment| Some((across.at(moment.at_s), up.at(values(moment)[n]?)));
    moments.iter().skip(step * n / 3).step_by(step).filter_map(place).collect()
}

fn f1(units: f64) -> String {
    format!("{units:.1}")
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn the_lines_differ_without_colour_and_a_gap_stays_a_gap() {
        let moment = |n: usize| Moment {
            at_s: n as f64,
            satellite_km_h: 8.0,
            sensors_km_h: [(n != 5).then_some(8.1), Some(7.9)],
        };
        let moments: Vec<Moment> = (0..20).map(moment).collect();
        let file = alone(&moments, SpeedUnit::KmH).unwrap();
        assert!(alone(&moments, SpeedUnit::Mph).unwrap().contains(">mph<"));
        for class in ["line satellite", "line wheel", "line radar", "sign full"] {
            assert!(file.contains(class), "{class}: {file}");
        }
        let scale = Scale { low: 0.0, high: 20.0, left: 0.0, right: 1.0 };
        assert_eq!(path(&moments, 1, &scale, &scale).matches('M').count(), 2);
        assert!(!file.contains("NaN") && !file.contains("inf"), "{file}");
        assert_eq!(alone(&[], SpeedUnit::KmH), None);
    }
}
