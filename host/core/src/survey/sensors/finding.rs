//! What can be wrong with a sensor, each with its evidence and what to check first.

use super::pattern::count_effect_percent;
use crate::units::KM_H_PER_M_S;

crate::units::words! {
    /// What a sensor is judged on.
    #[derive(PartialOrd, Ord)]
    pub enum Aspect {
        /// What comes back once a turn of its ring.
        Ring = "ring",
        /// Edges too many, at random.
        Bounce = "bounce",
        /// Impulses that never came, at random.
        Contact = "contact",
        /// Impulses at low speed.
        Slow = "slow",
        /// Impulses while the tractor stands.
        Rest = "rest",
    }
}

/// Something wrong with a sensor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SensorWarning {
    /// A tooth of the ring gives no impulse.
    MissingTooth {
        /// Pitches of one turn, the missing one included.
        teeth: u32,
        /// Turns in which it was seen.
        turns: usize,
    },
    /// One edge too many at the same place of every turn.
    ExtraEdge {
        /// Teeth of one turn, the extra edge not counted.
        teeth: u32,
        /// Turns in which it was seen.
        turns: usize,
    },
    /// Second edges at random.
    Bounce {
        /// How many of them there are.
        extra: u32,
        /// Number of edges looked at.
        of: u32,
        /// How soon after the edge before, median, microseconds; `None` where only the board's
        /// filter saw them.
        after_us: Option<f64>,
    },
    /// Impulses missing at random.
    BrokenContact {
        /// How many of them there are.
        missing: u32,
        /// In how many places.
        places: usize,
        /// Impulses that should have come.
        of: u32,
    },
    /// Impulses missing or too many by the counts; without edge trains the pattern is not known.
    Uneven {
        /// Number of impulses missing, about.
        missing: f64,
        /// Number of impulses too many, about.
        extra: f64,
        /// Number of impulses looked at.
        of: f64,
    },
    /// Silent at low speed while the ground moves.
    DropOut {
        /// Speed below which impulses vanish, m/s; `None` without a satellite receiver.
        speed_m_s: Option<f64>,
        /// The same as a share of the driving speed.
        share: f64,
        /// Impulses lost at each stop or start, median.
        lost: f64,
        /// Stops and starts looked at.
        seen: usize,
    },
    /// Counts while standing still.
    NoiseAtRest {
        /// How many of them there are.
        counts: f64,
        /// In how many seconds of standing.
        seconds: f64,
    },
}

impl SensorWarning {
    /// One of each, with numbers as they may be: what a handbook shows.
    pub const EXAMPLES: [Self; 7] = [
        Self::MissingTooth { teeth: 48, turns: 30 },
        Self::ExtraEdge { teeth: 48, turns: 30 },
        Self::Bounce { extra: 60, of: 12_000, after_us: Some(250.0) },
        Self::BrokenContact { missing: 90, places: 12, of: 12_000 },
        Self::Uneven { missing: 40.0, extra: 5.0, of: 12_000.0 },
        Self::DropOut { speed_m_s: Some(0.25), share: 0.1, lost: 20.0, seen: 8 },
        Self::NoiseAtRest { counts: 30.0, seconds: 30.0 },
    ];

    /// The word in files.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Self::MissingTooth { .. } => "missing_tooth",
            Self::ExtraEdge { .. } => "extra_edge",
            Self::Bounce { .. } => "bounce",
            Self::BrokenContact { .. } => "broken_contact",
            Self::Uneven { .. } => "uneven",
            Self::DropOut { .. } => "drop_out",
            Self::NoiseAtRest { .. } => "noise_at_rest",
        }
    }

    /// What was seen, with its numbers.
    #[must_use]
    pub fn what(&self) -> String {
        match *self {
            Self::MissingTooth { teeth, turns } => format!(
                "one tooth of {teeth} gives no impulse (a gap of 1/{teeth} of a turn, seen in \
                 {turns} turns): the count is {:.2} % low",
                -count_effect_percent(teeth, false)
            ),
            Self::ExtraEdge { teeth, turns } => format!(
                "one impulse too many once a turn of {teeth} teeth (seen in {turns} turns): the \
                 count is up to {:.2} % high",
                count_effect_percent(teeth, true)
            ),
            Self::Bounce { extra, of, after_us } => {
                let share = 100.0 * f64::from(extra) / f64::from(of.max(1));
                let soon = after_us.map_or_else(
                    || "refused by the board's filter".to_owned(),
                    |us| format!("half of them within {us:.0} microseconds"),
                );
                format!("{extra} edges of {of} bounce ({share:.2} %, {soon}), at random")
            }
            Self::BrokenContact { missing, places, of } => {
                let share = 100.0 * f64::from(missing) / f64::from(of.max(1));
                let times = if places == 1 { "time" } else { "times" };
                format!(
                    "{missing} impulses of {of} never came ({share:.2} %), {places} {times}, at \
                     random"
                )
            }
            Self::Uneven { missing, extra, of } => format!(
                "about {missing:.0} impulses are missing and {extra:.0} too many of {of:.0}, by \
                 the counts alone"
            ),
            Self::DropOut { speed_m_s, share, lost, seen } => {
                let speed = speed_m_s.map_or_else(
                    || format!("about {:.0} % of the driving speed", 100.0 * share),
                    |speed| format!("about {:.1} km/h", KM_H_PER_M_S * speed),
                );
                format!(
                    "silent below {speed} while the tractor moves: some {lost:.0} impulses lost at \
                     each stop and start ({seen} looked at)"
                )
            }
            Self::NoiseAtRest { counts, seconds } => format!(
                "{counts:.0} impulses in {seconds:.0} s of standing still, {:.0} a minute",
                60.0 * counts / seconds.max(1.0)
            ),
        }
    }

    /// What to check first.
    #[must_use]
    pub const fn next(&self) -> &'static str {
        match self {
            Self::MissingTooth { .. } => {
                "Engine off, key out, handbrake on: look all round the ring for a broken, bent or \
                 clogged tooth. If a wheel has to be raised to turn it, stands and chocks, never a \
                 jack alone."
            }
            Self::ExtraEdge { .. } => {
                "Look for a burr, a chip or dirt between two teeth at one place of the ring, and \
                 check the gap of the sensor."
            }
            Self::Bounce { .. } => {
                "Check plug, earth and screen of the sensor's cable and the gap of the sensor; a \
                 worn switch is replaced."
            }
            Self::BrokenContact { .. } => {
                "Move plug and cable by hand, engine off and key out, look for a broken wire, and \
                 check the gap of the sensor."
            }
            Self::Uneven { .. } => "Run `trundle check` with the board, which asks for edge times.",
            Self::DropOut { .. } => {
                "Set the gap of the sensor smaller, clean it, or begin and end passes rolling \
                 above that speed."
            }
            Self::NoiseAtRest { .. } => {
                "Radar: keep plants, people and shaking parts out of its beam and look at its \
                 mount. Wheel: check the earth and screen of the cable."
            }
        }
    }

    /// The evidence, each number by its name with its unit.
    #[must_use]
    pub fn numbers(&self) -> Vec<(&'static str, f64)> {
        match *self {
            Self::MissingTooth { teeth, turns } | Self::ExtraEdge { teeth, turns } => {
                let extra = matches!(self, Self::ExtraEdge { .. });
                vec![
                    ("teeth", f64::from(teeth)),
                    ("turns_seen", turns as f64),
                    ("count_effect_percent", count_effect_percent(teeth, extra)),
                ]
            }
            Self::Bounce { extra, of, after_us } => {
                let mut out = vec![("extra_edges", f64::from(extra)), ("edges", f64::from(of))];
                out.extend(after_us.map(|us| ("after_us", us)));
                out
            }
            Self::BrokenContact { missing, places, of } => vec![
                ("missing_impulses", f64::from(missing)),
                ("places", places as f64),
                ("impulses", f64::from(of)),
            ],
            Self::Uneven { missing, extra, of } => {
                vec![("missing_impulses", missing), ("extra_edges", extra), ("impulses", of)]
            }
            Self::DropOut { speed_m_s, share, lost, seen } => {
                let mut out = vec![
                    ("share_of_driving_speed", share),
                    ("lost_impulses_each", lost),
                    ("stops_and_starts", seen as f64),
                ];
                out.extend(speed_m_s.map(|speed| ("speed_m_s", speed)));
                out
            }
            Self::NoiseAtRest { counts, seconds } => {
                vec![("impulses", counts), ("standing_s", seconds)]
            }
        }
    }
}

/// What came of one aspect.
#[derive(Clone, Debug, PartialEq)]
pub enum SensorRuling {
    /// Looked at, and sound; what was looked at.
    Sound(String),
    /// Something is wrong with it.
    Faulty(SensorWarning),
    /// Not judged, and why.
    NotJudged(String),
}

impl SensorRuling {
    /// The finding, if there is one.
    #[must_use]
    pub const fn finding(&self) -> Option<&SensorWarning> {
        if let Self::Faulty(finding) = self { Some(finding) } else { None }
    }
}
