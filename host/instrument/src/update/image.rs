//! A program in a file, checked from its first byte to its last, and whether it is one for this fixture.

use super::fault::{ImageFault, Misfit};
use super::start_block;
use super::uf2::{self, Flash, PAGE, PROGRAM, SECTOR};
use crate::program::Program;
use celltriage_book::Digest;
use celltriage_protocol::description::Description;
use celltriage_protocol::image_marker::{ImageMarker, LENGTH, MARK, SEARCHED};
use celltriage_protocol::reply::Identity;
use celltriage_protocol::version;
use serde::{Deserialize, Serialize};
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// Longest file that is looked at: twice the program's part of the flash, as blocks are.
const LONGEST: u64 = 2 * (PROGRAM.end - PROGRAM.start) as u64;

/// What a program is, as an image or a running program says it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ProgramName {
    /// Name of the board.
    pub board: String,
    /// Revision of the board.
    pub revision: Option<String>,
    /// Commit that it was built from; `+` at its end where the sources differed from it.
    pub commit: Option<String>,
    /// Oldest and newest wire version that it speaks.
    pub wire_versions: (u8, u8),
    /// Digest of the limits compiled in, sixteen hexadecimal digits.
    pub limits: String,
}

impl ProgramName {
    /// Returns what a connected fixture says that runs on it.
    pub fn running(identity: &Identity, description: &Description) -> Self {
        let Program { commit, limits, board_revision: revision, .. } = Program::from(description);
        let (board, wire_versions) = (identity.board.to_string(), identity.versions);
        Self { board, revision, commit, wire_versions, limits }
    }

    /// Returns the commit in a few words.
    pub fn commit_or_unknown(&self) -> &str {
        self.commit.as_deref().unwrap_or("of a commit not known")
    }
}

/// A checked image.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Image {
    file: Vec<u8>,
    name: ProgramName,
    sha256: String,
}

impl Image {
    /// Reads an image from a file.
    ///
    /// # Errors
    /// [`ImageFault`].
    pub fn from_file(path: &Path) -> Result<Self, ImageFault> {
        let mut bytes = Vec::new();
        let opened = File::open(path).and_then(|file| file.take(LONGEST + 1).read_to_end(&mut bytes));
        opened.map_err(|error| ImageFault::Unreadable(error.to_string()))?;
        Self::read(bytes)
    }

    /// Checks the bytes of a file.
    ///
    /// # Errors
    /// [`ImageFault`].
    pub fn read(file: Vec<u8>) -> Result<Self, ImageFault> {
        let flash = uf2::read(&file)?;
        // Who asks what a strange file is hears that first; nothing of it is used before its digest was checked.
        let marker = marker(&flash.content)?;
        let block = start_block::check(&flash.content)?;
        check_order(&flash, block)?;
        let marker = ImageMarker::read(marker).map_err(ImageFault::Marker)?;
        let name = ProgramName {
            board: marker.board.to_owned(),
            revision: Some(marker.revision.to_owned()),
            commit: marker.commit.map(str::to_owned),
            wire_versions: marker.versions,
            limits: format!("{:016x}", marker.limits),
        };
        let sha256 = Digest::of(&flash.content).to_string();
        Ok(Self { name, sha256, file })
    }

    /// Returns which program it is.
    pub const fn name(&self) -> &ProgramName {
        &self.name
    }

    /// Returns the SHA-256 of the flash that it writes, in hexadecimal digits.
    pub fn sha256(&self) -> &str {
        &self.sha256
    }

    /// Returns the file in the three pieces that are to reach the chip one after the other: the block that takes the old start
    /// block away, all others, the block that brings the new one.
    pub fn pieces(&self) -> [&[u8]; 3] {
        let (first, rest) = self.file.split_at(uf2::BLOCK.min(self.file.len()));
        let (middle, last) = rest.split_at(rest.len().saturating_sub(uf2::BLOCK));
        [first, middle, last]
    }

    /// Compares the image with the fixture that it is meant for.
    ///
    /// # Errors
    /// [`Misfit`].
    pub fn must_fit(&self, running: &ProgramName) -> Result<(), Misfit> {
        let ProgramName { board, revision, .. } = &self.name;
        if *board != running.board {
            return Err(Misfit::Board { image: board.clone(), fixture: running.board.clone() });
        }
        if *revision != running.revision {
            let said = |revision: &Option<String>| revision.clone().unwrap_or_else(|| "not known".to_owned());
            return Err(Misfit::Revision { image: said(revision), fixture: said(&running.revision) });
        }
        self.must_speak()
    }

    /// Checks that this host could talk to the program.
    ///
    /// # Errors
    /// [`Misfit::Wire`].
    pub fn must_speak(&self) -> Result<(), Misfit> {
        let (oldest, newest) = self.name.wire_versions;
        let speaks = oldest <= version::CURRENT && newest >= version::OWNERSHIP && oldest <= newest;
        if speaks { Ok(()) } else { Err(Misfit::Wire { image: self.name.wire_versions }) }
    }
}

/// Returns the bytes of the only marker.
fn marker(content: &[u8]) -> Result<&[u8], ImageFault> {
    let searched = content.get(..content.len().min(SEARCHED + LENGTH)).unwrap_or_default();
    let places: Vec<usize> = searched
        .windows(MARK.len())
        .enumerate()
        .filter(|(at, bytes)| at.is_multiple_of(4) && *at < SEARCHED && *bytes == MARK)
        .map(|(at, _)| at)
        .collect();
    match places.as_slice() {
        [] => Err(ImageFault::NoMarker),
        [at] => content.get(*at..).ok_or(ImageFault::NoMarker),
        several => Err(ImageFault::Markers(several.len())),
    }
}

/// The first block must erase the old start block, and the last must be the one with its new beginning.
fn check_order(flash: &Flash, (at, length): (usize, usize)) -> Result<(), ImageFault> {
    let page = |place: usize| PROGRAM.start + (place - place % PAGE) as u32;
    let (begin, end) = (page(at), page(at + length - 1));
    let first = flash
        .order
        .first()
        .is_some_and(|first| first / SECTOR == begin / SECTOR && *first != begin && *first != end);
    let last = flash.order.last() == Some(&begin);
    // A start block over two pages: both come last.
    let before = flash.order.iter().rev().nth(1).is_some_and(|before| end == begin || *before == end);
    if first && last && before { Ok(()) } else { Err(ImageFault::Order) }
}
