//! Two records side by side, for the terminal.

use super::register::safe;
use trundle_core::result::compare_v1::Compared;
use trundle_core::units::signed;

/// The answer first, then everything else that differs.
#[must_use]
pub fn render(compared: &Compared) -> String {
    let [first, second] = &compared.records;
    let mut text = match &compared.value {
        None => {
            "The records do not both have a value of the same sensor: no values are compared.\n"
                .to_owned()
        }
        Some(figure) => {
            let [a, b] = figure.impulses_per_100m;
            let [u_a, u_b] = figure.expanded_uncertainty;
            let verdict = if figure.significant {
                "significant: something has changed"
            } else {
                "within the uncertainty of both: no change is shown"
            };
            format!(
                "{}: {} %, {verdict}.\n  {a:.1} ±{u_a:.1} in {}\n  {b:.1} ±{u_b:.1} in {}\n  \
                 normalised error {:.2} (up to 1 is not significant)\n",
                safe(&figure.channel),
                signed(figure.change * 100.0, 2),
                safe(first),
                safe(second),
                figure.normalised_error,
            )
        }
    };
    if compared.differences.is_empty() {
        text.push_str("Nothing else differs.\n");
    } else {
        text.push_str("Also different:\n");
    }
    for one in &compared.differences {
        let show = |value: &Option<String>| value.as_deref().map_or("-".to_owned(), safe);
        text.push_str(&format!(
            "  {}: {} -> {}\n",
            safe(&one.at),
            show(&one.first),
            show(&one.second)
        ));
    }
    text
}
