//! German, by topic.

/// The tables.
pub(super) const TOPICS: [&str; 19] = [
    include_str!("german/commands.txt"),
    include_str!("german/core.txt"),
    include_str!("german/course.txt"),
    include_str!("german/flags.txt"),
    include_str!("german/help.txt"),
    include_str!("german/import.txt"),
    include_str!("german/more_help.txt"),
    include_str!("german/more_pages.txt"),
    include_str!("german/more_papers.txt"),
    include_str!("german/more_text.txt"),
    include_str!("german/other.txt"),
    include_str!("german/papers.txt"),
    include_str!("german/phrases.txt"),
    include_str!("german/pictures.txt"),
    include_str!("german/program.txt"),
    include_str!("german/records.txt"),
    include_str!("german/survey.txt"),
    include_str!("german/text.txt"),
    include_str!("german/words.txt"),
];
