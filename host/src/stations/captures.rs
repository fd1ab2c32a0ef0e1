//! What was said in captures of the job, read once and remembered: a form must not wait for a
//! capture that was read before.

use super::house::lock;
use crate::commands::active;
use crate::commands::work::replay;
use crate::shell::out;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::time::SystemTime;
use trundle_core::rig::conditions::{Conditions, in_note, option};
use trundle_core::session::Session;

/// What shows that a file is still the one that was read: its length, and when it was written.
type Stamp = (u64, Option<SystemTime>);
/// What was read of it, or why nothing could be.
type Read = Result<Arc<Noted>, String>;

/// What was said in a capture.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Noted {
    /// Its rig.
    pub rig: Option<String>,
    /// Conditions: the option, and what was typed for it.
    pub conditions: Vec<(String, String)>,
    /// It holds a course.
    pub course: bool,
    /// It came from the simulator.
    pub practice: bool,
}

/// Captures that were read.
#[derive(Default)]
pub struct Captures(Mutex<BTreeMap<PathBuf, (Stamp, Read)>>);

impl Captures {
    /// What was said in this one.
    ///
    /// # Errors
    /// Why it cannot be read, in words.
    pub fn of(&self, path: &Path) -> Read {
        let found = std::fs::metadata(path).map_err(|error| error.to_string())?;
        let stamp = (found.len(), found.modified().ok());
        if let Some((_, read)) = lock(&self.0).get(path).filter(|(known, _)| *known == stamp) {
            return read.clone();
        }
        let (session, _) = out::heard_whole(|| replay(path));
        let read = match session {
            Ok(session) => Ok(Arc::new(noted(&session))),
            Err(trouble) => Err(trouble.to_string().replace('\n', " ")),
        };
        lock(&self.0).insert(path.to_owned(), (stamp, read.clone()));
        read
    }
}

fn noted(session: &Session) -> Noted {
    let notes: Vec<&str> = session.notes().iter().map(|(_, note)| note.as_str()).collect();
    // Of a kind that was said twice, and of inflation by axle or of all tyres, one counts.
    let counts = Conditions::of_notes(notes.iter().copied());
    let mut conditions: BTreeMap<String, String> = BTreeMap::new();
    for note in notes {
        let Some((field, Ok(_))) = in_note(note) else { continue };
        if let Some((_, typed)) = note.split_once(':').filter(|_| counts.shown(field).is_some()) {
            conditions.insert(option(field), typed.trim().to_owned());
        }
    }
    Noted {
        rig: active::named_in(session).map(str::to_owned),
        conditions: conditions.into_iter().collect(),
        course: session.course_text().is_some(),
        practice: session.header().is_some_and(|header| header.practice),
    }
}
