//! The antenna position: the numbers, and where they are on the tractor.

use super::{Came, Markup, none, rows, verdict, words};
use crate::live::page::listed::witness_row;
use crate::svg::Caption;
use crate::svg::plan::{Measure, Measures, plan};
use crate::text::mount as text;
use maud::html;
use trundle_core::survey::mount::{Mount, MountRefusal};
use trundle_core::units::signed;

/// The antenna position, or why there is none.
#[must_use]
pub fn antenna(worked: &Result<Mount, MountRefusal>) -> Markup {
    let mount = match worked {
        Ok(mount) => mount,
        Err(why) => return none(&why.to_string(), why.means(), why.next()),
    };
    let came = if mount.is_clean() { Came::Good } else { Came::Open };
    let mut said = text::head(mount);
    said.extend(text::beside(mount));
    let seen: Vec<_> = text::witnesses(mount).into_iter().map(witness_row).collect();
    html! {
        (verdict(came, &said))
        (drawing(mount))
        (rows(words::SEEN_OF_IT, &seen))
    }
}

fn drawing(mount: &Mount) -> Markup {
    let ahead = mount.ahead.as_ref().map(|(value, _)| value.value());
    let right = mount.right.as_ref().map(trundle_core::stats::budget::Quantity::value);
    let hitch = mount.options.taped.axle_to_hitch_m;
    let measure = |letter: char, value: Option<f64>| Measure {
        letter,
        shown: value.map(|metres| signed(metres, 2).replace('-', "\u{2212}")),
        negative: value.is_some_and(|metres| metres < 0.0),
    };
    let said = Caption { id: "plan", title: words::PLAN, description: words::PLAN_WORDS };
    let of = Measures {
        right: measure('A', right),
        ahead: measure('B', ahead),
        height: measure('C', None),
        hitch: Measure { shown: hitch.map(|metres| format!("{metres:.2}")), ..measure('D', hitch) },
    };
    let [across, along] = text::positions(mount);
    let unknown = || words::NOT_YET.to_owned();
    let hitch = hitch.map_or_else(unknown, |metres| format!("{metres:.2} m, {}", words::TAPED));
    html! {
        section {
            h2 { (words::PLAN) }
            (plan(said, &of))
            dl .lines {
                div { dt { "A: " (across.0) } dd { (across.1.unwrap_or_else(unknown)) } }
                div { dt { "B: " (along.0) } dd { (along.1.unwrap_or_else(unknown)) } }
                div { dt { "D: " (words::HITCH) } dd { (hitch) } }
            }
            p .hint { (words::PLAN_UNKNOWN) }
        }
    }
}
