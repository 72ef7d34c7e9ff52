//! Another program for a fixture: the file is checked whole, goes onto the drive of the chip's boot program, and what comes back
//! is asked who it is.
//!
//! | file | what |
//! |---|---|
//! | [`uf2`] | the file becomes the flash that it would write |
//! | [`start_block`] | the digest by which the boot program knows a whole program |
//! | [`image`] | the checked image: which program, for which board, what reaches the chip when |
//! | [`fault`] | why a file is no program, or none for this fixture |
//! | [`drive`] | the boot program's drive: known by what it says of itself, found, written to |
//! | [`site`] | where an update happens: time, drives, port; this computer, or the simulated bench |
//! | [`exchange`] | leave, write, come back; where the fixture stands if it does not |
//! | [`record`] | the entry of the book |

pub mod drive;
pub mod exchange;
pub mod fault;
pub mod image;
pub mod record;
pub mod site;
pub mod start_block;
pub mod uf2;
