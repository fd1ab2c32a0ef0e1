//! The stations at which something is measured beside the course: check, PTO, antenna, speeds,
//! slip, proof drive, implement bus.

use crate::phrases::plain::sentence_case;
use trundle_core::units::decimals;

pub(crate) const SIGN_GOOD: &str = "\u{2713}";
pub(crate) const SIGN_BAD: &str = "\u{2715}";
pub(crate) const SIGN_MISSING: &str = "\u{25cb}";

pub(crate) const PASS: &str = "pass";
pub(crate) const FAIL: &str = "FAIL";
pub(crate) const NOT_TESTED: &str = "not tested";
pub(crate) const NOT_TESTED_OPTIONAL: &str = "not tested, and not needed";
pub(crate) const USED: &str = "used";
pub(crate) const NOT_USED: &str = "not used";
pub(crate) const SEEN: &str = "seen";
pub(crate) const MISSING: &str = "still missing";
pub(crate) const LOOK: &str = "look at this";
pub(crate) const NOT_YET: &str = "not known yet";
pub(crate) const WARNING: &str = "Warning";
pub(crate) const SO_FAR: &str = "So far";
pub(crate) const NEXT: &str = "Next";
pub(crate) const TYPED: &str = "Typed";

pub(crate) const CHECK_BEGINS: &str =
    "Let the tractor stand for half a minute, engine running, no one near it.";
pub(crate) const CHECK_ALL: &str = "All is tested. Stand still; the check ends by itself.";
pub(crate) const BENCH_BEGINS: &str = "Take every cable off the board but the USB cable, and wait.";
pub(crate) const BENCH_JUDGED: &str = "Lines judged";
pub(crate) const BENCH_UNIT: &str = "lines";

pub(crate) const SHAFT: &str = "PTO shaft";
pub(crate) const PTO: &str = "PTO";
pub(crate) const READ_AGAIN: &str = "Hold the speed for ten seconds and type it again.";
pub(crate) const PTO_FIRST: &str = "Hold a shaft speed for ten seconds, read the tractor's \
                                    display, and type what it shows.";
pub(crate) const PTO_SECOND: &str = "Hold another shaft speed, well apart, for ten seconds, and \
                                     type it too.";
pub(crate) const PTO_MORE: &str = "PTO off and shaft still, close the job; or add another speed.";

pub(crate) const OPPOSITE: &str = "One line, out and back";
pub(crate) const TURNS: &str = "Turns to both sides";
pub(crate) const CIRCLES: &str = "Steady circles both ways";
pub(crate) const ONE_CLOCK: &str = "Tractor and satellites together";
pub(crate) const RIGHT: &str = "Right of the middle";
pub(crate) const AHEAD: &str = "Ahead of the rear axle";
pub(crate) const ANTENNA_BEGINS: &str = "Stop, drive off, and drive one line out and back a few \
                                         times, slowly and steadily.";
pub(crate) const ANTENNA_ALL: &str = "All has been seen. Stand and close the job; more lines and \
                                      circles make it better.";

pub(crate) const SPEEDS: &str = "The three speeds";
pub(crate) const STEADY: &str = "Steady speeds, straight ahead";
pub(crate) const STANDSTILL: &str = "Standstill";
pub(crate) const STAND: &str = "Let the tractor stand for half a minute.";
pub(crate) const SPEEDS_BEGIN: &str = "Stand for half a minute, then hold several steady speeds, \
                                       ten seconds each, straight ahead.";
pub(crate) const SPEEDS_MORE: &str = "Hold another steady speed, slower or faster; or stop and \
                                      close the job.";
pub(crate) const SPEEDS_DRAWN: &str = "The three speeds against time: satellite whole, wheel \
                                       broken with squares, radar dotted with circles.";

pub(crate) const BUS: &str = "On the bus";
pub(crate) const BUS_DRIVE: &str = "Drive 100 m or more straight ahead, stop, and drive off again; \
                                    twice or more.";
pub(crate) const BUS_ALL: &str = "All has been seen. Stop and close the job, or drive once more.";

pub(crate) const TAKE_READING: [&str; 2] =
    ["Take this reading", "The tractor's display shows, rpm"];
pub(crate) const TAKE_DISTANCE: [&str; 2] =
    ["Take this distance", "The terminal shows this distance (m; or km, ft, mi)"];
pub(crate) const TAKE_SPEED: [&str; 2] = [
    "Take this speed",
    "The terminal showed this speed in the steady run before (km/h; or mph, m/s)",
];
pub(crate) const TAKE_NOTE: [&str; 2] = ["Save note", "Note"];
pub(crate) const REJECT_READING: &str = "Reject the last reading";
pub(crate) const SHOW_STANDING: &str = "Show how things stand";

pub(crate) const AT_START: &str = "start";
pub(crate) const AT_END: &str = "end";

/// What is to be done for one line.
pub(crate) fn next_of(title: &str, next: &str) -> String {
    if next.is_empty() { format!("{title}: go on.") } else { format!("{title}: {next}") }
}

pub(crate) fn reading(number: usize, shown_rpm: f64) -> String {
    format!("Reading {number}, {shown_rpm} rpm")
}

pub(crate) fn shaft_rate(rate_hz: f64, per_rev: f64) -> String {
    format!("{rate_hz:.2} impulses/s, {per_rev:.3} per revolution")
}

pub(crate) fn steady_runs(found: usize, need: usize) -> String {
    format!("{found} steady runs of two seconds; at least {need} are needed")
}

/// A sentence of a reason.
pub(crate) fn sentence(why: &str) -> String {
    format!("{}.", sentence_case(why.trim_end_matches('.')))
}

pub(crate) fn proof_read(number: u32, end: &str) -> String {
    format!("Stand still: type the distance that the terminal shows at the {end} of pass {number}.")
}

pub(crate) fn readings(typed: usize) -> String {
    match typed {
        0 => "no reading so far".to_owned(),
        1 => "one reading so far".to_owned(),
        more => format!("{more} readings so far"),
    }
}

pub(crate) fn astray(typed: &str) -> String {
    format!("\"{typed}\" was typed at no standstill beside a marked peg.")
}

pub(crate) fn pass(number: u32) -> String {
    format!("Pass {number}")
}

/// What was read at both ends.
pub(crate) fn read_at(start_m: Option<f64>, end_m: Option<f64>) -> String {
    let shown = |value: Option<f64>| {
        value.map_or_else(|| "not read".to_owned(), |metres| format!("{} m", decimals(metres, 2)))
    };
    format!("Start {}, end {}.", shown(start_m), shown(end_m))
}

pub(crate) fn shown_distance(read: &str, shown_m: f64, satellite_m: Option<f64>) -> String {
    let satellite = satellite_m
        .map_or_else(String::new, |metres| format!(", by satellite {} m", decimals(metres, 2)));
    format!("{read} Shown {} m{satellite}.", decimals(shown_m, 2))
}

pub(crate) const MAP: &str = "Where the slip was";
pub(crate) const READINGS: &str = "Readings";
pub(crate) const LINES: &str = "Line by line";
pub(crate) const SEEN_OF_IT: &str = "What it comes from";
pub(crate) const OVER_TIME: &str = "The three speeds against time";

/// How the speeds against time are shown.
pub(crate) fn over_time_scaled(unit: &str) -> String {
    format!(
        "Wheel and radar are scaled here so that each agrees with the satellites over the whole \
         drive. The table has speeds in {unit}."
    )
}

pub(crate) const PLAN: &str = "Where the antenna is, from above";
pub(crate) const PLAN_WORDS: &str = "The tractor from above, driving up the page, not to \
     scale. A: from the middle to the antenna. B: from the rear axle to the antenna. C: from the \
     ground up to the antenna. D: from the rear axle back to the coupling point.";
pub(crate) const PLAN_UNKNOWN: &str = "From above, not to scale. A broken line: not measured here.";
/// Label of a field.
pub const HITCH: &str = "Rear axle to coupling point";
pub(crate) const TAPED: &str = "as taped";
pub(crate) const NO_RESULT: &str = "No result";
pub(crate) const TOTALS: &str = "How much";
pub(crate) const COMPARED: &str = "Before and after, at the same places";
/// What the page of a station says of the results.
pub const IN_WORDS: &str = "The result in words";
/// A link to the page for paper.
pub const PAPER: &str = "The whole result, for browser and paper";
/// Heading of a result.
pub const RESULT: &str = "Result";
/// Where a result comes from.
#[must_use]
pub fn from_capture(capture: &str) -> String {
    format!("From the capture {capture}")
}
/// Messages of the last recording.
pub const MESSAGES: &str = "Messages of the last recording";
/// Heading of the form that calculates again.
pub const AGAIN: &str = "Calculate again, or take another capture";
/// Its button.
pub const CALCULATE: &str = "Calculate";
/// Label of the capture on it.
pub const CAPTURE: &str = "Capture";
/// Hint of the capture that is typed.
pub const CAPTURE_HINT: &str =
    "The file of a recording; one from this station can be chosen from the list.";
/// Label of captures to choose from.
pub const CHOOSE: &str = "A capture of this station";
/// Heading of the form that begins a recording.
pub const MEASURE: &str = "Measure";
/// Its heading once there is a result.
pub const MEASURE_AGAIN: &str = "Measure again";
/// Nothing was recorded here.
pub const NOTHING: &str = "Nothing has been recorded here yet.";
/// Heading of the cautions of a shaft.
pub const CAUTIONS_PTO: &str = "Before the shaft turns";
/// Heading of those of a proof drive.
pub const CAUTIONS_PROOF: &str = "Before the proof drive";
/// Heading of those of the bus.
pub const CAUTIONS_BUS: &str = "Before the adapter is plugged in";
/// What the page of the bus is for.
pub(crate) const ABOUT_BUS: &str =
    "Which speed implements are given on the implement bus, and by how much it is off.";
/// Name of the bus's page.
pub(crate) const NAME_BUS: &str = "Implement bus";
/// The way to it.
pub const TO_BUS: &str = "The speeds on the implement bus";
/// Said to whoever may not begin.
pub const LOOK_ONLY: &str = "View only: whoever sits at the computer begins a recording.";

pub(crate) const OVER_TIME_HEADS: [&str; 4] = ["Time, s", "Satellite", "Wheel", "Radar"];
pub(crate) const DRIVEN: &str = "Driven";
pub(crate) const ON_PASSES: &str = "On passes";
pub(crate) const IN_TURNS: &str = "In turns";
pub(crate) const IN_WORK: &str = "In work";

pub(crate) fn slip_total(total: &str) -> String {
    format!("{total} slip")
}

pub(crate) fn slip_flagged(flagged: usize, all: usize) -> String {
    format!("{flagged} of {all} sections have a warning: the whole result names them.")
}

pub(crate) fn above(percent: f64) -> String {
    super::page::above(percent)
}

pub(crate) fn speed_read(speed: &str) -> String {
    format!("Speed shown, {speed}")
}

pub(crate) fn speed_run(seconds: f64, satellite: Option<String>) -> String {
    let satellite = satellite.map_or_else(String::new, |speed| format!(", by satellite {speed}"));
    format!("Steady for {seconds:.0} s{satellite}.")
}

/// A result that could not be calculated.
pub const NO_RESULT_YET: &str = "No result";
/// Nothing was named to calculate.
pub const NAME_CAPTURE: &str = "Choose a capture, or type the name of one.";
/// The course is there already.
pub const COURSE_SAVED: &str =
    "The course that was saved is used; a length that is typed here is used instead of it.";

/// Label of a field.
pub const LENGTH: &str = "Length of the course";
/// Label of a field.
pub const BENCH: &str = "Only the board, on the bench";
/// Label of a field.
pub const INPUT: &str = "On the bench: only these inputs";
/// Label of a field.
pub const ENTERED: &str = "Value that was keyed in";
/// Label of a field.
pub const OLD: &str = "Value before that";
/// Label of a field.
pub const RATE: &str = "Rate of the implement, litres per hectare";
/// Label of a field.
pub const SOURCE: &str = "Sensor that the terminal goes by";
/// Label of a field.
pub const STEP: &str = "Last step of the distance shown";
/// Label of a field.
pub const SPEED_STEP: &str = "Last step of the speed shown";
/// Label of a field.
pub const WRAP: &str = "Distance at which the terminal begins again at 0";
/// Label of a field.
pub const SET_NOW: &str = "Set in the implement's terminal now, impulses per revolution";
/// Label of a field.
pub const DISPLAY_STEP: &str = "Last step of the tractor's display, rpm";
/// Label of a field.
pub const TAPED_RIGHT: &str = "Antenna right of the middle";
/// Label of a field.
pub const TAPED_AHEAD: &str = "Antenna ahead of the rear axle";
/// Label of a field.
pub const LINE_HELD: &str = "How well the line is held, metres";
/// Label of a field.
pub const TURN_SLIP: &str = "Uncertainty of the slip in turns, %";
/// Label of a field.
pub const WHEEL_VALUE: &str = "Wheel impulses per 100 m, where known";
/// Label of a field.
pub const RADAR_NOMINAL: &str = "Impulses per metre that the radar should give";
/// Label of a field.
pub const RADAR_ANGLE: &str = "Angle of the radar's beam, degrees";
/// Label of a field.
pub const ZERO_SLIP: &str = "Wheel impulses per 100 m without slip";
/// Label of a field.
pub const ZERO_SLIP_PERCENT: &str = "Its uncertainty, \u{b1} %";
/// Label of a field.
pub const ZERO_SLIP_CAPTURE: &str = "Or a capture of a measured course";
/// Label of a field.
pub const SECTION: &str = "Length of a section";
/// Label of a field.
pub const COMPARE: &str = "Before: an earlier capture of the same ground";
/// Label of a field.
pub const COMPARE_VALUE: &str = "Its impulses per 100 m without slip, on other tyres";
/// Label of a field.
pub const KEYED_WHEEL: &str = "Keyed in for the wheel, impulses per 100 m";
/// Label of a field.
pub const KEYED_RADAR: &str = "Keyed in for the radar, impulses per 100 m";
/// Label of a field.
pub const NO_BOARD: &str = "Without a counter board";
/// Label of a field.
pub const OTHER_BOARD: &str = "Why another counter board is right";
/// Label of a field.
pub const BOARD: &str = "Port of the counter board";
/// Label of a field.
pub const RECEIVER: &str = "Port of the satellite receiver";
/// Label of a field.
pub const RECEIVER_SPEED: &str = "Speed of the receiver's line, baud";
/// Label of a field.
pub const NO_RECEIVER: &str = "Without a satellite receiver";
/// Label of a field.
pub const ADAPTER: &str = "Port of the bus adapter";
