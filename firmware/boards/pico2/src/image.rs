//! What stands beside the program in its image: the block for the chip's boot program, and the marker for the host.
//!
//! The block as linked says only that this is a program for the Arm cores, and leaves room: `make_uf2.py` puts the places and
//! the SHA-256 of the whole program there (a load map, HASH_DEF and HASH_VALUE), and from then on the boot program starts it
//! only while all of it is as it was made. The ELF file keeps the room, so that a debug probe can write and change a program.

use celltriage_protocol::image_marker;
use embassy_rp::block::{
    Architecture, Block, ITEM_2BS_IGNORED, Security, item_generic_2bs, item_image_type_exe,
};

/// The board's name.
pub const BOARD: &str = "pico2";
/// Its revision: the circuit's (`hardware-notes/circuit/circuit.toml`).
pub const REVISION: &str = "A";
/// The commit, where the build knows it.
pub const COMMIT: Option<&str> = option_env!("CELLTRIAGE_COMMIT");

/// Words for the load map of two pieces (7), HASH_DEF (2) and HASH_VALUE (9).
const ROOM: usize = 18;

#[used]
#[allow(unsafe_code)]
// SAFETY: the section holds nothing but this block, where the boot program looks for it.
#[unsafe(link_section = ".start_block")]
static START_BLOCK: Block<{ 1 + ROOM }> = Block::new(items());

#[used]
#[allow(unsafe_code)]
// SAFETY: the section holds nothing but this marker.
#[unsafe(link_section = ".image_marker")]
static MARKER: [u8; image_marker::LENGTH] = image_marker::of_this_program(BOARD, REVISION, COMMIT);

/// The type of the program, then one item that the boot program passes over.
// The places are constants.
#[allow(clippy::indexing_slicing)]
const fn items() -> [u32; 1 + ROOM] {
    let mut items = [0; 1 + ROOM];
    items[0] = item_image_type_exe(Security::Secure, Architecture::Arm);
    items[1] = item_generic_2bs(0, ROOM as u16, ITEM_2BS_IGNORED);
    items
}
