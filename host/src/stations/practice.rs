//! Practice: a simulated tractor for the whole job at hand, inside the program.
//!
//! It belongs to the job, so that practice and measurement never get mixed in one: it begins with
//! a job in which nothing is recorded yet, and ends with a new job.

use super::form::{self, Misread, Of, Sent};
use super::house::{Acted, House, Refused, say_refused};
use super::job::Chosen;
use super::start::{begin_anew, done};
use crate::commands::recording::practise::PracticeArgs;
use crate::ports::practice::suited;
use crate::web::stations::{Reply, Visit, value};
use trundle_show::stations::form::{Field, Form, Kind};
use trundle_show::stations::parts;
use trundle_show::words::settings as words;
use trundle_show::words::station::Station;
use trundle_sim::{ReceiverClass, Scenario};

/// Its path.
pub const PATH: &str = "/practice";
/// The command whose options they are.
const COMMAND: &str = "drive";
/// Names of its fields, which are those of the options.
const SCENARIO: &str = "practice";
/// Name of the field for what is practised at a station.
pub const CASE: &str = "practice-case";
const PACE: &str = "pace";
const CLASS: &str = "receiver-class";
const NO_BUTTON: &str = "no-button";
/// The field that says that practice is to end.
const END: &str = "end";

impl Chosen {
    /// As options of a live command: in this case where it suits the command, else in another
    /// scenario than that for driving where one suits it better.
    #[must_use]
    pub fn options(&self, command: &str, case: &str) -> Vec<String> {
        let args = PracticeArgs {
            practice: Some(self.scenario.clone()),
            receiver_class: ReceiverClass::from_word(&self.receiver_class),
            no_button: self.no_button,
            ..PracticeArgs::default()
        };
        let mut options = match suited(command).contains(&case) {
            true => args.options_in(case),
            false => args.options_for(command),
        };
        options.push(format!("--pace={}", self.pace));
        options
    }

    fn of(sent: &Sent) -> Self {
        let typed = |name| value(sent, name).trim().to_owned();
        let pace = typed(PACE);
        Self {
            scenario: typed(SCENARIO),
            pace: if pace.is_empty() { "1".to_owned() } else { pace },
            receiver_class: typed(CLASS),
            no_button: typed(NO_BUTTON) == "yes",
        }
    }
}

fn of() -> Of {
    Of::new(
        &[COMMAND],
        &[
            (SCENARIO, words::SCENARIO),
            (PACE, words::PACE),
            (CLASS, words::CLASS),
            (NO_BUTTON, words::NO_BUTTON),
        ],
    )
}

/// What may be practised, the scenarios that suit the drive first.
fn scenarios() -> Vec<(String, String)> {
    let first = suited(COMMAND).iter().copied();
    let rest = Scenario::names().filter(|name| !suited(COMMAND).contains(name));
    first.chain(rest).map(shown).collect()
}

/// A scenario to choose: what is sent, and what is shown.
fn shown(name: &str) -> (String, String) {
    (name.to_owned(), format!("{name}: {}", Scenario::about(name).unwrap_or_default()))
}

/// What can be practised with a command, given by its words.
fn cases(command: &[&str]) -> Vec<&'static str> {
    command.iter().flat_map(|word| suited(word)).copied().collect()
}

/// Is what is typed a case that can be practised with this command, if anything is?
///
/// # Errors
/// [`Misread`], which names those there are.
pub fn known(practised: bool, command: &[&str], typed: &str) -> Result<(), Misread> {
    let all = cases(command);
    if !practised || typed.is_empty() || all.contains(&typed) {
        return Ok(());
    }
    Err(Misread::none_of(CASE, typed, &all.join(", ")))
}

/// The field for what is practised at a station; none where there is nothing to choose.
pub fn case(command: &[&str], typed: &str) -> Option<Field> {
    let all = cases(command);
    let first = all.first().filter(|_| all.len() > 1)?;
    let chosen = if typed.is_empty() { first } else { typed };
    let mut field = Field::text(CASE, words::CASE, chosen);
    words::CASE_HINT.clone_into(&mut field.hint);
    (field.kind, field.needed) = (Kind::Choice(all.into_iter().map(shown).collect()), true);
    Some(field)
}

fn begin(house: &House, typed: &dyn Fn(&str) -> String) -> Form {
    let mut form = house.form(&of(), PATH, words::PRACTICE_BEGIN, typed);
    form.about = words::PRACTICE_SAID.map(str::to_owned).to_vec();
    for field in &mut form.fields {
        if field.name == SCENARIO {
            (field.kind, field.needed) = (Kind::Choice(scenarios()), true);
        }
        if field.name == PACE {
            field.kind = Kind::Number;
        }
        match field.name.as_str() {
            SCENARIO => words::SCENARIO_HINT,
            PACE => words::PACE_HINT,
            CLASS => words::CLASS_HINT,
            _ => "",
        }
        .clone_into(&mut field.hint);
    }
    form
}

fn end(house: &House, chosen: &Chosen) -> Form {
    let about =
        [words::practice_is(&chosen.scenario, &chosen.pace), words::PRACTICE_END_SAID.to_owned()];
    Form {
        action: PATH.to_owned(),
        heading: words::PRACTICE_ON.to_owned(),
        about: about.to_vec(),
        hidden: vec![(END.to_owned(), "yes".to_owned())],
        button: words::PRACTICE_END.to_owned(),
        key: house.key(PATH),
        ..Form::default()
    }
}

/// Show it.
pub fn look(house: &House, visit: &Visit) -> Reply {
    let form = match house.job().practice {
        Some(chosen) => end(house, &chosen),
        None => begin(house, &|name| match name {
            SCENARIO => suited(COMMAND).first().copied().unwrap_or_default().to_owned(),
            PACE => "1".to_owned(),
            _ => String::new(),
        }),
    };
    show(house, visit, 200, &form)
}

fn show(house: &House, visit: &Visit, status: u16, form: &Form) -> Reply {
    let main = parts::all(&[form.markup()]);
    house.page_named(Station::Start, Some(words::PRACTICE), visit, status, main)
}

/// Begin or end it.
pub fn act(house: &House, visit: &Visit, sent: &Sent) -> Reply {
    let ends = value(sent, END) == "yes";
    let form = || match house.job().practice {
        Some(chosen) if ends => end(house, &chosen),
        _ => begin(house, &|name| value(sent, name).to_owned()),
    };
    let refused = |status: u16, fault: &[String]| {
        show(house, visit, status, &Form { fault: fault.to_vec(), ..form() })
    };
    house.once(
        visit,
        sent,
        |fault| refused(409, fault),
        || {
            let owned =
                |said: &[&str]| said.iter().map(|said| (*said).to_owned()).collect::<Vec<_>>();
            if house.live.station().is_some() {
                return Acted::Refused(refused(409, &owned(&words::PRACTICE_LIVE)));
            }
            if !ends && house.job().captures.values().any(|captures| !captures.is_empty()) {
                return Acted::Refused(refused(409, &owned(&words::PRACTICE_MIXED)));
            }
            let chosen = Chosen::of(sent);
            if !ends {
                let mut argv = vec![COMMAND.to_owned()];
                argv.extend(of().argv(sent).into_iter().skip(1));
                if let Err(misread) = form::read(&argv) {
                    let mut form = form();
                    say_refused(&mut form, &Refused::Misread(misread));
                    return Acted::Refused(show(house, visit, 422, &form));
                }
            }
            let changed = if ends {
                begin_anew(house, false)
                    .map(|stays| [owned(&words::PRACTICE_ENDED), stays].concat())
            } else {
                let begun = house.change(|job| job.practice = Some(chosen));
                begun.map(|()| owned(&words::PRACTICE_BEGUN))
            };
            match changed {
                Ok(said) => Acted::Done(done("/", said)),
                Err(trouble) => {
                    let fault: Vec<String> =
                        trouble.to_string().lines().map(str::to_owned).collect();
                    Acted::Refused(refused(500, &fault))
                }
            }
        },
    )
}

#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::panic)]
mod tests {
    use super::*;

    #[test]
    fn every_live_command_practises_with_the_tractor_that_was_chosen() {
        let chosen = Chosen {
            scenario: "plain".to_owned(),
            pace: "10".to_owned(),
            receiver_class: "rtk".to_owned(),
            no_button: true,
        };
        assert!(chosen.options("drive", "").contains(&"plain".to_owned()));
        for command in ["check", "drive", "slip", "speeds", "pto", "mount"] {
            let mut argv = vec![command.to_owned()];
            argv.extend(chosen.options(command, ""));
            assert!(form::read(&argv).is_ok(), "{argv:?}");
            let says = |word: &str| argv.iter().any(|one| one == word);
            assert!(says("--pace=10") && says("rtk") && says("--no-button"), "{argv:?}");
        }
    }

    #[test]
    fn a_case_is_chosen_where_it_suits_and_nowhere_else() {
        let chosen = Chosen { scenario: "plain".to_owned(), ..Chosen::default() };
        let played = |command: &str, case: &str| chosen.options(command, case)[1].clone();
        assert_eq!(played("proof", ""), "proof-old");
        assert_eq!(played("proof", "proof"), "proof");
        // What another station plays, or nobody knows, is not played here.
        assert_eq!(played("proof", "circles"), "proof-old");
        assert_eq!(played("drive", "proof"), "plain");

        let field = case(&["proof"], "proof-bus").unwrap();
        assert_eq!(field.value, "proof-bus");
        assert_eq!(case(&["proof"], "").unwrap().value, "proof-old");
        // What nobody knows is refused, and still stands in the field.
        assert_eq!(case(&["proof"], "nonsense").unwrap().value, "nonsense");
        let refused = known(true, &["proof"], "nonsense").unwrap_err();
        assert_eq!(refused.option.as_deref(), Some(CASE));
        for case in ["", "proof-bus"] {
            assert_eq!(known(true, &["proof"], case), Ok(()));
        }
        assert_eq!(known(false, &["proof"], "nonsense"), Ok(()));
        let Kind::Choice(choices) = field.kind else { panic!("no choice") };
        assert_eq!(choices.len(), suited("proof").len());
        assert!(choices.iter().all(|(name, shown)| shown.len() > name.len() + 5), "{choices:?}");
        assert_eq!(case(&["pto"], ""), None, "one case is no choice");
    }
}
