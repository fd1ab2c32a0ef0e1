//! What all stations share: the job at hand, the live recording, forms that are done, and pages.

use super::form::{self, Misread, Of, Sent};
use super::front::Front;
use super::job::Job;
use super::keys::{Done, Keys, Ruling};
use super::live::Live;
use super::measured::Results;
use super::misread::on_page;
use super::table;
use crate::commands;
use crate::shell::exit::{self, Trouble};
use crate::shell::out;
use crate::store::place::DataFolder;
use crate::store::settings::Settings;
use crate::web::hub::Hub;
use crate::web::stations::{Reply, Stations, Visit, value};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, Weak};
use trundle_show::reading::Reading;
use trundle_show::stations::Markup;
use trundle_show::stations::form::Form;
use trundle_show::stations::frame::{Frame, Notice, page};
use trundle_show::words::station::Station;
use trundle_show::words::stations as words;

/// What all stations share.
pub struct House {
    /// Where everything is saved.
    pub place: DataFolder,
    /// The live recording, and how the last ones ended.
    pub live: Live,
    /// Results of captures that were calculated.
    pub results: Results,
    /// Its server, and what the program knows of itself.
    pub front: Front,
    /// Records that are being verified, or were.
    pub long: super::long::Long,
    /// What was said in captures.
    pub read: super::captures::Captures,
    /// Itself, for the thread of a recording.
    pub own: Weak<Self>,
    job: Mutex<Job>,
    keys: Mutex<Keys>,
    /// Forms are done one after the other.
    doing: Mutex<()>,
}

/// What a form came to.
pub enum Acted {
    /// It is done: where to go on, and what is to be said there.
    Done(Done),
    /// Nothing was done: the page with what was typed, and what is wrong.
    Refused(Reply),
}

/// What a command said.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ran {
    /// Its exit code.
    pub code: u8,
    /// What it printed.
    pub out: Vec<u8>,
    /// What it said beside that.
    pub err: String,
}

impl Ran {
    /// The lines it printed, and those beside.
    #[must_use]
    pub fn lines(&self) -> Vec<String> {
        let out = String::from_utf8_lossy(&self.out);
        out.lines().chain(self.err.lines()).map(str::to_owned).collect()
    }
}

impl Refused {
    /// The same as what a command said that ended with this.
    #[must_use]
    pub fn as_ran(&self) -> Ran {
        match self {
            Self::Misread(Misread { words, .. }) => {
                Ran { code: exit::USAGE, out: Vec::new(), err: words.clone() }
            }
            Self::Trouble(trouble) => {
                Ran { code: trouble.code, out: Vec::new(), err: trouble.to_string() }
            }
        }
    }

    /// The same, line by line.
    #[must_use]
    pub fn lines(&self) -> Vec<String> {
        self.as_ran().lines()
    }
}

/// Why a command did nothing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Refused {
    /// It was not understood.
    Misread(Misread),
    /// It was, and could not be done.
    Trouble(Trouble),
}

impl House {
    /// Open it.
    ///
    /// # Errors
    /// [`Trouble`] of code 70 for a system without random numbers, 6 without a place to save in.
    pub fn open(hub: Hub) -> Result<Arc<Self>, Trouble> {
        let place = DataFolder::in_force()?;
        let keys = Keys::new().map_err(|error| {
            Trouble::internal(format!("There are no random numbers ({error})."))
        })?;
        let job = Mutex::new(Job::read(&place));
        let (keys, doing) = (Mutex::new(keys), Mutex::new(()));
        let live = Live::new(hub);
        live.practise(lock(&job).practice.is_some());
        let (long, read, front, results) = Default::default();
        let house = |own: &Weak<Self>| Self {
            place,
            live,
            results,
            front,
            long,
            read,
            own: own.clone(),
            job,
            keys,
            doing,
        };
        Ok(Arc::new_cyclic(house))
    }

    /// The job at hand as it stands.
    #[must_use]
    pub fn job(&self) -> Job {
        lock(&self.job).clone()
    }

    /// Change the job at hand, and save it.
    ///
    /// # Errors
    /// [`Trouble`] of code 6; the change holds while the program runs.
    pub fn change(&self, change: impl FnOnce(&mut Job)) -> Result<(), Trouble> {
        let mut job = lock(&self.job);
        change(&mut job);
        self.live.practise(job.practice.is_some());
        job.save(&self.place)
    }

    /// A key for a form that is sent to `path`.
    #[must_use]
    pub fn key(&self, path: &str) -> String {
        // Without random numbers the form has no key, and is asked for again when it is sent.
        lock(&self.keys).key(path).unwrap_or_default()
    }

    /// Is the form that came one of ours, of this program? What is kept of any other is nothing.
    #[must_use]
    pub fn ours(&self, visit: &Visit, sent: &Sent) -> bool {
        lock(&self.keys).ruling(value(sent, "key"), &visit.path) != Ruling::Foreign
    }

    /// Do what a form asks, once: sent again, it leads to where it led before. `again` makes the
    /// page with what was typed and these words, for a form of a program that has ended.
    pub fn once(
        &self,
        visit: &Visit,
        sent: &Sent,
        again: impl FnOnce(&[String]) -> Reply,
        act: impl FnOnce() -> Acted,
    ) -> Reply {
        let _one = lock(&self.doing);
        let key = value(sent, "key");
        let ruling = lock(&self.keys).ruling(key, &visit.path);
        let done = match ruling {
            Ruling::Foreign => return again(&words::STALE.map(str::to_owned)),
            Ruling::Again(done) => done,
            Ruling::Fresh => match act() {
                Acted::Refused(reply) => return reply,
                Acted::Done(done) => {
                    lock(&self.keys).note(key, done.clone());
                    done
                }
            },
        };
        let join = if done.path.contains('?') { '&' } else { '?' };
        Reply::See(format!("{}{join}did={key}", done.path))
    }

    /// Run a command here and hear what it says.
    ///
    /// # Errors
    /// [`Refused`].
    pub fn run(&self, argv: &[String]) -> Result<Ran, Refused> {
        let command = form::read(argv).map_err(Refused::Misread)?;
        self.hear(|| commands::run(command))
    }

    /// Do something here as a command does it, and hear what it says.
    ///
    /// # Errors
    /// [`Refused::Trouble`].
    pub fn hear(&self, what: impl FnOnce() -> Result<u8, Trouble>) -> Result<Ran, Refused> {
        let done = catch_unwind(AssertUnwindSafe(|| out::heard_whole(what)));
        let (done, heard) = done.map_err(|_| {
            Refused::Trouble(Trouble::internal("The command stopped unexpectedly."))
        })?;
        let code = done.map_err(Refused::Trouble)?;
        let err = String::from_utf8_lossy(&heard.err).into_owned();
        Ok(Ran { code, out: heard.out, err })
    }

    /// A form over a command, with what was typed: by the browser just now, else what is given
    /// for each field.
    #[must_use]
    pub fn form(&self, of: &Of, path: &str, button: &str, typed: &dyn Fn(&str) -> String) -> Form {
        Form {
            action: path.to_owned(),
            fields: of.fields(typed),
            button: button.to_owned(),
            key: self.key(path),
            ..Form::default()
        }
    }

    /// How numbers and times are read.
    #[must_use]
    pub fn reading(&self) -> Reading {
        Settings::reading_in_force()
    }

    /// A page of a station.
    #[must_use]
    pub fn page(&self, station: Station, visit: &Visit, status: u16, main: Markup) -> Reply {
        self.page_named(station, None, visit, status, main)
    }

    /// The same under another heading.
    #[must_use]
    pub fn page_named(
        &self,
        station: Station,
        heading: Option<&str>,
        visit: &Visit,
        status: u16,
        main: Markup,
    ) -> Reply {
        let did = lock(&self.keys).done(visit.asked("did"));
        let notices: Vec<Notice> = did
            .into_iter()
            .map(|done| Notice { good: done.good, lines: done.lines, command: done.command })
            .collect();
        let live = self.live.station();
        let way = super::start::way::way(self, live);
        let practice = self.live.practice();
        let over_the_air = !visit.inside;
        let notices = &notices;
        let frame =
            Frame { station, heading, way: &way, live, practice, over_the_air, notices, main };
        Reply::Page(status, page(&frame))
    }
}

/// Put what was refused beside its field, or at the head of the form.
pub fn say_refused(form: &mut Form, refused: &Refused) {
    match refused {
        Refused::Misread(Misread { option, words }) => {
            let words = on_page(words, form);
            let at = option.as_deref();
            match form.fields.iter_mut().find(|field| Some(field.name.as_str()) == at) {
                Some(field) => field.fault = words,
                None => form.fault = vec![words],
            }
        }
        Refused::Trouble(trouble) => {
            // Whose option is not said by itself says it in what is to be done.
            let wanted = format!("{} ", trouble.next);
            let at = |name: &str| match trouble.option {
                Some(option) => option == name,
                None => wanted.contains(&format!("--{name} ")),
            };
            let usage = trouble.code == exit::USAGE;
            let what = on_page(&trouble.what, form);
            let all = on_page(&trouble.to_string(), form);
            // A trouble that names the option it wants again belongs beside that field.
            match form.fields.iter_mut().find(|field| usage && at(&field.name)) {
                Some(field) => field.fault = what,
                None => form.fault = all.lines().map(str::to_owned).collect(),
            }
        }
    }
}

impl Stations for House {
    fn look(&self, visit: &Visit) -> Reply {
        match table::row(&visit.path) {
            Some(row) => (row.look)(self, visit),
            None => Reply::See("/".to_owned()),
        }
    }

    fn act(&self, visit: &Visit, sent: &Sent) -> Reply {
        match table::row(&visit.path).and_then(|row| row.act) {
            Some(act) => act(self, visit, sent),
            None => Reply::See("/".to_owned()),
        }
    }
}

pub(super) fn lock<T: ?Sized>(of: &Mutex<T>) -> MutexGuard<'_, T> {
    of.lock().unwrap_or_else(PoisonError::into_inner)
}
