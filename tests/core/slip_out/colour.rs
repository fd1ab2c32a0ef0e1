//! The colours of the classes, against other people's measures of colour.
//!
//! Outside sources: CIE 1976 L*a*b* (CIE 15, from memory) with the white D65; sRGB of IEC
//! 61966-2-1; the sample code of CSS Color Module Level 4 for OKLab; Machado, Oliveira and
//! Fernandes 2009 for the simulation of colour blindness, severity 1, on linear sRGB; WCAG 2.2 for
//! contrast.

use trundle_show::svg::slip_classes::{CLASSES, EDGES, Rgb, class_of, colours, style, words};
use trundle_tests::pages::contrast;

type Matrix = [[f64; 3]; 3];

const XYZ: Matrix = [
    [0.412_390_8, 0.357_584_34, 0.180_480_79],
    [0.212_639_01, 0.715_168_68, 0.072_192_32],
    [0.019_330_82, 0.119_194_78, 0.950_532_15],
];
const LMS: Matrix = [
    [0.819_022_438, 0.361_906_260, -0.128_873_782],
    [0.032_983_654, 0.929_286_862, 0.036_144_666],
    [0.048_177_189, 0.264_239_532, 0.633_547_828],
];
const OKLAB_L: [f64; 3] = [0.210_454_268, 0.793_617_775, -0.004_072_043];
const PROTANOPIA: Matrix = [
    [0.152_286, 1.052_583, -0.204_868],
    [0.114_503, 0.786_281, 0.099_216],
    [-0.003_882, -0.048_116, 1.051_998],
];
const DEUTERANOPIA: Matrix = [
    [0.367_322, 0.860_646, -0.227_968],
    [0.280_085, 0.672_501, 0.047_413],
    [-0.011_820, 0.042_940, 0.968_881],
];
const GREY: Matrix = [XYZ[1], XYZ[1], XYZ[1]];
const PLAIN: Matrix = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];

fn times(matrix: &Matrix, v: [f64; 3]) -> [f64; 3] {
    matrix.map(|row| row.iter().zip(v).map(|(a, b)| a * b).sum())
}

fn linear(colour: Rgb) -> [f64; 3] {
    colour.map(|byte| {
        let c = f64::from(byte) / 255.0;
        if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
    })
}

fn oklab_lightness(colour: Rgb) -> f64 {
    let lms = times(&LMS, times(&XYZ, linear(colour))).map(f64::cbrt);
    lms.iter().zip(OKLAB_L).map(|(a, b)| a * b).sum()
}

/// CIE 1976 L*a*b* of linear sRGB.
fn lab(rgb: [f64; 3]) -> [f64; 3] {
    let [x, y, z] = times(&XYZ, rgb.map(|c| c.clamp(0.0, 1.0)));
    let f = |t: f64| {
        if t > (6.0_f64 / 29.0).powi(3) { t.cbrt() } else { t * 841.0 / 108.0 + 4.0 / 29.0 }
    };
    let (x, y, z) = (f(x / 0.950_47), f(y), f(z / 1.088_83));
    [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
}

fn apart(a: [f64; 3], b: [f64; 3]) -> f64 {
    a.iter().zip(b).map(|(a, b)| (a - b).powi(2)).sum::<f64>().sqrt()
}

fn hex([r, g, b]: Rgb) -> String {
    format!("#{r:02x}{g:02x}{b:02x}")
}

#[test]
fn lightness_goes_one_way_in_equal_steps() {
    // The measures themselves: white is 100 and 1, and sRGB red is L* 53.24, a* 80.09, b* 67.20
    // (widely printed, from memory).
    let red = lab([1.0, 0.0, 0.0]);
    assert!(apart(red, [53.24, 80.09, 67.20]) < 0.1, "{red:?}");
    assert!((oklab_lightness([255; 3]) - 1.0).abs() < 1e-3);
    for dark in [false, true] {
        let sign = if dark { 1.0 } else { -1.0 };
        let oklab = colours(dark).map(oklab_lightness);
        let steps: Vec<f64> = oklab.windows(2).map(|w| sign * (w[1] - w[0])).collect();
        let mean = steps.iter().sum::<f64>() / steps.len() as f64;
        assert!(steps.iter().all(|s| (s - mean).abs() < 0.003), "{dark}: {steps:?}");
        assert!(mean > 0.1, "{dark}: {mean}");
        // And by the older measure, too.
        let cie = colours(dark).map(|c| lab(linear(c))[0]);
        assert!(cie.windows(2).all(|w| sign * (w[1] - w[0]) > 8.0), "{dark}: {cie:?}");
    }
}

#[test]
fn classes_stay_apart_for_every_eye() {
    // 2.3 is just to be seen (Mahy et al. 1994, from memory); the least here is several times that.
    for (name, matrix) in [
        ("plain", PLAIN),
        ("protanopia", PROTANOPIA),
        ("deuteranopia", DEUTERANOPIA),
        ("grey", GREY),
    ] {
        for dark in [false, true] {
            let seen = colours(dark).map(|c| lab(times(&matrix, linear(c))));
            for a in 0..CLASSES {
                for b in a + 1..CLASSES {
                    let apart = apart(seen[a], seen[b]);
                    assert!(apart > 8.0, "{name}, dark {dark}: classes {a} and {b}: {apart:.1}");
                }
            }
        }
    }
}

#[test]
fn hatching_stands_out_from_its_colour() {
    let style = style();
    let blocks: Vec<&str> = style.split(":root{").skip(1).collect();
    assert_eq!(blocks.len(), 4, "light, dark, paper, forced");
    for (block, dark) in blocks.iter().zip([false, true, false]) {
        for (class, colour) in colours(dark).into_iter().enumerate() {
            assert!(block.contains(&format!("--slip-{class}:{};", hex(colour))));
            let hatch = block.split(&format!("--hatch-{class}:")).nth(1).unwrap();
            let ratio = contrast(&hex(colour), &hatch[..7]);
            assert!(ratio >= 3.0, "class {class}: {ratio:.2} (WCAG 2.2, 1.4.11)");
        }
    }
    assert!(blocks[3].contains("--slip-0:Canvas") && !blocks[3].contains('#'));
}

#[test]
fn classes_are_told_by_their_edges() {
    assert_eq!(class_of(-0.02), 0);
    for (class, edge) in EDGES.into_iter().enumerate() {
        assert_eq!((class_of(edge - 1e-9), class_of(edge)), (class, class + 1));
    }
    assert_eq!(words(0), "under 4\u{a0}%");
    assert_eq!(words(3), "12 to 15\u{a0}%");
    assert_eq!(words(CLASSES - 1), "20\u{a0}% and more");
}
