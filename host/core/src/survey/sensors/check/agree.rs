//! Do wheel, radar and satellite show the same speed, but for one factor each?

use super::{CheckLine, Mark};
use crate::stats::fit::robust::median;
use crate::survey::sensors::scene::{Scene, Second, driving_rate_hz};
use trundle_protocol::units::Channel;

/// Satellite speed from which seconds are compared, m/s: below, its noise is several per cent.
const BRISK_M_S: f64 = 1.0;
/// Share of its driving rate from which a second of a sensor is compared.
const BRISK_SHARE: f64 = 0.5;
/// Two speeds agree when they differ by less than this share: slip and noise of a sound tractor
/// are well inside, a slipping clutch of a sensor's drive is not.
const APART: f64 = 0.10;
/// Whole impulses that both ends of a second may be off, together.
const WHOLE: f64 = 1.5;
/// Share of the seconds in which they must agree.
const AGREE_SHARE: f64 = 0.9;
/// Seconds it takes.
const SECONDS_MIN: usize = 10;

/// What two sensors gave in a second, where it can be compared.
type Values<'a> = &'a dyn Fn(&Second) -> Option<(f64, f64)>;

/// The line of the check.
pub fn speeds(scenes: &[Scene<'_>]) -> CheckLine {
    let line = |mark, what: String| CheckLine::new("agreement", "speeds agree", mark, what);
    let brisk = |channel| Some(BRISK_SHARE * driving_rate_hz(scenes, channel)?);
    let (wheel, radar) = (brisk(Channel::Wheel), brisk(Channel::Radar));
    let with_satellite = |channel: Channel, least: Option<f64>| {
        move |second: &Second| {
            let speed = second.speed_m_s.filter(|speed| *speed >= BRISK_M_S)?;
            // A sensor that gives next to nothing at speed must show, so its own rate is no filter.
            least.map(|_| (second.rise[channel.index()], speed))
        }
    };
    let with_each_other = |second: &Second| {
        let ((wheel, radar), [a, b]) = (wheel.zip(radar)?, second.rise);
        (a >= wheel || b >= radar).then_some((a, b))
    };
    let pairs: [(&str, &str, Values<'_>); 3] = [
        ("wheel and satellite", "wheel_satellite_share", &with_satellite(Channel::Wheel, wheel)),
        ("radar and satellite", "radar_satellite_share", &with_satellite(Channel::Radar, radar)),
        ("wheel and radar", "wheel_radar_share", &with_each_other),
    ];
    let (mut words, mut numbers, mut bad) = (Vec::new(), Vec::new(), Vec::new());
    for (name, key, values) in pairs {
        let Some(share) = share(scenes, values) else { continue };
        words.push(format!("{name} in {:.0} % of the seconds", 100.0 * share));
        numbers.push((key, share));
        if share < AGREE_SHARE {
            bad.push(name);
        }
    }
    if words.is_empty() {
        let what = format!("fewer than {SECONDS_MIN} s of driving could be compared");
        return line(Mark::NotSeen, what)
            .next("Drive at working speed for a quarter of a minute while it records.");
    }
    let what = words.join(", ");
    if bad.is_empty() {
        return line(Mark::Pass, what).numbers(numbers);
    }
    let next = match bad.as_slice() {
        ["wheel and satellite", "wheel and radar"] | ["wheel and radar"] => {
            "The wheel is the odd one: look for slip, and at its sensor's drive and cable."
        }
        ["radar and satellite", ..] if bad.len() < 3 => {
            "The radar is the odd one: look at its mount, its angle and its lens."
        }
        _ => "Compare on even, firm ground under open sky, and look at the sensor that is odd.",
    };
    line(Mark::Fail, what).next(next).numbers(numbers)
}

/// Share of the seconds in which the two agree, after the factor between them is taken out.
fn share(scenes: &[Scene<'_>], values: &dyn Fn(&Second) -> Option<(f64, f64)>) -> Option<f64> {
    let all = scenes.iter().flat_map(|scene| &scene.seconds);
    let pairs: Vec<(f64, f64)> = all.filter_map(values).filter(|pair| pair.1 > 0.0).collect();
    if pairs.len() < SECONDS_MIN {
        return None;
    }
    let factor = median(&pairs.iter().map(|(a, b)| a / b).collect::<Vec<f64>>())?;
    let agree = pairs.iter().filter(|(a, b)| {
        let expected = factor * b;
        (a - expected).abs() <= APART * expected + WHOLE
    });
    Some(agree.count() as f64 / pairs.len() as f64)
}
