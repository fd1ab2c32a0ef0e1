//! Impulses per 100 m before any pass gives them: counts against the receiver's own speed. Good
//! enough to show a speed by, never a value.

use trundle_core::fitness::live::is_live;
use trundle_core::fitness::look::Look;
use trundle_protocol::message::CHANNELS;

/// Slower than this the receiver's speed is mostly noise, m/s; common practice, no source.
const LEAST_M_S: f64 = 0.5;
/// Fixes further apart than this leave open how it was driven between them, seconds.
const GAP_S: f64 = 1.5;
/// So much has to be driven before anything is shown, metres: the receiver's delay of some tenths
/// of a second then weighs little.
const LEAST_M: f64 = 10.0;

/// Counts and distance of the same stretches.
#[derive(Clone, Debug, Default)]
pub struct BySatellite {
    /// Time of the fix taken last, nanoseconds, its speed in m/s, and the counts then.
    last: Option<(u64, f64, [u64; CHANNELS])>,
    driven_m: f64,
    impulses: [u64; CHANNELS],
}

impl BySatellite {
    /// Take the newest fix with the newest counts.
    pub fn take(&mut self, look: &Look) {
        let fix = look.fix.as_ref().and_then(|fix| Some((fix.host_ns, fix.speed_m_s?)));
        let (Some((at_ns, speed_m_s)), Some(sample)) = (fix, look.sample) else { return };
        if self.last.is_some_and(|last| last.0 == at_ns) {
            return;
        }
        let live = is_live(look.board.age_s) && speed_m_s >= LEAST_M_S;
        let now = live.then_some((at_ns, speed_m_s, sample.impulses));
        if let (Some(last), Some(now)) = (self.last, now) {
            let gap_s = now.0.saturating_sub(last.0) as f64 * 1e-9;
            let rose = last.2.iter().zip(now.2).all(|(before, after)| *before <= after);
            if gap_s <= GAP_S && rose {
                self.driven_m += f64::midpoint(last.1, now.1) * gap_s;
                for (sum, (before, after)) in
                    self.impulses.iter_mut().zip(last.2.into_iter().zip(now.2))
                {
                    *sum += after - before;
                }
            }
        }
        self.last = now;
    }

    /// Impulses per 100 m of a channel.
    pub fn per_100_m(&self, channel: usize) -> Option<f64> {
        let counted = self.impulses[channel];
        (self.driven_m >= LEAST_M && counted > 0).then(|| 100.0 * counted as f64 / self.driven_m)
    }
}
