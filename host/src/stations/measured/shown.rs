//! What such a station looks like.

use super::kinds::Kind;
use super::{PAPER, result};
use crate::shell::exit::Trouble;
use crate::stations::house::{House, Refused, say_refused};
use crate::web::guard::Role;
use crate::web::stations::{Reply, Visit};
use std::path::PathBuf;
use trundle_show::stations::form::{Field, Form, Kind as FieldKind, command};
use trundle_show::stations::{Markup, parts};
use trundle_show::words::station::Station;
use trundle_show::words::stations_measured as measured;

/// Its forms.
pub struct Forms {
    /// Begins a recording.
    pub begin: Form,
    /// Calculates a capture.
    pub work: Option<Form>,
}

/// Captures to choose from, the newest first.
pub fn choice(name: &str, captures: &[PathBuf], typed: &str) -> Field {
    let choices = captures.iter().rev().map(|path| {
        let shown = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned();
        (path.display().to_string(), shown)
    });
    let kind = FieldKind::Choice(choices.collect());
    Field { kind, ..Field::text(name, measured::CHOOSE, typed) }
}

/// The page.
pub fn show(house: &House, visit: &Visit, kind: &Kind, status: u16, forms: Forms) -> Reply {
    let station = kind.station;
    let ended = house.live.ended(station);
    let trouble = ended.as_ref().and_then(|ended| ended.trouble.as_ref());
    let mut main = vec![parts::about(station)];
    // What stopped the last recording comes first: nothing was measured by it.
    let mut begin = forms.begin;
    if let Some(trouble) = trouble.filter(|_| status == 200) {
        say_refused(&mut begin, &Refused::Trouble(trouble.clone()));
    }
    begin.fields.retain(|field| wanted(field, trouble));
    let result = result(house, kind);
    let there = result.is_some();
    main.extend(result.map(|(worked, capture)| result_parts(house, kind, &worked, &capture)));
    if let Some(ended) = &ended {
        main.push(parts::folded(measured::MESSAGES, &parts::lines(&ended.lines)));
    }
    main.push(parts::cautions(kind.cautions.0, kind.cautions.1));
    if visit.role == Some(Role::Full) {
        if there {
            measured::MEASURE_AGAIN.clone_into(&mut begin.heading);
        }
        main.push(begin.markup());
        if let Some(work) = forms.work {
            let open = status != 200 && !(work.fault.is_empty() && faultless(&work));
            main.push(parts::folded_form(measured::AGAIN, open, &work.markup()));
        }
    } else {
        main.push(parts::sentences(&[measured::LOOK_ONLY.to_owned()]));
    }
    if station == Station::Speeds {
        main.push(parts::go(Station::Bus.path(), measured::TO_BUS));
    }
    house.page(station, visit, status, parts::all(&main))
}

fn faultless(form: &Form) -> bool {
    form.fields.iter().all(|field| field.fault.is_empty())
}

/// A field that most jobs need not fill in is shown once it was, or once a command asks for it.
fn wanted(field: &Field, trouble: Option<&Trouble>) -> bool {
    let option = format!("--{}", field.name);
    let asks = |words: &str| {
        let mut words = words.split(|c: char| c.is_whitespace() || ".,;:`\"".contains(c));
        words.any(|word| word == option)
    };
    !Kind::only_wanted(&field.name)
        || !field.value.is_empty()
        || !field.fault.is_empty()
        || trouble.is_some_and(|trouble| asks(&trouble.next) || trouble.what.contains(&option))
}

/// The result, in the order of the reader's questions.
fn result_parts(
    house: &House,
    kind: &Kind,
    worked: &super::results::Worked,
    capture: &std::path::Path,
) -> Markup {
    let path = kind.station.path();
    let name = capture.file_name().unwrap_or(capture.as_os_str()).to_string_lossy();
    let from = measured::from_capture(&name);
    let mut out = Vec::new();
    match &worked.ran {
        Ok(ran) => {
            let lines = ran.lines();
            match &worked.given.card {
                Some(card) => {
                    out.push(card.clone());
                    out.push(parts::folded(measured::IN_WORDS, &parts::lines(&lines)));
                }
                None => out.push(parts::said(measured::RESULT, &lines)),
            }
            if worked.given.paper.is_some() {
                out.push(parts::go(&format!("{path}/{PAPER}"), measured::PAPER));
            }
        }
        Err(refused) => {
            let of = kind.work();
            let mut form = house.form(&of, path, "", &|_| String::new());
            say_refused(&mut form, refused);
            let own = form.fields.into_iter().map(|field| field.fault);
            let said: Vec<String> =
                form.fault.into_iter().chain(own).filter(|words| !words.is_empty()).collect();
            out.push(parts::said(measured::NO_RESULT_YET, &said));
        }
    }
    out.push(parts::sentences(&[from]));
    out.push(command(&worked.command));
    parts::all(&out)
}
