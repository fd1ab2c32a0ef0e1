//! The pictures of the README, drawn by the program: the live screen, the chart of passes, and the
//! map of slip, each a whole SVG file on light ground.

use crate::headland::{drive, headland};
use crate::papers::kept;
use trundle_show::html::work::{Facts, page};
use trundle_show::svg::slip_map;
use trundle_show::xml::escaped;
use trundle_sim::ReceiverClass;

/// Width of a character of the screen, and height of its rows, pixels.
const CELL_PX: (usize, usize) = (9, 19);
/// Space around a picture, pixels.
const EDGE_PX: usize = 16;
/// Columns and rows of the screen.
const SCREEN: (usize, usize) = (80, 24);
/// Width of the chart of passes, pixels.
const CHART_PX: usize = 720;
/// Colours and letters of the chart, as those of the page on light ground.
const CHART_STYLE: &str = "svg{overflow:visible}\
    text{font:14px system-ui,sans-serif;fill:#1a1f1c}.tick,.axis-name,.unused{fill:#414a45}\
    .figure-name{font-weight:650}.grid{stroke:#d3d2c8}.axis,.divider{stroke:#6d756f}\
    .band{fill:#e4e3d6}.band-edge{stroke:#6d756f;stroke-dasharray:2 3}\
    .best{stroke:#1a1f1c;stroke-width:1.5}.whisker{stroke-width:1.5;stroke:#1a1f1c}\
    .whisker.strong{stroke-width:2.5}\
    .whisker.tape{stroke:#7a2c10}.whisker.satellite{stroke:#0b486c}\
    .mark{stroke:#1a1f1c;stroke-width:1.75;fill:#1a1f1c}\
    .mark.tape{stroke:#7a2c10;fill:#7a2c10}.mark.satellite{stroke:#0b486c;fill:#fdfcf8}";

/// Why a picture could not be drawn.
type Failed = Box<dyn std::error::Error>;

/// Every picture: its file in `host/pictures`, and its text.
///
/// # Errors
/// Where what it is drawn from cannot be read, or gives nothing to draw.
pub fn all() -> Result<[(&'static str, String); 3], Failed> {
    Ok([("drive.svg", screen()?), ("passes.svg", passes()?), ("slip-map.svg", map()?)])
}

/// The live screen under way; that its stored text is the program's is a test of its own.
fn screen() -> Result<String, Failed> {
    let text = std::fs::read_to_string(crate::folder().join("data/screens/driving-80x24.txt"))?;
    let row = |(at, line): (usize, &str)| {
        let y = EDGE_PX + (at + 1) * CELL_PX.1 - 5;
        let weight = if at < 2 { " style=\"font-weight:bold\"" } else { "" };
        format!("<text x=\"{EDGE_PX}\" y=\"{y}\"{weight}>{}</text>\n", escaped(line))
    };
    let rows: String = text.lines().enumerate().map(row).collect();
    let style = "text{font:15px ui-monospace,\"DejaVu Sans Mono\",Consolas,monospace;\
                 fill:#1a1f1c;white-space:pre}";
    let (wide, high) = (SCREEN.0 * CELL_PX.0, SCREEN.1 * CELL_PX.1);
    Ok(sheet("The live screen of a drive", (wide, high), style, &rows))
}

/// The chart of passes of a stored simulated capture, as the page of its result draws it.
fn passes() -> Result<String, Failed> {
    let work = kept("simulated-rtk").worked()?.ok_or("the record has no course")?;
    let page = page(&work, &Facts::default());
    let from = page.find("<svg class=\"chart\"").ok_or("the page has no chart")?;
    let chart = &page[from..];
    let chart = &chart[..chart.find("<figcaption>").ok_or("the chart has no end")?];
    let high = chart.split("height=\"").nth(1).and_then(|rest| rest.split('"').next());
    let high: usize = high.ok_or("the chart has no height")?.parse()?;
    let inner = format!("<svg x=\"{EDGE_PX}\" y=\"{EDGE_PX}\" width=\"{CHART_PX}\">{chart}</svg>");
    Ok(sheet("Impulses per 100 m of each pass", (CHART_PX, high), CHART_STYLE, &inner))
}

/// Slip on a simulated wet headland.
fn map() -> Result<String, Failed> {
    let slip = drive(&headland(ReceiverClass::Rtk), 5).slip()?;
    Ok(slip_map::alone(&slip.sections).ok_or("nothing to draw")? + "\n")
}

/// A whole file around what is drawn.
fn sheet(title: &str, (wide, high): (usize, usize), style: &str, body: &str) -> String {
    let (wide, high) = (wide + 2 * EDGE_PX, high + 2 * EDGE_PX);
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {wide} {high}\" \
         width=\"{wide}\" height=\"{high}\">\n<title>{title}</title>\n<style>{style}</style>\n\
         <rect width=\"100%\" height=\"100%\" fill=\"#fdfcf8\"/>\n{body}</svg>\n"
    )
}
