//! Results of captures, as the command calculates them, kept until something changes: a page that
//! is looked at again does not calculate again.

use crate::desk::given::{self, Given};
use crate::stations::form;
use crate::stations::house::{House, Ran, Refused, lock};
use std::collections::BTreeMap;
use std::path::Path;
use std::sync::{Arc, Mutex};
use std::time::SystemTime;
use trundle_show::reading::Reading;
use trundle_show::words::station::Station;

/// A capture calculated by its command.
pub struct Worked {
    /// What the command said, or why it did nothing.
    pub ran: Result<Ran, Refused>,
    /// The result in the forms of a page.
    pub given: Given,
    /// The command.
    pub command: String,
}

/// What was calculated last, by station.
#[derive(Default)]
pub struct Results(Mutex<BTreeMap<Station, (Key, Arc<Worked>)>>);

/// The command, the capture as it was: size and time of the last change, and how it is read.
type Key = (Vec<String>, Option<(u64, SystemTime)>, Reading);

fn key(argv: &[String], capture: &Path, reading: Reading) -> Key {
    let stamp = std::fs::metadata(capture).ok();
    let stamp = stamp.and_then(|meta| Some((meta.len(), meta.modified().ok()?)));
    (argv.to_vec(), stamp, reading)
}

/// The result of this command for this capture.
pub fn worked(house: &House, station: Station, argv: &[String], capture: &Path) -> Arc<Worked> {
    let key = key(argv, capture, house.reading());
    if let Some((kept, worked)) = lock(&house.results.0).get(&station)
        && *kept == key
    {
        return Arc::clone(worked);
    }
    // Nobody waits for the lock meanwhile: at worst two calculate the same.
    let (ran, given) = given::asked(|| house.run(argv));
    let worked = Arc::new(Worked { ran, given, command: form::shown(argv) });
    lock(&house.results.0).insert(station, (key, Arc::clone(&worked)));
    worked
}
