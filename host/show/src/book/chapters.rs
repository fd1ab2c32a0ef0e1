//! The chapters, in the order of the work, and where their texts stand.

use crate::tongue::Tongue;

/// The guide, whose sections stand in the chapters that they belong to.
const GUIDE: &str = include_str!("../../../handbook/guide.md");

/// Sections of the guide that only those need who build or check the program.
#[cfg(test)]
const LEFT_OUT: [&str; 3] = ["What can go wrong", "The board's own firmware", "Packages"];

/// A chapter with its word, its title, its own text, and the sections of the guide that follow it.
macro_rules! chapters {
    ($($(#[$about:meta])* $name:ident $word:literal $title:literal $sections:tt;)*) => {
        /// A chapter of the book.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum Chapter { $($(#[$about])* $name,)* }

        impl Chapter {
            /// All of them, in their order.
            pub const ALL: [Self; 15] = [$(Self::$name,)*];

            /// Its place on the page.
            #[must_use]
            pub const fn word(self) -> &'static str {
                match self { $(Self::$name => $word,)* }
            }

            /// Its title.
            #[must_use]
            pub const fn title(self) -> &'static str {
                match self { $(Self::$name => $title,)* }
            }

            /// Its own text.
            const fn own(self) -> &'static str {
                match self {
                    $(Self::$name => include_str!(concat!("../../../handbook/", $word, ".md")),)*
                }
            }

            /// Sections of the guide that follow.
            const fn sections(self) -> &'static [&'static str] {
                match self { $(Self::$name => &$sections,)* }
            }
        }
    };
}

chapters! {
    /// From box to value.
    First "first" "Ten minutes from box to value" ["The page", "Practice"];
    /// Tape and course.
    Course "course" "Tape and course" ["The course"];
    /// Wiring and board.
    Board "board" "Wiring and board" ["Wiring", "The board on the bench"];
    /// Passes.
    Passes "passes" "Driving the passes" ["The live job"];
    /// Reading the result.
    Result "result" "Reading the result" ["The result", "What the numbers mean"];
    /// Flags and troubles.
    Wrong "wrong" "When something is wrong" ["Exit codes"];
    /// The rest of the day.
    Others "others" "Slip, speeds, PTO, antenna, bus and proof" ["The rest of the day"];
    /// Records and paper.
    Records "records" "Rigs, records and paper" ["Rigs and records"];
    /// Files in and out.
    Export "export" "Exchange of files" ["Data out", "Recordings made elsewhere"];
    /// What stays, and what may change.
    Formats "formats" "Formats that stay" [];
    /// The mathematics.
    Maths "maths" "The mathematics and its sources" [];
    /// One word for one thing.
    Glossary "glossary" "Glossary" [];
    /// Cautions.
    Cautions "cautions" "Cautions" [];
    /// What the program writes.
    Places "what-it-writes" "What it writes, and how to remove it" [];
    /// Every command.
    Commands "commands" "Every command and option" [];
}

impl Chapter {
    /// All that is written in it in another language, where it is.
    pub const fn texts_in(self, tongue: Tongue) -> Option<[&'static str; 2]> {
        match (self, tongue) {
            (Self::First, Tongue::German) => Some([
                include_str!("../../../handbook/first.de.md"),
                include_str!("../../../handbook/first-more.de.md"),
            ]),
            _ => None,
        }
    }

    /// Its texts in Markdown, in their order.
    pub fn texts(self) -> impl Iterator<Item = &'static str> {
        let sections = self.sections().iter().filter_map(|name| section(name));
        std::iter::once(self.own()).chain(sections)
    }
}

/// A section of the guide with its heading.
fn section(name: &str) -> Option<&'static str> {
    let starts = GUIDE.match_indices("\n## ").map(|(at, _)| at + 1);
    let start = starts.into_iter().find(|at| GUIDE[*at + 3..].lines().next() == Some(name))?;
    let rest = &GUIDE[start..];
    Some(rest[1..].find("\n## ").map_or(rest, |end| &rest[..=end]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_section_of_the_guide_is_in_one_chapter_or_left_out_on_purpose() {
        let mut all: Vec<&str> =
            GUIDE.lines().filter_map(|line| line.strip_prefix("## ")).collect();
        let mut used: Vec<&str> =
            Chapter::ALL.iter().flat_map(|one| one.sections()).copied().collect();
        used.extend(LEFT_OUT);
        all.sort_unstable();
        used.sort_unstable();
        assert_eq!(all, used);
        assert!(used.iter().all(|name| section(name).is_some()));
    }
}
