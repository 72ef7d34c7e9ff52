//! The chip's boot program as far as an update meets it: how it takes the blocks of a file, and what it starts from the flash.
//!
//! Written from its source (github.com/raspberrypi/pico-bootrom-rp2350, commit 451edbc, read November 2026), apart from
//! `make_uf2.py` and from the host's check: `usb_virtual_disk.c` (blocks; a sector is erased when the first page in it is
//! written; a block is written once), `varm_flash_boot.c` (the first 4 KiB are searched), `varm_blocks.c` (blocks, items, digest).
//! Simplified to the strict side or to what our images have: one family, one block without a successor, no partition table.

use sha2::{Digest, Sha256};
use std::collections::BTreeSet;

/// Where the flash is seen.
pub const FLASH: u32 = 0x1000_0000;
/// Size of the flash: the module has more, and the program's part ends here.
const FLASH_SIZE: usize = 1 << 20;
const SECTOR: usize = 4096;
const PAGE: usize = 256;
const BLOCK: usize = 512;

const MARKS: [(usize, u32); 3] = [(0, 0x0A32_4655), (4, 0x9E5D_5157), (508, 0x0AB1_6F30)];
const FAMILY_PRESENT: u32 = 0x2000;
const NOT_MAIN_FLASH: u32 = 1;
const ARM_SECURE: u32 = 0xE48B_FF59;

const BLOCK_START: u32 = 0xFFFF_DED3;
const BLOCK_END: u32 = 0xAB12_3579;
/// Type of a program for the Arm cores of this chip in the secure state, as the item's upper half.
const PROGRAM: u32 = 0x1021;
const IMAGE_TYPE: u32 = 0x42;
const LOAD_MAP: u32 = 0x06;
const HASH_DEF: u32 = 0x47;
const HASH_VALUE: u32 = 0x4B;
const LAST: u32 = 0xFF;
/// An item's head: its type with the bit that says how long its size is, its type alone, that bit; sizes in words above it.
const TYPE: u32 = 0xFF;
const KIND: u32 = 0x7F;
const LONG: u32 = 0x80;
const SHORT_SIZE: u32 = 0xFF;
const LONG_SIZE: u32 = 0xFFFF;
/// What is read where flash was erased.
const ERASED: u8 = 0xFF;
/// Longest IMAGE_DEF block in words.
const LONGEST: usize = 0x180 / 4;

/// What came of a block.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Taken {
    /// It is no block for this chip, or was written before.
    Ignored,
    /// It is written; others are missing.
    Written,
    /// It was the last that was missing: the chip restarts.
    Complete,
}

/// The boot program with its flash.
#[derive(Clone, Debug)]
pub struct BootProgram {
    flash: Vec<u8>,
    transfer: Option<Transfer>,
}

/// A file under way.
#[derive(Clone, Debug)]
struct Transfer {
    blocks: u32,
    written: BTreeSet<u32>,
    erased: BTreeSet<usize>,
}

impl BootProgram {
    /// Returns it with a flash that begins with this and is empty after it.
    pub fn with(content: &[u8]) -> Self {
        let mut flash = content.to_vec();
        flash.resize(FLASH_SIZE, ERASED);
        Self { flash, transfer: None }
    }

    /// Returns the flash.
    pub fn flash(&self) -> &[u8] {
        &self.flash
    }

    /// Takes what was written to its drive, 512 bytes, wherever on the drive that is.
    pub fn take(&mut self, block: &[u8]) -> Taken {
        let field = |at| word(block, at).unwrap_or(0);
        let is_ours = block.len() == BLOCK && MARKS.iter().all(|(at, mark)| field(*at) == *mark);
        let flags = field(8);
        if !is_ours || flags & FAMILY_PRESENT == 0 || flags & NOT_MAIN_FLASH != 0 || field(16) != PAGE as u32
        {
            return Taken::Ignored;
        }
        let (number, blocks, at) = (field(20), field(24), field(12).wrapping_sub(FLASH) as usize);
        if field(28) != ARM_SECURE || at >= FLASH_SIZE || !at.is_multiple_of(PAGE) || number >= blocks {
            return Taken::Ignored;
        }
        // Another number of blocks is another file.
        if self.transfer.as_ref().is_none_or(|transfer| transfer.blocks != blocks) {
            self.transfer = Some(Transfer { blocks, written: BTreeSet::new(), erased: BTreeSet::new() });
        }
        let Some(transfer) = &mut self.transfer else { return Taken::Ignored };
        if !transfer.written.insert(number) {
            return Taken::Ignored;
        }
        if transfer.erased.insert(at / SECTOR) {
            self.flash.iter_mut().skip(at / SECTOR * SECTOR).take(SECTOR).for_each(|byte| *byte = ERASED);
        }
        // Writing clears bits and sets none.
        let page = self.flash.iter_mut().skip(at).take(PAGE);
        page.zip(block.iter().skip(32)).for_each(|(cell, byte)| *cell &= byte);
        let complete = transfer.written.len() as u32 == blocks;
        if complete { Taken::Complete } else { Taken::Written }
    }

    /// Forgets the file under way: the power was off.
    pub fn power_cycle(&mut self) {
        self.transfer = None;
    }

    /// Returns whether it starts what lies in the flash; otherwise its drive appears.
    pub fn starts(&self) -> bool {
        let first = (0..SECTOR).step_by(4).find_map(|at| Block::at(&self.flash, at));
        first.is_some_and(|block| block.is_a_program() && block.digest_holds().unwrap_or(false))
    }
}

/// A block in the flash, whose form is right.
struct Block<'a> {
    flash: &'a [u8],
    begin: usize,
    /// Type, place and length in words of each item.
    items: Vec<(u32, usize, usize)>,
}

impl<'a> Block<'a> {
    fn at(flash: &'a [u8], begin: usize) -> Option<Self> {
        if word(flash, begin)? != BLOCK_START {
            return None;
        }
        let (mut items, mut at) = (Vec::new(), begin + 4);
        while at < begin + 4 * LONGEST {
            let head = word(flash, at)?;
            let long = head & LONG != 0;
            let size = (head >> 8 & if long { LONG_SIZE } else { SHORT_SIZE }) as usize;
            if size == 0 {
                return None;
            }
            if head & TYPE == LAST {
                let fits = size == (at - begin) / 4 - 1 && word(flash, at + 8)? == BLOCK_END;
                // A block that names no other is a loop of its own.
                return (fits && word(flash, at + 4)? == 0).then_some(Self { flash, begin, items });
            }
            items.push((head & KIND, at, size));
            at += 4 * size;
        }
        None
    }

    fn item(&self, kind: u32) -> Option<(usize, usize)> {
        self.items.iter().find(|(known, ..)| *known == kind).map(|(_, at, size)| (*at, *size))
    }

    fn is_a_program(&self) -> bool {
        let first = self.items.first().is_some_and(|(kind, _, size)| *kind == IMAGE_TYPE && *size == 1);
        first && word(self.flash, self.begin + 4).is_some_and(|head| head >> 16 == PROGRAM)
    }

    /// A program without HASH_VALUE is started as it is. `None` where an item leads out of the flash.
    fn digest_holds(&self) -> Option<bool> {
        let Some((value, size)) = self.item(HASH_VALUE) else { return Some(true) };
        let Some((definition, 2)) = self.item(HASH_DEF) else { return Some(false) };
        if !(2..=9).contains(&size) {
            return Some(false);
        }
        let mut hash = Sha256::new();
        if let Some((map, size)) = self.item(LOAD_MAP) {
            let head = word(self.flash, map)?;
            let pieces = (head << 1 >> 25) as usize;
            // Absolute addresses are all that our images have.
            if head >> 31 == 0 || size != 1 + 3 * pieces {
                return Some(false);
            }
            for piece in 0..pieces {
                let entry = map + 4 + 12 * piece;
                let [from, to, end] = [0, 4, 8].map(|at| word(self.flash, entry + at));
                let (from, end) = (from?.checked_sub(FLASH)? as usize, end?.checked_sub(FLASH)? as usize);
                if to? as usize != from + FLASH as usize {
                    return Some(false);
                }
                hash.update(self.flash.get(from..end)?);
            }
        }
        let words = word(self.flash, definition + 4)? as usize;
        hash.update(self.flash.get(self.begin..self.begin + 4 * words)?);
        let digest = hash.finalize();
        let told = self.flash.get(value + 4..value + 4 * size)?;
        Some(digest.get(..told.len())? == told)
    }
}

fn word(bytes: &[u8], at: usize) -> Option<u32> {
    bytes.get(at..)?.first_chunk::<4>().map(|word| u32::from_le_bytes(*word))
}
