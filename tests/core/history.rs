//! Has the figure of a rig changed? Against published lines, the definition of the normalised
//! error, and invented seasons whose truth is known.

use chrono::{Days, NaiveDate};
use serde_json::Value;
use trundle_core::history::{
    DAYS_PER_YEAR, History, HistoryRefusal, NoTrend, Point, Shared, Stability, history, sentence,
};
use trundle_core::result::history_points::{Which, points};
use trundle_core::result::history_v1::{HistoryFacts, to_json};
use trundle_core::stats::budget::student::coverage_factor;
use trundle_show::html::history::page;
use trundle_show::text::history::render;
use trundle_tests::Draws;
use trundle_tests::held::{all_written, keeps};
use trundle_tests::pages::{NASTY, check_shape, tags};
use trundle_tests::signed::{Signed, season, signed, worked};

const SCHEMA: &str = include_str!("../../host/schemas/trundle-history-1.schema.json");
/// 97.5 % quantile of the normal distribution (tables).
const Z95: f64 = 1.959_963_984_540_054;

fn near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "found {found}, expected {expected} ± {within}");
}

fn day(after: u64) -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 3, 2).unwrap() + Days::new(after)
}

/// A figure of one day, its doubt sure and its own.
fn at(after: u64, figure: f64, u: f64) -> Point {
    Point {
        record: format!("record-{after}"),
        day: day(after),
        figure,
        standard_uncertainty: u,
        degrees_of_freedom: f64::INFINITY,
        shared: None,
        amended: false,
    }
}

fn with_tape(point: Point, key: &str, u: f64) -> Point {
    let shared = Some(Shared { key: key.to_owned(), standard_uncertainty: u });
    Point { shared, ..point }
}

fn facts() -> HistoryFacts {
    HistoryFacts { rig: "Old grey".to_owned(), channel: "wheel".to_owned(), practice: false }
}

#[test]
fn normalised_error_by_its_definition() {
    // ISO 13528 (as in the NIST Dataplot reference): 10.06 with U 0.04 against 10.00 with U 0.05.
    let found = history(&[at(0, 10.0, 0.05 / Z95), at(9, 10.06, 0.04 / Z95)]).unwrap();
    let change = found.newest().unwrap().previous.unwrap();
    near(change.normalised_error, 0.937_043, 5e-7);
    assert!(!change.significant && found.verdict == Stability::Steady);
    near(change.share, 0.006, 1e-12);
    assert_eq!(found.newest().unwrap().mean, Some(change), "of one, the mean is that one");
    assert_eq!(found.trend, Err(NoTrend::TooFew { have: 2, need: 3 }));
}

#[test]
fn what_both_share_makes_no_difference() {
    // Each has u 3 from its tape and u 1 of its own: by the law of propagation (JCGM 100, eq. 16)
    // the same tape leaves √2 in the difference, another one √20.
    let one = |after, figure, key| with_tape(at(after, figure, 10.0_f64.sqrt()), key, 3.0);
    let same = history(&[one(0, 100.0, "a"), one(1, 101.0, "a")]).unwrap();
    let other = history(&[one(0, 100.0, "a"), one(1, 101.0, "b")]).unwrap();
    let en = |found: &History| found.newest().unwrap().previous.unwrap().normalised_error;
    near(en(&same), 1.0 / (2.0_f64.sqrt() * Z95), 1e-9);
    near(en(&other), 1.0 / (20.0_f64.sqrt() * Z95), 1e-9);
}

#[test]
fn degrees_of_freedom_go_through() {
    // Each u 1 with 4 degrees of freedom: 8 for the difference (JCGM 100, G.2b), t 2.306 (scipy).
    let few = |after, figure| Point { degrees_of_freedom: 4.0, ..at(after, figure, 1.0) };
    let found = history(&[few(0, 100.0), few(1, 103.0)]).unwrap();
    let change = found.newest().unwrap().previous.unwrap();
    near(change.normalised_error, 3.0 / (2.306 * 2.0_f64.sqrt()), 2e-4);
    // What is shared has no end of them: of the 16 of a whole whose variance is half shared, 4 are
    // left to the other half, and the difference of two has 8 again.
    let half = Point { degrees_of_freedom: 16.0, ..at(0, 100.0, 2.0_f64.sqrt()) };
    let first = with_tape(half, "a", 1.0);
    let second = Point { day: day(1), figure: 103.0, ..first.clone() };
    let change = history(&[first, second]).unwrap().newest().unwrap().previous.unwrap();
    near(change.normalised_error, 3.0 / (2.306 * 2.0_f64.sqrt()), 2e-4);
}

#[test]
fn weighted_mean_of_all_before() {
    // 13002.5, 13008.0, 12995.0 with u 3, 4, 5: mean 13002.704811, u 2.163655, Birge ratio 1.437300
    // (computed with numpy, statsmodels), so u 3.109823.
    let before = [at(0, 13_002.5, 3.0), at(5, 13_008.0, 4.0), at(9, 12_995.0, 5.0)];
    let mut all = before.to_vec();
    all.push(at(20, 13_020.0, 3.0));
    let found = history(&all).unwrap();
    let mean = found.newest().unwrap().mean.unwrap();
    near(mean.reference, 13_002.704_811, 5e-7);
    near(mean.reference_standard_uncertainty, 3.109_823, 5e-7);
    assert_eq!((mean.points, mean.since), (3, day(0)));
    // An amended record is shown, and changes nothing.
    all.insert(2, Point { amended: true, ..at(7, 12_000.0, 1.0) });
    let with_amended = history(&all).unwrap();
    assert_eq!(with_amended.newest(), found.newest());
    assert_eq!(with_amended.steps.len(), 5);
    assert!(with_amended.steps[2].previous.is_none() && with_amended.steps[2].point.amended);
    assert_eq!(with_amended.trend, found.trend);
    // Nor does the order in which they come.
    all.reverse();
    assert_eq!(history(&all).unwrap(), with_amended);
}

#[test]
fn trend_of_published_lines() {
    // ISO/TS 28037:2010, 6.3, examples 1 and 2, a day for each step of x: slope 1.757 (0.120),
    // chi-squared 1.665, and 2.057 (0.178), chi-squared 4.131, which is more than its 4 degrees of
    // freedom, so that the interval is enlarged.
    let line = |y: [f64; 6], u: [f64; 6]| {
        let points: Vec<Point> = (1_u64..).zip(y).zip(u).map(|((x, y), u)| at(x, y, u)).collect();
        history(&points).unwrap().trend.unwrap()
    };
    let first = line([3.3, 5.6, 7.1, 9.3, 10.7, 12.1], [0.5; 6]);
    near(first.line.slope, 1.757, 0.0006);
    near(first.line.u_slope, 0.120, 0.0006);
    near(first.line.chi_squared, 1.665, 0.0006);
    // Counted from the first day, which is x = 1: 1.867 + 1.757.
    near(first.at(day(1)), 3.624, 0.0012);
    let per_year = DAYS_PER_YEAR / first.mean;
    near(first.half_width_per_year / per_year, Z95 * first.line.u_slope, 1e-9);
    assert!(first.significant);
    let second = line([3.2, 4.3, 7.6, 8.6, 11.7, 12.8], [0.5, 0.5, 0.5, 1.0, 1.0, 1.0]);
    near(second.line.slope, 2.057, 0.0006);
    near(second.line.chi_squared, 4.131, 0.0006);
    let half = second.half_width_per_year * second.mean / DAYS_PER_YEAR;
    let scatter = second.line.reduced_chi_squared().sqrt();
    assert!(scatter > 1.0 && half >= Z95 * second.line.u_slope * scatter, "{half}");
    assert!(half <= coverage_factor(0.95, 4.0) * second.line.u_slope * scatter, "{half}");
}

#[test]
fn another_tape_may_tilt_the_line() {
    let point =
        |after: u64, key: &str| with_tape(at(after, 13_000.0 + 0.02 * after as f64, 5.0), key, 4.0);
    let same: Vec<Point> = (0..6).map(|n| point(60 * n, "a")).collect();
    let changed: Vec<Point> =
        (0..6).map(|n| point(60 * n, if n < 3 { "a" } else { "b" })).collect();
    let (same, changed) = (history(&same).unwrap(), history(&changed).unwrap());
    let (same, changed) = (same.trend.unwrap(), changed.trend.unwrap());
    near(same.share_per_year, changed.share_per_year, 1e-15);
    // With one tape throughout only each record's own u of 3 counts; x is 0 to 5 times 60 days,
    // with a sum of squares of 17.5 about its mean.
    let u_slope = 3.0 / (60.0 * 17.5_f64.sqrt());
    let per_year = DAYS_PER_YEAR / same.mean;
    near(same.half_width_per_year, Z95 * u_slope * per_year, 1e-9);
    // The step of half a line's length, 4.5/17.5 a step of 60 days for each tape.
    let tilt = 4.0 * 4.5 / 17.5 / 60.0 * 2.0_f64.sqrt();
    near(changed.half_width_per_year, Z95 * u_slope.hypot(tilt) * per_year, 1e-9);
}

#[test]
fn one_record_gives_nothing_yet() {
    let refused = [
        (vec![], "NO_RECORD"),
        (vec![at(0, 13_000.0, 5.0)], "ONE_RECORD"),
        (vec![at(0, 13_000.0, 5.0), Point { amended: true, ..at(1, 1.0, 1.0) }], "ONE_RECORD"),
        (vec![at(0, 13_000.0, 5.0), at(1, f64::NAN, 5.0)], "NO_VALUE"),
        (vec![at(0, 13_000.0, 0.0), at(1, 13_000.0, 5.0)], "NO_VALUE"),
        (vec![with_tape(at(0, 13_000.0, 5.0), "a", 5.0), at(1, 13_000.0, 5.0)], "NO_VALUE"),
    ];
    for (points, code) in refused {
        let refused = history(&points).unwrap_err();
        assert_eq!(refused.code(), code);
        assert!(!refused.means().is_empty() && !refused.next().is_empty());
        let text = render(&Err(refused), &facts());
        assert!(text.starts_with("HISTORY: NO RESULT: "), "{text}");
    }
    assert_eq!(history(&[at(0, 13_000.0, 5.0)]), Err(HistoryRefusal::OneRecord { day: day(0) }));
    // Two of one day can be compared, but have no trend; three neither.
    let found = history(&[at(0, 1.0, 0.1), at(0, 1.1, 0.1), at(0, 1.2, 0.1)]).unwrap();
    assert_eq!(found.trend, Err(NoTrend::OneDay));
}

fn seasons() -> Vec<(Stability, &'static str, Vec<Point>)> {
    // Up by 3 each time, but for the last, which alone is within chance of the one before and of
    // the mean.
    let slow = (0_u64..11).map(|n| at(100 * n, 13_000.0 + 3.0 * n as f64, 4.0));
    let slow: Vec<Point> = slow.chain([at(1100, 13_020.0, 4.0)]).collect();
    vec![
        (
            Stability::Changed,
            "The value has gone up by 0.80 % since 2026-03-02. The change is significant.",
            vec![at(0, 13_000.0, 5.0), at(70, 13_104.0, 5.0)],
        ),
        (
            Stability::Changed,
            "The value has gone down by 2.0 % since 2026-05-11. The change is significant.",
            vec![at(0, 13_000.0, 60.0), at(70, 13_000.0, 60.0), at(140, 12_740.0, 60.0)],
        ),
        (
            Stability::Moved,
            "The value has gone up by 0.09 % against the mean of the 4 records since 2026-03-02. \
             The change is significant.",
            (0..4).map(|n| at(10 * n, 13_000.0, 5.0)).chain([at(90, 13_012.0, 5.0)]).collect(),
        ),
        (
            Stability::Drifting,
            "The value drifts up by 0.07 % a year. The drift is significant.",
            slow,
        ),
        (
            Stability::Steady,
            "The value has stayed the same since 2026-03-02: it differs by 0.04 %, and chance \
             alone makes up to 0.11 %.",
            vec![at(0, 13_000.0, 5.0), at(70, 13_005.0, 5.0)],
        ),
    ]
}

#[test]
fn the_answer_is_plain() {
    for (verdict, said, points) in seasons() {
        let found = history(&points).unwrap();
        assert_eq!(found.verdict, verdict, "{said}: {}", sentence(&found));
        assert!(sentence(&found).starts_with(said), "{said}\n{}", sentence(&found));
        let text = render(&Ok(found.clone()), &facts());
        assert!(text.replace("\n  ", " ").starts_with(&format!("HISTORY: {said}")), "{text}");
        assert!(text.lines().all(|line| line.chars().count() <= 100), "{text}");
        assert_eq!(text.contains("may have made it"), verdict != Stability::Steady, "{text}");
        let page = page(&Ok(found), &facts());
        check_shape(said, &page);
        assert!(page.contains(said.split(':').next().unwrap()), "{said}");
    }
}

/// How often chance alone is called a change: 5 in 100, by 1000 pairs give or take.
#[test]
fn chance_is_called_a_change_as_often_as_it_says() {
    let mut draws = Draws::new(20_260_302);
    let (mut alarms, runs) = (0, 1000);
    for _ in 0..runs {
        let tape = 5.0 * draws.normal();
        let mut one = |after| {
            let figure = 13_000.0 + tape + 4.0 * draws.normal();
            with_tape(at(after, figure, 41.0_f64.sqrt()), "a", 5.0)
        };
        let found = history(&[one(0), one(50)]).unwrap();
        alarms += u32::from(found.verdict == Stability::Changed);
    }
    // Binomial, 1000 times 0.05: 50 ± 6.9; three standard deviations.
    assert!((30..=70).contains(&alarms), "{alarms} of {runs}, seed 20260302");
}

#[test]
fn records_become_points() {
    let season = season();
    let which = |rig, practice| Which { rig, channel: "wheel", practice };
    let grey = points(&season, which("OLD GREY", true)).unwrap();
    assert_eq!(grey.len(), 4, "three, and one that amends the last");
    let amended: Vec<bool> = grey.iter().map(|point| point.amended).collect();
    assert_eq!(amended, [false, false, true, false]);
    for point in &grey {
        let shared = point.shared.as_ref().unwrap();
        assert_eq!(shared.key, "Long one, T-1");
        assert!(shared.standard_uncertainty < point.standard_uncertainty);
        assert!(shared.standard_uncertainty > 0.0);
    }
    let found = history(&grey).unwrap();
    let newest = found.newest().unwrap();
    near(newest.previous.unwrap().share, 1.009 / 1.004 - 1.0, 1e-9);
    assert_eq!(newest.point.day, NaiveDate::from_ymd_opt(2026, 8, 20).unwrap());
    // Simulated and measured ones never mix; nobody measured here.
    assert!(points(&season, which("Old grey", false)).unwrap().is_empty());
    assert!(points(&season, which("Green", true)).unwrap().is_empty());
    // Without a tape named nothing is known to be shared.
    let plain = signed(&worked(), &Signed { tape: None, ..Signed::default() });
    assert!(points(&[plain], which("Old grey", true)).unwrap()[0].shared.is_none());
}

#[test]
fn the_json_keeps_to_its_schema() {
    let mut all: Vec<Value> = Vec::new();
    let mut put = |found: &Result<History, HistoryRefusal>| {
        all.push(serde_json::from_str(&to_json(found, &facts())).unwrap());
    };
    for (_, _, points) in seasons() {
        put(&history(&points));
    }
    put(&history(&[]));
    put(&history(&[with_tape(at(0, 13_000.0, 5.0), "a", 2.0), at(1, 13_001.0, 5.0)]));
    keeps(SCHEMA, &all);
    all_written(SCHEMA, &all);
}

#[test]
fn the_page_reads_without_colour_and_lets_nothing_in() {
    let nasty = HistoryFacts { rig: NASTY.to_owned(), channel: NASTY.to_owned(), practice: true };
    let mut points: Vec<Point> = (0..4).map(|n| at(40 * n, 13_000.0 + n as f64, 5.0)).collect();
    points.push(Point { amended: true, record: NASTY.to_owned(), ..at(130, 13_050.0, 5.0) });
    let found = history(&points);
    for result in [found, history(&[]), history(&[at(0, f64::NAN, 1.0), at(1, 1.0, 1.0)])] {
        let page = page(&result, &nasty);
        check_shape("history", &page);
        let (tags, text) = tags(&page);
        assert!(tags.iter().all(|tag| !["script", "img", "a"].contains(&tag.name.as_str())));
        assert!(!text.contains('\u{202e}') && text.contains("Practice"));
    }
    let page = page(&history(&points), &nasty);
    // Used records have filled squares and intervals, amended ones open circles and none.
    assert_eq!(page.matches("class=\"whisker\" x1=\"0\"").count(), 4);
    assert_eq!(page.matches("class=\"mark radar\"").count(), 2, "one, and its legend");
    assert!(page.contains("class=\"fit radar\""), "a trend that may be chance is broken");
    assert!(!page.contains("Capture "), "it comes from records, not from one capture");
    assert!(page.contains("amended: not used"));
}
