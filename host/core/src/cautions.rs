//! The cautions that are shown before work and printed with every result.
//!
//! Sources: UK Health and Safety Executive, INDG185 and its pages on transport and on
//! entanglement (safe stop, guards); the tractor's own manual and local law stand above them.

/// All of them, in the order of the day.
pub const ALL: &[&str] = &[
    "The operator's manual, local rules and licensed practice come before anything said here.",
    "Drive the course off the public road, with no one near the tractor, and no passenger.",
    "Never look at or touch a screen while the tractor moves: mark at rest, by button or by gate.",
    "Before anyone gets off or comes near: handbrake on, controls in neutral, engine off, key out.",
    "Never reach near a turning PTO shaft; guards on over its whole length, nothing loose worn.",
    "Wire the board with the engine off and the battery disconnected. Fuse the wire that measures \
     the battery's voltage, close to where it begins.",
    "Never work under or beside a wheel that stands on a jack alone: chocks and stands, firm \
     level ground.",
];

/// What comes first where the PTO shaft is to turn. Sources: as above, and the Australian Centre
/// for Agricultural Health and Safety, Note 3 (a point 88 mm from the middle of a shaft at 540 rpm
/// moves at 5 m/s).
pub const PTO: &[&str] = &[
    "Defer to the operator's manual, above all on when and how the shaft may turn.",
    "PTO: all of it from the seat. Shaft off, or guarded over its whole length.",
    "Nobody near tractor or implement; nobody in loose clothing, with cords or open hair.",
    "Never a hand, tool or hand tachometer at a turning shaft: read the tractor's display.",
    "Before anyone gets off or comes near: PTO out, handbrake, engine off, key out, shaft still.",
];

/// What comes first on a proof drive. Sources: as above.
pub const PROOF: &[&str] = &[
    "Defer to the operator's manual, local rules and licensed practice.",
    "Touch and read nothing while driving: hold the speed, stop, handbrake on, then read and type.",
    "A passenger may read and type only from a seat that was built for one, with its belt on.",
    "Off the public road, nobody near tractor or implement; its spray, spread or seed shut off.",
    "Before anyone gets off or comes near: handbrake on, controls in neutral, engine off, key out.",
];

/// What comes first where an adapter is plugged into the implement bus. The manuals stand above
/// it; moving nothing while plugging, by the sources above; the rest is common practice, no source.
pub const BUS: &[&str] = &[
    "Defer to the manuals of tractor and adapter: which socket may be used, and whether any may.",
    "Plug in and pull out at rest only: handbrake on, engine off, key out. Never while driving.",
    "Lay the cable clear of pedals, levers and doors, and touch nothing of it while driving.",
    "The bus is only listened to: an adapter that refuses to listen only is not used.",
];
