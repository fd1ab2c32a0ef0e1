//! The sources of uncertainty, named once and shared by every quantity they touch.

use std::collections::BTreeMap;

crate::units::words! {
    /// How a standard uncertainty was arrived at (JCGM 100, 4.2 and 4.3).
    pub enum EvaluationType {
        /// From the scatter of repeated observations.
        TypeA = "A",
        /// From anything else: a certificate, a tolerance, experience.
        TypeB = "B",
    }
}

crate::units::words! {
    /// The distribution a source is taken to have.
    ///
    /// The standard uncertainty alone enters the law of propagation; the shape matters to the
    /// Monte Carlo check and to the reader of the budget.
    pub enum Distribution {
        /// A Gaussian (normal) distribution.
        Normal = "normal",
        /// Equally likely anywhere between two limits (JCGM 100, 4.3.7): half-width over √3.
        Rectangular = "rectangular",
        /// The difference of two equal rectangular ones (JCGM 100, 4.3.9): half-width over √6.
        Triangular = "triangular",
        /// Student's t with the degrees of freedom of the source, as of a mean of few readings.
        StudentT = "Student t",
    }
}

/// The number of a source within one [`Sources`]; meaningless in another.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SourceId(pub u32);

/// One source of uncertainty.
#[derive(Debug, Clone, PartialEq)]
pub struct Source {
    /// Short, stable and unique, such as `tape.class`; what programs look it up by.
    pub key: String,
    /// What a reader of the budget sees.
    pub name: String,
    /// Type A or type B.
    pub kind: EvaluationType,
    /// The shape it is taken to have.
    pub distribution: Distribution,
    /// In the unit of the source itself.
    pub standard_uncertainty: f64,
    /// How well that uncertainty is known; infinite for limits taken as certain (GUM G.4.3).
    pub degrees_of_freedom: f64,
    /// Sources of one ensemble come from one set of readings: their degrees of freedom are shared
    /// and are counted once. See [`Sources::correlated`].
    pub ensemble: Option<u32>,
}

impl Source {
    fn limits(key: &str, name: &str, distribution: Distribution, standard: f64) -> Self {
        Self {
            key: key.to_owned(),
            name: name.to_owned(),
            kind: EvaluationType::TypeB,
            distribution,
            standard_uncertainty: standard.abs(),
            degrees_of_freedom: f64::INFINITY,
            ensemble: None,
        }
    }

    /// A type A source: the standard uncertainty of a mean, with its degrees of freedom.
    #[must_use]
    pub fn type_a(key: &str, name: &str, standard_uncertainty: f64, dof: f64) -> Self {
        Self {
            kind: EvaluationType::TypeA,
            degrees_of_freedom: dof,
            ..Self::limits(key, name, Distribution::StudentT, standard_uncertainty)
        }
    }

    /// A type B source given as a standard uncertainty, taken as normal.
    #[must_use]
    pub fn normal(key: &str, name: &str, standard_uncertainty: f64) -> Self {
        Self::limits(key, name, Distribution::Normal, standard_uncertainty)
    }

    /// Limits of ± `half_width`, anything between equally likely (JCGM 100, 4.3.7).
    #[must_use]
    pub fn rectangular(key: &str, name: &str, half_width: f64) -> Self {
        Self::limits(key, name, Distribution::Rectangular, half_width / 3f64.sqrt())
    }

    /// Limits of ± `half_width`, the middle likeliest (JCGM 100, 4.3.9).
    #[must_use]
    pub fn triangular(key: &str, name: &str, half_width: f64) -> Self {
        Self::limits(key, name, Distribution::Triangular, half_width / 6f64.sqrt())
    }
}

/// All sources of one measurement.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Sources {
    list: Vec<Source>,
    by_key: BTreeMap<String, SourceId>,
    ensembles: u32,
}

impl Sources {
    /// An empty set of sources.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a source and returns its number.
    ///
    /// Adding the very same source again returns the number it already has, so that two stages
    /// which mean the same tape share it. Effects that are independent of each other, such as the
    /// count of each pass, therefore need a key each (`count.pass.3`). A *different* source under
    /// a key already taken is kept apart, as `key#2`, because merging two uncertainties that only
    /// share a name would be silently wrong.
    pub fn add(&mut self, mut source: Source) -> SourceId {
        let stem = source.key.clone();
        let mut copy = 1_u32;
        while let Some(&id) = self.by_key.get(&source.key) {
            if *self.get(id) == source {
                return id;
            }
            copy += 1;
            source.key = format!("{stem}#{copy}");
        }
        let number = u32::try_from(self.list.len()).expect("fewer than 2^32 sources fit in memory");
        let id = SourceId(number);
        self.by_key.insert(source.key.clone(), id);
        self.list.push(source);
        id
    }

    /// A number for a new ensemble; see [`Source::ensemble`].
    pub fn new_ensemble(&mut self) -> u32 {
        self.ensembles += 1;
        self.ensembles
    }

    /// The source with this number.
    ///
    /// # Panics
    /// If the number came from another `Sources`; that is a programming fault, not a data fault.
    #[must_use]
    pub fn get(&self, id: SourceId) -> &Source {
        &self.list[id.0 as usize]
    }

    /// All sources in the order they were added.
    pub fn iter(&self) -> impl Iterator<Item = (SourceId, &Source)> {
        (0_u32..).map(SourceId).zip(&self.list)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_source_is_shared_and_a_different_one_is_kept_apart() {
        let mut sources = Sources::new();
        let a = sources.add(Source::rectangular("tape.class", "tape", 0.0203));
        let b = sources.add(Source::rectangular("tape.class", "tape", 0.0203));
        let c = sources.add(Source::rectangular("tape.class", "tape", 0.0406));
        let d = sources.add(Source::rectangular("tape.class", "tape", 0.0406));
        assert_eq!(a, b);
        assert_ne!(a, c);
        assert_eq!(c, d);
        assert_eq!(sources.get(c).key, "tape.class#2");
        assert_eq!(sources.get(a).key, "tape.class");
    }
}
