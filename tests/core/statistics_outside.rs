//! Outliers, means of several figures and agreement against published examples. The source
//! stands at each check; tolerances are half of the last digit printed.

use trundle_core::stats::budget::{Quantity, Source, Sources};
use trundle_core::stats::fit::agreement::{compare, normalised_error};
use trundle_core::stats::fit::line::Estimate;
use trundle_core::stats::fit::outlier::{grubbs, grubbs_critical_two_sided};
use trundle_core::stats::fit::pooled::weighted_mean;
use trundle_core::stats::fit::{FitRefusal, robust};

fn near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "found {found}, expected {expected} ± {within}");
}

#[test]
fn grubbs_tables() {
    // A published one-sided table at 5 % (two decimals, n = 3 to 10) is the two-sided one at 10 %;
    // the rest by scipy (four decimals), one-sided at 5 and 1 %, two-sided at 5 and 1 %.
    let printed = [1.15, 1.46, 1.67, 1.82, 1.94, 2.03, 2.11, 2.18];
    for (n, value) in (3..).zip(printed) {
        near(grubbs_critical_two_sided(n, 0.10), value, 0.0051);
    }
    for (n, one5, one1, two5, two1) in [
        (3, 1.1531, 1.1546, 1.1543, 1.1547),
        (4, 1.4625, 1.4925, 1.4813, 1.4962),
        (5, 1.6714, 1.7489, 1.7150, 1.7637),
        (6, 1.8221, 1.9442, 1.8871, 1.9728),
        (7, 1.9381, 2.0973, 2.0200, 2.1391),
        (8, 2.0317, 2.2208, 2.1266, 2.2744),
        (9, 2.1096, 2.3231, 2.2150, 2.3868),
        (10, 2.1761, 2.4097, 2.2900, 2.4821),
        (12, 2.2850, 2.5494, 2.4116, 2.6357),
        (20, 2.5566, 2.8838, 2.7082, 3.0008),
    ] {
        near(grubbs_critical_two_sided(n, 0.10), one5, 6e-5);
        near(grubbs_critical_two_sided(n, 0.02), one1, 6e-5);
        near(grubbs_critical_two_sided(n, 0.05), two5, 6e-5);
        near(grubbs_critical_two_sided(n, 0.01), two1, 6e-5);
    }
}

#[test]
fn grubbs_example_and_least_number() {
    // NIST/SEMATECH e-Handbook, 1.3.5.17.1 (from memory, recomputed).
    let values = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57];
    let test = grubbs(&values, 0.05).unwrap();
    near(test.statistic, 2.468_765, 5e-7);
    assert!(test.is_outlier);
    assert_eq!(test.suspect, 7);
    assert!(!grubbs(&values[..7], 0.05).unwrap().is_outlier);
    assert_eq!(grubbs(&values[4..], 0.05), Err(FitRefusal::TooFew { have: 4, need: 5 }));
    assert!(grubbs(&[3.0; 6], 0.05).is_ok_and(|test| !test.is_outlier));
}

/// Trials of a vaccine, the counts most used to check meta-analysis: a, n1, c, n2.
const BCG: [[f64; 4]; 13] = [
    [4.0, 123.0, 11.0, 139.0],
    [6.0, 306.0, 29.0, 303.0],
    [3.0, 231.0, 11.0, 220.0],
    [62.0, 13_598.0, 248.0, 12_867.0],
    [33.0, 5_069.0, 47.0, 5_808.0],
    [180.0, 1_541.0, 372.0, 1_451.0],
    [8.0, 2_545.0, 10.0, 629.0],
    [505.0, 88_391.0, 499.0, 88_391.0],
    [29.0, 7_499.0, 45.0, 7_277.0],
    [17.0, 1_716.0, 65.0, 1_665.0],
    [186.0, 50_634.0, 141.0, 27_338.0],
    [5.0, 2_498.0, 3.0, 2_341.0],
    [27.0, 16_913.0, 29.0, 17_854.0],
];

#[test]
fn weighted_mean_bcg() {
    // Colditz et al. 1994 as worked by statsmodels 0.15.0, combine_effects(method_re = "chi2").
    let values: Vec<Estimate> = BCG
        .iter()
        .map(|[a, n1, c, n2]| Estimate {
            value: ((a / n1) / (c / n2)).ln(),
            standard_uncertainty: (1.0 / a - 1.0 / n1 + 1.0 / c - 1.0 / n2).sqrt(),
        })
        .collect();
    let fixed = weighted_mean(&values).unwrap();
    near(fixed.mean, -0.430_285, 5e-7);
    near(fixed.standard_uncertainty, 0.040_499, 5e-7);
    near(fixed.chi_squared, 152.233_008, 5e-7);
}

#[test]
fn birge_on_three_figures() {
    // Synthetic, worked by numpy: three figures that disagree a little.
    let values: Vec<Estimate> = [(13_002.5, 3.0), (13_008.0, 4.0), (12_995.0, 5.0)]
        .iter()
        .map(|(value, u)| Estimate { value: *value, standard_uncertainty: *u })
        .collect();
    let mean = weighted_mean(&values).unwrap();
    near(mean.mean, 13_002.704_811, 5e-7);
    near(mean.standard_uncertainty, 2.163_655, 5e-7);
    near(mean.chi_squared, 4.131_664, 5e-7);
    near(mean.standard_uncertainty_birge / mean.standard_uncertainty, 1.437_300, 5e-7);
    near(mean.standard_uncertainty_birge, 3.109_823, 5e-7);
    // Figures that agree are not made better than they say.
    let calm: Vec<Estimate> = [13_002.0, 13_002.1]
        .iter()
        .map(|value| Estimate { value: *value, standard_uncertainty: 3.0 })
        .collect();
    let mean = weighted_mean(&calm).unwrap();
    assert!((mean.chi_squared / mean.degrees_of_freedom).sqrt() < 0.1);
    assert_eq!(mean.standard_uncertainty_birge, mean.standard_uncertainty);
}

#[test]
fn normalised_error_iso_13528() {
    // ISO 13528 (as in the NIST Dataplot reference): expanded uncertainties in the denominator.
    let verdict = normalised_error(10.06, 0.04, 10.0, 0.05, 0.0);
    near(verdict.normalised_error, 0.937_043, 5e-7);
    assert!(verdict.agrees);
    // What both share cancels: with all of the smaller one shared, 0.06 is twice what is left.
    let shared = normalised_error(10.06, 0.04, 10.0, 0.05, 0.04 * 0.04);
    near(shared.normalised_error, 2.0, 1e-9);
    assert!(!shared.agrees);
    let mut sources = Sources::new();
    let common = sources.add(Source::normal("common", "", 3.0));
    let own = sources.add(Source::normal("own", "", 1.0));
    let a = Quantity::from_source(100.0, common, &sources);
    let b = &a.shifted(1.0) + &Quantity::from_source(0.0, own, &sources);
    let verdict = compare(&a, &b, &sources, 0.95);
    near(verdict.normalised_error, 1.0 / 1.959_963_984_540_054, 1e-12);
}

#[test]
fn robust_estimates() {
    // The factor is one over the 75 % normal quantile, 0.674489750196082 (tables).
    near(robust::MAD_TO_STANDARD_DEVIATION, 1.0 / 0.674_489_750_196_082, 1e-14);
    let values = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57];
    near(robust::median(&values).unwrap(), 201.37, 1e-12);
    // Deviations 2.06 1.84 1.18 0.55 0.55 0.58 0.81 44.2: the middle two are 0.81 and 1.18.
    near(robust::median_absolute_deviation(&values).unwrap(), 0.995, 1e-12);
    assert_eq!(robust::median(&[]), None);
}
