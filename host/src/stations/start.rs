//! The first station: what is due next.

use super::form::Sent;
use super::house::House;
use crate::web::stations::{Reply, Visit};
use trundle_show::stations::frame::Stage;
use trundle_show::stations::parts;
use trundle_show::words::station::Station;

/// How far each station is.
pub fn way(house: &House, live: Option<Station>) -> Vec<(Station, Stage)> {
    let job = house.job();
    let stage = |station: Station| {
        if live == Some(station) {
            Stage::GoesOn
        } else if job.capture(station).is_some() {
            Stage::Done
        } else {
            Stage::Open
        }
    };
    Station::ALL.iter().map(|station| (*station, stage(*station))).collect()
}

/// Show it.
pub fn look(house: &House, visit: &Visit) -> Reply {
    let main = parts::all(&[parts::about(Station::Start), parts::due(Station::Rig)]);
    house.page(Station::Start, visit, 200, main)
}

/// Take a form.
pub fn act(_: &House, _: &Visit, _: &Sent) -> Reply {
    Reply::See("/".to_owned())
}
