//! Once a turn, at random, or not at all: the edges of a sensor judged from its trains, else from
//! its counts.

use super::edges::{EvenPart, Odd};
use super::finding::{Aspect, SensorRuling, SensorWarning};
use super::pattern::{Sorted, WIDE, evenness, sort};
use super::scene::Scene;
use crate::passes::pulses;
use crate::stats::fit::robust::median;
use trundle_protocol::units::Channel;

/// Intervals it takes: five turns of a ring of 60.
pub const INTERVALS_MIN: u32 = 300;
/// Odd places from which once a turn and at random can be separated.
const PLACES_MIN: usize = 4;
/// Distances between odd places of one part that this takes.
const DISTANCES_MIN: usize = 3;
/// Share of impulses at random that is let pass: 0.05 % moves no value beyond its uncertainty.
const TOLERATED: f64 = 0.0005;

/// Judge ring, bounce and contact.
pub fn judge(
    scenes: &[Scene<'_>],
    parts: &[EvenPart],
    channel: Channel,
) -> Vec<(Aspect, SensorRuling)> {
    let of: u32 = parts.iter().map(|part| part.pitches).sum();
    if of < INTERVALS_MIN {
        return by_counts(scenes, channel, of);
    }
    let extra = OddImpulses::new(parts, channel, |part| &part.extra);
    let missing = OddImpulses::new(parts, channel, |part| &part.missing);
    let after: Vec<f64> = parts.iter().flat_map(|s| &s.extra).map(|odd| odd.after_us).collect();
    let bounce = SensorWarning::Bounce { extra: extra.sorted.random, of, after_us: median(&after) };
    let contact = SensorWarning::BrokenContact {
        missing: missing.sorted.random,
        places: missing.sorted.random_places,
        of,
    };
    let bounce = extra.random(bounce, of, "too many");
    let contact = missing.random(contact, of, "missing");
    let ring = || (Aspect::Ring, ring(&extra, &missing, parts, of));
    let ring = (channel == Channel::Wheel).then(ring).into_iter();
    ring.chain([(Aspect::Bounce, bounce), (Aspect::Contact, contact)]).collect()
}

/// Odd places of one kind.
struct OddImpulses {
    sorted: Sorted,
    places: usize,
    distances: usize,
}

impl OddImpulses {
    fn new<'a>(
        parts: &'a [EvenPart],
        channel: Channel,
        odd: impl Fn(&'a EvenPart) -> &'a [Odd],
    ) -> Self {
        // Wide gaps are no teeth, so they neither show a turn nor hide one.
        let narrow = |s: &'a EvenPart| odd(s).iter().filter(|place| place.impulses < WIDE).count();
        let places = parts.iter().map(narrow).sum();
        let distances = parts.iter().map(|s| narrow(s).saturating_sub(1)).sum();
        let mut sorted = sort(parts, &odd);
        if channel != Channel::Wheel && sorted.teeth.is_some() {
            // A radar turns nothing: all is chance.
            let all: Vec<&Odd> = parts.iter().flat_map(odd).collect();
            sorted.teeth = None;
            sorted.turns = 0;
            sorted.random = all.iter().map(|place| place.impulses).sum();
            sorted.random_places = all.len();
        }
        Self { sorted, places, distances }
    }

    /// There are odd places, but too few or too far apart to say of what kind.
    const fn untold(&self) -> bool {
        self.places > 0
            && self.sorted.teeth.is_none()
            && (self.places < PLACES_MIN || self.distances < DISTANCES_MIN)
    }

    /// What is at random.
    fn random(&self, finding: SensorWarning, of: u32, word: &str) -> SensorRuling {
        let random = self.sorted.random;
        let share = f64::from(random) / f64::from(of);
        if share < TOLERATED {
            return SensorRuling::Sound(format!("{random} impulses of {of} {word} at random"));
        }
        let few = self.sorted.random_places < PLACES_MIN && self.sorted.teeth.is_none();
        if self.sorted.wide_places == 0 && (few || self.untold()) {
            return SensorRuling::NotJudged(format!(
                "{random} impulses of {of} are {word}, too few to distinguish chance from a pattern"
            ));
        }
        SensorRuling::Faulty(finding)
    }
}

/// What comes back once a turn.
fn ring(extra: &OddImpulses, missing: &OddImpulses, parts: &[EvenPart], of: u32) -> SensorRuling {
    if let Some(teeth) = missing.sorted.teeth {
        return SensorRuling::Faulty(SensorWarning::MissingTooth {
            teeth,
            turns: missing.sorted.turns,
        });
    }
    if let Some(teeth) = extra.sorted.teeth {
        return SensorRuling::Faulty(SensorWarning::ExtraEdge { teeth, turns: extra.sorted.turns });
    }
    if extra.untold() || missing.untold() {
        let odd = extra.places + missing.places;
        return SensorRuling::NotJudged(format!(
            "{odd} odd places in {of} impulses, too few to see whether they come back once a turn"
        ));
    }
    let known = evenness(parts, true).and_then(|even| even.teeth);
    let teeth = known.map_or_else(String::new, |teeth| format!(", a ring of {teeth} teeth"));
    SensorRuling::Sound(format!("nothing odd comes back once a turn in {of} impulses{teeth}"))
}

/// Without trains the counts and the board's filter show something, but no pattern.
fn by_counts(scenes: &[Scene<'_>], channel: Channel, of: u32) -> Vec<(Aspect, SensorRuling)> {
    let index = channel.index();
    let mut seen = pulses::PulseFaults::default();
    let (mut refused, mut counted) = (0.0, 0.0);
    for scene in scenes {
        let curve = &scene.curves[index];
        let Some((from_s, to_s)) = curve.span_s() else { continue };
        if let Some(found) = pulses::judge(curve, from_s, to_s) {
            seen.missing += found.missing;
            seen.extra += found.extra;
            seen.judged += found.judged;
        }
        if let (Some(first), Some(last)) = (scene.spell.counts.first(), scene.spell.counts.last()) {
            refused += f64::from(last.rejected[index].saturating_sub(first.rejected[index]));
            counted += last.impulses[index].saturating_sub(first.impulses[index]) as f64;
        }
    }
    let short =
        format!("edge times of {of} impulses came at a steady speed; it takes {INTERVALS_MIN}");
    let bounce = if refused >= PLACES_MIN as f64 && refused > TOLERATED * counted {
        let (extra, of) = (refused as u32, (counted + refused) as u32);
        SensorRuling::Faulty(SensorWarning::Bounce { extra, of, after_us: None })
    } else {
        SensorRuling::NotJudged(short.clone())
    };
    let odd = seen.missing + seen.extra;
    let contact = if odd >= PLACES_MIN as f64 && odd > TOLERATED * seen.judged {
        let (missing, extra, of) = (seen.missing, seen.extra, seen.judged);
        SensorRuling::Faulty(SensorWarning::Uneven { missing, extra, of })
    } else if seen.judged >= f64::from(INTERVALS_MIN) {
        SensorRuling::Sound(format!("{odd:.0} impulses of {:.0} odd, by the counts", seen.judged))
    } else {
        SensorRuling::NotJudged(short.clone())
    };
    let ring =
        (channel == Channel::Wheel).then_some((Aspect::Ring, SensorRuling::NotJudged(short)));
    ring.into_iter().chain([(Aspect::Bounce, bounce), (Aspect::Contact, contact)]).collect()
}

/// Spread of the intervals in the slower and in the faster half of the parts: a median rate
/// and a share each.
pub fn spread_by_rate(parts: &[EvenPart]) -> Vec<(f64, f64)> {
    let mut sorted: Vec<&EvenPart> = parts.iter().collect();
    sorted.sort_by(|a, b| a.rate_hz.total_cmp(&b.rate_hz));
    let (slow, fast) = sorted.split_at(sorted.len() / 2);
    [slow, fast]
        .iter()
        .filter_map(|half| {
            let rates: Vec<f64> = half.iter().map(|part| part.rate_hz).collect();
            let owned: Vec<EvenPart> = half.iter().map(|part| (*part).clone()).collect();
            Some((median(&rates)?, evenness(&owned, false)?.spread))
        })
        .collect()
}
