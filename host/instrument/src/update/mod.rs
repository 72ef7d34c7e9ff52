//! Another program for a fixture: the file is checked whole, goes onto the drive of the chip's boot program, and what comes back
//! is asked who it is.
//!
//! | file | what |
//! |---|---|
//! | [`uf2`] | the file becomes the flash that it would write |
//! | [`start_block`] | the digest by which the boot program knows a whole program |
//! | [`image`] | the checked image: which program, for which board, what reaches the chip when |
//! | [`fault`] | why a file is no program, or none for this fixture |

pub mod fault;
pub mod image;
pub mod start_block;
pub mod uf2;
