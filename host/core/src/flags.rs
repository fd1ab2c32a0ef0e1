//! Flags: what was wrong with the data, what it means for the value, and what to do next.
//!
//! Codes are stable words for machines; the sentences are for the person in the cab. A flag that
//! [`Code::refuses`] takes its pass out of every value; the others let it stay, in plain sight.

mod texts;

use std::fmt::Write as _;

/// What was found. The names are stable: they stand in result files.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Code {
    /// The board reset between the marks.
    BoardReset,
    /// A count went down without a reset.
    CountWentBack,
    /// The computer slept between the marks.
    ComputerSlept,
    /// No finish was marked.
    Unfinished,
    /// Rejected by the operator.
    Rejected,
    /// More samples than a pass may have.
    PassTooLong,
    /// No count could be read at a mark.
    CountUnknown,
    /// No impulse on the channel between the marks.
    NoImpulses,
    /// Capture damaged inside the pass.
    CaptureDamaged,
    /// Frames missing between the marks; counts are absolute and stay right.
    FramesLost,
    /// No frame for more than half a second between the marks.
    LinkGap,
    /// More than 1 % of the frames of the capture were lost.
    LinkNoisy,
    /// More than 0.1 % of the edges were refused as bounce.
    NoisyInput,
    /// Edge times show impulses that never came.
    MissingPulses,
    /// Edge times show impulses too many.
    ExtraPulses,
    /// The value is too uncertain to be entered.
    TooUncertain,
    /// Edges came faster than the board can serve.
    RateLimit,
    /// A mark was given on the move.
    RollingMark,
    /// A mark was given just before the stop or after the start, and moved to the rest.
    MarkMoved,
    /// Too short a rest beside a peg for the satellite position.
    ShortRest,
    /// Fixes missing where they were needed.
    FixGap,
    /// Fixes rejected as implausible between the marks.
    FixRejected,
    /// Fix quality differs between the marks.
    FixQualityChanged,
    /// Position stood still while the sensor counted.
    FixFrozen,
    /// No usable fix in the pass.
    NoFix,
    /// Counts and positions part inside the pass.
    Uneven,
    /// The receiver's positions are much delayed.
    LargeLag,
    /// The passes out and back differ.
    DirectionsDiffer,
    /// The passes scatter far more than stopping beside pegs explains.
    PassesScatter,
    /// The receiver says its fixes are simulated.
    Simulated,
    /// No lag could be determined; rolling passes carry the uncertainty.
    LagUnknown,
    /// The wall clock was stepped during the pass.
    ClockStep,
    /// A press of the board's button never arrived.
    MarkLost,
    /// Start or finish lie away from the pegs of the other passes.
    PegElsewhere,
    /// Only one direction was driven.
    OneDirection,
    /// Fewer passes than make a value.
    FewPasses,
    /// One pass differs from the others beyond chance.
    Outlier,
    /// No course description, so no tape value.
    NoCourse,
    /// Tape and satellite lie further apart than nineteen in twenty honest jobs.
    AgreePoorly,
    /// Tape and satellite contradict each other.
    Disagree,
    /// The length of the course looks mistyped.
    CourseLengthSuspect,
    /// Tape and satellite could not be compared.
    NotCrossChecked,
    /// The capture ends without its end record.
    CaptureCut,
    /// No pass can be used.
    NoPass,
    /// More passes than one capture holds.
    TooManyPasses,
    /// A line of an imported table could not be read.
    BadImportLine,
}

impl Code {
    /// The stable word for result files.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Code::BoardReset => "BOARD_RESET",
            Code::CountWentBack => "COUNT_WENT_BACK",
            Code::ComputerSlept => "COMPUTER_SLEPT",
            Code::Unfinished => "UNFINISHED",
            Code::Rejected => "REJECTED",
            Code::PassTooLong => "PASS_TOO_LONG",
            Code::CountUnknown => "COUNT_UNKNOWN",
            Code::NoImpulses => "NO_IMPULSES",
            Code::CaptureDamaged => "CAPTURE_DAMAGED",
            Code::FramesLost => "FRAMES_LOST",
            Code::LinkGap => "LINK_GAP",
            Code::LinkNoisy => "LINK_NOISY",
            Code::NoisyInput => "NOISY_INPUT",
            Code::MissingPulses => "MISSING_PULSES",
            Code::ExtraPulses => "EXTRA_PULSES",
            Code::TooUncertain => "TOO_UNCERTAIN",
            Code::RateLimit => "RATE_LIMIT",
            Code::RollingMark => "ROLLING_MARK",
            Code::MarkMoved => "MARK_MOVED",
            Code::ShortRest => "SHORT_REST",
            Code::FixGap => "FIX_GAP",
            Code::FixRejected => "FIX_REJECTED",
            Code::FixQualityChanged => "FIX_QUALITY_CHANGED",
            Code::FixFrozen => "FIX_FROZEN",
            Code::NoFix => "NO_FIX",
            Code::Uneven => "UNEVEN",
            Code::LargeLag => "LARGE_LAG",
            Code::DirectionsDiffer => "DIRECTIONS_DIFFER",
            Code::PassesScatter => "PASSES_SCATTER",
            Code::Simulated => "SIMULATED",
            Code::LagUnknown => "LAG_UNKNOWN",
            Code::ClockStep => "CLOCK_STEP",
            Code::MarkLost => "MARK_LOST",
            Code::PegElsewhere => "PEG_ELSEWHERE",
            Code::OneDirection => "ONE_DIRECTION",
            Code::FewPasses => "FEW_PASSES",
            Code::Outlier => "OUTLIER",
            Code::NoCourse => "NO_COURSE",
            Code::AgreePoorly => "AGREE_POORLY",
            Code::Disagree => "TAPE_SATELLITE_DISAGREE",
            Code::CourseLengthSuspect => "COURSE_LENGTH_SUSPECT",
            Code::NotCrossChecked => "NOT_CROSS_CHECKED",
            Code::CaptureCut => "CAPTURE_CUT",
            Code::NoPass => "NO_PASS",
            Code::TooManyPasses => "TOO_MANY_PASSES",
            Code::BadImportLine => "BAD_IMPORT_LINE",
        }
    }

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
                | Code::PegElsewhere
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

    /// Only worth a line: the value is as good as without it.
    #[must_use]
    pub const fn is_remark(self) -> bool {
        matches!(self, Code::FramesLost | Code::Rejected | Code::MarkMoved | Code::AgreePoorly)
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
