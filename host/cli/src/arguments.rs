//! What can be typed: commands and options, with units in their names.
//!
//! Options are taken as typed here; what they mean (files read, values checked) is worked out by the commands.

use crate::cell_name::cell_name;
use crate::choice::{EXTENTS, one_of};
use celltriage_measure::plan::Extent;
use clap::{Args, Parser, Subcommand};
use jiff::civil::Date;
use std::path::PathBuf;

/// Decides what becomes of a used lithium-ion cell: fit it again, recycle it, or keep it apart as damaged.
///
/// Measures a cell on the fixture (or takes a recorded trace), weighs the evidence against a stated policy, prints the
/// decision with its reasons and the cautions that follow from it, and keeps the book. A decision supports the person
/// who makes it; it does not replace the cell maker's criteria, local law or a trained person's judgement.
#[derive(Debug, Parser)]
#[command(name = "celltriage", version, after_help = EXIT_CODES, max_term_width = 100)]
pub struct Arguments {
    /// Today by a calendar, as 2026-11-30: answers for a clock that stands before the newest entry of the book, or more
    /// than a day after it. A day that is not the clock's is an error.
    #[arg(long, global = true, value_name = "DATE", help_heading = "Clock")]
    pub today: Option<Date>,
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

const EXIT_CODES: &str = "\
Exit codes:
  0  done, whatever the cell's fate
  2  an option, a file or a value given cannot be used
  3  nothing could be measured: no fixture, no answer, or it refused
  4  the test did not run to its end (trip, stop, fixture lost); the cell is recorded so
  5  the book cannot be read or written, or does not verify
  6  an alarm: a watched cell, a self-test or a check standard is not as it must be
  7  it was done, but the output could not be written (a full disk): what was printed is not whole";

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Assess the cells of a made-up workshop on the simulated bench: the whole job, without hardware.
    Demo(DemoArguments),
    /// Assess one cell on the fixture, from label and looks to decision and book.
    Assess(AssessArguments),
    /// Assess from a recorded trace: a CSV file of the Battery Data Format, or a recording of frames.
    Grade(GradeArguments),
    /// Guide through a full capacity run: your charger charges, the fixture discharges; goes on after a restart.
    Guided(crate::command::guided::GuidedArguments),
    /// Assess several cells at once, each on its own fixture, for example overnight.
    Batch(crate::command::batch::BatchArguments),
    /// Explain a decision number by number: doubt, limit, guard band, probability, and what would settle it.
    Explain(crate::command::explain::ExplainArguments),
    /// Read the book.
    Book(BookArguments),
    /// What the book knows of a model of cells.
    Model(crate::command::model::ModelArguments),
    /// Judge the legal state of a cell: the tool proposes, a person signs.
    Judge(crate::command::judge::JudgeArguments),
    /// Containers of cells and cells under watch: open, fill, weigh, look, show.
    Container(crate::command::container::ContainerArguments),
    /// Shipments: draft papers, hand-over; test records of used cells.
    Shipment(crate::command::shipment::ShipmentArguments),
    /// Local rules: places, facts with their sources and doubts, changes, own packs, cautions.
    Rules(crate::command::rules::RulesArguments),
    /// The fixture itself: find it, ask it, test it, watch it.
    Fixture(crate::command::fixture::FixtureCommand),
    /// Watch a cell that was or may become hot, for hours, without a load; an alarm at once where it warms.
    HotCellWatch(crate::command::hot_cell_watch::HotCellWatchArguments),
    /// What falls due, overdue first.
    Due(crate::command::due::DueArguments),
}

/// Options of `demo`.
#[derive(Debug, Args)]
pub struct DemoArguments {
    /// Folder for the book and one JSON file per cell; made if missing.
    #[arg(long, value_name = "FOLDER", default_value = "celltriage-demo")]
    pub out: PathBuf,
    /// Seed of the simulated noise: the same seed gives the same bytes.
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// Where and by which policy.
    #[command(flatten)]
    pub setting: SettingArguments,
}

/// Options of `assess`.
#[derive(Debug, Args)]
pub struct AssessArguments {
    /// The shop's own name for the cell, as on its tag.
    #[arg(long, value_name = "NAME", value_parser = cell_name)]
    pub id: String,
    /// Where it is measured.
    #[command(flatten)]
    pub bench: BenchArguments,
    /// How much is measured.
    #[arg(long, value_parser = one_of(&EXTENTS), default_value = "screen")]
    pub extent: Extent,
    /// What a person takes upon themself.
    #[command(flatten)]
    pub leave: LeaveArguments,
    /// Label, looks, place and policy.
    #[command(flatten)]
    pub case: CaseArguments,
    /// The book.
    #[command(flatten)]
    pub book: BookPath,
    /// Print the assessment as JSON (see host/JSON.md) instead of a page.
    #[arg(long)]
    pub json: bool,
}

/// Where a cell is measured.
#[derive(Clone, Debug, Default, Args)]
pub struct BenchArguments {
    /// Serial port of the fixture, e.g. /dev/ttyACM0 or COM5; by default the only one that is plugged in.
    #[arg(long, value_name = "PORT", conflicts_with = "simulated")]
    pub port: Option<String>,
    /// A simulated cell on a simulated bench instead of a fixture, e.g. `sound`.
    #[arg(long, value_name = "KIND")]
    pub simulated: Option<String>,
}

/// What a person takes upon themself at the fixture.
#[derive(Clone, Debug, Default, Args)]
pub struct LeaveArguments {
    /// Forget the trip that the fixture has latched: you have looked at the cell and removed the cause.
    #[arg(long)]
    pub acknowledge_trip: bool,
    /// Assess although the check standard has stopped the fixture; the reason is recorded with the decision.
    #[arg(long, value_name = "REASON")]
    pub despite_stop: Option<String>,
}

/// What is told of a cell beside its name and its measurement.
#[derive(Debug, Args)]
pub struct CaseArguments {
    /// The label.
    #[command(flatten)]
    pub label: LabelArguments,
    /// The looks.
    #[command(flatten)]
    pub looks: LooksArguments,
    /// Where and by which policy.
    #[command(flatten)]
    pub setting: SettingArguments,
}

/// Options of `grade`.
#[derive(Debug, Args)]
pub struct GradeArguments {
    /// The trace: a CSV file of the Battery Data Format, or our own recording (`.frames`).
    #[arg(value_name = "TRACE")]
    pub trace: PathBuf,
    /// The shop's own name for the cell; by default the trace's file name.
    #[arg(long, value_name = "NAME", value_parser = cell_name)]
    pub id: Option<String>,
    /// Label, looks, place and policy.
    #[command(flatten)]
    pub case: CaseArguments,
    /// Also write the assessment, with the trace, into this book.
    #[arg(long, value_name = "FILE")]
    pub book: Option<PathBuf>,
    /// Print the assessment as JSON (see host/JSON.md) instead of a page.
    #[arg(long)]
    pub json: bool,
    /// The file holds many cells of one label, told apart by its column `Cell ID`: one line of JSON for each, in their
    /// order. `-` reads the standard input. What was seen of a single cell cannot be given.
    #[arg(
        long,
        conflicts_with_all = ["id", "book", "observations", "no_signs", "signs", "thickness_mm", "assessor", "note"]
    )]
    pub many: bool,
}

/// What the label says: a file, options, or both (an option wins over the file).
#[derive(Debug, Default, Args)]
#[command(next_help_heading = "Label")]
pub struct LabelArguments {
    /// TOML file with what the label says.
    #[arg(long, value_name = "FILE")]
    pub cell: Option<PathBuf>,
    /// Your own name for the type of cell; cells of one model are compared with each other.
    #[arg(long, value_name = "NAME")]
    pub model: Option<String>,
    /// Rated capacity in Ah.
    #[arg(long, value_name = "AH", allow_negative_numbers = true)]
    pub rated_capacity_ah: Option<f64>,
    /// Charge-limit voltage in V, as the label states it.
    #[arg(long, value_name = "V", allow_negative_numbers = true)]
    pub charge_limit_v: Option<f64>,
    /// End-of-discharge voltage in V.
    #[arg(long, value_name = "V", allow_negative_numbers = true)]
    pub end_of_discharge_v: Option<f64>,
    /// Nominal voltage in V.
    #[arg(long, value_name = "V", allow_negative_numbers = true)]
    pub nominal_v: Option<f64>,
    /// Thickness in mm that label or drawing states.
    #[arg(long, value_name = "MM", allow_negative_numbers = true)]
    pub nominal_thickness_mm: Option<f64>,
    /// Where that thickness comes from: `label`, `drawing`, `size_code` (`ICP6/65/75`) or `new_cell`.
    #[arg(long, value_name = "WHERE")]
    pub thickness_from: Option<String>,
    /// Chemistry, e.g. `lco`, `nmc`, `lfp`, `li-ion`.
    #[arg(long, value_name = "NAME")]
    pub chemistry: Option<String>,
    /// Build: `pouch`, `prismatic` or `cylindrical`.
    #[arg(long, value_name = "NAME")]
    pub form: Option<String>,
    /// Mass in g.
    #[arg(long, value_name = "G", allow_negative_numbers = true)]
    pub mass_g: Option<f64>,
}

/// What was seen of the cell: a file, options, or both (an option wins over the file).
#[derive(Debug, Default, Args)]
#[command(next_help_heading = "Looks")]
pub struct LooksArguments {
    /// TOML file with what was seen.
    #[arg(long, value_name = "FILE")]
    pub observations: Option<PathBuf>,
    /// Every sign was looked for and none was found.
    #[arg(long)]
    pub no_signs: bool,
    /// Answer to one sign, e.g. `swollen=yes`; may be given again.
    #[arg(long = "sign", value_name = "SIGN=ANSWER")]
    pub signs: Vec<String>,
    /// Measured thickness in mm: give it again for more points (the middle, the corners), and readings of one point with
    /// commas, e.g. `3.31,3.30,3.32`. The jaws just touch the cell and do not press.
    #[arg(long, value_name = "MM[,MM]", allow_hyphen_values = true)]
    pub thickness_mm: Vec<String>,
    /// Hours since the cell was last charged or loaded, where it is known.
    #[arg(long, value_name = "HOURS", allow_negative_numbers = true)]
    pub rested_h: Option<f64>,
    /// The cell is new and unused: a reference for its model.
    #[arg(long)]
    pub new_cell: bool,
    /// Who looked.
    #[arg(long, value_name = "NAME")]
    pub assessor: Option<String>,
    /// What else was seen.
    #[arg(long, value_name = "TEXT")]
    pub note: Option<String>,
}

/// Where the cell is and by which policy it is judged.
#[derive(Debug, Default, Args)]
#[command(next_help_heading = "Setting")]
pub struct SettingArguments {
    /// Place whose rules apply, as ISO 3166 code (`US`, `DE`, `US-CA`); none = general cautions only.
    #[arg(long, value_name = "CODE", env = "CELLTRIAGE_PLACE")]
    pub place: Option<String>,
    /// Policy file in place of the built-in one.
    #[arg(long, value_name = "FILE", env = "CELLTRIAGE_POLICY")]
    pub policy: Option<PathBuf>,
    /// Folder with your own rule packs, laid over the built-in ones (see host/RULES.md).
    #[arg(long, value_name = "FOLDER", env = "CELLTRIAGE_RULES")]
    pub rules: Option<PathBuf>,
}

/// Where the book is.
#[derive(Debug, Args)]
pub struct BookPath {
    /// The book, a file on a local disk; `assess` makes it if it is missing.
    #[arg(
        long = "book",
        // Before or after what is to be done with it.
        global = true,
        value_name = "FILE",
        env = "CELLTRIAGE_BOOK",
        default_value = "celltriage-book.sqlite"
    )]
    pub path: PathBuf,
}

/// Options of `book`.
#[derive(Debug, Args)]
pub struct BookArguments {
    /// The book.
    #[command(flatten)]
    pub book: BookPath,
    /// What to read.
    #[command(subcommand)]
    pub action: BookAction,
}

/// What to read of the book.
#[derive(Debug, Subcommand)]
pub enum BookAction {
    /// One line per entry, newest last.
    List {
        /// Only entries with this fate.
        #[arg(long, value_name = "FATE")]
        fate: Option<String>,
        /// At most this many, the newest.
        #[arg(long, value_name = "COUNT", default_value_t = 50)]
        most: u32,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// One entry in full.
    Show {
        /// Number of an entry, or the name of a cell for its whole story.
        what: String,
        /// The name is that of a cell, even where it is a number.
        #[arg(long)]
        cell: bool,
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
        /// Number of the entry.
        number: u64,
    },
    /// Write out what was kept with an entry: frames, traces, label, policy.
    Export {
        /// Number of the entry.
        number: u64,
        /// Folder to write to; made if missing.
        folder: PathBuf,
    },
    /// Check the whole book: no entry changed, none missing, all attachments whole.
    Verify,
}
