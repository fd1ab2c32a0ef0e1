//! The speeds on the implement bus, for the screens.

use crate::model::{BusSpeedRow, Speed};
use crate::words as texts;
use std::collections::BTreeSet;
use trundle_core::fitness::live::is_live;
use trundle_core::fitness::look::Look;
use trundle_core::session::bus::BusKey;
use trundle_core::units::KM_H_PER_M_S;
use trundle_core::wire::bus::reader::BusSample;

/// A row for each speed of each control unit; none before the first.
pub fn rows(look: &Look) -> Vec<BusSpeedRow> {
    let speeds = &look.bus_now.speeds;
    let senders: BTreeSet<u8> = speeds.keys().map(|key| key.sender).collect();
    let row = |(key, sample): (&BusKey, &BusSample)| {
        let sender = (senders.len() > 1).then_some(key.sender);
        let name = texts::bus_speed(key.kind, sender, sample.source);
        let km_h = sample.speed_mm_s.map(|mm_s| f64::from(mm_s) * 1e-3 * KM_H_PER_M_S);
        let stale = !is_live(Some(look.age_s(sample.host_ns)));
        let speed = Speed { present: true, stale, km_h, ..Speed::default() };
        BusSpeedRow { name, speed, since: look.at(sample.host_ns) }
    };
    speeds.iter().map(row).collect()
}
