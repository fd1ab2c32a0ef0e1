//! The three speeds: do they agree, and how they went against time.

use super::{Came, Markup, none, verdict, words};
use crate::reading::SpeedUnit;
use crate::stations::parts::table;
use crate::text::speeds as text;
use maud::html;
use trundle_core::survey::speeds::over_time::Moment;
use trundle_core::survey::speeds::{Speeds, SpeedsRefusal};
use trundle_core::units::decimals;

/// Rows of the table beside the drawing.
const ROWS: usize = 12;

/// The comparison, or why there is none; the drawing stands at `/speeds/drawing`.
#[must_use]
pub fn speeds(
    compared: &Result<Speeds, SpeedsRefusal>,
    moments: &[Moment],
    unit: SpeedUnit,
) -> Markup {
    html! {
        @match compared {
            Ok(speeds) => (answer(speeds)),
            Err(why) => (none(&why.to_string(), why.means(), why.next())),
        }
        @if !moments.is_empty() {
            section .numbers {
                h2 { (words::OVER_TIME) }
                img .map src="/speeds/drawing" alt=(words::SPEEDS_DRAWN);
                p .hint { (words::over_time_scaled(unit.word())) }
                (numbers(moments, unit))
            }
        }
    }
}

fn answer(speeds: &Speeds) -> Markup {
    let warnings = text::warnings(speeds);
    let came = match (warnings.is_empty(), speeds.agree()) {
        (true, true) => Came::Good,
        (true, false) => Came::Open,
        (false, _) => Came::Bad,
    };
    let headline = text::headline(speeds);
    let mut said = vec![headline.trim_start_matches("SPEEDS: ").to_owned()];
    said.extend(warnings.iter().map(ToString::to_string));
    let alone = [(0, "wheel"), (1, "radar")];
    said.extend(alone.map(|(n, name)| words::sentence(&text::least(speeds, n, name))));
    said.push(words::sentence(&text::standing(speeds)));
    said.extend(speeds.hint.as_ref().map(text::hint_words));
    verdict(came, &said)
}

/// The drawing in numbers, thinned.
fn numbers(moments: &[Moment], unit: SpeedUnit) -> Markup {
    let step = moments.len().div_ceil(ROWS).max(1);
    let read = |speed: Option<f64>| {
        speed.map_or_else(|| "-".to_owned(), |km_h| decimals(unit.of_km_h(km_h), 1))
    };
    let row = |moment: &Moment| {
        let [wheel, radar] = moment.sensors_km_h.map(read);
        let cells =
            vec![format!("{:.0}", moment.at_s), read(Some(moment.satellite_km_h)), wheel, radar];
        (None, cells)
    };
    let rows: Vec<_> = moments.iter().step_by(step).map(row).collect();
    table(&words::OVER_TIME_HEADS, &rows)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_is_in_the_unit_that_its_reader_chose() {
        // 16.09344 km/h are 10 mph, by the definition of the mile.
        let moment =
            Moment { at_s: 0.0, satellite_km_h: 16.093_44, sensors_km_h: [None, Some(8.046_72)] };
        let read = |unit| numbers(&[moment], unit).into_string();
        let (metric, miles) = (read(SpeedUnit::KmH), read(SpeedUnit::Mph));
        assert!(metric.contains(">16.1<") && metric.contains(">8.0<"), "{metric}");
        assert!(miles.contains(">10.0<") && miles.contains(">5.0<"), "{miles}");
    }
}
