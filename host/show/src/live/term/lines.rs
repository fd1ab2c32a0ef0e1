//! Rows of styled words, and long words on a narrow screen.

use crate::tongue::Tongue;
use ratatui_core::buffer::Buffer;
use ratatui_core::layout::Rect;
use ratatui_core::style::{Color, Modifier, Style};

/// Columns of the labels on the left.
pub const LABEL: usize = 10;

/// How things are written; colour only where it is wanted.
#[derive(Clone, Copy, Debug)]
pub struct Ink {
    /// Colours of the terminal's own sixteen may be used.
    pub colour: bool,
    /// The language of the words.
    pub tongue: Tongue,
}

impl Ink {
    /// Words in the language of the screen.
    pub fn say(self, words: &str) -> String {
        self.tongue.text(words).into_owned()
    }

    /// Label and text in the language of the screen, broken as [`wrapped`] does.
    pub fn wrapped(self, label: &str, text: &str, width: usize, style: Style) -> Vec<TextRow> {
        wrapped(&self.tongue.text(label), &self.tongue.text(text), width, style)
    }

    /// Ordinary writing.
    pub const fn plain(self) -> Style {
        Style::new()
    }

    /// What matters most.
    pub const fn bold(self) -> Style {
        Style::new().add_modifier(Modifier::BOLD)
    }

    /// Bars and keys.
    pub const fn reversed(self) -> Style {
        Style::new().add_modifier(Modifier::REVERSED)
    }

    /// What is wrong.
    pub const fn wrong(self) -> Style {
        self.coloured(Style::new().add_modifier(Modifier::REVERSED), Color::Red)
    }

    /// What is unreliable.
    pub const fn unreliable(self) -> Style {
        self.coloured(Style::new().add_modifier(Modifier::BOLD), Color::Yellow)
    }

    /// What is well.
    pub const fn well(self) -> Style {
        self.coloured(Style::new(), Color::Green)
    }

    const fn coloured(self, style: Style, colour: Color) -> Style {
        if self.colour { style.fg(colour) } else { style }
    }
}

/// A row of words.
#[derive(Clone, Debug, Default)]
pub struct TextRow {
    /// What is written, one behind the other.
    pub words: Vec<(String, Style)>,
}

impl TextRow {
    /// One text in one style.
    pub fn of(text: impl Into<String>, style: Style) -> Self {
        Self { words: vec![(text.into(), style)] }
    }

    /// A bar over the whole width: text on the left, text on the right.
    pub fn bar(left: &str, right: &str, width: usize, ink: Ink) -> Self {
        let used = left.chars().count() + right.chars().count() + 2;
        let gap = " ".repeat(width.saturating_sub(used));
        Self::of(format!(" {left}{gap}{right} "), ink.reversed())
    }
}

/// Break `text` at spaces behind a label; later lines are indented as the first.
pub fn wrapped(label: &str, text: &str, width: usize, style: Style) -> Vec<TextRow> {
    let indent = if label.is_empty() { lead(text) } else { LABEL };
    let room = width.saturating_sub(indent).max(1);
    let mut lines: Vec<String> = Vec::new();
    if text.chars().count() <= width.saturating_sub(if label.is_empty() { 0 } else { LABEL }) {
        // A line of a table keeps its blanks.
        lines.push(text.chars().skip(if label.is_empty() { indent } else { 0 }).collect());
    } else {
        for word in text.split_whitespace() {
            add_word(&mut lines, word, room);
        }
    }
    let label = beside(label, indent);
    let rows = lines.into_iter().enumerate().map(|(n, line)| {
        let before = if n == 0 { label.clone() } else { " ".repeat(indent) };
        TextRow { words: vec![(before, Style::new()), (line, style)] }
    });
    rows.collect()
}

/// A label in its column; one that fills that keeps a space.
pub fn beside(label: &str, indent: usize) -> String {
    let gap = usize::from(indent > 0 && label.chars().count() >= indent);
    format!("{label:<indent$}{}", " ".repeat(gap))
}

fn lead(text: &str) -> usize {
    text.chars().take_while(|c| *c == ' ').count()
}

fn add_word(lines: &mut Vec<String>, word: &str, room: usize) {
    if let Some(line) = lines.last_mut()
        && line.chars().count() + 1 + word.chars().count() <= room
    {
        line.push(' ');
        line.push_str(word);
        return;
    }
    // A word wider than the screen goes on in the next line.
    let letters: Vec<char> = word.chars().collect();
    lines.extend(letters.chunks(room).map(|part| part.iter().collect::<String>()));
}

/// Write the rows into the buffer.
pub fn put(rows: &[TextRow], area: Rect, buffer: &mut Buffer) {
    for (row, y) in rows.iter().zip(area.top()..area.bottom()) {
        let mut x = area.left();
        for (text, style) in &row.words {
            let room = usize::from(area.right().saturating_sub(x));
            x = buffer.set_stringn(x, y, text, room, *style).0;
        }
    }
}
