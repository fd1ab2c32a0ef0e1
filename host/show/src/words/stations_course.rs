//! Words of the station of the course.

/// Heading of the form.
pub const TYPED: &str = "The course as it was taped";
/// What the quick way is.
pub const ABOUT: &str = "The length alone is enough to begin. What is said beside it makes its \
    uncertainty smaller, or shows where it comes from.";
/// Heading of the result.
pub const COMES_TO: &str = "What it comes to";
/// Nothing is typed yet.
pub const NOTHING: &str = "No course is typed yet. Without one there is no value by tape.";
/// Heading above the tape.
pub const TAPE: &str = "The tape";
/// Heading above what is rarely needed.
pub const RARE: &str = "Rarely needed";
/// Field: a tape of the register.
pub const CHOOSE: &str = "Tape of the register";
/// Hint of that field.
pub const CHOOSE_HINT: &str = "The button puts what is known of it into the fields below";
/// Button: take a tape's values over.
pub const TAKE: &str = "Take over what is known of this tape";
/// No tape was chosen.
pub const NO_TAPE: &str = "Choose a tape first.";
/// Link: another tape.
pub const ADD_TAPE: &str = "Add a tape to the register";
/// Button: calculate without saving.
pub const CALCULATE: &str = "Calculate, without saving";
/// Button: save.
pub const SAVE: &str = "Save the course";
/// Link: the plan.
pub const PLAN: &str = "Plan: how many passes for the uncertainty wanted";
/// Heading of the plan.
pub const PLAN_TITLE: &str = "Plan the passes";
/// What a plan is.
pub const PLAN_ABOUT: &str = "Before driving: how many passes of what length reach the uncertainty \
    wanted, and what would help most.";
/// Button: make the plan.
pub const PLAN_GO: &str = "Show the plan";
/// Tick: with the saved course.
pub const WITH_COURSE: &str = "With the saved course and its tape";
/// Hint of that tick.
pub const WITH_COURSE_HINT: &str = "Else with the length below, or the usual lengths";
/// Both a length and the saved course.
pub const BOTH_COURSES: &str = "Empty this, or take the tick from the saved course.";
/// Link: a course file.
pub const OPEN: &str = "Take a course from a file";
/// What that is for.
pub const OPEN_ABOUT: &str = "A course file as the guide describes it. It replaces the course \
    that is saved here.";
/// Field: pasted text.
pub const TEXT: &str = "Or its text, pasted";
/// Button of that form.
pub const TAKE_FILE: &str = "Take this course";
/// Neither file nor text was given.
pub const NO_FILE: [&str; 3] = [
    "No file is named, and no text was pasted.",
    "The course is as it was.",
    "Name the file, or paste its text.",
];
/// Both were given.
pub const BOTH_FILES: [&str; 3] = [
    "A file is named, and a text was pasted too.",
    "The course is as it was: the two may differ.",
    "Empty one of the two.",
];
/// The course was saved by another device meanwhile.
pub const CHANGED: [&str; 3] = [
    "The course was saved by somebody else since you opened it.",
    "It was not changed by you, and nothing that you typed is lost: it stands in the fields.",
    "Compare the two below. Sending again saves what stands in the fields.",
];
/// The saved course cannot be read any more.
pub const UNREADABLE: &str = "The saved course cannot be used as it is:";
pub(crate) const CORRECTIONS: &str = "Corrections";
pub(crate) const CORRECTION_HEADS: [&str; 3] =
    ["Correction", "Added, mm", "Standard uncertainty, mm"];
pub(crate) const NOMINAL: &str = "nominal length";
pub(crate) const SOURCE_HEADS: [&str; 4] = ["Source", "mm", "Share of the variance", "Kind"];
pub(crate) const ASSUMED: &str = "Assumed, because it was not said";
pub(crate) const PLAN_HEADS: [&str; 4] = ["Passes", "Tape", "Satellite", "Combined"];

/// The course is saved, and where.
#[must_use]
pub fn saved(path: &str) -> String {
    format!("It is saved for this job, in {path}.")
}
