//! Whether a pass may be started, and if not, why not and what to do.

use super::live::{SHOWN_LIVE_S, is_live};
use crate::capture::PortRole;
use crate::wire::fix::{Quality, quality_words};

/// A board says hello within this after its port was opened, seconds.
const HELLO_LIMIT_S: f64 = 5.0;
/// Inputs from which a value can be had: wheel and radar.
const FIGURE_INPUTS: u8 = 0b011;

/// What is known about a job at one moment. Ages are seconds of the person's time.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Readiness {
    /// The board's port is open.
    pub board_open: bool,
    /// Since the board's port was opened.
    pub board_open_s: f64,
    /// The board's inputs, once it said hello after its port was opened.
    pub capabilities: Option<u8>,
    /// Age of the newest counts.
    pub counts_age_s: Option<f64>,
    /// The receiver's side; `None` when the job goes without one.
    pub receiver: Option<ReceiverReadiness>,
    /// The capture can no longer be written.
    pub storage_failed: bool,
}

/// The receiver's side of it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ReceiverReadiness {
    /// Its port is open.
    pub open: bool,
    /// Age of the newest plausible fix.
    pub fix_age_s: Option<f64>,
    /// Kind of that fix.
    pub quality: Option<Quality>,
}

/// Whether a pass may be started.
///
/// # Errors
/// Every reason against it, each with what to do next.
pub fn fit_to_start(now: &Readiness) -> Result<(), Vec<String>> {
    let mut reasons = Vec::new();
    if now.storage_failed {
        reasons.push(
            "The capture cannot be written any more: finish, make room, and begin a new one."
                .to_owned(),
        );
    }
    board(now, &mut reasons);
    if let Some(receiver) = &now.receiver {
        receiver_side(receiver, &mut reasons);
    }
    if reasons.is_empty() { Ok(()) } else { Err(reasons) }
}

fn board(now: &Readiness, reasons: &mut Vec<String>) {
    if !now.board_open {
        reasons.push(lost(PortRole::Board));
        return;
    }
    match now.capabilities {
        None if now.board_open_s > HELLO_LIMIT_S => reasons.push(format!(
            "The counter board has not said who it is within {HELLO_LIMIT_S:.0} s: check the wire \
             towards the board, or press its reset button."
        )),
        None => reasons
            .push("The counter board has not yet said who it is: wait a few seconds.".to_owned()),
        Some(inputs) if inputs & FIGURE_INPUTS == 0 => reasons.push(
            "The counter board has neither a wheel nor a radar input: use another board or \
             firmware."
                .to_owned(),
        ),
        Some(_) => {}
    }
    if !is_live(now.counts_age_s) {
        reasons.push(format!(
            "No counts have come for {SHOWN_LIVE_S:.0} s: check cable and supply of the counter \
             board."
        ));
    }
}

fn receiver_side(receiver: &ReceiverReadiness, reasons: &mut Vec<String>) {
    if !receiver.open {
        reasons.push(lost(PortRole::Receiver));
    } else if !is_live(receiver.fix_age_s) {
        reasons.push(format!(
            "No usable fix has come for {SHOWN_LIVE_S:.0} s: give the antenna a free view of the \
             sky and wait, or begin again with --no-receiver."
        ));
    } else if let Some(quality) = receiver.quality
        && !quality.is_measured()
    {
        reasons.push(format!(
            "The receiver's position is {}: wait for one measured from satellites.",
            quality_words(quality)
        ));
    }
}

fn lost(role: PortRole) -> String {
    format!("The port of the {} is disconnected: plug it in again; searching.", role.name())
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn good() -> Readiness {
        Readiness {
            board_open: true,
            board_open_s: 10.0,
            capabilities: Some(0b001),
            counts_age_s: Some(0.02),
            receiver: Some(ReceiverReadiness {
                open: true,
                fix_age_s: Some(0.1),
                quality: Some(Quality::Standalone),
            }),
            storage_failed: false,
        }
    }

    fn receiver(change: impl FnOnce(&mut ReceiverReadiness)) -> Readiness {
        let mut now = good();
        change(now.receiver.as_mut().unwrap());
        now
    }

    #[test]
    fn every_reason_stands_against_a_start_by_itself() {
        assert_eq!(fit_to_start(&good()), Ok(()));
        assert_eq!(fit_to_start(&Readiness { receiver: None, ..good() }), Ok(()));
        for (now, word) in [
            (Readiness { storage_failed: true, ..good() }, "capture"),
            (Readiness { board_open: false, ..good() }, "port of the counter board"),
            (Readiness { capabilities: None, ..good() }, "within 5 s"),
            (Readiness { capabilities: None, board_open_s: 1.0, ..good() }, "not yet"),
            (Readiness { capabilities: Some(0b100), ..good() }, "neither"),
            (Readiness { counts_age_s: Some(1.8), ..good() }, "No counts"),
            (Readiness { counts_age_s: None, ..good() }, "No counts"),
            (receiver(|r| r.open = false), "port of the satellite receiver"),
            (receiver(|r| r.fix_age_s = Some(1.8)), "No usable fix"),
            (receiver(|r| r.fix_age_s = None), "No usable fix"),
            (receiver(|r| r.quality = Some(Quality::Estimated)), "estimated"),
            (receiver(|r| r.quality = Some(Quality::None)), "none"),
        ] {
            let reasons = fit_to_start(&now).unwrap_err();
            assert_eq!(reasons.len(), 1, "{reasons:?}");
            assert!(reasons[0].contains(word), "{word}: {reasons:?}");
        }
    }
}
