//! A flat map around one point, for shapes of a few hundred metres.
//!
//! East and north follow the ellipsoid's radii of curvature at the origin and their change with
//! latitude to second order, and height. Over 500 m from the origin lengths are right to better
//! than 0.05 mm in 100 m; lengths that make a value come from the geodesic all the same.

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

/// A flat map around one origin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LocalPlane {
    lat0_deg: f64,
    lon0_deg: f64,
    /// Radius of curvature in the meridian, with the height, metres.
    meridian_m: f64,
    /// Radius of curvature in the prime vertical, with the height, metres.
    normal_m: f64,
    sin: f64,
    cos: f64,
    /// Half the growth of the meridian's radius per radian of latitude, metres.
    meridian_growth_m: f64,
}

impl LocalPlane {
    /// A map around a position in degrees, at ellipsoidal height `height_m`.
    #[must_use]
    pub fn new(lat0_deg: f64, lon0_deg: f64, height_m: f64) -> Self {
        let (sin, cos) = lat0_deg.to_radians().sin_cos();
        let w2 = 1.0 - E2 * sin * sin;
        let w = w2.sqrt();
        let meridian_m = A_M * (1.0 - E2) / (w2 * w) + height_m;
        Self {
            lat0_deg,
            lon0_deg,
            meridian_m,
            normal_m: A_M / w + height_m,
            sin,
            cos,
            meridian_growth_m: 1.5 * meridian_m * E2 * sin * cos / w2,
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
        let east = turn_deg.to_radians();
        let north = (lat_deg - self.lat0_deg).to_radians();
        // Meridians converge towards the pole, and a parallel bends away from its tangent.
        Enu {
            east_m: east * (self.normal_m * self.cos - self.meridian_m * self.sin * north),
            north_m: self.meridian_m * north
                + 0.5 * self.normal_m * self.sin * self.cos * east * east
                + self.meridian_growth_m * north * north,
        }
    }

    /// Position in degrees of a place on the map.
    #[must_use]
    pub fn lat_lon_deg(&self, at: Enu) -> (f64, f64) {
        let (mut east, mut north) =
            (at.east_m / (self.normal_m * self.cos), at.north_m / self.meridian_m);
        // Each step gains four digits within a kilometre; three leave nothing.
        for _ in 0..3 {
            let bend_m = 0.5 * self.normal_m * self.sin * self.cos * east * east
                + self.meridian_growth_m * north * north;
            north = (at.north_m - bend_m) / self.meridian_m;
            east = at.east_m / (self.normal_m * self.cos - self.meridian_m * self.sin * north);
        }
        (self.lat0_deg + north.to_degrees(), self.lon0_deg + east.to_degrees())
    }
}
