//! Forms that are sent twice: the first time it is shown what would be done, the second time it is
//! done.

use super::form::{Of, Sent, shown};
use super::house::{Acted, House, Ran, Refused, say_refused};
use super::keys::Done;
use crate::shell::exit;
use crate::web::stations::{Reply, Visit, value};
use trundle_show::stations::form::{Field, Form};
use trundle_show::stations::{Markup, parts, records};
use trundle_show::words::records as words;
use trundle_show::words::station::Station;

/// Name of the field that tells the second time from the first.
const PRESS: &str = "press";
/// Its value the second time.
const SURE: &str = "sure";
/// Name of the field that holds what the first time was shown for.
const SEEN: &str = "seen";
/// A command that was only to show something says so; here that goes without saying.
const DRY: &str = "(--dry-run)";

/// A form that is sent twice.
pub struct Twice<'a> {
    /// Its station.
    pub station: Station,
    /// Heading of the page.
    pub heading: Option<&'a str>,
    /// Where it is sent.
    pub path: &'a str,
    /// The command and its options.
    pub of: &'a Of,
    /// What stands above the form.
    pub above: Markup,
    /// What makes the fields fit for the page.
    pub dress: &'a dyn Fn(Vec<Field>) -> Vec<Field>,
    /// Headings above fields: the name of the field, and the words.
    pub groups: &'a [(&'a str, &'a str)],
    /// The command for what was sent.
    pub argv: &'a dyn Fn(&Sent) -> Vec<String>,
    /// What is added the first time, and the second.
    pub adds: [&'a [&'a str]; 2],
    /// What the button says the first time, and the second.
    pub buttons: [&'a str; 2],
    /// Heading of what is shown.
    pub shows: &'a str,
    /// Runs it.
    pub run: &'a dyn Fn(&[String]) -> Result<Ran, Refused>,
    /// What is shown rests on this; when it has changed meanwhile, it is shown again.
    pub seen: &'a dyn Fn() -> String,
    /// Where to go on when it is done, and what to say there.
    pub done: &'a dyn Fn(&Ran) -> (String, Vec<String>),
}

impl Twice<'_> {
    fn form(&self, house: &House, typed: &dyn Fn(&str) -> String) -> Form {
        let mut form = house.form(self.of, self.path, self.buttons[0], typed);
        form.fields = (self.dress)(form.fields);
        let headed = |(name, words): &(&str, &str)| ((*name).to_owned(), parts::heading(words));
        form.above = self.groups.iter().map(headed).collect();
        // Fields that are no options of the command.
        for field in &mut form.fields {
            if !self.of.options.iter().any(|(name, _)| *name == field.name) {
                field.value = typed(&field.name);
            }
        }
        form
    }

    fn page(&self, house: &House, visit: &Visit, status: u16, main: &[Markup]) -> Reply {
        house.page_named(self.station, self.heading, visit, status, parts::all(main))
    }

    /// Show the form.
    pub fn look(&self, house: &House, visit: &Visit, typed: &dyn Fn(&str) -> String) -> Reply {
        let form = self.form(house, typed);
        self.page(house, visit, 200, &[self.above.clone(), form.markup()])
    }

    /// Take the form.
    pub fn act(&self, house: &House, visit: &Visit, sent: &Sent) -> Reply {
        if value(sent, PRESS) != SURE {
            return self.first(house, visit, sent, 200, &[]);
        }
        let again = |fault: &[String]| self.first(house, visit, sent, 409, fault);
        house.once(visit, sent, again, || {
            if value(sent, SEEN) != (self.seen)() {
                return Acted::Refused(again(&words::MEANWHILE.map(str::to_owned)));
            }
            let argv = self.typed(sent, 1);
            match (self.run)(&argv) {
                Ok(ran) => {
                    let (path, lines) = (self.done)(&ran);
                    let (good, command) = (ran.code == exit::OK, shown(&argv));
                    Acted::Done(Done { path, lines, good, command })
                }
                Err(refused) => Acted::Refused(self.refused(house, visit, sent, &refused)),
            }
        })
    }

    fn typed(&self, sent: &Sent, time: usize) -> Vec<String> {
        let mut argv = (self.argv)(sent);
        // Before what has no name, which stands last.
        let at = argv.iter().position(|word| word == "--").unwrap_or(argv.len());
        argv.splice(at..at, self.adds[time].iter().map(|word| (*word).to_owned()));
        argv
    }

    /// Show what would be done, and ask for the second time.
    fn first(
        &self,
        house: &House,
        visit: &Visit,
        sent: &Sent,
        status: u16,
        fault: &[String],
    ) -> Reply {
        let argv = self.typed(sent, 0);
        let ran = match (self.run)(&argv) {
            Ok(ran) => ran,
            Err(refused) => return self.refused(house, visit, sent, &refused),
        };
        let said: Vec<String> =
            ran.err.lines().filter(|line| !line.contains(DRY)).map(str::to_owned).collect();
        let lines: Vec<String> =
            String::from_utf8_lossy(&ran.out).lines().map(str::to_owned).collect();
        let mut hidden: Vec<(String, String)> = sent
            .iter()
            .filter(|(name, _)| !["key", PRESS, SEEN].contains(&name.as_str()))
            .cloned()
            .collect();
        hidden.push((PRESS.to_owned(), SURE.to_owned()));
        hidden.push((SEEN.to_owned(), (self.seen)()));
        let sure = Form {
            action: self.path.to_owned(),
            about: vec![words::NOT_YET.to_owned()],
            hidden,
            button: self.buttons[1].to_owned(),
            key: house.key(self.path),
            fault: fault.to_vec(),
            command: shown(&self.typed(sent, 1)),
            ..Form::default()
        };
        let mut change = self.form(house, &|name| value(sent, name).to_owned());
        change.heading = words::CHANGE.to_owned();
        let shows = parts::said(self.shows, &lines);
        let main = [records::warnings(&said), shows, sure.markup(), change.markup()];
        // With nothing to type there is nothing to change.
        let most = if change.fields.is_empty() { 3 } else { main.len() };
        self.page(house, visit, status, &main[..most])
    }

    fn refused(&self, house: &House, visit: &Visit, sent: &Sent, refused: &Refused) -> Reply {
        let mut form = self.form(house, &|name| value(sent, name).to_owned());
        say_refused(&mut form, refused);
        // What is flagged may be accepted in writing: that is asked for where it is written.
        if let Refused::Trouble(trouble) = refused
            && trouble.code == exit::FLAGGED
        {
            let asked = |field: &&mut Field| trouble.next.contains(&format!("--{} ", field.name));
            if let Some(field) = form.fields.iter_mut().find(asked) {
                field.fault.clone_from(&trouble.what);
            }
        }
        self.page(house, visit, 422, &[self.above.clone(), form.markup()])
    }
}
