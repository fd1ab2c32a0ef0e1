//! Flags: what was wrong with the data, what it means for the figure, and what to do next.
//!
//! Codes are stable words for machines; the sentences are for the person in the cab. A flag that
//! [`Code::refuses`] takes its pass out of every figure; the others let it stay, in plain sight.

use std::fmt::Write as _;

/// What was found. The names are stable: they stand in result files.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Code {
    /// The board reset between the marks.
    BoardReset,
    /// A count went down without a reset.
    CountWentBack,
    /// No finish was marked.
    Unfinished,
    /// Left out by the operator.
    LeftOut,
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
    /// The figure is too doubtful to be entered.
    TooDoubtful,
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
    /// The receiver's positions trail far behind.
    LargeLag,
    /// The passes out and back differ.
    DirectionsDiffer,
    /// The passes scatter far more than stopping beside pegs explains.
    PassesScatter,
    /// The receiver says its fixes are simulated.
    Simulated,
    /// No lag could be told; rolling passes carry the doubt.
    LagUnknown,
    /// The wall clock was stepped during the pass.
    ClockStep,
    /// A press of the board's button never arrived.
    MarkLost,
    /// Start or finish lie away from the pegs of the other passes.
    PegElsewhere,
    /// Only one direction was driven.
    OneDirection,
    /// Fewer passes than make a figure.
    FewPasses,
    /// One pass differs from the others beyond chance.
    Outlier,
    /// No course description, so no tape figure.
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
            Code::Unfinished => "UNFINISHED",
            Code::LeftOut => "LEFT_OUT",
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
            Code::TooDoubtful => "TOO_DOUBTFUL",
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

    /// The pass cannot be used for any figure.
    #[must_use]
    pub const fn refuses(self) -> bool {
        matches!(
            self,
            Code::BoardReset
                | Code::CountWentBack
                | Code::Unfinished
                | Code::LeftOut
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

    /// Only worth a line: the figure is as good as without it.
    #[must_use]
    pub const fn is_remark(self) -> bool {
        matches!(self, Code::FramesLost | Code::LeftOut | Code::MarkMoved | Code::AgreePoorly)
    }

    /// What it means for the figure.
    #[must_use]
    pub const fn means(self) -> &'static str {
        match self {
            Code::BoardReset | Code::CountWentBack => {
                "the impulses before and after cannot be joined, so the pass is not used"
            }
            Code::Unfinished => "there is no second count, so the pass is not used",
            Code::LeftOut => "the pass is not used",
            Code::PassTooLong => "the pass could not be kept whole and is not used",
            Code::CountUnknown => "the impulses of the pass are not known, so it is not used",
            Code::NoImpulses => "there is nothing to work out for this sensor",
            Code::CaptureDamaged => {
                "samples are missing; counts are absolute, so none is lost unless flagged"
            }
            Code::FramesLost => "no impulse is lost, because counts are absolute",
            Code::LinkGap => "no impulse is lost, but a fault in that time would not be seen",
            Code::LinkNoisy => "counts stay right, but marks and fixes may come late or not at all",
            Code::NoisyInput => "bounce may hide true impulses or let false ones through",
            Code::MissingPulses => {
                "the figure would be too low, and not stay so: there is none to enter"
            }
            Code::ExtraPulses => {
                "the figure would be too high, and not stay so: there is none to enter"
            }
            Code::TooDoubtful => "no figure to enter is given",
            Code::RateLimit => "impulses may be missing, so there is no figure to enter",
            Code::RollingMark => "the figure carries the doubt of the instant of the mark",
            Code::MarkMoved => "the rest beside the peg was taken instead of the instant pressed",
            Code::ShortRest => "the satellite distance is less sure",
            Code::FixGap | Code::NoFix => "the satellite distance is less sure or not there",
            Code::FixRejected => "the receiver's data was doubtful in this pass",
            Code::FixQualityChanged => "the satellite distance joins positions of unlike worth",
            Code::FixFrozen => "the satellite distance of this pass is not used",
            Code::Uneven => "the wheel slipped there, or impulses were lost or added",
            Code::LargeLag => {
                "it is taken off; it would matter only for marks and slip on the move"
            }
            Code::DirectionsDiffer => "something pulls one way: slope, wind, a habit at one peg",
            Code::PassesScatter => "the figure is as doubtful as its interval says",
            Code::Simulated => "this is practice, not a measurement",
            Code::LagUnknown => "satellite distances of rolling passes carry a wide doubt",
            Code::ClockStep => "times of day may be wrong; the figure does not use them",
            Code::MarkLost => "the pass that was open is not used",
            Code::PegElsewhere => "the pass did not run from peg to peg and is not used",
            Code::OneDirection => "slope, wind and stopping habits do not cancel out",
            Code::FewPasses => "the scatter between passes is hardly known",
            Code::Outlier => "it is still in the figure and widens its doubt",
            Code::NoCourse => "there is no tape figure and no check against the tape",
            Code::AgreePoorly => "one job in twenty shows this by chance; the doubt is widened",
            Code::Disagree | Code::CourseLengthSuspect => {
                "one of the two is wrong, so no figure to enter is given"
            }
            Code::NotCrossChecked => "an error of the one distance used would not be noticed",
            Code::CaptureCut => "what came after the cut is not in the figure",
            Code::NoPass => "there is no figure",
            Code::TooManyPasses => "the later passes are not used",
            Code::BadImportLine => "that line is not used",
        }
    }

    /// What to do next.
    #[must_use]
    pub const fn advice(self) -> &'static str {
        match self {
            Code::BoardReset => "check the board's supply and plug, then drive the pass again",
            Code::CountWentBack => "check that only one board is on this port, then drive again",
            Code::Unfinished | Code::PassTooLong => "drive the pass again and mark both ends",
            Code::LeftOut => "drive another pass in its place",
            Code::CountUnknown => "check the board's cable, then drive the pass again",
            Code::NoImpulses => "check the sensor and its plug",
            Code::CaptureDamaged => "keep the file as it is and check the disk",
            Code::FramesLost => "nothing, unless it happens often: then check the cable",
            Code::LinkGap | Code::LinkNoisy => "check the board's cable and keep it off the engine",
            Code::NoisyInput => "check sensor gap, plug and screen",
            Code::MissingPulses => "check the sensor's gap, its teeth, plug and cable, then repeat",
            Code::ExtraPulses => {
                "check for bounce, a loose sensor or a damaged screen, then repeat"
            }
            Code::TooDoubtful => "drive more passes, stopping close beside the pegs",
            Code::RateLimit => "drive slower, or set the input's least edge interval",
            Code::RollingMark => "stop beside the pegs if there is time, or use a light gate",
            Code::MarkMoved => "press only when the tractor stands",
            Code::ShortRest => "stand ten seconds beside each peg",
            Code::FixGap | Code::NoFix => "check the receiver's cable and its view of the sky",
            Code::FixRejected => "check the receiver's cable, its settings and the view of the sky",
            Code::FixQualityChanged => "wait for a steady fix before the start, then drive again",
            Code::FixFrozen => "restart the receiver",
            Code::Uneven => "look for a soft or wet place on the course, then at the sensor",
            Code::LargeLag => "lower the receiver's output delay or filter, if it can be set",
            Code::DirectionsDiffer => "drive as many passes back as out; check where you stop",
            Code::PassesScatter => "leave the odd pass out with its reason, or drive more passes",
            Code::Simulated => "use a real receiver for a real figure",
            Code::LagUnknown => "start or stop within the recording, so that the lag can be seen",
            Code::ClockStep => "nothing, unless the date matters",
            Code::MarkLost => "check the board's cable, and drive another pass",
            Code::PegElsewhere => {
                "check at which pegs the marks were given, and drive the pass again"
            }
            Code::OneDirection => "drive as many passes back as out",
            Code::FewPasses => "drive at least four passes, two each way",
            Code::Outlier => "look for slip or a missed peg; leave it out only with a reason",
            Code::NoCourse => "tape the course and give its length",
            Code::AgreePoorly => "two more passes would tell chance from fault",
            Code::Disagree => "check the taped length and the pegs, then the receiver",
            Code::CourseLengthSuspect => "check the length that was typed in",
            Code::NotCrossChecked => "use both tape and receiver where possible",
            Code::CaptureCut => "finish a job with its own command, so that the end is on file",
            Code::NoPass => "drive the course, marking start and finish of each pass",
            Code::TooManyPasses => "begin a new capture for further passes",
            Code::BadImportLine => "correct the line in the table and import again",
        }
    }
}

/// One finding.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Flag {
    /// What kind.
    pub code: Code,
    /// The pass concerned, if one.
    pub pass: Option<u32>,
    /// The channel concerned, if one.
    pub channel: Option<&'static str>,
    /// What happened, with its numbers.
    pub what: String,
}

impl Flag {
    /// A finding about the whole job.
    #[must_use]
    pub fn job(code: Code, what: impl Into<String>) -> Self {
        Self { code, pass: None, channel: None, what: what.into() }
    }

    /// A finding about one pass.
    #[must_use]
    pub fn pass(code: Code, number: u32, what: impl Into<String>) -> Self {
        Self { code, pass: Some(number), channel: None, what: what.into() }
    }

    /// The same finding, about one channel.
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
