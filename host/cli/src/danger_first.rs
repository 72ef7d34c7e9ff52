//! What to do about a reacting cell, told before anything else is read: no book, no rules, no place, no valid option.
//!
//! Takes the words as they were typed; whoever reports that a cell reacts now gets the general text at once, from the
//! pack that is compiled in. What the rules of the place add comes later, where they can be read. Where it is doubtful
//! whether something is such a report, it is one: a text too many costs a moment, one too few a life.

use crate::choice::{PRESENTS, stands_for};
use crate::io::Io;
use celltriage_custody::checklist::Criterion;
use celltriage_measure::observation::Sign;
use celltriage_rules::{Packs, Presents, emergency_texts};
use std::ffi::OsString;
use std::io::Read;
use std::path::{Path, PathBuf};

/// Commands to which nobody reports a cell: they read the book or the rules, or look after the fixture.
const NO_REPORTS: [&str; 16] = [
    "book",
    "columns",
    "completions",
    "demo",
    "due",
    "explain",
    "finding",
    "fixture",
    "label",
    "manual",
    "model",
    "report",
    "rules",
    "settings",
    "shipment",
    "tag",
];
/// Commands to which a cell is reported.
const REPORTS: [&str; 13] = [
    "assess",
    "batch",
    "container",
    "grade",
    "guided",
    "hot-cell-watch",
    "irregularity",
    "judge",
    "leave",
    "origin",
    "receive",
    "return",
    "trial",
];
/// An option that may stand before the command: the word after it is a file's name, and may be called as a command is.
const BEFORE_A_COMMAND: &str = "--settings";
/// Of a file of looks so much is read here; such files have a few hundred bytes.
const MOST_BYTES: u64 = 1 << 20;
/// Told should the pack that is compiled in not be readable; a test sees that it is.
const LAST_WORDS: &str = "STOP: hands off. Everybody out, shut the door. Call the fire service from outside and tell them that a \
     lithium-ion cell is reacting.";

/// Returns what to do about a cell that is reacting, wherever it is. Reads no file.
pub fn general() -> Vec<String> {
    let texts =
        Packs::general().map(|packs| emergency_texts(&packs, None).into_iter().map(str::to_owned).collect());
    texts.ok().filter(|texts: &Vec<String>| !texts.is_empty()).unwrap_or_else(|| vec![LAST_WORDS.to_owned()])
}

/// Tells it at once, where it was not told before in this call.
pub fn tell(io: &mut Io<'_>) {
    let texts = general();
    io.emergency(texts.iter().map(String::as_str));
}

/// Tells it where the words typed, or a file of looks that they name, report a cell that is reacting now.
pub fn tell_where_reported(typed: &[OsString], io: &mut Io<'_>) {
    let words: Vec<String> = typed.iter().skip(1).map(|word| word.to_string_lossy().into_owned()).collect();
    if asks_about_a_reacting_cell(&words) {
        tell(io);
        return;
    }
    if words.first().is_some_and(|first| NO_REPORTS.contains(&first.as_str())) {
        return;
    }
    // None of them: the line will not be understood, and may be meant as any.
    let command =
        may_be_commands(&words).find_map(|word| REPORTS.into_iter().find(|command| command == word));
    let command = command.unwrap_or("");
    if words.iter().any(|word| word_reports(word))
        || ["container", ""].contains(&command) && escalates(&words)
        || looks_reported(command, &words)
    {
        tell(io);
        return;
    }
    for file in files_of_looks(command, typed) {
        if text_reports(&text_of(&file)) {
            tell(io);
            io.note(&format!("reported by the file {}", file.display()));
            return;
        }
    }
}

/// Returns the words but for the names of files before a command.
fn may_be_commands(words: &[String]) -> impl Iterator<Item = &String> {
    let before = std::iter::once(None).chain(words.iter().map(Some));
    words
        .iter()
        .zip(before)
        .filter(|(_, before)| before.is_none_or(|word| word != BEFORE_A_COMMAND))
        .map(|(word, _)| word)
}

/// Returns whether `rules cautions` is asked about a cell that is reacting: whoever asks that may stand before one.
fn asks_about_a_reacting_cell(words: &[String]) -> bool {
    let command = may_be_commands(words)
        .find(|word| NO_REPORTS.contains(&word.as_str()) || REPORTS.contains(&word.as_str()))
        .map_or("", String::as_str);
    let asked = command == "rules" || command.is_empty() && words.iter().any(|word| word == "cautions");
    let value = |word: &String| word.rsplit('=').next().unwrap_or_default().to_owned();
    asked && words.iter().any(|word| stands_for(&PRESENTS, &Presents::ActiveNow, &value(word)))
}

/// Returns whether one word of the command line answers yes to "is it reacting now?", as its own word or behind an
/// option's name and `=`.
fn word_reports(word: &str) -> bool {
    let value = word.strip_prefix('-').and_then(|word| word.split_once('=')).map(|(_, value)| value);
    [Some(word), value].into_iter().flatten().flat_map(|word| word.split([',', ';'])).any(answers_yes)
}

/// The same of one answer. A name without an answer counts as one: nobody types it for another reason.
fn answers_yes(answer: &str) -> bool {
    let plain = |text: &str| text.trim().trim_matches(['"', '\'']).to_lowercase().replace(['-', ' '], "_");
    let (name, answer) = answer.split_once('=').unwrap_or((answer, "yes"));
    let asks = [Sign::ActiveNow.key(), Criterion::AcuteHazard.key()].contains(&plain(name).as_str());
    asks && ["yes", "y", "true"].contains(&plain(answer).as_str())
}

/// Returns whether a state or a look is given that says so: `judge --state critical`, `container inspect --look active`.
fn looks_reported(command: &str, words: &[String]) -> bool {
    let reported: &[&str] = match command {
        "judge" => &["critical"],
        "container" => &["active"],
        "" => &["critical", "active"],
        _ => return false,
    };
    let value = |word: &String| word.rsplit('=').next().unwrap_or_default().trim().to_lowercase();
    words.iter().any(|word| reported.contains(&value(word).as_str()))
}

/// Returns whether `container` is to write down that a cell has become critical; asking how that is done does not.
fn escalates(words: &[String]) -> bool {
    let help = words.iter().any(|word| word == "--help" || word == "-h" || word == "help");
    !help && words.iter().any(|word| word.to_lowercase() == "escalate")
}

/// Returns the files with what was seen that the command line names, or the file of a batch.
fn files_of_looks(command: &str, typed: &[OsString]) -> Vec<PathBuf> {
    let mut files = Vec::new();
    for (index, word) in typed.iter().enumerate() {
        let text = word.to_string_lossy();
        if text == "--observations" {
            files.extend(typed.get(index + 1).map(PathBuf::from));
        } else if let Some(file) = text.strip_prefix("--observations=") {
            files.push(PathBuf::from(file));
        } else if command == "batch" && index > 1 && !text.starts_with('-') {
            let folder = Path::new(word).parent().unwrap_or(Path::new("")).to_owned();
            files.extend(named_in(&text_of(Path::new(word))).into_iter().map(|file| folder.join(file)));
        }
    }
    files
}

/// Returns the files of looks that the text of a batch names.
fn named_in(batch: &str) -> Vec<String> {
    let lines = batch.lines().filter_map(|line| line.trim().strip_prefix("observations"));
    let values = lines.filter_map(|rest| rest.trim_start().strip_prefix('=').map(str::trim_start));
    values
        .filter_map(|value| {
            let quote = value.chars().next().filter(|quote| ['"', '\''].contains(quote))?;
            value.split(quote).nth(1).map(str::to_owned)
        })
        .collect()
}

/// Returns whether the text of a file of looks says yes, also where the file as a whole cannot be read.
fn text_reports(text: &str) -> bool {
    let name = Sign::ActiveNow.key();
    text.lines().map(|line| line.split('#').next().unwrap_or_default()).any(|line| {
        line.match_indices(name).any(|(place, _)| {
            let rest = line.get(place + name.len()..).unwrap_or_default();
            let rest = rest.trim_start_matches(['"', '\'']).trim_start();
            let answer = rest.strip_prefix('=').and_then(|rest| rest.split([',', '}']).next());
            answer.is_some_and(|answer| answers_yes(&format!("{name}={answer}")))
        })
    })
}

/// Reads the beginning of a file; what is no file (a pipe can be read once only) is left to the command.
fn text_of(path: &Path) -> String {
    let mut bytes = Vec::new();
    if std::fs::metadata(path).is_ok_and(|about| about.is_file())
        && let Ok(file) = std::fs::File::open(path)
    {
        let _as_far_as_it_can_be_read = file.take(MOST_BYTES).read_to_end(&mut bytes);
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_general_text_is_the_pack_s_own() {
        let texts = general();
        assert!(texts.iter().any(|text| text.starts_with("STOP: hands off.")) && texts != [LAST_WORDS]);
        let all = Packs::built_in().unwrap();
        assert_eq!(texts, emergency_texts(&all, None));
    }

    #[test]
    fn a_word_that_says_yes_is_a_report_in_every_spelling() {
        for word in [
            "active_now=yes",
            "active_now = Yes",
            "--sign=active_now=yes",
            "--sing=active_now=y",
            "active-now=true",
            "swollen=no,active_now=yes",
            "acute_hazard=yes",
            "--answer=acute-hazard=yes",
            "active_now",
        ] {
            assert!(word_reports(word), "{word}");
        }
        for word in
            ["active_now=no", "active_now=?", "swollen=yes", "--sign=active_now=no", "yes", "", "-", "="]
        {
            assert!(!word_reports(word), "{word}");
        }
    }

    #[test]
    fn a_file_that_says_yes_is_a_report_also_where_it_is_damaged() {
        for text in [
            "[signs]\nactive_now = \"yes\"\n",
            "[signs]\nswolen = \"no\"\nactive_now = true # hisses\n",
            "signs = { swollen = \"no\", active_now = \"Y\" }",
            "signs.active_now='yes'",
            "\"active_now\" = \"yes\"\n[[[",
        ] {
            assert!(text_reports(text), "{text}");
        }
        for text in
            ["", "active_now = \"no\"", "# active_now = \"yes\"", "[signs]\nswollen = \"yes\"", "active_now"]
        {
            assert!(!text_reports(text), "{text}");
        }
    }
}
