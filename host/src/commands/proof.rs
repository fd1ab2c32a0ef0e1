//! `trundle proof`: did the value that was keyed in take, live or from a capture.

pub mod how;
pub mod register;

use super::recording::{PortArgs, Recording, begin, recording_only, replayed, serve};
use super::{drive, work};
use crate::desk::face::Manner;
use crate::desk::task::{Do, Method, News, Rendered, Standing, Task, Turn};
use crate::ports::choose::BusPart;
use crate::ports::practice::Practice;
use crate::recorder::live::LiveEvent;
use crate::shell::exit::{self, Trouble};
use crate::shell::out::{Voice, scrub};
use crate::shell::stop;
use crate::store::settings::Settings;
use how::{ProofHow, rate};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;
use trundle_core::capture::HostMarkAction;
use trundle_core::cautions;
use trundle_core::session::marks::Ruling;
use trundle_core::session::presses::Wish;
use trundle_core::session::trail::THINNED_US;
use trundle_core::session::{Keeps, Session, SessionEvent};
use trundle_core::survey::proof::{
    Known, Origin, Proof, ProofOptions, ShownKind, Stated, Taken, note_of, note_out, proof,
};
use trundle_show::live::page::Shown;
use trundle_show::live::page::document::PageLine;
use trundle_show::live::page::listed::{PROOF_LINES, shown_proof};
use trundle_show::model::View;
use trundle_show::phrases::proof::answer;
use trundle_show::stations::Markup;
use trundle_show::stations::measured as cards;
use trundle_show::text::proof as proof_text;
use trundle_sim::KeyedIn;

/// Speeds are looked up in the trail, distances belong to passes.
const KEEPS: Keeps = Keeps::All(THINNED_US);
/// The keys, in one line each.
const HELP: &str = "\
Beside each peg: stop, mark it, type the distance that the terminal shows. All at standstill.
With an adapter on the implement bus nothing has to be typed: stop for five seconds and mark.
Enter or m  mark: start at one peg, end at the other (the board's button does the same)
d 1234.5    the terminal shows this distance (m; or km, ft, mi)
v 8.0       the terminal showed this speed (km/h; or mph, m/s) in the steady run before
x           reject the last reading
x REASON    reject the last pass
u           undo the last mark
n TEXT      note
s           how things stand
r           calculate now
q           close the job and show the result";

/// After the value was keyed in: did it take? What the terminal shows, against the truth.
///
/// Stop beside each peg, mark it, and type the distance that the terminal shows; twice over the
/// course is better than once. Or hold two or more steady speeds for ten seconds each, stop after
/// each, and type the speed that was shown. With an adapter on the implement bus nothing has to be
/// typed: the distance that the tractor hands on is read at the marks. Readings and what is stated
/// with options are notes in the capture, so the same command recalculates it.
#[derive(Debug, clap::Args)]
pub struct ProofArgs {
    /// A capture to recalculate, instead of recording.
    #[arg(value_name = "CAPTURE", conflicts_with_all = recording_only())]
    pub recorded: Option<PathBuf>,
    /// Ports and file of the recording.
    #[command(flatten)]
    pub ports: PortArgs,
    /// The course to use.
    #[command(flatten)]
    pub course: work::CourseOptions,
    /// What is known of the terminal.
    #[command(flatten)]
    pub how: ProofHow,
    /// Rate the implement is set to, litres per hectare: shows what an error does to it.
    #[arg(long, value_name = "L/HA", value_parser = rate)]
    pub rate: Option<f64>,
    /// Print the result as one JSON object; everything else goes to stderr.
    #[arg(long)]
    pub json: bool,
}

impl ProofArgs {
    fn method(&self) -> Result<Arc<Judging>, Trouble> {
        let text = self.course.text()?;
        let course = text.as_deref().map(super::result::course).transpose()?;
        Ok(Arc::new(Judging(ProofOptions {
            course: course.map(|(spec, _)| spec),
            known: self.how.known(),
            stated: self.how.stated(self.rate),
        })))
    }
}

/// Run it; gives the exit code: 1 unless the value took and nothing speaks against it.
///
/// # Errors
/// [`Trouble`]: the capture (4, 5), course (2, 5), ports (2, 3, 4), storage (2, 4, 6).
pub fn run(args: &ProofArgs) -> Result<u8, Trouble> {
    let voice = Voice { json: args.json };
    if let Some(path) = &args.recorded {
        let method = args.method()?;
        return Ok(replayed(path, KEEPS, voice, || method)?.code);
    }
    voice.say("Before the proof drive:");
    cautions::PROOF.iter().for_each(|caution| voice.say(&format!("- {caution}")));
    let (course, text) = drive::course(&args.course, voice)?.unzip();
    let method = args.method()?;
    let ports = PortArgs { bus_part: BusPart::Read, ..args.ports.clone() };
    let Some(recording) = begin(&ports, text, KEEPS, voice)? else {
        return Ok(stop::code());
    };
    // The terminal of a simulated tractor has its values, not those of the rig.
    let elsewhere = match recording.practice.as_ref().and_then(Practice::keyed_in) {
        Some(KeyedIn { sensor, now, before }) => {
            let known = Known { source: Some(sensor), ..Known::default() };
            known.with(Origin::Entered, now).with(Origin::Old, before)
        }
        None => register::known(voice),
    };
    let known = args.how.known().or(elsewhere);
    keep(&recording, &known, args.how.stated(args.rate));
    say_entered(&known, voice);
    let manner = Manner { standing: true, ..Manner::lines(voice, HELP) };
    serve(recording, Drive { method, newest: None }, course.as_ref(), manner)?.show()
}

/// What is known and was stated goes into the capture, so that it says the same wherever it is
/// calculated.
fn keep(recording: &Recording, known: &Known, stated: Stated) {
    for note in known.notes().into_iter().chain(stated.notes()) {
        recording.job.host_mark(HostMarkAction::Note, &note);
    }
}

fn say_entered(known: &Known, voice: Voice) {
    let sensor = known.source().name();
    voice.say(&match known.entered() {
        Some(value) => format!("Keyed in: {value} impulses per 100 m for the {sensor}"),
        None => "Nobody said which value was keyed in (--entered): it will be shown whether the \
                 display is right, not which value is in force."
            .to_owned(),
    });
}

/// Readings to the answer.
struct Judging(ProofOptions);

impl Method for Judging {
    type Worked = Proof;

    fn work(&self, session: &Session, growing: bool) -> Proof {
        proof(session, growing, &self.0)
    }

    fn rendered(&self, worked: &Proof) -> Rendered {
        let sound = worked
            .judged
            .as_ref()
            .is_ok_and(|judged| judged.taken == Taken::Took && judged.alarms.is_empty());
        Rendered {
            text: proof_text::render(worked),
            json: trundle_core::result::proof_v1::to_json(worked),
            code: if sound { exit::OK } else { exit::FLAGGED },
        }
    }

    fn card(&self, worked: &Proof, _: &Session) -> Option<Markup> {
        Some(cards::proof(worked, &Settings::reading_in_force()))
    }
}

/// Marks and readings, typed.
struct Drive {
    method: Arc<Judging>,
    newest: Option<Proof>,
}

impl Task for Drive {
    type Method = Judging;

    fn method(&self) -> Arc<Judging> {
        Arc::clone(&self.method)
    }

    fn passes(&self) -> bool {
        true
    }

    fn typed(&mut self, line: &str, now: &Standing) -> Do {
        typed(line, now)
    }

    /// Only with its note acknowledged is a reading on the disk. Where the bus is listened to, a
    /// mark is a reading too.
    fn due(&mut self, turn: &Turn<'_>) -> bool {
        let ruling = |event: &LiveEvent| match event {
            LiveEvent::Acknowledged(SessionEvent::Mark { ruling, .. }) => Some(*ruling),
            _ => None,
        };
        let rulings: Vec<Ruling> = turn.events.iter().filter_map(ruling).collect();
        let marks = |one: &Ruling| matches!(one, Ruling::Start { .. } | Ruling::Finish { .. });
        rulings.contains(&Ruling::Note)
            || rulings.iter().any(marks) && !turn.job.look().bus_now.speeds.is_empty()
    }

    fn news(&mut self, proof: Proof, _: Duration) -> News {
        let lines = latest(&proof);
        self.newest = Some(proof);
        News { lines, ..News::default() }
    }

    fn page_lines(&self) -> &'static [PageLine] {
        PROOF_LINES
    }

    fn shown(&self, view: &View) -> Shown {
        shown_proof(view, self.newest.as_ref())
    }
}

/// How things stand after a note, or a mark with the bus.
fn latest(proof: &Proof) -> Vec<String> {
    let mut lines = match proof.typed {
        // What is known of the values is noted before anything is read.
        0 => Vec::new(),
        1 => vec!["One reading so far.".to_owned()],
        readings => vec![format!("{readings} readings so far.")],
    };
    let speed = proof.speeds.iter().max_by_key(|one| one.host_ns);
    if let Some(refusal) = speed.and_then(|one| one.run.err()) {
        lines.push(format!("The last speed is NOT USED: {refusal}."));
    }
    if let Ok(judged) = &proof.judged {
        lines.push(format!("So far: {}", answer(judged, &proof.known)));
    }
    lines
}

/// What a typed line asks.
fn typed(line: &str, now: &Standing) -> Do {
    let (key, rest) = line.split_once(char::is_whitespace).unwrap_or((line, ""));
    let rest = rest.trim();
    let press = |wish: Option<Wish>| wish.map_or(Do::NotDue, Do::Press);
    let reading = |kind: ShownKind, example: &str| match note_of(kind, rest) {
        Some(note) => Do::Press(Wish::Note(note)),
        None => Do::Say(format!("{:?} is no reading; type it like {example}", scrub(rest, 40))),
    };
    match (key, rest.is_empty()) {
        ("" | "m", true) => Do::Press(Wish::Mark(now.due)),
        ("u", true) => press(now.undo.map(Wish::Undo)),
        ("d", _) => reading(ShownKind::Distance, "d 1234.5"),
        ("v", _) => reading(ShownKind::Speed, "v 8.0"),
        ("x", true) => Do::Press(Wish::Note(note_out())),
        ("x", false) => press(now.last_pass.map(|n| Wish::Reject(n, rest.to_owned()))),
        ("n", false) => Do::Press(Wish::Note(rest.to_owned())),
        ("s", true) => Do::Status,
        ("r", true) => Do::Result,
        ("q", true) => Do::End,
        _ => Do::Say(HELP.to_owned()),
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use trundle_core::session::presses::{Due, End};

    #[test]
    fn typed_lines_are_read_as_the_help_says() {
        let due = Due { number: 2, end: End::Finish };
        let now = Standing { due, undo: None, last_pass: Some(1) };
        let note = |text: &str| Do::Press(Wish::Note(text.to_owned()));
        for (line, wanted) in [
            ("", Do::Press(Wish::Mark(due))),
            ("d 1234.5", note("shown distance 1234.5")),
            ("d  12.34 km ", note("shown distance 12.34 km")),
            ("d 12,5", note("shown distance 12.5")),
            ("v 8.0", note("shown speed 8.0")),
            ("x", note("shown out")),
            ("x slipped", Do::Press(Wish::Reject(1, "slipped".to_owned()))),
            ("u", Do::NotDue),
            ("n wet", note("wet")),
            ("q", Do::End),
        ] {
            assert_eq!(typed(line, &now), wanted, "{line:?}");
        }
        for line in ["1234.5", "d", "d 1,234", "v fast", "mm", "q now"] {
            assert!(matches!(typed(line, &now), Do::Say(_)), "{line:?}");
        }
    }
}
