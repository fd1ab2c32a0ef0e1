//! A field laid out by rule: rows side by side with turns between, slip of every class, work and
//! no work, flags, and a row that is driven twice.

use trundle_core::geodesy::{Enu, LocalPlane};
use trundle_core::survey::ride::axle::Mounting;
use trundle_core::survey::ride::noise::{Ends, MotionNoise};
use trundle_core::survey::ride::parts::PartKind;
use trundle_core::survey::slip::{
    PartTotal, Section, SectionFlag, ShareAbove, Slip, SlipPlace, Total, Totals, ZeroSlip,
};

pub const ROWS: usize = 12;
const APART_M: f64 = 6.0;
const WINDOWS: usize = 12;
const WINDOW_M: f64 = 15.0;
const START_NS: i64 = 1_777_622_400_000_000_000;
pub const ORIGIN_DEG: (f64, f64) = (-33.4, 149.2);

/// Points of a row's window, or of the turn after a row, metres east and north.
fn way(row: usize, part: Option<usize>) -> Vec<Enu> {
    let east_m = APART_M * row as f64;
    let up = row.is_multiple_of(2);
    let end_m = WINDOWS as f64 * WINDOW_M;
    match part {
        Some(at) => (0..=15)
            .map(|n| {
                let along_m = WINDOW_M * at as f64 + f64::from(n);
                Enu { east_m, north_m: if up { along_m } else { end_m - along_m } }
            })
            .collect(),
        None => (0..=9)
            .map(|n| {
                let angle = std::f64::consts::PI * f64::from(n) / 9.0;
                let bulge_m = APART_M / 2.0 * angle.sin();
                Enu {
                    east_m: east_m + APART_M / 2.0 * (1.0 - angle.cos()),
                    north_m: if up { end_m + bulge_m } else { -bulge_m },
                }
            })
            .collect(),
    }
}

/// All windows.
fn windows() -> Vec<Section> {
    let plane = LocalPlane::new(ORIGIN_DEG.0, ORIGIN_DEG.1, 0.0);
    let mut out: Vec<Section> = Vec::new();
    let mut put = |row: usize, part: Option<usize>, of: u32| {
        let n = out.len();
        let slip = match part {
            Some(at) => -0.01 + 0.27 * (at as f64 / 11.0) * (row as f64 + 4.0) / 15.0,
            None => 0.13,
        };
        let line = way(row, part).into_iter().map(|at| plane.lat_lon_deg(at)).collect();
        let flag = match (n % 31, part) {
            (7, _) => vec![SectionFlag::LinkGap, SectionFlag::Unreliable],
            (_, None) => vec![SectionFlag::FixQualityChanged],
            _ => Vec::new(),
        };
        let length_m = if part.is_some() { WINDOW_M } else { 9.4 };
        out.push(Section {
            utc_ns: START_NS + 7_000_000_000 * n as i64,
            board_s: (7.0 * n as f64, 7.0 * n as f64 + 6.0),
            line,
            length_m,
            u_length_m: 0.03,
            shared_m: [0.0; 4],
            impulses: 130.0 * length_m / (1.0 - slip),
            ground_speed_m_s: length_m / 6.0,
            slip,
            standard_uncertainty: if flag.is_empty() { 0.004 } else { 0.03 },
            heading_deg: if row.is_multiple_of(2) { 0.0 } else { 180.0 },
            turned_rad: if part.is_some() { 0.0 } else { std::f64::consts::PI },
            kind: if part.is_some() { PartKind::Pass } else { PartKind::Turn },
            part: of,
            in_work: part.is_some() && row != 5,
            flags: flag,
        });
    };
    let mut leg = 0;
    // The last row once more, over the same ground.
    for row in (0..ROWS).chain([ROWS - 1]) {
        leg += 1;
        (0..WINDOWS).for_each(|at| put(row, Some(at), leg));
        if row + 1 < ROWS {
            leg += 1;
            put(row, None, leg);
        }
    }
    out
}

fn total<'w>(windows: impl Iterator<Item = &'w Section>) -> Option<Total> {
    let all: Vec<&Section> = windows.collect();
    let distance_m: f64 = all.iter().map(|w| w.length_m).sum();
    let impulses: f64 = all.iter().map(|w| w.impulses).sum();
    let slip = 1.0 - 130.0 * distance_m / impulses;
    (!all.is_empty()).then_some(Total {
        distance_m,
        slip,
        standard_uncertainty: 0.0012,
        sections: all.len(),
    })
}

/// The result.
#[must_use]
pub fn field() -> Slip {
    let windows = windows();
    let of = |keep: &dyn Fn(&Section) -> bool| total(windows.iter().filter(|w| keep(w)));
    let parts = windows
        .chunk_by(|a, b| a.part == b.part)
        .map(|leg| PartTotal {
            number: leg[0].part,
            kind: leg[0].kind,
            utc_ns: (leg[0].utc_ns, leg[leg.len() - 1].utc_ns),
            heading_deg: leg[0].heading_deg,
            total: total(leg.iter()).unwrap(),
        })
        .collect();
    let places = windows
        .iter()
        .take(30)
        .map(|w| SlipPlace {
            lat_lon_deg: w.middle(),
            side_m: 25.0,
            total: total([w].into_iter()).unwrap(),
        })
        .collect();
    let share = |slip: f64| {
        let above: f64 = windows.iter().filter(|w| w.slip > slip).map(|w| w.length_m).sum();
        ShareAbove {
            slip,
            share_of_distance: above / windows.iter().map(|w| w.length_m).sum::<f64>(),
        }
    };
    Slip {
        zero_slip: ZeroSlip { per_100m: 13_000.0, standard_uncertainty: 6.5 },
        mounting: Some(Mounting { right_m: -0.4, u_right_m: 0.02, ahead_m: 1.5, u_ahead_m: 0.03 }),
        section_m: WINDOW_M,
        least_speed_m_s: 0.5,
        totals: Totals {
            all: of(&|_| true).unwrap(),
            passes: of(&|w| w.kind == PartKind::Pass),
            turns: of(&|w| w.kind == PartKind::Turn),
            in_work: of(&|w| w.in_work),
        },
        parts,
        places,
        share_above: vec![share(0.08), share(0.15)],
        sections: windows,
        withheld_m: 12.0,
        noise: MotionNoise {
            speed_walk_m2_s: 9e-4,
            white_m2: 8e-4,
            walk_m2_s: 8e-4,
            ends: Ends::default(),
        },
        lag_s: trundle_core::stats::fit::line::Estimate::new(0.19, 0.011),
    }
}
