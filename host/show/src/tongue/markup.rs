//! Pages and drawings, and the JSON that fills them.

use super::numbers::with_comma;
use super::table::Table;
use super::{Said, lines};
use serde_json::Value;
use std::borrow::Cow;

/// Attributes that are read or heard.
const READ: [&str; 6] =
    ["title", "alt", "aria-label", "placeholder", "aria-description", "data-label"];
/// An attribute that holds the script's words, as JSON.
const WORDS: &str = "data-say";
/// What stands before words in a style sheet.
const CONTENT: &str = "content: \"";
/// Elements that hold nothing.
const VOID: [&str; 7] = ["br", "hr", "img", "input", "link", "meta", "wbr"];
/// Marks of an element with text from outside.
const OUTSIDE: [&str; 2] = [" translate=\"no\"", " dir=\"auto\""];
/// Elements whose text is no sentence of ours.
const KEPT: [&str; 6] = ["script", "style", "code", "kbd", "textarea", "samp"];
/// Keys of JSON whose texts are for the script.
const FOR_SCRIPT: [&str; 6] = ["step", "kind", "answer", "entry", "end", "handbook"];

/// Say a page; `code` is the language that it then names.
pub(super) fn said(table: &Table, page: &str, code: &str) -> Said {
    let mut out =
        Said { text: String::with_capacity(page.len() + page.len() / 8), left: Vec::new() };
    // The element whose text stays, and how deep one is in others of its name.
    let mut kept: Option<(String, usize)> = None;
    let mut rest = page;
    while let Some(at) = rest.find('<') {
        let (text, tag) = rest.split_at(at);
        match &kept {
            Some((name, _)) if name == "style" => style(table, text, &mut out),
            Some(_) => out.text.push_str(text),
            None => node(table, text, &mut out),
        }
        let end = tag_end(tag);
        let (tag, more) = tag.split_at(end);
        let name = tag_name(tag);
        match &mut kept {
            Some((own, deep)) if *own == name => {
                *deep = if tag.starts_with("</") { *deep - 1 } else { *deep + 1 };
                out.text.push_str(tag);
                if *deep == 0 {
                    kept = None;
                }
            }
            Some(_) => out.text.push_str(tag),
            None => {
                attributes(table, tag, name == "html", code, &mut out);
                let keeps = KEPT.contains(&name) || OUTSIDE.iter().any(|mark| tag.contains(mark));
                let closes = tag.starts_with("</") || tag.ends_with("/>") || VOID.contains(&name);
                if keeps && !closes {
                    kept = Some((name.to_owned(), 1));
                }
            }
        }
        rest = more;
    }
    if kept.is_some() {
        out.text.push_str(rest)
    } else {
        node(table, rest, &mut out)
    }
    out
}

fn tag_name(tag: &str) -> &str {
    let inner = tag.trim_start_matches(['<', '/']);
    &inner[..inner.find(|c: char| !c.is_ascii_alphanumeric()).unwrap_or(inner.len())]
}

/// Where a tag ends: `>` may stand in an attribute.
fn tag_end(tag: &str) -> usize {
    if tag.starts_with("<!--") {
        return tag.find("-->").map_or(tag.len(), |at| at + 3);
    }
    let mut quoted = false;
    for (at, c) in tag.char_indices() {
        match c {
            '"' => quoted = !quoted,
            '>' if !quoted => return at + 1,
            _ => {}
        }
    }
    tag.len()
}

fn attributes(table: &Table, tag: &str, names_language: bool, code: &str, out: &mut Said) {
    let mut rest = tag;
    while let Some(at) = rest.find("=\"") {
        let (name, value) = rest.split_at(at + 2);
        let name_only = name[..at].rsplit([' ', '\n']).next().unwrap_or("");
        let Some(end) = value.find('"') else { break };
        out.text.push_str(name);
        let value_only = &value[..end];
        if READ.contains(&name_only) {
            node(table, value_only, out);
        } else if name_only == WORDS {
            let found = json(table, &plain(value_only));
            out.left.extend(found.left);
            out.text.push_str(&marked(&found.text));
        } else if names_language && name_only == "lang" {
            out.text.push_str(code);
        } else {
            out.text.push_str(value_only);
        }
        rest = &value[end..];
    }
    out.text.push_str(rest);
}

/// A style sheet says words too: in the margins of paper.
fn style(table: &Table, text: &str, out: &mut Said) {
    let mut parts = text.split(CONTENT);
    out.text.push_str(parts.next().unwrap_or(""));
    for part in parts {
        out.text.push_str(CONTENT);
        let end = part.find('"').unwrap_or(0);
        let said = table.said(&part[..end]);
        // Nothing may end the text, nor the style sheet.
        out.text.push_str(&said.text.replace(['"', '\\', '<', '\n'], ""));
        out.text.push_str(&part[end..]);
    }
}

fn node(table: &Table, text: &str, out: &mut Said) {
    if !text.contains(char::is_alphabetic) {
        out.text.push_str(&with_comma(text));
        return;
    }
    let plain = plain(text);
    // Text that stands as it is was made for a terminal.
    let lines = plain.trim().contains('\n');
    let said = if lines { lines::said(table, &plain) } else { table.said(&plain) };
    out.left.extend(said.left);
    out.text.push_str(&marked(&said.text));
}

/// Without the marks for characters of markup.
fn plain(text: &str) -> Cow<'_, str> {
    if !text.contains('&') {
        return Cow::Borrowed(text);
    }
    let text = text.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"");
    Cow::Owned(text.replace("&#39;", "'").replace("&#x27;", "'").replace("&amp;", "&"))
}

fn marked(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

/// Say the texts of a JSON text. One that is none stays.
pub(super) fn json(table: &Table, json: &str) -> Said {
    let Ok(mut value) = serde_json::from_str::<Value>(json) else {
        return Said { text: json.to_owned(), left: Vec::new() };
    };
    let mut left = Vec::new();
    leaves(table, &mut value, &mut left);
    Said { text: value.to_string(), left }
}

fn leaves(table: &Table, value: &mut Value, left: &mut Vec<String>) {
    match value {
        Value::String(text) => {
            let said = table.said(text);
            left.extend(said.left);
            *text = said.text;
        }
        Value::Array(all) => all.iter_mut().for_each(|one| leaves(table, one, left)),
        Value::Object(all) => {
            let shown = all.iter_mut().filter(|(key, _)| !FOR_SCRIPT.contains(&key.as_str()));
            shown.for_each(|(_, one)| leaves(table, one, left));
        }
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table() -> Table {
        Table::of(&["wheel\n= Rad\nPass {n} of {}\n= Messfahrt {n} von {}\n"]).0
    }

    #[test]
    fn text_and_what_is_heard_of_a_page_is_said_and_nothing_else() {
        let page = "<!DOCTYPE html><html lang=\"en\"><style>wheel{}</style><p class=\"wheel\" \
                    title=\"wheel\">Pass 2 of wheel</p><code>wheel <code>wheel</code></code>\
                    <b translate=\"no\">wheel</b> &lt;wheel&gt; 1.5<input value=\"wheel\"></html>";
        let said = said(&table(), page, "de");
        assert_eq!(
            said.text,
            "<!DOCTYPE html><html lang=\"de\"><style>wheel{}</style><p class=\"wheel\" \
             title=\"Rad\">Messfahrt 2 von Rad</p><code>wheel <code>wheel</code></code>\
             <b translate=\"no\">wheel</b> &lt;wheel&gt; 1,5<input value=\"wheel\"></html>"
        );
        assert!(said.left.is_empty(), "{:?}", said.left);
    }

    #[test]
    fn words_for_a_script_stay() {
        let text = r#"{"kind":"wheel","words":["wheel",1.5],"n":null}"#;
        let said = json(&table(), text);
        assert_eq!(said.text, r#"{"kind":"wheel","n":null,"words":["Rad",1.5]}"#);
    }
}
