//! Settings: what need not be typed each time, where everything is saved, whether all is in order.

use super::form::Sent;
use super::house::{Acted, House, Refused, say_refused};
use super::keys::Done;
use crate::shell::tongue;
use crate::store::settings::{self, Settings};
use crate::store::settings_file::{self, KEYS, NotSet};
use crate::web::stations::{Reply, Visit, value};
use trundle_show::stations::form::{Field, Form};
use trundle_show::stations::{Markup, parts, set};
use trundle_show::words::settings as words;
use trundle_show::words::station::Station;

/// Its path.
pub const PATH: &str = "/settings";
/// Path of the look at everything.
pub const DOCTOR: &str = "/settings/doctor";

/// Show it.
pub fn look(house: &House, visit: &Visit) -> Reply {
    let typed = settings_file::typed();
    let typed = |name: &str| typed.iter().find(|(key, _)| *key == name).map(|(_, value)| value);
    let form = form(house, &|name| typed(name).cloned().unwrap_or_default());
    show(house, visit, 200, &form)
}

/// The form, with what is typed for each key.
fn form(house: &House, typed: &dyn Fn(&str) -> String) -> Form {
    let field = |key: &&str| {
        let mut field = Field::text(key, words::label(key), &typed(key));
        field.hint = words::hint(key).to_owned();
        field.kind = set::kind(key);
        field
    };
    Form {
        action: PATH.to_owned(),
        heading: words::SETTINGS.to_owned(),
        about: words::ABOUT.map(str::to_owned).to_vec(),
        fields: KEYS.iter().map(field).collect(),
        button: trundle_show::words::stations::SAVE.to_owned(),
        key: house.key(PATH),
        ..Form::default()
    }
}

fn show(house: &House, visit: &Visit, status: u16, form: &Form) -> Reply {
    let file = settings::path().map(|path| path.display().to_string());
    let main = parts::all(&[
        set::devices(house.front.opened().lan),
        set::file(file.as_deref(), house.place.folder(), house.place.origin()),
        form.markup(),
        ran(house, &["where"], words::WHERE),
        set::doctor(DOCTOR),
    ]);
    house.page_named(Station::Start, Some(words::SETTINGS), visit, status, main)
}

/// What a command says, or why it says nothing.
fn ran(house: &House, argv: &[&str], heading: &str) -> Markup {
    let argv: Vec<String> = argv.iter().map(|word| (*word).to_owned()).collect();
    let lines = match house.run(&argv) {
        Ok(ran) => ran.lines(),
        Err(Refused::Misread(misread)) => vec![misread.words],
        Err(Refused::Trouble(trouble)) => trouble.to_string().lines().map(str::to_owned).collect(),
    };
    let command = trundle_show::stations::form::command(&super::form::shown(&argv));
    parts::all(&[parts::said(heading, &lines), command])
}

/// Look at everything that a day's work needs, as `trundle doctor` does; at the ports only while
/// nothing is recorded.
pub fn look_doctor(house: &House, visit: &Visit) -> Reply {
    let recording = house.live.station().is_some();
    let argv: &[&str] = if recording { &["doctor", "--no-ports"] } else { &["doctor"] };
    // The look at what is plugged in has the ports for some seconds.
    house.front.plugged.wait();
    let mut main = vec![ran(house, argv, words::DOCTOR)];
    if recording {
        main.push(parts::sentences(&[words::DOCTOR_NO_PORTS.to_owned()]));
    }
    main.push(parts::go(PATH, words::BACK));
    house.page_named(Station::Start, Some(words::DOCTOR), visit, 200, parts::all(&main))
}

/// Save what was typed.
pub fn act(house: &House, visit: &Visit, sent: &Sent) -> Reply {
    let form = || form(house, &|name| value(sent, name).to_owned());
    let again =
        |fault: &[String]| show(house, visit, 409, &Form { fault: fault.to_vec(), ..form() });
    house.once(visit, sent, again, || {
        let typed = |key: &&'static str| (*key, value(sent, key).to_owned());
        let values: Vec<_> = KEYS.iter().map(typed).collect();
        match settings_file::write(&values) {
            Ok(()) => {
                tongue::speak(Settings::read().unwrap_or_default().language);
                Acted::Done(Done {
                    path: PATH.to_owned(),
                    lines: words::SAVED.map(str::to_owned).to_vec(),
                    good: true,
                    command: String::new(),
                })
            }
            Err(NotSet::Value(key, fault)) => {
                let mut form = form();
                form.fields.iter_mut().filter(|field| field.name == key).for_each(|field| {
                    field.fault.clone_from(&fault);
                });
                Acted::Refused(show(house, visit, 422, &form))
            }
            Err(NotSet::File(trouble)) => {
                let mut form = form();
                say_refused(&mut form, &Refused::Trouble(trouble));
                Acted::Refused(show(house, visit, 422, &form))
            }
        }
    })
}
