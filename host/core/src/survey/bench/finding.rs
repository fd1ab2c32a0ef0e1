//! What can be wrong with an input on the bench, each with its evidence and where to look.

use super::Input;
use trundle_counter::test_signal::{FILTER_US, Phase};

/// Something wrong with an input.
#[derive(Clone, Debug, PartialEq)]
pub enum BenchFinding {
    /// Nothing came on any input.
    Silent,
    /// What came, came on other inputs.
    Elsewhere(Vec<Input>),
    /// Not as many impulses were counted as were given.
    Counts {
        /// The part of the signal.
        phase: Phase,
        /// Impulses counted.
        counted: u64,
        /// Edges refused, with the filter off.
        refused: u64,
    },
    /// Time stamps that wander.
    Times {
        /// Latest against earliest, microseconds.
        spread_us: u64,
    },
    /// The input filter does not let pass and refuse what it should.
    Filter {
        /// Impulses counted with the filter on.
        counted: u64,
        /// Edges refused with the filter on.
        refused: u64,
        /// Impulses given.
        given: u64,
        /// Edges of bounce given beside them.
        bounces: u64,
    },
    /// Marks that never came, or too many.
    Marks {
        /// Number of marks latched.
        latched: u64,
        /// Number of marks given.
        given: u64,
    },
    /// Marks that were stamped at the wrong time.
    MarkTimes {
        /// Most that two marks are off their distance, microseconds.
        off_us: u64,
    },
    /// The level of the implement does not follow.
    Level {
        /// Changes seen.
        changes: u64,
        /// Changes given.
        given: u64,
    },
    /// Other inputs counted too.
    Also(Vec<Input>),
    /// The board says that edges came too fast for it.
    Overruns(u32),
}

/// A hertz in words.
fn rate(phase: &Phase) -> String {
    let hz = 1_000_000 / phase.period_us.max(1);
    if hz >= 1_000 { format!("{} kHz", hz / 1_000) } else { format!("{hz} Hz") }
}

fn titles(inputs: &[Input]) -> String {
    inputs.iter().map(|input| input.title()).collect::<Vec<_>>().join(" and ")
}

impl BenchFinding {
    /// The word in files.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Silent => "silent",
            Self::Elsewhere(_) => "elsewhere",
            Self::Counts { .. } => "counts",
            Self::Times { .. } => "times",
            Self::Filter { .. } => "filter",
            Self::Marks { .. } => "marks",
            Self::MarkTimes { .. } => "mark_times",
            Self::Level { .. } => "level",
            Self::Also(_) => "also",
            Self::Overruns(_) => "overruns",
        }
    }

    /// What was seen, with its numbers.
    #[must_use]
    pub fn what(&self) -> String {
        match self {
            Self::Silent => "nothing received, on this or any other input".to_owned(),
            Self::Elsewhere(inputs) => {
                format!("nothing received here; the signal arrives at the {}", titles(inputs))
            }
            Self::Counts { phase, counted, refused } => {
                let given = phase.impulses;
                let refused =
                    if *refused > 0 { format!(", {refused} refused") } else { String::new() };
                format!("{counted} of {given} impulses counted at {}{refused}", rate(phase))
            }
            Self::Times { spread_us } => {
                format!("time stamps of even impulses wander by {spread_us} us")
            }
            Self::Filter { counted, refused, given, bounces } => format!(
                "with the filter at {FILTER_US} us {counted} impulses were counted where {given} \
                 were given, and {refused} of {bounces} bounces refused"
            ),
            Self::Marks { latched, given } => format!("{latched} of {given} marks latched"),
            Self::MarkTimes { off_us } => {
                format!("marks one second apart were stamped {off_us} us off")
            }
            Self::Level { changes, given } => {
                format!("the level changed {changes} times of {given}")
            }
            Self::Also(inputs) => format!("the signal arrives at the {} too", titles(inputs)),
            Self::Overruns(times) => {
                format!("{times} times edges came too fast for the board to count")
            }
        }
    }

    /// What to look at first.
    #[must_use]
    pub const fn next(&self) -> &'static str {
        match self {
            Self::Silent => {
                "Is the bridge between the test pin and this pin, and firm? Then look at the \
                 solder joints of both pins and for a bridge of solder to ground or to a pin \
                 beside it. With the input board connected: its comparator may hold the line; \
                 look at the comparator's supply and at the pull-up resistor."
            }
            Self::Elsewhere(_) => {
                "Move the bridge to the pin asked for. If it is there: two wires between input \
                 board and Pico are swapped."
            }
            Self::Counts { .. } => {
                "Is the bridge firm? Solder the joints of this pin again. With the input board \
                 connected: look at the pull-up resistor and at the comparator's output. If the \
                 board alone loses impulses: load the firmware again."
            }
            Self::Times { .. } => {
                "The pin sees slow or noisy edges: look at the pull-up resistor, shorten the \
                 bridge, and take the sensor cable off. If it stays: load the firmware again."
            }
            Self::Filter { .. } => {
                "The firmware's input filter does not act as this program expects: load the \
                 firmware of this release. If it stays, note the board's number and do not \
                 measure with it."
            }
            Self::Marks { .. } => {
                "Look at the solder joints of button or gate and of its ground, and for a \
                 capacitor or switch that holds the line."
            }
            Self::MarkTimes { .. } => {
                "Look for noise on the wire of button or gate; load the firmware again."
            }
            Self::Level { .. } => {
                "Look at the solder joint of this pin, at the series resistor and at the pull-up \
                 resistor of this input."
            }
            Self::Also(_) => {
                "Look for a bridge of solder between the two pins, or between their tracks on the \
                 input board."
            }
            Self::Overruns(_) => {
                "Take every sensor cable off: noise on an open input takes the board's time."
            }
        }
    }

    /// The evidence, each number by its name with its unit.
    #[must_use]
    pub fn numbers(&self) -> Vec<(&'static str, f64)> {
        match *self {
            Self::Silent | Self::Elsewhere(_) | Self::Also(_) => Vec::new(),
            Self::Counts { phase, counted, refused } => vec![
                ("given", f64::from(phase.impulses)),
                ("counted", counted as f64),
                ("refused", refused as f64),
                ("period_us", f64::from(phase.period_us)),
            ],
            Self::Times { spread_us } => vec![("spread_us", spread_us as f64)],
            Self::Filter { counted, refused, .. } => {
                vec![("filter_counted", counted as f64), ("filter_refused", refused as f64)]
            }
            Self::Marks { latched, .. } => vec![("marks", latched as f64)],
            Self::MarkTimes { off_us } => vec![("marks_off_us", off_us as f64)],
            Self::Level { changes, .. } => vec![("changes", changes as f64)],
            Self::Overruns(times) => vec![("overruns", f64::from(times))],
        }
    }
}
