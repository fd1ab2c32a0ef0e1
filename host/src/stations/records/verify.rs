//! Verifying records: that takes long, and goes on by itself.

use crate::shell::exit::{self, Trouble};
use crate::stations::form::{Of, Sent, shown};
use crate::stations::house::{Acted, House, Refused, say_refused};
use crate::stations::keys::Done;
use crate::web::stations::{Reply, Visit, value};
use trundle_show::stations::form::{Field, Form};
use trundle_show::stations::parts;
use trundle_show::words::records as words;
use trundle_show::words::station::Station;

/// Its path.
const PATH: &str = "/verify";
/// The field with names of records.
const RECORDS: &str = "records";

/// Show how far it is, or what came of it.
pub fn look(house: &House, visit: &Visit) -> Reply {
    let form = form(house, visit.asked(RECORDS));
    show(house, visit, 200, &form)
}

fn form(house: &House, typed: &str) -> Form {
    let none = Of::new(&["record", "verify"], &[]);
    let mut form = house.form(&none, PATH, words::VERIFY_NOW, &|_| String::new());
    let field = Field::text(RECORDS, words::FIELD_RECORDS, typed);
    form.fields = vec![Field { hint: words::HINT_RECORDS.to_owned(), ..field }];
    form
}

fn show(house: &House, visit: &Visit, status: u16, form: &Form) -> Reply {
    let state = house.long.state();
    let mut main = vec![parts::sentences(&[words::VERIFY_ALL_IS.to_owned()])];
    match state.now {
        Some((done, all)) => {
            main.push(parts::sentences(&[words::verifying(done, all)]));
            main.push(parts::go(PATH, words::LOOK_AGAIN));
        }
        None => main.push(form.markup()),
    }
    if let Some((ran, command)) = &state.last {
        let held = if ran.code == exit::OK { words::ALL_HOLD } else { words::LOOK_AT_LINES };
        main.push(parts::said(words::VERIFIED, &[&[held.to_owned()], &ran.lines()[..]].concat()));
        main.push(trundle_show::stations::form::command(command));
    }
    let main = parts::all(&main);
    house.page_named(Station::Records, Some(words::VERIFY_ALL), visit, status, main)
}

/// Begin.
pub fn act(house: &House, visit: &Visit, sent: &Sent) -> Reply {
    let typed = value(sent, RECORDS);
    let again = |fault: &[String]| {
        let form = Form { fault: fault.to_vec(), ..form(house, typed) };
        show(house, visit, 409, &form)
    };
    house.once(visit, sent, again, || {
        let names: Vec<&str> = typed.split_whitespace().collect();
        let argv = match names[..] {
            [] => ["record", "verify", "--all"].map(str::to_owned).to_vec(),
            _ => super::argv(&["record", "verify"], &names),
        };
        let command = shown(&argv);
        if house.long.begin(house, argv) {
            let path = PATH.to_owned();
            return Acted::Done(Done { path, lines: Vec::new(), good: true, command });
        }
        let [what, means, next] = words::VERIFY_TAKEN;
        let taken = Refused::Trouble(Trouble::new(exit::BLOCKED, what, means, next));
        let mut form = form(house, typed);
        say_refused(&mut form, &taken);
        Acted::Refused(show(house, visit, 409, &form))
    })
}
