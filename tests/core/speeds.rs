//! Wheel, radar and satellite speed against each other: simulated drives whose truth is known,
//! faults put in on purpose, and published figures of radars.

use serde_json::Value;
use trundle_core::result::speeds_v1::to_json;
use trundle_core::session::trail::Trail;
use trundle_core::stats::fit::york::Point;
use trundle_core::survey::ride::RideRefusal;
use trundle_core::survey::speeds::angle::{hint, share_per_degree};
use trundle_core::survey::speeds::{
    Interval, Least, NoLine, Speeds, SpeedsOptions, SpeedsRefusal, fit_pair, speeds,
};
use trundle_core::wire::board::CountSample;
use trundle_core::wire::fix::Fix;
use trundle_show::html::work::Facts;
use trundle_show::html::work::speeds::page;
use trundle_show::text::speeds::render;
use trundle_sim::{ReceiverClass, Scenario, Truth};
use trundle_tests::held::{all_written, keeps};
use trundle_tests::{replay_with_trail, simulate};

const SCHEMA: &str = include_str!("../../host/schemas/trundle-speeds-1.schema.json");
const CLASSES: [ReceiverClass; 3] = ReceiverClass::ALL;

fn steps() -> Scenario {
    Scenario::named("speed-steps").unwrap()
}

fn driven(scenario: &Scenario, seed: u64) -> (Trail, Truth) {
    let (records, truth) = simulate(scenario, seed, None);
    (replay_with_trail(&records, 0).trail().unwrap(), truth)
}

fn compared(scenario: &Scenario, seed: u64) -> (Speeds, Truth) {
    let (trail, truth) = driven(scenario, seed);
    (speeds(&trail, SpeedsOptions::default()).unwrap(), truth)
}

/// True gains of the pairs, in their order.
fn gains(truth: &Truth) -> [f64; 3] {
    let (wheel, radar) = (truth.wheel_impulses_per_100m, truth.radar_impulses_per_100m);
    [wheel / 100.0, radar / 100.0, wheel / radar]
}

/// Counts over some seeds, by pair: line's gain, mean ratio, zero offset inside their intervals,
/// offsets accused; and the number of runs.
fn cover(seeds: std::ops::Range<u64>) -> ([[u32; 4]; 3], u32) {
    let (mut hits, mut runs) = ([[0; 4]; 3], 0);
    for seed in seeds {
        let class = CLASSES[(seed % 3) as usize];
        let (speeds, truth) = compared(&steps().with_receiver(class), seed);
        runs += 1;
        for (n, gain) in gains(&truth).into_iter().enumerate() {
            let fit = speeds.pairs[n].as_ref().unwrap();
            let line = fit.line.unwrap();
            let inside =
                |i: Interval, truth: f64| u32::from((i.value - truth).abs() <= i.half_width);
            hits[n][0] += inside(line.gain, gain);
            hits[n][1] += inside(fit.ratio, gain);
            hits[n][2] += inside(line.offset, 0.0);
            hits[n][3] += u32::from(line.offset_differs);
        }
    }
    (hits, runs)
}

#[test]
fn gains_lie_in_their_intervals_and_sound_sensors_have_no_offset() {
    let (hits, runs) = cover(1..21);
    for pair in hits {
        // Of 20 at 95 %, fewer than 16 happen less than once in 350 (binomial).
        assert!(pair[..3].iter().all(|hit| *hit >= 16), "{hits:?} of {runs}");
        assert_eq!(pair[3], 0, "a sound sensor is accused: {hits:?}");
    }
}

/// One in ten: wheel and radar go 0.5 % further than a receiver's speed over ground says. Heights
/// show it; without them it is in the interval.
#[test]
fn on_a_slope_the_gains_are_those_along_the_ground() {
    let scenario = Scenario { slope: 0.1, ..steps().with_receiver(ReceiverClass::Rtk) };
    for seed in 1..4 {
        let (mut trail, truth) = driven(&scenario, seed);
        let compared = speeds(&trail, SpeedsOptions::default()).unwrap();
        for (n, gain) in gains(&truth).into_iter().enumerate() {
            let off = compared.pairs[n].as_ref().unwrap().ratio.value / gain - 1.0;
            assert!(off.abs() < 0.002, "seed {seed}, pair {n}: off by {off}");
        }
        for spell in &mut trail.spells {
            spell.fixes = spell.fixes.iter().map(|f| Fix { height_m: None, ..f }).collect();
        }
        let level = speeds(&trail, SpeedsOptions::default()).unwrap();
        for (n, gain) in gains(&truth).into_iter().take(2).enumerate() {
            let ratio = level.pairs[n].as_ref().unwrap().ratio;
            let off = (ratio.value - gain).abs();
            assert!(off < 1.2 * ratio.half_width, "seed {seed}, pair {n}: {ratio:?}, not {gain}");
        }
    }
}

/// `cargo test --release -p trundle-tests-core -- --ignored --nocapture speeds::`
#[test]
#[ignore = "a sweep of a hundred drives"]
fn the_intervals_cover_over_a_hundred_seeds() {
    let (hits, runs) = cover(1000..1100);
    let mut lines = String::new();
    for (name, hit) in ["wheel/satellite", "radar/satellite", "wheel/radar"].iter().zip(hits) {
        lines += &format!(
            "{name:<16} gain {} ratio {} offset zero {} accused {} of {runs}\n",
            hit[0], hit[1], hit[2], hit[3]
        );
    }
    assert!(hits.iter().flat_map(|h| &h[..3]).all(|h| (90..=100).contains(h)), "{lines}");
    assert!(hits.iter().all(|h| h[3] <= 1), "{lines}");
    // The only way a test can show its figures; it is run by hand.
    std::io::Write::write_all(&mut std::io::stderr(), lines.as_bytes()).unwrap();
}

/// Impulses that have nothing to do with the ground, so many each second, on the radar's input.
/// Without edge times, as a table that was imported has none.
fn with_offset(mut trail: Trail, hz: f64) -> Trail {
    for spell in &mut trail.spells {
        let offset = |mut sample: CountSample| {
            sample.impulses[1] += (hz * sample.board_us as f64 * 1e-6) as u64;
            sample.last_edge_us[1] = None;
            sample
        };
        spell.counts = spell.counts.iter().map(offset).collect();
    }
    trail
}

#[test]
fn an_offset_of_the_radar_is_found_and_laid_at_its_door() {
    let (trail, truth) = driven(&steps(), 31);
    let sound = speeds(&with_offset(trail.clone(), 0.0), SpeedsOptions::default()).unwrap();
    assert!(sound.agree(), "whole counts alone are no offset: {:?}", sound.pairs);
    let speeds = speeds(&with_offset(trail, 6.0), SpeedsOptions::default()).unwrap();
    let line = |n: usize| speeds.pairs[n].as_ref().unwrap().line.unwrap();
    assert!(!line(0).offset_differs, "the wheel is sound: {:?}", line(0));
    assert!(line(1).offset_differs && line(2).offset_differs, "{:?}", speeds.pairs);
    let (gain, offset) = (line(1).gain, line(1).offset);
    assert!((offset.value - 6.0).abs() <= offset.half_width, "{offset:?}");
    let radar = truth.radar_impulses_per_100m / 100.0;
    assert!((gain.value - radar).abs() <= gain.half_width, "{gain:?}, truly {radar}");
    assert!(render(&Ok(speeds.clone())).starts_with("SPEEDS: THE THREE DO NOT AGREE"));
    // It counts at standstill too: 6 Hz is 360 a minute.
    let standing = speeds.standing;
    assert!(standing.seconds > 40.0, "{standing:?}");
    let per_minute = standing.impulses.map(|n| 60.0 * n / standing.seconds);
    assert!(per_minute[0] < 1e-9 && (per_minute[1] - 360.0).abs() < 30.0, "{per_minute:?}");
}

#[test]
fn the_speed_below_which_the_radar_is_silent_is_found() {
    let deaf = Scenario { radar_least_m_s: 0.5, ..steps() };
    let (speeds, _) = compared(&deaf, 32);
    let least = |channel: usize| speeds.singles[channel].as_ref().unwrap().least;
    let Least::From { speed_m_s, fails_at_m_s } = least(1) else { panic!("{:?}", least(1)) };
    // Driven were 0.35 and 0.6 m/s.
    assert!((0.5..0.65).contains(&speed_m_s) && fails_at_m_s < 0.5, "{:?}", least(1));
    assert!(matches!(least(0), Least::BelowSlowest { slowest_m_s } if slowest_m_s < 0.4));
    assert!(speeds.agree(), "what it does not see it does not falsify: {:?}", speeds.pairs);
    let text = render(&Ok(speeds.clone()));
    assert!(text.contains("radar: usable from ") && text.contains("impulses missing"), "{text}");
    assert!(text.contains("wheel: lowest usable speed is below the slowest"), "{text}");
}

#[test]
fn a_standing_tractor_is_refused() {
    let parked = Scenario { rest_s: 60.0, ..Scenario::named("pto-speeds").unwrap() };
    let compared = speeds(&driven(&parked, 33).0, SpeedsOptions::default());
    assert!(matches!(compared, Err(SpeedsRefusal::Stationary { .. })), "{compared:?}");
    assert!(render(&compared).starts_with("SPEEDS: NO RESULT: the tractor stood"));
    let nothing = speeds(&Trail::default(), SpeedsOptions::default());
    assert_eq!(nothing, Err(SpeedsRefusal::Ride(RideRefusal::NoFixes)));
}

#[test]
fn one_speed_gives_ratios_and_says_why_no_more() {
    let one = Scenario { speed_steps_m_s: vec![2.2, 0.0, 2.4], speed_hold_s: 30.0, ..steps() };
    let (speeds, truth) = compared(&one, 34);
    for (fit, gain) in speeds.pairs.iter().zip(gains(&truth)) {
        let fit = fit.as_ref().unwrap();
        let Err(NoLine::RangeTooSmall { factor }) = fit.line else { panic!("{fit:?}") };
        assert!(factor < 1.5, "{factor}");
        assert!((fit.ratio.value - gain).abs() <= 1.5 * fit.ratio.half_width, "{fit:?}, {gain}");
    }
    let text = render(&Ok(speeds.clone()));
    assert!(text.starts_with("SPEEDS: RATIOS ONLY"), "{text}");
    assert!(text.contains("factor of 1.10 only, 1.5 is needed"), "{text}");
    assert!(!speeds.agree());
    // Never changing speed at all, there is no lag to be seen and nothing to compare.
    let even = [(1.0, 2.0), (1.0, 2.0)].map(|(x, y)| Point::new(x, y, 0.1, 0.1));
    assert_eq!(fit_pair(&even), Err(NoLine::TooFew { found: 2 }));
}

/// Drives with pegs and turns hold stretches too, and a turn is none of them.
#[test]
fn a_job_with_turns_gives_the_same_gains() {
    for name in ["plain", "wide-antenna"] {
        let job = Scenario { passes: 3, ..Scenario::named(name).unwrap() };
        let (speeds, truth) = compared(&job, 35);
        let fit = speeds.pairs[0].as_ref().unwrap();
        let off = (fit.ratio.value - gains(&truth)[0]).abs();
        assert!(off <= 1.5 * fit.ratio.half_width, "{name}: {off}: {fit:?}");
    }
}

/// f = 2 v cos(theta) / lambda at 24.125 GHz: computed with the exact speed of light (BIPM SI
/// brochure, 9th edition), as are the shares for a degree. Two of the cosines stand in a published
/// table of traffic radars (55 mph read at 10, 20, 30 and 40 degrees as 54, 52, 48 and 42, mixed
/// rounding).
#[test]
fn the_doppler_figures_are_those_of_physics() {
    for (angle_deg, per_m, share) in [
        (35.0, 131.838, 0.012_22),
        (37.0, 128.536, 0.013_15),
        (40.0, 123.291, 0.014_65),
        (30.0, 139.382, 0.010_08),
        (45.0, 113.805, 0.017_45),
    ] {
        let steeper_deg = hint(per_m, 131.838, 35.0).steeper_deg.unwrap();
        assert!((35.0 + steeper_deg - angle_deg).abs() < 1e-3, "{angle_deg}: {steeper_deg}");
        assert!((share_per_degree(angle_deg) - share).abs() < 6e-6, "{angle_deg}");
    }
    for (angle_deg, mph) in [(10.0, 54.16), (20.0, 51.68), (30.0, 47.63), (40.0, 42.13)] {
        let steeper_deg = hint(mph, 55.0, 0.0).steeper_deg.unwrap();
        assert!((steeper_deg - angle_deg).abs() < 0.05, "{angle_deg}: {steeper_deg}");
    }
    // One degree steeper is 1.237 % less, one flatter 1.207 % more.
    for (share, steeper_deg) in [(-0.012_37, 1.0), (0.012_07, -1.0)] {
        let hint = hint(130.0 * (1.0 + share), 130.0, 35.0);
        assert!((hint.steeper_deg.unwrap() - steeper_deg).abs() < 1e-3, "{hint:?}");
        assert!((hint.difference - share).abs() < 1e-12);
    }
    assert_eq!(hint(200.0, 130.0, 35.0).steeper_deg, None);
}

/// Each kind of result once.
fn results() -> Vec<Result<Speeds, SpeedsRefusal>> {
    let plain = SpeedsOptions::default();
    let nominal = SpeedsOptions { radar_nominal_per_m: Some(130.0), ..plain };
    let absurd = SpeedsOptions { radar_nominal_per_m: Some(50.0), ..plain };
    let (trail, _) = driven(&steps(), 41);
    let deaf = driven(&Scenario { radar_least_m_s: 0.5, ..steps() }, 42).0;
    let none =
        driven(&Scenario { radar_least_m_s: 99.0, radar_standstill_hz: 0.0, ..steps() }, 43).0;
    let one = Scenario { speed_steps_m_s: vec![2.2, 0.0, 2.4], speed_hold_s: 30.0, ..steps() };
    vec![
        speeds(&trail, nominal),
        speeds(&trail, absurd),
        speeds(&with_offset(trail, 6.0), plain),
        speeds(&deaf, plain),
        speeds(&none, plain),
        speeds(&driven(&one, 44).0, plain),
        speeds(&Trail::default(), plain),
    ]
}

#[test]
fn results_keep_to_schema_terminal_and_page() {
    let results = results();
    let all: Vec<Value> =
        results.iter().map(|result| serde_json::from_str(&to_json(result)).unwrap()).collect();
    keeps(SCHEMA, &all);
    all_written(SCHEMA, &all);
    for state in ["agree", "disagree", "incomplete", "ratios_only", "refused"] {
        assert!(all.iter().any(|value| value["state"] == state), "no result is {state}");
    }
    for result in &results {
        let text = render(result);
        assert!(text.starts_with("SPEEDS: ") && text.ends_with('\n'), "{text}");
        for line in text.lines() {
            assert!(line.chars().count() <= 100, "{line}");
            assert_eq!(line.trim_end(), line, "blanks at the end");
        }
        check_page(&page(result, &Facts { capture_name: "<b>&".to_owned(), ..Facts::default() }));
    }
    let drawn = page(&results[0], &Facts::default());
    for mark in ["class=\"mark\"", "mark radar", "class=\"fit\"", "class=\"fit radar\""] {
        assert!(drawn.contains(mark), "{mark} is not drawn");
    }
    assert!(render(&results[0]).contains("HINT, no warning"));
}

/// Nothing runs, nothing is loaded, nothing gets in unescaped, and all that opens closes.
fn check_page(page: &str) {
    assert!(page.contains("default-src 'none'; style-src 'unsafe-inline'"), "no policy");
    for word in
        ["<script", "<img", "<link", "href=", "src=", "http:", "https:", "<b>", "NaN", "inf"]
    {
        assert!(!page.contains(word), "{word} in the page");
    }
    for tag in ["svg", "section", "table", "div", "ul", "figure", "g", "line", "text"] {
        let opened =
            page.matches(&format!("<{tag} ")).count() + page.matches(&format!("<{tag}>")).count();
        assert_eq!(opened, page.matches(&format!("</{tag}>")).count(), "<{tag}>");
    }
}
