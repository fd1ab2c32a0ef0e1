//! The chapters' own texts: Markdown of ours in, markup out.

use crate::words::book::anchor;
use maud::{Markup, PreEscaped};
use pulldown_cmark::{Event, HeadingLevel, Options, Parser, Tag, TagEnd, html};

/// Drawings of the program that a text may show, by the name it gives them. A test of the whole
/// draws them anew and holds these files to it.
const PICTURES: [(&str, &str); 2] = [
    ("passes.svg", include_str!("../../../pictures/passes.svg")),
    ("slip-map.svg", include_str!("../../../pictures/slip-map.svg")),
];

/// A text of this chapter as markup. Headings stand below that of the chapter, each with a name
/// made of the chapter's and its own words, or of the name it gives (`{#name}`: in each language
/// the same); a heading of the first level is the chapter's own title
/// and is left out. Of a link to a file that lies beside a document only the words stay: the book
/// is one page.
pub fn markdown(chapter: &str, text: &str) -> Markup {
    let kinds = Options::ENABLE_TABLES | Options::ENABLE_HEADING_ATTRIBUTES;
    let events: Vec<Event<'_>> = Parser::new_ext(text, kinds).collect();
    let mut out = String::new();
    let (mut titled, mut leads_out) = (false, false);
    let placed = events.iter().enumerate().filter_map(|(n, event)| match event {
        Event::Start(Tag::Heading { level: HeadingLevel::H1, .. }) => {
            titled = true;
            None
        }
        Event::End(TagEnd::Heading(HeadingLevel::H1)) => {
            titled = false;
            None
        }
        _ if titled => None,
        Event::Start(Tag::Link { dest_url, .. }) if !dest_url.starts_with('#') => {
            leads_out = true;
            None
        }
        Event::End(TagEnd::Link) if leads_out => {
            leads_out = false;
            None
        }
        Event::Start(Tag::Heading { level, id, .. }) => {
            let own = id.as_ref().map_or_else(|| heading(&events[n + 1..]), ToString::to_string);
            let name = anchor(chapter, &own);
            Some(Event::Start(Tag::Heading {
                level: below(*level),
                id: Some(name.into()),
                classes: Vec::new(),
                attrs: Vec::new(),
            }))
        }
        Event::End(TagEnd::Heading(level)) => Some(Event::End(TagEnd::Heading(below(*level)))),
        Event::Start(Tag::Image { link_type, dest_url, title, id }) => {
            Some(Event::Start(Tag::Image {
                link_type: *link_type,
                dest_url: picture(dest_url).into(),
                title: title.clone(),
                id: id.clone(),
            }))
        }
        other => Some(other.clone()),
    });
    html::push_html(&mut out, placed);
    // The strict readers of our pages know no attribute without a value and no closed single tag.
    PreEscaped(out.replace(" />", ">"))
}

/// Words of the heading that begins here, without what names no place.
fn heading(events: &[Event<'_>]) -> String {
    let inside = events.iter().take_while(|event| !matches!(event, Event::End(TagEnd::Heading(_))));
    let words: String = inside
        .filter_map(|event| match event {
            Event::Text(words) | Event::Code(words) => Some(&**words),
            _ => None,
        })
        .collect();
    words.trim_end_matches(['.', '?', '!']).to_owned()
}

const fn below(level: HeadingLevel) -> HeadingLevel {
    match level {
        HeadingLevel::H1 | HeadingLevel::H2 => HeadingLevel::H3,
        _ => HeadingLevel::H4,
    }
}

/// The drawing inside the page itself; an address that is none of ours shows nothing.
fn picture(name: &str) -> String {
    let svg = PICTURES.iter().find(|(own, _)| *own == name).map_or("", |(_, svg)| svg);
    let mut out = "data:image/svg+xml,".to_owned();
    for letter in svg.chars() {
        match letter {
            '%' => out.push_str("%25"),
            '#' => out.push_str("%23"),
            '"' => out.push_str("%22"),
            '<' => out.push_str("%3C"),
            '>' => out.push_str("%3E"),
            '&' => out.push_str("%26"),
            '\n' => out.push_str("%0A"),
            other => out.push(other),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headings_have_names_and_stand_below_the_chapter() {
        let said =
            markdown("maths", "# Title\n\n## What `x` is?\n\n### More\n\ntext\n").into_string();
        assert!(!said.contains("Title"), "{said}");
        assert!(said.contains("<h3 id=\"maths-what-x-is\">What <code>x</code> is?</h3>"), "{said}");
        assert!(said.contains("<h4 id=\"maths-more\">More</h4>"), "{said}");
    }

    #[test]
    fn a_link_to_a_file_is_its_words() {
        let said = markdown("export", "See [a *group*](../group/README.md), [maths](#maths).");
        let kept = "<p>See a <em>group</em>, <a href=\"#maths\">maths</a>.</p>";
        assert_eq!(said.into_string().trim(), kept);
    }

    #[test]
    fn a_picture_lies_in_the_page() {
        let said = markdown("first", "![One pass](passes.svg)").into_string();
        assert!(said.contains("src=\"data:image/svg+xml,%3Csvg"), "{said:.200}");
        assert!(said.contains("alt=\"One pass\""), "{said}");
    }
}
