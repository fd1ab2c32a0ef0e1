//! Lengths on the ellipsoid against values from outside the project.
//!
//! The tables marked `COMPUTED` were made with the general-purpose libraries geographiclib 2.1
//! and pyproj 3.7.2 (PyPI), which agree with each other to less than a nanometre. Two kinds of
//! error that a simpler program makes are shown beside them, with the amounts: working on a
//! sphere, and adding up successive fixes.

use trundle_core::geodesy::{Enu, LocalPlane, inverse, slope_length_m};
use trundle_tests::Draws;

/// Mean radius R1 of WGS 84, metres: what a spherical formula would use.
const SPHERE_M: f64 = 6_371_008.8;

/// A row of the table of lines.
type Line = ((f64, f64), (f64, f64), f64, f64);

/// From, to (degrees), length in metres, direction at the first point in degrees. COMPUTED:
/// geographiclib 2.1 = pyproj 3.7.2; positions rounded to 9 decimals, length worked again.
const LINES: [Line; 12] = [
    ((0.0, 0.0), (0.0, 0.000008983), 0.999982986, 90.0),
    ((0.0, 30.0), (0.000904369, 30.0), 99.999947251, 0.0),
    ((10.0, -70.0), (10.000639292, -69.999355060), 100.000033119, 44.999977),
    ((-35.1, 149.2), (-35.099112325, 149.200190450), 100.000006040, 10.000014),
    ((45.0, 10.0), (45.000899833, 10.0), 100.000048579, 0.0),
    ((45.0, 10.0), (44.999999993, 10.001268282), 100.000021715, 89.999997),
    ((52.2, 0.1), (52.199505274, 0.101221032), 99.999949326, 123.399986),
    ((52.2, 0.1), (52.201978779, 0.095115599), 400.000010405, -56.600000),
    ((55.75, -3.2), (55.751912394, -3.184439933), 999.999991337, 77.699997),
    ((64.1, 26.3), (64.057848998, 26.264978881), 4999.999995730, -160.0),
    ((69.65, 18.95), (69.649999882, 18.956438950), 250.000007594, 89.999998),
    ((-43.5, 172.6), (-43.481191584, 172.616965721), 2500.000006600, 33.3),
];

#[test]
fn geodesics_agree_with_the_reference_table() {
    for (from, to, length_m, azimuth_deg) in LINES {
        let line = inverse(from, to);
        // The table prints nanometres and millionths of a degree.
        assert!((line.length_m - length_m).abs() < 2e-9, "{from:?}: {line:?}");
        assert!((line.azimuth_deg - azimuth_deg).abs() < 1e-6, "{from:?}: {line:?}");
    }
}

#[test]
fn the_way_back_is_as_long_as_the_way_out() {
    for (from, to, _, _) in LINES {
        assert!((inverse(from, to).length_m - inverse(to, from).length_m).abs() < 1e-9);
    }
}

/// Latitude, metres of one degree of latitude at the point, over the degree around it, and of one
/// degree of longitude. COMPUTED: geographiclib 2.1 = pyproj 3.7.2.
const DEGREES: [(f64, f64, f64, f64); 7] = [
    (0.0, 110_574.275_8, 110_574.304_0, 111_319.490_8),
    (15.0, 110_648.696_2, 110_648.720_7, 107_550.488_7),
    (30.0, 110_852.442_5, 110_852.456_8, 96_486.280_3),
    (45.0, 111_131.777_4, 111_131.777_7, 78_846.835_1),
    (52.2, 111_271.150_1, 111_271.143_3, 68_371.533_6),
    (60.0, 111_412.287_5, 111_412.273_4, 55_800.001_6),
    (75.0, 111_618.384_1, 111_618.359_3, 28_902.005_8),
];

/// Length of a degree to the north and to the east, from the map a little to either side of its
/// origin: there the bending of the parallel, which belongs to the map, cancels.
fn degree_at(lat_deg: f64, lon_deg: f64) -> (f64, f64) {
    const STEP_DEG: f64 = 1e-3;
    let plane = LocalPlane::new(lat_deg, lon_deg, 0.0);
    let north = plane.enu(lat_deg + STEP_DEG, lon_deg).north_m
        - plane.enu(lat_deg - STEP_DEG, lon_deg).north_m;
    let east = plane.enu(lat_deg, lon_deg + STEP_DEG).east_m
        - plane.enu(lat_deg, lon_deg - STEP_DEG).east_m;
    (north / (2.0 * STEP_DEG), east / (2.0 * STEP_DEG))
}

#[test]
fn degrees_have_the_lengths_of_the_reference_table() {
    for (lat, at_point_m, around_m, lon_m) in DEGREES {
        let (north_m, east_m) = degree_at(lat, 10.0);
        assert!((north_m - at_point_m).abs() < 1e-4, "{lat}: {north_m}");
        assert!((east_m - lon_m).abs() < 1e-4, "{lat}: {east_m}");
        let arc_m = inverse((lat - 0.5, 10.0), (lat + 0.5, 10.0)).length_m;
        assert!((arc_m - around_m).abs() < 1e-4, "{lat}: {arc_m}");
    }
}

#[test]
fn degrees_agree_with_the_published_series() {
    // The common series for the length of a degree on WGS 84, good to 0.6 ppm:
    // lat 111132.92 - 559.82 cos 2f + 1.175 cos 4f - 0.0023 cos 6f,
    // lon 111412.84 cos f - 93.5 cos 3f + 0.118 cos 5f.
    for lat_deg in [5.0, 20.0, 35.0, 48.0, 52.2, 58.0, 66.0_f64] {
        let f = lat_deg.to_radians();
        let lat_m = 111_132.92 - 559.82 * (2.0 * f).cos() + 1.175 * (4.0 * f).cos()
            - 0.0023 * (6.0 * f).cos();
        let lon_m = 111_412.84 * f.cos() - 93.5 * (3.0 * f).cos() + 0.118 * (5.0 * f).cos();
        let (north_m, east_m) = degree_at(lat_deg, 0.0);
        assert!((north_m / lat_m - 1.0).abs() < 1e-6, "{lat_deg}: {north_m} {lat_m}");
        assert!((east_m / lon_m - 1.0).abs() < 1e-6, "{lat_deg}: {east_m} {lon_m}");
    }
}

#[test]
fn the_flat_map_keeps_lengths_over_a_course() {
    for (from, to, length_m, _) in LINES {
        if length_m > 500.0 {
            continue;
        }
        let plane = LocalPlane::new(from.0, from.1, 0.0);
        let at = plane.enu(to.0, to.1);
        let flat_m = at.east_m.hypot(at.north_m);
        // What the module promises at middle latitudes, and five times that near 70 degrees.
        let promised = if from.0.abs() < 60.0 { 0.5e-6 } else { 2.5e-6 };
        let error = flat_m / length_m - 1.0;
        assert!(error.abs() < promised, "{from:?} to {to:?}: {error:e} of the length");
        let back = plane.lat_lon_deg(at);
        assert!((back.0 - to.0).abs() < 1e-12 && (back.1 - to.1).abs() < 1e-12);
    }
}

#[test]
fn height_scales_the_length() {
    // 100 m, R = 6371008.8 m. COMPUTED: +7.85 mm at 500 m, +15.70 mm at 1000 m, +31.39 mm at
    // 2000 m.
    for (height_m, longer_mm) in [(0.0, 0.0), (500.0, 7.85), (1000.0, 15.70), (2000.0, 31.39)] {
        let mm = 1000.0 * (slope_length_m(100.0, height_m, 0.0) - 100.0);
        assert!((mm - longer_mm).abs() < 0.005, "{height_m}: {mm}");
    }
}

#[test]
fn the_slope_is_longer_than_its_level_distance() {
    // Level length of 100 m on a slope, COMPUTED: 1 % 99.995000375, 2 % 99.980005998,
    // 5 % 99.875233888 m. The wheel rolls the 100 m.
    for (slope, level_m) in [(0.01, 99.995_000_375), (0.02, 99.980_005_998), (0.05, 99.875_233_888)]
    {
        let length_m = slope_length_m(level_m, 0.0, slope * level_m);
        assert!((length_m - 100.0).abs() < 1e-8, "{slope}: {length_m}");
    }
}

/// Great-circle distance on a sphere by the haversine formula, metres.
fn on_a_sphere_m(from: (f64, f64), to: (f64, f64)) -> f64 {
    let half = |a: f64, b: f64| ((b - a).to_radians() / 2.0).sin().powi(2);
    let cosines = from.0.to_radians().cos() * to.0.to_radians().cos();
    let h = half(from.0, to.0) + cosines * half(from.1, to.1);
    2.0 * SPHERE_M * h.sqrt().asin()
}

/// The point 100 m away by the geodesic, to the north or to the east of a point.
fn hundred_metres_from(from: (f64, f64), north: bool) -> (f64, f64) {
    let mut step_deg = 0.001;
    let mut to = from;
    // Length is as good as proportional to the step: three corrections reach rounding.
    for _ in 0..5 {
        to = if north { (from.0 + step_deg, from.1) } else { (from.0, from.1 + step_deg) };
        step_deg *= 100.0 / inverse(from, to).length_m;
    }
    to
}

#[test]
fn a_sphere_is_wrong_by_the_printed_amounts_and_the_geodesic_is_not() {
    // A true line of 100 m, what a sphere of mean radius makes of it north-south and east-west.
    // COMPUTED with geographiclib 2.1.
    let rows = [
        (0.0, 100.5614, 99.8882),
        (30.0, 100.3091, 99.8046),
        (45.0, 100.0570, 99.7209),
        (52.2, 99.9316, 99.6793),
        (60.0, 99.8050, 99.6372),
        (70.0, 99.6711, 99.5926),
    ];
    for (lat, north_south_m, east_west_m) in rows {
        let from = (lat, 10.0);
        for (north, printed_m) in [(true, north_south_m), (false, east_west_m)] {
            let to = hundred_metres_from(from, north);
            let sphere_m = on_a_sphere_m(from, to);
            assert!((sphere_m - printed_m).abs() < 6e-5, "{lat} {north}: {sphere_m}");
            assert!((inverse(from, to).length_m - 100.0).abs() < 1e-7, "{lat} {north}");
        }
    }
}

/// By how much of its length a straight drive of `steps` steps grows when its fixes are added up,
/// white noise of `sigma_m` on each axis; and the error of the chord from end to end, metres.
fn summed(step_m: f64, sigma_m: f64, steps: u32, random: &mut Draws) -> (f64, f64) {
    let plane = LocalPlane::new(52.2, 0.1, 0.0);
    // Driven to and fro within some hundred metres, so that the flat map's own error is nothing.
    let turn = 1000_u32;
    let mut sum_m = 0.0;
    let mut worst_chord_m: f64 = 0.0;
    for leg in 0..steps / turn {
        let mut fix = |i: u32| {
            let along_m = f64::from(i) * step_m - 0.5 * f64::from(turn) * step_m;
            let noise = (sigma_m * random.normal(), sigma_m * random.normal());
            plane.lat_lon_deg(Enu { east_m: along_m + noise.0, north_m: noise.1 })
        };
        let first = fix(0);
        let mut last = first;
        for i in 1..=turn {
            let next = fix(i);
            sum_m += inverse(last, next).length_m;
            last = next;
        }
        let chord_m = inverse(first, last).length_m - f64::from(turn) * step_m;
        worst_chord_m = worst_chord_m.max(chord_m.abs());
        assert!(leg < steps);
    }
    (sum_m / (f64::from(steps / turn * turn) * step_m) - 1.0, worst_chord_m)
}

#[test]
fn adding_up_fixes_lengthens_the_way_by_the_printed_amounts() {
    // km/h, fixes a second, noise of one axis in metres, percent. COMPUTED: mean of the Rice
    // distribution, scipy 1.17.1.
    let rows = [
        (10.0, 10.0, 0.01, 0.12968),
        (10.0, 10.0, 0.02, 0.51977),
        (10.0, 5.0, 0.02, 0.12968),
        (10.0, 1.0, 0.02, 0.00518),
        (10.0, 1.0, 0.5, 3.299),
        (10.0, 5.0, 0.5, 83.2),
        (5.0, 10.0, 0.02, 2.097),
    ];
    let seed = 20_260_501;
    println!("seed {seed}");
    let mut random = Draws::new(seed);
    for (kmh, rate, sigma_m, printed) in rows {
        let step_m = kmh / 3.6 / rate;
        let steps = 40_000;
        let (growth, chord_m) = summed(step_m, sigma_m, steps, &mut random);
        let percent = 100.0 * growth;
        // Growth has a relative scatter of about sqrt(3/n) across the track, and along it the
        // noise of the ends of each leg, sqrt(2 n/1000) sigma over n steps; five times both.
        let n = f64::from(steps);
        let ends = (2.0 * n / 1000.0).sqrt() * sigma_m / (n * step_m);
        let margin = 5.0 * (printed * (3.0 / n).sqrt() + 100.0 * ends);
        println!("{kmh} km/h {rate} Hz {sigma_m} m: {percent:.5} % (printed {printed} %)");
        assert!((percent - printed).abs() < margin, "{percent} against {printed} +- {margin}");
        // The chord from end to end only carries the noise of its two ends.
        assert!(chord_m < 5.0 * 2.0_f64.sqrt() * sigma_m, "{chord_m}");
    }
}
