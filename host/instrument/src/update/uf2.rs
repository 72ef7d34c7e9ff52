//! A UF2 file becomes the flash that it would write: nothing missing, nothing twice, nothing outside the program's part.
//!
//! The form is that of the UF2 specification (github.com/microsoft/uf2, README, commit 90e9741f, read November 2026). Of what it
//! leaves free only that is taken which our files have (`firmware/boards/pico2/make_uf2.py`): any other value is damage.

use super::fault::ImageFault;
use std::ops::Range;

/// Length of a block.
pub const BLOCK: usize = 512;
/// Bytes of content in one.
pub const PAGE: usize = 256;
/// What the boot program erases at once.
pub const SECTOR: u32 = 4096;
/// The program's part of the flash; calibration and journal lie behind it (`firmware/boards/pico2/memory.x`; a test compares).
pub const PROGRAM: Range<u32> = 0x1000_0000..0x1010_0000;
/// The chip's family, Arm cores in the secure state (uf2families.json of the specification; pico-sdk, boot/uf2.h).
pub const FAMILY: u32 = 0xE48B_FF59;

const FIRST_MARK: u32 = 0x0A32_4655;
const SECOND_MARK: u32 = 0x9E5D_5157;
const LAST_MARK: u32 = 0x0AB1_6F30;
const HAS_FAMILY: u32 = 0x2000;
const CONTENT_AT: usize = 32;
const LAST_MARK_AT: usize = 508;

/// What a file writes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Flash {
    /// From the start of the program's part on, whole pages without a gap.
    pub content: Vec<u8>,
    /// Addresses of the pages in the order of the file.
    pub order: Vec<u32>,
}

/// Reads a whole file.
///
/// # Errors
/// [`ImageFault`], from its first block on.
pub fn read(file: &[u8]) -> Result<Flash, ImageFault> {
    if word(file, 0) != Some(FIRST_MARK) || word(file, 4) != Some(SECOND_MARK) {
        return Err(ImageFault::NotUf2);
    }
    let (found, told) = (file.len() / BLOCK, word(file, 24));
    let of = told.map_or(found + 1, |told| told as usize);
    if found < of || found == 0 {
        return Err(ImageFault::CutOff { found, of });
    }
    if found > of || !file.len().is_multiple_of(BLOCK) {
        return Err(ImageFault::Block { block: of, what: "place: it should not be there" });
    }
    let mut pages: Vec<Option<&[u8]>> = vec![None; found];
    let mut order = Vec::with_capacity(found);
    for (number, block) in file.chunks_exact(BLOCK).enumerate() {
        let address = check(block, number, found)?;
        let end = address.checked_add(PAGE as u32);
        if !PROGRAM.contains(&address) || end.is_none_or(|end| end > PROGRAM.end) {
            return Err(ImageFault::Outside { address });
        }
        if !address.is_multiple_of(PAGE as u32) {
            return Err(ImageFault::Block { block: number, what: "address" });
        }
        // A page behind as many as there are blocks leaves a gap before it, which is found below.
        if let Some(page) = pages.get_mut((address - PROGRAM.start) as usize / PAGE) {
            if page.is_some() {
                return Err(ImageFault::Twice { address });
            }
            *page = block.get(CONTENT_AT..CONTENT_AT + PAGE);
        }
        order.push(address);
    }
    let mut content = Vec::with_capacity(found * PAGE);
    for (page, address) in pages.into_iter().zip((PROGRAM.start..).step_by(PAGE)) {
        content.extend_from_slice(page.ok_or(ImageFault::Gap { address })?);
    }
    Ok(Flash { content, order })
}

/// Checks all of a block but its content; returns its address.
fn check(block: &[u8], number: usize, count: usize) -> Result<u32, ImageFault> {
    let field = |at| word(block, at).unwrap_or_default();
    let damage = |what| Err(ImageFault::Block { block: number, what });
    if (field(0), field(4), field(LAST_MARK_AT)) != (FIRST_MARK, SECOND_MARK, LAST_MARK) {
        return damage("mark");
    }
    if field(8) != HAS_FAMILY {
        return damage("flag");
    }
    if field(28) != FAMILY {
        return Err(ImageFault::OtherChip { family: field(28) });
    }
    if field(16) as usize != PAGE {
        return damage("length");
    }
    if field(20) as usize != number {
        return damage("number");
    }
    if field(24) as usize != count {
        return damage("number of blocks");
    }
    let filling = block.get(CONTENT_AT + PAGE..LAST_MARK_AT).unwrap_or_default();
    if filling.iter().any(|byte| *byte != 0) {
        return damage("filling");
    }
    Ok(field(12))
}

/// Returns a number of four bytes, little endian.
pub(super) fn word(bytes: &[u8], at: usize) -> Option<u32> {
    bytes.get(at..)?.first_chunk::<4>().map(|word| u32::from_le_bytes(*word))
}
