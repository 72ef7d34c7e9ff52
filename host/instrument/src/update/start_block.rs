//! The block that makes the chip's boot program check the whole program before it starts it.
//!
//! It must be exactly the one that `firmware/boards/pico2/make_uf2.py` writes: a program for this chip, a load map of all but
//! the block, the SHA-256 over those pieces and over the block's first words. Items and their order of hashing: pico-sdk,
//! boot/picobin.h, and pico-bootrom-rp2350, varm_blocks.c, both read November 2026.

use super::fault::ImageFault;
use super::uf2::{PROGRAM, word};
use celltriage_protocol::image_marker::SEARCHED;
use sha2::{Digest, Sha256};

const START: u32 = 0xFFFF_DED3;
/// IMAGE_TYPE: a program, Arm, secure, RP2350.
const IMAGE_TYPE: u32 = 0x1021_0142;
/// LOAD_MAP: absolute addresses, two pieces.
const LOAD_MAP: u32 = 0x8200_0706;
/// HASH_DEF: SHA-256.
const HASH_DEF: u32 = 0x0100_0247;
/// HASH_VALUE of eight words.
const HASH_VALUE: u32 = 0x0000_094B;
/// The last item; the block is a loop of its own; its end.
const END: [u32; 3] = [0x0000_13FF, 0, 0xAB12_3579];
const WORDS: usize = 23;
/// Words of the block that the digest is over.
const HASHED: usize = 11;
const DIGEST_AT: usize = 4 * (HASHED + 1);

/// Finds the start block and compares the digest in it with the content. Returns where it lies and how long it is.
///
/// # Errors
/// [`ImageFault::NoStartBlock`], [`ImageFault::NotSealed`], [`ImageFault::Digest`].
pub fn check(content: &[u8]) -> Result<(usize, usize), ImageFault> {
    let at = (0..content.len().min(SEARCHED))
        .step_by(4)
        .find(|at| word(content, *at) == Some(START))
        .ok_or(ImageFault::NoStartBlock)?;
    let length = 4 * WORDS;
    let block = content.get(at..at + length).ok_or(ImageFault::NoStartBlock)?;
    if word(block, 4) != Some(IMAGE_TYPE) {
        return Err(ImageFault::NoStartBlock);
    }
    let address = |place: usize| PROGRAM.start + place as u32;
    let (begin, after, end) = (address(at), address(at + length), address(content.len()));
    let map = [LOAD_MAP, PROGRAM.start, PROGRAM.start, begin, after, after, end];
    let seal = [HASH_DEF, HASHED as u32, HASH_VALUE];
    let is_there = |from: usize, words: &[u32]| {
        words.iter().enumerate().all(|(index, wanted)| word(block, 4 * (from + index)) == Some(*wanted))
    };
    if !is_there(2, &map) || !is_there(9, &seal) || !is_there(WORDS - END.len(), &END) {
        return Err(ImageFault::NotSealed);
    }
    let digest = [content.get(..at), content.get(at + length..), block.get(..4 * HASHED)]
        .into_iter()
        .flatten()
        .fold(Sha256::new(), |hash, piece| hash.chain_update(piece))
        .finalize();
    if block.get(DIGEST_AT..DIGEST_AT + digest.len()) != Some(digest.as_slice()) {
        return Err(ImageFault::Digest);
    }
    Ok((at, length))
}
