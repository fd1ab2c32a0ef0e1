//! The course of the job, as a course file in the data folder: what every other station measures
//! with.

use crate::shell::exit::{self, Trouble};
use crate::shell::files;
use crate::stations::house::House;
use std::path::PathBuf;

/// Its name in the data folder.
const FILE: &str = "course.toml";
/// That of the last job.
const BEFORE: &str = "course-before.toml";

impl House {
    /// The course file of the job, for `--course`; `None` where none is saved.
    #[must_use]
    pub fn course_file(&self) -> Option<PathBuf> {
        let path = place(self);
        path.is_file().then_some(path)
    }
}

fn place(house: &House) -> PathBuf {
    house.place.folder().join(FILE)
}

/// Its text; an empty one where there is none.
///
/// # Errors
/// Exit code 4 or 5 when it is there and cannot be read.
pub fn read(house: &House) -> Result<String, Trouble> {
    match house.course_file() {
        Some(path) => files::read_text(&path),
        None => Ok(String::new()),
    }
}

/// It belongs to a job that is over: put it aside under another name; gives where it is now.
///
/// # Errors
/// Exit code 6; it stays where it is then.
pub fn put_aside(house: &House) -> Result<Option<PathBuf>, Trouble> {
    let Some(path) = house.course_file() else { return Ok(None) };
    let aside = house.place.folder().join(BEFORE);
    match std::fs::rename(&path, &aside) {
        Ok(()) => Ok(Some(aside)),
        Err(error) => Err(Trouble::new(
            exit::STORAGE,
            format!("{} cannot be put aside: {error}.", path.display()),
            "The course of the last job would be taken for that of the next one.",
            "See to the rights of the folder, and try again.",
        )),
    }
}

/// Save it, whole or not at all.
///
/// # Errors
/// Exit code 6.
pub fn write(house: &House, text: &str) -> Result<PathBuf, Trouble> {
    house.place.make()?;
    let path = place(house);
    files::replace_text(&path, text)?;
    Ok(path)
}
