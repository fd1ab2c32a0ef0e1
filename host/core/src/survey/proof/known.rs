//! What is known of the values that may be in force, and how a capture keeps it.

use trundle_protocol::units::Channel;

/// A note that begins with this word says what is known.
const WORD: &str = "terminal";
/// Numbers of impulses per 100 m that a terminal can hold.
const VALUES: std::ops::RangeInclusive<f64> = 1.0..=1e8;

/// Where a value comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Origin {
    /// Keyed in now.
    Entered,
    /// In force before.
    Old,
    /// That of the other sensor.
    OtherSensor,
    /// That of the wheel on other tyres, by their name.
    Tyres(String),
}

impl Origin {
    /// The tyres that it names.
    #[must_use]
    pub fn tyres(&self) -> Option<&str> {
        if let Self::Tyres(name) = self { Some(name) } else { None }
    }
}

/// A value that may be in force.
#[derive(Clone, Debug, PartialEq)]
pub struct KnownValue {
    /// Where it comes from.
    pub origin: Origin,
    /// Impulses per 100 m.
    pub per_100m: f64,
}

/// The value of a course that is signed off, as far as a terminal has to do with it; impulses per
/// 100 m.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SignedValue {
    /// The sensor that it is for.
    pub source: Channel,
    /// As it was left in the terminal, else as it is to be entered.
    pub entered: f64,
    /// As it was found there before.
    pub as_found: Option<f64>,
    /// Of the other sensor, where it was measured too.
    pub other: Option<f64>,
}

/// What is known of a terminal.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Known {
    /// The sensor that it should go by, where that was stated.
    pub source: Option<Channel>,
    /// Values that may be in force; the one keyed in once at the most.
    pub values: Vec<KnownValue>,
}

impl Known {
    /// The sensor that the terminal should go by; the wheel where nobody said.
    #[must_use]
    pub fn source(&self) -> Channel {
        self.source.unwrap_or(Channel::Wheel)
    }

    /// The sensor that it should not go by.
    #[must_use]
    pub fn other(&self) -> Channel {
        if self.source() == Channel::Radar { Channel::Wheel } else { Channel::Radar }
    }

    /// The value that was keyed in.
    #[must_use]
    pub fn entered(&self) -> Option<f64> {
        self.of(&Origin::Entered).next()
    }

    /// Values of an origin.
    pub fn of<'k>(&'k self, origin: &'k Origin) -> impl Iterator<Item = f64> + 'k {
        self.values.iter().filter(move |one| one.origin == *origin).map(|one| one.per_100m)
    }

    /// Add a value, unless no terminal can hold it or it is there already. Of values keyed in the
    /// last one counts.
    #[must_use]
    pub fn with(mut self, origin: Origin, per_100m: f64) -> Self {
        let value = KnownValue { origin, per_100m };
        if value.origin == Origin::Entered {
            self.values.retain(|one| one.origin != Origin::Entered);
        }
        if VALUES.contains(&per_100m) && !self.values.contains(&value) {
            self.values.push(value);
        }
        self
    }

    /// This, and what it leaves open from another: for each origin the values of this one, where
    /// it has any.
    #[must_use]
    pub fn or(mut self, other: Self) -> Self {
        self.source = self.source.or(other.source);
        let kind = |one: &KnownValue| std::mem::discriminant(&one.origin);
        let mine: Vec<_> = self.values.iter().map(kind).collect();
        self.values.extend(other.values.into_iter().filter(|one| !mine.contains(&kind(one))));
        self
    }

    /// What is known when a drive is signed off with the course of its value, from what was known
    /// before: that value is the one keyed in, and one known as keyed in before may be the old one
    /// that is still in force.
    #[must_use]
    pub fn signed_with(mut self, now: SignedValue) -> Self {
        if self.source() != now.source {
            // What is old, and what is the other sensor's, was meant the other way round.
            self.values.retain(|one| one.origin.tyres().is_some());
        }
        let given = [
            (Origin::Entered, Some(now.entered)),
            (Origin::Old, now.as_found),
            (Origin::OtherSensor, now.other),
        ];
        let known = Self { source: Some(now.source), values: Vec::new() };
        let given = given.into_iter().filter_map(|(origin, value)| Some((origin, value?)));
        let known = given.fold(known, |known, (origin, value)| known.with(origin, value));
        self.values.into_iter().fold(known, |known, one| match one.origin {
            Origin::Entered if one.per_100m.total_cmp(&now.entered).is_eq() => known,
            Origin::Entered => known.with(Origin::Old, one.per_100m),
            Origin::OtherSensor if now.other.is_some() => known,
            origin => known.with(origin, one.per_100m),
        })
    }

    /// The notes that keep it in a capture.
    #[must_use]
    pub fn notes(&self) -> Vec<String> {
        let source = self.source.map(|channel| format!("{WORD} source {}", channel.name()));
        let value = |one: &KnownValue| match &one.origin {
            Origin::Entered => format!("{WORD} entered {}", one.per_100m),
            Origin::Old => format!("{WORD} old {}", one.per_100m),
            Origin::OtherSensor => format!("{WORD} other {}", one.per_100m),
            Origin::Tyres(name) => format!("{WORD} tyres {} {name}", one.per_100m),
        };
        source.into_iter().chain(self.values.iter().map(value)).collect()
    }

    /// What the notes of a capture say.
    #[must_use]
    pub fn noted(notes: &[(u64, String)]) -> Self {
        let said = notes.iter().filter_map(|(_, text)| text.strip_prefix(WORD)?.strip_prefix(' '));
        said.fold(Self::default(), |known, text| known.read(text.trim()))
    }

    fn read(mut self, text: &str) -> Self {
        let (word, rest) = text.split_once(' ').unwrap_or((text, ""));
        if word == "source" {
            let channels = [Channel::Wheel, Channel::Radar];
            self.source = channels.into_iter().find(|c| c.name() == rest).or(self.source);
            return self;
        }
        let (number, name) = rest.split_once(' ').unwrap_or((rest, ""));
        let Ok(per_100m) = number.parse() else { return self };
        match word {
            "entered" => self.with(Origin::Entered, per_100m),
            "old" => self.with(Origin::Old, per_100m),
            "other" => self.with(Origin::OtherSensor, per_100m),
            "tyres" => self.with(Origin::Tyres(name.trim().to_owned()), per_100m),
            _ => self,
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn what_is_known_goes_into_notes_and_comes_out_again() {
        let known = Known { source: Some(Channel::Radar), values: Vec::new() }
            .with(Origin::Entered, 13_005.0)
            .with(Origin::Old, 12_612.5)
            .with(Origin::Old, 12_800.0)
            .with(Origin::OtherSensor, 13_061.0)
            .with(Origin::Tyres("Winter, narrow".to_owned()), 12_450.0)
            .with(Origin::Old, f64::NAN)
            .with(Origin::Old, 0.0);
        let notes: Vec<(u64, String)> = known.notes().into_iter().map(|text| (1, text)).collect();
        assert_eq!(notes.len(), 6, "{notes:?}");
        assert_eq!(Known::noted(&notes), known);
        let odd = ["terminal", "terminal entered", "terminal entered x", "terminals entered 5"];
        let odd: Vec<(u64, String)> = odd.map(|text| (1, text.to_owned())).to_vec();
        assert_eq!(Known::noted(&odd), Known::default());
    }

    #[test]
    fn what_is_given_wins_over_what_was_noted() {
        let noted = Known { source: Some(Channel::Radar), values: Vec::new() }
            .with(Origin::Entered, 1_000.0)
            .with(Origin::Entered, 2_000.0)
            .with(Origin::Old, 3_000.0);
        assert_eq!(noted.entered(), Some(2_000.0), "the last one typed");
        let both = Known::default().with(Origin::Entered, 5_000.0).or(noted);
        assert_eq!((both.entered(), both.source()), (Some(5_000.0), Channel::Radar));
        assert_eq!(both.of(&Origin::Old).collect::<Vec<_>>(), [3_000.0]);
    }

    #[test]
    fn a_value_that_is_signed_off_is_keyed_in_and_those_before_it_are_old() {
        let noted = Known { source: Some(Channel::Wheel), values: Vec::new() }
            .with(Origin::Entered, 12_800.0)
            .with(Origin::Old, 12_612.0)
            .with(Origin::OtherSensor, 13_061.0)
            .with(Origin::Tyres("Winter".to_owned()), 12_450.0);
        let now = SignedValue {
            source: Channel::Wheel,
            entered: 13_004.0,
            as_found: Some(12_790.0),
            other: Some(13_055.0),
        };
        let known = noted.clone().signed_with(now);
        assert_eq!(known.entered(), Some(13_004.0));
        assert_eq!(known.of(&Origin::Old).collect::<Vec<_>>(), [12_790.0, 12_800.0, 12_612.0]);
        assert_eq!(known.of(&Origin::OtherSensor).collect::<Vec<_>>(), [13_055.0]);
        assert_eq!(known.values.last().unwrap().origin.tyres(), Some("Winter"));
        // The same value noted as keyed in is no old one.
        let again = known.clone().signed_with(SignedValue { as_found: None, ..now });
        assert_eq!(again.of(&Origin::Old).collect::<Vec<_>>(), [12_790.0, 12_800.0, 12_612.0]);
        // Of the other sensor, nothing of it is meant in the same way.
        let radar = SignedValue { source: Channel::Radar, as_found: None, other: None, ..now };
        let known = noted.signed_with(radar);
        assert_eq!((known.source(), known.values.len()), (Channel::Radar, 2));
    }
}
