//! Pages that are kept up to date: each role has places of its own, so that nobody who only looks
//! takes one from whoever may mark.

use super::guard::Role;
use super::seats::{Doing, Seat};
use std::collections::VecDeque;
use std::net::IpAddr;
use std::sync::Arc;
use tokio::sync::oneshot;
use tokio::time::Instant;

/// Pages of one role at a time: a browser opens no more than six connections to one server, and
/// one has to be left for presses.
pub const STREAMS: usize = 5;
/// Longest name a page may give itself, characters.
const NAME_MAX: usize = 32;
/// Names of replaced pages that are remembered.
const REPLACED: usize = 16;

/// A page that wants to be kept up to date.
pub struct Page {
    /// What it may do; `None` for one of this computer that has not joined.
    pub role: Option<Role>,
    name: String,
    address: IpAddr,
    seat: Arc<Seat>,
}

impl Page {
    /// A page of this name, or of none.
    #[must_use]
    pub fn new(role: Option<Role>, name: &str, address: IpAddr, seat: Arc<Seat>) -> Self {
        Self { role, name: name.chars().take(NAME_MAX).collect(), address, seat }
    }

    /// Where it sits.
    #[must_use]
    pub fn seat(&self) -> Arc<Seat> {
        Arc::clone(&self.seat)
    }

    /// It is this one come again.
    fn again(&self, other: &Self) -> bool {
        self.role == other.role && !self.name.is_empty() && self.name == other.name
    }
}

/// All that are kept up to date, the oldest first.
#[derive(Default)]
pub struct Streams {
    pages: Vec<(Page, oneshot::Sender<()>)>,
    /// Pages of markers that gave way to a newer one of their device.
    replaced: VecDeque<String>,
}

impl Streams {
    /// Keep this page up to date until what is returned is told or dropped; `None` when all places
    /// of its role are taken.
    ///
    /// A page that comes again takes its own place: its old stream may hang where the wireless
    /// network was lost. So may that of a page that was loaded anew, under another name: a marker
    /// takes the oldest place of its own device. Who lost it that way waits for a free one, or two
    /// pages would take it from each other for ever.
    pub fn open(&mut self, page: Page, now: Instant) -> Option<oneshot::Receiver<()>> {
        self.listening();
        while let Some(n) = self.pages.iter().position(|(other, _)| other.again(&page)) {
            self.close(n, now);
        }
        let of_role = self.pages.iter().filter(|(other, _)| other.role == page.role).count();
        if of_role >= STREAMS {
            let gave_way = !page.name.is_empty() && self.replaced.contains(&page.name);
            let own = |other: &Page| other.role == page.role && other.address == page.address;
            let oldest = self.pages.iter().position(|(other, _)| own(other));
            let oldest = oldest.filter(|_| page.role == Some(Role::Mark) && !gave_way)?;
            let (other, _) = self.close(oldest, now);
            self.replaced.push_back(other.name);
            self.replaced.drain(..self.replaced.len().saturating_sub(REPLACED));
        }
        self.replaced.retain(|name| *name != page.name);
        let (end, ended) = oneshot::channel();
        page.seat.does(Doing::Listening);
        self.pages.push((page, end));
        Some(ended)
    }

    /// How many listen.
    pub fn listening(&mut self) -> usize {
        self.pages.retain(|(_, end)| !end.is_closed());
        self.pages.len()
    }

    /// End all of them.
    pub fn clear(&mut self, now: Instant) {
        while !self.pages.is_empty() {
            self.close(0, now);
        }
        self.replaced.clear();
    }

    /// Its seat is not kept for it any more: where it hangs, its end does not come through.
    fn close(&mut self, n: usize, now: Instant) -> (Page, oneshot::Sender<()>) {
        let closed = self.pages.remove(n);
        closed.0.seat.does(Doing::Idle(now));
        closed
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::super::seats::Seats;
    use super::*;

    const PHONE: IpAddr = IpAddr::V4(std::net::Ipv4Addr::new(192, 0, 2, 1));
    const TABLET: IpAddr = IpAddr::V4(std::net::Ipv4Addr::new(192, 0, 2, 2));

    struct Yard(Streams, Seats, Instant);

    impl Yard {
        fn open(
            &mut self,
            role: Option<Role>,
            name: &str,
            at: IpAddr,
        ) -> Option<oneshot::Receiver<()>> {
            let seat = self.1.take(at, self.2).unwrap();
            self.0.open(Page::new(role, name, at, seat), self.2)
        }
    }

    fn yard() -> Yard {
        Yard(Streams::default(), Seats::default(), Instant::now())
    }

    fn open(stream: &mut Option<oneshot::Receiver<()>>) -> bool {
        stream
            .as_mut()
            .is_some_and(|end| end.try_recv() == Err(oneshot::error::TryRecvError::Empty))
    }

    #[test]
    fn each_role_has_its_own_places_and_its_own_names() {
        let mut yard = yard();
        let (view, mark) = (Some(Role::View), Some(Role::Mark));
        let long = "n".repeat(100);
        let mut marker = yard.open(mark, &long, TABLET);
        let mut looks: Vec<_> = (0..STREAMS)
            .flat_map(|n| [None, view].map(|role| yard.open(role, &n.to_string(), PHONE)))
            .collect();
        assert!(looks.iter_mut().all(open));
        for role in [None, view] {
            assert!(yard.open(role, "one more", PHONE).is_none());
            assert!(yard.open(role, &long, PHONE).is_none());
            let mut again = yard.open(role, "0", TABLET);
            assert!(open(&mut again));
            looks.push(again);
        }
        assert!(!open(&mut looks[0]) && !open(&mut looks[1]) && open(&mut marker));
        // A name that is too long is the same name when it comes again.
        assert!(open(&mut yard.open(mark, &long, TABLET)) && !open(&mut marker));
    }

    #[test]
    fn a_marker_takes_the_oldest_place_of_its_own_device_and_what_gave_way_waits() {
        let mut yard = yard();
        let mark = Some(Role::Mark);
        let mut tablet = yard.open(mark, "tablet", TABLET);
        let mut pages: Vec<_> =
            (1..STREAMS).map(|n| yard.open(mark, &n.to_string(), PHONE)).collect();
        pages.push(yard.open(mark, "loaded anew", PHONE));
        let stand: Vec<bool> = pages.iter_mut().map(open).collect();
        assert_eq!(stand, [false, true, true, true, true]);
        assert!(open(&mut tablet) && yard.open(mark, "1", PHONE).is_none());
        // Another device takes no place of theirs.
        assert!(yard.open(mark, "3rd device", IpAddr::from([192, 0, 2, 3])).is_none());
        // A place that is free is for whoever comes.
        pages.pop();
        assert!(open(&mut yard.open(mark, "1", PHONE)));
    }
}
