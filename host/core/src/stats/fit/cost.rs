//! What a wrong figure does: speed, distance, rate and area.
//!
//! A controller that believes the tractor faster than it is opens up to hold its rate. A figure set
//! e too *high* makes it believe in a distance of 1/(1 + e) of the true one, so that it believes
//! itself slower, and applies too little.

/// Error of the distance, speed and applied rate of a controller, as a share, when its figure is
/// wrong by the share `figure_error`: −e/(1 + e). Too high a figure means too low a rate.
///
/// Not a number for an error of −100 % and below, a figure that is no figure.
#[must_use]
pub fn applied_rate_error(figure_error: f64) -> f64 {
    if figure_error > -1.0 { -figure_error / (1.0 + figure_error) } else { f64::NAN }
}

/// Share by which the figure found in the terminal is wrong, against the figure measured.
#[must_use]
pub fn figure_error(as_found: f64, measured: f64) -> f64 {
    as_found / measured - 1.0
}

/// Speed in km/h from a distance and the seconds it took.
#[must_use]
pub fn speed_km_h(distance_m: f64, time_s: f64) -> f64 {
    distance_m / time_s * 3.6
}

/// Litres per hectare from flow, speed and working width: 600·q/(v·w).
#[must_use]
pub fn rate_l_per_ha(flow_l_per_min: f64, speed_km_h: f64, width_m: f64) -> f64 {
    600.0 * flow_l_per_min / (speed_km_h * width_m)
}

/// Amount per hectare from an amount caught over a length and a width (any unit of amount).
#[must_use]
pub fn amount_per_ha(amount: f64, length_m: f64, width_m: f64) -> f64 {
    amount * 10_000.0 / (length_m * width_m)
}

/// What an as-found figure cost.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AsFoundCost {
    /// Share by which the figure was wrong; positive is too high.
    pub figure_error: f64,
    /// Share by which the applied rate was wrong; positive is too much.
    pub rate_error: f64,
    /// Amount per hectare that was applied where `wanted_per_ha` was wanted.
    pub applied_per_ha: f64,
    /// Applied less wanted, over the whole area; negative where too little went out.
    pub excess: f64,
    /// The excess in money, at the price given; negative where too little went out.
    pub excess_price: f64,
}

/// The consequence of an as-found figure over an area.
#[must_use]
pub fn as_found_cost(
    as_found: f64,
    measured: f64,
    wanted_per_ha: f64,
    area_ha: f64,
    price_per_unit: f64,
) -> AsFoundCost {
    let figure_error = figure_error(as_found, measured);
    let rate_error = applied_rate_error(figure_error);
    let excess = wanted_per_ha * rate_error * area_ha;
    AsFoundCost {
        figure_error,
        rate_error,
        applied_per_ha: wanted_per_ha * (1.0 + rate_error),
        excess,
        excess_price: excess * price_per_unit,
    }
}
