//! How long the tractor has stood, from the counts, and from the receiver where none come.

use trundle_core::fitness::live::is_live;
use trundle_core::fitness::look::Look;
use trundle_core::wire::board::CountSample;
use trundle_protocol::message::CHANNELS;
use trundle_protocol::units::Channel;

/// Faster than this by satellite is no standstill, whatever is counted, m/s: at rest a receiver
/// says less, a tractor that is driven more; common practice, no source.
const DRIVES_M_S: f64 = 0.5;

/// A standstill, in host time, which goes by the pace of practice.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stood {
    /// Since when, nanoseconds.
    pub since_ns: u64,
    /// How long, seconds, as far as data show it.
    pub for_s: f64,
    /// It moved at any time before, since the job is looked at.
    pub moved: bool,
}

/// What was seen of it so far.
#[derive(Clone, Debug, Default)]
pub struct Standing {
    sample: Option<CountSample>,
    /// The channel that shows motion has counted since the first sample, or the receiver has said
    /// that the tractor drives.
    moved: bool,
    /// When each channel counted last, nanoseconds; the first sample stands for one that was quiet
    /// ever since.
    counted_ns: [u64; CHANNELS],
    /// When the receiver first said anything, when it last said that the tractor drives, and when
    /// it said anything last.
    fixes_ns: Option<(u64, u64, u64)>,
}

impl Standing {
    /// Take the newest counts and the newest fix.
    pub fn take(&mut self, look: &Look) {
        if let Some(sample) = look.sample {
            self.count(sample);
        }
        if let Some((fix, speed_m_s)) =
            look.fix.as_ref().and_then(|fix| Some((fix, fix.speed_m_s?)))
        {
            let now = fix.host_ns;
            let (first, drove, _) = self.fixes_ns.unwrap_or((now, now, now));
            self.moved |= speed_m_s > DRIVES_M_S;
            let drove = if speed_m_s > DRIVES_M_S { now } else { drove };
            self.fixes_ns = Some((first, drove, now));
        }
    }

    fn count(&mut self, sample: CountSample) {
        match self.sample {
            None => self.counted_ns = [sample.host_ns; CHANNELS],
            Some(before) => {
                for (channel, counted_ns) in self.counted_ns.iter_mut().enumerate() {
                    if before.impulses[channel] != sample.impulses[channel] {
                        *counted_ns = sample.host_ns;
                        self.moved |= channel == motion(&sample);
                    }
                }
            }
        }
        self.sample = Some(sample);
    }

    /// The standstill, whether it has just begun or goes on; `None` where nothing live shows it.
    pub fn stood(&self, look: &Look) -> Option<Stood> {
        let by_counts = self.by_counts().filter(|_| is_live(look.board.age_s));
        let fresh = look.receiver.is_some_and(|link| is_live(link.age_s));
        let (since_ns, now_ns) = match (by_counts, self.fixes_ns.filter(|_| fresh)) {
            // A sensor that has come off counts nothing while the tractor drives.
            (Some((counted_ns, now_ns)), fixes) => {
                let drove = fixes.filter(|(first, drove, _)| drove > first);
                (counted_ns.max(drove.map_or(0, |(_, drove, _)| drove)), now_ns)
            }
            (None, Some((_, drove_ns, now_ns))) => (drove_ns, now_ns),
            (None, None) => return None,
        };
        let for_s = now_ns.saturating_sub(since_ns) as f64 * 1e-9;
        Some(Stood { since_ns, for_s, moved: self.moved })
    }

    /// When the channel that shows motion counted last, and when the newest sample came.
    fn by_counts(&self) -> Option<(u64, u64)> {
        let sample = self.sample?;
        Some((self.counted_ns[motion(&sample)], sample.host_ns))
    }
}

/// The channel that shows motion: the wheel where it has ever counted, as for a pass, else the
/// radar.
fn motion(sample: &CountSample) -> usize {
    let ever = [Channel::Wheel, Channel::Radar].map(Channel::index);
    ever.into_iter().find(|channel| sample.impulses[*channel] > 0).unwrap_or_default()
}
