//! The bus, and how it comes to the computer: control unit, adapter, line.

use crate::adapter::SimAdapter;
use crate::bus::{Bus, Moved, Sent};
use crate::line::Line;
use crate::scenario::Scenario;
use crate::world::{Emission, Port};

/// Speed of the adapter's line, bits per second: over USB its speed does not matter.
const ADAPTER_BAUD: u32 = 3_000_000;

/// The bus of one tractor.
pub(crate) struct BusLine {
    bus: Bus,
    adapter: SimAdapter,
    line: Line,
    /// Frames whose time has not come, rising.
    on_the_way: Vec<Sent>,
}

impl BusLine {
    /// That of a scenario, where it has one. In a recording the adapter listens from the beginning.
    pub(crate) fn of(scenario: &Scenario, true_per_100m: (f64, f64), seed: u64) -> Option<Self> {
        let tractor = scenario.bus.as_ref()?;
        Some(Self {
            bus: Bus::new(tractor, true_per_100m, seed),
            adapter: SimAdapter::new(tractor.adapter_listens, tractor.adapter_listens),
            line: Line::new(Port::Bus, ADAPTER_BAUD, &scenario.faults, seed),
            on_the_way: Vec::new(),
        })
    }

    pub(crate) fn step(&mut self, (from_us, to_us): (u64, u64), moved: Moved, pto_rpm: f64) {
        let Self { bus, adapter, line, on_the_way } = self;
        bus.step((from_us, to_us), moved, pto_rpm, |sent| on_the_way.push(sent));
        on_the_way.sort_by_key(|(at_us, ..)| *at_us);
        let due = on_the_way.partition_point(|(at_us, ..)| *at_us < to_us);
        for (at_us, id, data) in on_the_way.drain(..due) {
            let text = adapter.line(id, &data);
            if !text.is_empty() {
                line.send(at_us, &text);
            }
        }
    }

    pub(crate) fn receive(&mut self, now_us: u64, bytes: &[u8]) {
        let answers = self.adapter.receive(bytes);
        self.line.send(now_us, &answers);
    }

    pub(crate) fn power_on(&mut self) {
        self.adapter.power_on();
    }

    pub(crate) fn commands(&self) -> Vec<String> {
        self.adapter.commands()
    }

    pub(crate) fn next_us(&self) -> Option<u64> {
        self.line.next_us()
    }

    pub(crate) fn take(&mut self) -> Option<Emission> {
        self.line.take()
    }
}
