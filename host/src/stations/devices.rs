//! Other devices: links and pictures to look, to mark, or for full control.

use super::form::Sent;
use super::house::{Acted, House};
use super::keys::Done;
use crate::web::qr;
use crate::web::stations::{Reply, Visit};
use trundle_show::stations::form::Form;
use trundle_show::stations::parts;
use trundle_show::stations::set::{self, Link};
use trundle_show::words::settings as words;
use trundle_show::words::station::Station;

/// Its path.
pub const PATH: &str = "/settings/devices";

/// Show it.
pub fn look(house: &House, visit: &Visit) -> Reply {
    show(house, visit, 200, &[])
}

fn show(house: &House, visit: &Visit, status: u16, fault: &[String]) -> Reply {
    let lan = house.front.opened().lan;
    let mut main = Vec::new();
    if let Some(links) = house.front.links() {
        let link = |(words, link): (&[&'static str; 2], String)| {
            let [heading, said] = *words;
            Link { heading, said, squares: qr::squares(&link).unwrap_or_default(), link }
        };
        let full = links.full.map(|link| (&words::FULL, link));
        let all: Vec<Link> = if lan {
            let view = links.view.map(|link| (&words::VIEW, link));
            let mark = Some((&words::MARK, links.mark));
            [view, mark, full].into_iter().flatten().map(link).collect()
        } else {
            Vec::new()
        };
        main.push(set::links(lan, &all));
    }
    main.push(set::wake());
    if lan {
        let form = Form {
            action: PATH.to_owned(),
            heading: words::NEW_LINKS.to_owned(),
            about: words::NEW_LINKS_SAID.map(str::to_owned).to_vec(),
            button: words::NEW_LINKS.to_owned(),
            key: house.key(PATH),
            fault: fault.to_vec(),
            ..Form::default()
        };
        main.push(form.markup());
    }
    house.page_named(Station::Start, Some(words::DEVICES), visit, status, parts::all(&main))
}

/// New links. The device that asks joins again by one of them; all others have to.
pub fn act(house: &House, visit: &Visit, sent: &Sent) -> Reply {
    let again = |fault: &[String]| show(house, visit, 409, fault);
    let mut join = None;
    let reply = house.once(visit, sent, again, || match house.front.new_links() {
        Ok(once) => {
            join = once;
            let lines = words::NEW_LINKS_DONE.map(str::to_owned).to_vec();
            let (path, command) = (PATH.to_owned(), String::new());
            Acted::Done(Done { path, lines, good: true, command })
        }
        Err(trouble) => {
            let fault: Vec<String> = trouble.to_string().lines().map(str::to_owned).collect();
            Acted::Refused(show(house, visit, 500, &fault))
        }
    });
    match join {
        Some(join) => Reply::See(join),
        None => reply,
    }
}
