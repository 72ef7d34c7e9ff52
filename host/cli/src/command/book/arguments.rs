//! What can be typed after `book`.

use crate::arguments::BookPath;
use crate::choice::{FATES, one_of};
use celltriage_custody::cell_name::typed::{Typed, entry_number};
use celltriage_verdict::Fate;
use clap::{Args, Subcommand};
use std::path::PathBuf;

/// Options of `book`.
#[derive(Debug, Args)]
pub struct BookArguments {
    /// The book.
    #[command(flatten)]
    pub book: BookPath,
    /// What to do with it.
    #[command(subcommand)]
    pub action: BookAction,
}

/// What to do with the book.
#[derive(Debug, Subcommand)]
pub enum BookAction {
    /// One line per entry, newest last.
    List {
        /// Only entries with this fate.
        #[arg(long, value_name = "FATE", ignore_case = true, value_parser = one_of(&FATES))]
        fate: Option<Fate>,
        /// At most this many, the newest.
        #[arg(long, value_name = "COUNT", default_value_t = 50)]
        most: u32,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// The whole story of a cell, or one entry in full.
    Show {
        /// The name of a cell for its whole story, or its tag as scanned; `entry:12` for an entry. A number is a cell.
        #[arg(value_name = "CELL|entry:NUMBER", value_parser = Typed::read)]
        what: Typed,
        /// Folder with your own rule packs, for what falls due.
        #[arg(long, value_name = "FOLDER", env = "CELLTRIAGE_RULES")]
        rules: Option<PathBuf>,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// Entries that hold a text: a cell's name, a fate, a word of the summary.
    Find {
        /// The text.
        text: String,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// Recompute a past decision from what was kept, and compare.
    Recompute {
        /// Number of the entry, as `12` or `entry:12`.
        #[arg(value_parser = entry_number)]
        number: u32,
    },
    /// Write out what was kept with an entry: frames, traces, label, policy.
    Export {
        /// Number of the entry, as `12` or `entry:12`.
        #[arg(value_parser = entry_number)]
        number: u32,
        /// Folder to write to; made if missing.
        folder: PathBuf,
    },
    /// Check the whole book: no entry changed, none missing in the middle, all attachments and recordings whole.
    ///
    /// By itself it cannot show that the last entries were cut off, or that everything was computed again by somebody who
    /// knows how. With what was noted elsewhere at a checkpoint it can.
    Verify {
        /// What the book must still hold: a file of checkpoints, or a number of entries of this bench and the digest of the last
        /// one, as `12:DIGEST`.
        #[arg(long, value_name = "FILE|NUMBER:DIGEST")]
        expect: Option<String>,
        /// The public key whose signature every checkpoint of the file must bear.
        #[arg(long, value_name = "KEY", requires = "expect")]
        signed_by: Option<String>,
        /// Also compare what the book keeps of cells, containers and models with all its entries; takes many times longer.
        #[arg(long)]
        kept: bool,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// Copy the book to a new file, also while others write; what is in the book before the call is in the copy.
    Backup {
        /// The new file; best on another disk.
        file: PathBuf,
        /// Verify the whole copy.
        #[arg(long)]
        check: bool,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// Restore the book from a copy that verifies, to its place, where there is none.
    ///
    /// Should the old file turn up again, do not write to it any more: it and the restored one would go on with the same
    /// chain, each in its own way, and neither could take in the entries of the other.
    Restore {
        /// The copy.
        copy: PathBuf,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// Write what can still be read of a damaged book into a new one, with numbers and seals as they are.
    ///
    /// A lost entry leaves its place, and every verification says so. The damaged file is only read: keep it.
    Rescue {
        /// The damaged book.
        damaged: PathBuf,
        /// The new file.
        #[arg(long, value_name = "FILE")]
        to: PathBuf,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// Take in the entries of another bench: all that are new, or none. They keep their seals.
    Merge {
        /// The book of the other bench, or a copy of it.
        file: PathBuf,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// Say how far the book has come, to be noted where nobody who can write the book can write.
    ///
    /// It shows later that entries were changed or cut off, or that all was computed again (`celltriage book verify --expect`).
    /// Signed, it shows also that whoever holds the key has noted it; not when, nor that the entries were true.
    Checkpoint {
        /// Also put it below the checkpoints in this file, which must not lie in the folder of the book.
        #[arg(long, value_name = "FILE")]
        to: Option<PathBuf>,
        /// Sign it with the key in this file (see `celltriage book key`).
        #[arg(long, value_name = "KEYFILE")]
        sign: Option<PathBuf>,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// Make a key that signs checkpoints, and print its public half.
    Key {
        /// The new file for the secret half; not in the folder of the book.
        file: PathBuf,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// Blank the names of people in an entry for good; that it was done is an entry.
    ///
    /// Every seal still fits. Copies and backups of the book still hold the names, and so may other entries.
    Blank {
        /// Number of the entry, as `12` or `entry:12`.
        #[arg(value_parser = entry_number)]
        number: u32,
        /// Why, without the names; it stays in the book.
        #[arg(long, value_name = "TEXT")]
        because: String,
        /// Name of the person who answers for it; unsaid, as set (see `celltriage settings`).
        #[arg(id = "setting_person", long = "by", value_name = "NAME")]
        by: String,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
}
