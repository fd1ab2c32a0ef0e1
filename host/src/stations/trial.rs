//! For tests: a house with a data folder of its own, and a browser without one.

use super::form::Sent;
use super::house::House;
use crate::store::place;
use crate::web::guard::Role;
use crate::web::hub::Hub;
use crate::web::stations::{Reply, Stations as _, Visit, pairs};
use std::path::PathBuf;
use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};

/// One test after the other: there is one data folder in a program.
static ONE: Mutex<()> = Mutex::new(());

/// A house, for one test at a time.
pub struct Trial {
    pub house: Arc<House>,
    _one: MutexGuard<'static, ()>,
}

/// A capture of six passes that is part of the repository.
pub fn capture() -> String {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../logs/simulated-rtk.capture");
    path.canonicalize().unwrap().display().to_string()
}

impl Trial {
    /// The folder is removed by whoever removes what is temporary: other tests may still use it.
    pub fn begin() -> Self {
        static FOLDER: OnceLock<PathBuf> = OnceLock::new();
        let one = ONE.lock().unwrap_or_else(PoisonError::into_inner);
        let folder = FOLDER.get_or_init(|| {
            let mut own = [0; 8];
            getrandom::fill(&mut own).unwrap();
            std::env::temp_dir().join(format!("trundle-{}", trundle_core::units::hex(&own)))
        });
        place::name(folder.clone());
        let house = House::open(Hub::default()).unwrap();
        // What another test typed is not typed here.
        house.change(|job| *job = super::job::Job::default()).unwrap();
        Self { house, _one: one }
    }

    /// The same house after the program was ended and started again.
    pub fn again(&mut self) {
        self.house = House::open(Hub::default()).unwrap();
    }

    /// A command as it is typed.
    pub fn run(&self, argv: &[&str]) -> super::house::Ran {
        let argv: Vec<String> = argv.iter().map(|word| (*word).to_owned()).collect();
        self.house.run(&argv).unwrap()
    }

    pub fn look(&self, path: &str) -> Reply {
        self.house.look(&visit(path))
    }

    pub fn act(&self, path: &str, sent: &Sent) -> Reply {
        self.house.act(&visit(path), sent)
    }

    /// The page at a path.
    pub fn page(&self, path: &str) -> String {
        match self.look(path) {
            Reply::Page(200, page) => page,
            other => panic!("{path}: {other:?}"),
        }
    }
}

fn visit(path: &str) -> Visit {
    let (path, query) = path.split_once('?').unwrap_or((path, ""));
    let query = pairs(query.as_bytes());
    Visit { path: path.to_owned(), query, role: Some(Role::Full), inside: true }
}

/// What a browser would send of the form on a page whose button says this, with other values for
/// some fields. Boxes that are not ticked are not sent.
pub fn form(page: &str, button: &str, other: &[(&str, &str)]) -> Vec<(String, String)> {
    let forms = page.split("<form ").skip(1);
    let mut forms = forms.map(|form| form.split("</form>").next().unwrap());
    let form = forms.find(|form| form.contains(&format!(">{button}</button>")));
    let form = form.unwrap_or_else(|| panic!("no form to {button}: {page}"));
    let mut sent = Vec::new();
    for tag in form.split('<').filter(|tag| tag.starts_with("input ")) {
        let ticked = !tag.contains("type=\"checkbox\"") || tag.contains(" checked");
        if let (Some(name), true) = (attribute(tag, "name"), ticked) {
            sent.push((name, attribute(tag, "value").unwrap_or_default()));
        }
    }
    for select in form.split("<select ").skip(1) {
        let select = select.split("</select>").next().unwrap();
        let chosen = select.split("<option ").skip(1).find(|option| option.contains(" selected"));
        let value = chosen.and_then(|option| attribute(option, "value")).unwrap_or_default();
        sent.push((attribute(select, "name").unwrap(), value));
    }
    for (name, value) in other {
        sent.retain(|(known, _)| known != name);
        sent.push(((*name).to_owned(), (*value).to_owned()));
    }
    sent
}

fn attribute(tag: &str, name: &str) -> Option<String> {
    let value = tag.split_once(&format!("{name}=\""))?.1.split('"').next()?;
    let plain = value.replace("&quot;", "\"").replace("&lt;", "<").replace("&gt;", ">");
    Some(plain.replace("&amp;", "&"))
}
