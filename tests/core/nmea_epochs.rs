//! The rules of an epoch, of the date and of the plausibility gate, one by one.
//!
//! Week rollover: 1024 weeks are 7168 days; 2019-04-07 minus 7168 days is 1999-08-22, the two
//! published rollovers of the ten-bit week number (IS-GPS-200, 20.3.3.3.1.1, from memory).

use chrono::DateTime;
use trundle_core::wire::fix::{EpochAssembler, EpochCounts, Fix, FixEvent, Quality, Refusal};
use trundle_core::wire::gate::{Gate, GateReason, GateRuling};
use trundle_core::wire::sentence::parse;

fn utc(text: &str) -> i64 {
    DateTime::parse_from_rfc3339(text).unwrap().timestamp_nanos_opt().unwrap()
}

/// Runs sentences (without `$` and checksum) through an assembler, stamped 1, 2, 3…
fn run(reference: Option<&str>, bodies: &[&str]) -> (Vec<FixEvent>, EpochCounts) {
    let mut assembler = EpochAssembler::new(reference.map(utc));
    let mut events = Vec::new();
    for (index, body) in bodies.iter().enumerate() {
        let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
        let sentence = parse(format!("${body}*{sum:02X}").as_bytes()).unwrap();
        events.extend(assembler.push(&sentence, index as u64 + 1));
    }
    events.extend(assembler.flush());
    (events, assembler.counts())
}

fn fixes(reference: Option<&str>, bodies: &[&str]) -> Vec<Fix> {
    let (events, _) = run(reference, bodies);
    let fix = |event| if let FixEvent::Fix(fix) = event { fix } else { panic!("{event:?}") };
    events.into_iter().map(fix).collect()
}

fn only_refusal(bodies: &[&str]) -> Refusal {
    match run(None, bodies).0.as_slice() {
        [FixEvent::Refused { why, .. }] => *why,
        events => panic!("{events:?}"),
    }
}

const GGA: &str = "GPGGA,120000.00,4721.6040,N,02817.5000,W,4,09,0.9,31.7,M,58.2,M,,";
const RMC: &str = "GPRMC,120000.00,A,4721.6040,N,02817.5000,W,5.00,90.0,010626,,,R";
const VTG: &str = "GPVTG,90.1,T,,M,5.003,N,9.266,K,R";
const GST: &str = "GPGST,120000.00,1.0,,,,0.011,0.012,0.020";

#[test]
fn any_order_of_sentences_gives_the_same_fix() {
    let orders = [[GGA, RMC, VTG, GST], [RMC, GGA, GST, VTG], [GST, RMC, VTG, GGA]];
    let all = orders.map(|order| fixes(None, &order));
    assert!(all.iter().all(|found| *found == all[0]), "{all:?}");
    let fix = all[0][0];
    assert_eq!((fix.utc_ns, fix.host_ns), (utc("2026-06-01T12:00:00Z"), 1));
    assert_eq!(fix.height_m, Some(31.7 + 58.2));
    assert_eq!((fix.quality, fix.satellites), (Quality::RtkFixed, Some(9)));
    assert_eq!(fix.gst.unwrap().lat_m, 0.011);
    // VTG has the finer digits and agrees within RMC's 0.01 kn.
    assert!((fix.speed_m_s.unwrap() - 5.003 * 1852.0 / 3600.0).abs() < 1e-12);
    assert!((fix.speed_quantum_m_s - 0.001 * 1852.0 / 3600.0).abs() < 1e-12);
    assert_eq!(fix.track_deg, Some(90.0));
}

#[test]
fn a_speed_without_a_time_gives_way_to_one_that_it_contradicts() {
    let knots = |fix: Fix, knots: f64| {
        assert!((fix.speed_m_s.unwrap() - knots * 1852.0 / 3600.0).abs() < 1e-12, "{fix:?}");
    };
    knots(fixes(None, &[GGA, RMC, "GPVTG,90.1,T,,M,6.003,N,,K,R"])[0], 5.0);
    let alone = fixes(Some("2026-06-01T00:00:00Z"), &[GGA, VTG])[0];
    knots(alone, 5.003);
    assert_eq!(alone.utc_ns, utc("2026-06-01T12:00:00Z"), "the nearest day");
    // Mode N is not data.
    knots(fixes(None, &[GGA, RMC, "GPVTG,,T,,M,5.003,N,,K,N"])[0], 5.0);
    knots(fixes(None, &[GGA, RMC, "GPVTG,,T,,M,0.000,N,0.000,K,N"])[0], 5.0);
}

#[test]
fn epochs_that_cannot_be_used_say_why() {
    let void_rmc = RMC.replace(",A,", ",V,");
    assert_eq!(only_refusal(&[GGA, &void_rmc]), Refusal::Void);
    assert_eq!(only_refusal(&[&GGA.replace("W,4,", "W,0,"), RMC]), Refusal::Void);
    assert_eq!(only_refusal(&[&GGA.replace(",09,", ",00,"), RMC]), Refusal::Void);
    assert_eq!(only_refusal(&[GST]), Refusal::NoPosition);
    assert_eq!(only_refusal(&[GGA]), Refusal::NoDate);
    // 0.0010 minutes are 1.85 m; the digits allow 0.1 m and two times 0.19 m.
    assert_eq!(only_refusal(&[&GGA.replace("1.6040", "1.6050"), RMC]), Refusal::Disagree);
    assert_eq!(fixes(None, &[&GGA.replace("1.6040", "1.6042"), RMC]).len(), 1);
}

#[test]
fn repeats_late_sentences_and_other_systems_are_counted() {
    let second = RMC.replace("120000", "120001");
    let (events, counts) = run(None, &[RMC, RMC, GGA, &second, GGA, &second]);
    assert_eq!(events.len(), 2);
    assert_eq!((counts.fixes, counts.duplicates, counts.late), (2, 2, 1));
    let combined = GGA.replace("GPGGA", "GNGGA").replace(",09,", ",21,");
    for order in [[GGA, &combined, RMC], [&combined, GGA, RMC]] {
        let (events, counts) = run(None, &order);
        assert!(matches!(events[..], [FixEvent::Fix(fix)] if fix.satellites == Some(21)));
        assert_eq!((counts.superseded, counts.duplicates), (1, 0));
    }
}

/// Times and speeds in knots of the fixes.
fn times_and_knots(bodies: &[(&str, u64)]) -> Vec<(i64, Option<f64>)> {
    let mut assembler = EpochAssembler::new(Some(utc("2026-06-01T11:00:00Z")));
    let mut events = Vec::new();
    for (body, host_ns) in bodies {
        let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
        let sentence = parse(format!("${body}*{sum:02X}").as_bytes()).unwrap();
        events.extend(assembler.push(&sentence, *host_ns));
    }
    events.extend(assembler.flush());
    let noon = utc("2026-06-01T12:00:00Z");
    let of = |event: &FixEvent| {
        let FixEvent::Fix(fix) = event else { panic!("{event:?}") };
        let knots = fix.speed_m_s.map(|speed| (speed * 3600.0 / 1852.0 * 1e6).round() / 1e6);
        ((fix.utc_ns - noon) / 1_000_000, knots)
    };
    events.iter().map(of).collect()
}

#[test]
fn one_moment_printed_with_other_digits_is_one_epoch() {
    let gll = |time: &str| format!("GPGLL,4721.6040,N,02817.5000,W,{time},A,R");
    let (gga, rmc) = (GGA.replace("120000.00", "120006.30"), RMC.replace("0000.00", "0006.30"));
    for time in ["120006.303", "120006.3", "120006.296", "120006.309999", "120006.300"] {
        for order in [[gll(time), gga.clone(), rmc.clone()], [gga.clone(), rmc.clone(), gll(time)]]
        {
            let bodies = order.each_ref().map(|body| (body.as_str(), 0));
            assert_eq!(times_and_knots(&bodies), [(6300, Some(5.0))], "{order:?}");
        }
    }
    // Either side of a second, and of midnight.
    let pair = [gll("120000.999"), gga.replace("06.30", "01.00")];
    assert_eq!(times_and_knots(&pair.each_ref().map(|body| (body.as_str(), 0))).len(), 1);
    let pair = [gll("235959.999"), gga.replace("120006.30", "000000.00")];
    assert_eq!(times_and_knots(&pair.each_ref().map(|body| (body.as_str(), 0))).len(), 1);
}

/// 10, 20, 50 and 100 Hz, whatever the digits, and sentences of fewer digits beside them.
#[test]
fn epochs_of_a_quick_receiver_stay_apart() {
    for (step_ms, digits) in [(100, 1), (100, 2), (50, 2), (50, 3), (20, 2), (10, 2), (10, 3)] {
        let bodies: Vec<String> = (0..40)
            .flat_map(|n| {
                let ms = n * step_ms;
                let full = format!("{:02}.{:03}", ms / 1000, ms % 1000);
                let time = format!("1200{}", &full[..3 + digits]);
                let other = if digits == 3 { &time[..time.len() - 1] } else { &time };
                [GGA.replace("120000.00", &time), RMC.replace("120000.00", other)]
            })
            .collect();
        let bodies: Vec<(&str, u64)> = bodies.iter().map(|body| (body.as_str(), 0)).collect();
        let found = times_and_knots(&bodies);
        assert_eq!(found.len(), 40, "{step_ms} ms, {digits} digits");
        for (n, (at_ms, knots)) in (0..).zip(found) {
            assert_eq!((at_ms, knots), (n * step_ms, Some(5.0)), "{step_ms} ms");
        }
    }
}

fn vtg(knots: f64) -> String {
    format!("GPVTG,90.1,T,,M,{knots:.3},N,,K,R")
}

/// Epochs half a second apart, in which the sentences follow each other by 10 ms: `order` has 0
/// for GGA, 1 for VTG, 2 for another one. The first `skip` sentences are not heard.
fn half_seconds(order: &[u8], skip: usize, stamped: bool) -> Vec<(i64, Option<f64>)> {
    let mut bodies = Vec::new();
    for n in 0..12_u64 {
        for (place, kind) in (0..).zip(order) {
            let body = match kind {
                0 => GGA.replace("00.00", &format!("{:02}.{}0", n / 2, n % 2 * 5)),
                1 => vtg(n as f64),
                _ => "GPGSA,A,3,,,,,,,,,,,,,1.2,0.9,0.8".to_owned(),
            };
            bodies.push((body, (n * 500 + place * 10) * 1_000_000));
        }
    }
    let bodies: Vec<(&str, u64)> =
        bodies[skip..].iter().map(|(body, ns)| (body.as_str(), ns * u64::from(stamped))).collect();
    times_and_knots(&bodies)
}

#[test]
fn a_speed_without_a_time_belongs_where_the_receiver_sends_it() {
    for order in [&[1, 0][..], &[0, 1], &[1, 0, 2, 2], &[0, 2, 2, 1], &[2, 1, 0], &[0, 1, 2]] {
        for (skip, stamped) in (0..order.len()).map(|skip| (skip, true)).chain([(0, false)]) {
            let found = half_seconds(order, skip, stamped);
            // The first epochs of a stream that is met in the middle may lack theirs.
            for (at_ms, knots) in &found[usize::from(skip > 0)..] {
                assert_eq!(*knots, Some((at_ms / 500) as f64), "{order:?} {skip} {stamped}");
            }
            assert!(found.len() >= 11);
        }
    }
}

/// VTG ten times a second, a position once: nothing of it is a repeat.
#[test]
fn speeds_sent_more_often_than_positions_are_no_repeats() {
    let second = |n: u32| {
        let time = format!("1200{n:02}");
        let (rmc, gga) = (RMC.replace("120000", &time), GGA.replace("120000", &time));
        [vec![rmc, vtg(5.0), gga], vec![vtg(6.0); 9]].concat()
    };
    let bodies: Vec<String> = (0..20).flat_map(second).collect();
    let bodies: Vec<&str> = bodies.iter().map(String::as_str).collect();
    let (events, counts) = run(None, &bodies);
    assert_eq!((events.len(), counts.fixes), (20, 20));
    assert_eq!((counts.duplicates, counts.late), (0, 0), "{counts:?}");
}

#[test]
fn a_simulator_is_passed_on_with_its_mark_and_never_measured_from() {
    let sim = [GGA.replace("W,4,", "W,8,"), RMC.replace(",A,", ",V,").replace(",R", ",S")];
    let fix = fixes(Some("2026-06-01T00:00:00Z"), &[&sim[0], &sim[1]])[0];
    assert!(fix.quality == Quality::Simulated);
    assert_eq!(Gate::default().check(&fix), GateRuling::Refused(GateReason::NotMeasured));
}

#[test]
fn the_date_comes_from_the_receiver_when_it_can_be_and_carries_over_midnight() {
    let gga = |time: &str| GGA.replace("120000.00", time);
    let reference = Some("2026-06-01T23:00:00Z");
    let night = fixes(reference, &[&gga("235959.90"), &gga("000000.00"), &gga("000000.10")]);
    let times: Vec<i64> = night.iter().map(|fix| fix.utc_ns).collect();
    assert_eq!(times[0], utc("2026-06-01T23:59:59.9Z"));
    assert_eq!(times[2], utc("2026-06-02T00:00:00.1Z"));
    // ZDA dates the epochs after it, though its time runs two seconds ahead.
    let zda = fixes(None, &["GPZDA,000001.00,02,06,2026,,", &gga("235959.00")])[0];
    assert_eq!(zda.utc_ns, utc("2026-06-01T23:59:59Z"));
    let leap = fixes(reference, &[&gga("235960.00")])[0];
    assert_eq!(leap.utc_ns, utc("2026-06-02T00:00:00Z"));
}

#[test]
fn a_date_far_from_the_reference_is_marked_and_not_used() {
    let rolled = RMC.replace("010626", "161006");
    let reference = Some("2026-06-01T20:00:00Z");
    let fix = fixes(reference, &[GGA, &rolled])[0];
    assert_eq!(fix.utc_ns, utc("2026-06-01T12:00:00Z"));
    assert_eq!(run(reference, &[GGA, &rolled]).1.dates_bad, 1);
    let taken = fixes(None, &[GGA, &rolled])[0];
    assert_eq!(taken.utc_ns, utc("2006-10-16T12:00:00Z"), "without a reference it stands");
    assert_eq!(utc("2026-06-01T12:00:00Z") - taken.utc_ns, 7168 * 86_400_000_000_000);
}

/// A fix `metres` north of 48 N, `tenths` of a second on, moving at `speed`.
fn at(tenths: i64, metres: f64, speed: f64) -> Fix {
    let mut fix = fixes(None, &[GGA, RMC])[0];
    fix.utc_ns += tenths * 100_000_000;
    fix.host_ns += tenths as u64 * 100_000_000;
    fix.lat_deg = 48.0 + metres / 111_320.0;
    fix.speed_m_s = Some(speed);
    fix
}

const MOVING: GateRuling = GateRuling::Accepted { frozen: false };

#[test]
fn the_gate_lets_a_pass_through_and_refuses_what_cannot_be() {
    let mut gate = Gate::default();
    for tenth in 0..20 {
        assert_eq!(gate.check(&at(tenth, 0.3 * tenth as f64, 3.0)), MOVING);
    }
    let here = 0.3 * 19.0;
    let mut south = at(20, here, 3.0);
    south.lat_deg = -south.lat_deg;
    assert_eq!(gate.check(&south), GateRuling::Refused(GateReason::HemisphereFlip));
    assert_eq!(gate.check(&at(20, here + 50.0, 3.0)), GateRuling::Refused(GateReason::Jump));
    assert_eq!(gate.check(&at(19, here, 3.0)), GateRuling::Refused(GateReason::SaidBefore));
    assert_eq!(gate.check(&at(20, here, 40.1)), GateRuling::Refused(GateReason::TooFast));
    let mut reckoned = at(20, here + 0.3, 3.0);
    reckoned.quality = Quality::Estimated;
    assert_eq!(gate.check(&reckoned), GateRuling::Refused(GateReason::NotMeasured));
    assert_eq!(gate.check(&at(20, here + 0.3, 3.0)), MOVING);
}

/// Three satellites, HDOP 99, 80 m off, at the beginning and in between; the right ones stay.
#[test]
fn a_poor_sky_neither_passes_nor_moves_the_gate() {
    let weak = |tenth: i64, satellites: u8, hdop: f32| {
        let mut fix = at(tenth, 80.0, 3.0);
        (fix.satellites, fix.hdop) = (Some(satellites), Some(hdop));
        fix.quality = Quality::Standalone;
        fix
    };
    let mut gate = Gate::default();
    for tenth in 0..5 {
        for poor in [weak(tenth, 3, 99.0), weak(tenth, 3, 1.5), weak(tenth, 9, 99.99)] {
            assert_eq!(gate.check(&poor), GateRuling::Refused(GateReason::Weak));
        }
    }
    assert!((5..20).all(|tenth| gate.check(&at(tenth, 0.3 * tenth as f64, 3.0)) == MOVING));
    assert_eq!(gate.check(&weak(20, 3, 2.0)), GateRuling::Refused(GateReason::Weak));
    assert_eq!(gate.check(&at(21, 6.3, 3.0)), MOVING);
    // A fair one may be off by more than a good one, and the good one after it is no jump.
    let mut gate = Gate::default();
    assert_eq!(gate.check(&weak(0, 5, 12.0)), MOVING);
    let mut good = at(1, 0.3, 3.0);
    good.quality = Quality::Standalone;
    assert_eq!(gate.check(&good), MOVING);
    // Nothing stated, nothing refused.
    let mut silent = at(2, 0.6, 3.0);
    (silent.satellites, silent.hdop) = (None, None);
    assert_eq!(gate.check(&silent), MOVING);
}

#[test]
fn the_gate_moves_on_after_three_refused_fixes_that_fit_each_other() {
    let mut gate = Gate::default();
    assert_eq!(gate.check(&at(0, 0.0, 3.0)), MOVING);
    for tenth in 1..=3 {
        let far = at(tenth, 500.0 + 0.3 * tenth as f64, 3.0);
        assert_eq!(gate.check(&far), GateRuling::Refused(GateReason::Jump));
    }
    assert_eq!(gate.check(&at(4, 501.2, 3.0)), MOVING);
    // Fixes that do not fit each other never move it.
    for tenth in 5..25 {
        let wild = at(tenth, 1000.0 * tenth as f64, 3.0);
        assert_eq!(gate.check(&wild), GateRuling::Refused(GateReason::Jump));
    }
    assert_eq!(gate.check(&at(25, 501.2 + 0.3 * 21.0, 3.0)), MOVING);
}

/// One time that lies ahead would shift the receiver's clock for the whole job.
#[test]
fn a_time_ahead_of_its_arrival_is_refused_unless_it_stays_so() {
    let arrives = |tenths: i64, after: i64| {
        let mut fix = at(tenths, 0.0, 0.0);
        fix.host_ns = 5_000_000_000 + after as u64 * 100_000_000;
        fix
    };
    let mut gate = Gate::default();
    assert!((0..20).all(|n| gate.check(&arrives(n, n)) == MOVING));
    assert_eq!(gate.check(&arrives(30, 20)), GateRuling::Refused(GateReason::TimeAhead));
    // Late is no fault, however late, nor what comes in a burst after it.
    assert!((21..40).all(|n| gate.check(&arrives(n, 60)) == MOVING));
    // A receiver that corrects its time by a second is believed after three fixes.
    for n in 61..64 {
        assert_eq!(gate.check(&arrives(n + 10, n)), GateRuling::Refused(GateReason::TimeAhead));
    }
    assert!((64..90).all(|n| gate.check(&arrives(n + 10, n)) == MOVING));
}

#[test]
fn a_position_that_stands_still_under_a_moving_speed_is_marked() {
    let mut gate = Gate::default();
    let frozen: Vec<bool> = (0..8)
        .map(|tenth| gate.check(&at(tenth, 0.0, 3.0)) == GateRuling::Accepted { frozen: true })
        .collect();
    // Travel 0.3 m a fix; the mark comes above 1 m, or three digits of 0.185 m.
    assert_eq!(frozen, [false, false, false, false, true, true, true, true]);
    assert_eq!(gate.check(&at(8, 2.4, 3.0)), MOVING);
    let mut parked = Gate::default();
    assert!((0..50).all(|tenth| parked.check(&at(tenth, 0.0, 0.0)) == MOVING));
}
