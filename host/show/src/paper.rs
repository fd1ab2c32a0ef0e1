//! What every paper form of a signed-off record says, in words: one wording for the long form,
//! the short form and the terminal.
//!
//! Everything comes from the stored record, so that it can be said again in ten years without
//! the capture. Nothing in a record is trusted: text goes through `line` here or in the
//! template.

mod parts;

use parts::PartShown;

use crate::phrases::plain::{line, significant};
use crate::phrases::result::{coverage, day, days, freedom, instant, pair, relative};
use crate::reading::Reading;
use trundle_core::result::record_v1::RecordV1;
use trundle_core::result::sign_off::left_in_terminal;
use trundle_core::result::work_v1::{ChannelV1, FigureV1, FlagV1, PassV1, WorkV1};
use trundle_core::rig::conditions;
use trundle_core::rig::{Entry, Field, FieldKind, Thing, Value};
use trundle_core::units::typed::Measure;

/// Title of the paper. A record, never a certificate: nobody stands behind it but its signer.
const TITLE: &str = "Calibration record";

/// The sheet that is printed on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// 210 mm by 297 mm (ISO 216).
    #[default]
    A4,
    /// 8.5 in by 11 in.
    Letter,
}

impl Paper {
    /// The word of CSS Paged Media for `size`.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Paper::A4 => "A4",
            Paper::Letter => "letter",
        }
    }
}

/// What a print says beside the record: nothing of it is in the record's own bytes.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PaperFacts {
    /// The sheet that is printed on.
    pub paper: Paper,
    /// Identity of the record that took the place of this one since.
    pub superseded_by: Option<String>,
    /// The reader's own units and time, said beside those of the record; `None`: only these.
    pub reading: Option<Reading>,
}

/// A record with what is looked up in it again and again.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sheet<'a> {
    pub record: &'a RecordV1,
    /// The result of its course, where it holds one.
    pub work: Option<&'a WorkV1>,
    pub facts: &'a PaperFacts,
}

impl<'a> Sheet<'a> {
    /// Values of the sensor that was signed off; a foreign record may name one it does not hold.
    pub fn channel(&self) -> Option<&'a ChannelV1> {
        self.record.channel_of(self.work?)
    }

    pub fn best(&self) -> Option<&'a FigureV1> {
        self.channel().and_then(ChannelV1::best)
    }

    /// The sensor that was signed off with its values, as far as the result holds it.
    pub fn sensors(&self) -> Vec<(&'a str, &'a ChannelV1)> {
        self.record.channel.as_deref().zip(self.channel()).into_iter().collect()
    }

    pub fn sensor(&self) -> String {
        self.record.channel.as_deref().map_or_else(|| "no".to_owned(), line)
    }

    /// Title of the paper.
    pub fn title(&self) -> String {
        let of = if self.record.work.is_some() { ": impulses per 100 m" } else { "" };
        format!("{TITLE}{of}")
    }

    /// Warnings of the course.
    pub fn flags(&self) -> &'a [FlagV1] {
        self.work.map_or(&[], |work| &work.flags)
    }

    /// Neither the course nor a part is flagged.
    pub fn is_valid(&self) -> bool {
        self.record.state(self.work) == "valid"
    }

    /// Value to enter, or a plain word for none.
    pub fn entered(&self) -> String {
        self.record.to_enter.map_or_else(|| "none".to_owned(), |value| value.to_string())
    }

    pub fn id(&self) -> String {
        line(&self.record.id)
    }

    pub fn passes(&self) -> &'a [PassV1] {
        self.channel().map_or(&[], |channel| &channel.passes)
    }

    /// Name of a person or thing, or a plain word for none.
    pub fn name(&self, entry: Option<&Entry>) -> String {
        entry.map_or_else(|| "not given".to_owned(), |entry| line(&entry.name))
    }

    /// The day of the passes, or from the first to the last; the capture's own without passes.
    pub fn measured_on(&self) -> String {
        let began = self.record.captures().next().map_or("", |capture| &capture.started_utc);
        days(self.passes()).unwrap_or_else(|| match began {
            "" => "on a day not known".to_owned(),
            began => day(began),
        })
    }

    /// The value with its uncertainty, the way it was found, and what to enter.
    pub fn sureness(&self) -> String {
        let to_enter = self.entered();
        let Some(best) = self.best() else {
            return format!(
                "The result has no value with its uncertainty, because tape and satellite \
                 contradict each other or neither gave one. {to_enter} was signed off in spite of \
                 this; the reason is in this record."
            );
        };
        format!(
            "{}, the tractor gives {} impulses per 100\u{a0}m, at a coverage of {} (k\u{a0}= \
             {:.2}, {} degrees of freedom). The value to enter is {to_enter}; the uncertainty is \
             {} of it.",
            self.ways(),
            pair(best),
            coverage(best),
            best.coverage_factor,
            freedom(best.degrees_of_freedom),
            relative(best),
        )
    }

    /// A value read in the terminal, or a plain word for none.
    pub fn read(&self, value: Option<f64>) -> String {
        value.map_or_else(|| "not given".to_owned(), |value| value.to_string())
    }

    /// By which way the best value was found.
    pub fn ways(&self) -> &'static str {
        match self.channel().map(|c| (c.combined.is_some(), c.tape.is_some())) {
            Some((true, _)) => "By tape and satellite together",
            Some((false, true)) => "By tape alone",
            _ => "By satellite alone",
        }
    }

    /// What was done, in one sentence.
    pub fn done(&self) -> String {
        if self.work.is_none() {
            return format!(
                "On {}, no measured course was driven with {}; what was measured is listed here.",
                self.measured_on(),
                self.tractor(),
            );
        }
        let driven = self.passes().len();
        let used = self.passes().iter().filter(|pass| pass.used()).count();
        let left = match driven - used {
            0 => "all of them are in the value".to_owned(),
            n => format!("{used} used, {n} rejected"),
        };
        let course = self.work.and_then(|work| work.course).map_or_else(
            || "a course whose length by tape is not known".to_owned(),
            |course| format!("a course of {:.3}\u{a0}m", course.length_m),
        );
        let passes = if driven == 1 { "pass" } else { "passes" };
        format!(
            "On {}, {driven} {passes} of {course} were driven with {}, and the impulses of the {} \
             sensor counted from mark to mark; {left}.",
            self.measured_on(),
            self.tractor(),
            self.sensor(),
        )
    }

    fn tractor(&self) -> String {
        let tractor = self.record.rig.tractor.as_ref();
        tractor.map_or_else(|| "the tractor".to_owned(), |tractor| line(&tractor.name))
    }

    /// What the old figure did to the rate; `None` when no figure was found.
    pub fn cost(&self) -> Option<String> {
        let found = self.record.as_found?;
        let worked = self.channel().and_then(|channel| channel.as_found.as_ref());
        // A sentence about another number would tell a wrong story.
        if let Some(worked) = worked.filter(|worked| same(worked.found, found)) {
            return Some(line(&worked.sentence));
        }
        let best = self.best()?;
        let off = 100.0 * (found / best.impulses_per_100m - 1.0);
        let side = if off < 0.0 { "lower" } else { "higher" };
        let size = significant(off.abs(), 2);
        Some(format!("The value found, {found}, is {size}\u{a0}% {side} than the one measured."))
    }

    /// What stands out against the record itself, beside the warnings of the result.
    pub fn discrepancies(&self) -> Vec<String> {
        let record = self.record;
        let mut out = Vec::new();
        let to_enter = self.entered();
        match self.channel().map(|channel| channel.value_to_enter) {
            Some(Some(worked)) if Some(worked) != record.to_enter => out.push(format!(
                "The value to enter was set to {to_enter}; the result gives {worked}.",
            )),
            Some(None) => out.push(format!(
                "The value to enter, {to_enter}, was set by the signer; the result gives none.",
            )),
            None if self.work.is_some() => {
                out.push(format!("The result has nothing of the sensor {}.", self.sensor()));
            }
            None | Some(Some(_)) => {}
        }
        let contradicted = self.contradicted();
        let said = |part: &PartShown| contradicted.is_none() || part.word != "proof";
        let parts = self.parts().into_iter().filter(said).filter_map(|part| part.against);
        out.extend(contradicted.clone());
        out.extend(self.work.and_then(|work| left_in_terminal(record, work)));
        out.extend(record.clock.as_deref().map(line));
        out.extend(parts);
        out
    }

    /// The statement of traceability, a sentence or two for each way.
    pub fn traceability(&self) -> Vec<String> {
        let mut out: Vec<String> =
            self.work.map(|_| self.tape_traceability()).into_iter().collect();
        let receiver = self.record.rig.rig.text("receiver").map_or_else(
            || "a receiver that is not described".to_owned(),
            |receiver| format!("the receiver and correction service \"{}\"", line(receiver)),
        );
        out.push(format!(
            "Satellite: positions and speeds come from outside, by {receiver}. No metrological \
             traceability is claimed for lengths by satellite."
        ));
        if self.record.part("pto").is_some() {
            out.push(
                "PTO: the tractor's own display of the shaft speed is the reference; it was not \
                 checked, and no traceability is claimed."
                    .to_owned(),
            );
        }
        if self.record.part("proof").is_some() {
            out.push(
                "Proof drive: what the terminal showed was read off and typed; the true distance \
                 or speed is that of its own capture, by its course, the receiver or both. No \
                 traceability is claimed for it."
                    .to_owned(),
            );
        }
        if self.channel().is_some_and(|channel| channel.combined.is_some()) {
            out.push(
                "Combined: the value is based on both; no traceability is claimed beyond that of \
                 the tape."
                    .to_owned(),
            );
        }
        out
    }

    fn tape_traceability(&self) -> String {
        if self.channel().is_none_or(|channel| channel.tape.is_none()) {
            return "Tape: no value by tape was calculated.".to_owned();
        }
        let Some(tape) = &self.record.rig.tape else {
            return "Tape: the tape is not named, so no traceability is claimed for its length."
                .to_owned();
        };
        let name = line(&tape.name);
        let Some(certificate) = tape.text("certificate") else {
            return format!(
                "Tape: no certificate of the tape \"{name}\" is known, so no traceability is \
                 claimed for its length; its uncertainty is assumed as the budget shows."
            );
        };
        let shown = |key: &str| {
            let field = Thing::Tape.field(key)?;
            Some(format!("{} {}", lower(field.label), line(&field.show(tape.values.get(key)?))))
        };
        let more: Vec<String> = ["serial", "certified_on", "certified_length"]
            .into_iter()
            .filter_map(shown)
            .chain(shown("standard_uncertainty"))
            .collect();
        let more = if more.is_empty() { String::new() } else { format!(" ({})", more.join(", ")) };
        format!(
            "Tape: the length of the course is measured with the tape \"{name}\" and its \
             certificate: {}{more}. It is traceable as far as that certificate is; the program \
             has not seen the certificate.",
            line(certificate)
        )
    }

    /// Was this stated by the customer? `key` as in the record's JSON.
    pub fn stated(&self, key: &str) -> bool {
        // The rig's own fields stand under `rig.rig` in the record; people write `rig` once.
        let short = key.strip_prefix("rig.rig.").map(|rest| format!("rig.{rest}"));
        let stated = &self.record.stated_by_customer;
        stated.iter().any(|one| one == key || Some(one) == short.as_ref())
    }

    /// The conditions to list: field, value where it was said, stated by the customer.
    pub fn conditions(&self) -> Vec<(&'static Field, Option<String>, bool)> {
        let said = &self.record.conditions;
        let stated = &self.record.stated_by_customer;
        let row = |field: &'static Field| {
            let value = said.shown(field).map(|value| self.beside(field, line(&value)));
            // People write the option; it may also stand there as the key of the record.
            let means = |one: &String| {
                conditions::named(one.trim_start_matches("conditions.")) == Some(field)
            };
            let stated = value.is_some() && stated.iter().any(means);
            (field, value, stated)
        };
        said.listed().map(row).collect()
    }

    /// Everything known of a thing: label, value, stated by the customer. What a rig names and the
    /// record holds stands in its own place. Fields that this version does not know come last
    /// under their keys, so that nothing of a record is kept back.
    pub fn rows(&self, part: &str, thing: Thing, entry: &Entry) -> Vec<(String, String, bool)> {
        let stated = |key: &str| self.stated(&format!("rig.{part}.{key}"));
        let held: Vec<&str> = self
            .record
            .rig
            .parts()
            .into_iter()
            .filter(|(_, _, entry)| entry.is_some())
            .map(|(part, _, _)| part)
            .collect();
        let known = thing.fields().iter().filter_map(|field| {
            if matches!(field.kind, FieldKind::Link(_)) && held.contains(&field.key) {
                return None;
            }
            let value = entry.values.get(field.key)?;
            let shown = self.beside(field, line(&field.show(value)));
            Some((field.label.to_owned(), shown, stated(field.key)))
        });
        let unknown = entry.values.iter().filter(|(key, _)| thing.field(key).is_none());
        let unknown = unknown.map(|(key, value)| {
            let shown = match value {
                Value::Number(number) => number.to_string(),
                Value::Text(text) => line(text),
            };
            (line(key), shown, stated(key))
        });
        known.chain(unknown).collect()
    }

    /// A pressure with that of the reader's gauge beside it.
    fn beside(&self, field: &Field, shown: String) -> String {
        let FieldKind::Measure(Measure::Pressure) = field.kind else { return shown };
        match (self.facts.reading, Measure::Pressure.read(&shown)) {
            (Some(reading), Ok(kpa)) => format!("{shown} ({})", reading.pressure(kpa)),
            _ => shown,
        }
    }

    /// A moment in UTC, with the reader's own time beside it.
    pub fn moment(&self, utc: &str) -> String {
        let local = self.facts.reading.and_then(|reading| reading.local(utc));
        let local = local.map(|local| format!(" ({local} local time)")).unwrap_or_default();
        format!("{} UTC{local}", instant(utc))
    }

    /// The last line of every form.
    pub fn end(&self) -> String {
        format!("End of record {}", self.id())
    }
}

/// Numbers that came through the same text are the same to the last digit or nearly.
fn same(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * a.abs().max(b.abs())
}

fn lower(text: &str) -> String {
    text.to_lowercase()
}
