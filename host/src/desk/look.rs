//! A live job as a screen takes it.

use crate::recorder::live::{LiveEvent, LiveJob};
use crate::shell::clock::{wall_offset_s, wall_utc_ns};
use crate::view::look::{Happened, LinkLook, Look, Wall};

/// The job at this moment.
#[must_use]
pub fn look(job: &LiveJob) -> Look {
    let status = job.status();
    let against_start = job.fit_to_start().err().unwrap_or_default();
    let (sample, fix) = job.latest();
    Look {
        now_ns: status.now_ns,
        pace: job.clock().pace(),
        wall: Wall { utc_ns: wall_utc_ns(), offset_s: wall_offset_s() },
        practice: job.practice(),
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
