//! The end of the program, from the page: whoever started it by an icon has no terminal.

use super::form::Sent;
use super::house::{Acted, House};
use crate::web::stations::{Reply, Visit};
use trundle_show::stations::form::Form;
use trundle_show::stations::opening;
use trundle_show::words::opening as words;
use trundle_show::words::station::Station;

/// Its path.
pub const PATH: &str = "/close";

fn form(house: &House, fault: &[String]) -> Form {
    Form {
        action: PATH.to_owned(),
        about: vec![words::CLOSE_SAID.to_owned()],
        button: words::CLOSE.to_owned(),
        key: house.key(PATH),
        fault: fault.to_vec(),
        ..Form::default()
    }
}

fn show(house: &House, visit: &Visit, status: u16, fault: &[String]) -> Reply {
    let main = form(house, fault).markup();
    house.page_named(Station::Start, Some(words::CLOSE), visit, status, main)
}

/// Show it.
pub fn look(house: &House, visit: &Visit) -> Reply {
    show(house, visit, 200, &[])
}

/// Close the program, unless something is recorded.
pub fn act(house: &House, visit: &Visit, sent: &Sent) -> Reply {
    let again = |fault: &[String]| show(house, visit, 409, fault);
    house.once(visit, sent, again, || {
        Acted::Refused(if house.live.station().is_some() {
            show(house, visit, 409, &words::CLOSE_LIVE.map(str::to_owned))
        } else {
            house.front.close();
            // No page to go on to: the server is about to end.
            house.page_named(Station::Start, Some(words::CLOSED), visit, 200, opening::closed())
        })
    })
}
