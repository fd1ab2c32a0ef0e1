//! The habits of the house, as a test: what DEVELOPERS.md asks for fails the build when it is
//! not so. There is no list of exceptions; code that does not fit is changed, not excused.
//!
//! Each check takes text and gives findings, and is itself tried on a bad example.
#![allow(clippy::unwrap_used, clippy::print_stdout, missing_docs)]

mod bans;
mod fault_matrix;
mod layers;
mod limits;
mod modules;
mod named;
mod source;

mod tongues;
mod tree;
mod udev;

use source::Source;
use tree::Tree;

/// Fail with every finding at once, one a line.
fn report(findings: Vec<String>) {
    assert!(findings.is_empty(), "{} findings:\n{}", findings.len(), findings.join("\n"));
}

/// Every Rust file with its findings by one check.
fn each_source(check: impl Fn(&str, &Source) -> Vec<String>) -> Vec<String> {
    let tree = Tree::open();
    let sources = tree.sources();
    assert!(sources.len() > 50, "the tree was not found: {} Rust files", sources.len());
    sources.iter().flat_map(|path| check(path, &Source::new(&tree.read(path)))).collect()
}

#[test]
fn files_functions_and_lines_are_short() {
    report(each_source(limits::check));
}

#[test]
fn text_has_no_tabs_and_no_spaces_at_line_ends() {
    let tree = Tree::open();
    let check = |path: &String| limits::blanks(path, &tree.read(path));
    report(tree.texts().iter().flat_map(check).collect());
}

#[test]
fn nothing_is_left_over() {
    report(each_source(bans::check));
}

#[test]
fn every_sentence_stands_in_each_language() {
    let tree = Tree::open();
    let folder = "host/show/src/tongue/german/";
    let tables = tree.files.iter().filter(|path| path.starts_with(folder));
    let tables: Vec<String> = tables.map(|path| tree.read(path)).collect();
    let known = tongues::english(&tables);
    assert!(known.len() > 3_000, "the tables were not found");
    report(each_source(|path, source| tongues::check(path, source, &known)));
}

#[test]
fn core_and_show_have_the_same_walls() {
    report(bans::walls(&Tree::open()));
}

#[test]
fn data_flows_from_left_to_right() {
    report(each_source(layers::check));
}

#[test]
fn every_rust_file_is_part_of_a_package() {
    report(modules::dead(&Tree::open()));
}

#[test]
fn documents_name_only_what_exists() {
    report(named::missing(&Tree::open()));
}

#[test]
fn the_top_level_stays_as_it_is() {
    report(tree::strangers(&Tree::open().files));
}

#[test]
fn no_large_file_is_tracked() {
    let tree = Tree::open();
    report(tree::large(&tree.sizes()));
}

#[test]
fn nothing_public_names_where_or_how_it_was_made() {
    let tree = Tree::open();
    let check = |path: &String| named::private(path, &tree.read(path));
    report(tree.texts().iter().flat_map(check).collect());
}
