//! A change of a thing: only what was changed on the form becomes the command, so that a number
//! that was not touched stays as it is saved, whatever unit it was shown in.

use super::digest;
use super::fields::{add, option, saved};
use crate::stations::form::Sent;
use crate::web::stations::value;
use trundle_core::rig::{Entry, Thing};
use trundle_show::reading::Reading;

/// An entry as it stands, to be known again.
pub fn seen(entry: &Entry) -> String {
    digest(&serde_json::to_string(entry).unwrap_or_default())
}

/// The command that changes `entry` to what was sent.
pub fn argv(thing: Thing, entry: &Entry, sent: &Sent, reading: &Reading) -> Vec<String> {
    let mut argv = vec![thing.word().to_owned(), "edit".to_owned()];
    let mut forget = Vec::new();
    let typed = |name: &str| value(sent, name).trim().to_owned();
    if typed("name") != entry.name {
        argv.push(format!("--name={}", typed("name")));
    }
    for field in thing.fields() {
        let name = option(field);
        let typed = typed(&name);
        if typed == saved(thing, entry, reading, &name).trim() {
            continue;
        }
        if typed.is_empty() {
            forget.push(name);
        } else {
            argv.push(format!("--{name}={typed}"));
        }
    }
    if !forget.is_empty() {
        argv.push(format!("--forget={}", forget.join(",")));
    }
    argv.extend(["--".to_owned(), entry.name.clone()]);
    argv
}

/// Where what is saved differs from what was sent: label, saved, typed.
pub fn differs(thing: Thing, entry: &Entry, sent: &Sent, reading: &Reading) -> Vec<[String; 3]> {
    let row = |(name, label): (String, String)| {
        let saved = saved(thing, entry, reading, &name);
        let typed = value(sent, &name).trim().to_owned();
        (saved.trim() != typed).then_some([label, saved, typed])
    };
    add(thing).options.into_iter().filter_map(row).collect()
}
