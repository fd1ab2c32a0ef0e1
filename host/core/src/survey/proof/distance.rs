//! Distances read at the pegs, made into what the terminal showed of each pass.

use super::Evidence;
use super::board::Boards;
use super::evidence::{Way, together};
use super::refusal::PassRefusal;
use super::typed::{Shown, ShownKind};
use crate::figure::Work;
use crate::passes::pass::{MeasuredPass, PassImpulses};
use crate::passes::prepare::{Prepared, prepare};
use crate::session::window::PassWindow;
use crate::stats::budget::Source;
use trundle_protocol::units::Channel;

/// A reading belongs to a standstill beside a peg while the tractor has not moved by more than
/// this, metres: half of the step of a usual display.
const SAME_PLACE_M: f64 = 0.05;
/// The same in impulses, where nobody knows their length, and at the least: a radar gives some at
/// standstill.
const SAME_PLACE_IMPULSES: f64 = 6.0;
/// A distance that went back has begun again at 0 where it then fits what the other passes show to
/// this share, or two steps of the display.
const WRAP_FITS: f64 = 0.002;
/// Digits that every counter of distance has before its decimals.
const DIGITS: f64 = 3.0;
/// That must be less than this share of the distance at which it begins again.
const CHANCE: f64 = 0.05;

/// What the terminal showed of one pass.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShownPass {
    /// Metres shown from peg to peg.
    pub shown_m: f64,
    /// Last step of the display, metres.
    pub step_m: f64,
    /// The distance began again at 0 on the way.
    pub wrapped: bool,
    /// Impulses of wheel and radar.
    pub impulses: [Option<PassImpulses>; 2],
    /// Length of the pass by satellite, metres.
    pub satellite_m: Option<f64>,
}

/// A pass with the distances read at its ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PassReading {
    /// From 1.
    pub number: u32,
    /// Read at the start peg, metres.
    pub start_m: Option<f64>,
    /// Read at the finish peg, metres.
    pub finish_m: Option<f64>,
    /// The display, where it was read at both.
    pub display: Option<Display>,
    /// What came of it, or why it is not used.
    pub shown: Result<ShownPass, PassRefusal>,
}

/// What is taken for granted of a display.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Display {
    /// Last step of it, metres.
    pub step_m: f64,
    /// It begins again at 0 here, metres: as stated, else at the next power of ten.
    pub wrap_m: f64,
}

/// A standstill beside a peg.
struct Rest {
    spell: usize,
    motion: Channel,
    count: f64,
    tolerance: f64,
}

/// All passes, and the readings that belong to none of their ends.
pub(super) fn passes(
    windows: &[PassWindow],
    work: &Work,
    boards: &Boards<'_>,
    typed: &[Shown],
    wrap_m: Option<f64>,
) -> (Vec<PassReading>, Vec<String>) {
    let distances: Vec<&Shown> =
        typed.iter().filter(|shown| shown.kind == ShownKind::Distance).collect();
    let mut astray = vec![true; distances.len()];
    let mut ends = Vec::new();
    for window in windows {
        let rests = prepare(window).ok().map_or([None, None], |pass| rests(&pass, boards));
        // The last one typed at a standstill counts.
        ends.push(rests.map(|rest| {
            let rest = rest?;
            let here = |shown: &Shown| rest.holds(boards, shown.host_ns);
            let mine = distances.iter().enumerate().filter(|(_, shown)| here(shown));
            mine.inspect(|(at, _)| astray[*at] = false).last().map(|(_, shown)| *shown)
        }));
    }
    let mut out: Vec<PassReading> = windows
        .iter()
        .zip(&ends)
        .map(|(window, [start, finish])| PassReading {
            number: window.number,
            start_m: start.map(|shown| shown.value),
            finish_m: finish.map(|shown| shown.value),
            display: start.zip(*finish).map(|(start, finish)| display(start, finish, wrap_m)),
            shown: Err(PassRefusal::NoReadings),
        })
        .collect();
    for reading in &mut out {
        reading.shown = shown(reading, measured(work, reading), wrap_m);
    }
    let usual = metres_an_impulse(&out);
    for reading in &mut out {
        if let (Err(PassRefusal::WentBack), Some(pass)) = (reading.shown, measured(work, reading)) {
            reading.shown = wrapped(reading, pass, usual).ok_or(PassRefusal::WentBack);
        }
    }
    let lost = distances.iter().zip(astray).filter(|(_, lost)| *lost);
    (out, lost.map(|(shown, _)| shown.text.clone()).collect())
}

/// The pass of a reading, where it can be used.
fn measured<'w>(work: &'w Work, reading: &PassReading) -> Option<&'w MeasuredPass> {
    let pass = work.passes.iter().find(|pass| pass.number == reading.number)?;
    pass.measured.as_ref().filter(|pass| !pass.refused())
}

fn rests(pass: &Prepared<'_>, boards: &Boards<'_>) -> [Option<Rest>; 2] {
    let curve = pass.motion_curve();
    let finish_ns = pass.window.finish.map_or(pass.window.start.host_ns, |mark| mark.host_ns);
    let near = if pass.spacing_m > 0.0 { SAME_PLACE_M / pass.spacing_m } else { 0.0 };
    let (start, finish) = (pass.start, pass.finish);
    let rest = |host_ns: u64, standing: bool, at_s: f64| {
        let (spell, _) = boards.at(host_ns).filter(|_| standing)?;
        let count = curve.whole(at_s).or_else(|| Some(curve.knots().first()?.1))?;
        let tolerance = near.max(SAME_PLACE_IMPULSES);
        Some(Rest { spell, motion: pass.motion, count, tolerance })
    };
    [
        rest(pass.window.start.host_ns, start.is_standing(), start.start_s()),
        rest(finish_ns, finish.is_standing(), finish.finish_s()),
    ]
}

impl Rest {
    /// The tractor stood here at a host time.
    fn holds(&self, boards: &Boards<'_>, host_ns: u64) -> bool {
        let count = boards.at(host_ns).filter(|(spell, _)| *spell == self.spell);
        let count = count.and_then(|(spell, at_s)| {
            let curve = &boards.0[spell].curves[self.motion.index()];
            curve.whole(at_s).or_else(|| Some(curve.knots().first()?.1))
        });
        count.is_some_and(|count| (count - self.count).abs() <= self.tolerance)
    }
}

fn shown(
    reading: &PassReading,
    pass: Option<&MeasuredPass>,
    wrap_m: Option<f64>,
) -> Result<ShownPass, PassRefusal> {
    let pass = pass.ok_or(PassRefusal::Refused)?;
    let (start_m, finish_m) = match (reading.start_m, reading.finish_m) {
        (None, None) => return Err(PassRefusal::NoReadings),
        (None, _) => return Err(PassRefusal::NoStart),
        (_, None) => return Err(PassRefusal::NoFinish),
        (Some(start_m), Some(finish_m)) => (start_m, finish_m),
    };
    let step_m = reading.display.map_or(0.0, |display| display.step_m);
    let mut shown_m = finish_m - start_m;
    let wrapped = shown_m < 0.0;
    if wrapped {
        shown_m += wrap_m.ok_or(PassRefusal::WentBack)?;
    }
    if shown_m < 0.0 {
        return Err(PassRefusal::WentBack);
    }
    if shown_m < 2.0 * step_m {
        return Err(PassRefusal::NotCounting);
    }
    Ok(of(pass, shown_m, step_m, wrapped))
}

fn of(pass: &MeasuredPass, shown_m: f64, step_m: f64, wrapped: bool) -> ShownPass {
    let impulses = [pass.impulses[0], pass.impulses[1]];
    let satellite_m = pass.satellite.map(|length| length.joined.length_m);
    ShownPass { shown_m, step_m, wrapped, impulses, satellite_m }
}

/// A display of so many digits begins again at the next power of ten; none has fewer than three.
fn display(start: &Shown, finish: &Shown, wrap_m: Option<f64>) -> Display {
    let digits = (start.value / start.unit).max(1.0).log10().floor() + 1.0;
    let wrap_m = wrap_m.unwrap_or(10_f64.powf(digits.max(DIGITS)) * start.unit);
    Display { step_m: start.step.max(finish.step), wrap_m }
}

/// Metres shown for each impulse over the passes that need no guess.
fn metres_an_impulse(passes: &[PassReading]) -> [Option<f64>; 2] {
    [0, 1].map(|channel| {
        let used = passes.iter().filter_map(|pass| pass.shown.ok());
        let pairs = used.filter_map(|pass| Some((pass.shown_m, pass.impulses[channel]?.impulses)));
        let (shown_m, impulses) = pairs.fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
        (impulses > 0.0).then(|| shown_m / impulses)
    })
}

/// A pass whose distance went back, taken as begun again at 0, where the others bear it out.
fn wrapped(
    reading: &PassReading,
    pass: &MeasuredPass,
    usual: [Option<f64>; 2],
) -> Option<ShownPass> {
    let Display { step_m, wrap_m } = reading.display?;
    let shown_m = reading.finish_m? - reading.start_m? + wrap_m;
    let fits = |channel: usize| {
        let impulses = pass.impulses[channel].map(|count| count.impulses);
        usual[channel].zip(impulses).is_some_and(|(metres, impulses)| {
            let allowed_m = (WRAP_FITS * shown_m).max(2.0 * step_m);
            (shown_m - metres * impulses).abs() <= allowed_m
        })
    };
    (shown_m > 0.0 && (fits(0) || fits(1))).then(|| of(pass, shown_m, step_m, true))
}

/// The passes by a display that goes through 0 at least once in each, with a value of `per_100m` in
/// force for a channel; `None` where the readings do not bear that out.
pub(super) fn turned(
    passes: &[PassReading],
    work: &Work,
    channel: usize,
    per_100m: f64,
) -> Option<Vec<PassReading>> {
    let mut out = passes.to_vec();
    let mut seen = false;
    for reading in &mut out {
        let (Some(display), Some(pass)) = (reading.display, measured(work, reading)) else {
            continue;
        };
        let raw_m = reading.finish_m? - reading.start_m?;
        let expected_m = 100.0 * pass.impulses[channel]?.impulses / per_100m;
        let turns = ((expected_m - raw_m) / display.wrap_m).round();
        let shown_m = raw_m + turns * display.wrap_m;
        let allowed_m = (WRAP_FITS * expected_m).max(2.0 * display.step_m);
        // By chance any reading would fit a display that turns round too soon.
        let likely = allowed_m < CHANCE * display.wrap_m;
        // One that stands still counts nothing, whatever fits.
        let counts = raw_m.abs() >= 2.0 * display.step_m;
        if !counts || turns < 1.0 || (shown_m - expected_m).abs() > allowed_m || !likely {
            return None;
        }
        reading.shown = Ok(of(pass, shown_m, display.step_m, true));
        seen = true;
    }
    seen.then_some(out)
}

/// What the passes together say.
pub(super) fn evidence(passes: &[PassReading], work: &Work, source: Channel) -> Option<Evidence> {
    let used = passes.iter().filter_map(|pass| Some((pass.number, pass.shown.ok()?)));
    let way = |(number, pass): (u32, ShownPass)| {
        let (key, name) = (format!("display.{number}"), "step of the distance shown, both ends");
        let step = Source::triangular(&key, name, pass.step_m);
        Way {
            number,
            shown_m: pass.shown_m,
            impulses: pass.impulses,
            parts: vec![(step, 1.0)],
            allowed_m: pass.step_m,
        }
    };
    let ways: Vec<Way> = used.map(way).collect();
    let other = if source == Channel::Wheel { Channel::Radar } else { Channel::Wheel };
    together(&ways, work, [source, other], source, [0.0; 2])
}
