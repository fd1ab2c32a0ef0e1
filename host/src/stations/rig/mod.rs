//! Rigs and what they are made of.
//!
//! | module | duty |
//! |---|---|
//! | [`kind`] | all of a kind, one of them, and what is done with it |
//! | `fields` | the form of a thing: fields, choices from the register, what was typed |
//! | `edit` | a change, as a command; one that came too late |
//! | `draft` | a rig that is being filled in while something else is added for it |
//! | [`hand`] | a rig as a file, out and in |

mod draft;
mod edit;
mod fields;
pub mod hand;
pub mod kind;

use super::house::House;
use crate::shell::exit::Trouble;
use crate::store::register::Register;
use crate::web::stations::{Reply, Visit};
use trundle_core::rig::{Entry, Thing};
use trundle_show::stations::{Markup, parts, rig as show};
use trundle_show::words::station::Station;
use trundle_show::words::stations_rig as words;

/// The kinds, in the order in which a rig is put together.
const KINDS: [Thing; 5] = [Thing::Tractor, Thing::Tyres, Thing::Tape, Thing::Person, Thing::Rig];

/// Show what there is, the rig in use first.
pub fn look(house: &House, visit: &Visit) -> Reply {
    let mut main = vec![parts::about(Station::Rig)];
    main.push(in_use(house).unwrap_or_else(|trouble| said(&trouble)));
    for thing in KINDS.into_iter().rev() {
        main.push(parts::go(&path(thing), words::several(thing)));
    }
    for (path, label) in
        [("/rig/import", words::IMPORT), ("/undo", words::UNDO), ("/bin", words::BIN)]
    {
        main.push(parts::link(path, label));
    }
    house.page(Station::Rig, visit, 200, parts::all(&main))
}

fn in_use(house: &House) -> Result<Markup, Trouble> {
    let register = Register::read(&house.place)?;
    let Some(rig) = register.active()? else {
        return Ok(parts::sentences(&[words::NO_RIG.to_owned()]));
    };
    let facts = show::facts(Thing::Rig, &rig.entry, &house.reading());
    let go = parts::link(&one_path(Thing::Rig, &rig.entry.name), &rig.entry.name);
    Ok(parts::all(&[parts::heading(words::ACTIVE), go, facts]))
}

/// The path of a kind.
fn path(thing: Thing) -> String {
    format!("/rig/{}", thing.word())
}

/// The path of one of a kind.
fn one_path(thing: Thing, name: &str) -> String {
    format!("{}?{}", path(thing), asked(&[("name", name)]))
}

/// What follows the question mark.
fn asked(pairs: &[(&str, &str)]) -> String {
    form_urlencoded::Serializer::new(String::new()).extend_pairs(pairs).finish()
}

/// A trouble as it stands on a page.
fn said(trouble: &Trouble) -> Markup {
    parts::sentences(&lines(trouble))
}

fn lines(trouble: &Trouble) -> Vec<String> {
    trouble.to_string().lines().map(str::to_owned).collect()
}

/// All of a kind by name.
fn entries(house: &House, thing: Thing) -> Result<Vec<Entry>, Trouble> {
    let all = Register::read(&house.place)?.list(thing)?;
    Ok(all.into_iter().map(|named| named.entry).collect())
}

/// A digest of a text, to know it again.
pub(super) fn digest(text: &str) -> String {
    use sha2::{Digest as _, Sha256};
    trundle_core::units::hex(&Sha256::digest(text.as_bytes()))
}
