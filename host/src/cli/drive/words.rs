//! The words of `trundle drive`: what a typed line asks, what an event says, how things stand.
//! No input, no output.

use crate::shell::content::quality_words;
use crate::shell::live::{LiveEvent, LiveStatus, ReceiverStatus};
use crate::shell::out::scrub;
use trundle_core::session::SessionEvent;
use trundle_protocol::units::Channel;
use trundle_show::model::{KM_H_PER_M_S, STALE_S};
use trundle_show::words as texts;

/// The keys, in one line each.
pub const HELP: &str = "\
Enter or m  mark: start at one peg, finish at the other (the board's button does the same)
u           take the last mark back
x REASON    leave the last pass out
n TEXT      note
s           how things stand
r           the result so far
q           finish and show the result
h           this list";

/// What a typed line asks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Command {
    /// The mark that is due.
    Mark,
    /// Take the last mark back.
    Undo,
    /// A remark.
    Note(String),
    /// Leave the last pass out, for this reason.
    LeaveOut(String),
    /// How things stand.
    Status,
    /// The result so far.
    Result,
    /// Finish.
    Finish,
    /// The keys.
    Help,
    /// None of these; why.
    Unclear(String),
}

/// Read a typed line.
#[must_use]
pub fn command(line: &str) -> Command {
    let line = line.trim();
    let (key, rest) = line.split_once(char::is_whitespace).unwrap_or((line, ""));
    let rest = rest.trim();
    match (key, rest.is_empty()) {
        ("" | "m", true) => Command::Mark,
        ("u", true) => Command::Undo,
        ("n", false) => Command::Note(rest.to_owned()),
        ("n", true) => Command::Unclear("A note needs a text: n TEXT".to_owned()),
        ("x", false) => Command::LeaveOut(rest.to_owned()),
        ("x", true) => Command::Unclear("Say why the pass is to be left out: x REASON".to_owned()),
        ("s", true) => Command::Status,
        ("r", true) => Command::Result,
        ("q", true) => Command::Finish,
        ("h" | "?" | "help", true) => Command::Help,
        _ => Command::Unclear(format!("{:?} is none of the keys; h lists them.", scrub(line, 40))),
    }
}

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
    if let (Some(impulses), true) = (status.impulses, live(status.counts_age_s)) {
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
        && live(receiver.fix_age_s)
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
        (true, age_s) if live(age_s) => "counts live".to_owned(),
        (true, _) => "counts STALE".to_owned(),
    };
    let mut parts = vec![pass, counts];
    parts.extend(status.receiver.as_ref().map(fix));
    parts.join("; ")
}

fn fix(receiver: &ReceiverStatus) -> String {
    match receiver.quality {
        _ if !receiver.open => "receiver gone".to_owned(),
        Some(quality) if live(receiver.fix_age_s) => format!("fix {}", quality_words(quality)),
        Some(_) => "fix STALE".to_owned(),
        None => "no fix yet".to_owned(),
    }
}

fn live(age_s: Option<f64>) -> bool {
    age_s.is_some_and(|age_s| age_s <= STALE_S)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use trundle_core::wire::fix::Quality;

    #[test]
    fn typed_lines_are_read_as_the_help_says() {
        for (line, wanted) in [
            ("", Command::Mark),
            (" m ", Command::Mark),
            ("u", Command::Undo),
            ("n wet  grass", Command::Note("wet  grass".to_owned())),
            ("x wheel spun", Command::LeaveOut("wheel spun".to_owned())),
            ("s", Command::Status),
            ("r", Command::Result),
            ("q", Command::Finish),
            ("h", Command::Help),
        ] {
            assert_eq!(command(line), wanted, "{line:?}");
        }
        // A mark is too dear to be given by a slip of the finger.
        for line in ["mm", "m 1", "q now", "n", "x", "\u{1b}[A"] {
            assert!(matches!(command(line), Command::Unclear(_)), "{line:?}");
        }
        let Command::Unclear(words) = command("\u{1b}[2J") else { panic!() };
        assert!(!words.contains('\u{1b}'));
    }

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
            "pass 3 open; counts live; fix RTK fixed; impulses so far: wheel 512, \
             pto 7; 9.0 km/h; 14 satellites"
        );
        let stale = status(&now(2.1, 2.1));
        assert!(stale.contains("counts STALE") && stale.contains("fix STALE"), "{stale}");
        assert!(!stale.contains("km/h") && !stale.contains("wheel"), "{stale}");
    }
}
