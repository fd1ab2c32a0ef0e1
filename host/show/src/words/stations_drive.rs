//! The stations at which the course is driven and the value is read.

/// Labels of the drive form, by option of the command.
pub const DRIVE: [(&str, &str); 3] = [
    ("length", "Length of the course"),
    ("target", "Uncertainty wanted, %"),
    ("as-found", "Value in the terminal now"),
];
/// What is rarely needed, likewise.
pub const PORTS: [(&str, &str); 6] = [
    ("no-receiver", "Go without a satellite receiver"),
    ("board", "Port of the counter board"),
    ("other-board", "Why another counter board is right"),
    ("receiver", "Port of the receiver"),
    ("receiver-speed", "Speed of the receiver's line, baud"),
    ("bus", "Port of the bus adapter"),
];
/// What the conditions are for.
pub const ABOUT_DRIVE: &str = "What is not known stays empty. Ports are found by what is sent on \
    them; name one only where there are several.";
/// No course is there.
pub const NO_COURSE: &str =
    "No course is entered yet. Enter its length here, or tape it at the station Course.";
/// The drive is over.
pub const DROVE: &str = "See the value";
/// What the last drive came to.
pub const LAST_TROUBLE: &str = "The last time it did not work";
/// To the course.
pub const TO_COURSE: &str = "Course";

/// The course in force.
#[must_use]
pub fn course(length_m: f64) -> String {
    format!(
        "The course of the station Course is used: {length_m} m. Enter a length only for another \
         one."
    )
}

/// Labels of the form on the value, by option of the command.
pub const VALUE: [(&str, &str); 7] = [
    ("as-found", "Wheel value found in the terminal"),
    ("rate", "Rate the implement was set to, L/ha"),
    ("length", "Another length of the course"),
    ("course", "Another course file"),
    ("monte-carlo", "Check the interval by draws"),
    ("impulses-per-turn", "Impulses of one turn of the wheel"),
    ("circumference", "Rolling circumference by the tyre's data"),
];
/// Heading of that form.
pub const ASK: &str = "Work it out otherwise";
/// Its button.
pub const WORK: &str = "Work it out";
/// Label of the capture.
pub const CAPTURE: &str = "Capture";
/// What may stand there.
pub const CAPTURE_HINT: &str = "The newest one of this job if nothing is chosen";
/// Label of a path.
pub const OTHER_CAPTURE: &str = "Capture elsewhere";
/// What may stand there.
pub const OTHER_HINT: &str = "The path of a capture file; it wins over the one chosen";
/// Nothing was driven.
pub const NO_CAPTURE: [&str; 3] = [
    "No course has been driven in this job.",
    "There is no value yet.",
    "Drive the course, or name a capture below.",
];
/// To the drive.
pub const TO_DRIVE: &str = "Drive";
pub(crate) const FIRST: &str = "Look at this first";
pub(crate) const NOTHING_WRONG: &str = "Nothing. No warning applies to this result.";
pub(crate) const NO_VALUE: &str = "No value to enter";
pub(crate) const DO_NOT: &str = "Do not enter a number from this page.";
pub(crate) const NO_PASS: &str = "No pass can be used.";
pub(crate) const UNIT: &str = "impulses per 100 m";
pub(crate) const PROVISIONAL: &str =
    "Provisional: tape and satellite were not held against each other.";
pub(crate) const PRACTICE: &str = "PRACTICE, not a measurement: do not enter these values.";
pub(crate) const PAPERS: &str = "The whole result";
/// The report.
pub(crate) const REPORT: &str = "Report with passes, sources of uncertainty and course";
/// The report as a file.
pub(crate) const REPORT_FILE: &str = "Save the report as a file";
/// The result for programs.
pub(crate) const JSON_FILE: &str = "Save the result as JSON";
/// What comes next.
pub(crate) const SIGN: &str = "Enter the value in the terminal, then check that it took";

/// Of which capture, and how many passes were used.
#[must_use]
pub fn of_capture(name: &str, used: usize, driven: usize) -> String {
    format!("Capture {name}: {used} of {driven} passes used.")
}

/// When the capture was begun, and the length of the course.
pub(crate) fn driven(begun: &str, length: Option<&str>) -> String {
    let length = length.map_or_else(String::new, |length| format!(" Course {length} by tape."));
    format!("Begun {begun}.{length}")
}

/// How good a value is.
pub(crate) fn good(percent: f64, half: &str) -> String {
    format!("\u{b1}{percent:.2} %, that is \u{b1}{half} impulses per 100 m (95 %).")
}

/// The largest source.
pub(crate) fn largest(source: &str) -> String {
    format!("Largest uncertainty: {source}.")
}
