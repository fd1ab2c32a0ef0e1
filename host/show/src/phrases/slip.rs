//! Slip in a phrase: one wording for the terminal, the live screen and the page.

use trundle_core::survey::slip::Window;
use trundle_core::units::{KM_H_PER_M_S, decimals};

/// Coverage factor of the intervals shown: 95 %, the noise being learned from many seconds.
pub const FACTOR: f64 = 1.96;

/// One window while it is driven, in a line.
#[must_use]
pub fn window_line(window: &Window) -> String {
    let kind = window.kind.word();
    let words: Vec<&str> = window.flags.iter().map(|flag| flag.word()).collect();
    format!(
        "{kind} {}: slip {} % ± {:.1} % at {:.1} km/h {}",
        window.leg,
        decimals(100.0 * window.slip, 1),
        100.0 * FACTOR * window.standard_uncertainty,
        KM_H_PER_M_S * window.ground_speed_m_s,
        words.join(" ")
    )
    .trim_end()
    .to_owned()
}
