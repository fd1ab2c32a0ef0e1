//! Signing off.

pub mod fields;
#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::panic)]
mod tests;

use super::form::{Of, Sent};
use super::house::{House, Ran};
use super::twice::Twice;
use crate::store::register::{Register, Wanted};
use crate::web::stations::{Reply, Visit, value};
use fields::Fields;
use std::path::PathBuf;
use trundle_core::result::record_v1::RecordV1;
use trundle_show::stations::{Markup, parts, records};
use trundle_show::words::records as words;
use trundle_show::words::station::Station;

/// Where a record that was signed off from here is noted, and of which captures it was.
const SIGNED: [&str; 2] = ["signed-off-as", "signed-off-of"];

/// Show it.
pub fn look(house: &House, visit: &Visit) -> Reply {
    let fields = Fields::of(house, None);
    let above = above(house, &fields);
    with(house, &Fields::signing(), above, |twice| {
        twice.look(house, visit, &|name| fields.before(name))
    })
}

/// Take it.
pub fn act(house: &House, visit: &Visit, sent: &Sent) -> Reply {
    let typed = fields::names(&Fields::signing()).map(|name| {
        let value = value(sent, &name).to_owned();
        (name, value)
    });
    let newest = Fields::of(house, None).newest();
    let keep = || house.change(|job| job.note(Station::Sign, typed.chain(newest)));
    let kept = if house.ours(visit, sent) { keep() } else { Ok(()) };
    let fault = kept.err().map(|trouble| trouble.to_string());
    let above = parts::sentences(&fault.into_iter().collect::<Vec<_>>());
    let reply = with(house, &Fields::signing(), above, |twice| twice.act(house, visit, sent));
    // Only what led on to a record was signed off.
    if let Reply::See(path) = &reply
        && let Some(id) = path.strip_prefix("/records/").and_then(|rest| rest.split('?').next())
    {
        let of = fields::captures(&|name| value(sent, name).to_owned());
        let noted = SIGNED.map(str::to_owned).into_iter().zip([id.to_owned(), of]);
        // What cannot be noted only costs the words that it was signed off already.
        let _ = house.change(|job| {
            job.typed.remove(Station::Sign.word());
            job.note(Station::Sign, noted);
        });
    }
    reply
}

fn with(house: &House, of: &Of, above: Markup, then: impl FnOnce(&Twice<'_>) -> Reply) -> Reply {
    let fields = Fields::of(house, None);
    then(&Twice {
        station: Station::Sign,
        heading: None,
        path: Station::Sign.path(),
        of,
        above,
        dress: &|all| fields.dress(all),
        groups: &fields::GROUPS,
        argv: &|sent| fields::argv(of, sent),
        adds: [&["--dry-run"], &[]],
        buttons: [words::SHOW_RECORD, words::SIGN_NOW],
        shows: words::AS_IT_WOULD_BE,
        run: &|argv| run(house, argv),
        seen: &|| newest(house),
        done: &done,
    })
}

/// Run it; where it is done for good, it gives the record itself, which says its name.
pub(super) fn run(house: &House, argv: &[String]) -> Result<Ran, super::house::Refused> {
    let mut argv = argv.to_vec();
    if !argv.iter().any(|word| word == "--dry-run") {
        let at = argv.iter().position(|word| word == "--").unwrap_or(argv.len());
        argv.insert(at, "--json".to_owned());
    }
    house.run(&argv)
}

/// On to the record.
pub(super) fn done(ran: &Ran) -> (String, Vec<String>) {
    let record = std::str::from_utf8(&ran.out).ok().and_then(|text| RecordV1::from_json(text).ok());
    let path = match record {
        Some(record) => records::of_record(&record.id),
        None => Station::Records.path().to_owned(),
    };
    (path, ran.err.lines().map(str::to_owned).collect())
}

/// Name of the newest record: what is signed off is shown beside the records that there are.
pub(super) fn newest(house: &House) -> String {
    let wanted = Wanted { most: Some(1), ..Wanted::default() };
    let rows = Register::read(&house.place).and_then(|register| register.records(&wanted));
    rows.ok().and_then(|rows| rows.into_iter().next()).map(|row| row.id).unwrap_or_default()
}

fn above(house: &House, fields: &Fields) -> Markup {
    let mut said = fields.troubles.clone();
    let job = house.job();
    let [id, of] = SIGNED.map(|name| job.typed(Station::Sign, name));
    let again = !id.is_empty() && of == fields::captures(&|name| fields.before(name));
    if again {
        said.push(words::signed_already(&id));
    }
    let way = again.then(|| parts::go(&records::of_record(&id), &words::record(&id)));
    let all = [Some(parts::about(Station::Sign)), Some(parts::sentences(&said)), way];
    parts::all(&all.into_iter().flatten().collect::<Vec<_>>())
}

/// The captures of a station of the job, the newest first.
pub(super) fn of_job(house: &House, station: Station) -> Vec<PathBuf> {
    let job = house.job();
    let all = job.captures.get(station.word()).into_iter().flatten();
    all.rev().filter(|path| path.exists()).cloned().collect()
}
