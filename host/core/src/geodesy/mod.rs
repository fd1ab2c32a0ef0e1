//! Lengths on the ellipsoid. Never a sphere: over 100 m a sphere is up to 0.56 % wrong, and
//! differently in each direction.

mod inverse;
mod local;

pub use inverse::{Geodesic, inverse, slope_length_m};
pub use local::{Enu, LocalPlane};
