//! The sheet of settings of a rig, and the history of its value: shown in words, and as they print.

use super::form::{self, Of};
use super::house::{House, Refused};
use super::records::{lines, refused, rig_field};
use crate::commands::args::Command;
use crate::commands::record::{RecordVerb, history};
use crate::commands::sheet;
use crate::shell::exit::Trouble;
use crate::shell::out::heard_whole;
use crate::store::register::Register;
use crate::web::stations::{Reply, Visit};
use trundle_show::html::with_way_back;
use trundle_show::stations::form::Field;
use trundle_show::stations::records::{ask, asking, section, ways};
use trundle_show::stations::{Markup, parts};
use trundle_show::words::records as words;
use trundle_show::words::station::Station;

/// Path of the sheet.
const SHEET: &str = "/sheet";
/// Path of the history.
const HISTORY: &str = "/history";

/// Show the sheet.
pub fn look(house: &House, visit: &Visit) -> Reply {
    let options = [
        ("rig", words::FIELD_RIG),
        ("printed", words::FIELD_PRINTED),
        ("paper", words::FIELD_FORMAT),
    ];
    let of = Of::new(&["sheet"], &options);
    let argv = of.argv(&visit.query);
    let sheet = visit.asked("paper");
    if !sheet.is_empty() {
        let page = heard_whole(|| printed(&argv)).0;
        return paper(house, visit, page, SHEET);
    }
    let [rig, printed] = ["rig", "printed"].map(|name| visit.asked(name));
    let hint = words::HINT_PRINTED.to_owned();
    let field = Field { hint, ..Field::text("printed", words::FIELD_PRINTED, printed) };
    let form = ask(SHEET, &[("show", "yes")], &[rig_field(house, rig), field], words::SHEET_SHOW);
    let mut main = vec![parts::sentences(&[words::SHEET_IS.to_owned()]), form];
    if !visit.asked("show").is_empty() {
        main.push(parts::said(words::SHEET, &lines(house, &argv).1));
        let path = |paper| asking(SHEET, &[("rig", rig), ("printed", printed), ("paper", paper)]);
        let papers = [("a4", words::SHEET_A4), ("letter", words::SHEET_LETTER)];
        main.push(to_print(&papers.map(|(paper, words)| (path(paper), words.to_owned()))));
    }
    house.page_named(Station::Records, Some(words::SHEET), visit, 200, parts::all(&main))
}

fn to_print(papers: &[(String, String)]) -> Markup {
    section(words::PAPERS, words::HOW_TO_PRINT, &[ways(papers)])
}

/// The sheet as it prints.
fn printed(argv: &[String]) -> Result<String, Refused> {
    let command = form::read(argv).map_err(Refused::Misread)?;
    let Command::Sheet(args) = command else { return Err(other()) };
    let sheet = sheet::of(&args).map_err(Refused::Trouble)?;
    Ok(sheet::page(&sheet, &args))
}

fn paper(house: &House, visit: &Visit, page: Result<String, Refused>, back: &str) -> Reply {
    let pairs = ["rig", "printed", "channel", "practice"].map(|name| (name, visit.asked(name)));
    let back = asking(back, &[&pairs[..], &[("show", "yes")]].concat());
    match page {
        Ok(page) => Reply::Paper(with_way_back(&page, &back)),
        Err(why) => refused(house, visit, 422, &why),
    }
}

/// What a form asks for is the command that it is made of.
fn other() -> Refused {
    Refused::Trouble(Trouble::internal("The form and its command do not go together."))
}

/// Show the history.
pub fn look_history(house: &House, visit: &Visit) -> Reply {
    let options = [
        ("rig", words::FIELD_RIG),
        ("channel", words::FIELD_SENSOR),
        ("practice", words::FIELD_PRACTICE),
    ];
    let of = Of::new(&["record", "history"], &options);
    let argv = of.argv(&visit.query);
    if !visit.asked("paper").is_empty() {
        let page = heard_whole(|| chart(house, &argv)).0;
        return paper(house, visit, page, HISTORY);
    }
    let typed = |name: &str| visit.asked(name).to_owned();
    let fields = of.fields(&typed).into_iter().map(|field| match field.name.as_str() {
        "rig" => rig_field(house, &field.value),
        _ => field,
    });
    let fields: Vec<Field> = fields.collect();
    let form = ask(HISTORY, &[("show", "yes")], &fields, words::HISTORY_SHOW);
    let mut main = vec![parts::sentences(&[words::HISTORY_IS.to_owned()]), form];
    if !visit.asked("show").is_empty() {
        main.push(parts::said(words::HISTORY, &lines(house, &argv).1));
        let pairs = ["rig", "channel", "practice"].map(|name| (name, visit.asked(name)));
        let path = asking(HISTORY, &[&pairs[..], &[("paper", "a4")]].concat());
        main.push(to_print(&[(path, words::CHART.to_owned())]));
    }
    house.page_named(Station::Records, Some(words::HISTORY), visit, 200, parts::all(&main))
}

/// The history with its chart.
fn chart(house: &House, argv: &[String]) -> Result<String, Refused> {
    let command = form::read(argv).map_err(Refused::Misread)?;
    let Command::Record(RecordVerb::History(args)) = command else { return Err(other()) };
    let page = Register::read(&house.place).and_then(|register| history::page(&register, &args));
    page.map_err(Refused::Trouble)
}
