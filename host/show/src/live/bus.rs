//! The speeds on the implement bus, for the screen.

use crate::model::{BusSpeedRow, Speed};
use std::collections::BTreeSet;
use trundle_core::fitness::live::is_live;
use trundle_core::fitness::look::Look;
use trundle_core::session::bus::BusKey;
use trundle_core::units::KM_H_PER_M_S;
use trundle_core::wire::bus::message::BusSpeed;
use trundle_core::wire::bus::reader::BusSample;

/// A row for each speed of each control unit; none before the first, and none without an adapter.
pub fn rows(look: &Look) -> Vec<BusSpeedRow> {
    if look.bus.is_none() {
        return Vec::new();
    }
    let speeds = &look.bus_now.speeds;
    let senders: BTreeSet<u8> = speeds.keys().map(|key| key.sender).collect();
    let row = |(key, sample): (&BusKey, &BusSample)| {
        let kind = match key.kind {
            BusSpeed::Wheel => "wheel",
            BusSpeed::Ground => "ground",
            BusSpeed::Selected => "selected",
        };
        let several = senders.len() > 1;
        let name = if several { format!("{kind} of {}", key.sender) } else { kind.to_owned() };
        let km_h = sample.speed_mm_s.map(|mm_s| f64::from(mm_s) * 1e-3 * KM_H_PER_M_S);
        let stale = !is_live(Some(look.age_s(sample.host_ns)));
        BusSpeedRow { name, speed: Speed { present: true, stale, km_h, ..Speed::default() } }
    };
    speeds.iter().map(row).collect()
}
