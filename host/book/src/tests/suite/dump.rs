//! Everything that a database holds, as lines of text: what two databases must have in common.

use crate::store::{Rows, Store, Wanted};
use crate::{Digest, Problem, SubjectKind};

/// The folds that the suite keeps.
pub(super) const FOLDS: [&str; 2] = ["story", "count"];

/// Returns the lines in which two dumps differ: few, where two whole dumps would hide them.
pub(super) fn difference<'a>(one: &'a [String], other: &'a [String]) -> Vec<&'a str> {
    let only = |these: &'a [String], those: &[String]| {
        let alone = these.iter().filter(|line| !those.contains(line));
        alone.map(String::as_str).take(5).collect::<Vec<_>>()
    };
    let mut found = [only(one, other), only(other, one)].concat();
    if found.is_empty() && one != other {
        found.push("the order of lines, or how often they come");
    }
    found
}

/// Reads everything, each part by every way that leads to it.
pub(super) fn dump(store: &dyn Store) -> Vec<String> {
    super::read(store, |rows| {
        let mut lines = vec![format!("{:?}", rows.identity()?), format!("last {:?}", rows.last()?)];
        let mut numbers = Vec::new();
        rows.entries(&Wanted::default(), &mut |row| {
            assert_eq!(rows.entry(row.number)?.as_ref(), Some(&row));
            assert_eq!(rows.entry_at(row.chain, row.position)?.as_ref(), Some(&row));
            numbers.push(row.number);
            lines.push(format!("{row:?}"));
            Ok(true)
        })?;
        for chain in 0..4 {
            lines.push(format!("head {:?}", rows.head(chain)?));
        }
        for number in 0..=numbers.len() as i64 + 2 {
            entry(rows, number, &mut lines)?;
        }
        for kind in SubjectKind::ALL {
            lines.push(format!("names {:?}", rows.names(kind.word())?));
        }
        contents(rows, &mut lines)?;
        recordings(rows, &mut lines)?;
        rows.known(&mut |(book, number, here)| {
            assert_eq!(rows.known_as(book, number)?, Some(here));
            lines.push(format!("known {book} {number} {here}"));
            Ok(true)
        })?;
        FOLDS.iter().try_for_each(|fold| kept(rows, fold, &mut lines))?;
        Ok(lines)
    })
}

fn entry(rows: &dyn Rows, number: i64, lines: &mut Vec<String>) -> Result<(), Problem> {
    for part in [0, 1] {
        let text = rows.text(number * 2 + part)?.map(|packed| packed.text().unwrap());
        lines.push(format!("text {number} {text:?}"));
    }
    lines.push(format!("words {:?} about {:?}", rows.words(number)?, rows.about(number)?));
    lines.push(format!("{:?} {:?}", rows.personal(number)?, rows.attachments(number)?));
    lines.push(format!("finished {:?}", rows.recordings(number)?));
    Ok(())
}

fn contents(rows: &dyn Rows, lines: &mut Vec<String>) -> Result<(), Problem> {
    let mut known: Vec<Digest> = Vec::new();
    rows.contents(&mut |sha256, entry, bytes| {
        known.push(sha256);
        lines.push(format!("content {sha256} {entry:?} {bytes:?}"));
    })?;
    for sha256 in known {
        assert_eq!(rows.content(sha256)?.map(|bytes| Digest::of(&bytes)), Some(sha256));
    }
    lines.push(format!("without bytes {:?}", rows.attachments_without_bytes()?));
    Ok(())
}

fn recordings(rows: &dyn Rows, lines: &mut Vec<String>) -> Result<(), Problem> {
    for number in 0..=rows.last_recording()? + 1 {
        let row = rows.recording(number)?;
        if let Some(row) = row.as_ref().filter(|row| row.origin != 1) {
            assert_eq!(rows.recording_from(row.origin, row.origin_number)?, Some(number));
        }
        lines.push(format!("recording {row:?} {} {}", rows.length(number)?, rows.last_chunk(number)?));
        let (mut bytes, mut apart) = (Vec::new(), Vec::new());
        rows.chunks(number, &mut |chunk| bytes.extend_from_slice(chunk))?;
        for position in 1..=rows.last_chunk(number)? {
            apart.extend(rows.chunk(number, position)?.unwrap());
        }
        assert_eq!(bytes, apart);
        lines.push(format!("bytes {bytes:?} links {:?}", rows.links_of(number)?));
    }
    lines.push(format!("unfinished {:?} unlinked {:?}", rows.unfinished(None)?, rows.unlinked()?));
    let mut last = None;
    rows.links(&mut |link| {
        assert_eq!(rows.link(link.number)?, Some(link));
        last = Some(link);
        Ok(true)
    })?;
    assert_eq!(rows.last_link()?, last);
    Ok(())
}

fn kept(rows: &dyn Rows, fold: &str, lines: &mut Vec<String>) -> Result<(), Problem> {
    lines.push(format!("kept {fold} to {:?} labels {:?}", rows.kept_to(fold)?, rows.kept_labels(fold, "")?));
    rows.kept_all(fold, &mut |(key, value, labels)| {
        assert_eq!(rows.kept(fold, &key)?.as_ref(), Some(&value));
        for (label, _) in &labels {
            assert!(rows.kept_under(fold, label, None)?.contains(&key));
            lines.push(format!("under {label} {:?}", rows.kept_under(fold, label, Some(2))?));
        }
        lines.push(format!("kept {key} {:?} {:?} {labels:?}", value.digest, value.packed.text().unwrap()));
        Ok(true)
    })
}
