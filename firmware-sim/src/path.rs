//! The line the middle of the rear axle follows over the ground, seen from above.
//!
//! Course frame: origin at the nominal start peg, x along the course, y to the left, z up;
//! headings counter-clockwise from the course. The path starts a run-in before the start peg and
//! then repeats: course, run-out, a bulb of three arcs (60 degrees one way, 300 the other, 60
//! back) that brings the tractor onto the same line in the opposite direction, run-in. Distances
//! `s_m` along the path are horizontal and follow the line without its weave; the weave, a sine
//! across the course that fades out at the pegs, is laid over it.

use std::f64::consts::PI;

/// Over this length at each peg the weave fades in and out, so the pegs stay on the line.
const WEAVE_FADE_M: f64 = 4.0;

/// Place and direction at one point of the path.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Pose {
    pub(crate) x_m: f64,
    pub(crate) y_m: f64,
    /// Counter-clockwise from the course.
    pub(crate) heading_rad: f64,
    /// Left turns positive.
    pub(crate) curvature_per_m: f64,
    /// Horizontal metres actually travelled for each metre of the line without weave.
    pub(crate) stretch: f64,
}

/// The dimensions of a path.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Layout {
    /// Horizontal distance from peg to peg.
    pub(crate) course_m: f64,
    /// Straight beyond each peg before the bulb begins.
    pub(crate) run_out_m: f64,
    pub(crate) turn_radius_m: f64,
    pub(crate) weave_amplitude_m: f64,
    pub(crate) weave_length_m: f64,
    pub(crate) passes: u32,
}

impl Layout {
    /// Length of the bulb: 420 degrees of arc.
    pub(crate) fn bulb_m(&self) -> f64 {
        self.turn_radius_m * 420.0_f64.to_radians()
    }

    /// Length of a path of circles.
    pub(crate) fn circles_m(&self) -> f64 {
        3.0 * self.course_m + 4.0 * PI * self.turn_radius_m * f64::from(self.passes)
    }

    /// Distance along the path of the peg at which the pass `index` (from 0) starts.
    pub(crate) fn start_peg_s_m(&self, index: u32) -> f64 {
        let period = self.course_m + 2.0 * self.run_out_m + self.bulb_m();
        self.run_out_m + f64::from(index) * period
    }
}

#[derive(Clone, Copy, Debug)]
struct Segment {
    /// The driver misses the line by this much to the left, metres.
    missed_m: f64,
    s_m: f64,
    x_m: f64,
    y_m: f64,
    heading_rad: f64,
    cos: f64,
    sin: f64,
    curvature_per_m: f64,
    on_course: bool,
}

impl Segment {
    fn base_at(&self, s_m: f64) -> (f64, f64, f64) {
        let d = s_m - self.s_m;
        if self.curvature_per_m.abs() < 1e-12 {
            return (self.x_m + d * self.cos, self.y_m + d * self.sin, self.heading_rad);
        }
        let heading = self.heading_rad + d * self.curvature_per_m;
        let radius = 1.0 / self.curvature_per_m;
        let (sin, cos) = libm::sincos(heading);
        (self.x_m + radius * (sin - self.sin), self.y_m + radius * (self.cos - cos), heading)
    }
}

/// The whole path of a job.
#[derive(Clone, Debug)]
pub(crate) struct Path {
    layout: Layout,
    segments: Vec<Segment>,
}

impl Path {
    /// The path of a taped course; `missed_m`: by how much each pass misses the line to its
    /// left.
    pub(crate) fn new(layout: Layout, mut missed_m: impl FnMut() -> f64) -> Self {
        let mut path = Self { layout, segments: Vec::new() };
        let curve = 1.0 / layout.turn_radius_m;
        let arc = |degrees: f64| layout.turn_radius_m * degrees.to_radians();
        let mut end = (-layout.run_out_m, 0.0, 0.0, 0.0);
        for _ in 0..layout.passes {
            end = path.add(end, layout.run_out_m, 0.0, false);
            end = path.add(end, layout.course_m, 0.0, true);
            if let Some(course) = path.segments.last_mut() {
                course.missed_m = missed_m();
            }
            end = path.add(end, layout.run_out_m, 0.0, false);
            end = path.add(end, arc(60.0), curve, false);
            end = path.add(end, arc(300.0), -curve, false);
            end = path.add(end, arc(60.0), curve, false);
        }
        path.add(end, layout.run_out_m, 0.0, false);
        path
    }

    /// A path of circles: a straight as long as the course, `passes` circles to the left, the
    /// straight again, as many to the right, the straight again.
    pub(crate) fn circles(layout: Layout) -> Self {
        let mut path = Self { layout, segments: Vec::new() };
        let rim_m = 2.0 * PI * layout.turn_radius_m * f64::from(layout.passes);
        let curve = 1.0 / layout.turn_radius_m;
        let mut end = (0.0, 0.0, 0.0, 0.0);
        for curvature_per_m in [curve, -curve] {
            end = path.add(end, layout.course_m, 0.0, false);
            end = path.add(end, rim_m, curvature_per_m, false);
        }
        path.add(end, layout.course_m, 0.0, false);
        path
    }

    /// Adds a segment at `(x, y, heading, s)` and returns the same of its end.
    fn add(
        &mut self,
        (x_m, y_m, heading_rad, s_m): (f64, f64, f64, f64),
        length_m: f64,
        curvature_per_m: f64,
        on_course: bool,
    ) -> (f64, f64, f64, f64) {
        let (sin, cos) = libm::sincos(heading_rad);
        let missed_m = 0.0;
        let segment =
            Segment { missed_m, s_m, x_m, y_m, heading_rad, cos, sin, curvature_per_m, on_course };
        self.segments.push(segment);
        let (x, y, heading) = segment.base_at(s_m + length_m);
        (x, y, heading, s_m + length_m)
    }

    /// Place and direction at a distance along the path.
    pub(crate) fn at(&self, s_m: f64) -> Pose {
        let after = self.segments.partition_point(|segment| segment.s_m <= s_m);
        let segment = self.segments[after.saturating_sub(1)];
        let (x, y, heading) = segment.base_at(s_m);
        let (offset, slope, bend) = if segment.on_course {
            self.weave(s_m - segment.s_m, segment.missed_m)
        } else {
            (0.0, 0.0, 0.0)
        };
        Pose {
            x_m: x - offset * segment.sin,
            y_m: y + offset * segment.cos,
            heading_rad: heading + libm::atan(slope),
            curvature_per_m: segment.curvature_per_m + bend,
            stretch: libm::sqrt(1.0 + slope * slope),
        }
    }

    /// Offset to the left, its first and (nearly) its second derivative at `u_m` into the course.
    fn weave(&self, u_m: f64, missed_m: f64) -> (f64, f64, f64) {
        let Layout { course_m, weave_amplitude_m, weave_length_m, .. } = self.layout;
        let weaves = weave_amplitude_m > 0.0 && weave_length_m > 0.0;
        if !weaves && missed_m.abs() <= 0.0 {
            return (0.0, 0.0, 0.0);
        }
        let amplitude = if weaves { weave_amplitude_m } else { 0.0 };
        let wave = if weaves { 2.0 * PI / weave_length_m } else { 0.0 };
        let (sin, cos) = libm::sincos(wave * u_m);
        let to_peg = u_m.min(course_m - u_m).max(0.0);
        let towards = if u_m * 2.0 < course_m { 1.0 } else { -1.0 };
        let (fade, fade_slope) = if to_peg < WEAVE_FADE_M {
            let (s, c) = libm::sincos(PI * to_peg / (2.0 * WEAVE_FADE_M));
            (s * s, towards * s * c * PI / WEAVE_FADE_M)
        } else {
            (1.0, 0.0)
        };
        (
            fade * (amplitude * sin + missed_m),
            fade_slope * (amplitude * sin + missed_m) + amplitude * fade * wave * cos,
            -amplitude * fade * wave * wave * sin,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::{Layout, Path};

    const LAYOUT: Layout = Layout {
        course_m: 100.0,
        run_out_m: 15.0,
        turn_radius_m: 7.0,
        weave_amplitude_m: 0.0,
        weave_length_m: 20.0,
        passes: 4,
    };

    #[test]
    fn the_bulb_returns_to_the_same_line_the_other_way_round() {
        let path = Path::new(LAYOUT, || 0.0);
        for index in 0..4_u32 {
            let start = path.at(LAYOUT.start_peg_s_m(index));
            let finish = path.at(LAYOUT.start_peg_s_m(index) + 100.0);
            let (from, to) = if index % 2 == 0 { (0.0, 100.0) } else { (100.0, 0.0) };
            assert!((start.x_m - from).abs() < 1e-9 && start.y_m.abs() < 1e-9, "{start:?}");
            assert!((finish.x_m - to).abs() < 1e-9 && finish.y_m.abs() < 1e-9, "{finish:?}");
        }
    }

    #[test]
    fn place_heading_curvature_and_stretch_belong_together() {
        let path = Path::new(Layout { weave_amplitude_m: 0.4, ..LAYOUT }, || 0.07);
        let end_m = LAYOUT.start_peg_s_m(3) + 100.0;
        let h = 1e-4;
        let mut s_m = 0.5;
        while s_m < end_m {
            let (a, b, here) = (path.at(s_m - h), path.at(s_m + h), path.at(s_m));
            let (dx, dy) = ((b.x_m - a.x_m) / (2.0 * h), (b.y_m - a.y_m) / (2.0 * h));
            assert!((libm::hypot(dx, dy) - here.stretch).abs() < 1e-3, "at {s_m}");
            assert!((libm::cos(here.heading_rad) * here.stretch - dx).abs() < 1e-3, "at {s_m}");
            assert!((libm::sin(here.heading_rad) * here.stretch - dy).abs() < 1e-3, "at {s_m}");
            s_m += 0.377;
        }
    }
}
