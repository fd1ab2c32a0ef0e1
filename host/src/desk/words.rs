//! The words of typed lines: what an event says, how things stand. No input, no output.

use crate::shell::out::scrub;
use trundle_core::fitness::live::is_live;
use trundle_core::fitness::look::{LiveEvent, Look};
use trundle_core::units::KM_H_PER_M_S;
use trundle_core::wire::fix::quality_words;
use trundle_protocol::units::Channel;
use trundle_show::words as texts;

/// What an event says; nothing for those that are not worth a line.
#[must_use]
pub fn event(event: &LiveEvent) -> Option<String> {
    let at = |host_ns: u64| format!("{:.1} s", host_ns as f64 * 1e-9);
    let words = texts::happened(event, at).or_else(|| texts::wrong(event))?;
    Some(match event {
        LiveEvent::PortLost { detail, .. } => format!("{words} [{}]", scrub(detail, 80)),
        _ => words,
    })
}

/// How things stand, in one line.
#[must_use]
pub fn status(look: &Look) -> String {
    let mut parts = vec![shape(look)];
    if let (Some(impulses), true) = (look.impulses, is_live(look.board.age_s)) {
        let counts: Vec<String> = Channel::ALL
            .iter()
            .filter(|channel| look.inputs.is_none_or(|inputs| inputs & (1 << channel.index()) != 0))
            .map(|channel| format!("{} {}", channel.name(), impulses[channel.index()]))
            .collect();
        parts.push(format!("impulses so far: {}", counts.join(", ")));
    }
    if let (Some(fix), Some(true)) = (&look.fix, look.receiver.map(|link| is_live(link.age_s))) {
        parts.extend(fix.speed_m_s.map(|speed| format!("{:.1} km/h", speed * KM_H_PER_M_S)));
        parts.extend(fix.satellites.map(|count| format!("{count} satellites")));
        let sky = look.sky.unwrap_or_default();
        parts.extend(sky.in_view.map(|count| format!("{count} in view")));
        parts.extend(sky.signal_db_hz.map(|signal| format!("signal {signal:.0} dB-Hz")));
        parts.extend(fix.hdop.map(|hdop| format!("HDOP {hdop:.1}")));
    }
    parts.join("; ")
}

/// The part of it whose change is worth a line of its own.
#[must_use]
pub fn shape(look: &Look) -> String {
    let pass = match look.open_pass {
        Some(number) => format!("pass {number} open"),
        None => format!("no pass open, {} marked", look.marked),
    };
    let counts = match (look.board.open, look.board.age_s) {
        (false, _) => "board disconnected".to_owned(),
        (true, age_s) if is_live(age_s) => "counts live".to_owned(),
        (true, _) => "counts STALE".to_owned(),
    };
    let mut parts = vec![pass, counts];
    parts.extend(look.receiver.map(|receiver| match &look.fix {
        _ if !receiver.open => "receiver disconnected".to_owned(),
        Some(fix) if is_live(receiver.age_s) => format!("fix {}", quality_words(fix.quality)),
        Some(_) => "fix STALE".to_owned(),
        None => "no fix yet".to_owned(),
    }));
    parts.join("; ")
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use trundle_core::fitness::look::{LinkLook, Wall};
    use trundle_core::session::bus::BusNow;
    use trundle_core::wire::fix::{Fix, Quality};
    use trundle_core::wire::sky::Sky;

    #[test]
    fn a_value_older_than_two_seconds_is_called_stale() {
        let fix = Fix {
            utc_ns: 0,
            host_ns: 0,
            lat_deg: 0.0,
            lon_deg: 0.0,
            height_m: None,
            quality: Quality::RtkFixed,
            satellites: Some(14),
            hdop: None,
            speed_m_s: Some(2.5),
            track_deg: None,
            gst: None,
            speed_quantum_m_s: 0.0,
            position_quantum_m: 0.0,
        };
        let now = |counts_age_s: f64, fix_age_s: f64| Look {
            now_ns: 0,
            pace: 1.0,
            wall: Wall::default(),
            practice: false,
            board: LinkLook { open: true, age_s: Some(counts_age_s) },
            receiver: Some(LinkLook { open: true, age_s: Some(fix_age_s) }),
            bus: None,
            bus_now: BusNow::default(),
            inputs: Some(0b101),
            sample: None,
            fix: Some(fix),
            sky: Some(Sky { in_view: Some(22), signal_db_hz: Some(43.0), ..Sky::default() }),
            open_pass: Some(3),
            marked: 2,
            impulses: Some([512, 0, 7]),
            against_start: Vec::new(),
        };
        let fresh = status(&now(0.1, 0.1));
        assert_eq!(
            fresh,
            "pass 3 open; counts live; fix RTK fixed; impulses so far: wheel 512, \
             pto 7; 9.0 km/h; 14 satellites; 22 in view; signal 43 dB-Hz"
        );
        let stale = status(&now(2.1, 2.1));
        assert!(stale.contains("counts STALE") && stale.contains("fix STALE"), "{stale}");
        assert!(!stale.contains("km/h") && !stale.contains("wheel"), "{stale}");
    }
}
