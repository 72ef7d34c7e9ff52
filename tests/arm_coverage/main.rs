//! Every line of the fixture's code that is in the emulated board's program has been executed as Arm code.
//!
//! Run the emulated tests first: they leave the addresses of all instructions that were executed. A line counts where
//! at least one instruction of at least one of its copies in the program ran, without a condition on that instruction.
//! (The optimiser merges lines: one without any instruction of its own is part of another's and is not counted.)
//! The lines that no test can reach stand in `never_run.toml`, each with its reason; one that is not there, and one
//! that is there but did run, both fail.

#[path = "../emulated/program.rs"]
mod program;

mod lines;

use program::{executed_folder, program};
use serde::Deserialize;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// What must have run: the logic, the contract, the store. Boards differ in bus and pins only.
const FOLDERS: [&str; 3] = ["firmware/src/", "protocol/src/", "firmware/boards/store/src/"];

#[derive(Deserialize)]
struct NeverRun {
    line: Vec<Exception>,
}

/// A line that no test reaches.
#[derive(Deserialize)]
struct Exception {
    file: String,
    text: String,
    why: String,
    /// Whether it runs or not as the moments fall.
    #[serde(default)]
    sometimes: bool,
}

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("tests/ lies in the workspace").to_owned()
}

/// Returns the addresses of all instructions that any machine has executed.
fn executed() -> BTreeSet<u32> {
    let folder = executed_folder();
    let files: Vec<PathBuf> = fs::read_dir(&folder)
        .into_iter()
        .flatten()
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| path.extension().is_some_and(|ending| ending == "addresses"))
        .collect();
    assert!(
        !files.is_empty(),
        "{}: nothing was executed. Run the emulated tests first (see tests/emulated/main.rs)",
        folder.display()
    );
    let texts = files.iter().map(|path| fs::read_to_string(path).expect("a readable file"));
    texts
        .flat_map(|text| {
            text.lines().map(|line| u32::from_str_radix(line, 16).expect("an address")).collect::<Vec<_>>()
        })
        .collect()
}

/// Reads the program's code by halfwords.
struct Code<'p> {
    begin: u32,
    bytes: &'p [u8],
}

impl Code<'_> {
    fn halfword(&self, at: u32) -> u16 {
        let place = (at - self.begin) as usize;
        u16::from_le_bytes([self.bytes[place], self.bytes[place + 1]])
    }

    /// Returns the length of an instruction: four bytes where its first five bits say so (Armv8-M manual, T32 encoding).
    fn length(&self, at: u32) -> u32 {
        if self.halfword(at) >> 11 >= 0b11101 { 4 } else { 2 }
    }

    /// Returns the instructions that an "if-then" instruction at this address makes conditional: up to four that follow.
    fn made_conditional(&self, at: u32) -> Vec<u32> {
        let it = self.halfword(at);
        let mask = it & 0xF;
        if it >> 8 != 0xBF || mask == 0 {
            return Vec::new();
        }
        let count = 4 - mask.trailing_zeros() as usize;
        let following = std::iter::successors(Some(at + 2), |at| Some(at + self.length(*at)));
        following.take(count).collect()
    }
}

#[test]
fn every_line_of_the_fixture_has_run_as_arm_code() {
    let root = root();
    let bytes = &program().bytes;
    let lines = lines::lines(bytes, &root, &FOLDERS);
    let executed = executed();
    let file = object::File::parse(bytes.as_slice()).expect("an ELF file");
    let text = object::Object::section_by_name(&file, ".text").expect("code");
    let begin = object::ObjectSection::address(&text) as u32;
    let code = Code { begin, bytes: object::ObjectSection::data(&text).expect("code") };
    let in_code = |at: &u32| (begin..begin + code.bytes.len() as u32).contains(at);
    let conditional: BTreeSet<u32> =
        executed.iter().filter(|at| in_code(at)).flat_map(|at| code.made_conditional(*at)).collect();
    let ran = |(_, places): &(&(String, u32), &Vec<std::ops::Range<u32>>)| {
        places.iter().any(|place| executed.range(place.clone()).any(|at| !conditional.contains(at)))
    };
    let missed: Vec<&(String, u32)> = lines.iter().filter(|line| !ran(line)).map(|(line, _)| line).collect();
    let by_text = texts_of(&root, &missed);

    let list = fs::read_to_string(root.join("tests/arm_coverage/never_run.toml")).expect("the list");
    let list: NeverRun = toml::from_str(&list).expect("TOML");
    let excused: BTreeSet<(String, String)> =
        list.line.iter().map(|line| (line.file.clone(), line.text.clone())).collect();
    println!(
        "arm coverage: {} of {} lines of code have run, {} more are excused by name ({} files)",
        lines.len() - missed.len(),
        lines.len(),
        missed.len(),
        lines.keys().map(|(file, _)| file).collect::<BTreeSet<_>>().len()
    );
    println!("program: {}", program().path.display());
    let unexcused: Vec<String> = by_text
        .iter()
        .filter(|(line, _)| !excused.contains(line))
        .map(|((file, text), numbers)| format!("{file}:{numbers:?} {text}"))
        .collect();
    assert!(unexcused.is_empty(), "{} lines have never run:\n{}", unexcused.len(), unexcused.join("\n"));
    for line in list.line {
        assert!(!line.why.is_empty());
        let key = (line.file, line.text);
        assert!(
            line.sometimes || by_text.contains_key(&key),
            "{key:?} did run, or is not there any more: take it off the list"
        );
    }
    assert!(lines.len() > 500, "only {} lines were found in the program", lines.len());
}

/// Returns the lines by file and text, with their numbers: a list that is kept must not change with every edit above.
fn texts_of(root: &Path, lines: &[&(String, u32)]) -> BTreeMap<(String, String), Vec<u32>> {
    let mut found = BTreeMap::<_, Vec<u32>>::new();
    for (file, number) in lines {
        let source = fs::read_to_string(root.join(file)).expect("a source file");
        let text = source.lines().nth(*number as usize - 1).unwrap_or_default().trim().to_owned();
        found.entry((file.clone(), text)).or_default().push(*number);
    }
    found
}
