//! All of a kind, one of them, and what is done with it.

use super::draft::Draft;
use super::edit::{argv, differs, seen};
use super::fields::{self, ALSO, add, deed, form, link};
use super::{asked, entries, lines, one_path, path, said};
use crate::shell::exit::{OK, Trouble};
use crate::stations::form::{Sent, shown};
use crate::stations::house::{Acted, House, Refused, say_refused};
use crate::stations::keys::Done;
use crate::store::register::Register;
use crate::web::stations::{Reply, Visit, value};
use trundle_core::rig::{Entry, Thing};
use trundle_show::stations::form::Form;
use trundle_show::stations::{Markup, parts, rig as show};
use trundle_show::words::station::Station;
use trundle_show::words::stations_rig as rig_words;

/// Show the things of one kind, or one of them, or the form that changes it.
pub fn look(house: &House, visit: &Visit) -> Reply {
    let Some(thing) = fields::named(&visit.name()) else { return Reply::See("/rig".to_owned()) };
    let shown = match (visit.asked("name"), visit.asked("do")) {
        ("", _) => look_all(house, visit, thing),
        (name, "edit") => look_edit(house, visit, thing, name),
        (name, _) => look_one(house, visit, thing, name),
    };
    shown.unwrap_or_else(|trouble| {
        let main = [said(&trouble), parts::link(&path(thing), rig_words::several(thing))];
        page(house, visit, thing, 404, parts::all(&main))
    })
}

fn page(house: &House, visit: &Visit, thing: Thing, status: u16, main: Markup) -> Reply {
    house.page_named(Station::Rig, Some(rig_words::several(thing)), visit, status, main)
}

/// What waits for a rig, when the visit asks for it.
fn draft(house: &House, visit: &Visit, thing: Thing, of: &str) -> Option<Draft> {
    let wanted = thing == Thing::Rig && !visit.asked("draft").is_empty();
    Draft::waiting(house).filter(|draft| wanted && draft.of == of)
}

fn look_all(house: &House, visit: &Visit, thing: Thing) -> Result<Reply, Trouble> {
    let sent = draft(house, visit, thing, "").map(|draft| draft.sent).unwrap_or_default();
    let form = add_form(house, thing, &sent, visit.asked("for"))?;
    list_page(house, visit, thing, 200, &form)
}

fn list_page(
    house: &House,
    visit: &Visit,
    thing: Thing,
    status: u16,
    form: &Form,
) -> Result<Reply, Trouble> {
    let entries = entries(house, thing)?;
    let active = active(house, thing)?;
    let about = rig_words::about(thing).to_owned();
    let list = if entries.is_empty() {
        parts::sentences(&[about, rig_words::none_yet(thing)])
    } else {
        let named = |entry: Entry| (one_path(thing, &entry.name), entry);
        let named: Vec<_> = entries.into_iter().map(named).collect();
        let list = show::list(thing, &named, active.as_deref(), &house.reading());
        parts::all(&[parts::sentences(&[about]), list])
    };
    let main = parts::all(&[list, form.markup()]);
    Ok(page(house, visit, thing, status, main))
}

fn active(house: &House, thing: Thing) -> Result<Option<String>, Trouble> {
    if thing != Thing::Rig {
        return Ok(None);
    }
    Ok(Register::read(&house.place)?.active()?.map(|rig| rig.entry.name))
}

/// The form that adds one; `wanted_for`: the field of a rig that waits for it.
fn add_form(house: &House, thing: Thing, sent: &Sent, wanted_for: &str) -> Result<Form, Trouble> {
    let typed = |name: &str| value(sent, name).to_owned();
    let mut form = form(house, thing, &typed, &fields::drawn(sent))?;
    form.heading = rig_words::add(thing);
    form.hidden.push(("deed".to_owned(), "add".to_owned()));
    if link(wanted_for).is_some_and(|(_, to)| to == thing) {
        form.about.push(rig_words::comes_back(thing));
        form.hidden.push(("for".to_owned(), wanted_for.to_owned()));
    }
    Ok(form)
}

fn look_one(house: &House, visit: &Visit, thing: Thing, name: &str) -> Result<Reply, Trouble> {
    let entry = Register::read(&house.place)?.get(thing, name)?.entry;
    let name = entry.name.as_str();
    let mut main = vec![show::facts(thing, &entry, &house.reading())];
    let change = asked(&[("name", name), ("do", "edit")]);
    main.push(parts::go(&format!("{}?{change}", path(thing)), rig_words::CHANGE));
    if thing == Thing::Rig {
        if active(house, thing)?.as_deref() != Some(name) {
            main.push(deed(house, thing, "use", name, rig_words::USE).markup());
        }
        let file = format!("/rig/export?{}", asked(&[("name", name)]));
        main.push(parts::go(&file, rig_words::EXPORT));
    }
    main.push(deed(house, thing, "remove", name, rig_words::REMOVE).markup());
    main.push(parts::link(&path(thing), rig_words::several(thing)));
    let heading = format!("{}: {name}", rig_words::one(thing));
    Ok(house.page_named(Station::Rig, Some(&heading), visit, 200, parts::all(&main)))
}

fn look_edit(house: &House, visit: &Visit, thing: Thing, name: &str) -> Result<Reply, Trouble> {
    let entry = Register::read(&house.place)?.get(thing, name)?.entry;
    let form = match draft(house, visit, thing, &entry.name) {
        // As it was seen when it was opened: what changed since is told when it is sent.
        Some(draft) => edit_form(house, thing, &draft.sent, value(&draft.sent, "seen"))?,
        None => {
            let reading = house.reading();
            let saved = |name: String| (fields::saved(thing, &entry, &reading, &name), name);
            let pairs = add(thing).options.into_iter().map(|(name, _)| saved(name));
            let mut sent: Vec<_> = pairs.map(|(saved, name)| (name, saved)).collect();
            sent.push(("of".to_owned(), entry.name.clone()));
            edit_form(house, thing, &sent, &seen(&entry))?
        }
    };
    Ok(page(house, visit, thing, 200, form.markup()))
}

/// The form that changes one, with what was typed; `seen`: the entry that it was made from.
fn edit_form(house: &House, thing: Thing, sent: &Sent, seen: &str) -> Result<Form, Trouble> {
    let typed = |name: &str| value(sent, name).to_owned();
    let mut form = form(house, thing, &typed, &fields::drawn(sent))?;
    form.heading = format!("{}: {}", rig_words::CHANGING, value(sent, "of"));
    form.hidden = [("deed", "edit"), ("of", value(sent, "of")), ("seen", seen)]
        .map(|(name, value)| (name.to_owned(), value.to_owned()))
        .to_vec();
    Ok(form)
}

/// Add one, change it, use it, or put it into the bin.
pub fn act(house: &House, visit: &Visit, sent: &Sent) -> Reply {
    let Some(thing) = fields::named(&visit.name()) else { return Reply::See("/rig".to_owned()) };
    let again = |fault: &[String]| {
        typed_page(house, visit, thing, sent, 409, &|form| {
            form.fault = fault.to_vec();
        })
    };
    house.once(visit, sent, again, || {
        if let Some((_, to)) = link(value(sent, ALSO)).filter(|_| thing == Thing::Rig) {
            return Acted::Refused(leave(house, visit, to, sent));
        }
        match value(sent, "deed") {
            "edit" => edit(house, visit, thing, sent),
            "use" => plainly(house, thing, sent, "use"),
            "remove" => plainly(house, thing, sent, "remove"),
            _ => do_add(house, visit, thing, sent),
        }
    })
}

/// To the form of another thing; what was typed for the rig waits.
fn leave(house: &House, visit: &Visit, to: Thing, sent: &Sent) -> Reply {
    match Draft::of(sent).keep(house) {
        Ok(()) => Reply::See(format!("{}?{}", path(to), asked(&[("for", value(sent, ALSO))]))),
        Err(trouble) => typed_page(house, visit, Thing::Rig, sent, 500, &|form| {
            form.fault = lines(&trouble);
        }),
    }
}

/// The page of a form again, with what was typed and what is wrong.
fn typed_page(
    house: &House,
    visit: &Visit,
    thing: Thing,
    sent: &Sent,
    status: u16,
    wrong: &dyn Fn(&mut Form),
) -> Reply {
    let made = if value(sent, "deed") == "edit" {
        edit_form(house, thing, sent, value(sent, "seen")).map(|mut form| {
            wrong(&mut form);
            page(house, visit, thing, status, form.markup())
        })
    } else {
        add_form(house, thing, sent, value(sent, "for")).and_then(|mut form| {
            wrong(&mut form);
            list_page(house, visit, thing, status, &form)
        })
    };
    made.unwrap_or_else(|trouble| page(house, visit, thing, status, said(&trouble)))
}

fn refused(house: &House, visit: &Visit, thing: Thing, sent: &Sent, why: &Refused) -> Acted {
    Acted::Refused(typed_page(house, visit, thing, sent, 422, &|form| say_refused(form, why)))
}

fn do_add(house: &House, visit: &Visit, thing: Thing, sent: &Sent) -> Acted {
    let argv = add(thing).argv(sent);
    let name = value(sent, "name").trim();
    match house.run(&argv) {
        Err(why) => refused(house, visit, thing, sent, &why),
        Ok(ran) => {
            let mut said = ran.lines();
            let back = if thing == Thing::Rig {
                Draft::forget(house).map(|()| None)
            } else {
                Draft::back(house, value(sent, "for"), name)
            };
            let path = back.unwrap_or_else(|trouble| {
                said.extend(lines(&trouble));
                None
            });
            let path = path.unwrap_or_else(|| one_path(thing, name));
            Acted::Done(Done { path, lines: said, good: ran.code == OK, command: shown(&argv) })
        }
    }
}

fn edit(house: &House, visit: &Visit, thing: Thing, sent: &Sent) -> Acted {
    let held =
        Register::read(&house.place).and_then(|register| register.get(thing, value(sent, "of")));
    let entry = match held {
        Ok(named) => named.entry,
        Err(trouble) => {
            return Acted::Refused(typed_page(house, visit, thing, sent, 409, &|form| {
                form.fault = rig_words::GONE.map(str::to_owned).to_vec();
                form.fault.extend(lines(&trouble));
            }));
        }
    };
    let reading = house.reading();
    if seen(&entry) != value(sent, "seen") {
        return Acted::Refused(changed(house, visit, thing, sent, &entry));
    }
    let argv = argv(thing, &entry, sent, &reading);
    match house.run(&argv) {
        Err(why) => refused(house, visit, thing, sent, &why),
        Ok(ran) => {
            let mut said = ran.lines();
            said.extend(Draft::forget(house).err().iter().flat_map(lines));
            let path = one_path(thing, value(sent, "name").trim());
            Acted::Done(Done { path, lines: said, good: ran.code == OK, command: shown(&argv) })
        }
    }
}

/// The entry is another one than the one on the form: both, side by side.
fn changed(house: &House, visit: &Visit, thing: Thing, sent: &Sent, now: &Entry) -> Reply {
    let made = edit_form(house, thing, sent, &seen(now)).map(|mut form| {
        form.fault = rig_words::CHANGED.map(str::to_owned).to_vec();
        let both = show::compared(&differs(thing, now, sent, &house.reading()));
        page(house, visit, thing, 409, parts::all(&[both, form.markup()]))
    });
    made.unwrap_or_else(|trouble| page(house, visit, thing, 409, said(&trouble)))
}

/// A command that takes nothing but the name.
fn plainly(house: &House, thing: Thing, sent: &Sent, verb: &str) -> Acted {
    let name = value(sent, "of");
    let argv = [thing.word(), verb, "--", name].map(str::to_owned);
    let path = if verb == "use" { one_path(thing, name) } else { path(thing) };
    let (lines, good) = match house.run(&argv) {
        Ok(ran) => (ran.lines(), ran.code == OK),
        Err(Refused::Trouble(trouble)) => (lines(&trouble), false),
        Err(Refused::Misread(misread)) => (vec![misread.words], false),
    };
    let path = if good { path } else { one_path(thing, name) };
    Acted::Done(Done { path, lines, good, command: shown(&argv) })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_kinds_that_are_kept_have_a_page() {
        for thing in Thing::ALL {
            assert_eq!(fields::named(thing.word()), Some(thing));
        }
        assert_eq!(fields::named("record"), None);
    }
}
