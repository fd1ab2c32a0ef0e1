//! The live page: a small server on a thread of its own.
//!
//! The measurement never waits for it: what is to be shown is left in one place, where the newest
//! replaces the last; presses come through a short queue. When all of it broke down the job would
//! go on.

mod answers;
pub mod doors;
pub mod guard;
pub mod guesses;
mod handle;
pub mod hub;
pub mod latch;
pub mod own;
pub mod qr;
pub mod refusals;
pub mod seats;
mod spoken;
pub mod stations;
pub mod streams;
pub mod token;

use crate::shell::exit::{self, Trouble};
use axum::Router;
use doors::{Doors, Peer};
use guard::Rules;
use handle::handle;
use hub::{Hub, Shared};
use latch::Latch;
use stations::{StationPath, Stations};
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr, TcpListener, UdpSocket};
use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::Duration;
use token::Token;
use tokio::sync::oneshot;
use trundle_core::session::presses::Wish;
use trundle_show::live::page::press::PressResponse;
use trundle_show::tongue::Tongue;

/// Makes the handbook in a language.
pub type Handbook = fn(Tongue) -> &'static str;

/// Answers that are still going out at the end may take so long.
const END_WAIT: Duration = Duration::from_millis(800);
/// Connections that the system may hold until they are taken in. With the 128 of the standard
/// library a crowd filled the queue: what came then was told that it is connected, heard nothing
/// for seconds, and may have been turned away without an answer.
#[cfg(unix)]
const QUEUE: i32 = 4096;
/// An address of the range kept for documentation (RFC 5737). Nothing is sent there: the system
/// only finds which of its own addresses it would use.
const SOMEWHERE: (Ipv4Addr, u16) = (Ipv4Addr::new(192, 0, 2, 1), 9);

/// What a page asks of the job.
#[derive(Debug)]
pub enum Ask {
    /// A press on a page.
    Press {
        /// Key of the press.
        key: u64,
        /// Host time at which it came, nanoseconds.
        host_ns: u64,
        /// What the press asks.
        wish: Wish,
        /// Who waits for the answer.
        reply: oneshot::Sender<PressResponse>,
    },
    /// A line as it would be typed in the terminal.
    Line {
        /// Key of the press.
        key: u64,
        /// Host time at which it came, nanoseconds.
        host_ns: u64,
        /// The line.
        text: String,
        /// Who waits for the answer.
        reply: oneshot::Sender<PressResponse>,
    },
    /// Work the result so far; the page of it, or why not.
    Result(oneshot::Sender<Result<String, String>>),
    /// Close the job.
    End(oneshot::Sender<PressResponse>),
}

/// How the page is served.
#[derive(Clone, Copy, Debug)]
pub struct Setup {
    /// The port; 0 chooses one.
    pub port: u16,
    /// The address for other devices too.
    pub lan: Option<IpAddr>,
    /// What makes the handbook.
    pub handbook: Handbook,
}

/// The stations that a server has beside a live job.
pub struct Behind {
    /// Their paths and rights.
    pub paths: &'static [StationPath],
    /// Whoever answers.
    pub stations: Arc<dyn Stations>,
    /// What shows that the server is ours, and makes links for one use.
    pub latch: Latch,
}

/// Where the page is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Links {
    /// For looking, from this computer alone.
    pub look: String,
    /// To join for marking.
    pub mark: String,
    /// To join for looking, from other devices.
    pub view: Option<String>,
    /// To join for everything, where there are stations.
    pub full: Option<String>,
}

/// The server, until it is dropped.
pub struct PageServer {
    /// Links to the page.
    pub links: Links,
    /// The port it has.
    pub port: u16,
    hub: Hub,
    rules: Rules,
    stop: Option<oneshot::Sender<()>>,
    thread: Option<JoinHandle<()>>,
    lan: Option<IpAddr>,
}

impl PageServer {
    /// Begin to serve what is shown at `hub`, and the stations `behind` it.
    ///
    /// # Errors
    /// [`Trouble`] of code 2 for an address that cannot be had, 70 for a system without random
    /// numbers or threads.
    pub fn start(setup: &Setup, hub: &Hub, behind: Option<Behind>) -> Result<Self, Trouble> {
        let (doors, port) = listen(setup)?;
        let rules = rules(&doors, port, behind.as_ref())?;
        let links = links(setup.lan, &rules, port);
        let (stop, stopped) = oneshot::channel();
        let shared = hub.open(rules.clone(), behind, setup.handbook);
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_io()
            .enable_time()
            .build()
            .map_err(|error| Trouble::internal(format!("The page cannot be served ({error}).")))?;
        let thread = std::thread::spawn(move || {
            runtime.block_on(serve(doors, shared, stopped));
            // Whatever does not end by itself is left behind.
            runtime.shutdown_background();
        });
        let (stop, thread) = (Some(stop), Some(thread));
        Ok(Self { links, port, hub: hub.clone(), rules, stop, thread, lan: setup.lan })
    }

    /// New links: whoever joined before has to join again. Links for one use that nobody used
    /// hold no more either: they are made with a secret, which is new too; `keep` has to put it
    /// where the old one lies.
    ///
    /// # Errors
    /// [`Trouble`] of code 70 for a system without random numbers, and that of `keep`; the old
    /// links hold then.
    pub fn new_links(
        &mut self,
        keep: impl FnOnce(&Latch) -> Result<(), Trouble>,
    ) -> Result<(), Trouble> {
        let full = self.rules.full.as_ref().map(|_| random()).transpose()?;
        let rules = Rules { view: random()?, mark: random()?, full, ..self.rules.clone() };
        let latch = Latch::new(random()?);
        keep(&latch)?;
        self.rules = rules;
        self.links = links(self.lan, &self.rules, self.port);
        self.hub.begin_again(self.rules.clone(), latch);
        Ok(())
    }

    /// The path of a link to join with full control that holds once.
    #[must_use]
    pub fn once(&self) -> Option<String> {
        self.hub.once()
    }
}

impl Drop for PageServer {
    /// Streams end when nothing more can be shown; everything ends soon after.
    fn drop(&mut self) {
        self.hub.close();
        self.stop = None;
        if let Some(thread) = self.thread.take() {
            // One that broke down has ended too.
            let _ = thread.join();
        }
    }
}

async fn serve(doors: Vec<TcpListener>, shared: Arc<Shared>, stopped: oneshot::Receiver<()>) {
    let Ok(doors) = Doors::open(doors) else { return };
    let service = Router::new().fallback(handle).with_state(shared);
    let service = service.into_make_service_with_connect_info::<Peer>();
    let (end, ended) = oneshot::channel::<()>();
    let server = axum::serve(doors, service).with_graceful_shutdown(async {
        // Dropped without a word means the same.
        let _ = ended.await;
    });
    let limit = async move {
        let _ = stopped.await;
        drop(end);
        tokio::time::sleep(END_WAIT).await;
    };
    let mut server = std::pin::pin!(server.into_future());
    let mut limit = std::pin::pin!(limit);
    // Whichever is first.
    std::future::poll_fn(|cx| {
        let server = server.as_mut().poll(cx).map(|_| ());
        if server.is_ready() { server } else { limit.as_mut().poll(cx) }
    })
    .await;
}

/// Listen on this computer's own addresses, and on the one for others where it is wanted; all on
/// one port.
fn listen(setup: &Setup) -> Result<(Vec<TcpListener>, u16), Trouble> {
    let first = open(IpAddr::V4(Ipv4Addr::LOCALHOST), setup.port)?;
    let port = first.local_addr().map_or(setup.port, |address| address.port());
    let mut doors = vec![first];
    // There are computers without IPv6; nothing is missing there.
    doors.extend(open(IpAddr::V6(Ipv6Addr::LOCALHOST), port).ok());
    if let Some(lan) = setup.lan {
        doors.push(open(lan, port)?);
    }
    Ok((doors, port))
}

/// Listen at an address; port 0 takes any that is free.
///
/// # Errors
/// [`Trouble`] of code 2 when the system refuses.
pub fn open(address: IpAddr, port: u16) -> Result<TcpListener, Trouble> {
    let at = SocketAddr::new(address, port);
    let door = TcpListener::bind(at).and_then(|door| {
        // For what already listens this only makes the queue longer.
        #[cfg(unix)]
        rustix::net::listen(&door, QUEUE)?;
        door.set_nonblocking(true).map(|()| door)
    });
    door.map_err(|error| {
        let what = format!("The page cannot be served at {at} ({error}).");
        let means = "No device can open it. Nothing was recorded.";
        let next = "Give another port with --page-port, or another address with --lan.";
        Trouble::new(exit::USAGE, what, means, next)
    })
}

fn rules(doors: &[TcpListener], port: u16, behind: Option<&Behind>) -> Result<Rules, Trouble> {
    let mut hosts: Vec<String> =
        doors.iter().filter_map(|door| Some(door.local_addr().ok()?.to_string())).collect();
    hosts.push(format!("localhost:{port}"));
    let full = behind.map(|_| random()).transpose()?;
    let stations = behind.map_or(&[][..], |behind| behind.paths);
    let cookie = format!("trundle-{port}");
    Ok(Rules { hosts, cookie, view: random()?, mark: random()?, full, stations })
}

fn random() -> Result<Token, Trouble> {
    Token::random()
        .map_err(|error| Trouble::internal(format!("There are no random numbers ({error}).")))
}

fn links(lan: Option<IpAddr>, rules: &Rules, port: u16) -> Links {
    let own = IpAddr::V4(Ipv4Addr::LOCALHOST);
    let from = SocketAddr::new(lan.unwrap_or(own), port);
    Links {
        look: format!("http://{}/", SocketAddr::new(own, port)),
        mark: format!("http://{from}/join/{}", rules.mark.link()),
        view: lan.map(|_| format!("http://{from}/join/{}", rules.view.link())),
        full: rules.full.as_ref().map(|full| format!("http://{from}/join/{}", full.link())),
    }
}

/// The address of this computer in its network; `None` without one.
#[must_use]
pub fn lan_address() -> Option<IpAddr> {
    let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).ok()?;
    socket.connect(SOMEWHERE).ok()?;
    let own = socket.local_addr().ok()?.ip();
    (!own.is_loopback() && !own.is_unspecified()).then_some(own)
}
