//! Which source line each instruction of a program belongs to, from the program's own debug information (DWARF).
//!
//! Code that was put in line elsewhere keeps its own file and line there, so a line has as many places in the program
//! as it has copies.

use gimli::{AttributeValue, Dwarf, EndianSlice, LineProgramHeader, LittleEndian, Unit};
use object::{Object, ObjectSection};
use std::collections::BTreeMap;
use std::ops::Range;
use std::path::{Component, Path, PathBuf};

type Reader<'d> = EndianSlice<'d, LittleEndian>;

/// Each source line with the addresses of its instructions.
pub type Lines = BTreeMap<(String, u32), Vec<Range<u32>>>;

/// Returns the lines of files below `folders`, by their paths from `root`, that have instructions in the program.
pub fn lines(program: &[u8], root: &Path, folders: &[&str]) -> Lines {
    let file = object::File::parse(program).expect("an ELF file");
    let load = |id: gimli::SectionId| -> Result<Reader<'_>, gimli::Error> {
        let data =
            file.section_by_name(id.name()).and_then(|section| section.data().ok()).unwrap_or_default();
        Ok(EndianSlice::new(data, LittleEndian))
    };
    let dwarf = Dwarf::load(load).expect("debug information");
    let text = file.section_by_name(".text").expect("code");
    let text = text.address() as u32..(text.address() + text.size()) as u32;
    let mut found = Lines::new();
    let mut units = dwarf.units();
    while let Some(header) = units.next().expect("a unit") {
        let unit = dwarf.unit(header).expect("a unit");
        let Some(line_program) = unit.line_program.clone() else { continue };
        let mut rows = line_program.rows();
        let mut last: Option<(u32, Option<(String, u32)>)> = None;
        while let Some((header, row)) = rows.next_row().expect("a row") {
            let here = row.address() as u32;
            if let Some((begin, Some(line))) = last.take()
                && here > begin
                && text.contains(&begin)
            {
                found.entry(line).or_default().push(begin..here);
            }
            if !row.end_sequence() {
                let line = row.line().and_then(|number| {
                    let path = path(&dwarf, &unit, header, row.file_index())?;
                    let path = path.strip_prefix(root).ok()?.to_string_lossy().into_owned();
                    let wanted = folders.iter().any(|folder| path.starts_with(folder));
                    wanted.then_some((path, number.get() as u32))
                });
                last = Some((here, line));
            }
        }
    }
    found
}

/// Returns the path of a file of the line table, made whole and without detours.
fn path(
    dwarf: &Dwarf<Reader<'_>>,
    unit: &Unit<Reader<'_>>,
    header: &LineProgramHeader<Reader<'_>>,
    index: u64,
) -> Option<PathBuf> {
    let text = |value: AttributeValue<Reader<'_>>| {
        dwarf.attr_string(unit, value).ok().map(|text| text.to_string_lossy().into_owned())
    };
    let file = header.file(index)?;
    let mut whole = PathBuf::from(unit.comp_dir?.to_string_lossy().into_owned());
    if let Some(folder) = file.directory(header).and_then(text) {
        whole.push(folder);
    }
    whole.push(text(file.path_name())?);
    let mut plain = PathBuf::new();
    for part in whole.components() {
        match part {
            Component::ParentDir => {
                plain.pop();
            }
            Component::CurDir => {}
            other => plain.push(other),
        }
    }
    Some(plain)
}
