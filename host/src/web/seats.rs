//! Who sits where: so many connections at a time, and which of them has to go for another.
//!
//! A connection that asks for nothing, or does not take what it was sent, has its seat only as
//! long as nobody else wants it. One whose request is being answered, or that is shown the job,
//! keeps it.

use std::cmp::Reverse;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::task::Waker;
use std::time::Duration;
use tokio::time::Instant;

/// Connections at a time.
pub const SEATS: usize = 64;
/// A request has to be complete within this; one that is answered has to be followed by another
/// within this; and what is sent has to be taken within this.
pub const PATIENCE: Duration = Duration::from_secs(10);

/// What a connection does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Doing {
    /// Nothing since then: no request is whole, and nothing more of an answer was taken.
    Idle(Instant),
    /// Its request is being answered.
    Asking,
    /// It is shown the job for as long as it likes. There are few of these.
    Listening,
}

/// The seat of one connection.
#[derive(Debug)]
pub struct Seat {
    address: IpAddr,
    state: Mutex<State>,
}

#[derive(Debug)]
struct State {
    doing: Doing,
    /// It was given to somebody else.
    gone: bool,
    /// Of the connection's task.
    waker: Option<Waker>,
}

impl Seat {
    fn new(address: IpAddr, now: Instant) -> Self {
        let state = State { doing: Doing::Idle(now), gone: false, waker: None };
        Self { address, state: Mutex::new(state) }
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// From now on it does this.
    pub fn does(&self, doing: Doing) {
        self.state().doing = doing;
    }

    /// Some of an answer was taken at `now`.
    pub fn took(&self, now: Instant) {
        let mut state = self.state();
        if let Doing::Idle(since) = &mut state.doing {
            *since = now;
        }
    }

    /// Until when it has to ask for something; `None` when it need not.
    #[must_use]
    pub fn until(&self) -> Option<Instant> {
        match self.state().doing {
            Doing::Idle(since) => Some(since + PATIENCE),
            Doing::Asking | Doing::Listening => None,
        }
    }

    /// It was given to somebody else; if not, `waker` is told when it is.
    #[must_use]
    pub fn gone(&self, waker: &Waker) -> bool {
        let mut state = self.state();
        if !state.waker.as_ref().is_some_and(|known| known.will_wake(waker)) {
            state.waker = Some(waker.clone());
        }
        state.gone
    }

    fn give_away(&self) {
        let mut state = self.state();
        state.gone = true;
        if let Some(waker) = state.waker.take() {
            waker.wake();
        }
    }
}

/// All seats that are taken.
#[derive(Debug, Default)]
pub struct Seats(Mutex<Vec<Arc<Seat>>>);

impl Seats {
    fn taken(&self) -> MutexGuard<'_, Vec<Arc<Seat>>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A seat for a connection from there. When all are taken somebody idle loses one; `None`
    /// when nobody is idle.
    #[must_use]
    pub fn take(&self, address: IpAddr, now: Instant) -> Option<Arc<Seat>> {
        let mut taken = self.taken();
        if taken.len() >= SEATS {
            let all: Vec<_> = taken.iter().map(|seat| (seat.address, seat.state().doing)).collect();
            taken.swap_remove(longest_idle(&all)?).give_away();
        }
        let seat = Arc::new(Seat::new(address, now));
        taken.push(Arc::clone(&seat));
        Some(seat)
    }

    /// The connection is over.
    pub fn leave(&self, seat: &Arc<Seat>) {
        self.taken().retain(|other| !Arc::ptr_eq(other, seat));
    }
}

/// Who has to go: the longest idle connection of the sender that has the most of all that are
/// idle. A flood from one device so takes the seats of that device.
fn longest_idle(seats: &[(IpAddr, Doing)]) -> Option<usize> {
    let idle = seats.iter().enumerate().filter_map(|(n, (address, doing))| match doing {
        Doing::Idle(since) => Some((n, address, *since)),
        Doing::Asking | Doing::Listening => None,
    });
    let most = |of: &IpAddr| seats.iter().filter(|(address, _)| address == of).count();
    let first = idle.min_by_key(|(_, address, since)| (Reverse(most(address)), *since));
    first.map(|(n, ..)| n)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    const ONE: IpAddr = IpAddr::V4(std::net::Ipv4Addr::new(192, 0, 2, 1));
    const OTHER: IpAddr = IpAddr::V4(std::net::Ipv4Addr::new(192, 0, 2, 2));

    fn gone(seat: &Seat) -> bool {
        seat.gone(Waker::noop())
    }

    #[test]
    fn the_longest_idle_makes_room_and_whoever_listens_or_asks_stays() {
        let (seats, begun) = (Seats::default(), Instant::now());
        let at = |s: u64| begun + Duration::from_secs(s);
        let all: Vec<_> = (0..64).map(|n| seats.take(ONE, at(n)).unwrap()).collect();
        all[0].does(Doing::Listening);
        all[1].does(Doing::Asking);
        all[2].took(at(70));
        assert_eq!((all[0].until(), all[1].until()), (None, None));
        assert_eq!(all[2].until(), Some(at(80)));
        assert!(!all.iter().any(|seat| gone(seat)));

        let next = seats.take(ONE, at(71)).unwrap();
        let lost: Vec<usize> = (0..64).filter(|n| gone(&all[*n])).collect();
        assert_eq!((lost, gone(&next)), (vec![3], false));
        // A seat that is left is free, and costs nobody another.
        seats.leave(&next);
        assert!(seats.take(ONE, at(72)).is_some() && !gone(&all[4]));

        // Nobody idle: nobody goes.
        let busy = Seats::default();
        for _ in 0..SEATS {
            busy.take(ONE, begun).unwrap().does(Doing::Asking);
        }
        assert!(busy.take(ONE, begun).is_none());
    }

    #[test]
    fn a_flood_takes_the_seats_of_its_own_device() {
        let (seats, begun) = (Seats::default(), Instant::now());
        let quiet = seats.take(OTHER, begun).unwrap();
        for n in 1..2_000 {
            assert!(seats.take(ONE, begun + Duration::from_millis(n)).is_some());
        }
        assert!(!gone(&quiet));
    }
}
