//! The sentences of all flags, in one place so that they can be put into another language.

use super::Code;

/// What it means for the value.
pub(super) const fn means(code: Code) -> &'static str {
    match code {
        Code::BoardReset | Code::CountWentBack => {
            "the impulses before and after cannot be combined, so the pass is not used"
        }
        Code::ComputerSlept => {
            "nothing was received meanwhile and marks may be missing, so the pass is not used"
        }
        Code::Unfinished => "there is no second count, so the pass is not used",
        Code::Rejected => "the pass is not used",
        Code::PassTooLong => "the pass could not be saved whole and is not used",
        Code::CountUnknown => "the impulses of the pass are not known, so it is not used",
        Code::NoImpulses => "there is nothing to calculate for this sensor",
        Code::CaptureDamaged => {
            "samples are missing; counts are absolute, so none is lost unless flagged"
        }
        Code::FramesLost => "no impulse is lost, because counts are absolute",
        Code::LinkGap => "no impulse is lost, but a fault in that time would not be seen",
        Code::LinkNoisy => "counts stay right, but marks and fixes may be delayed or missing",
        Code::NoisyInput => "bounce may hide true impulses or let false ones through",
        Code::MissingPulses => {
            "the value would read low by a varying amount: there is none to enter"
        }
        Code::ExtraPulses => {
            "the value would read high by a varying amount: there is none to enter"
        }
        Code::TooUncertain => "no value to enter is given",
        Code::RateLimit => "impulses may be missing, so there is no value to enter",
        Code::RollingMark => "the value carries the uncertainty of the instant of the mark",
        Code::MarkMoved => "the standstill beside the peg was taken instead of the instant pressed",
        Code::ShortRest => "the satellite distance is less certain",
        Code::FixGap | Code::NoFix => "the satellite distance is less certain or not there",
        Code::FixRejected => "the receiver's data was unreliable in this pass",
        Code::FixQualityChanged => "its distance combines positions of different accuracy",
        Code::FixFrozen => "the satellite distance of this pass is not used",
        Code::Uneven => "the wheel slipped there, or impulses were lost or added",
        Code::NotStraight => "its length is not that between the marks, so it is not used",
        Code::SpeedPosition => "the satellite distance is taken from the positions alone",
        Code::Smoothed => "what it shows just after a stop is left out",
        Code::LargeLag => "it is corrected; it would matter only for marks and slip on the move",
        Code::DirectionsDiffer => {
            "something acts in one direction: slope, wind, a habit at one peg"
        }
        Code::PassesScatter => "the value is as uncertain as its interval states",
        Code::Simulated => "this is practice, not a measurement",
        Code::TwoReceivers => "two receivers seem to send on one line; fixes may be of either",
        Code::LagUnknown => "satellite distances of rolling passes carry a wide uncertainty",
        Code::ClockStep => "times of day may be wrong; the value does not use them",
        Code::ReceiverClockStep => "no distance by satellite across the step is used",
        Code::ClocksDiffer => "its dates and times may be wrong; the value does not use them",
        Code::MarkLost => "the pass that was open is not used",
        Code::MarksUnsure => "it may be the way between two passes, so it is not used",
        Code::PegElsewhere => "the pass did not run from peg to peg and is not used",
        Code::OneDirection => "slope, wind and stopping habits do not cancel out",
        Code::FewPasses => "the scatter between passes is hardly known",
        Code::Outlier => "it is still in the value and widens its uncertainty",
        Code::NoCourse => "there is no tape value and no check against the tape",
        Code::AgreePoorly => "one job in twenty shows this by chance; the uncertainty is widened",
        Code::Disagree | Code::CourseLengthSuspect => {
            "one of the two is wrong, so no value to enter is given"
        }
        Code::NotCrossChecked => "an error of the one distance used would not be noticed",
        Code::CaptureCut => "data received after the cut is not in the value",
        Code::NoPass => "there is no value",
        Code::TooManyPasses => "the later passes are not used",
        Code::BadImportLine => "that line is not used",
    }
}

/// What to do next.
pub(super) const fn advice(code: Code) -> &'static str {
    match code {
        Code::BoardReset => "check the board's supply and plug, then drive the pass again",
        Code::CountWentBack => "check that only one board is on this port, then drive again",
        Code::ComputerSlept => {
            "keep the computer awake (lid open, no sleep when idle), then drive the pass again"
        }
        Code::Unfinished | Code::PassTooLong => "drive the pass again and mark both ends",
        Code::Rejected => "drive another pass instead",
        Code::CountUnknown => "check the board's cable, then drive the pass again",
        Code::NoImpulses => "check the sensor and its plug",
        Code::CaptureDamaged => "keep the file as it is and check the disk",
        Code::FramesLost => "nothing, unless it happens often: then check the cable",
        Code::LinkGap | Code::LinkNoisy => "check the board's cable and keep it off the engine",
        Code::NoisyInput => "check sensor gap, plug and screen",
        Code::MissingPulses => "check the sensor's gap, its teeth, plug and cable, then repeat",
        Code::ExtraPulses => "check for bounce, a loose sensor or a damaged screen, then repeat",
        Code::TooUncertain => "drive more passes, stopping close beside the pegs",
        Code::RateLimit => "drive slower, or set the input filter of that input",
        Code::RollingMark => "stop beside the pegs if there is time, or use a light gate",
        Code::MarkMoved => "press only when the tractor stands",
        Code::ShortRest => "stand ten seconds beside each peg",
        Code::FixGap | Code::NoFix => "check the receiver's cable and its view of the sky",
        Code::FixRejected => "check the receiver's cable, its settings and the view of the sky",
        Code::FixQualityChanged => "wait for a steady fix before the start, then drive again",
        Code::FixFrozen => "restart the receiver",
        Code::Uneven => "look for a soft or wet place on the course, then at the sensor",
        Code::NotStraight => "tape a straight course, drive it straight, and drive again",
        Code::SpeedPosition => "check the receiver's settings and its view of the sky",
        Code::Smoothed => {
            "lower the receiver's filter, if it can be set; stand ten seconds at pegs"
        }
        Code::LargeLag => "lower the receiver's output delay or filter, if it can be set",
        Code::DirectionsDiffer => "drive as many passes back as out; check where you stop",
        Code::PassesScatter => "reject the odd pass with its reason, or drive more passes",
        Code::Simulated => "use a real receiver for a real value",
        Code::TwoReceivers => {
            "leave one receiver on the line, or turn its second set of sentences off, and repeat"
        }
        Code::LagUnknown => "start or stop within the recording, so that the delay can be measured",
        Code::ClockStep => "nothing, unless the date matters",
        // A receiver may hear of the leap seconds only once in the 12.5 minutes of the whole
        // message: IS-GPS-200, 20.3.3.5.
        Code::ReceiverClockStep => {
            "switch the receiver on a quarter of an hour before the first pass, so that its clock \
             is right by then"
        }
        Code::ClocksDiffer => {
            "look at date and time of the computer before signing off, and give the true ones in \
             a remark"
        }
        Code::MarkLost => "check the board's cable, and drive another pass",
        Code::MarksUnsure => "check the board's supply, then begin a new job",
        Code::PegElsewhere => "check at which pegs the marks were given, and drive the pass again",
        Code::OneDirection => "drive as many passes back as out",
        Code::FewPasses => "drive at least four passes, two in each direction",
        Code::Outlier => "look for slip or a missed peg; reject it only with a reason",
        Code::NoCourse => "tape the course and give its length",
        Code::AgreePoorly => "drive two more passes, which show whether this is chance",
        Code::Disagree => "check the taped length and the pegs, then the receiver",
        Code::CourseLengthSuspect => "check the length that was typed in",
        Code::NotCrossChecked => "use both tape and receiver where possible",
        Code::CaptureCut => "close a job with its own command, so that its end is saved",
        Code::NoPass => "drive the course, marking start and finish of each pass",
        Code::TooManyPasses => "begin a new capture for further passes",
        Code::BadImportLine => "correct the line in the table and import again",
    }
}
