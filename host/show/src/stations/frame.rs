//! What every station's page has: the way through the job, notices, and the station itself.

use crate::html::head::head;
use crate::phrases::plain::line;
use crate::words::page as page_words;
use crate::words::settings as settings_words;
use crate::words::station::Station;
use crate::words::stations as words;
use maud::{DOCTYPE, Markup, html};

/// How far a station is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stage {
    /// Nothing is to be said.
    Open,
    /// What it is for is there.
    Done,
    /// It is what is to be done next.
    Due,
    /// Something else has to be done first.
    InTheWay,
    /// A recording goes on there.
    GoesOn,
}

impl Stage {
    /// A sign and the words for it; none where nothing is to be said.
    #[must_use]
    pub const fn says(self) -> Option<(&'static str, &'static str)> {
        match self {
            Self::Open => None,
            Self::Done => Some(("\u{2713}", words::DONE)),
            Self::Due => Some(("\u{2192}", words::DUE)),
            Self::InTheWay => Some(("\u{2013}", words::IN_THE_WAY)),
            Self::GoesOn => Some(("\u{25cf}", words::GOES_ON)),
        }
    }
}

/// Something to be read before the station.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Notice {
    /// It is good news.
    pub good: bool,
    /// What is said, line by line.
    pub lines: Vec<String>,
    /// The command that did it; empty for none.
    pub command: String,
}

/// A page of a station.
#[derive(Debug)]
pub struct Frame<'a> {
    /// The station.
    pub station: Station,
    /// Heading of the page, where it is not the station's name.
    pub heading: Option<&'a str>,
    /// How far each station is.
    pub way: &'a [(Station, Stage)],
    /// What is going on now, by the name of its station.
    pub live: Option<Station>,
    /// A simulated tractor is driven.
    pub practice: bool,
    /// It goes to another device, over the air.
    pub over_the_air: bool,
    /// To be read first.
    pub notices: &'a [Notice],
    /// The station itself.
    pub main: Markup,
}

/// The page, ending with a line end.
#[must_use]
pub fn page(frame: &Frame<'_>) -> String {
    let heading = frame.heading.unwrap_or(frame.station.name());
    let whole = html! {
        (DOCTYPE)
        html lang="en" {
            (head(&format!("{} - Trundle", line(heading)), Some("/stations.js")))
            body .station {
                header {
                    p .maker { a href="/" { "Trundle" } }
                    h1 { (line(heading)) }
                    @if frame.practice { p .practice { (words::PRACTICE) } }
                }
                @if let Some(live) = frame.live {
                    p .live-now role="status" {
                        (words::LIVE) " " (live.name()) ". " a href="/live" { (words::TO_LIVE) }
                    }
                }
                (way(frame))
                main {
                    @for notice in frame.notices { (notice_markup(notice)) }
                    (frame.main)
                }
                footer {
                    @if frame.over_the_air { p { (page_words::PLAIN) } }
                    p {
                        a .wide href=(crate::book::place(frame.station)) {
                            (crate::words::book::HANDBOOK)
                        }
                    }
                    // The first station has them among what it offers.
                    @if frame.station != Station::Start {
                        p { a .wide href="/settings" { (settings_words::SETTINGS) } }
                    }
                }
            }
        }
    };
    let mut out = whole.into_string();
    out.push('\n');
    out
}

/// The stations in the order of the work, with how far each is.
fn way(frame: &Frame<'_>) -> Markup {
    html! {
        nav .way aria-label=(words::WAY) {
            ol {
                @for (station, stage) in frame.way {
                    li .here[*station == frame.station] {
                        a href=(station.path())
                            aria-current=[(*station == frame.station).then_some("page")] {
                            @if let Some((sign, words)) = stage.says() {
                                span .stage aria-hidden="true" { (sign) }
                                (station.name())
                                span .unseen { ", " (words) }
                            } @else { (station.name()) }
                        }
                    }
                }
            }
        }
    }
}

fn notice_markup(notice: &Notice) -> Markup {
    let heading = if notice.good { words::DONE_NOTICE } else { words::LOOK_AT_IT };
    html! {
        div .notice .good[notice.good] .bad[!notice.good] role="status" {
            p { strong { (heading) } }
            @for words in &notice.lines { p { (line(words)) } }
            @if !notice.command.is_empty() { (super::form::command(&notice.command)) }
        }
    }
}
