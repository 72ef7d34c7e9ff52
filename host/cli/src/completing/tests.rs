//! What is offered after a line that is begun.

use super::*;

/// All words that are offered after a line.
fn offered(line: &[&str], home: &std::path::Path) -> Vec<String> {
    let words: Vec<OsString> = line.iter().map(OsString::from).collect();
    let last = words.len() - 1;
    let mut command = command();
    let found = clap_complete::engine::complete(&mut command, words, last, Some(home)).unwrap();
    found.iter().map(|one| one.get_value().to_string_lossy().into_owned()).collect()
}

#[test]
fn commands_options_and_values_are_offered() {
    let folder = tempfile::tempdir().unwrap();
    let commands = offered(&["celltriage", "ass"], folder.path());
    assert_eq!(commands, ["assess"]);
    assert!(offered(&["celltriage", "assess", "--ext"], folder.path()).contains(&"--extent".to_owned()));
    assert!(offered(&["celltriage", "assess", "--extent", ""], folder.path()).contains(&"proof".to_owned()));
}

#[test]
fn every_command_that_takes_a_cell_offers_those_of_the_book() {
    let mut found = Vec::new();
    gather(&Arguments::command(), "", &mut found);
    for wanted in
        ["judge cell", "label cell", "assess id", "place cell", "place name", "weigh cell", "tag cells"]
    {
        assert!(found.iter().any(|one| one == wanted), "{wanted} is missing in {found:?}");
    }
}

fn gather(command: &Command, below: &str, found: &mut Vec<String>) {
    for argument in command.get_arguments() {
        if named(argument, command.get_name(), below).is_some() {
            found.push(format!("{} {}", command.get_name(), argument.get_id()));
        }
    }
    command.get_subcommands().for_each(|inner| gather(inner, command.get_name(), found));
}

#[test]
fn the_book_is_that_of_the_line_before_that_of_the_settings() {
    let folder = tempfile::tempdir().unwrap();
    let around = Surroundings::at_home(folder.path());
    let typed = |words: &[&str]| words.iter().map(OsString::from).collect::<Vec<_>>();
    assert_eq!(book(&typed(&["x", "--book", "a"]), &around), Some("a".into()));
    assert_eq!(book(&typed(&["x", "--book=b"]), &around), Some("b".into()));
    let own = folder.path().join("data/celltriage/book.sqlite");
    assert_eq!(book(&typed(&["x"]), &around), Some(own));
    assert_eq!(book(&typed(&["x"]), &Surroundings::nowhere(folder.path())), None);
}
