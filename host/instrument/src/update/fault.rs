//! Why a file is no program for a fixture, or none for this one.

use celltriage_protocol::image_marker::MarkerFault;
use celltriage_protocol::version;
use thiserror::Error;

/// What is wrong with a file that is to be a program.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
#[non_exhaustive]
pub enum ImageFault {
    /// It cannot be read.
    #[error("it cannot be read: {0}")]
    Unreadable(String),
    /// It does not begin as such a file does.
    #[error("it is not a UF2 file")]
    NotUf2,
    /// Its end is missing.
    #[error("it is cut off: {found} of {of} blocks are there")]
    CutOff {
        /// How many whole blocks there are.
        found: usize,
        /// How many there should be.
        of: usize,
    },
    /// A field of a block has another value than our files have.
    #[error("it is damaged: block {block} has another {what} than it should have")]
    Block {
        /// Which block, from 0.
        block: usize,
        /// What of it.
        what: &'static str,
    },
    /// For another chip.
    #[error("it is for another chip (family {family:08x}, the fixture's is {:08x})", super::uf2::FAMILY)]
    OtherChip {
        /// Whose family it names.
        family: u32,
    },
    /// It would write beside the program.
    #[error(
        "it would write at {address:#010x}, outside the program's part of the flash, where calibration and journal lie"
    )]
    Outside {
        /// Where.
        address: u32,
    },
    /// A piece is there twice.
    #[error("it is damaged: the piece for {address:#010x} is there twice")]
    Twice {
        /// Where the piece belongs.
        address: u32,
    },
    /// A piece is missing.
    #[error("it is damaged: the piece for {address:#010x} is missing")]
    Gap {
        /// Where the piece belongs.
        address: u32,
    },
    /// The boot program would not find where the program begins.
    #[error("it holds no program that the fixture's boot program would start (no start block)")]
    NoStartBlock,
    /// There is no digest in it.
    #[error("it holds no digest, so a half-written copy of it could be started")]
    NotSealed,
    /// The digest is that of something else.
    #[error("it is damaged: its content does not give the SHA-256 that stands in it")]
    Digest,
    /// The blocks are in an order in which a half-written copy could be started.
    #[error("its blocks are in an order in which a half-written copy could be started")]
    Order,
    /// Nothing says what it is.
    #[error("it is not a celltriage program: no marker says which board it is for")]
    NoMarker,
    /// The marker is there and cannot be read.
    #[error("its marker, which says what program it is, cannot be used: {0}")]
    Marker(MarkerFault),
    /// More than one marker.
    #[error("it holds {0} markers that say what program it is")]
    Markers(usize),
}

/// Why a program is none for this fixture, or for this host.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
#[non_exhaustive]
pub enum Misfit {
    /// For another board.
    #[error("the image is for the board `{image}`, and this fixture's is `{fixture}`")]
    Board {
        /// The image's.
        image: String,
        /// The fixture's.
        fixture: String,
    },
    /// For another revision of the board.
    #[error("the image is for revision {image} of the board, and this fixture's is {fixture}")]
    Revision {
        /// The image's.
        image: String,
        /// The fixture's.
        fixture: String,
    },
    /// This host could not talk to it.
    #[error(
        "the image speaks wire versions {} to {}, and this celltriage speaks {} to {}: it could not use the fixture afterwards",
        image.0, image.1, version::MIN, version::CURRENT
    )]
    Wire {
        /// Oldest and newest of the image.
        image: (u8, u8),
    },
}
