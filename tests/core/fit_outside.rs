//! Straight lines against published data sets. The source stands at each
//! check. Tolerances are half of the last digit printed, or what doubles can give where an
//! independent library printed more.

use trundle_core::stats::budget::{Quantity, Source, Sources, expand};
use trundle_core::stats::fit::line::{LineFit, ordinary, weighted};
use trundle_core::stats::fit::york::{self, Point};

fn near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "found {found}, expected {expected} ± {within}");
}

/// Pearson (1901) data with the weights of York (1966): x, wx, y, wy.
const PEARSON: [[f64; 4]; 10] = [
    [0.0, 1000.0, 5.9, 1.0],
    [0.9, 1000.0, 5.4, 1.8],
    [1.8, 500.0, 4.4, 4.0],
    [2.6, 800.0, 4.6, 8.0],
    [3.3, 200.0, 3.5, 20.0],
    [4.4, 80.0, 3.7, 20.0],
    [5.2, 60.0, 2.8, 70.0],
    [6.1, 20.0, 2.8, 70.0],
    [6.5, 1.8, 2.4, 100.0],
    [7.4, 1.0, 1.5, 500.0],
];

fn pearson() -> Vec<Point> {
    let point =
        |[x, wx, y, wy]: &[f64; 4]| Point::new(*x, *y, wx.sqrt().recip(), wy.sqrt().recip());
    PEARSON.iter().map(point).collect()
}

#[test]
fn pearson_data_with_york_weights() {
    // a, b: Neri et al., J. Phys. E 22 (1989) 215; S/(n − 2): Murray 1994 and GTC. Standard errors:
    // York et al. 2004, adjusted points, not scaled by the scatter (one of three sets in print).
    let fit = york::fit(&pearson()).unwrap();
    near(fit.intercept, 5.479_910_224_0, 5e-10);
    near(fit.slope, -0.480_533_407_4, 5e-10);
    near(fit.chi_squared, 11.866_353_194_1, 1e-9);
    near(fit.reduced_chi_squared(), 1.483_294_149, 5e-10);
    near(fit.u_intercept, 0.294_970_735, 5e-10);
    near(fit.u_slope, 0.057_985_009_0, 5e-11);
    near(fit.covariance, -0.016_473, 5e-7);
    assert_eq!(fit.degrees_of_freedom, 8);
    // Scaled by the scatter they are the set that scipy.odr prints as sd_beta.
    let scale = fit.reduced_chi_squared().sqrt();
    near(fit.u_intercept * scale, 0.359_247, 5e-7);
    near(fit.u_slope * scale, 0.070_620, 5e-7);
}

#[test]
fn pearson_data_in_the_limiting_cases() {
    // Least squares of y on x and the orthogonal line of the same points (numpy, scipy).
    let points: Vec<(f64, f64)> = PEARSON.iter().map(|row| (row[0], row[2])).collect();
    let fit = ordinary(&points).unwrap();
    near(fit.slope, -0.539_577, 5e-7);
    near(fit.intercept, 5.761_185, 5e-7);
    let equal = |u_x: f64, u_y: f64| -> LineFit {
        let points: Vec<Point> = points.iter().map(|(x, y)| Point::new(*x, *y, u_x, u_y)).collect();
        york::fit(&points).unwrap()
    };
    let orthogonal = equal(0.1, 0.1);
    near(orthogonal.slope, -0.545_561_197_5, 5e-10);
    near(orthogonal.intercept, 5.784_043_774_6, 5e-10);
    // With exact x York's line is the weighted one, with the same standard errors.
    let exact_x = equal(0.0, 0.3);
    let stated: Vec<(f64, f64, f64)> = points.iter().map(|(x, y)| (*x, *y, 0.3)).collect();
    let direct = weighted(&stated).unwrap();
    near(exact_x.slope, direct.slope, 1e-12);
    near(exact_x.u_intercept, direct.u_intercept, 1e-12);
    near(exact_x.u_slope, direct.u_slope, 1e-12);
    near(exact_x.covariance, direct.covariance, 1e-12);
}

struct Expected {
    intercept: (f64, f64),
    slope: (f64, f64),
    covariance: f64,
    chi_squared: f64,
    within: f64,
}

fn check(fit: &LineFit, expected: &Expected) {
    near(fit.intercept, expected.intercept.0, expected.within);
    near(fit.u_intercept, expected.intercept.1, expected.within);
    near(fit.slope, expected.slope.0, expected.within);
    near(fit.u_slope, expected.slope.1, expected.within);
    near(fit.covariance, expected.covariance, expected.within);
    near(fit.chi_squared, expected.chi_squared, expected.within);
}

#[test]
fn iso_ts_28037_examples() {
    // ISO/TS 28037:2010, examples of 6.3, 7.4 and annex E, to the three decimals printed.
    let line = |y: [f64; 6], u: [f64; 6]| -> LineFit {
        let points: Vec<(f64, f64, f64)> =
            (1_u8..).zip(y).zip(u).map(|((x, y), u)| (f64::from(x), y, u)).collect();
        weighted(&points).unwrap()
    };
    let first = line([3.3, 5.6, 7.1, 9.3, 10.7, 12.1], [0.5; 6]);
    let expected = Expected {
        intercept: (1.867, 0.465),
        slope: (1.757, 0.120),
        covariance: -0.050,
        chi_squared: 1.665,
        within: 0.0006,
    };
    check(&first, &expected);
    let second = line([3.2, 4.3, 7.6, 8.6, 11.7, 12.8], [0.5, 0.5, 0.5, 1.0, 1.0, 1.0]);
    let expected = Expected {
        intercept: (0.885, 0.530),
        slope: (2.057, 0.178),
        covariance: -0.082,
        chi_squared: 4.131,
        within: 0.0006,
    };
    check(&second, &expected);
}

#[test]
fn iso_ts_28037_both_uncertain_and_unknown_weights() {
    // Example 3 (7.4): the standard prints 0.5788 0.4764 2.159 0.1355 −0.0577 2.743; ten digits by
    // an independent program of the same equations.
    let x = [1.2, 1.9, 2.9, 4.0, 4.7, 5.9];
    let y = [3.4, 4.4, 7.2, 8.5, 10.8, 13.5];
    let points: Vec<Point> =
        (0..6).map(|k| Point::new(x[k], y[k], 0.2, if k < 3 { 0.2 } else { 0.4 })).collect();
    let expected = Expected {
        intercept: (0.578_822_122_1, 0.476_420_629_6),
        slope: (2.159_656_567_4, 0.135_547_927_5),
        covariance: -0.057_716_939_1,
        chi_squared: 2.742_676_789_7,
        within: 1e-9,
    };
    check(&york::fit(&points).unwrap(), &expected);
    // Example 4 (annex E), weights unknown. 0.171 in print elsewhere as chi-squared is the scatter
    // sqrt(0.116498/4), not the sum of squares.
    let y = [3.014, 5.225, 7.004, 9.061, 11.201, 12.762];
    let points: Vec<(f64, f64)> = (1_u8..).zip(y).map(|(x, y)| (f64::from(x), y)).collect();
    let fit = ordinary(&points).unwrap();
    near(fit.chi_squared, 0.116_498, 5e-7);
    let expected = Expected {
        intercept: (1.172, 0.159),
        slope: (1.964, 0.041),
        covariance: -0.006,
        chi_squared: 0.116_498,
        within: 0.0006,
    };
    check(&fit, &expected);
}

#[test]
fn thermometer_gum_h_3() {
    // JCGM 100:2008, H.3 and table H.6 (data and results read in GTC's GUM_H3 and suncal).
    let t =
        [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511];
    let b =
        [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160];
    let points: Vec<(f64, f64)> = t.iter().zip(b).map(|(t, b)| (t - 20.0, b)).collect();
    let fit = ordinary(&points).unwrap();
    near(fit.intercept, -0.171_203_790_13, 1e-11);
    near(fit.u_intercept, 0.002_877_597_84, 1e-11);
    near(fit.slope, 0.002_182_697_74, 1e-11);
    near(fit.u_slope, 0.000_667_938_77, 1e-11);
    near(fit.covariance / (fit.u_intercept * fit.u_slope), -0.930_429_60, 5e-9);
    near(fit.reduced_chi_squared().sqrt(), 0.003_497_563_96, 1e-11);
    // The same through quantities, with a systematic 0.005 common to all readings: u 0.00576893
    // and 145.38 degrees of freedom (GTC documentation).
    let mut sources = Sources::new();
    let covariance =
        [vec![fit.u_intercept.powi(2), fit.covariance], vec![fit.covariance, fit.u_slope.powi(2)]];
    let values = [fit.intercept, fit.slope];
    let line = sources.correlated("line", "line", &values, &covariance, 9.0).unwrap();
    let predicted = &line[0] + &line[1].scaled(10.0);
    near(predicted.standard_uncertainty(), 0.004_138_595_75, 1e-11);
    near(expand(&predicted, &sources, 0.95).degrees_of_freedom, 9.0, 1e-9);
    let id = sources.add(Source::normal("common", "common", 0.005));
    let shifted = &line[0] + &Quantity::from_source(0.0, id, &sources);
    near(shifted.standard_uncertainty(), 0.005_768_93, 5e-9);
    near(expand(&shifted, &sources, 0.95).degrees_of_freedom, 145.38, 0.005);
}

#[test]
fn natrella_line() {
    // M. G. Natrella, NBS Handbook 91, 5-4.1 (read in suncal's test_curvefit).
    let y = [
        4642.0, 4612.0, 4565.0, 4513.0, 4476.0, 4433.0, 4389.0, 4347.0, 4303.0, 4251.0, 4201.0,
        4140.0, 4100.0, 4073.0, 4024.0, 3999.0,
    ];
    let x = (0_u8..16).map(|k| if k == 0 { 30.0 } else { 100.0 * f64::from(k) });
    let points: Vec<(f64, f64)> = x.zip(y).collect();
    let fit = ordinary(&points).unwrap();
    near(fit.slope, -0.449_854_82, 5e-9);
    // The source cuts its last digit off instead of rounding it.
    near(fit.u_slope.powi(2), 2.564_904_5e-5, 1e-12);
    near(fit.intercept, 4_654.984_6, 5e-5);
    // 19.879453 in exact arithmetic; the source's own rounding is one in its last digit.
    near(fit.u_intercept.powi(2), 19.879_452, 1.1e-6);
    // Cut off as well: 9.2776176.
    near(fit.reduced_chi_squared().sqrt(), 9.277_617, 1e-6);
}

#[test]
fn norris_certified() {
    // NIST StRD, Norris (certified values from memory, recomputed to twelve digits). y, x.
    let data = [
        (0.1, 0.2),
        (338.8, 337.4),
        (118.1, 118.2),
        (888.0, 884.6),
        (9.2, 10.1),
        (228.1, 226.5),
        (668.5, 666.3),
        (998.5, 996.3),
        (449.1, 448.6),
        (778.9, 777.0),
        (559.2, 558.2),
        (0.3, 0.4),
        (0.1, 0.6),
        (778.1, 775.5),
        (668.8, 666.9),
        (339.3, 338.0),
        (448.9, 447.5),
        (10.8, 11.6),
        (557.7, 556.0),
        (228.3, 228.1),
        (998.0, 995.8),
        (888.8, 887.6),
        (119.6, 120.2),
        (0.3, 0.3),
        (0.6, 0.3),
        (557.6, 556.8),
        (339.3, 339.1),
        (888.0, 887.2),
        (998.5, 999.0),
        (778.9, 779.0),
        (10.2, 11.1),
        (117.6, 118.3),
        (228.9, 229.2),
        (668.4, 669.1),
        (449.2, 448.9),
        (0.2, 0.5),
    ];
    let points: Vec<(f64, f64)> = data.iter().map(|(y, x)| (*x, *y)).collect();
    let fit = ordinary(&points).unwrap();
    let close = |found: f64, certified: f64, within: f64| near(found / certified, 1.0, within);
    // The intercept is a thousandth of the spread of y, hence three digits fewer.
    close(fit.intercept, -0.262_323_073_774_029, 1e-11);
    close(fit.u_intercept, 0.232_818_234_301_152, 1e-12);
    close(fit.slope, 1.002_116_818_020_45, 1e-13);
    close(fit.u_slope, 0.000_429_796_848_199_937, 1e-12);
    close(fit.reduced_chi_squared().sqrt(), 0.884_796_396_144_373, 1e-12);
}
