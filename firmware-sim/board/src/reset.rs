//! Why the processor started, by its registers.

use trundle_protocol::message::ResetCause;

/// WATCHDOG.REASON: the watchdog's timer ran out.
const TIMER: u32 = 1 << 0;
/// WATCHDOG.REASON: it was made to.
const FORCE: u32 = 1 << 1;
/// VREG_AND_CHIP_RESET.CHIP_RESET: power came on, or fell too low and came back.
const HAD_POWER_ON: u32 = 1 << 8;
/// The same register: the pin RUN.
const HAD_RUN: u32 = 1 << 16;
/// The same register: from the debug port.
const HAD_DEBUG: u32 = 1 << 20;
/// What this firmware leaves in a scratch register when it starts the watchdog.
pub const WATCHED: u32 = 0x57A7_C4ED;

/// The cause. `scratch` is the register in which [`WATCHED`] is left.
///
/// The watchdog's reason comes first: it is cleared by the causes of the other register, which
/// keeps its last cause while the watchdog restarts the processor. The boot ROM starts what was
/// dragged onto it by the watchdog's timer as well; it is told by the scratch register, which is
/// cleared by what led to the boot ROM. (RP2040 Datasheet, sections 2.12.8 and 4.7, from memory.)
#[must_use]
pub const fn cause(reason: u32, chip_reset: u32, scratch: u32) -> ResetCause {
    match (reason, chip_reset) {
        (reason, _) if reason & FORCE != 0 => ResetCause::Software,
        (reason, _) if reason & TIMER != 0 && scratch == WATCHED => ResetCause::Watchdog,
        (reason, _) if reason & TIMER != 0 => ResetCause::Software,
        (_, chip) if chip & HAD_RUN != 0 => ResetCause::Pin,
        (_, chip) if chip & HAD_DEBUG != 0 => ResetCause::Software,
        (_, chip) if chip & HAD_POWER_ON != 0 => ResetCause::PowerOn,
        _ => ResetCause::Unknown,
    }
}
