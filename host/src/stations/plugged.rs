//! What is plugged in, found by content as `trundle ports` finds it, on a thread of its own.
//!
//! A port is opened only while nothing is recorded, and a recording that begins waits until the
//! look is over: the program never takes a port away from itself. What was found to be of use is
//! left in peace until it is unplugged or somebody asks again.

use super::house::{House, lock};
use crate::ports::open::{Listed, list};
use crate::ports::probe::{Probe, probe_all};
use crate::shell::out;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};
use trundle_show::stations::opening::{Port, Ports};

/// What was of no use is looked at again after this: it may have been switched on.
const AGAIN: Duration = Duration::from_secs(12);
/// What is asked for again and again is not looked at more often than this.
const SOONEST: Duration = Duration::from_secs(3);

/// What is plugged in, as far as it is known.
#[derive(Default)]
pub struct Plugged {
    seen: Mutex<Vec<Seen>>,
    /// Held while ports are open.
    open: Mutex<()>,
    looking: AtomicBool,
}

/// A port.
#[derive(Clone, Debug)]
struct Seen {
    listed: Listed,
    probe: Option<(Probe, Instant)>,
}

impl Seen {
    fn is_due(&self, again: bool, now: Instant) -> bool {
        let Some((probe, at)) = &self.probe else { return true };
        let of_use = probe.is_board() || probe.is_receiver() || probe.is_adapter();
        let age = now.saturating_duration_since(*at);
        (again && age >= SOONEST) || (!of_use && age >= AGAIN)
    }

    fn shown(&self) -> Port {
        let found = self.probe.as_ref().map(|(probe, _)| {
            let (role, why, next) = probe.words();
            (role.to_owned(), out::scrub(&why, 400), out::scrub(&next, 400))
        });
        Port {
            path: out::scrub(&self.listed.path, 200),
            description: out::scrub(&self.listed.description, 100),
            found,
        }
    }
}

impl Plugged {
    /// Wait until no port is open. Whoever calls has noted before that something is recorded.
    pub fn wait(&self) {
        drop(lock(&self.open));
    }
}

/// What is known now; looks further where that is due and disturbs nobody. `again`: somebody asks
/// for it.
pub fn look(house: &House, again: bool) -> Ports {
    let plugged = &house.front.plugged;
    if house.live.station().is_some() || house.front.closing() {
        return Ports { recording: true, ..plugged.shown() };
    }
    let now = Instant::now();
    let due = {
        let mut seen = lock(&plugged.seen);
        let known = std::mem::take(&mut *seen);
        let keep = |listed: Listed| {
            let probe = known.iter().find(|one| one.listed == listed);
            Seen { probe: probe.and_then(|one| one.probe.clone()), listed }
        };
        *seen = list().into_iter().map(keep).collect();
        seen.iter().any(|one| one.is_due(again, now))
    };
    if due && !plugged.looking.swap(true, Ordering::SeqCst) {
        begin(house, again);
    }
    plugged.shown()
}

fn begin(house: &House, again: bool) {
    let Some(own) = house.own.upgrade() else { return };
    let look = move || {
        let plugged = &own.front.plugged;
        let open = lock(&plugged.open);
        // A recording that has begun meanwhile has the ports.
        if own.live.station().is_none() {
            let now = Instant::now();
            let seen = lock(&plugged.seen).clone();
            let due = seen.iter().filter(|one| one.is_due(again, now));
            let wanted: Vec<_> = due.map(|one| (one.listed.path.clone(), None)).collect();
            plugged.note(&probe_all(&wanted));
        }
        drop(open);
        plugged.looking.store(false, Ordering::SeqCst);
    };
    if std::thread::Builder::new().spawn(look).is_err() {
        // Tried again at the next look.
        house.front.plugged.looking.store(false, Ordering::SeqCst);
    }
}

impl Plugged {
    fn note(&self, probes: &[Probe]) {
        let now = Instant::now();
        for one in lock(&self.seen).iter_mut() {
            if let Some(probe) = probes.iter().find(|probe| probe.path == one.listed.path) {
                one.probe = Some((probe.clone(), now));
            }
        }
    }

    fn shown(&self) -> Ports {
        let ports = lock(&self.seen).iter().map(Seen::shown).collect();
        Ports { ports, looking: self.looking.load(Ordering::SeqCst), recording: false }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ports::open::OpenFault;
    use trundle_core::fitness::content::PortContent;

    #[test]
    fn what_is_of_use_is_left_in_peace_and_the_rest_looked_at_again() {
        let now = Instant::now();
        let listed =
            || Listed { path: "p".to_owned(), aliases: Vec::new(), description: String::new() };
        let seen = |found| Seen {
            listed: listed(),
            probe: Some((Probe { path: "p".to_owned(), baud: 115_200, found }, now)),
        };
        let fresh = Seen { listed: listed(), probe: None };
        assert!(fresh.is_due(false, now));
        let board = seen(Ok(PortContent::Board { hello: None }));
        let silent = seen(Ok(PortContent::Silent));
        let gone = seen(Err(OpenFault::NoSuchPort));
        for late in [Duration::ZERO, SOONEST, AGAIN, AGAIN * 100] {
            assert!(!board.is_due(false, now + late));
            assert_eq!(board.is_due(true, now + late), late >= SOONEST);
            assert_eq!(silent.is_due(false, now + late), late >= AGAIN);
            assert_eq!(gone.is_due(false, now + late), late >= AGAIN);
        }
    }
}
