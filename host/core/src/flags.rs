//! Flags: what was wrong with the data, what it means for the value, and what to do next.
//!
//! Codes are stable words for machines; the sentences are for the person in the cab. A flag that
//! [`Code::refuses`] takes its pass out of every value; the others let it stay, in plain sight.

mod texts;

use std::fmt::Write as _;

/// The codes, each with its stable word for result files.
macro_rules! codes {
    ($(#[doc = $about:literal] $code:ident = $word:literal,)*) => {
        /// What was found. The names are stable: they stand in result files.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub enum Code {
            $(#[doc = $about] $code,)*
        }

        impl Code {
            /// All of them, in the order in which they are looked at.
            pub const ALL: &[Self] = &[$(Self::$code,)*];

            /// What was found, in one sentence.
            #[must_use]
            pub const fn about(self) -> &'static str {
                match self { $(Code::$code => $about.trim_ascii(),)* }
            }

            /// The stable word for result files.
            #[must_use]
            pub const fn word(self) -> &'static str {
                match self { $(Code::$code => $word,)* }
            }
        }
    };
}

codes! {
    /// The board reset between the marks.
    BoardReset = "BOARD_RESET",
    /// A count went down without a reset.
    CountWentBack = "COUNT_WENT_BACK",
    /// The computer slept between the marks.
    ComputerSlept = "COMPUTER_SLEPT",
    /// No finish was marked.
    Unfinished = "UNFINISHED",
    /// Rejected by the operator.
    Rejected = "REJECTED",
    /// More samples than a pass may have.
    PassTooLong = "PASS_TOO_LONG",
    /// No count could be read at a mark.
    CountUnknown = "COUNT_UNKNOWN",
    /// No impulse on the channel between the marks.
    NoImpulses = "NO_IMPULSES",
    /// Capture damaged inside the pass.
    CaptureDamaged = "CAPTURE_DAMAGED",
    /// Frames missing between the marks; counts are absolute and stay right.
    FramesLost = "FRAMES_LOST",
    /// No frame for more than half a second between the marks.
    LinkGap = "LINK_GAP",
    /// More than 1 % of the frames of the capture were lost.
    LinkNoisy = "LINK_NOISY",
    /// More than 0.1 % of the edges were refused as bounce.
    NoisyInput = "NOISY_INPUT",
    /// Edge times show impulses that never came.
    MissingPulses = "MISSING_PULSES",
    /// Edge times show impulses too many.
    ExtraPulses = "EXTRA_PULSES",
    /// The value is too uncertain to be entered.
    TooUncertain = "TOO_UNCERTAIN",
    /// Edges came faster than the board can serve.
    RateLimit = "RATE_LIMIT",
    /// A mark was given on the move.
    RollingMark = "ROLLING_MARK",
    /// A mark was given just before the stop or after the start, and moved to the standstill.
    MarkMoved = "MARK_MOVED",
    /// Too short a standstill beside a peg for the satellite position.
    ShortRest = "SHORT_REST",
    /// Fixes missing where they were needed.
    FixGap = "FIX_GAP",
    /// Fixes rejected as implausible between the marks.
    FixRejected = "FIX_REJECTED",
    /// Fix quality differs between the marks.
    FixQualityChanged = "FIX_QUALITY_CHANGED",
    /// Position stood still while the sensor counted.
    FixFrozen = "FIX_FROZEN",
    /// No usable fix in the pass.
    NoFix = "NO_FIX",
    /// Counts and positions do not grow together inside the pass.
    Uneven = "UNEVEN",
    /// The path from mark to mark is no straight line.
    NotStraight = "NOT_STRAIGHT",
    /// Positions and speed by satellite contradict each other.
    SpeedPosition = "SPEED_POSITION_DIFFER",
    /// The receiver smooths its positions.
    Smoothed = "RECEIVER_SMOOTHS",
    /// The receiver's positions are much delayed.
    LargeLag = "LARGE_LAG",
    /// The passes out and back differ.
    DirectionsDiffer = "DIRECTIONS_DIFFER",
    /// The passes scatter far more than stopping beside pegs explains.
    PassesScatter = "PASSES_SCATTER",
    /// The receiver says its fixes are simulated.
    Simulated = "SIMULATED",
    /// Sentences come twice or out of their time: two receivers on one line.
    TwoReceivers = "TWO_RECEIVERS",
    /// The receiver's delay could not be found; rolling passes carry the uncertainty.
    LagUnknown = "LAG_UNKNOWN",
    /// The wall clock was stepped during the pass.
    ClockStep = "CLOCK_STEP",
    /// The receiver's clock was set while it was recorded.
    ReceiverClockStep = "RECEIVER_CLOCK_STEP",
    /// The computer's clock and the receiver's time lie minutes to years apart.
    ClocksDiffer = "CLOCKS_DIFFER",
    /// A press of the board's button never arrived.
    MarkLost = "MARK_LOST",
    /// The board restarted before, and its marks may be finish and start.
    MarksUnsure = "MARKS_UNSURE",
    /// Start or finish lie away from the pegs of the other passes.
    PegElsewhere = "PEG_ELSEWHERE",
    /// Only one direction was driven.
    OneDirection = "ONE_DIRECTION",
    /// Fewer passes than make a value.
    FewPasses = "FEW_PASSES",
    /// One pass differs from the others beyond chance.
    Outlier = "OUTLIER",
    /// No course description, so no tape value.
    NoCourse = "NO_COURSE",
    /// Tape and satellite lie further apart than nineteen in twenty honest jobs.
    AgreePoorly = "AGREE_POORLY",
    /// Tape and satellite contradict each other.
    Disagree = "TAPE_SATELLITE_DISAGREE",
    /// The length of the course looks mistyped.
    CourseLengthSuspect = "COURSE_LENGTH_SUSPECT",
    /// Tape and satellite could not be compared.
    NotCrossChecked = "NOT_CROSS_CHECKED",
    /// The capture ends without its closing entry.
    CaptureCut = "CAPTURE_CUT",
    /// No pass can be used.
    NoPass = "NO_PASS",
    /// More passes than one capture holds.
    TooManyPasses = "TOO_MANY_PASSES",
    /// A line of an imported table could not be read.
    BadImportLine = "BAD_IMPORT_LINE",
}

impl Code {
    /// The pass cannot be used for any value.
    #[must_use]
    pub const fn refuses(self) -> bool {
        matches!(
            self,
            Code::BoardReset
                | Code::CountWentBack
                | Code::ComputerSlept
                | Code::Unfinished
                | Code::Rejected
                | Code::PassTooLong
                | Code::CountUnknown
                | Code::NoImpulses
                | Code::MarksUnsure
                | Code::PegElsewhere
                | Code::NotStraight
        )
    }

    /// About the sensor itself, not the course or the lines.
    #[must_use]
    pub const fn is_sensor(self) -> bool {
        matches!(
            self,
            Code::NoisyInput
                | Code::RateLimit
                | Code::NoImpulses
                | Code::MissingPulses
                | Code::ExtraPulses
        )
    }

    /// The sensor is sick: what it gave in the passes it will not go on giving, so that no number
    /// is worth entering until it is mended.
    #[must_use]
    pub const fn withholds(self) -> bool {
        matches!(self, Code::MissingPulses | Code::ExtraPulses | Code::RateLimit)
    }

    /// Said of a job that has no value: none was measured, or none can be told from the other.
    #[must_use]
    pub const fn leaves_no_value(self) -> bool {
        matches!(self, Code::NoPass | Code::Disagree | Code::CourseLengthSuspect)
    }

    /// Only worth a line: the value is as good as without it.
    #[must_use]
    pub const fn is_remark(self) -> bool {
        matches!(
            self,
            Code::FramesLost
                | Code::Rejected
                | Code::MarkMoved
                | Code::AgreePoorly
                | Code::LargeLag
                | Code::Smoothed
                | Code::ClocksDiffer
        )
    }

    /// What it means for the value.
    #[must_use]
    pub const fn means(self) -> &'static str {
        texts::means(self)
    }

    /// What to do next.
    #[must_use]
    pub const fn advice(self) -> &'static str {
        texts::advice(self)
    }
}

/// One warning, with where it belongs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Flag {
    /// What kind of warning it is.
    pub code: Code,
    /// The pass concerned, if one.
    pub pass: Option<u32>,
    /// The channel concerned, if one.
    pub channel: Option<&'static str>,
    /// What happened, with its numbers.
    pub what: String,
}

impl Flag {
    /// A warning about the whole job.
    #[must_use]
    pub fn job(code: Code, what: impl Into<String>) -> Self {
        Self { code, pass: None, channel: None, what: what.into() }
    }

    /// A warning about one pass.
    #[must_use]
    pub fn pass(code: Code, number: u32, what: impl Into<String>) -> Self {
        Self { code, pass: Some(number), channel: None, what: what.into() }
    }

    /// The same warning, about one channel.
    #[must_use]
    pub fn on(mut self, channel: &'static str) -> Self {
        self.channel = Some(channel);
        self
    }

    /// One sentence: where, what happened, what it means, what to do.
    #[must_use]
    pub fn sentence(&self) -> String {
        let mut text = String::new();
        if let Some(pass) = self.pass {
            let _ = write!(text, "pass {pass}: ");
        }
        if let Some(channel) = self.channel {
            let _ = write!(text, "{channel}: ");
        }
        let _ = write!(text, "{}; {}. Next: {}.", self.what, self.code.means(), self.code.advice());
        text
    }
}
