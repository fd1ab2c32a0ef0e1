//! The fold behind a live screen: looks and happenings in, a [`View`] out.

use super::by_satellite::BySatellite;
use super::next::{Facts, next};
use super::results::Results;
use super::speeds::Rates;
use super::standing::Standing;
use super::troubles::Troubles;
use crate::model::{
    Bell, BusView, CoursePosition, Finding, LastMark, Link, LinkState, Message, OpenPass, PassRow,
    PassState, Speed, Speeds, Trouble, View,
};
use crate::words as texts;
use crate::words::book;
use std::collections::{BTreeSet, VecDeque};
use trundle_core::fitness::live::is_live;
use trundle_core::fitness::look::{LinkLook, LiveEvent, Look};
use trundle_core::geodesy::inverse;
use trundle_core::session::SessionEvent;
use trundle_core::session::marks::Ruling;
use trundle_core::session::presses::{Answer, End, Marked, Presses};
use trundle_core::units::KM_H_PER_M_S;
use trundle_core::wire::fix::quality_words;
use trundle_protocol::message::CHANNELS;
use trundle_protocol::units::Channel;

/// Lines said that are kept; a screen shows some of them.
const SAID_MAX: usize = 20;

/// The last start.
#[derive(Clone, Copy, Debug)]
struct Start {
    number: u32,
    host_ns: u64,
    /// Latitude and longitude, degrees, where a fix stated it.
    from_deg: Option<(f64, f64)>,
}

/// What a live screen remembers from look to look.
#[derive(Clone, Debug, Default)]
pub struct Watch {
    rates: Rates,
    speeds: [Option<f64>; CHANNELS],
    results: Results,
    standing: Standing,
    by_satellite: BySatellite,
    /// Impulses per 100 m known before the job, by channel.
    known: [Option<f64>; CHANNELS],
    start: Option<Start>,
    /// Newest position, latitude and longitude in degrees.
    latest: Option<(f64, f64)>,
    rejected: BTreeSet<u32>,
    troubles: Troubles,
    said: VecDeque<(u64, String)>,
    marks: u32,
    failed: bool,
}

impl Watch {
    /// Say a line to the person.
    pub fn say(&mut self, host_ns: u64, words: String) {
        if self.said.len() == SAID_MAX {
            self.said.pop_front();
        }
        self.said.push_back((host_ns, words));
    }

    /// Take the result of the passes so far.
    pub fn results(&mut self, results: Results) {
        self.results = results;
    }

    /// Length of the course along the ground, metres, before any pass was calculated.
    pub const fn course_m(&mut self, course_m: f64) {
        self.results.course_m = Some(course_m);
    }

    /// Impulses per 100 m known before the job, by channel: for a speed to be shown by at once.
    pub const fn known(&mut self, known: [Option<f64>; CHANNELS]) {
        self.known = known;
    }

    /// What happened; `look` is the job at that moment, `presses` already know of it.
    pub fn happened(&mut self, happened: &LiveEvent, look: &Look, presses: &Presses) {
        self.troubles.happened(happened, look.now_ns);
        match happened {
            LiveEvent::Acknowledged(event) | LiveEvent::Seen(event) => {
                self.event(event, look, presses)
            }
            LiveEvent::Failed(_) => self.failed = true,
            _ => {}
        }
        if let Some(words) = texts::happened(happened, |host_ns| look.at(host_ns)) {
            self.say(look.now_ns, words);
        }
    }

    fn event(&mut self, event: &SessionEvent, look: &Look, presses: &Presses) {
        self.take_fix(look);
        match event {
            SessionEvent::Mark { ruling, host_ns, .. } => self.mark(*ruling, *host_ns),
            SessionEvent::MarkLost { .. } => self.rejected.extend(presses.last_pass()),
            SessionEvent::Fix | SessionEvent::Hello(_) | SessionEvent::Port { .. } => {}
            SessionEvent::BoardReset => self.rates = Rates::default(),
            SessionEvent::Slept { .. } => {}
        }
    }

    fn take_fix(&mut self, look: &Look) {
        self.latest = look.fix.as_ref().map(|fix| (fix.lat_deg, fix.lon_deg)).or(self.latest);
    }

    fn mark(&mut self, ruling: Ruling, host_ns: u64) {
        match ruling {
            Ruling::Start { number, abandons } => {
                self.marks += 1;
                // A fraction of a second later than the press: the tractor stands beside the peg.
                self.start = Some(Start { number, host_ns, from_deg: self.latest });
                self.rejected.extend(abandons);
            }
            Ruling::Finish { .. } => self.marks += 1,
            Ruling::Refused { number } | Ruling::GivenUp { number } => {
                self.rejected.insert(number);
            }
            Ruling::StartUndone { number } => {
                self.rejected.remove(&number);
            }
            _ => {}
        }
    }

    /// What a press got for an answer, where that is worth a line.
    pub fn answered(&mut self, answer: &Answer, look: &Look) {
        for words in texts::answer(answer, |host_ns| look.at(host_ns)) {
            self.say(look.now_ns, words);
        }
    }

    /// The screen at this moment.
    pub fn view(&mut self, look: &Look, presses: &Presses) -> View {
        if let Some(sample) = look.sample {
            self.rates.take(sample);
            self.speeds = self.rates.impulses_per_s();
        }
        self.take_fix(look);
        self.standing.take(look);
        self.by_satellite.take(look);
        let open = look.open_pass.map(|number| self.open(number, look));
        let passes = self.passes(look, presses);
        let last = presses.last();
        let facts = Facts {
            failed: self.failed,
            waiting: presses.waits(),
            against_start: &look.against_start,
            open: open.as_ref(),
            passes: &passes,
            last: last.map(|marked| (marked, look.age_s(marked.host_ns))),
            stood: self.standing.stood(look),
            figures: !self.results.figures.is_empty()
                && self.results.figures.iter().all(|row| row.enter.is_some()),
        };
        View {
            at: look.at(look.now_ns),
            host_ns: look.now_ns,
            practice: look.practice,
            next: next(&facts),
            board: board(look),
            receiver: look.receiver.map(|link| receiver(link, look)),
            speeds: self.speeds(look),
            bus: look.bus.map(|link| bus(link, look)),
            open,
            passes,
            figures: self.results.figures.clone(),
            due: presses.due(look.open_pass),
            last_mark: last.map(|marked| last_mark(marked, look)),
            undo: presses.can_undo(),
            last_pass: presses.last_pass(),
            waiting: presses.waits(),
            troubles: self.trouble_list(look),
            said: self
                .said
                .iter()
                .map(|(host_ns, words)| Message { at: look.at(*host_ns), words: words.clone() })
                .collect(),
            bell: Bell { marks: self.marks, troubles: self.troubles.begun },
        }
    }

    fn open(&self, number: u32, look: &Look) -> OpenPass {
        let start = self.start.filter(|start| start.number == number);
        let has = |channel: usize| look.inputs.is_none_or(|inputs| inputs & (1 << channel) != 0);
        OpenPass {
            number,
            for_s: start.map_or(0.0, |start| look.age_s(start.host_ns)),
            impulses: std::array::from_fn(|n| Some(look.impulses?[n]).filter(|_| has(n))),
            stale: !is_live(look.board.age_s),
            place: start.and_then(|start| self.place(start.from_deg?, look)),
        }
    }

    fn place(&self, from_deg: (f64, f64), look: &Look) -> Option<CoursePosition> {
        let from_start_m = inverse(from_deg, self.latest?).length_m;
        Some(CoursePosition {
            from_start_m,
            to_far_peg_m: self.results.course_m.map(|course_m| course_m - from_start_m),
            stale: !is_live(look.receiver?.age_s),
        })
    }

    fn passes(&self, look: &Look, presses: &Presses) -> Vec<PassRow> {
        let begun = 1..=presses.last_pass().unwrap_or(0);
        begun
            .filter(|number| presses.has(*number, End::Start))
            .map(|number| self.pass(number, look))
            .collect()
    }

    fn pass(&self, number: u32, look: &Look) -> PassRow {
        let open = look.open_pass == Some(number);
        let worked = self.results.passes.iter().find(|worked| worked.number == number);
        let rejected = self.rejected.contains(&number);
        let state = match worked.map(|worked| worked.state) {
            _ if open => PassState::Open,
            _ if rejected => PassState::Refused,
            Some("valid") => PassState::Valid,
            Some("flagged") => PassState::Flagged,
            Some(_) => PassState::Refused,
            None => PassState::Settling,
        };
        let worked = worked.filter(|_| !open);
        PassRow {
            number,
            way: worked.and_then(|worked| worked.way),
            state,
            impulses: worked.map_or([None; CHANNELS], |worked| worked.impulses),
            figure: worked.map_or([None; CHANNELS], |worked| worked.figure),
            why: worked.map_or_else(Vec::new, |worked| worked.why.clone()),
        }
    }

    /// Impulses per 100 m to show a speed by, and whether they are provisional: of the passes, else
    /// against the receiver's speed, else as they were known before.
    fn per_100_m(&self, channel: usize) -> Option<(f64, bool)> {
        let rough = || self.by_satellite.per_100_m(channel).or(self.known[channel]);
        self.results.per_100_m(channel).or_else(|| Some((rough()?, true)))
    }

    fn speeds(&self, look: &Look) -> Speeds {
        let sensor = |channel: Channel| {
            let n = channel.index();
            let impulses_per_s = self.speeds[n];
            let per_100_m = self.per_100_m(n);
            let km_h = |rate: f64| Some(rate * 100.0 / per_100_m?.0 * KM_H_PER_M_S);
            Speed {
                present: look.inputs.is_none_or(|inputs| inputs & (1 << n) != 0),
                stale: !is_live(look.board.age_s),
                km_h: impulses_per_s.and_then(km_h),
                provisional: per_100_m.is_some_and(|(_, provisional)| provisional),
                impulses_per_s,
            }
        };
        let over_ground = look.fix.as_ref().and_then(|fix| fix.speed_m_s);
        Speeds {
            wheel: sensor(Channel::Wheel),
            radar: sensor(Channel::Radar),
            satellite: Speed {
                present: look.receiver.is_some(),
                stale: look.receiver.is_none_or(|link| !is_live(link.age_s)),
                km_h: over_ground.map(|speed_m_s| speed_m_s * KM_H_PER_M_S),
                provisional: false,
                impulses_per_s: None,
            },
        }
    }

    fn trouble_list(&self, look: &Look) -> Vec<Trouble> {
        let going_on = self.troubles.list().map(|(since, kind, words)| Trouble {
            since: Some(look.at(since)),
            words: words.to_owned(),
            entry: book::trouble(kind.word()),
        });
        // Before the first pass was calculated there is no value, and nothing wrong with that.
        let worked = !self.results.passes.is_empty();
        let warnings = self.results.warnings.iter().filter(|_| worked);
        let last = self
            .results
            .passes
            .last()
            .filter(|last| last.state != "valid" && !self.rejected.contains(&last.number));
        let found = last.iter().flat_map(|last| &last.why).chain(warnings);
        let found =
            found.cloned().map(|Finding { words, entry }| Trouble { since: None, words, entry });
        going_on.chain(found).collect()
    }
}

fn link(now: LinkLook, since_ns: Option<u64>, look: &Look, live: String) -> Link {
    let state = match (now.open, now.age_s) {
        (false, _) => LinkState::Gone,
        (true, None) => LinkState::Nothing,
        (true, age_s) if is_live(age_s) => LinkState::Live,
        (true, Some(_)) => LinkState::Stale,
    };
    let since = now.age_s.and(since_ns).map(|host_ns| look.at(host_ns));
    let words = match state {
        LinkState::Live => live,
        _ => texts::link_not_live(state, since.as_deref()),
    };
    let (satellites, in_view, hdop, signal_db_hz) = (None, None, None, None);
    Link { state, age_s: now.age_s, since, words, satellites, in_view, hdop, signal_db_hz }
}

fn board(look: &Look) -> Link {
    let since_ns = look.sample.map(|sample| sample.host_ns);
    link(look.board, since_ns, look, texts::BOARD_LIVE.to_owned())
}

fn receiver(now: LinkLook, look: &Look) -> Link {
    let fix = look.fix.as_ref();
    let words = fix.map_or_else(String::new, |fix| quality_words(fix.quality).to_owned());
    let satellites = fix.and_then(|fix| fix.satellites);
    Link {
        satellites,
        in_view: look.sky.and_then(|sky| sky.in_view),
        hdop: fix.and_then(|fix| fix.hdop),
        signal_db_hz: look.sky.and_then(|sky| sky.signal_db_hz),
        ..link(now, fix.map(|fix| fix.host_ns), look, words)
    }
}

/// Not the port's own age: a bus on which others talk and no speed is sent says nothing.
fn bus(port: LinkLook, look: &Look) -> BusView {
    let newest_ns = look.bus_now.speeds.values().map(|sample| sample.host_ns).max();
    let now = LinkLook { age_s: newest_ns.map(|host_ns| look.age_s(host_ns)), ..port };
    let link = link(now, newest_ns, look, texts::BUS_LIVE.to_owned());
    BusView { link, speeds: super::bus::rows(look) }
}

fn last_mark(marked: Marked, look: &Look) -> LastMark {
    let at = look.at(marked.host_ns);
    let words = texts::marked(marked, &at);
    LastMark { marked, at, words }
}
