//! Records, read again only when the register has changed: every page asks for the newest.

use super::house::lock;
use crate::shell::exit::Trouble;
use crate::store::place::DataFolder;
use crate::store::register::{Register, Wanted};
use std::sync::Mutex;
use std::time::SystemTime;
use trundle_core::result::records_v1::RecordRow;

/// Records that are shown.
const SHOWN: usize = 5;

/// The newest records, as they were last read.
#[derive(Default)]
pub struct Recent(Mutex<Option<(Stand, Newest)>>);

/// How the register stood: when it was changed, and its length.
type Stand = (Option<SystemTime>, u64);

/// The newest records.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Newest {
    /// They, the newest first.
    pub rows: Vec<RecordRow>,
    /// How many more there are.
    pub more: usize,
    /// Name of the active rig.
    pub rig: Option<String>,
    /// Anything was ever saved: a rig or what it is made of.
    pub anything: bool,
}

impl Recent {
    /// The newest records and the active rig.
    ///
    /// # Errors
    /// The register's.
    pub fn newest(&self, place: &DataFolder) -> Result<Newest, Trouble> {
        let found = place.register().metadata();
        let stand = found.map_or((None, 0), |found| (found.modified().ok(), found.len()));
        let mut kept = lock(&self.0);
        if let Some((stood, newest)) = &*kept
            && *stood == stand
        {
            return Ok(newest.clone());
        }
        let newest = read(place)?;
        *kept = Some((stand, newest.clone()));
        Ok(newest)
    }
}

fn read(place: &DataFolder) -> Result<Newest, Trouble> {
    if !place.register().exists() {
        return Ok(Newest::default());
    }
    let register = Register::read(place)?;
    let (rows, more) = register.listed(&Wanted { most: Some(SHOWN), ..Wanted::default() })?;
    let rig = register.active()?.map(|rig| rig.entry.name);
    let anything = rig.is_some() || !rows.is_empty();
    Ok(Newest { rows, more, rig, anything })
}
