//! The last change: shown, and then undone.

use super::{digest, lines};
use crate::shell::exit::OK;
use crate::stations::form::{Sent, shown};
use crate::stations::house::{Acted, House, Refused};
use crate::stations::keys::Done;
use crate::web::stations::{Reply, Visit, value};
use trundle_show::stations::form::Form;
use trundle_show::stations::parts;
use trundle_show::words::station::Station;
use trundle_show::words::stations_rig as words;

const PATH: &str = "/rig/undo";

/// Show what would be undone.
pub fn look(house: &House, visit: &Visit) -> Reply {
    show(house, visit, 200, &[])
}

fn argv(dry: bool) -> Vec<String> {
    let words = ["undo", "--dry-run"];
    words[..if dry { 2 } else { 1 }].iter().map(|word| (*word).to_owned()).collect()
}

/// What the command says, and whether there is something to undo.
fn ran(house: &House, dry: bool) -> (Vec<String>, bool) {
    match house.run(&argv(dry)) {
        Ok(ran) => (ran.lines(), ran.code == OK),
        Err(Refused::Trouble(trouble)) => (lines(&trouble), false),
        Err(Refused::Misread(wrong)) => (vec![wrong.words], false),
    }
}

fn show(house: &House, visit: &Visit, status: u16, fault: &[String]) -> Reply {
    let (would, can) = ran(house, true);
    let mut main = vec![parts::sentences(&would)];
    if can {
        let form = Form {
            action: PATH.to_owned(),
            hidden: vec![("seen".to_owned(), digest(&would.join("\n")))],
            button: words::UNDO_IT.to_owned(),
            key: house.key(PATH),
            fault: fault.to_vec(),
            ..Form::default()
        };
        main.push(form.markup());
    }
    main.push(parts::link("/rig", Station::Rig.name()));
    house.page_named(Station::Rig, Some(words::UNDO), visit, status, parts::all(&main))
}

/// Undo it, when it is still the change that was shown.
pub fn act(house: &House, visit: &Visit, sent: &Sent) -> Reply {
    house.once(
        visit,
        sent,
        |fault| show(house, visit, 409, fault),
        || {
            if digest(&ran(house, true).0.join("\n")) != value(sent, "seen") {
                return Acted::Refused(show(
                    house,
                    visit,
                    409,
                    &words::UNDO_CHANGED.map(str::to_owned),
                ));
            }
            let (lines, good) = ran(house, false);
            let (path, command) = ("/rig".to_owned(), shown(&argv(false)));
            Acted::Done(Done { path, lines, good, command })
        },
    )
}
