//! The health of the speed sensors, from edge times and from what else shows of motion.
//!
//! Each sensor is judged aspect by aspect. What could not be looked at is not judged, with the
//! reason, and never called sound.

pub mod check;
pub mod edges;
pub mod finding;
pub mod pattern;
pub mod rest;
pub mod scene;
pub mod slow;
pub mod trains;

mod impulses;

pub use finding::{Aspect, SensorRuling, SensorWarning};

use crate::session::trail::Trail;
use crate::survey::ride::{RideRefusal, Rides};
use pattern::Evenness;
use scene::{Scene, driving_rate_hz, scenes};
use trundle_protocol::units::Channel;

/// The sensors that are judged.
pub const JUDGED: [Channel; 2] = [Channel::Wheel, Channel::Radar];

/// The health of one sensor.
#[derive(Clone, Debug, PartialEq)]
pub struct Health {
    /// The input of the sensor.
    pub channel: Channel,
    /// Every aspect and what came of it.
    pub aspects: Vec<(Aspect, SensorRuling)>,
    /// How even its impulses are, where edge trains came.
    pub evenness: Option<Evenness>,
    /// Spread of the intervals at slow and at fast impulse rates: impulses per second, share.
    pub by_rate: Vec<(f64, f64)>,
    /// Intervals of edge trains that could be judged.
    pub intervals: u32,
}

impl Health {
    /// All aspects were judged, and nothing is wrong.
    #[must_use]
    pub fn healthy(&self) -> bool {
        self.aspects.iter().all(|(_, verdict)| matches!(verdict, SensorRuling::Sound(_)))
    }

    /// What came of one aspect, where the sensor has it.
    #[must_use]
    pub fn verdict(&self, aspect: Aspect) -> Option<&SensorRuling> {
        self.aspects.iter().find(|(of, _)| *of == aspect).map(|(_, verdict)| verdict)
    }
}

/// Judge wheel sensor and radar of a trail that kept every count sample.
#[must_use]
pub fn judge_with<'a>(trail: &'a Trail, rides: &'a Result<Rides<'a>, RideRefusal>) -> Vec<Health> {
    judge(trail, &scenes(trail, rides))
}

/// The same by the scenes of that trail.
fn judge(trail: &Trail, scenes: &[Scene<'_>]) -> Vec<Health> {
    JUDGED.iter().map(|&channel| sensor(trail, scenes, channel)).collect()
}

fn sensor(trail: &Trail, scenes: &[Scene<'_>], channel: Channel) -> Health {
    if driving_rate_hz(scenes, channel).is_none() {
        return silent(scenes, channel);
    }
    let trains = trains::assemble(&trail.trains, channel);
    let parts: Vec<edges::EvenPart> = trains.iter().flat_map(|train| edges::read(train)).collect();
    let mut aspects = impulses::judge(scenes, &parts, channel);
    let rest = rest::judge(scenes, channel);
    let slow = if rest.finding().is_some() {
        let why = "its counts at rest hide what it does at low speed";
        SensorRuling::NotJudged(why.to_owned())
    } else {
        slow::judge(scenes, channel)
    };
    aspects.push((Aspect::Slow, slow));
    aspects.push((Aspect::Rest, rest));
    Health {
        channel,
        aspects,
        evenness: pattern::evenness(&parts, channel == Channel::Wheel),
        by_rate: impulses::spread_by_rate(&parts),
        intervals: parts.iter().map(|part| part.pitches).sum(),
    }
}

/// A sensor without a driving rate: only what it does at rest can be judged.
fn silent(scenes: &[Scene<'_>], channel: Channel) -> Health {
    let why = || SensorRuling::NotJudged("it gave no impulses while driving".to_owned());
    let ring = (channel == Channel::Wheel).then_some(Aspect::Ring);
    let mute = ring.into_iter().chain([Aspect::Bounce, Aspect::Contact, Aspect::Slow]);
    let mut aspects: Vec<_> = mute.map(|aspect| (aspect, why())).collect();
    aspects.push((Aspect::Rest, rest::judge(scenes, channel)));
    Health { channel, aspects, evenness: None, by_rate: Vec::new(), intervals: 0 }
}
