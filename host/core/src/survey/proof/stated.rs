//! What was stated of the display and of the implement, and how a capture keeps it.

use std::ops::RangeInclusive;

/// A note that begins with this word says what was stated.
const WORD: &str = "terminal";
/// Last steps of a distance shown, metres.
pub const DISTANCE_STEPS_M: RangeInclusive<f64> = 0.0001..=100.0;
/// Last steps of a speed shown, km/h.
pub const SPEED_STEPS_KM_H: RangeInclusive<f64> = 0.0001..=10.0;
/// Where a distance shown begins again at 0, metres.
pub const WRAPS_M: RangeInclusive<f64> = 10.0..=1e8;
/// Rates that an implement is set to, litres per hectare.
pub const RATES_L_PER_HA: RangeInclusive<f64> = 0.001..=1e6;

/// What somebody stated; `None` where nobody did.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Stated {
    /// Last step of the distance shown, metres; else by the decimals typed.
    pub distance_step_m: Option<f64>,
    /// Last step of the speed shown, km/h; else by the decimals typed.
    pub speed_step_km_h: Option<f64>,
    /// Where the distance shown begins again at 0, metres.
    pub wrap_m: Option<f64>,
    /// Rate the implement is set to, litres per hectare.
    pub rate_l_per_ha: Option<f64>,
}

impl Stated {
    /// Each with its word and the numbers that are plausible.
    fn fields(&mut self) -> [(&'static str, RangeInclusive<f64>, &mut Option<f64>); 4] {
        [
            ("distance_step_m", DISTANCE_STEPS_M, &mut self.distance_step_m),
            ("speed_step_km_h", SPEED_STEPS_KM_H, &mut self.speed_step_km_h),
            ("wrap_m", WRAPS_M, &mut self.wrap_m),
            ("rate_l_per_ha", RATES_L_PER_HA, &mut self.rate_l_per_ha),
        ]
    }

    /// This, and what it leaves open from another.
    #[must_use]
    pub fn or(mut self, mut other: Self) -> Self {
        for ((_, _, mine), (_, _, theirs)) in self.fields().into_iter().zip(other.fields()) {
            *mine = mine.or(*theirs);
        }
        self
    }

    /// The notes that keep it in a capture.
    #[must_use]
    pub fn notes(mut self) -> Vec<String> {
        let note = |(word, _, value): (&str, _, &mut Option<f64>)| {
            value.map(|value| format!("{WORD} {word} {value}"))
        };
        self.fields().into_iter().filter_map(note).collect()
    }

    /// What the notes of a capture say; of several the last one counts.
    #[must_use]
    pub fn noted(notes: &[(u64, String)]) -> Self {
        let mut stated = Self::default();
        for (_, text) in notes {
            let said = text.strip_prefix(WORD).and_then(|rest| rest.strip_prefix(' '));
            let Some((said, number)) = said.and_then(|said| said.trim().split_once(' ')) else {
                continue;
            };
            let number: Option<f64> = number.parse().ok();
            for (word, plausible, value) in stated.fields() {
                if said == word && number.is_some_and(|number| plausible.contains(&number)) {
                    *value = number;
                }
            }
        }
        stated
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_stated_goes_into_notes_and_comes_out_again_to_the_last_bit() {
        let stated = Stated {
            distance_step_m: Some(0.1 * 0.3048),
            speed_step_km_h: Some(0.1 * 1.609_344),
            wrap_m: Some(10_000.0),
            rate_l_per_ha: None,
        };
        let notes = |texts: Vec<String>| texts.into_iter().map(|text| (1, text)).collect();
        let kept: Vec<(u64, String)> = notes(stated.notes());
        assert_eq!((kept.len(), Stated::noted(&kept)), (3, stated));
        let other = Stated { wrap_m: Some(1_000.0), rate_l_per_ha: Some(200.0), ..stated };
        let both = stated.or(other);
        assert_eq!((both.wrap_m, both.rate_l_per_ha), (Some(10_000.0), Some(200.0)));
        let odd = ["", " wrap_m", " wrap_m x", " wrap_m NaN", " wrap_m 1", " rate_l_per_ha inf"];
        let odd = odd.map(|text| format!("{WORD}{text}")).to_vec();
        assert_eq!(Stated::noted(&notes(odd)), Stated::default());
    }
}
