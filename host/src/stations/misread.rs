//! What the command line's reader refuses, in the words of a page: it speaks of options, and a
//! page has fields.

use clap::error::{ContextKind, ContextValue, ErrorKind};
use std::error::Error as _;
use trundle_show::stations::form::Form;
use trundle_show::words::stations_misread as words;

/// Of what was typed so many characters are said again.
const TYPED_MAX: usize = 60;

/// Why a command was not understood: the option that is at fault, where one is, and what is wrong.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Misread {
    /// Name of the option, or of the argument.
    pub option: Option<String>,
    /// What is wrong; options in it still bear their dashes, until [`on_page`].
    pub words: String,
}

impl Misread {
    /// What was typed is none of the choices of the option.
    #[must_use]
    pub fn none_of(option: &str, typed: &str, choices: &str) -> Self {
        Self { option: Some(option.to_owned()), words: words::none_of(&shortened(typed), choices) }
    }
}

/// The same for a page.
pub fn misread(error: &clap::Error) -> Misread {
    let named = |kind| match error.get(kind) {
        Some(ContextValue::String(one)) => vec![one.clone()],
        Some(ContextValue::Strings(all)) => all.clone(),
        _ => Vec::new(),
    };
    let option = named(ContextKind::InvalidArg).first().map(|arg| name(arg));
    let typed = named(ContextKind::InvalidValue).first().cloned().unwrap_or_default();
    let typed = shortened(&typed);
    let words = match error.kind() {
        ErrorKind::ValueValidation => words::not_fitting(&typed, &wanted(error)),
        ErrorKind::InvalidValue if typed.is_empty() => words::NEEDED.to_owned(),
        ErrorKind::InvalidValue => {
            words::none_of(&typed, &named(ContextKind::ValidValue).join(", "))
        }
        ErrorKind::MissingRequiredArgument => words::NEEDED.to_owned(),
        ErrorKind::ArgumentConflict => {
            let others = named(ContextKind::PriorArg);
            let others = others.iter().map(|arg| format!("--{}", name(arg)));
            words::not_together(&others.collect::<Vec<_>>().join(", "))
        }
        // A form sends nothing that its command does not know; what is left is said as it came.
        _ => {
            let said = error.render().to_string();
            let said = said.split("\n\n").next().unwrap_or_default();
            one_line(said.strip_prefix("error: ").unwrap_or(said))
        }
    };
    Misread { option, words }
}

/// What the option's reader wants. That of a bare number speaks of how a program holds it.
fn wanted(error: &clap::Error) -> String {
    let Some(source) = error.source() else { return String::new() };
    if source.is::<std::num::ParseFloatError>() {
        words::A_NUMBER.to_owned()
    } else if source.is::<std::num::ParseIntError>() {
        words::A_WHOLE_NUMBER.to_owned()
    } else {
        one_line(&source.to_string())
    }
}

/// The option's name out of how it is written: `--length <LENGTH>`, `<NAME>`, `<--one|--other>`.
fn name(arg: &str) -> String {
    let word = arg.trim_matches(['<', '>', '[', ']']).split([' ', '=', '|', '>']).next();
    word.unwrap_or_default().trim_start_matches("--").to_lowercase()
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn shortened(typed: &str) -> String {
    match typed.char_indices().nth(TYPED_MAX) {
        Some((at, _)) => format!("{}...", &typed[..at]),
        None => typed.to_owned(),
    }
}

/// Words of a command on a page: an option that the form has a field for is called as that field
/// is.
#[must_use]
pub fn on_page(words: &str, form: &Form) -> String {
    let mut out = String::with_capacity(words.len());
    let mut rest = words;
    while let Some(at) = rest.find("--") {
        let (before, option) = rest.split_at(at);
        out.push_str(before);
        let plain = |c: char| c.is_ascii_alphanumeric() || c == '-';
        let end = option[2..].find(|c| !plain(c)).map_or(option.len(), |end| end + 2);
        let field = form.fields.iter().find(|field| field.name == option[2..end]);
        match field.filter(|_| !before.ends_with(plain)) {
            Some(field) => out.push_str(&format!("\"{}\"", field.label)),
            None => out.push_str(&option[..end]),
        }
        rest = &option[end..];
    }
    out + rest
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::stations::form::read;
    use trundle_show::stations::form::Field;

    fn wrong(argv: &[&str]) -> Misread {
        read(&argv.iter().map(|word| (*word).to_owned()).collect::<Vec<_>>()).unwrap_err()
    }

    #[test]
    fn nothing_is_said_in_the_words_of_the_command_line() {
        let long = format!("--length={}", "9".repeat(1000));
        for (argv, option) in [
            (&["course", "plan", "--length=100 m", "--course=/x"][..], "length"),
            (&["course", "plan", "--stop=far"], "stop"),
            (&["course", "plan", "--receiver=good"], "receiver"),
            (&["tractor", "add"], "name"),
            (&["bin", "empty"], "dry-run"),
            (&["slip", "--right=1 m"], "ahead"),
            (&["pto", "--display-step="], "display-step"),
            (&["proof", &long, "--entered=many"], "entered"),
            (&["demo", "--passes=few"], "passes"),
        ] {
            let Misread { option: named, words } = wrong(argv);
            assert_eq!(named.as_deref(), Some(option), "{argv:?}: {words}");
            assert!(words.len() < 200 && words.ends_with('.'), "{argv:?}: {words}");
            for raw in ["error:", "Usage", "argument", "required", "<", "invalid"] {
                assert!(!words.contains(raw), "{argv:?}: {words}");
            }
        }
    }

    #[test]
    fn an_option_is_called_as_its_field_is() {
        let fields = vec![Field::text("length", "Length of the course", "")];
        let form = Form { fields, ..Form::default() };
        let both = wrong(&["course", "plan", "--course=/x", "--length=100 m"]);
        let said = on_page(&both.words, &form) + &on_page(" Not with --length.", &form);
        assert!(said.contains("\"Length of the course\".") && !said.contains("--length"), "{said}");
        for same in ["a --lengthy one", "x--length", "--", "--data=/", "plain", "\u{fc}--\u{fc}"] {
            assert_eq!(on_page(same, &form), same);
        }
    }
}
