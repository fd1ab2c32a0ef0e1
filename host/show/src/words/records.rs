//! The stations of signing off and of records.

/// What stands in front of signed-off captures.
pub const FIELD_CAPTURE: &str = "Measured course";
/// Another capture than those of the job.
pub const FIELD_OTHER: &str = "Another capture, by its file on this computer";
/// Said of it.
pub const HINT_OTHER: &str = "For one that was recorded elsewhere; it is taken in place of the \
    one above.";
/// Said of the choice of captures.
pub const HINT_CAPTURE: &str = "The newest of this job is chosen. Choose \"not said\" to sign off \
    without it.";
/// Said where there is no capture to choose.
pub const HINT_NONE: &str = "This job has none.";
/// Said of what was said while it was recorded.
pub const SAID_BEFORE: &str = "Said already in the capture.";
/// Said of what stands in the record that is amended.
#[must_use]
pub fn in_record(value: &str) -> String {
    format!("In the record: {value}. Leave it empty to keep that.")
}

/// Groups of the form.
pub const GROUP_WHAT: &str = "What is signed off";
/// What stood and stands in the terminal.
pub const GROUP_TERMINAL: &str = "In the terminal";
/// Under what it was measured.
pub const GROUP_CONDITIONS: &str = "Conditions";
/// How parts are calculated.
pub const GROUP_HOW: &str = "How it is calculated";
/// All else.
pub const GROUP_ELSE: &str = "Remarks";

/// Show the record before it is one.
pub const SHOW_RECORD: &str = "Show the record first";
/// Sign off.
pub const SIGN_NOW: &str = "Sign off now";
/// The record as it would be.
pub const AS_IT_WOULD_BE: &str = "As it would be signed off";
/// What it would do.
pub const AS_IT_WOULD_DO: &str = "What would be done";
/// Nothing happened yet.
pub const NOT_YET: &str = "Nothing is done yet. Read this, then do it, or change it below.";
/// What is to be read before all else.
pub const WARNINGS: &str = "Warnings";
/// Change what was typed.
pub const CHANGE: &str = "Change something";
/// Something was signed off meanwhile.
pub const MEANWHILE: [&str; 3] = [
    "Another record was signed off after this was shown, perhaps from another device.",
    "Nothing was signed off now, and nothing that you typed is lost.",
    "Look at the newest record, then sign off again if this one is still needed.",
];
/// These captures are signed off.
#[must_use]
pub fn signed_already(id: &str) -> String {
    format!(
        "What is chosen here was signed off as record {id}. Signing it off again makes a second \
         record; to correct the first one, amend it."
    )
}
/// A capture that cannot be read.
#[must_use]
pub fn unread(file: &str, why: &str) -> String {
    format!("{file}: {why}")
}

/// Heading of the list.
pub const FIND: &str = "Find records";
/// Words that are looked for.
pub const FIELD_WORDS: &str = "Words";
/// Said of it.
pub const HINT_WORDS: &str = "All of them: rig, place, size, value, remark, name of the record.";
/// Which rig.
pub const FIELD_RIG: &str = "Rig";
/// Any rig.
pub const ANY_RIG: &str = "The active rig if none is chosen.";
/// Look for it.
pub const LOOK: &str = "Find";
/// No record is there.
pub const NO_RECORD: &str = "No record is found. Signing off makes one.";
/// How many are shown of how many.
#[must_use]
pub fn shown_of(first: usize, last: usize, all: usize) -> String {
    format!("Records {first} to {last} of {all}, the newest first")
}
/// The page before.
pub const NEWER: &str = "Newer records";
/// The page behind.
pub const OLDER: &str = "Older records";
/// The record by another one.
#[must_use]
pub fn superseded(id: &str) -> String {
    format!("superseded by {id}")
}
/// A damaged one.
#[must_use]
pub fn damaged(why: &str) -> String {
    format!("DAMAGED: {why}")
}
/// What to do with damaged ones.
pub const BEWARE_DAMAGED: &str = "Do not use a damaged record: restore the last backup into \
    another folder and use it there. Every other record is sound.";
/// Simulated.
pub const PRACTICE: &str = "PRACTICE";
/// Without a course.
pub const NO_COURSE: &str = "no course";

/// Of one record.
#[must_use]
pub fn record(id: &str) -> String {
    format!("Record {id}")
}
/// It was replaced.
pub const GO_BY_THAT: &str = "Go by the newer one";
/// What is in it.
pub const IN_WORDS: &str = "In words";
/// Papers.
pub const PAPERS: &str = "Papers to print";
/// How to print.
pub const HOW_TO_PRINT: &str = "Each opens as it prints. Then print it with the browser: Ctrl + P, \
    on a tablet Share or the menu, then Print. The size of the sheet stands in the paper.";
/// The long form.
pub const LONG_A4: &str = "Long form, A4";
/// The same.
pub const LONG_LETTER: &str = "Long form, Letter";
/// The short form.
pub const SHORT_A4: &str = "Short form, A4";
/// The same.
pub const SHORT_LETTER: &str = "Short form, Letter";
/// Back from a paper.
pub const BACK: &str = "Back";
/// How to print, on the paper itself.
pub const PRINT_IT: &str = "Print with the browser (Ctrl + P). This line is not printed.";
/// Files to save.
pub const FILES: &str = "Files to save";
/// The record itself.
pub const FILE_JSON: &str = "The record, JSON";
/// As a table.
pub const FILE_CSV: &str = "As a row of a table, CSV";
/// Its passes.
pub const FILE_PASSES: &str = "Its passes, CSV";
/// The long form as a file.
pub const FILE_LONG: &str = "Long form, as a page";
/// The short form as a file.
pub const FILE_SHORT: &str = "Short form, as a page";
/// The capture of the course.
pub const FILE_CAPTURE: &str = "Capture of the course";
/// The capture of a part.
#[must_use]
pub fn file_capture(title: &str) -> String {
    format!("Capture: {title}")
}
/// What else can be done with it.
pub const MORE: &str = "With this record";
/// Compare.
pub const COMPARE: &str = "Compare with another record";
/// The other one.
pub const FIELD_OTHER_RECORD: &str = "The other record";
/// Compare them.
pub const COMPARE_NOW: &str = "Compare";
/// Of the rig.
pub const HISTORY: &str = "History of the rig";
/// Recalculate.
pub const VERIFY: &str = "Verify it";
/// What verifying is.
pub const VERIFY_IS: &str = "Its captures are recalculated and compared with what was signed off.";
/// Amend.
pub const AMEND: &str = "Amend it";
/// What amending is.
pub const AMEND_IS: &str = "A new record takes its place; this one stays and says so.";
/// Heading of an amendment.
#[must_use]
pub fn amend(id: &str) -> String {
    format!("Amend record {id}")
}
/// Fields of an amendment.
pub const FIELD_REASON: &str = "What was wrong or has changed";
/// Parts left out.
pub const FIELD_WITHOUT: &str = "Parts to leave out";

/// The sheet of settings.
pub const SHEET: &str = "Sheet of settings";
/// What it is.
pub const SHEET_IS: &str = "All that is keyed into the terminal for a rig, on one sheet, each \
    number with its uncertainty and the record that holds it.";
/// Draw it.
pub const SHEET_SHOW: &str = "Show the sheet";
/// A printed one.
pub const FIELD_PRINTED: &str = "Name of a sheet printed before";
/// Said of it.
pub const HINT_PRINTED: &str = "As at its foot: it is said whether it is still the one of today.";
/// The sheet, A4.
pub const SHEET_A4: &str = "The sheet, A4";
/// The same.
pub const SHEET_LETTER: &str = "The sheet, Letter";
/// Exports.
pub const EXPORTS: &str = "Tables for other programs";
/// Tables of records.
pub const TABLE_RECORDS: &str = "Records: a row a record";
/// Of passes.
pub const TABLE_PASSES: &str = "Passes: a row a pass and sensor";
/// Of speeds.
pub const TABLE_SPEEDS: &str = "Speeds: a row for each steady run of a capture";
/// Of slip.
pub const TABLE_SLIP: &str = "Slip: a row for each section of a capture";
/// Format.
pub const FIELD_FORMAT: &str = "Format";
/// Which captures.
pub const FIELD_WHICH: &str = "Capture";
/// All captures.
pub const ALL_CAPTURES: &str = "all of this job";
/// As it is.
pub const FIELD_RAW: &str = "In CSV, leave text as it is";
/// Said of it.
pub const HINT_RAW: &str = "Even where a spreadsheet would take it for a formula.";
/// Save it.
pub const DOWNLOAD: &str = "Save the table";
/// Something was said beside it.
pub const ANYWAY: &str = "Save the table all the same";
/// There is none.
pub const NO_CAPTURES: &str = "This job has no capture to make this table of.";
/// Backup.
pub const BACKUP: &str = "Backup";
/// What it is.
pub const BACKUP_IS: &str = "Everything that is saved, with all captures, in one file. Keep it on \
    another disk.";
/// Where to.
pub const FIELD_BACKUP: &str = "File to write on this computer";
/// Write it.
pub const BACKUP_WRITE: &str = "Write the backup";
/// Through the browser.
pub const BACKUP_DOWNLOAD: &str = "Save it with the browser";
/// Too long for the browser.
#[must_use]
pub fn backup_long(mib: u64) -> [String; 3] {
    [
        format!("What is saved here is longer than {mib} MiB."),
        "Nothing was written: the browser would have to hold all of it at once.".to_owned(),
        "Name a file on this computer instead.".to_owned(),
    ]
}
/// Not whole, so not handed out.
#[must_use]
pub fn backup_damaged(damaged: &[String]) -> [String; 3] {
    [
        format!("Not all of it can be backed up: {}.", damaged.join("; ")),
        "No file was handed out: whoever has it would take it for a whole backup.".to_owned(),
        "Write it into a file by the form above: all that is sound goes into it, and what is not \
         is named."
            .to_owned(),
    ]
}
/// Restore.
pub const RESTORE: &str = "Restore";
/// What it is.
pub const RESTORE_IS: &str = "Everything of a backup into a folder that holds no register yet. \
    First it is said what the file holds and whether it is sound; nothing is ever written over.";
/// The backup.
pub const FIELD_FROM: &str = "Backup file on this computer";
/// Where to.
pub const FIELD_FOLDER: &str = "Folder to restore into";
/// Said of it.
pub const HINT_FOLDER: &str = "An empty or a new one. To work with it, start the program with \
    --data and this folder.";
/// Look into it.
pub const RESTORE_LOOK: &str = "Look into the backup";
/// Do it.
pub const RESTORE_NOW: &str = "Restore it now";
/// The bin.
pub const BIN: &str = "Bin";
/// What it is.
pub const BIN_IS: &str = "What was removed of rigs and what they name, until the bin is emptied.";
/// Nothing in it.
pub const BIN_EMPTY: &str = "The bin is empty.";
/// Since when.
#[must_use]
pub fn removed(since_utc: &str) -> String {
    format!("removed {since_utc}")
}
/// Out again.
#[must_use]
pub fn bring_back(word: &str, name: &str) -> String {
    format!("Bring back the {word} \"{name}\"")
}
/// Empty it.
pub const EMPTY: &str = "Show what emptying would delete";
/// For good.
pub const EMPTY_NOW: &str = "Delete it for good";
/// Import.
pub const IMPORT: &str = "Recordings made elsewhere";
/// What it is.
pub const IMPORT_IS: &str = "The receiver's sentences and a table of counts, made into a capture \
    of this job. All are files on this computer.";
/// Its fields.
pub const FIELD_NMEA: &str = "The receiver's sentences (NMEA 0183)";
/// Counts.
pub const FIELD_COUNTS: &str = "Table of counts (CSV)";
/// Bus.
pub const FIELD_BUS: &str = "Or a recording of the implement bus";
/// Marks.
pub const FIELD_MARKS: &str = "Table of marks (CSV)";
/// Course.
pub const FIELD_COURSE: &str = "Course file";
/// The capture.
pub const FIELD_OUT: &str = "Capture to make";
/// Make it.
pub const IMPORT_NOW: &str = "Make the capture";
/// Verify all.
pub const VERIFY_ALL: &str = "Verify records";
/// What it is.
pub const VERIFY_ALL_IS: &str = "Every record is recalculated from its captures and compared with \
    what was signed off, and the register is checked. With many records this takes long; it goes \
    on whatever becomes of this page.";
/// Which.
pub const FIELD_RECORDS: &str = "Only these records, by their names";
/// Said of it.
pub const HINT_RECORDS: &str = "With blanks between them; empty for all.";
/// Begin.
pub const VERIFY_NOW: &str = "Verify";
/// Going on.
#[must_use]
pub fn verifying(done: u64, all: u64) -> String {
    format!("Verifying goes on: {done} of {all} done. Look again for the result.")
}
/// Look again.
pub const LOOK_AGAIN: &str = "Look again";
/// It goes on.
pub const VERIFY_TAKEN: [&str; 3] = [
    "Records are being verified already.",
    "Nothing new was begun, and the first one goes on.",
    "Wait for its result.",
];
/// The last one.
pub const VERIFIED: &str = "The last result";
/// Everything held.
pub const ALL_HOLD: &str = "Everything that was verified holds.";
/// Not everything.
pub const LOOK_AT_LINES: &str = "Not everything holds: look at the lines below.";
/// History.
pub const HISTORY_IS: &str = "Has the value of a rig changed? Each record against those before \
    it, and the trend, with a chart.";
/// Show it.
pub const HISTORY_SHOW: &str = "Show the history";
/// Sensor.
pub const FIELD_SENSOR: &str = "Sensor";
/// Practice.
pub const FIELD_PRACTICE: &str = "Practice records instead of measured ones";

/// Label of an option when a visit is signed off.
#[must_use]
pub fn label(option: &str) -> &'static str {
    match option {
        "capture" => FIELD_CAPTURE,
        "reason" => FIELD_REASON,
        "without" => FIELD_WITHOUT,
        "rig" => FIELD_RIG,
        "channel" => FIELD_SENSOR,
        "course" => FIELD_COURSE,
        "length" => "Or its length",
        "pto" => "PTO",
        "mount" => "Antenna position",
        "speeds" => "Speeds",
        "proof" => "Proof drive",
        "as-found" => "As found, impulses per 100 m",
        "as-left" => "As left, impulses per 100 m",
        "rate" => "Rate of the implement, litres per hectare",
        "location" => "Where",
        "stated" => "Stated by the customer and not checked",
        "because" => "Why a flagged result is signed off anyway",
        "remark" => "Opinion or remark",
        "display-step" => "PTO: last step of the display",
        "set-now" => "PTO: set in the terminal now",
        "taped-right" => "Antenna as taped, to the right",
        "taped-ahead" => "Antenna as taped, ahead",
        "axle-to-hitch" => "Axle to coupling point",
        "radar-nominal" => "Speeds: nominal value of the radar",
        "entered" => "Proof drive: value keyed in",
        "old" => "Proof drive: value before",
        "step" => "Proof drive: last step of the distance",
        "speed-step" => "Proof drive: last step of the speed",
        _ => "",
    }
}

/// The chart, to print.
pub const CHART: &str = "The history with its chart";
