//! What the receiver sends, held against what really happened.

use geographiclib_rs::{Geodesic, InverseGeodesic};
use trundle_sim::{Port, ReceiverClass, Scenario, Sentence, Truth, record_all};

/// Sentences with the time at which their last byte came.
fn sentences(scenario: &Scenario, seed: u64) -> (Vec<(u64, String)>, Truth) {
    let (out, truth) = record_all(scenario, seed);
    let (mut lines, mut line) = (Vec::new(), Vec::new());
    for emission in out.iter().filter(|emission| emission.port == Port::Receiver) {
        for &byte in &emission.bytes {
            line.push(byte);
            if byte == b'\n' {
                lines
                    .push((emission.sim_us, String::from_utf8(std::mem::take(&mut line)).unwrap()));
            }
        }
    }
    (lines, truth)
}

/// Seconds since the start of the day.
fn seconds(field: &str) -> f64 {
    let number = |from: usize, to: usize| field[from..to].parse::<f64>().unwrap();
    number(0, 2) * 3600.0 + number(2, 4) * 60.0 + number(4, field.len())
}

/// Degrees of `ddmm.mmmm`.
fn degrees(field: &str) -> f64 {
    let dot = field.find('.').unwrap();
    let (whole, minutes) = field.split_at(dot - 2);
    whole.parse::<f64>().unwrap() + minutes.parse::<f64>().unwrap() / 60.0
}

/// Time since the start, latitude, longitude, ellipsoidal height.
fn places(lines: &[(u64, String)]) -> Vec<[f64; 4]> {
    lines
        .iter()
        .filter(|(_, line)| line.starts_with("$GNGGA"))
        .map(|(_, line)| {
            let field: Vec<&str> = line.split(',').collect();
            let metres = |index: usize| field[index].parse::<f64>().unwrap();
            let since_s = seconds(field[1]) - 8.0 * 3600.0;
            [since_s, degrees(field[2]), degrees(field[4]), metres(9) + metres(11)]
        })
        .collect()
}

fn mean(places: &[[f64; 4]], from_s: f64, to_s: f64) -> [f64; 3] {
    let inside: Vec<_> = places.iter().filter(|p| (from_s..to_s).contains(&p[0])).collect();
    assert!(inside.len() > 20, "{} places from {from_s} s", inside.len());
    std::array::from_fn(|axis| {
        inside.iter().map(|p| p[axis + 1]).sum::<f64>() / inside.len() as f64
    })
}

/// Slope distance by the ellipsoidal inverse, brought to the ground's height.
fn slope_m(a: [f64; 3], b: [f64; 3]) -> f64 {
    let on_ellipsoid: f64 = Geodesic::wgs84().inverse(a[0], a[1], b[0], b[1]);
    // Mean radius of the WGS 84 ellipsoid, 6 371 009 m (Moritz 2000).
    let flat = on_ellipsoid * (1.0 + 62.0 / 6_371_009.0);
    flat.hypot(b[2] - a[2])
}

#[test]
fn every_sentence_has_its_checksum() {
    let mut scenario = Scenario { passes: 1, ..Scenario::default() };
    scenario.receiver.sentences = vec![
        Sentence::Gga,
        Sentence::Rmc,
        Sentence::Vtg,
        Sentence::Gsa,
        Sentence::Gsv,
        Sentence::Gst,
        Sentence::Zda,
    ];
    scenario.receiver.rate_hz = 5;
    let (lines, _) = sentences(&scenario, 1);
    for (_, line) in &lines {
        let (body, sum) = line.trim_end().strip_prefix('$').unwrap().split_once('*').unwrap();
        let expected = body.bytes().fold(0, |sum, byte| sum ^ byte);
        assert_eq!(u8::from_str_radix(sum, 16).unwrap(), expected, "{line}");
        assert!(line.ends_with("\r\n") && line.len() < 110, "{line}");
    }
    for kind in ["GGA", "RMC", "VTG", "GSA", "GSV", "GST", "ZDA"] {
        assert!(lines.iter().any(|(_, line)| line.get(3..6) == Some(kind)), "no {kind}");
    }
}

#[test]
fn sentences_arrive_late_but_never_early_and_never_miss() {
    let (lines, truth) = sentences(&Scenario { passes: 1, ..Scenario::default() }, 2);
    let mut epochs = 0;
    for (came_us, line) in lines.iter().filter(|(_, line)| line.starts_with("$GNGGA")) {
        let tag_s = seconds(line.split(',').nth(1).unwrap()) - 8.0 * 3600.0;
        let late_s = *came_us as f64 * 1e-6 - tag_s;
        // 40 ms to compute and up to two chunks of 64 bytes at 87 us a byte.
        assert!((0.04..0.06).contains(&late_s), "late by {late_s}: {line}");
        assert!((tag_s - f64::from(epochs) / 10.0).abs() < 1e-6, "{line}");
        epochs += 1;
    }
    assert!(f64::from(epochs) / 10.0 > truth.end_us as f64 * 1e-6 - 0.3);
}

#[test]
fn the_chord_between_the_rests_is_true() {
    for name in ["plain", "slope"] {
        let mut offs = Vec::new();
        for seed in 1..=10 {
            let (lines, truth) = sentences(&Scenario::named(name).unwrap(), seed);
            let places = places(&lines);
            for pass in &truth.passes {
                let rest = |mark_us: u64| {
                    let at_s = mark_us as f64 * 1e-6;
                    mean(&places, at_s - 5.5, at_s + 3.5)
                };
                let off = slope_m(rest(pass.start_us), rest(pass.finish_us)) - pass.chord_m;
                // The slow error (8 mm) and the nod of the tractor (0.2 degrees at 2.9 m, so
                // 10 mm), at both ends: 18 mm. Five of these.
                assert!(off.abs() < 0.09, "{name}, seed {seed}: {off} in {pass:?}");
                offs.push(off);
            }
        }
        // Four standard errors: a scale wrong by 1e-4 would be seen here.
        let mean = offs.iter().sum::<f64>() / offs.len() as f64;
        assert!(mean.abs() < 4.0 * 0.018 / (offs.len() as f64).sqrt(), "{name}: mean {mean}");
    }
}

#[test]
fn scatter_at_rest_is_as_the_class_says() {
    for (class, white_m) in [
        (ReceiverClass::Rtk, 0.004),
        (ReceiverClass::Corrected, 0.03),
        (ReceiverClass::Standalone, 0.05),
    ] {
        let mut scenario = Scenario { passes: 1, rest_s: 120.0, ..Scenario::default() };
        scenario = scenario.with_receiver(class);
        let noise = scenario.receiver.noise;
        let (lines, _) = sentences(&scenario, 3);
        let rest: Vec<_> = places(&lines).into_iter().filter(|p| p[0] < 119.0).collect();
        let north_m = |p: &[f64; 4]| p[1] * 111_267.0;
        let steps: Vec<f64> =
            rest.windows(2).map(|pair| north_m(&pair[1]) - north_m(&pair[0])).collect();
        let found = steps.iter().map(|d| d * d).sum::<f64>() / steps.len() as f64;
        // Twice the variance, less what successive values of the slow errors share; printing
        // rounds to 10^-d minutes of 1854 m: a uniform error at both ends of a step.
        let kept = |constant_s: f64| 1.0 - (-0.1 / constant_s).exp();
        let printed_m = 1854.0 * 10_f64.powi(-(scenario.receiver.minute_decimals as i32));
        let expected = 2.0
            * (white_m * white_m
                + noise.markov_m.powi(2) * kept(noise.markov_s)
                + noise.slow_m.powi(2) * kept(noise.slow_s)
                + printed_m * printed_m / 12.0);
        // 1190 steps that share their ends: 5 % standard error at most.
        let ratio = found / expected;
        assert!((0.8..1.2).contains(&ratio), "{class:?}: {ratio} ({})", found.sqrt());
    }
}

#[test]
fn integrated_speed_gives_the_path() {
    let mut scenario = Scenario { passes: 2, ..Scenario::default() };
    scenario.receiver.noise.doppler_m_s = 0.0;
    let (lines, truth) = sentences(&scenario, 4);
    for pass in &truth.passes {
        let metres: f64 = lines
            .iter()
            .filter(|(_, line)| line.starts_with("$GNRMC"))
            .map(|(_, line)| line.split(',').collect::<Vec<_>>())
            .filter(|field| {
                let since_us = (seconds(field[1]) - 8.0 * 3600.0) * 1e6;
                (pass.start_us as f64..pass.finish_us as f64).contains(&since_us)
            })
            // A knot is 1852 m in an hour by definition; the speed is horizontal.
            .map(|field| field[7].parse::<f64>().unwrap() * 1852.0 / 3600.0 * 0.1)
            .sum();
        assert!((metres / pass.wheel_path_m - 1.0).abs() < 1e-4, "{metres} of {pass:?}");
    }
}

#[test]
fn faults_of_the_receiver_show_in_its_sentences() {
    let qualities = |name: &str| {
        let (lines, _) = sentences(&Scenario::named(name).unwrap(), 5);
        let of = |q: &str| {
            lines
                .iter()
                .filter(|(_, line)| line.starts_with("$GNGGA") && line.split(',').nth(6) == Some(q))
                .count()
        };
        (of("4"), of("5"), of("1"), places(&lines))
    };
    let (all, none, _, _) = qualities("plain");
    assert_eq!(none, 0);
    let (_, five, one, _) = qualities("fix-degraded");
    assert_eq!((five, one), (150, 60));
    let (kept, _, _, _) = qualities("receiver-gap");
    // The gap lasts 8 s; a sentence cut by its ends is lost too.
    assert!((79..=82).contains(&(all - kept)), "{} epochs lost", all - kept);
    let (_, _, _, frozen) = qualities("fix-frozen");
    let still = frozen.windows(2).filter(|pair| pair[0][1..] == pair[1][1..]).count();
    assert!((40..45).contains(&still), "{still} repeated places");
}
