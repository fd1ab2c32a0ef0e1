//! Pages read strictly, and the forms on them: what is not of the HTML that our pages keep to, or
//! would act, fails.

use std::collections::BTreeMap;

/// Elements that have no end.
const VOID: [&str; 9] = ["meta", "link", "input", "br", "hr", "img", "wbr", "col", "source"];

/// What a page holds.
#[derive(Debug, Default)]
pub struct Page {
    pub forms: Vec<Form>,
    /// Where its links lead.
    pub links: Vec<String>,
    /// What a person reads of it, without what stands in fields.
    pub text: String,
    /// Of that, what is said to be wrong, one text each.
    pub faults: Vec<String>,
}

/// A form.
#[derive(Clone, Debug, Default)]
pub struct Form {
    pub action: String,
    pub method: String,
    pub fields: Vec<Field>,
}

/// A field with what stands in it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Field {
    pub name: String,
    pub kind: Kind,
    pub value: String,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    Hidden,
    Text,
    Long,
    Tick,
    Choice,
}

impl Form {
    pub fn value(&self, name: &str) -> &str {
        self.fields.iter().find(|field| field.name == name).map_or("", |field| &field.value)
    }

    /// What a browser sends of it when nothing is typed.
    pub fn pairs(&self) -> Vec<(String, Vec<u8>)> {
        let sent = self.fields.iter().filter(|f| f.kind != Kind::Tick || !f.value.is_empty());
        sent.map(|field| (field.name.clone(), field.value.clone().into_bytes())).collect()
    }

    /// The same with this typed.
    pub fn with(&self, typed: &[(&str, &str)]) -> Vec<(String, Vec<u8>)> {
        let mut pairs = self.pairs();
        for (name, value) in typed {
            pairs.retain(|(other, _)| other != name);
            pairs.push(((*name).to_owned(), value.as_bytes().to_vec()));
        }
        pairs
    }
}

/// A tag: name, whether it ends an element, attributes.
struct Tag {
    name: String,
    closes: bool,
    attributes: BTreeMap<String, String>,
}

impl Tag {
    fn get(&self, name: &str) -> String {
        self.attributes.get(name).cloned().unwrap_or_default()
    }

    /// Nothing that acts, and nothing from elsewhere.
    fn check(&self) {
        let name = &self.name;
        assert!(
            !["iframe", "object", "embed", "base", "applet", "math"].contains(&name.as_str()),
            "<{name}>"
        );
        for (key, value) in &self.attributes {
            assert!(!key.starts_with("on") && key != "style", "<{name} {key}={value:?}>");
            if ["href", "src", "action", "formaction", "data-live"].contains(&key.as_str()) {
                let inside = value.starts_with('/') && !value.starts_with("//");
                let data = value.starts_with("data:,") || value.starts_with("data:image/");
                assert!(inside || value.starts_with('#') || data, "<{name} {key}={value:?}>");
            }
        }
        if name == "script" && !self.closes {
            assert!(self.attributes.contains_key("src"), "a script within the page");
        }
    }
}

/// The tag that `rest` begins with, behind its `<`, and what follows it.
fn tag(rest: &str) -> (Tag, &str) {
    let closes = rest.starts_with('/');
    let mut rest = rest.trim_start_matches('/');
    let end = rest.find(|c: char| !c.is_ascii_alphanumeric()).unwrap();
    assert!(end > 0, "a < that opens no tag: {:.80}", rest);
    let name = rest[..end].to_owned();
    rest = &rest[end..];
    let mut attributes = BTreeMap::new();
    while let Some(after) = rest.strip_prefix(' ') {
        let end = after.find(|c: char| !(c.is_ascii_alphanumeric() || c == '-')).unwrap();
        assert!(end > 0, "<{name}: no name: {:.80}", after);
        let (key, after) = after.split_at(end);
        let (value, after) = match after.strip_prefix("=\"") {
            Some(value) => value.split_once('"').expect("an open value"),
            None => ("", after),
        };
        let value = plain(value);
        assert!(attributes.insert(key.to_owned(), value).is_none(), "<{name}: {key} twice");
        rest = after;
    }
    rest = rest.strip_prefix('>').unwrap_or_else(|| panic!("<{name} is not closed: {rest:.80}"));
    let tag = Tag { name, closes, attributes };
    tag.check();
    (tag, rest)
}

fn plain(text: &str) -> String {
    text.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"").replace("&amp;", "&")
}

impl Page {
    /// Read a page, or a part of one.
    pub fn read(page: &str) -> Self {
        let mut rest = page.strip_prefix("<!DOCTYPE html>").unwrap_or(page);
        let (mut found, mut open) = (Self::default(), Vec::<String>::new());
        // The choice, or the long text, that is being read.
        let mut within: Option<Field> = None;
        // How deep the element lies that says what is wrong.
        let mut wrong: Option<usize> = None;
        while let Some(at) = rest.find('<') {
            let text = plain(&rest[..at]);
            if wrong.is_some() {
                found.faults.last_mut().unwrap().push_str(&text);
            }
            match &mut within {
                Some(field) if field.kind == Kind::Long => field.value.push_str(&text),
                _ => found.text.push_str(&text),
            }
            let (tag, after) = tag(&rest[at + 1..]);
            rest = after;
            if tag.closes {
                assert_eq!(open.pop().as_deref(), Some(tag.name.as_str()), "{rest:.80}");
                wrong = wrong.filter(|depth| open.len() >= *depth);
                if ["select", "textarea"].contains(&tag.name.as_str()) {
                    let mut field = within.take().unwrap();
                    if let Some(first) = field.value.strip_prefix('\n') {
                        field.value = first.to_owned();
                    }
                    found.keep(field);
                }
                continue;
            }
            if tag.name == "style" {
                rest = &rest[rest.find("</style>").unwrap()..];
            }
            if !VOID.contains(&tag.name.as_str()) {
                open.push(tag.name.clone());
            }
            let says = tag.get("class").split(' ').any(|class| ["why", "fault"].contains(&class));
            if wrong.is_none() && says {
                wrong = Some(open.len());
                found.faults.push(String::new());
            }
            found.take(&tag, &mut within);
        }
        assert!(open.is_empty(), "open at the end: {open:?}");
        found.text.push_str(&plain(rest));
        found
    }

    /// What is wrong is said in words of the page, not in those of the command line.
    pub fn check_faults(&self, of: &str) {
        let fields = self.forms.iter().flat_map(|form| &form.fields);
        let options: Vec<String> = fields.map(|field| format!("--{}", field.name)).collect();
        let raw = ["Usage:", "error:", "unexpected argument", "the following", "cannot be used"];
        for fault in &self.faults {
            // What stands in quotes was typed.
            let said: Vec<&str> = fault.split('"').step_by(2).collect();
            let said = said.join(" ");
            let mut words = said.split(|c: char| !(c.is_ascii_alphanumeric() || c == '-'));
            let option = words.find(|word| options.iter().any(|option| option == word));
            assert_eq!(option, None, "{of}: {fault}");
            assert!(!raw.iter().any(|raw| said.contains(raw)), "{of}: {fault}");
        }
    }

    fn take(&mut self, tag: &Tag, within: &mut Option<Field>) {
        let field = |kind, value| Field { name: tag.get("name"), kind, value };
        match tag.name.as_str() {
            "a" => self.links.push(tag.get("href")),
            "form" => {
                let (action, method) = (tag.get("action"), tag.get("method"));
                self.forms.push(Form { action, method, fields: Vec::new() });
            }
            "input" => match tag.get("type").as_str() {
                "hidden" => self.keep(field(Kind::Hidden, tag.get("value"))),
                "checkbox" => {
                    let on = tag.attributes.contains_key("checked");
                    self.keep(field(Kind::Tick, if on { tag.get("value") } else { String::new() }));
                }
                _ => self.keep(field(Kind::Text, tag.get("value"))),
            },
            "select" => *within = Some(field(Kind::Choice, String::new())),
            "textarea" => *within = Some(field(Kind::Long, String::new())),
            "option" if tag.attributes.contains_key("selected") => {
                within.as_mut().unwrap().value = tag.get("value");
            }
            _ => {}
        }
    }

    fn keep(&mut self, field: Field) {
        // A field outside of every form sends nothing.
        if let Some(form) = self.forms.last_mut() {
            form.fields.push(field);
        }
    }

    /// Characters that act on the text without being seen stand nowhere in it.
    pub fn check_text(&self, of: &str) {
        let unseen = |c: char| {
            c.is_control() && !matches!(c, '\n' | '\t')
                || matches!(c, '\u{200b}' | '\u{200e}'..='\u{200f}' | '\u{202a}'..='\u{202e}'
                    | '\u{2066}'..='\u{2069}' | '\u{feff}')
        };
        if let Some(at) = self.text.find(unseen) {
            let from = self.text[..at].char_indices().rev().nth(60).map_or(0, |(n, _)| n);
            panic!("{of}: an unseen character: {:?}", &self.text[from..at + 1]);
        }
    }
}
