//! Rigs and what they are made of.

use super::form::{Of, Sent};
use super::house::{Acted, House, say_refused};
use super::keys::Done;
use crate::store::register::Register;
use crate::web::stations::{Reply, Visit, value};
use trundle_core::rig::Thing;
use trundle_show::stations::form::Form;
use trundle_show::stations::{Markup, parts};
use trundle_show::words::station::Station;
use trundle_show::words::stations as words;

/// The kinds, in the order in which a rig is put together.
const KINDS: [Thing; 5] = [Thing::Tractor, Thing::Tyres, Thing::Rig, Thing::Tape, Thing::Person];

/// Show what there is.
pub fn look(house: &House, visit: &Visit) -> Reply {
    let mut main = vec![parts::about(Station::Rig)];
    for thing in KINDS {
        main.push(parts::go(&format!("/rig/{}", thing.word()), thing.word()));
    }
    house.page(Station::Rig, visit, 200, parts::all(&main))
}

fn kind(visit: &Visit) -> Thing {
    KINDS.into_iter().find(|thing| thing.word() == visit.name()).unwrap_or(Thing::Rig)
}

/// Show the things of one kind.
pub fn look_kind(house: &House, visit: &Visit) -> Reply {
    let thing = kind(visit);
    let of = add(thing);
    let form = house.form(&of, &visit.path, words::SAVE, &|_| String::new());
    show(house, visit, thing, 200, &form)
}

fn add(thing: Thing) -> Of {
    let mut options = vec![("name".to_owned(), words::NAME.to_owned())];
    let fields = thing.fields().iter();
    options.extend(fields.map(|field| (field.key.replace('_', "-"), field.label.to_owned())));
    Of { command: vec![thing.word(), "add"], options }
}

fn show(house: &House, visit: &Visit, thing: Thing, status: u16, form: &Form) -> Reply {
    let main = parts::all(&[list(house, thing), form.markup()]);
    house.page_named(Station::Rig, Some(thing.word()), visit, status, main)
}

fn list(house: &House, thing: Thing) -> Markup {
    let list = Register::read(&house.place).and_then(|register| register.list(thing));
    match list {
        Ok(things) => {
            let rows: Vec<_> =
                things.into_iter().map(|named| (None, vec![named.entry.name])).collect();
            parts::table(&[words::NAME], &rows)
        }
        Err(trouble) => {
            let lines: Vec<String> = trouble.to_string().lines().map(str::to_owned).collect();
            parts::sentences(&lines)
        }
    }
}

/// Add one.
pub fn act(house: &House, visit: &Visit, sent: &Sent) -> Reply {
    let thing = kind(visit);
    let of = add(thing);
    let form = || house.form(&of, &visit.path, words::SAVE, &|name| value(sent, name).to_owned());
    let stale = |fault: &[String]| {
        show(house, visit, thing, 409, &Form { fault: fault.to_vec(), ..form() })
    };
    house.once(visit, sent, stale, || {
        let argv = of.argv(sent);
        match house.run(&argv) {
            Ok(ran) => Acted::Done(Done {
                path: visit.path.clone(),
                good: ran.code == crate::shell::exit::OK,
                lines: ran.lines(),
                command: super::form::shown(&argv),
            }),
            Err(refused) => {
                let mut form = form();
                say_refused(&mut form, &refused);
                Acted::Refused(show(house, visit, thing, 422, &form))
            }
        }
    })
}
