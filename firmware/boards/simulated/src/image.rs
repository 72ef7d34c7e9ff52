//! Images of programs that do nothing, for boards that play an update: content, seal, and the file as blocks.
//!
//! A second way to what `firmware/boards/pico2/make_uf2.py` makes, so that each can be compared with the other; what must be
//! in an image is told there.

use crate::boot_program::FLASH;
use celltriage_protocol::image_marker;
use rand::{RngCore, SeedableRng};
use rand_chacha::ChaCha8Rng;
use sha2::{Digest, Sha256};

/// Where the start block lies: behind the vectors of a real program.
const START_BLOCK: usize = 0x114;
const WORDS: usize = 23;
const MARKER: usize = START_BLOCK + 4 * WORDS;
const HASHED_WORDS: usize = 11;
const PAGE: usize = 256;

/// Returns the flash of a program for a board, so many pages long and sealed, the rest of it drawn from a seed.
///
/// # Panics
/// With less than two pages.
pub fn content(marker: &[u8; image_marker::LENGTH], pages: usize, seed: u64) -> Vec<u8> {
    assert!(pages >= 2, "the start block lies in the second page");
    let mut content = vec![0; PAGE * pages];
    ChaCha8Rng::seed_from_u64(seed).fill_bytes(&mut content);
    put(&mut content, MARKER, marker);
    seal(&mut content);
    content
}

/// Writes the start block over what is there, with the digest of all else.
pub fn seal(content: &mut [u8]) {
    let at = |offset: usize| FLASH + offset as u32;
    let (begin, after, end) = (at(START_BLOCK), at(MARKER), at(content.len()));
    let head =
        [0xFFFF_DED3, 0x1021_0142, 0x8200_0706, FLASH, FLASH, begin, after, after, end, 0x0100_0247, 11];
    let put_words = |content: &mut [u8], word: usize, words: &[u32]| {
        let bytes: Vec<u8> = words.iter().flat_map(|word| word.to_le_bytes()).collect();
        put(content, START_BLOCK + 4 * word, &bytes);
    };
    put_words(content, 0, &head);
    let mut hash = Sha256::new();
    let pieces = [0..START_BLOCK, MARKER..content.len(), START_BLOCK..START_BLOCK + 4 * HASHED_WORDS];
    for piece in pieces {
        hash.update(content.get(piece).unwrap_or_default());
    }
    put_words(content, HASHED_WORDS, &[0x0000_094B]);
    put(content, START_BLOCK + 4 * (HASHED_WORDS + 1), &hash.finalize());
    put_words(content, WORDS - 3, &[0x0000_13FF, 0, 0xAB12_3579]);
}

fn put(content: &mut [u8], at: usize, bytes: &[u8]) {
    content.iter_mut().skip(at).zip(bytes).for_each(|(place, byte)| *place = *byte);
}

/// Returns the file: the first sector's other pages first, the page with the start block last.
pub fn uf2(content: &[u8]) -> Vec<u8> {
    let with_block = START_BLOCK / PAGE;
    let pages = content.len() / PAGE;
    let order = (0..pages).filter(|page| *page != with_block).chain([with_block]);
    let block = |(number, page): (usize, usize)| {
        let at = FLASH + (PAGE * page) as u32;
        let head =
            [0x0A32_4655, 0x9E5D_5157, 0x2000, at, PAGE as u32, number as u32, pages as u32, 0xE48B_FF59];
        let mut block: Vec<u8> = head.iter().flat_map(|word: &u32| word.to_le_bytes()).collect();
        block.extend(content.iter().skip(PAGE * page).take(PAGE));
        block.resize(508, 0);
        block.extend(0x0AB1_6F30_u32.to_le_bytes());
        block
    };
    order.enumerate().flat_map(block).collect()
}

/// Returns the file of a program for the simulated board, told apart by its commit.
pub fn for_this_board(commit: &str) -> Vec<u8> {
    uf2(&content_for_this_board(commit))
}

/// Returns the flash of such a program.
pub fn content_for_this_board(commit: &str) -> Vec<u8> {
    let seed = commit.bytes().fold(1, |seed: u64, byte| seed.wrapping_mul(31).wrapping_add(byte.into()));
    content(
        &image_marker::of_this_program(crate::board::NAME, crate::board::REVISION, Some(commit)),
        24,
        seed,
    )
}
