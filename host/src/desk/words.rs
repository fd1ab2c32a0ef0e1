//! The words of typed lines: what an event says, how things stand. No input, no output.

use crate::fitness::content::quality_words;
use crate::fitness::live::is_live;
use crate::recorder::live::{LiveEvent, LiveStatus, ReceiverStatus};
use crate::session::SessionEvent;
use crate::shell::out::scrub;
use crate::view::model::KM_H_PER_M_S;
use crate::view::texts;
use trundle_protocol::units::Channel;

/// What an event says; nothing for those that are not worth a line.
#[must_use]
pub fn event(event: &LiveEvent) -> Option<String> {
    Some(match event {
        LiveEvent::Acknowledged(SessionEvent::Mark { ruling, from_board, host_ns }) => {
            let by = if *from_board { texts::BY_BOARD } else { "" };
            let at = |host_ns: u64| format!("{:.1} s", host_ns as f64 * 1e-9);
            texts::ruling(*ruling, by, *host_ns, at)
        }
        LiveEvent::Acknowledged(SessionEvent::MarkLost { presses }) => format!(
            "{presses} press(es) of the board's button never arrived: the marks may be out of \
             step. Take the open pass out (x) and drive it again."
        ),
        LiveEvent::Seen(SessionEvent::Hello(hello)) => texts::hello(hello),
        LiveEvent::Seen(SessionEvent::BoardReset) => texts::BOARD_RESET.to_owned(),
        LiveEvent::Seen(SessionEvent::Slept { seconds }) => texts::slept(*seconds),
        LiveEvent::PortLost { role, loss, detail } => {
            format!("{} [{}]", texts::port_lost(*role, *loss), scrub(detail, 80))
        }
        LiveEvent::PortFound { role, place } => texts::port_back(*role, place.as_deref()),
        LiveEvent::NotAnswering { role } => texts::silent(*role),
        LiveEvent::AnsweringAgain { role } => texts::answering(*role),
        LiveEvent::Failed(trouble) => trouble.to_string(),
        LiveEvent::Acknowledged(_) | LiveEvent::Seen(_) => return None,
    })
}

/// How things stand, in one line.
#[must_use]
pub fn status(status: &LiveStatus) -> String {
    let mut parts = vec![shape(status)];
    if let (Some(impulses), true) = (status.impulses, is_live(status.counts_age_s)) {
        let counts: Vec<String> = Channel::ALL
            .iter()
            .filter(|channel| {
                status.capabilities.is_none_or(|inputs| inputs & (1 << channel.index()) != 0)
            })
            .map(|channel| format!("{} {}", channel.name(), impulses[channel.index()]))
            .collect();
        parts.push(format!("impulses so far: {}", counts.join(", ")));
    }
    if let Some(receiver) = &status.receiver
        && is_live(receiver.fix_age_s)
    {
        let speed = receiver.speed_m_s.map(|speed| format!("{:.1} km/h", speed * KM_H_PER_M_S));
        parts.extend(speed);
        parts.extend(receiver.satellites.map(|count| format!("{count} satellites")));
    }
    parts.join("; ")
}

/// The part of it whose change is worth a line of its own.
#[must_use]
pub fn shape(status: &LiveStatus) -> String {
    let pass = match status.open_pass {
        Some(number) => format!("pass {number} open"),
        None => format!("no pass open, {} marked", status.passes),
    };
    let counts = match (status.board_open, status.counts_age_s) {
        (false, _) => "board gone".to_owned(),
        (true, age_s) if is_live(age_s) => "counts live".to_owned(),
        (true, _) => "counts STALE".to_owned(),
    };
    let mut parts = vec![pass, counts];
    parts.extend(status.receiver.as_ref().map(fix));
    parts.join("; ")
}

fn fix(receiver: &ReceiverStatus) -> String {
    match receiver.quality {
        _ if !receiver.open => "receiver gone".to_owned(),
        Some(quality) if is_live(receiver.fix_age_s) => format!("fix {}", quality_words(quality)),
        Some(_) => "fix STALE".to_owned(),
        None => "no fix yet".to_owned(),
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::wire::fix::Quality;

    #[test]
    fn a_value_older_than_two_seconds_is_called_stale() {
        let now = |counts_age_s: f64, fix_age_s: f64| LiveStatus {
            now_ns: 0,
            open_pass: Some(3),
            passes: 2,
            impulses: Some([512, 0, 7]),
            capabilities: Some(0b101),
            board_open: true,
            counts_age_s: Some(counts_age_s),
            receiver: Some(ReceiverStatus {
                open: true,
                fix_age_s: Some(fix_age_s),
                quality: Some(Quality::RtkFixed),
                speed_m_s: Some(2.5),
                satellites: Some(14),
            }),
        };
        let fresh = status(&now(0.1, 0.1));
        assert_eq!(
            fresh,
            "pass 3 open; counts live; fix carrier phase, fixed; impulses so far: wheel 512, \
             pto 7; 9.0 km/h; 14 satellites"
        );
        let stale = status(&now(2.1, 2.1));
        assert!(stale.contains("counts STALE") && stale.contains("fix STALE"), "{stale}");
        assert!(!stale.contains("km/h") && !stale.contains("wheel"), "{stale}");
    }
}
