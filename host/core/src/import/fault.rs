//! Why recordings cannot be made into a capture: what, what it means, what to do.

use crate::capture::BODY_MAX;
use crate::timeline::join::JoinRefusal;
use crate::wire::import_rows::RowFault;

/// One of the files given.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum InputFile {
    /// The file of the receiver's sentences.
    Nmea,
    /// The table of counts.
    Counts,
    /// The table of marks.
    Marks,
    /// The recording of the bus.
    Bus,
}

impl InputFile {
    /// The word used in messages.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            InputFile::Nmea => "receiver recording",
            InputFile::Counts => "counts table",
            InputFile::Marks => "marks table",
            InputFile::Bus => "bus recording",
        }
    }
}

/// Why there is no capture.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ImportFault {
    /// Nothing in the file.
    #[error("The {} is empty.", .0.name())]
    Empty(InputFile),
    /// No line of the recording starts a sentence.
    #[error(
        "The receiver recording holds no sentence: no line starts with \"$\", with or without a \
         time before it."
    )]
    NotNmea,
    /// No sentence has a sound checksum.
    #[error(
        "No sentence of the receiver recording has a sound checksum: {without} have none, {wrong} \
         have a wrong one."
    )]
    NoSoundSentence {
        /// Sentences without any checksum.
        without: u64,
        /// Sentences with a wrong one.
        wrong: u64,
    },
    /// No sentence can be used, and not for want of a checksum.
    #[error(
        "No sentence of the receiver recording can be used: {without} have no checksum, {wrong} \
         have a wrong one, and {unusable} have a sound one but hold what cannot be; the first, \
         {first}."
    )]
    NoUsableSentence {
        /// Sentences without any checksum.
        without: u64,
        /// Sentences with a wrong one.
        wrong: u64,
        /// Sentences with a sound one that are no sentences of use.
        unusable: u64,
        /// The first of all these lines, and why it cannot be used.
        first: String,
    },
    /// The sentences hold times of day and no date, and nothing else shows it.
    #[error("The receiver recording holds times of day but no date.")]
    NoDate,
    /// The receiver never had a fix.
    #[error(
        "The receiver recording holds no usable fix: no epoch gives a position that is measured \
         and not contradicted."
    )]
    NoFix,
    /// The first line of a table does not name the columns.
    #[error("The {}: {}.", .0.name(), .1)]
    Header(InputFile, RowFault),
    /// The table holds nothing below its header.
    #[error("The {} holds nothing below its header line.", .0.name())]
    NoRows(InputFile),
    /// Below its header the table holds no line that can be read.
    #[error("No line of the {} can be read; the first: {}.", .0.name(), .1)]
    NoGoodRows(InputFile, RowFault),
    /// A time is earlier than the one in the line before.
    #[error("Line {line} of the counts table is {back_s} s earlier than the one before.")]
    TimeBack {
        /// Line number in the counts table, from 1.
        line: usize,
        /// By how much, seconds.
        back_s: f64,
    },
    /// The lines of the counts table are too far apart.
    #[error("The counts table has a line every {interval_s:.1} s only.")]
    TooCoarse {
        /// Usual spacing of the lines, seconds.
        interval_s: f64,
    },
    /// Neither wheel nor radar counted anything.
    #[error("Neither wheel nor radar counted in the counts table.")]
    NoMotion,
    /// No line of the bus recording is a frame.
    #[error("No line of the bus recording is a frame.")]
    NotBus,
    /// No frame carries a speed.
    #[error("No frame of the bus recording carries a speed or the speed of the PTO.")]
    NoBusSpeed,
    /// No distance on the bus changed.
    #[error("Neither wheel-based nor ground-based distance changed in the bus recording.")]
    BusStood,
    /// The streams have no second in common.
    #[error(
        "The counts run from {} to {}, the receiver from {} to {}: no second in common.",
        .counts.0, .counts.1, .receiver.0, .receiver.1
    )]
    Apart {
        /// First and last time of the counts.
        counts: (String, String),
        /// First and last time of the receiver.
        receiver: (String, String),
    },
    /// Marks on the board's clock beside counts on UTC.
    #[error("The marks carry board_s, the counts utc: they have no clock in common.")]
    MarksClock,
    /// No common clock, and the speeds do not show it.
    #[error("The counts and the receiver have no clock in common, and their speeds {0}")]
    Join(JoinRefusal),
    /// The course file cannot be used.
    #[error("{0}.")]
    Course(String),
    /// The course file is longer than a record.
    #[error("The course file is longer than {} bytes.", BODY_MAX)]
    CourseTooLong,
}

impl ImportFault {
    /// What that means for the value.
    #[must_use]
    pub const fn means(&self) -> &'static str {
        match self {
            Self::Empty(_) | Self::NoRows(_) | Self::NoGoodRows(..) => {
                "There is nothing to measure from."
            }
            Self::NotNmea => "It is another kind of file, or the two files are exchanged.",
            Self::NoSoundSentence { .. } => {
                "One changed digit of a longitude is worth metres, and without a checksum \
                 nothing would show it; nothing is measured from such sentences."
            }
            Self::NoUsableSentence { .. } => {
                "A sentence whose time, position, status or quality cannot be is not measured from."
            }
            Self::NoDate => "The fixes cannot be placed in time.",
            Self::NoFix => "There is no satellite distance, and nothing to join the counts to.",
            Self::Header(..) => "The columns cannot be recognised.",
            Self::TimeBack { .. } => {
                "The counter's clock was set or restarted there, so the lines after it have \
                 no known place on the clock of those before."
            }
            Self::TooCoarse { .. } => {
                "Standing and driving cannot be distinguished at the pegs, so no pass could be \
                 measured."
            }
            Self::NoMotion => "There is no value without impulses.",
            Self::NotBus => "It is another kind of file, or the files are exchanged.",
            Self::NoBusSpeed => {
                "The tractor's control unit was not on that bus, or it does not send its speed."
            }
            Self::BusStood => "There is nothing to hold against the receiver's speed.",
            Self::Apart { .. } => "They are not of one drive, or one of the clocks is wrong.",
            Self::MarksClock => "It cannot be determined at which count a mark was given.",
            Self::Join(_) => {
                "Counts and fixes cannot be put side by side, so nothing is made of them."
            }
            Self::Course(_) | Self::CourseTooLong => {
                "The capture would be without its tape length."
            }
        }
    }

    /// What to do next.
    #[must_use]
    pub const fn next(&self) -> &'static str {
        match self {
            Self::Empty(_) | Self::NoRows(_) | Self::NoGoodRows(..) => {
                "Check that the recording was saved."
            }
            Self::NotNmea => "Give the receiver's NMEA 0183 sentences with --nmea.",
            Self::NoSoundSentence { .. } => {
                "Record again with checksums switched on, as the receiver sends them."
            }
            Self::NoUsableSentence { .. } => {
                "Check the receiver's output, and that nothing has rewritten its sentences."
            }
            Self::NoDate => {
                "Switch RMC or ZDA on, or put the time of arrival and a space before the first \
                 sentence, like 2026-05-01T08:00:00Z $GPGGA,..."
            }
            Self::NoFix => "Check antenna and sky, and that GGA and RMC are of one receiver.",
            Self::Header(..) => "Put the names of the columns in the first line.",
            Self::TimeBack { .. } => {
                "Cut the table at that line and import each part with its own marks; lines out \
                 of order can be sorted by time."
            }
            Self::TooCoarse { .. } => {
                "Record the counts at least once a second; ten times is better."
            }
            Self::NotBus => {
                "Give a recording with a frame a line, like \
                 (1700000000.123456) can0 18FE48F0#F40110270000FFFD."
            }
            Self::NoBusSpeed => "Record at the implement plug, with the ignition on.",
            Self::BusStood => "Drive while both are recorded.",
            Self::NoMotion => "Check that the columns wheel and radar hold running counts.",
            Self::Apart { .. } => {
                "Check the time zone of the counts; if their clock was never set, name the \
                 column board_s and give seconds: the speeds then show the offset."
            }
            Self::MarksClock => "Give both tables the same kind of time.",
            Self::Join(JoinRefusal::Ambiguous(_)) => {
                "Give the counts utc instead of board_s, or let both recordings run from before \
                 the first start to after the last stop, with a stand of a minute somewhere."
            }
            Self::Join(JoinRefusal::NoMatch { .. } | JoinRefusal::TooUncertain { .. }) => {
                "Check that both files are of the same drive. Where the wheels slip, give the \
                 radar's counts too, or give the counts utc instead of board_s."
            }
            Self::Join(_) => {
                "Give the counts utc instead of board_s, or record a drive with starts and \
                 stops, from a standstill on."
            }
            Self::Course(_) => "Correct the course file and import again.",
            Self::CourseTooLong => "Shorten its comments and import again.",
        }
    }
}
