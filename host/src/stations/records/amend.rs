//! Amending a record: a new one takes its place.

use super::refused;
use crate::shell::out::heard_whole;
use crate::stations::form::{Of, Sent};
use crate::stations::house::{House, Refused};
use crate::stations::sign::fields::{self, Fields};
use crate::stations::sign::{done, newest, run};
use crate::stations::twice::Twice;
use crate::store::register::Register;
use crate::web::stations::{Reply, Visit};
use trundle_show::stations::form::Field;
use trundle_show::stations::parts;
use trundle_show::words::records as words;
use trundle_show::words::station::Station;

/// Show the form.
pub fn look(house: &House, visit: &Visit) -> Reply {
    with(house, visit, |twice, fields| twice.look(house, visit, &|name| fields.before(name)))
}

/// Take it.
pub fn act(house: &House, visit: &Visit, sent: &Sent) -> Reply {
    with(house, visit, |twice, _| twice.act(house, visit, sent))
}

fn with(house: &House, visit: &Visit, then: impl FnOnce(&Twice<'_>, &Fields) -> Reply) -> Reply {
    let name = visit.name();
    let old = heard_whole(|| Register::read(&house.place)?.record(&name)).0;
    let old = match old {
        Ok(old) => old,
        Err(trouble) => return refused(house, visit, 404, &Refused::Trouble(trouble)),
    };
    let id = old.id.clone();
    let parts_of: Vec<&str> = old.parts.iter().map(|part| part.method.word()).collect();
    let parts_of = parts_of.join(", ");
    let fields = Fields::of(house, Some(old));
    let of = Fields::amending();
    let heading = words::amend(&id);
    let dress = |all: Vec<Field>| {
        let all = all.into_iter().map(|field| match field.name.as_str() {
            "without" if parts_of.is_empty() => None,
            "without" => {
                let hint = format!("{} {}", words::in_record(&parts_of), field.hint);
                Some(Field { hint, ..field })
            }
            _ => Some(field),
        });
        fields.dress(all.flatten().collect())
    };
    let twice = Twice {
        station: Station::Records,
        heading: Some(&heading),
        path: &visit.path,
        of: &of,
        above: parts::sentences(&[words::AMEND_IS.to_owned()]),
        dress: &dress,
        groups: &fields::GROUPS,
        argv: &|sent| named(&of, &id, sent),
        adds: [&["--dry-run"], &[]],
        buttons: [words::SHOW_RECORD, words::SIGN_NOW],
        shows: words::AS_IT_WOULD_BE,
        run: &|argv| run(house, argv),
        seen: &|| newest(house),
        done: &done,
    };
    then(&twice, &fields)
}

/// The command for what was sent: the record is that of the path.
fn named(of: &Of, id: &str, sent: &Sent) -> Vec<String> {
    let own = sent.iter().filter(|(name, _)| name != "id").cloned();
    let own: Vec<_> = own.chain([("id".to_owned(), id.to_owned())]).collect();
    fields::argv(of, &own)
}
