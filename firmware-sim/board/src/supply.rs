//! Readings of the converter, made millivolts of the supply.

/// The converter's reference, which is the processor's supply, millivolts.
const REFERENCE_MV: u64 = 3_300;
/// Steps of the converter: 12 bits.
const STEPS: u64 = 1 << 12;
/// Divider before it: 100 kohm above, 10 kohm below.
const DIVIDER: u64 = (100 + 10) / 10;
/// Below this nothing is connected, or no wire that carries a supply, millivolts.
const LEAST_MV: u64 = 1_000;

/// Millivolts before the divider by the mean of `readings` readings whose sum is `sum`; 0, which
/// says not measured, without a reading or below a volt.
///
/// The reference is good to some per cent (common practice, no source): this tells a flat battery
/// from a charged one, no more.
#[must_use]
pub fn millivolts(sum: u32, readings: u32) -> u16 {
    let steps = STEPS * u64::from(readings);
    let mv = (u64::from(sum) * REFERENCE_MV * DIVIDER + steps / 2).checked_div(steps).unwrap_or(0);
    if mv < LEAST_MV { 0 } else { u16::try_from(mv).unwrap_or(u16::MAX) }
}
