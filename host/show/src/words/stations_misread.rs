//! What is wrong with what was typed into a field, where the command's own reader refuses it.

/// Nothing was typed where something has to be.
pub const NEEDED: &str = "This has to be filled in.";

/// What is wanted of a number.
pub const A_NUMBER: &str = "a number is wanted, such as 2.5";

/// And of a count.
pub const A_WHOLE_NUMBER: &str = "a whole number is wanted, such as 3";

/// What was typed, and what is wanted.
#[must_use]
pub fn not_fitting(typed: &str, wanted: &str) -> String {
    format!("\"{typed}\" does not fit here: {}.", wanted.trim_end_matches('.'))
}

/// What was typed is none of the choices.
#[must_use]
pub fn none_of(typed: &str, choices: &str) -> String {
    format!("\"{typed}\" is none of the choices: {choices}.")
}

/// Two fields exclude each other; `others` names the others, where any are known.
#[must_use]
pub fn not_together(others: &str) -> String {
    match others {
        "" => "This can be given only once.".to_owned(),
        others => format!("This cannot be given together with {others}. Leave one of them empty."),
    }
}
