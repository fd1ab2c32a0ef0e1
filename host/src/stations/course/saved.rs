//! The course of the job, as a course file in the data folder: what every other station measures
//! with.

use crate::shell::exit::Trouble;
use crate::shell::files;
use crate::stations::house::House;
use std::path::PathBuf;

/// Its name in the data folder.
const FILE: &str = "course.toml";

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
