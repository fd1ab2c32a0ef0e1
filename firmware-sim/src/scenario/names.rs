//! The names of the scenarios, each with what it is for.

use super::Scenario;

/// The names that [`Scenario::named`] knows, and what each is for.
const NAMES: &[(&str, &str)] = &[
    ("plain", "Six passes of a taped course with a stop beside each peg; all is well."),
    ("no-button", "The same without a button on the board: you mark each peg yourself."),
    ("corrected", "Six passes with a receiver that gets corrections, good to some decimetres."),
    ("standalone", "Six passes with a receiver without corrections, good to some metres."),
    ("check", "Stands, rolls slowly, stands and drives, as the check of the sensors wants it."),
    ("bench", "A counter board alone on the bench, its test pin on one input after another."),
    ("pto-speeds", "The tractor stands; its PTO shaft turns at 540, 750 and 1000 rpm."),
    ("circles", "Full circles to the left and to the right, for the antenna position."),
    ("speed-steps", "Straight ahead at one steady speed after another, from creeping on."),
    ("wet-headland", "Passes without a stop; the wheels slip, most at the wet end."),
    ("proof", "Two passes with a terminal in which the right value is keyed in."),
    ("proof-old", "Two passes with a terminal that still has the old value."),
    ("proof-doubled", "Two passes with a terminal in which twice the right value is keyed in."),
    ("proof-other-sensor", "Two passes with a terminal that has the value of the other sensor."),
    ("proof-bus", "Two passes with the right value, the distance handed on by the implement bus."),
    ("proof-bus-old", "The same with the old value."),
    ("bus", "Six passes with an adapter on the implement bus."),
    ("bus-full", "Six passes with an adapter on an implement bus that is full of messages."),
    ("rolling-gate", "Six passes without a stop; a light gate marks the pegs."),
    ("rolling-button", "Six passes without a stop; the driver presses the button at the pegs."),
    ("weaving", "Six passes that weave from side to side."),
    ("slope", "Six passes up and down a slope."),
    ("wide-antenna", "Six passes with the antenna far ahead and to the left, on rough ground."),
    ("field", "Six passes on loose ground: the wheels slip, most in the middle of the course."),
    ("slip-in-one-pass", "Six passes; in the third one the wheels slip."),
    ("board-reset", "Six passes; the board restarts during the second one."),
    ("board-gap", "Six passes; nothing comes from the board for a while."),
    ("receiver-gap", "Six passes; nothing comes from the receiver for a while."),
    ("fix-degraded", "Six passes; the receiver loses its corrections for a while."),
    ("fix-frozen", "Six passes; the receiver states the same position for a while."),
    ("noisy-lines", "Six passes with bytes damaged on both lines."),
    ("bounce", "Six passes with a wheel sensor that makes double impulses."),
    ("dropped-edges", "Six passes with a wheel sensor that loses impulses."),
    ("missing-tooth", "Six passes with a tooth missing from the ring of the wheel sensor."),
    ("timer-wrap", "Six passes; the board's timer runs over meanwhile."),
    ("clock-step", "Six passes; the board's clock changes its rate meanwhile."),
    ("rocking", "Six passes; after the second one the tractor rocks where it stopped."),
    ("pps", "Six passes with the receiver's pulse per second wired to the board."),
];

impl Scenario {
    /// The names of the scenarios, the plain one first.
    pub fn names() -> impl Iterator<Item = &'static str> {
        NAMES.iter().map(|(name, _)| *name)
    }

    /// What the scenario of a name is for, in one sentence; `None` if there is none.
    #[must_use]
    pub fn about(name: &str) -> Option<&'static str> {
        NAMES.iter().find(|(known, _)| *known == name).map(|(_, about)| *about)
    }

    /// All scenarios, a line each: name and what it is for.
    #[must_use]
    pub fn list() -> String {
        let width = Self::names().map(str::len).max().unwrap_or_default();
        let lines: Vec<String> =
            NAMES.iter().map(|(name, about)| format!("{name:width$}  {about}")).collect();
        lines.join("\n")
    }
}

#[cfg(test)]
mod tests {
    use super::Scenario;

    #[test]
    fn every_name_is_known_and_only_those() {
        for name in Scenario::names() {
            let scenario = Scenario::named(name).unwrap_or_else(|| panic!("{name} is missing"));
            assert_eq!(&scenario.name, name);
            assert!(Scenario::about(name).is_some_and(|about| about.ends_with('.')), "{name}");
        }
        assert!(Scenario::named("nonsense").is_none() && Scenario::about("nonsense").is_none());
    }
}
