//! Options of practice, and what a job is told of the simulated tractor.

use crate::ports::practice::{Practice, suited};
use crate::shell::exit::Trouble;
use crate::shell::out::Voice;
use clap::builder::{PossibleValue, PossibleValuesParser, TypedValueParser as _};
use trundle_sim::{ReceiverClass, Scenario, Wish};

/// Why another board than the rig's is right in practice.
pub(super) const OTHER_BOARD: &str = "practice with a simulated tractor";

/// Measure a simulated tractor instead of a real one.
#[derive(Clone, Debug, clap::Args)]
#[group(skip)]
pub struct PracticeArgs {
    /// Practise: measure a simulated tractor inside the program, which drives this scenario;
    /// `trundle demo --list` names them. Everything made from it is marked as practice.
    #[arg(long, value_name = "SCENARIO", help_heading = "Practice", hide_possible_values = true,
        value_parser = scenarios(),
        conflicts_with_all = ["board", "receiver", "bus", "receiver_speed"])]
    pub practice: Option<String>,
    /// Which simulated tractor; the same number is the same tractor in every scenario.
    #[arg(
        long,
        value_name = "N",
        help_heading = "Practice",
        default_value_t = 1,
        requires = "practice"
    )]
    pub seed: u64,
    /// Its receiver: standalone, corrected or rtk; the scenario's if not given.
    #[arg(long, value_name = "CLASS", help_heading = "Practice", requires = "practice",
        hide_possible_values = true, value_parser = class())]
    pub receiver_class: Option<ReceiverClass>,
    /// Its driver presses no button: you mark each peg.
    #[arg(long, help_heading = "Practice", requires = "practice")]
    pub no_button: bool,
    /// A tractor that is there already; goes before all of these.
    #[arg(skip)]
    pub tractor: Option<Practice>,
}

impl Default for PracticeArgs {
    /// No practice.
    fn default() -> Self {
        let (practice, receiver_class, no_button, tractor) = (None, None, false, None);
        Self { practice, seed: 1, receiver_class, no_button, tractor }
    }
}

fn scenarios() -> PossibleValuesParser {
    let value = |name| PossibleValue::new(name).help(Scenario::about(name).unwrap_or_default());
    PossibleValuesParser::new(Scenario::names().map(value))
}

fn class() -> impl clap::builder::TypedValueParser<Value = ReceiverClass> {
    PossibleValuesParser::new(ReceiverClass::ALL.map(ReceiverClass::word))
        .try_map(|word| ReceiverClass::from_word(&word).ok_or("there is no such class of receiver"))
}

impl PracticeArgs {
    /// The same as options of another live command: the same tractor, in the scenario that was
    /// asked for when passes are driven, and else in one that suits the command.
    #[must_use]
    pub fn options_for(&self, command: &str) -> Vec<String> {
        let Some(chosen) = &self.practice else { return Vec::new() };
        let suited = suited(command).first().filter(|_| command != "drive");
        self.options_in(suited.map_or(chosen.as_str(), |name| name))
    }

    /// The same tractor in this scenario.
    #[must_use]
    pub fn options_in(&self, scenario: &str) -> Vec<String> {
        let mut options = vec!["--practice".to_owned(), scenario.to_owned()];
        options.extend(["--seed".to_owned(), self.seed.to_string()]);
        let class = self.receiver_class.map(|class| class.word().to_owned());
        options.extend(class.into_iter().flat_map(|word| ["--receiver-class".to_owned(), word]));
        options.extend(self.no_button.then(|| "--no-button".to_owned()));
        options
    }

    /// The tractor to practise with, where that is wanted.
    ///
    /// # Errors
    /// [`Trouble`]: scenario or pace (2), no thread (4).
    pub fn tractor(&self, pace: f64) -> Result<Option<Practice>, Trouble> {
        if let Some(tractor) = &self.tractor {
            return Ok(Some(tractor.clone()));
        }
        let Some(scenario) = &self.practice else { return Ok(None) };
        let wish = Wish {
            scenario: scenario.clone(),
            receiver: self.receiver_class,
            no_button: self.no_button,
            ..Wish::default()
        };
        Practice::start(&wish, self.seed, pace).map(Some)
    }
}

/// Say what is measured here.
pub(super) fn introduce(tractor: &Practice, voice: Voice) {
    voice.say("Practice with a simulated tractor: nothing here is a real measurement.");
    let about = Scenario::about(tractor.scenario()).unwrap_or_default();
    voice.say(&format!("{}: {about}", tractor.scenario()));
    if let Some(keyed_in) = tractor.keyed_in() {
        voice.say(&format!("Keyed into its terminal: {keyed_in}."));
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::commands::args::Args;
    use clap::Parser as _;

    #[test]
    fn every_live_command_has_scenarios_that_suit_it() {
        for command in ["check", "drive", "slip", "speeds", "pto", "mount", "proof", "bus"] {
            assert!(!suited(command).is_empty(), "{command}");
            for scenario in suited(command) {
                let typed = ["trundle", command, "--practice", scenario, "--no-button"];
                assert!(Args::try_parse_from(typed).is_ok(), "{command} {scenario}");
            }
        }
        assert!(suited("bench").iter().all(|name| Scenario::about(name).is_some()));
    }

    #[test]
    fn the_steps_of_the_guide_practise_with_the_same_tractor() {
        let practice = Some("corrected".to_owned());
        let chosen = PracticeArgs { practice, seed: 7, ..PracticeArgs::default() };
        assert_eq!(chosen.options_for("drive"), ["--practice", "corrected", "--seed", "7"]);
        let class = Some(ReceiverClass::Rtk);
        let shaft = PracticeArgs { receiver_class: class, no_button: true, ..chosen };
        assert_eq!(
            shaft.options_for("pto").join(" "),
            "--practice pto-speeds --seed 7 --receiver-class rtk --no-button"
        );
        assert!(PracticeArgs::default().options_for("drive").is_empty());
    }
}
