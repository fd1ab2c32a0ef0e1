//! Slip in a phrase: one wording for the terminal, the live screen and the page.

use trundle_core::survey::slip::Section;
use trundle_core::units::{KM_H_PER_M_S, decimals};

/// Coverage factor of the intervals shown: 95 %, the noise being learned from many seconds.
pub const FACTOR: f64 = 1.96;

/// One section while it is driven, in a line.
#[must_use]
pub fn section_line(section: &Section) -> String {
    let kind = section.kind.word();
    let words: Vec<&str> = section.flags.iter().map(|flag| flag.word()).collect();
    format!(
        "{kind} {}: slip {} % ± {:.1} % at {:.1} km/h {}",
        section.part,
        decimals(100.0 * section.slip, 1),
        100.0 * FACTOR * section.standard_uncertainty,
        KM_H_PER_M_S * section.ground_speed_m_s,
        words.join(" ")
    )
    .trim_end()
    .to_owned()
}
