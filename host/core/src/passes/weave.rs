//! How much longer the wheel's path is than the straight line from peg to peg.
//!
//! No one steers dead straight. A path whose heading differs from the line by the small angle t is
//! longer by t^2/2, so the mean square of the heading error is what is wanted: a weave of 0.15 m
//! over 20 m adds 0.06 %. The antenna's heading is not the wheel's, though: on a rocking frame it
//! swings to and fro with periods of one to three seconds while the wheel rolls straight on. So the
//! headings are taken apart into cosines (DCT-II), and only what is as slow as a driver steers is
//! counted. What the receiver's noise puts into that band is taken off by what it puts above it.
//! The antenna's positions must show the same weave: a heading that swings while the antenna
//! stays on its line (aliased rocking, a poor track) is not believed.

use super::prepare::Prepared;
use super::satellite::End;
use crate::geodesy::{LocalPlane, inverse};
use crate::stats::fit::line::Estimate;
use crate::stats::fit::robust::median;
use std::f64::consts::PI;

/// Slower than this a track means little, m/s.
const SPEED_MIN_M_S: f64 = 0.7;
/// What a driver steers is slower than this, hertz: a tractor's frame rocks at 0.35 Hz and more, a
/// weave takes four seconds at the least (common practice, no source).
const STEERED_HZ: f64 = 0.25;
/// Bands in which nothing but noise is expected, hertz: just above steering, and above the rocking
/// of a frame. The quieter one counts: a lively driver or a soft seat fills the other.
const NOISE_HZ: [(f64, f64); 2] = [(STEERED_HZ, 0.33), (0.75, 0.95)];
/// The median of a squared normal deviate over its mean.
const MEDIAN_OF_SQUARES: f64 = 0.4549;
/// Memory of speed noise, seconds; common practice, no source.
const MEMORY_S: f64 = 0.5;
/// Share of the estimate itself that is doubted: the line of antenna and wheel differ.
const SHAPE: f64 = 0.05;
/// Least standard uncertainty of the excess, as a share of the length.
const FLOOR: f64 = 1e-5;
/// Taken where no track can be had: weaving by 0.1 m over 30 m (the mean square of
/// (2 pi A/lambda), halved, is 0.011 %); common practice, no source.
const UNSEEN: f64 = 1e-4;
/// Headings further off the line than this are no weaving, degrees.
const OFF_COURSE_DEG: f64 = 45.0;
/// Share of such headings from which on the course itself bends.
const OFF_COURSE_SHARE: f64 = 0.1;
/// A path that is longer than the straight line by this share does not run straight: that would
/// be a weave of half a metre over 30 m. Our choice.
const BENT: f64 = 0.005;
/// Headings in a row may be this far apart, seconds.
const GAP_S: f64 = 2.5;
/// Headings closer together than this are averaged, seconds.
const THIN_S: f64 = 0.5;
/// Least headings of a pass.
const LEAST: usize = 10;

/// One pass as a heading against time.
#[derive(Clone, Debug)]
struct Heading {
    /// Heading error, radians, its mean taken off, at even steps.
    error_rad: Vec<f64>,
    /// Way across the line, metres, at the same steps.
    across_m: Vec<f64>,
    /// The steps, seconds.
    step_s: f64,
    /// Mean speed, m/s.
    speed_m_s: f64,
    /// Share of the headings that are further off than [`OFF_COURSE_DEG`].
    off_course: f64,
}

impl Heading {
    fn lasted_s(&self) -> f64 {
        self.error_rad.len() as f64 * self.step_s
    }
}

/// Paths of all passes over their straight lines.
#[derive(Clone, Debug)]
pub struct Winding {
    /// Share by which each pass is longer than its line, in the order given; `None` where there
    /// were too few headings.
    pub of_passes: Vec<Option<f64>>,
    /// That of all passes that are straight.
    pub excess: Estimate,
}

/// What is taken where no pass shows its path.
#[must_use]
pub const fn unseen() -> Estimate {
    Estimate::new(0.0, UNSEEN)
}

/// Whether a pass with this share does not run straight, so that its chord is not its length.
#[must_use]
pub fn is_bent(excess: f64) -> bool {
    excess > BENT
}

/// Estimate from all passes; those without ends show nothing.
#[must_use]
pub fn measure(passes: &[(&Prepared<'_>, Option<(End, End)>)], lag_s: f64) -> Winding {
    let headings: Vec<Option<Heading>> =
        passes.iter().map(|(pass, ends)| heading(pass, (*ends)?, lag_s)).collect();
    let floor = noise_floor(&headings);
    let of_passes: Vec<Option<f64>> =
        headings.iter().map(|h| Some(excess(h.as_ref()?, floor))).collect();
    Winding { excess: pooled(&of_passes), of_passes }
}

/// The excess of the passes that are straight.
fn pooled(of_passes: &[Option<f64>]) -> Estimate {
    let values: Vec<f64> =
        of_passes.iter().flatten().copied().filter(|share| !is_bent(*share)).collect();
    let n = values.len();
    if n == 0 {
        return unseen();
    }
    let mean = values.iter().sum::<f64>() / n as f64;
    let scatter = if n > 1 {
        let squares: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
        (squares / (n - 1) as f64 / n as f64).sqrt()
    } else {
        UNSEEN / 2.0
    };
    let excess = mean.max(0.0);
    Estimate::new(excess, scatter.hypot(SHAPE * excess).hypot(FLOOR))
}

/// Headings while driving at even steps: the line the driver held, not the line between two noisy
/// positions.
fn heading(pass: &Prepared<'_>, ends: (End, End), lag_s: f64) -> Option<Heading> {
    let azimuth_deg = inverse(ends.0.lat_lon_deg, ends.1.lat_lon_deg).azimuth_deg;
    let plane = LocalPlane::new(ends.0.lat_lon_deg.0, ends.0.lat_lon_deg.1, 0.0);
    let (sin, cos) = azimuth_deg.to_radians().sin_cos();
    let (from_s, to_s) = (pass.start.start_s(), pass.finish.finish_s());
    let mut seen: Vec<[f64; 3]> = Vec::new();
    let (mut off_course, mut driven, mut speed_m_s) = (0_u32, 0_u32, 0.0);
    for f in &pass.fixes {
        let t = f.tag_s - lag_s;
        let Some(speed) = f.fix.speed_m_s.filter(|speed| *speed > SPEED_MIN_M_S) else { continue };
        let Some(track_deg) = f.fix.track_deg.filter(|_| (from_s..=to_s).contains(&t)) else {
            continue;
        };
        driven += 1;
        let off_deg = (track_deg - azimuth_deg + 180.0).rem_euclid(360.0) - 180.0;
        if off_deg.abs() > OFF_COURSE_DEG {
            off_course += 1;
            continue;
        }
        speed_m_s += speed;
        let place = plane.enu(f.fix.lat_deg, f.fix.lon_deg);
        seen.push([t, off_deg.to_radians(), place.east_m * cos - place.north_m * sin]);
    }
    let seen = thinned(&seen);
    let step_s = median(&seen.windows(2).map(|w| w[1][0] - w[0][0]).collect::<Vec<_>>())?;
    let even = evenly(&seen, step_s)?;
    Some(Heading {
        error_rad: centred(&even, 1),
        across_m: levelled(&even, 2),
        step_s,
        speed_m_s: speed_m_s / f64::from((driven - off_course).max(1)),
        off_course: f64::from(off_course) / f64::from(driven.max(1)),
    })
}

/// Means of what lies within [`THIN_S`]: quicker, and no slower than anybody steers or rocks.
fn thinned(rows: &[[f64; 3]]) -> Vec<[f64; 3]> {
    let Some(first) = rows.first() else { return Vec::new() };
    let slot = |row: &[f64; 3]| ((row[0] - first[0]) / THIN_S + 1e-6) as u64;
    let same = |a: &[f64; 3], b: &[f64; 3]| slot(a) == slot(b);
    let mean = |group: &[[f64; 3]]| {
        std::array::from_fn(|i| group.iter().map(|row| row[i]).sum::<f64>() / group.len() as f64)
    };
    rows.chunk_by(same).map(mean).collect()
}

/// The rows at even steps of time; `None` with too few, or over a gap.
fn evenly(rows: &[[f64; 3]], step_s: f64) -> Option<Vec<[f64; 3]>> {
    let gap = rows.windows(2).any(|w| w[1][0] - w[0][0] > GAP_S.max(2.5 * step_s));
    if rows.len() < LEAST || gap || step_s <= 0.0 {
        return None;
    }
    let (first_s, last_s) = (rows[0][0], rows[rows.len() - 1][0]);
    let steps = ((last_s - first_s) / step_s).round() as usize;
    let mut ahead = 1;
    let out = (0..=steps).map(|i| {
        let at_s = (first_s + i as f64 * step_s).min(last_s);
        while ahead + 1 < rows.len() && rows[ahead][0] < at_s {
            ahead += 1;
        }
        let (a, b) = (rows[ahead - 1], rows[ahead]);
        let part = ((at_s - a[0]) / (b[0] - a[0]).max(1e-9)).clamp(0.0, 1.0);
        [at_s, a[1] + part * (b[1] - a[1]), a[2] + part * (b[2] - a[2])]
    });
    Some(out.collect())
}

fn centred(rows: &[[f64; 3]], column: usize) -> Vec<f64> {
    let mean = rows.iter().map(|row| row[column]).sum::<f64>() / rows.len() as f64;
    rows.iter().map(|row| row[column] - mean).collect()
}

/// Less its straight line by least squares.
fn levelled(rows: &[[f64; 3]], column: usize) -> Vec<f64> {
    let values = centred(rows, column);
    let middle = (values.len() - 1) as f64 / 2.0;
    let along = |i: usize| i as f64 - middle;
    let squares: f64 = (0..values.len()).map(|i| along(i).powi(2)).sum();
    let slope = values.iter().enumerate().map(|(i, v)| along(i) * v).sum::<f64>() / squares;
    values.iter().enumerate().map(|(i, v)| v - slope * along(i)).collect()
}

/// What averaging over [`THIN_S`] leaves of the power at a frequency.
fn averaged(hz: f64) -> f64 {
    let half_turns = PI * hz * THIN_S;
    (half_turns.sin() / half_turns).powi(2)
}

/// Frequency in hertz and squared coefficient of each cosine from the slowest up to `up_to_hz`,
/// scaled so that their sum is the mean square.
fn spectrum(values: &[f64], step_s: f64, up_to_hz: f64) -> impl Iterator<Item = (f64, f64)> {
    let n = values.len();
    let lasted_s = n as f64 * step_s;
    let most = ((2.0 * lasted_s * up_to_hz) as usize).min(n.saturating_sub(1));
    (1..=most).map(move |k| {
        let step = PI * k as f64 / n as f64;
        let sum: f64 =
            values.iter().enumerate().map(|(i, v)| v * (step * (i as f64 + 0.5)).cos()).sum();
        let hz = k as f64 / (2.0 * lasted_s);
        (hz, 2.0 * (sum / n as f64).powi(2) / averaged(hz))
    })
}

/// Noise of the headings per hertz at the slow end, radians squared: the middle of what stands in
/// a band, carried back by the memory of speed noise.
fn noise_floor(headings: &[Option<Heading>]) -> f64 {
    let floor = |(from_hz, to_hz): (f64, f64)| {
        let mut powers = Vec::new();
        for h in headings.iter().flatten() {
            let per_hz = 2.0 * h.lasted_s();
            let band = spectrum(&h.error_rad, h.step_s, to_hz).filter(|(hz, _)| *hz > from_hz);
            powers.extend(band.map(|(hz, power)| power * per_hz / fading(hz)));
        }
        median(&powers)
    };
    let quieter = NOISE_HZ.into_iter().filter_map(floor).reduce(f64::min);
    quieter.unwrap_or(0.0) / MEDIAN_OF_SQUARES
}

/// How far first-order noise has fallen at a frequency.
fn fading(hz: f64) -> f64 {
    (1.0 + (2.0 * PI * hz * MEMORY_S).powi(2)).recip()
}

/// Half the mean square of the steered heading without the noise; no more than the positions show.
fn excess(heading: &Heading, floor: f64) -> f64 {
    if heading.off_course > OFF_COURSE_SHARE {
        return f64::INFINITY;
    }
    let per_bin = floor / (2.0 * heading.lasted_s());
    let by_heading: f64 = spectrum(&heading.error_rad, heading.step_s, STEERED_HZ)
        .map(|(hz, power)| power - per_bin * fading(hz))
        .sum();
    let by_place: f64 = spectrum(&heading.across_m, heading.step_s, STEERED_HZ)
        .map(|(hz, power)| power * (2.0 * PI * hz / heading.speed_m_s).powi(2))
        .sum();
    by_heading.min(by_place) / 2.0
}
