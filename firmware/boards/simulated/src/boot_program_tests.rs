//! A file that was written in part, wherever and in whatever order, leaves the old program whole or is not started.

use super::boot_program::{BootProgram, Taken};
use super::image::{content, content_for_this_board, seal, uf2};
use celltriage_protocol::image_marker::{LENGTH, of_this_program};
use rand::seq::SliceRandom;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

const MARKER: [u8; LENGTH] = of_this_program("simulated", "A", Some("0123456789ab"));
const PAGES: usize = 40;
const BLOCK: usize = 512;

/// What lies in the flash, to whoever knows both programs.
#[derive(Debug, PartialEq, Eq)]
enum Left {
    Old,
    New,
    BootProgram,
    Mixed,
}

struct Update {
    old: Vec<u8>,
    new: Vec<u8>,
    file: Vec<u8>,
}

impl Update {
    /// From a program of more pages to one of fewer, or the other way.
    fn of(old_pages: usize, new_pages: usize) -> Self {
        let (old, new) = (content(&MARKER, old_pages, 1), content(&MARKER, new_pages, 2));
        let file = uf2(&new);
        Self { old, new, file }
    }

    fn blocks(&self) -> Vec<&[u8]> {
        self.file.chunks(BLOCK).collect()
    }

    fn left(&self, chip: &BootProgram) -> Left {
        match chip.starts() {
            false => Left::BootProgram,
            true if chip.flash().starts_with(&self.old) => Left::Old,
            true if chip.flash().starts_with(&self.new) => Left::New,
            true => Left::Mixed,
        }
    }

    /// Writes blocks one after the other and says after each what is left.
    fn cut_after_each(&self, blocks: &[&[u8]]) -> Vec<Left> {
        let mut chip = BootProgram::with(&self.old);
        let after = |block: &&[u8]| {
            chip.take(block);
            self.left(&chip)
        };
        blocks.iter().map(after).collect()
    }
}

#[test]
fn in_the_order_of_the_file_the_old_program_is_gone_first_and_the_new_one_is_there_last() {
    for (old, new) in [(PAGES, PAGES), (PAGES, PAGES / 2), (PAGES / 2, PAGES), (2, PAGES)] {
        let update = Update::of(old, new);
        let mut left = update.cut_after_each(&update.blocks());
        assert_eq!(left.pop(), Some(Left::New));
        assert_eq!(left.len(), new - 1);
        assert!(left.iter().all(|left| *left == Left::BootProgram), "{left:?}");
    }
}

#[test]
fn in_any_order_with_repetitions_nothing_mixed_is_started() {
    let update = Update::of(PAGES, PAGES);
    let mut random = ChaCha8Rng::seed_from_u64(3);
    let mut old = 0;
    for _ in 0..200 {
        let mut blocks = update.blocks();
        blocks.extend_from_within(..PAGES / 2);
        blocks.shuffle(&mut random);
        let left = update.cut_after_each(&blocks);
        assert_eq!(left.last(), Some(&Left::New));
        assert!(!left.contains(&Left::Mixed));
        old += left.iter().filter(|left| **left == Left::Old).count();
    }
    assert_eq!(old, 0, "each block erases a piece of a program of the same length");
}

#[test]
fn a_block_of_which_a_part_was_written_and_a_sector_half_erased_start_nothing_mixed() {
    let update = Update::of(PAGES, PAGES);
    let mut random = ChaCha8Rng::seed_from_u64(4);
    for written in 0..PAGES {
        let mut chip = BootProgram::with(&update.old);
        for block in update.blocks().into_iter().take(written) {
            chip.take(block);
        }
        let mut flash = chip.flash().to_vec();
        let at = u32::from_le_bytes(update.blocks()[written][12..16].try_into().unwrap()) as usize & 0xF_FFFF;
        let upto = random.random_range(0..256);
        for (index, byte) in update.blocks()[written][32..288].iter().take(upto).enumerate() {
            flash[at + index] &= byte;
        }
        for byte in &mut flash[at / 4096 * 4096..][..random.random_range(1..4096)] {
            *byte |= random.random::<u8>();
        }
        let left = update.left(&BootProgram::with(&flash));
        assert_ne!(left, Left::Mixed, "in block {written}");
    }
}

#[test]
fn what_the_two_means_are_for() {
    // Without a digest, and with the blocks in the order of their addresses, pieces of both programs were started.
    let mut update = Update::of(PAGES, PAGES);
    let unseal = |content: &mut Vec<u8>| {
        content[0x114 + 8..][..72].fill(0);
        content[0x114 + 8..][..4].copy_from_slice(&0x0000_12FE_u32.to_le_bytes());
    };
    unseal(&mut update.old);
    unseal(&mut update.new);
    update.file = uf2(&update.new);
    let mut blocks = update.blocks();
    blocks.sort_by_key(|block| block[12..16].iter().rev().copied().collect::<Vec<u8>>());
    assert!(update.cut_after_each(&blocks).contains(&Left::Mixed));
    // The order alone helps where blocks come in it, also against an old program without a digest.
    assert!(!update.cut_after_each(&update.blocks()).contains(&Left::Mixed));
    // The digest alone helps in any order.
    update.new = content(&MARKER, PAGES, 2);
    update.old = content(&MARKER, PAGES, 1);
    update.file = uf2(&update.new);
    let mut blocks = update.blocks();
    blocks.reverse();
    assert!(!update.cut_after_each(&blocks).contains(&Left::Mixed));
}

#[test]
fn any_changed_byte_of_a_sealed_program_is_not_started_but_for_what_asks_for_the_check() {
    // The head of HASH_VALUE: with another type nobody asks. Two spare bytes of it and one of the last item mean nothing.
    const HEAD: usize = 0x114 + 44;
    const LAST: usize = 0x114 + 80;
    let sealed = content_for_this_board("0123456789ab");
    assert!(BootProgram::with(&sealed).starts());
    let mut started = Vec::new();
    for at in 0..sealed.len() {
        let mut changed = sealed.clone();
        changed[at] ^= 0x10;
        started.extend(BootProgram::with(&changed).starts().then_some(at));
    }
    assert_eq!(started, [HEAD, HEAD + 2, HEAD + 3, LAST + 3]);
    let mut changed = sealed;
    changed[0x300] ^= 1;
    seal(&mut changed);
    assert!(BootProgram::with(&changed).starts());
}

#[test]
fn what_is_no_block_for_this_chip_changes_nothing() {
    let update = Update::of(PAGES, PAGES);
    let mut chip = BootProgram::with(&update.old);
    for (at, by) in
        [(0, 1), (4, 1), (508, 1), (9, 0x20), (8, 1), (16, 1), (28, 1), (12, 1), (15, 0x20), (22, 1)]
    {
        let mut block = update.blocks()[0].to_vec();
        block[at] ^= by;
        assert_eq!(chip.take(&block), Taken::Ignored, "byte {at}");
    }
    assert_eq!(chip.take(&[0; BLOCK]), Taken::Ignored);
    assert_eq!(chip.flash()[..update.old.len()], update.old);
    assert_eq!(chip.take(update.blocks()[0]), Taken::Written);
    assert_eq!(chip.take(update.blocks()[0]), Taken::Ignored);
}
