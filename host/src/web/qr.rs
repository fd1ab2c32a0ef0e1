//! A link as a picture for a camera, drawn with half blocks.

use qrcode::{Color, EcLevel, QrCode};

/// Light modules around the code, which cameras need (ISO/IEC 18004 asks for four).
const QUIET: i32 = 4;

/// Its dark squares, row by row, without a rim; `None` when the text is too long for one.
#[must_use]
pub fn squares(text: &str) -> Option<Vec<Vec<bool>>> {
    let code = QrCode::with_error_correction_level(text, EcLevel::M).ok()?;
    let dark: Vec<bool> = code.to_colors().iter().map(|color| *color == Color::Dark).collect();
    Some(dark.chunks(code.width()).map(<[bool]>::to_vec).collect())
}

/// The picture, light on dark as most terminals are; `None` when the text is too long for one.
#[must_use]
pub fn picture(text: &str) -> Option<String> {
    let code = QrCode::with_error_correction_level(text, EcLevel::M).ok()?;
    let width = i32::try_from(code.width()).ok()?;
    let colors = code.to_colors();
    // Light is drawn, dark is left: a code on a dark terminal then has its true colours.
    let light = |x: i32, y: i32| {
        let inside = (0..width).contains(&x) && (0..width).contains(&y);
        !inside || colors.get((y * width + x) as usize) == Some(&Color::Light)
    };
    let row = |y: i32| -> String {
        (-QUIET..width + QUIET)
            .map(|x| match (light(x, y), light(x, y + 1)) {
                (true, true) => '\u{2588}',
                (true, false) => '\u{2580}',
                (false, true) => '\u{2584}',
                (false, false) => ' ',
            })
            .collect()
    };
    let rows: Vec<String> = (-QUIET..width + QUIET).step_by(2).map(row).collect();
    Some(rows.join("\n"))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn a_code_has_its_three_corners_and_a_quiet_rim() {
        let picture =
            picture("http://192.0.2.1:8080/join/0123456789abcdef0123456789abcdef").unwrap();
        let rows: Vec<Vec<char>> = picture.lines().map(|line| line.chars().collect()).collect();
        let width = rows[0].len();
        assert!(rows.iter().all(|row| row.len() == width) && rows.len() == width.div_ceil(2));
        let full = |row: &[char]| row.iter().all(|c| *c == '\u{2588}');
        assert!(full(&rows[0]) && full(&rows[1]));
        // The finder pattern (ISO/IEC 18004): seven dark, and one light inside them.
        let corner: String = rows[2][4..11].iter().collect();
        assert_eq!(corner, " \u{2584}\u{2584}\u{2584}\u{2584}\u{2584} ");
        assert_eq!(corner, rows[2][width - 11..width - 4].iter().collect::<String>());
    }
}
