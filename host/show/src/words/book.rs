//! Words of the handbook that are in no chapter, and the names of its entries.

/// Its name, and that of every link to it.
pub const HANDBOOK: &str = "Handbook";
/// Where the program serves it.
pub const PATH: &str = "/handbook";
/// The same, before the name of an entry.
pub(crate) const ENTRIES: &str = "/handbook#";
/// What it is.
pub const ABOUT: &str = "Everything on one page: search it with the browser's own search \
                         (Ctrl + F). Flags, troubles, commands and columns are written from the \
                         program's own tables.";
/// Over the list of chapters.
pub const CHAPTERS: &str = "Chapters";
/// Over the index.
pub const INDEX: &str = "Index of words";
/// The way to the list of chapters.
pub const TO_CHAPTERS: &str = "To the chapters";
/// The last line.
pub const END: &str = "End of the handbook";
/// The capture cannot be written: what stands on the screen names the disk's own reason.
pub const STORAGE: &str = "The capture can no longer be written: nothing more is recorded. Close \
                           the job, check the disk, and start a new recording.";
/// Over the flags.
pub const FLAGS: &str = "Flags of a result, by their word";
/// Over the flags of a section of slip.
pub const SLIP_FLAGS: &str = "Flags of a section of slip";
/// Before them.
pub const SLIP_ABOUT: &str = "\"They\" are the sections of the distance that have the flag.";
/// Over the warnings of the comparison of speeds.
pub const SPEED_FLAGS: &str = "Flags of the three speeds";
/// Over the faults of a sensor.
pub const SENSORS: &str = "Faults of a sensor, as the check names them";
/// Over the troubles.
pub const TROUBLES: &str = "Troubles of a live job, the gravest first";
/// Before the examples.
pub const EXAMPLE: &str = "The numbers are an example.";
/// Over what the page says to whoever is not let in.
pub const REFUSED: &str = "When the page does not let a device in";
/// Over the stations.
pub const STATIONS: &str = "The stations of the page";
/// Over the options that several commands take.
pub const SHARED: &str = "Options that several commands take";
/// Before their names, at a command.
pub const TAKES: &str = "Also";
/// The way to them.
pub const BELOW: &str = "explained below";
/// What the screen says.
pub const SAYS: &str = "On the screen";
/// Beside what a flag means.
pub const MEANS: &str = "It means";
/// Beside what to do.
pub const NEXT: &str = "Next";
/// A flag that takes its pass out.
pub const REFUSES: &str = "The pass is not used.";
/// A flag that leaves no value.
pub const WITHHOLDS: &str = "There is no value to enter.";
/// A flag that is only a remark.
pub const REMARK: &str = "A remark: it does not speak against entering the value.";
/// Any other flag.
pub const CARE: &str = "Take care: the value may be affected.";
/// What a column is called.
pub const COLUMN: &str = "Column";
/// What it is.
pub const IS: &str = "What it is";
/// Over the cautions, list by list.
pub const CAUTIONS: [&str; 4] = [
    "On every job",
    "At the PTO shaft",
    "On a proof drive (only here a passenger is allowed, as said below)",
    "At the implement bus",
];
/// It is opened.
pub const OPENING: &str = "Opening it in the browser. If nothing is shown there, write it where \
                           the browser may read: trundle handbook --to FOLDER";
/// No browser.
pub const NOT_OPENED: &str = "No browser can be opened from here: open this file in one.";
/// Not written.
pub const NOT_WRITTEN: [&str; 2] =
    ["The handbook was not written.", "Choose another folder with --to."];

/// Where it is.
#[must_use]
pub fn written(file: &str) -> String {
    format!("The handbook is {file}")
}

/// Over the columns of a table.
#[must_use]
pub fn columns(table: &str) -> String {
    format!("Columns of {table}")
}

/// The name of an entry: small letters and digits, the rest as dashes.
#[must_use]
pub fn anchor(kind: &str, word: &str) -> String {
    let letter = |c: char| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '-' };
    format!("{kind}-{}", word.chars().map(letter).collect::<String>())
}

/// The name of the entry of a flag with this word.
#[must_use]
pub fn flag(word: &str) -> String {
    anchor("flag", word)
}

/// The name of the entry of a trouble with this word.
#[must_use]
pub fn trouble(word: &str) -> String {
    anchor("trouble", word)
}

/// Where the program serves an entry.
#[must_use]
pub fn at(entry: &str) -> String {
    format!("{ENTRIES}{entry}")
}
