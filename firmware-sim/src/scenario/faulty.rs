//! Scenarios that differ from the plain one by their faults alone.

use super::Scenario;
use crate::faults::Fault;
use crate::world::Port;
use trundle_protocol::units::Channel;

impl Scenario {
    /// The faults of the scenarios that differ from the plain one by them alone.
    pub(super) fn faults_of(name: &str) -> Option<Vec<Fault>> {
        // The times lie inside the second and third pass of the plain scenario.
        let faults = match name {
            "slip-in-one-pass" => vec![Fault::PassSlip { pass: 3, slip: 0.04 }],
            "board-reset" => vec![Fault::BoardReset { at_s: 160.0, boot_s: 0.9 }],
            "board-gap" => vec![Fault::BoardSilent { from_s: 155.0, to_s: 161.5 }],
            "receiver-gap" => vec![Fault::ReceiverSilent { from_s: 150.0, to_s: 158.0 }],
            "fix-degraded" => vec![
                Fault::Quality { from_s: 155.0, to_s: 170.0, quality: 5 },
                Fault::Quality { from_s: 170.0, to_s: 176.0, quality: 1 },
            ],
            "fix-frozen" => vec![Fault::FrozenFix { from_s: 155.0, to_s: 159.0 }],
            "noisy-lines" => vec![
                Fault::ByteDamage { port: Port::Board, rate: 3e-4 },
                Fault::ByteDamage { port: Port::Receiver, rate: 3e-4 },
            ],
            "bounce" => vec![Fault::Bounce { channel: Channel::Wheel, probability: 0.02 }],
            "dropped-edges" => {
                vec![Fault::DroppedEdges { channel: Channel::Wheel, probability: 0.003 }]
            }
            "clock-step" => vec![Fault::DriftStep { at_s: 160.0, ppm: 95.0 }],
            "rocking" => vec![Fault::Rocking { pass: 2, amplitude_m: 0.06 }],
            _ => return None,
        };
        Some(faults)
    }
}
