//! Do the intervals cover? Seeded simulated jobs in twelve noise scenarios, one table.
//!
//! For every job the true length of the course is drawn from what the tape's class, its
//! temperature and the pegs allow (rectangular, as the budget takes them); everything else is the
//! simulator's. The estimator is told the nominal length and the tape's class, nothing more. A
//! 95 % interval should cover the truth in 95 of 100 jobs; more is timid, less is dishonest.
//!
//! `cargo run --release -p trundle-sweeps --bin coverage -- [JOBS] [ONLY]`

#![allow(clippy::print_stdout)]

use trundle_core::course::tape::CourseSpec;
use trundle_core::stats::budget::{Quantity, Sources, cover};
use trundle_sim::{ReceiverClass, Scenario};
use trundle_tests::on_seeds::on_seeds;
use trundle_tests::{Draws, plain_course, simulated_work};

struct Row {
    name: &'static str,
    scenario: Scenario,
}

fn rows() -> Vec<Row> {
    let row = |name, class, passes, change: fn(&mut Scenario)| {
        let mut scenario = Scenario::default().with_receiver(class);
        scenario.passes = passes;
        change(&mut scenario);
        Row { name, scenario }
    };
    let plain: fn(&mut Scenario) = |_| {};
    let weave: fn(&mut Scenario) = |s| s.weave_amplitude_m = 0.15;
    let slope: fn(&mut Scenario) = |s| s.slope = 0.02;
    let sway: fn(&mut Scenario) = |s| s.sway_deg = 0.6;
    let sloppy: fn(&mut Scenario) = |s| s.stop_error_m = 0.15;
    use ReceiverClass::{Corrected, Rtk, Standalone};
    vec![
        row("rtk, 6 passes", Rtk, 6, plain),
        row("rtk, 2 passes", Rtk, 2, plain),
        row("rtk, 6 passes, weaving", Rtk, 6, weave),
        row("rtk, 4 passes, slope 2 %", Rtk, 4, slope),
        row("corrected, 6 passes", Corrected, 6, plain),
        row("corrected, 4 passes, sway", Corrected, 4, sway),
        row("corrected, 2 passes", Corrected, 2, plain),
        row("corrected, 6 passes, sloppy stops", Corrected, 6, sloppy),
        row("standalone, 6 passes", Standalone, 6, plain),
        row("standalone, 4 passes, sloppy stops", Standalone, 4, sloppy),
        row("standalone, 2 passes", Standalone, 2, plain),
        row("standalone, 10 passes, all of it", Standalone, 10, |s| {
            s.weave_amplitude_m = 0.15;
            s.slope = 0.02;
            s.sway_deg = 0.6;
        }),
    ]
}

#[derive(Default, Clone)]
struct Side {
    given: u32,
    covered: u32,
    half_widths: Vec<f64>,
    errors: Vec<f64>,
}

impl Side {
    fn add(&mut self, figure: &Option<Quantity>, sources: &Sources, truth: f64) {
        let Some(figure) = figure else { return };
        let half = cover(figure, sources, 0.95).expanded_uncertainty;
        let error = figure.value() - truth;
        self.given += 1;
        self.covered += u32::from(error.abs() <= half);
        self.half_widths.push(100.0 * half / truth);
        self.errors.push(100.0 * error / truth);
    }

    fn text(&self) -> String {
        let covered = 100.0 * f64::from(self.covered) / f64::from(self.given.max(1));
        let n = self.errors.len().max(1) as f64;
        let rms = (self.errors.iter().map(|e| e * e).sum::<f64>() / n).sqrt();
        let mean = self.errors.iter().sum::<f64>() / n;
        format!("{covered:5.1} {:7.3} {rms:6.3} {mean:+7.4}", median(&self.half_widths))
    }
}

fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.get(sorted.len() / 2).copied().unwrap_or(f64::NAN)
}

/// The course as the technician believes it, and as it is.
fn draw_course(scenario: &Scenario, seed: u64) -> (Scenario, CourseSpec) {
    let mut course = plain_course(100.0);
    course.tape.temperature_c = Some(20.0);
    let mut draws = Draws::new(seed ^ 0xC0_0B5E);
    let tape_m = 0.0203 * draws.symmetric();
    let pegs_m = course.peg_placement_m * (draws.symmetric() + draws.symmetric());
    let warm_m = 2.0 * 11.6e-6 * 100.0 * draws.symmetric();
    let mut scenario = scenario.clone();
    scenario.course_m = 100.0 + tape_m + pegs_m + warm_m;
    (scenario, course)
}

fn run(row: &Row, jobs: u64) -> ([Side; 3], u32) {
    let one = |seed| {
        let (scenario, course) = draw_course(&row.scenario, seed);
        let (mut work, truth) = simulated_work(&scenario, seed, &course);
        (work.channels.swap_remove(0), truth.wheel_impulses_per_100m)
    };
    let (mut sides, mut disagree) = (<[Side; 3]>::default(), 0);
    for (wheel, k) in on_seeds(0..jobs, one) {
        sides[0].add(&wheel.tape, &wheel.sources, k);
        sides[1].add(&wheel.satellite, &wheel.sources, k);
        sides[2].add(&wheel.combined, &wheel.sources, k);
        disagree += u32::from(wheel.agreement.is_some_and(|a| !a.agrees));
    }
    (sides, disagree)
}

fn main() {
    let mut args = std::env::args().skip(1);
    let jobs = args.next().and_then(|n| n.parse().ok()).unwrap_or(2000);
    let only = args.next().unwrap_or_default();
    println!(
        "{jobs} jobs each; per side: covered %, median half-width %, RMS error %, mean error %"
    );
    println!(
        "{:<36} {:^28}  {:^28}  {:^28}  disagree",
        "scenario", "tape", "satellite", "combined"
    );
    for row in rows().iter().filter(|row| row.name.contains(&only)) {
        let (sides, disagree) = run(row, jobs);
        println!(
            "{:<36} {}  {}  {}  {:.1} %",
            row.name,
            sides[0].text(),
            sides[1].text(),
            sides[2].text(),
            100.0 * f64::from(disagree) / jobs as f64
        );
    }
}
