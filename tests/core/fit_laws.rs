//! Laws that must hold whatever the numbers are.

use proptest::collection::vec;
use proptest::prelude::*;
use trundle_core::stats::budget::{Quantity, Source, Sources, expand};
use trundle_core::stats::fit::line::{Estimate, ordinary, weighted};
use trundle_core::stats::fit::pooled::weighted_mean;
use trundle_core::stats::fit::robust::median;
use trundle_core::stats::fit::york::{self, Point};

/// Relative agreement of two numbers, against their size or `floor`.
fn same(a: f64, b: f64, floor: f64, within: f64) -> bool {
    (a - b).abs() <= within * a.abs().max(b.abs()).max(floor)
}

/// Points along a line of slope 1 to 200, well spread, with noise of about their uncertainty.
fn points() -> impl Strategy<Value = Vec<Point>> {
    let one = (-1.0..1.0_f64, -1.0..1.0_f64, 0.01..0.05_f64, 0.1..2.0_f64);
    (vec(one, 5..20), 1.0..200.0_f64, -50.0..50.0_f64).prop_map(|(rows, slope, intercept)| {
        rows.iter()
            .enumerate()
            .map(|(k, (noise_x, noise_y, u_x, u_y))| {
                let x = 10.0 * k as f64;
                let y = intercept + slope * x + noise_y * u_y;
                let x = x + noise_x * u_x;
                Point::new(x, y, *u_x, *u_y)
            })
            .collect()
    })
}

fn estimates() -> impl Strategy<Value = Vec<Estimate>> {
    let one = (-20.0..20.0_f64, 0.5..10.0_f64);
    vec(one, 2..12).prop_map(|rows| {
        let make = |(d, u): &(f64, f64)| Estimate { value: 13_000.0 + d, standard_uncertainty: *u };
        rows.iter().map(make).collect()
    })
}

/// Sources of every shape and some quantities that share them.
fn shared() -> impl Strategy<Value = (Sources, Vec<Quantity>)> {
    let source = (0..5_u8, 0.01..10.0_f64, 1.0..50.0_f64);
    let quantity = (1.0..1000.0_f64, vec(-3.0..3.0_f64, 6));
    (vec(source, 6), vec(quantity, 2..5)).prop_map(|(shapes, rows)| {
        let mut sources = Sources::new();
        let mut basis = Vec::new();
        for (k, (shape, size, dof)) in shapes.iter().enumerate() {
            let key = format!("s{k}");
            let source = match shape {
                0 => Source::normal(&key, &key, *size),
                1 => Source::rectangular(&key, &key, *size),
                2 => Source::triangular(&key, &key, *size),
                3 => Source::normal(&key, &key, 0.5 * *size),
                _ => Source::type_a(&key, &key, *size, *dof),
            };
            let id = sources.add(source);
            basis.push(Quantity::from_source(0.0, id, &sources));
        }
        let quantities = rows
            .iter()
            .map(|(value, weights)| {
                let parts: Vec<(&Quantity, f64)> =
                    basis.iter().zip(weights.iter().copied()).collect();
                Quantity::combine(*value, &parts)
            })
            .collect();
        (sources, quantities)
    })
}

proptest! {
    #[test]
    fn york_swapped_axes_give_the_reciprocal_slope(points in points()) {
        let forward = york::fit(&points).unwrap();
        let swapped: Vec<Point> = points
            .iter()
            .map(|p| Point { x: p.y, y: p.x, u_x: p.u_y, u_y: p.u_x })
            .collect();
        let back = york::fit(&swapped).unwrap();
        prop_assert!(same(forward.slope * back.slope, 1.0, 1.0, 1e-9));
        prop_assert!(same(forward.chi_squared, back.chi_squared, 1e-6, 1e-6));
        let u = back.u_slope * forward.slope.powi(2);
        // First order in the relative uncertainty of the slope, hence not to the last digit.
        prop_assert!(same(forward.u_slope, u, 0.0, 1e-2));
    }

    #[test]
    fn york_scales_with_its_units(points in points(), up in 0.01..100.0_f64) {
        let plain = york::fit(&points).unwrap();
        let scaled: Vec<Point> =
            points.iter().map(|p| Point { y: p.y * up, u_y: p.u_y * up, ..*p }).collect();
        let scaled = york::fit(&scaled).unwrap();
        prop_assert!(same(scaled.slope, plain.slope * up, 0.0, 1e-9));
        prop_assert!(same(scaled.u_slope, plain.u_slope * up, 0.0, 1e-9));
        prop_assert!(same(scaled.u_intercept, plain.u_intercept * up, 0.0, 1e-9));
        prop_assert!(same(scaled.chi_squared, plain.chi_squared, 1e-6, 1e-6));
    }

    #[test]
    fn york_does_not_mind_the_order(points in points(), turn in 1..5_usize) {
        let plain = york::fit(&points).unwrap();
        let mut turned = points;
        turned.rotate_left(turn);
        turned.reverse();
        let turned = york::fit(&turned).unwrap();
        prop_assert!(same(plain.slope, turned.slope, 0.0, 1e-11));
        prop_assert!(same(plain.u_intercept, turned.u_intercept, 0.0, 1e-9));
    }

    #[test]
    fn lines_without_noise_are_exact(
        slope in 1.0..200.0_f64, intercept in -50.0..50.0_f64, n in 4..30_usize,
    ) {
        let at = |k: usize| (3.0 * k as f64, intercept + slope * 3.0 * k as f64);
        let plain: Vec<(f64, f64)> = (0..n).map(at).collect();
        let size = intercept.abs() + slope * 3.0 * n as f64;
        let fit = ordinary(&plain).unwrap();
        prop_assert!(same(fit.slope, slope, 0.0, 1e-12));
        prop_assert!((fit.intercept - intercept).abs() <= 1e-13 * size);
        prop_assert!(fit.u_slope <= 1e-12 * size);
        let both: Vec<Point> = plain.iter().map(|(x, y)| Point::new(*x, *y, 0.02, 0.5)).collect();
        let fit = york::fit(&both).unwrap();
        prop_assert!(same(fit.slope, slope, 0.0, 1e-12));
        prop_assert!(fit.chi_squared <= 1e-18 * size * size);
    }

    #[test]
    fn more_doubt_in_a_point_never_makes_the_line_better(
        points in points(), which in 0..5_usize, extra in 0.01..5.0_f64,
    ) {
        let mut rows: Vec<(f64, f64, f64)> = points.iter().map(|p| (p.x, p.y, p.u_y)).collect();
        let before = weighted(&rows).unwrap();
        rows[which].2 = rows[which].2.hypot(extra);
        let after = weighted(&rows).unwrap();
        prop_assert!(after.u_slope >= before.u_slope * (1.0 - 1e-12));
        prop_assert!(after.u_intercept >= before.u_intercept * (1.0 - 1e-12));
    }

    #[test]
    fn means_scale_shift_and_ignore_order(mut rows in estimates(), by in 0.1..10.0_f64) {
        let plain = weighted_mean(&rows).unwrap();
        rows.reverse();
        let reversed = weighted_mean(&rows).unwrap();
        prop_assert!(same(plain.mean, reversed.mean, 0.0, 1e-13));
        prop_assert!(same(plain.chi_squared, reversed.chi_squared, 1e-3, 1e-7));
        let scaled: Vec<Estimate> = rows
            .iter()
            .map(|e| Estimate {
                value: e.value * by,
                standard_uncertainty: e.standard_uncertainty * by,
            })
            .collect();
        let again = weighted_mean(&scaled).unwrap();
        prop_assert!(same(again.mean, plain.mean * by, 0.0, 1e-10));
        let birge = plain.standard_uncertainty_birge * by;
        prop_assert!(same(again.standard_uncertainty_birge, birge, 0.0, 1e-7));
    }

    #[test]
    fn the_median_lies_in_the_middle(values in vec(-1e3..1e3_f64, 1..30)) {
        let middle = median(&values).unwrap();
        let below = values.iter().filter(|v| **v < middle).count();
        let above = values.iter().filter(|v| **v > middle).count();
        prop_assert!(below * 2 <= values.len() && above * 2 <= values.len());
    }

    #[test]
    fn the_budget_adds_up_to_the_uncertainty((sources, q) in shared()) {
        let made = &(&(&q[0] * &q[1]) / &q[q.len() - 1]) + &q[0];
        let squares: f64 =
            made.budget(&sources).iter().map(|line| line.contribution.powi(2)).sum();
        prop_assert!(same(squares.sqrt(), made.standard_uncertainty(), 0.0, 1e-12));
        for line in made.budget(&sources) {
            let product = line.sensitivity * line.standard_uncertainty;
            prop_assert!(same(product, line.contribution, 0.0, 1e-12));
        }
    }

    #[test]
    fn arithmetic_is_the_chain_rule((sources, q) in shared(), factor in 0.1..10.0_f64) {
        let (a, b) = (&q[0], &q[1]);
        let nothing = &(&(a + b) - b) - a;
        prop_assert!(nothing.standard_uncertainty() <= 1e-12 * a.standard_uncertainty().max(30.0));
        let one = &(a / b) * &(b / a);
        prop_assert!(same(one.value(), 1.0, 1.0, 1e-14));
        let size = [a, b].map(|q| q.standard_uncertainty() / q.value().abs()).iter().sum::<f64>();
        prop_assert!(one.standard_uncertainty() <= 1e-12 * size);
        let most = a.standard_uncertainty() * b.standard_uncertainty();
        prop_assert!(a.covariance(b).abs() <= most * (1.0 + 1e-12));
        let plain = expand(a, &sources, 0.95);
        let scaled = expand(&a.scaled(factor), &sources, 0.95);
        prop_assert!(same(plain.degrees_of_freedom, scaled.degrees_of_freedom, 0.0, 1e-9)
            || plain.degrees_of_freedom.is_infinite());
        let expanded = plain.expanded_uncertainty * factor;
        prop_assert!(same(scaled.expanded_uncertainty, expanded, 0.0, 1e-9));
    }

    #[test]
    fn one_more_source_never_makes_a_figure_better((sources, q) in shared(), u in 0.0..5.0_f64) {
        let mut sources = sources;
        let id = sources.add(Source::normal("more", "more", u));
        let more = &q[0] + &Quantity::from_source(0.0, id, &sources);
        prop_assert!(more.standard_uncertainty() >= q[0].standard_uncertainty());
        let before = expand(&q[0], &sources, 0.95);
        let after = expand(&more, &sources, 0.95);
        prop_assert!(after.degrees_of_freedom >= before.degrees_of_freedom * (1.0 - 1e-12));
    }
}
