//! What can be made to go wrong, and when.

use crate::world::Port;
use trundle_protocol::units::Channel;

/// One thing that goes wrong. Times are seconds since the start of the simulation; passes are
/// numbered from 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fault {
    /// The board restarts: counts and clock at nothing, silent and deaf while it boots.
    BoardReset {
        /// When.
        at_s: f64,
        /// How long it takes to boot.
        boot_s: f64,
    },
    /// Nothing arrives from the board; it goes on counting.
    BoardSilent {
        /// From this time.
        from_s: f64,
        /// To this time.
        to_s: f64,
    },
    /// Nothing arrives from the bus: it is off, or the ignition is.
    BusSilent {
        /// From this time.
        from_s: f64,
        /// To this time.
        to_s: f64,
    },
    /// Nothing arrives from the receiver.
    ReceiverSilent {
        /// From this time.
        from_s: f64,
        /// To this time.
        to_s: f64,
    },
    /// Bytes arrive with one bit turned over.
    ByteDamage {
        /// On this line.
        port: Port,
        /// Probability for each byte.
        rate: f64,
    },
    /// The receiver's fix quality is another one, with the errors that belong to it.
    Quality {
        /// From this time.
        from_s: f64,
        /// To this time.
        to_s: f64,
        /// Fix quality of GGA; 0: no fix.
        quality: u8,
    },
    /// The receiver repeats its last position under advancing time.
    FrozenFix {
        /// From this time.
        from_s: f64,
        /// To this time.
        to_s: f64,
    },
    /// The receiver's positions lie elsewhere for a while.
    FixJump {
        /// From this time.
        from_s: f64,
        /// To this time.
        to_s: f64,
        /// How far: along the course and to its left, metres.
        by_m: [f64; 2],
    },
    /// The tractor stops beside another peg than the finish, and the mark is given there.
    WrongPeg {
        /// Number of the pass.
        pass: u32,
        /// How far beyond the finish peg it lies, metres; negative: before it.
        off_m: f64,
    },
    /// The wheels slip all along one pass.
    PassSlip {
        /// Number of the pass.
        pass: u32,
        /// 1 - actual / theoretical travel.
        slip: f64,
    },
    /// Edges come twice, up to 150 microseconds apart.
    Bounce {
        /// On this input.
        channel: Channel,
        /// Probability for each edge.
        probability: f64,
    },
    /// Edges are missed by the sensor.
    DroppedEdges {
        /// On this input.
        channel: Channel,
        /// Probability for each edge.
        probability: f64,
    },
    /// The contact breaks now and then, and no edge comes until it closes again.
    BreakingContact {
        /// On this input.
        channel: Channel,
        /// Probability for each edge that a break begins with it.
        probability: f64,
        /// How long a break lasts.
        lasts_s: f64,
    },
    /// For a while edges are missed by the sensor, or come where no tooth is.
    EdgeSpell {
        /// On this input.
        channel: Channel,
        /// From this time.
        from_s: f64,
        /// To this time.
        to_s: f64,
        /// Probability for each edge that it is missed.
        missed: f64,
        /// Probability for each edge that a false one follows it, too late to be a bounce.
        false_after: f64,
    },
    /// The rate of the board's clock changes.
    DriftStep {
        /// When.
        at_s: f64,
        /// The new gain.
        ppm: f64,
    },
    /// The tractor rolls back and forth beside the finish peg before the mark.
    Rocking {
        /// Number of the pass.
        pass: u32,
        /// How far back.
        amplitude_m: f64,
    },
}
