//! A form: its fields, what was typed, and what is wrong with it, each beside its field.

use crate::phrases::plain::{line, sentence_case};
use crate::words::stations as words;
use maud::{Markup, html};

/// A form of a station.
#[derive(Clone, Debug, Default)]
pub struct Form {
    /// Where it is sent.
    pub action: String,
    /// Its heading; empty for none.
    pub heading: String,
    /// What it is for, one sentence each.
    pub about: Vec<String>,
    /// Its fields, in the order of typing.
    pub fields: Vec<Field>,
    /// Values that are sent along unseen.
    pub hidden: Vec<(String, String)>,
    /// What the button says.
    pub button: String,
    /// Shows that the form is ours, and which of the forms.
    pub key: String,
    /// What is wrong with the whole: what happened, what it means, what to do next.
    pub fault: Vec<String>,
    /// The command that does the same.
    pub command: String,
    /// What stands above the field of this name: a heading, a drawing.
    pub above: Vec<(String, Markup)>,
    /// What belongs to the field of this name: another button.
    pub below: Vec<(String, Markup)>,
    /// Name of the first field that is rarely needed, and what is said of it and all that follow.
    pub rare: (String, String),
    /// Path that a script sends what is typed to, to show what it comes to; empty for none.
    pub live: String,
    /// Further buttons: name, value, words.
    pub others: Vec<(String, String, String)>,
}

/// A field.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Field {
    /// Its name when the form is sent.
    pub name: String,
    /// Its label.
    pub label: String,
    /// What may be typed; empty for nothing to say.
    pub hint: String,
    /// What kind.
    pub kind: Kind,
    /// What is typed, or was.
    pub value: String,
    /// What is wrong with it; empty for nothing.
    pub fault: String,
    /// It has to be filled in.
    pub needed: bool,
}

/// Kind of a field.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A line of text.
    Text,
    /// A number, or a quantity with its unit: a phone shows the keys for figures.
    Number,
    /// A date, YYYY-MM-DD.
    Date,
    /// Several lines.
    Long,
    /// Yes or no; `value` is "yes" or empty.
    Tick,
    /// One of these: what is sent, and what is shown.
    Choice(Vec<(String, String)>),
}

impl Field {
    /// A line of text.
    #[must_use]
    pub fn text(name: &str, label: &str, value: &str) -> Self {
        Self {
            name: name.to_owned(),
            label: label.to_owned(),
            hint: String::new(),
            kind: Kind::Text,
            value: value.to_owned(),
            fault: String::new(),
            needed: false,
        }
    }

    /// Explained by the help of its option; what the label says is not said again.
    pub fn explain(&mut self, help: &str) {
        self.hint = match help.strip_prefix(&self.label).and_then(|rest| rest.strip_prefix(": ")) {
            Some(rest) => sentence_case(rest),
            None => help.to_owned(),
        };
    }
}

impl Form {
    /// As it stands on the page.
    #[must_use]
    pub fn markup(&self) -> Markup {
        let id = self.action.replace('/', "-");
        html! {
            form .sheet method="post" action=(self.action) accept-charset="utf-8"
                data-live=[(!self.live.is_empty()).then_some(&self.live)] {
                @if !self.heading.is_empty() { h2 { (line(&self.heading)) } }
                @for about in &self.about { p .about { (line(about)) } }
                @if !self.fault.is_empty() {
                    div .fault role="alert" {
                        p { strong { (words::NOT_DONE) } }
                        @for words in &self.fault { p { (line(words)) } }
                    }
                }
                input type="hidden" name="key" value=(self.key);
                @for (name, value) in &self.hidden {
                    input type="hidden" name=(name) value=(value);
                }
                // The key Enter presses the first button of a form: it is never one of the others.
                @if !self.below.is_empty() {
                    button .unseen type="submit" tabindex="-1" aria-hidden="true" {}
                }
                @let (usual, rare) = self.halves();
                (self.markup_of(usual, &id))
                @if !rare.is_empty() {
                    // Open where something in it is said or wrong: nothing typed is hidden.
                    @let bare = |one: &Field| one.value.is_empty() && one.fault.is_empty();
                    @let open = !rare.iter().all(bare);
                    details .rare open[open] {
                        summary { (line(&self.rare.1)) }
                        div .pairs { (self.markup_of(rare, &id)) }
                    }
                }
                button .wide type="submit" { (line(&self.button)) }
                @for (name, value, words) in &self.others {
                    button .wide .other type="submit" name=(name) value=(value) { (line(words)) }
                }
                @if !self.command.is_empty() { (command(&self.command)) }
            }
        }
    }
}

impl Form {
    /// The fields that are always seen, and those that are folded away.
    fn halves(&self) -> (&[Field], &[Field]) {
        let first = self.fields.iter().position(|field| field.name == self.rare.0);
        self.fields.split_at(first.unwrap_or(self.fields.len()))
    }

    fn markup_of(&self, fields: &[Field], id: &str) -> Markup {
        html! {
            @for field in fields {
                (at(&self.above, &field.name))
                (field.markup(id, &at(&self.below, &field.name)))
            }
        }
    }
}

fn at(places: &[(String, Markup)], name: &str) -> Markup {
    html! { @for (_, what) in places.iter().filter(|(at, _)| at == name) { (what) } }
}

/// A further button of a form, which sends this value beside what was typed.
#[must_use]
pub fn button(name: &str, value: &str, words: &str) -> Markup {
    html! { button .plain type="submit" name=(name) value=(value) { (line(words)) } }
}

/// The command that does the same, for whoever wants it.
#[must_use]
pub fn command(typed: &str) -> Markup {
    html! {
        details .command {
            summary { (words::COMMAND) }
            code { (line(typed)) }
        }
    }
}

impl Field {
    pub(super) fn markup(&self, form: &str, below: &Markup) -> Markup {
        let id = format!("f{form}-{}", self.name);
        let about = format!("{id}-about");
        let wrong = format!("{id}-wrong");
        let mut described: Vec<&str> = Vec::new();
        if !self.hint.is_empty() {
            described.push(&about);
        }
        if !self.fault.is_empty() {
            described.push(&wrong);
        }
        let described = (!described.is_empty()).then(|| described.join(" "));
        html! {
            div .field .wrong[!self.fault.is_empty()] .tick[self.kind == Kind::Tick] {
                label for=(id) { (line(&self.label)) }
                (self.control(&id, described.as_deref()))
                @if !self.hint.is_empty() { p .hint id=(about) { (line(&self.hint)) } }
                @if !self.fault.is_empty() { p .why id=(wrong) { (line(&self.fault)) } }
                (below)
            }
        }
    }

    fn control(&self, id: &str, described: Option<&str>) -> Markup {
        let invalid = (!self.fault.is_empty()).then_some("true");
        let Self { name, value, needed, .. } = self;
        html! {
            @match &self.kind {
                Kind::Choice(choices) => {
                    select id=(id) name=(name) aria-describedby=[described] aria-invalid=[invalid]
                        autocomplete="off" {
                        @if !needed || value.is_empty() {
                            option value="" selected[value.is_empty()] { (words::NONE_CHOSEN) }
                        }
                        @for (sent, shown) in choices {
                            option value=(sent) selected[sent == value] { (line(shown)) }
                        }
                        // What was chosen and is not there any more stays to be seen.
                        @if !value.is_empty() && choices.iter().all(|(sent, _)| sent != value) {
                            option value=(value) selected { (line(value)) }
                        }
                    }
                }
                Kind::Tick => {
                    input id=(id) name=(name) type="checkbox" value="yes" checked[value == "yes"]
                        aria-describedby=[described] aria-invalid=[invalid] autocomplete="off";
                }
                Kind::Long => {
                    textarea id=(id) name=(name) rows="8" aria-describedby=[described]
                        aria-invalid=[invalid] autocomplete="off" spellcheck="false" {
                        // The first line end after the tag is no part of the text (HTML, 4.10.11).
                        "\n" (value)
                    }
                }
                kind => {
                    input id=(id) name=(name) type="text" value=(value)
                        inputmode=[(*kind == Kind::Number).then_some("decimal")]
                        placeholder=[(*kind == Kind::Date).then_some("YYYY-MM-DD")]
                        aria-describedby=[described] aria-invalid=[invalid]
                        aria-required=[needed.then_some("true")] autocomplete="off";
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hint_does_not_say_the_label_again() {
        let mut field = Field::text("as-found", "Value found", "");
        field.explain("Value found: shows what it did");
        assert_eq!(field.hint, "Shows what it did");
        field.explain("Value found before");
        assert_eq!(field.hint, "Value found before");
    }

    #[test]
    fn what_was_typed_comes_back_and_nothing_of_it_acts() {
        let hostile = "\"><script>x</script>\u{202e}";
        let mut field = Field::text("name", "Name", hostile);
        field.fault = hostile.to_owned();
        let mut long = Field { kind: Kind::Long, ..field.clone() };
        long.name = "long".to_owned();
        let choice = Kind::Choice(vec![("a".to_owned(), hostile.to_owned())]);
        let choice = Field { kind: choice, name: "choice".to_owned(), ..field.clone() };
        let form = Form {
            action: "/rig".to_owned(),
            fault: vec![hostile.to_owned()],
            fields: vec![field, long, choice],
            command: hostile.to_owned(),
            ..Form::default()
        };
        let page = form.markup().into_string();
        assert!(!page.contains("<script>"), "{page}");
        // What was typed is kept as it was, or saving it again would change it.
        assert!(
            page.contains("value=\"&quot;&gt;&lt;script&gt;x&lt;/script&gt;\u{202e}\""),
            "{page}"
        );
        assert_eq!(page.matches("aria-invalid=\"true\"").count(), 3);
    }
}
