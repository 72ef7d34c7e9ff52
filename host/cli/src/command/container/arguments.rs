//! What can be typed after `container`.

use crate::as_it_was::AsItWas;
use crate::choice::{CONTAINER_KINDS, LOOKS, one_of};
use crate::desk::{DeskArguments, Signing};
use crate::label_files::LabelFiles;
use celltriage_custody::cell_name::typed::{entry_number, known_cell, new_cell};
use celltriage_custody::event::{ContainerKind, Look};
use clap::{Args, Subcommand};
use jiff::civil::Date;
use std::path::PathBuf;

/// Options of `container`.
#[derive(Debug, Args)]
pub struct ContainerArguments {
    /// Which book, and whose rules.
    #[command(flatten)]
    pub desk: DeskArguments,
    /// What to do.
    #[command(subcommand)]
    pub action: ContainerAction,
}

/// What to do with containers and with the cells in them.
#[derive(Debug, Subcommand)]
pub enum ContainerAction {
    /// Open a container.
    Open {
        /// Its name, never used before.
        name: String,
        /// What it is for.
        #[arg(long, value_parser = one_of(&CONTAINER_KINDS))]
        kind: ContainerKind,
        /// Place whose rules apply, as ISO 3166 code; unsaid, as set (see `celltriage settings`).
        #[arg(id = "setting_place", long = "place", value_name = "CODE")]
        place: String,
        /// Where it stands.
        #[arg(long, value_name = "TEXT")]
        stands: String,
        /// Mass in kg of the empty container with its filling.
        #[arg(long, value_name = "KG")]
        tare_kg: Option<f64>,
        /// Most cells that are wanted in it.
        #[arg(long, value_name = "COUNT")]
        most_cells: Option<u32>,
        /// Largest mass of cells in kg that is wanted in it.
        #[arg(long, value_name = "KG")]
        most_kg: Option<f64>,
        /// Largest energy in Wh that is wanted in it.
        #[arg(long, value_name = "WH")]
        most_wh: Option<f64>,
        /// Its volume in l, where a limit of stored volume holds.
        #[arg(long, value_name = "L")]
        volume_l: Option<f64>,
        /// Take one chemistry only.
        #[arg(long)]
        one_chemistry: bool,
        /// Who and when.
        #[command(flatten)]
        who: Signing,
    },
    /// Put a cell into a container. At a terminal the cell is asked for, and the open container that takes it is proposed.
    #[command(visible_alias = "put")]
    Place {
        /// The container.
        #[arg(value_name = "NAME")]
        name: Option<String>,
        /// The cell, or its tag as scanned.
        #[arg(value_name = "CELL", value_parser = known_cell)]
        cell: Option<String>,
        /// Its inner packing: each damaged cell has one of its own.
        #[arg(long, value_name = "NAME")]
        inner: Option<String>,
        /// Its mass in g, as weighed now.
        #[arg(long, value_name = "G")]
        mass_g: Option<f64>,
        /// Against the rules.
        #[command(flatten)]
        as_it_was: AsItWas,
        /// Who and when.
        #[command(flatten)]
        who: Signing,
    },
    /// Take a cell out of its container.
    TakeOut {
        /// The cell, or its tag as scanned.
        #[arg(value_parser = known_cell)]
        cell: String,
        /// Why.
        #[arg(long, value_name = "TEXT")]
        because: String,
        /// Against the rules.
        #[command(flatten)]
        as_it_was: AsItWas,
        /// Who and when.
        #[command(flatten)]
        who: Signing,
    },
    /// Move a container: where in the shop it stands, or also the place whose rules apply.
    Move {
        /// The container.
        name: String,
        /// Where it stands from now on; by default as before.
        #[arg(long, value_name = "TEXT", required_unless_present = "place")]
        stands: Option<String>,
        /// Place whose rules apply from now on, as ISO 3166 code; by default as before.
        #[arg(long, value_name = "CODE")]
        place: Option<String>,
        /// Nothing was moved: what was written down before was wrong.
        #[arg(long)]
        corrects: bool,
        /// Why.
        #[arg(long, value_name = "TEXT")]
        because: String,
        /// Against the rules.
        #[command(flatten)]
        as_it_was: AsItWas,
        /// Who and when.
        #[command(flatten)]
        who: Signing,
    },
    /// Put all that lies in a container into another one, each in its inner packing.
    Merge {
        /// The container that is emptied.
        name: String,
        /// The container that takes it.
        into: String,
        /// Why.
        #[arg(long, value_name = "TEXT")]
        because: String,
        /// Against the rules.
        #[command(flatten)]
        as_it_was: AsItWas,
        /// Who and when.
        #[command(flatten)]
        who: Signing,
    },
    /// Put some of what lies in a container into another one, each in its inner packing.
    Split {
        /// The container.
        name: String,
        /// The container that takes them.
        into: String,
        /// The cells that go, or their tags as scanned.
        #[arg(value_name = "CELL", required = true, value_parser = known_cell)]
        cells: Vec<String>,
        /// Why.
        #[arg(long, value_name = "TEXT")]
        because: String,
        /// Against the rules.
        #[command(flatten)]
        as_it_was: AsItWas,
        /// Who and when.
        #[command(flatten)]
        who: Signing,
    },
    /// Take all out of a container; where one cell must stay, none goes.
    Empty {
        /// The container.
        name: String,
        /// Why.
        #[arg(long, value_name = "TEXT")]
        because: String,
        /// Against the rules.
        #[command(flatten)]
        as_it_was: AsItWas,
        /// Who and when.
        #[command(flatten)]
        who: Signing,
    },
    /// Write down what a cell weighs.
    Weigh {
        /// The cell, or its tag as scanned.
        #[arg(value_parser = known_cell)]
        cell: String,
        /// Its mass in g.
        #[arg(long, value_name = "G")]
        mass_g: f64,
        /// Who and when.
        #[command(flatten)]
        who: Signing,
    },
    /// A label was put on a cell: written down with what was decided so far; where another fate is decided later, `due` says that the
    /// label must be changed.
    Labelled {
        /// The cell, or its tag as scanned.
        #[arg(value_parser = new_cell)]
        cell: String,
        /// Who and when.
        #[command(flatten)]
        who: Signing,
    },
    /// Put a cell under watch: quarantine with looks.
    Hold {
        /// The cell, or its tag as scanned.
        #[arg(value_parser = known_cell)]
        cell: String,
        /// Why.
        #[arg(long, value_name = "TEXT")]
        because: String,
        /// Where it lies.
        #[arg(long, value_name = "TEXT")]
        stands: String,
        /// Not released before this day; by default 28 days from today.
        #[arg(long, value_name = "DATE")]
        until: Option<Date>,
        /// Days from one look to the next.
        #[arg(long, value_name = "DAYS", default_value_t = 1)]
        every_days: u32,
        /// Who and when.
        #[command(flatten)]
        who: Signing,
    },
    /// Write down a look at a watched cell.
    Inspect {
        /// The cell, or its tag as scanned.
        #[arg(value_parser = known_cell)]
        cell: String,
        /// How it looked.
        #[arg(long, value_parser = one_of(&LOOKS))]
        look: Look,
        /// Temperature of the cell in degC.
        #[arg(long, value_name = "DEGC", allow_negative_numbers = true)]
        temperature_c: Option<f64>,
        /// Temperature of the air in degC.
        #[arg(long, value_name = "DEGC", allow_negative_numbers = true)]
        air_c: Option<f64>,
        /// What else was seen.
        #[arg(long, value_name = "TEXT")]
        note: Option<String>,
        /// Who and when.
        #[command(flatten)]
        who: Signing,
    },
    /// End the watch over a cell.
    Release {
        /// The cell, or its tag as scanned.
        #[arg(value_parser = known_cell)]
        cell: String,
        /// Why.
        #[arg(long, value_name = "TEXT")]
        because: String,
        /// Who and when.
        #[command(flatten)]
        who: Signing,
    },
    /// Write down that a cell has become critical.
    Escalate {
        /// The cell, or its tag as scanned.
        #[arg(value_parser = known_cell)]
        cell: String,
        /// Why.
        #[arg(long, value_name = "TEXT")]
        because: String,
        /// Who and when.
        #[command(flatten)]
        who: Signing,
    },
    /// Remark on an entry, or strike what was assessed, judged, seen, weighed or alarmed about.
    Correct {
        /// Number of the entry, as `12` or `entry:12`.
        #[arg(value_parser = entry_number)]
        entry: u32,
        /// What is right, and why.
        #[arg(long, value_name = "TEXT")]
        because: String,
        /// The entry no longer counts.
        #[arg(long)]
        strike: bool,
        /// Who and when.
        #[command(flatten)]
        who: Signing,
    },
    /// The words to be written on a container or its cells by the rules of its place, with the date; or one label with a code.
    Label {
        /// The container.
        name: String,
        /// As a page for the printer, in large letters: `--html > label.html`.
        #[arg(long, conflicts_with_all = ["png", "pdf", "json"])]
        html: bool,
        /// One label with all of it, as files.
        #[command(flatten)]
        files: LabelFiles,
        /// As JSON: what the one label says, and where it was written.
        #[arg(long)]
        json: bool,
    },
    /// The sheet of a container, to hang on it and to send with it: its cells, what is counted, the words of the rules of its place.
    Sheet {
        /// The container.
        name: String,
        /// Write it as a PDF.
        #[arg(long, value_name = "FILE")]
        pdf: Option<PathBuf>,
        /// Write it as a page for a browser.
        #[arg(long, value_name = "FILE")]
        html: Option<PathBuf>,
    },
    /// One line for each container.
    List {
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// One container: its cells, and what is counted.
    Show {
        /// The container.
        name: String,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
}

impl ContainerAction {
    /// Returns the cell that it is about, if it is about one.
    pub fn cell(&self) -> Option<&str> {
        match self {
            Self::Place { cell, .. } => cell.as_deref(),
            Self::TakeOut { cell, .. }
            | Self::Weigh { cell, .. }
            | Self::Labelled { cell, .. }
            | Self::Hold { cell, .. }
            | Self::Inspect { cell, .. }
            | Self::Release { cell, .. }
            | Self::Escalate { cell, .. } => Some(cell),
            Self::Open { .. }
            | Self::Move { .. }
            | Self::Merge { .. }
            | Self::Split { .. }
            | Self::Empty { .. }
            | Self::Correct { .. }
            | Self::Label { .. }
            | Self::Sheet { .. }
            | Self::List { .. }
            | Self::Show { .. } => None,
        }
    }

    /// Returns whether what is written is told as JSON.
    pub const fn json(&self) -> bool {
        match self {
            Self::Open { who, .. }
            | Self::Place { who, .. }
            | Self::TakeOut { who, .. }
            | Self::Weigh { who, .. }
            | Self::Labelled { who, .. }
            | Self::Hold { who, .. }
            | Self::Inspect { who, .. }
            | Self::Release { who, .. }
            | Self::Escalate { who, .. }
            | Self::Move { who, .. }
            | Self::Merge { who, .. }
            | Self::Split { who, .. }
            | Self::Empty { who, .. }
            | Self::Correct { who, .. } => who.json,
            Self::Label { .. } | Self::Sheet { .. } | Self::List { .. } | Self::Show { .. } => false,
        }
    }
}
