//! After each pass: how far the value is from the uncertainty wanted, and how many more passes are
//! worth driving.
//!
//! The budget of the value says which sources differ from pass to pass; those shrink with the root
//! of the number of passes and are known with one more degree of freedom for each, the others stay.
//! How the next passes will scatter nobody knows: what is said is what to expect if they scatter as
//! those so far, by model and scatter blended.

use super::channel::{ChannelFigures, PASSES_GOOD};
use super::line::COVERAGE;
use super::plan::MOST_PASSES;
use super::sources::{SATELLITE_SCATTER, TAPE_SCATTER};
use crate::stats::budget::{Quantity, Source, Sources, cover};

/// Stands for endless driving: what is left then is common to all passes.
const ENDLESS: f64 = 100_000.0;

/// What further passes would do. Uncertainties are expanded (95 %) shares of the value.
#[derive(Clone, Debug, PartialEq)]
pub struct Further {
    /// Half-width wanted.
    pub wanted: f64,
    /// Half-width reached.
    pub reached: f64,
    /// Passes that are still worth driving, so that there are four at least and as many back as
    /// out; 0 when enough were driven, `None` when no number of passes that anybody drives will do.
    pub more: Option<u32>,
    /// Half-width that is left however many passes are driven.
    pub endless: f64,
    /// Name of the largest source that does not shrink with more passes.
    pub stays: Option<String>,
}

/// What further passes would do for a channel's value; `None` without one.
#[must_use]
pub fn further(channel: &ChannelFigures, wanted: f64) -> Option<Further> {
    let best = channel.best()?;
    let driven = u32::try_from(channel.passes.len()).ok().filter(|driven| *driven > 0)?;
    let half = |quantity: &Quantity, sources: &Sources| {
        cover(quantity, sources, COVERAGE).expanded_uncertainty / best.value().abs()
    };
    let reached = half(best, &channel.sources);
    // The scatter of few passes is a matter of luck; the next ones are foreseen with model and
    // scatter, where there is such a value.
    let judged = channel.blended.as_ref().unwrap_or(best);
    let after = |passes: f64| {
        let (quantity, sources) = grown(judged, &channel.sources, f64::from(driven), passes);
        half(&quantity, &sources)
    };
    let endless = after(ENDLESS);
    // Fewer leave the scatter hardly known, however well they agree.
    let least = driven.max(PASSES_GOOD as u32).next_multiple_of(2);
    let will_do = |passes: &u32| match *passes {
        passes if passes == driven => reached <= wanted,
        passes => reached <= wanted && passes == least || after(f64::from(passes)) <= wanted,
    };
    let tried = || (least..=MOST_PASSES.max(least)).step_by(2);
    let within_reach = reached <= wanted || endless < wanted;
    let more = tried().find(|passes| within_reach && will_do(passes)).map(|all| all - driven);
    let stays = best.budget(&channel.sources).into_iter().find(|line| !is_of_passes(&line.key));
    Some(Further { wanted, reached, more, endless, stays: stays.map(|line| line.source) })
}

/// The source differs from pass to pass.
fn is_of_passes(key: &str) -> bool {
    let key = key.strip_prefix("counting.").unwrap_or(key);
    [TAPE_SCATTER.0, SATELLITE_SCATTER.0].iter().any(|of| key.starts_with(of))
}

/// The value as it would be after so many passes instead of those driven.
fn grown(value: &Quantity, sources: &Sources, driven: f64, passes: f64) -> (Quantity, Sources) {
    let mut grown = Sources::new();
    let mut parts = Vec::new();
    for (id, source) in sources.iter() {
        let Some(term) = value.terms().get(&id) else { continue };
        let source = if is_of_passes(&source.key) {
            Source {
                standard_uncertainty: source.standard_uncertainty * (driven / passes).sqrt(),
                degrees_of_freedom: source.degrees_of_freedom + passes - driven,
                ..source.clone()
            }
        } else {
            source.clone()
        };
        let id = grown.add(source);
        parts.push((Quantity::from_source(0.0, id, &grown), term.sensitivity));
    }
    let inputs: Vec<(&Quantity, f64)> = parts.iter().map(|(part, by)| (part, *by)).collect();
    (Quantity::combine(value.value(), &inputs), grown)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::figure::PassLine;

    /// A value of 10 000 with a scatter of so many impulses a pass and a tape uncertain by so many.
    fn channel(passes: u32, scatter: f64, tape: f64) -> ChannelFigures {
        let mut sources = Sources::new();
        let n = f64::from(passes);
        let (key, name) = TAPE_SCATTER;
        let scatter = Source::type_a(key, name, scatter / n.sqrt(), n - 1.0);
        let mean = sources.quantity(10_000.0, scatter);
        let tape = sources.quantity(0.0, Source::normal("tape.class", "tape class", tape));
        let line = |number| PassLine { number, impulses: 1.0, tape: Some(1.0), satellite: None };
        ChannelFigures {
            name: "wheel",
            tape: Some(&mean + &tape),
            passes: (1..=passes).map(line).collect(),
            sources,
            ..ChannelFigures::default()
        }
    }

    #[test]
    fn more_passes_are_worth_driving_until_the_rest_is_common_to_all() {
        // Reached: t(3) 3.182 x 4/2 = 6.4 of 10 000.
        let enough = further(&channel(4, 4.0, 0.0), 0.001).unwrap();
        assert_eq!(enough.more, Some(0));
        assert!((enough.reached - 6.36e-4).abs() < 2e-6, "{enough:?}");
        // 16.0 impulses a pass: t(3) 3.182 x 8 = 25 now. After 12: t(11) 2.201 x 4.62 = 10.2;
        // after 14: t(13) 2.160 x 4.28 = 9.2 (Student's t, JCGM 100:2008, table G.2).
        let short = further(&channel(4, 16.0, 0.0), 0.001).unwrap();
        assert_eq!(short.more, Some(10), "{short:?}");
        // Two that agree by luck show little: four at least.
        let lucky = further(&channel(2, 0.1, 0.0), 0.001).unwrap();
        assert!(lucky.reached < 0.001 && lucky.more == Some(2), "{lucky:?}");
        // An odd number of passes is made even.
        assert_eq!(further(&channel(5, 16.0, 0.0), 0.001).unwrap().more.unwrap() % 2, 1);
        // 6 impulses of tape are 11.8 at 95 %: no driving helps.
        let never = further(&channel(4, 4.0, 6.0), 0.001).unwrap();
        assert_eq!((never.more, never.stays.as_deref()), (None, Some("tape class")));
        assert!((never.endless - 1.176e-3).abs() < 5e-6, "{never:?}");
        // More than anybody drives, though it would end somewhere.
        assert_eq!(further(&channel(4, 200.0, 0.0), 0.001).unwrap().more, None);
        assert_eq!(further(&ChannelFigures::default(), 0.001), None);
    }
}
