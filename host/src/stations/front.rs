//! What the program knows of itself: its server, how it was opened, and whether it is to close.

use super::house::lock;
use super::instance::Own;
use super::plugged::Plugged;
use super::recent::Recent;
use crate::shell::exit::Trouble;
use crate::web::{Links, PageServer};
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};

/// It.
#[derive(Default)]
pub struct Front {
    server: Mutex<Option<PageServer>>,
    /// Says where the page is, for whoever starts the program again.
    own: Mutex<Option<Own>>,
    opened: Mutex<Opened>,
    closing: AtomicBool,
    /// What is plugged in.
    pub plugged: Plugged,
    /// Records, as they were last read.
    pub recent: Recent,
}

/// How the page was opened.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Opened {
    /// The port that another program holds, and the one that was taken instead.
    pub moved: Option<(u16, u16)>,
    /// Other devices can open it.
    pub lan: bool,
}

impl Front {
    /// The server is there, and `own` says where.
    pub fn open(&self, server: PageServer, own: Own, opened: Opened) {
        *lock(&self.opened) = opened;
        *lock(&self.own) = Some(own);
        *lock(&self.server) = Some(server);
    }

    /// How the page was opened.
    #[must_use]
    pub fn opened(&self) -> Opened {
        lock(&self.opened).clone()
    }

    /// Its links; none before and after the server.
    #[must_use]
    pub fn links(&self) -> Option<Links> {
        lock(&self.server).as_ref().map(|server| server.links.clone())
    }

    /// New links: whoever joined has to join again. Gives a path to do so with full control once:
    /// the link itself has no business in the address line of a browser that goes on.
    ///
    /// # Errors
    /// [`Trouble`] of code 6 or 70; the old links hold then.
    pub fn new_links(&self) -> Result<Option<String>, Trouble> {
        let lan = self.opened().lan;
        let mut server = lock(&self.server);
        let server = server.as_mut().ok_or_else(|| Trouble::internal("The page is closing."))?;
        let port = server.port;
        server.new_links(|latch| match lock(&self.own).as_mut() {
            Some(own) => own.say(port, latch, lan),
            None => Ok(()),
        })?;
        Ok(server.once())
    }

    /// The program is to close.
    pub fn close(&self) {
        self.closing.store(true, Ordering::SeqCst);
    }

    /// It is to close.
    #[must_use]
    pub fn closing(&self) -> bool {
        self.closing.load(Ordering::SeqCst)
    }

    /// End the server, and only then let another program be the one of the data folder.
    pub fn end(&self) {
        // Taken first: who asks meanwhile is not to wait for the server's end.
        let (server, own) = (lock(&self.server).take(), lock(&self.own).take());
        drop(server);
        drop(own);
    }
}
