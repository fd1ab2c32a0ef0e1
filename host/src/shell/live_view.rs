//! A live job as a screen takes it: looks, happenings, and presses given to it.

use super::clock::{wall_offset_s, wall_utc_ns};
use super::live::{LiveEvent, LiveJob};
use trundle_core::capture::HostMarkAction;
use trundle_core::session::Session;
use trundle_core::session::look::{Happened, LinkLook, Look, Wall};
use trundle_core::session::presses::{Answer, Press, Presses, Verdict};

/// The job at this moment.
#[must_use]
pub fn look(job: &LiveJob) -> Look {
    let status = job.status();
    let against_start = job.fit_to_start().err().unwrap_or_default();
    let (sample, fix, practice) = job.with_session(|session| {
        let (sample, fix) = session.latest();
        let practice = session.header().is_some_and(|header| header.practice);
        (sample.copied(), fix.copied(), practice)
    });
    Look {
        now_ns: status.now_ns,
        pace: job.clock().pace(),
        wall: Wall { utc_ns: wall_utc_ns(), offset_s: wall_offset_s() },
        practice,
        board: LinkLook { open: status.board_open, age_s: status.counts_age_s },
        receiver: status
            .receiver
            .map(|receiver| LinkLook { open: receiver.open, age_s: receiver.fix_age_s }),
        inputs: status.capabilities,
        sample,
        fix,
        open_pass: status.open_pass,
        impulses: status.impulses,
        against_start,
    }
}

/// What an event means to a screen.
#[must_use]
pub fn happened(event: &LiveEvent) -> Happened {
    match event {
        LiveEvent::Acknowledged(event) | LiveEvent::Seen(event) => Happened::Session(*event),
        LiveEvent::PortLost { role, loss, .. } => Happened::PortLost(*role, *loss),
        LiveEvent::PortFound { role, place } => Happened::PortFound(*role, place.clone()),
        LiveEvent::NotAnswering { role } => Happened::Silent(*role),
        LiveEvent::AnsweringAgain { role } => Happened::Answering(*role),
        LiveEvent::Failed(trouble) => Happened::StorageFailed(trouble.what.clone()),
    }
}

/// Give a press to the job, unless it was given before, is not due, or may not be done. The
/// answer to one that is given on is [`Answer::Waiting`]; what becomes of it
/// [`Presses::answer`] tells once the disk has it.
pub fn press(job: &LiveJob, presses: &mut Presses, mut press: Press) -> Answer {
    let open = job.with_session(Session::open_pass);
    let (action, text) = match presses.press(&mut press, open) {
        Verdict::Answer(answer) => return answer,
        Verdict::Give(action, text) => (action, text),
    };
    if action == HostMarkAction::Mark
        && open.is_none()
        && let Err(reasons) = job.fit_to_start()
    {
        presses.not_fit(press.place, press.key, reasons.clone());
        return Answer::NotFit { reasons };
    }
    job.host_mark_at(press.host_ns, action, &text);
    Answer::Waiting
}
