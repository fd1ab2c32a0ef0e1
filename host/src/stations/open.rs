//! `trundle` without a command: the whole job on a page.

use super::house::House;
use super::table;
use crate::commands::args::OpenArgs;
use crate::desk::paged::PageArgs;
use crate::shell::exit::{OK, Trouble};
use crate::shell::{out, stop};
use crate::web::hub::Hub;
use crate::web::{Behind, PageServer, Setup};
use std::sync::Arc;
use std::time::Duration;

/// Port of the page: the same at every start, so that a bookmark holds. Of the range that nobody
/// is given for keeps (RFC 6335, section 6), below the one that systems give out by themselves.
const PORT: u16 = 49_100;
/// How often the wish to stop is looked at.
const LOOK: Duration = Duration::from_millis(50);

/// Serve the stations until the program is to stop; gives the exit code.
///
/// # Errors
/// [`Trouble`]: an address that cannot be had (2), no place to save in (6), no random numbers (70).
pub fn run(args: &OpenArgs) -> Result<u8, Trouble> {
    stop::listen()?;
    stop::capture_is_open();
    out::live();
    let lan = PageArgs { lan: args.lan, ..PageArgs::default() }.lan_address()?;
    let hub = Hub::default();
    let house = House::open(hub.clone())?;
    let setup = Setup { port: args.port.unwrap_or(PORT), lan };
    let behind = Behind { paths: table::paths(), stations: house.clone() };
    let server = PageServer::start(&setup, &hub, Some(behind))?;
    let full = server.links.full.clone().unwrap_or_default();
    out::say(&format!("The job is on this page: {full}"));
    while !stop::wanted() {
        std::thread::sleep(LOOK);
    }
    // A recording that goes on sees the same wish, and closes its capture in order.
    while house.live.station().is_some() {
        std::thread::sleep(LOOK);
    }
    drop(server);
    drop(Arc::clone(&house));
    Ok(OK)
}
