//! The comparison of speeds as a page of its own.

use super::table::{numbers, table as draw_table, words};
use super::{Facts, section};
use crate::html::page::{Page, again, capture_facts, cautions, document, drawn, header, refused};
use crate::phrases::plain::sentence_case;
use crate::svg::speeds::{SpeedSeries, draw};
use crate::svg::{Caption, legend_shape};
use crate::text::speeds as text;
use crate::text::speeds::KM_H;
use maud::{Markup, html};
use trundle_core::survey::speeds::{Bin, PAIRS, PairFit, Speeds, SpeedsRefusal};

const TITLE: &str = "Wheel, radar and satellite speed";

/// The whole page, ending with a line end.
#[must_use]
pub fn page(speeds: &Result<Speeds, SpeedsRefusal>, facts: &Facts) -> String {
    let header = header(TITLE, &capture_facts(&facts.started_utc, &facts.capture_name));
    let main = html! {
        @match speeds {
            Ok(speeds) => (given(speeds)),
            Err(why) => (refused("Do they agree?", why, why.means(), why.next())),
        }
        (cautions())
        (method())
        (again("course", &facts.capture_name, &facts.capture_digest, &facts.software))
    };
    document(&Page {
        title: TITLE,
        digest: &facts.capture_digest,
        style: "",
        practice: facts.practice.then_some("do not enter the values"),
        header,
        main,
    })
}

fn given(speeds: &Speeds) -> Markup {
    let (headline, warnings) = (text::headline(speeds), text::warnings(speeds));
    let answer = html! {
        p { strong { (headline.trim_start_matches("SPEEDS: ")) } }
        @if !warnings.is_empty() {
            ul class="warnings" {
                @for warning in &warnings {
                    li class="warning rank-0" {
                        p class="what" { (warning.what) }
                        p { (warning.means) " Next: " (warning.next) }
                        p class="code" { (warning.code) }
                    }
                }
            }
        }
    };
    let alone = html! {
        ul {
            @for (channel, name) in [(0, "wheel"), (1, "radar")] {
                li { (sentence_case(&text::least(speeds, channel, name))) "." }
            }
            li { (sentence_case(&text::standing(speeds))) "." }
        }
        @if let Some(hint) = &speeds.hint { p { (text::hint_words(hint)) } }
    };
    html! {
        (section("answer", "Do they agree?", &answer))
        (section("chart", "The speeds, drawn", &chart(speeds)))
        (section("pairs", "Gain and offset", &pairs(speeds)))
        (section("alone", "Low speed and standstill", &alone))
    }
}

fn chart(speeds: &Speeds) -> Markup {
    let series: Vec<SpeedSeries> = [0, 1].into_iter().filter_map(|n| series(speeds, n)).collect();
    let said = Caption {
        id: "chart-speeds",
        title: "Impulses per second against satellite speed",
        description: "Above: one mark for each steady run, and the line through them. Below: the \
                      mean deviation from the line at each speed, with twice its standard \
                      uncertainty.",
    };
    let below = html! {
        ul class="legend" {
            @for radar in series.iter().map(|series| series.radar) {
                li {
                    (legend_shape(radar))
                    @if radar { "radar, broken line" } @else { "wheel, full line" }
                }
            }
        }
    };
    drawn(draw(said, &series), &below, "There is nothing to draw.")
}

fn series(speeds: &Speeds, channel: usize) -> Option<SpeedSeries> {
    let fit = speeds.pairs[channel].as_ref().ok()?;
    let single = speeds.singles[channel].as_ref()?;
    let at_zero = fit.at(0.0);
    let shown = single.bins.iter().filter(|bin| bin.judged());
    let off = |bin: &Bin| (KM_H * bin.speed_m_s, 100.0 * bin.residual, 100.0 * bin.uncertainty);
    let point = |run: &trundle_core::survey::speeds::SteadyRun| {
        Some((KM_H * run.speed_m_s.value, run.rates_hz[channel]?.value))
    };
    Some(SpeedSeries {
        radar: channel == 1,
        points: speeds.steady_runs.iter().filter_map(point).collect(),
        line: (at_zero, (fit.at(1.0) - at_zero) / KM_H),
        deviations: shown.map(off).collect(),
    })
}

fn pairs(speeds: &Speeds) -> Markup {
    let columns = [
        words(["Pair"]),
        numbers([
            "Gain to use",
            "Gain of the line",
            "Offset, impulses/s",
            "Reduced chi-squared",
            "Steady runs",
        ]),
    ]
    .concat();
    let rows: Vec<Vec<Markup>> = PAIRS
        .into_iter()
        .zip(&speeds.pairs)
        .map(|((second, first), fit)| {
            let name = format!("{} against {}", second.word(), first.word());
            let cells = fit.as_ref().map_or_else(|_| none(), cells);
            std::iter::once(name).chain(cells).map(|cell| html! { (cell) }).collect()
        })
        .collect();
    let caption = html! {
        "Gains against the satellite are impulses per metre; every ± is a 95 % interval."
    };
    draw_table("stack", &caption, &columns, &rows)
}

/// The section on the method.
fn method() -> Markup {
    let body = html! {
        p {
            strong { "Steady runs: " }
            "two seconds of steady speed each, straight ahead. Each has the mean rate of wheel \
             and "
            "radar between edges, and the mean satellite speed at the same time, the receiver's "
            "delay taken off."
        }
        p {
            strong { "Lines: " }
            "errors in both variables (York et al. 2004). Where the points scatter more than "
            "their uncertainties, a share of the rate is added as the sensor's own scatter until "
            "chi-squared is what it should be. The intervals cover 95 %."
        }
        p {
            strong { "Offset: " }
            "significant when one in a thousand sound sensors would show it by chance. "
            "Only then the gain of the line holds, else the mean ratio."
        }
    };
    section("method", "How it was calculated", &body)
}

fn none() -> Vec<String> {
    vec!["–".to_owned(); 5]
}

fn cells(fit: &PairFit) -> Vec<String> {
    let line = fit.line.as_ref().ok();
    let dash = || "–".to_owned();
    vec![
        text::shown(fit.gain()),
        line.map_or_else(dash, |line| text::shown(line.gain)),
        line.map_or_else(dash, |line| text::shown(line.offset)),
        line.map_or_else(dash, |line| format!("{:.2}", line.reduced_chi_squared)),
        fit.steady_runs.to_string(),
    ]
}
