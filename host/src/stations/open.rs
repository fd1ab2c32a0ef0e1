//! `trundle` without a command: the whole job on a page.

use super::front::Opened;
use super::house::House;
use super::instance::{self, Found, Other, Own};
use super::table;
use crate::commands::args::OpenArgs;
use crate::commands::book;
use crate::desk::paged::PageArgs;
use crate::shell::exit::{OK, Trouble};
use crate::shell::{browser, out, stop};
use crate::store::place::DataFolder;
use crate::web::hub::Hub;
use crate::web::latch::Latch;
use crate::web::{self, Behind, PageServer, Setup, qr};
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr};
use std::sync::Arc;
use std::time::Duration;
use trundle_show::words::opening as words;

/// Port of the page: the same at every start, so that a bookmark holds. Of the range that nobody
/// is given for keeps (RFC 6335, section 6), below the one that Linux gives out by itself only
/// where it is set so.
const PORT: u16 = 49_100;
/// Ports that are tried after it, while other programs have it.
const MORE: u16 = 9;
/// How often the wish to stop is looked at.
const LOOK: Duration = Duration::from_millis(50);
/// The last page fetches its style within this time.
const LAST_PAGE: Duration = Duration::from_millis(1500);

/// Serve the stations until the program is to stop; gives the exit code.
///
/// # Errors
/// [`Trouble`]: an address that cannot be had (2), another program that has the data folder and
/// does not answer (4), no place to save in (6), no random numbers (70).
pub fn run(args: &OpenArgs) -> Result<u8, Trouble> {
    out::live();
    match instance::find(&DataFolder::in_force()?)? {
        Found::Other(other) => Ok(second(args, &other)),
        Found::Own(own) => serve(args, own),
    }
}

/// The program runs already: its page is opened, and this one ends.
fn second(args: &OpenArgs, other: &Other) -> u8 {
    out::say(&words::runs_already(&other.link));
    out::say(words::ONCE);
    if args.port.is_some_and(|port| port != other.port) || args.lan.is_some() && !other.lan {
        out::say(words::NOT_USED);
    }
    if !args.no_browser {
        browse(&other.link);
    }
    OK
}

fn serve(args: &OpenArgs, mut own: Own) -> Result<u8, Trouble> {
    stop::listen()?;
    stop::capture_is_open();
    let lan = PageArgs { lan: args.lan, ..PageArgs::default() }.lan_address()?;
    let (port, moved) = port(args, lan)?;
    let latch = Latch::random()
        .map_err(|error| Trouble::internal(format!("There are no random numbers ({error}).")))?;
    let hub = Hub::default();
    let house = House::open(hub.clone())?;
    let behind = Behind { paths: table::paths(), stations: house.clone(), latch: latch.clone() };
    let server =
        PageServer::start(&Setup { port, lan, handbook: book::whole }, &hub, Some(behind))?;
    let port = server.port;
    own.say(port, &latch, lan.is_some())?;
    let full = server.links.full.clone().unwrap_or_default();
    house.front.open(
        server,
        own,
        Opened { moved: moved.then_some((PORT, port)), lan: lan.is_some() },
    );
    introduce(args, &full, moved.then_some(port), lan.is_some());
    // Only now: the port is there, and what the browser asks for is answered. Whoever sees the
    // list of programs sees this link, so it holds once.
    if !args.no_browser {
        let once = latch.once().map(|once| instance::address(port, &once));
        browse(&once.unwrap_or(full));
    }
    out::say(words::END);
    wait(&house);
    house.front.end();
    Ok(OK)
}

/// The port that was asked for, or the first that is free; and whether the usual one is not.
fn port(args: &OpenArgs, lan: Option<IpAddr>) -> Result<(u16, bool), Trouble> {
    let [means, next] = words::PORT_TAKEN;
    let named = |trouble: Trouble| Trouble { means: means.into(), next: next.into(), ..trouble };
    if let Some(port) = args.port {
        return free(port, lan).map(|()| (port, false)).map_err(named);
    }
    let mut first = None;
    for port in PORT..=PORT + MORE {
        match free(port, lan) {
            Ok(()) => return Ok((port, port != PORT)),
            Err(trouble) => first = first.or(Some(trouble)),
        }
    }
    let none = first.unwrap_or_else(|| Trouble::internal("No port was tried."));
    Err(Trouble { means: means.into(), next: words::NO_PORT.into(), ..none })
}

/// Can the page be had at this port, at every address that it needs?
fn free(port: u16, lan: Option<IpAddr>) -> Result<(), Trouble> {
    let own = IpAddr::V4(Ipv4Addr::LOCALHOST);
    for address in std::iter::once(own).chain(lan) {
        drop(web::open(address, port)?);
    }
    // A browser may take `localhost` for this one: another program there would be what it shows.
    // Without a port of our own, or without IPv6, nobody is there.
    let other = std::net::SocketAddr::from((Ipv6Addr::LOCALHOST, port));
    if port != 0 && std::net::TcpStream::connect_timeout(&other, LOOK).is_ok() {
        drop(web::open(other.ip(), port)?);
    }
    Ok(())
}

fn introduce(args: &OpenArgs, full: &str, moved: Option<u16>, lan: bool) {
    out::say(&words::page_is(full));
    if let Some(taken) = moved {
        out::say(&words::moved(PORT, taken));
    }
    if lan
        && args.no_browser
        && let Some(picture) = qr::picture(full)
    {
        out::say(&format!("\n{picture}\n"));
        out::say(words::PICTURE);
    }
}

/// Open the reader's own browser there, or say what else can be done.
fn browse(link: &str) {
    if browser::browse(link) {
        out::say(words::OPENING);
    } else {
        words::NO_BROWSER.iter().for_each(|said| out::say(said));
    }
}

/// Wait until the program is to stop, by a signal or from the page.
fn wait(house: &Arc<House>) {
    while !stop::wanted() && !house.front.closing() {
        std::thread::sleep(LOOK);
    }
    if !stop::wanted() {
        std::thread::sleep(LAST_PAGE);
        // What was begun in this moment closes its capture in order.
        stop::ask();
    }
    // A recording that goes on sees the same wish, and closes its capture in order.
    while house.live.station().is_some() {
        std::thread::sleep(LOOK);
    }
}
