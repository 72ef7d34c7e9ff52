//! Options that several commands share, and those of the shortest commands, with units in their names.
//!
//! Options are taken as typed here; what they mean (files read, values checked) is worked out by the commands.

use crate::choice::{DEVICE_DID, EXTENTS, one_of};
use crate::spoken::yes_or_no;
use celltriage_custody::cell_name::typed::new_cell;
use celltriage_measure::observation::DeviceDid;
use celltriage_measure::plan::Extent;
use clap::Args;
use std::path::PathBuf;

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
    /// The shop's own name for the cell, or its tag as scanned; asked for at a terminal, and then what else is missing too.
    #[arg(long, value_name = "NAME", value_parser = new_cell)]
    pub id: Option<String>,
    /// The shop's own labels: a folder of label files, or one of them; unsaid, as set (see `celltriage settings`).
    #[arg(id = "setting_models", long = "models", value_name = "FOLDER|FILE", help_heading = "Label")]
    pub models: Option<PathBuf>,
    /// Where it is measured.
    #[command(flatten)]
    pub bench: BenchArguments,
    /// How much is measured.
    #[arg(long, value_parser = one_of(&EXTENTS), default_value = "screen")]
    pub extent: Extent,
    /// Overrides the operator answers for.
    #[command(flatten)]
    pub overrides: OverrideArguments,
    /// Label, looks, place and policy.
    #[command(flatten)]
    pub case: CaseArguments,
    /// The book.
    #[command(flatten)]
    pub book: BookPath,
    /// Print the assessment as JSON (see host/JSON.md) instead of a page.
    #[arg(long)]
    pub json: bool,
    /// Print the long page instead of the first screen: every criterion, figure, caution and source.
    #[arg(long, conflicts_with = "json")]
    pub full: bool,
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

/// Overrides the operator answers for.
#[derive(Clone, Debug, Default, Args)]
pub struct OverrideArguments {
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
    /// The trace: a CSV file of the Battery Data Format, our own recording (`.frames`), or, with a mapping of its columns, text of
    /// any other program.
    #[arg(value_name = "TRACE")]
    pub trace: PathBuf,
    /// How the columns of another program's file are read: a mapping that `columns` has written and somebody has confirmed.
    #[arg(long, value_name = "FILE", conflicts_with = "many")]
    pub columns: Option<PathBuf>,
    /// The shop's own name for the cell; by default the trace's file name.
    #[arg(long, value_name = "NAME", value_parser = new_cell)]
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
    /// Print the long page instead of the first screen: every criterion, figure, caution and source.
    #[arg(long, conflicts_with = "json")]
    pub full: bool,
    /// The file holds many cells of one label, told apart by its column `Cell ID`: one line of JSON for each, in their
    /// order. `-` reads the standard input. What was seen of a single cell cannot be given.
    #[arg(
        long,
        conflicts_with_all = ["id", "book", "observations", "no_signs", "signs", "thickness_mm", "assessor", "note", "same_cell", "full"]
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
    /// Your own name for the type of cell; cells of one model are compared with each other. Alone, `assess` takes the label that the
    /// shop has of it.
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
    /// Whether the cell lies flat on a plate of glass, on either face: it does not rock, and a sheet of paper goes under it nowhere.
    /// Stands in for the thickness where none is known of the new cell.
    #[arg(long, value_name = "yes|no", value_parser = yes_or_no)]
    pub lies_flat: Option<bool>,
    /// The cell was charged until the charger ended by itself: it began full, also where it has settled lower than most.
    #[arg(long)]
    pub charger_ended: bool,
    /// Hours since the cell was last charged or loaded, where it is known.
    #[arg(long, value_name = "HOURS", allow_negative_numbers = true)]
    pub rested_h: Option<f64>,
    /// Where the sense leads touched: `tabs`, `cell_pads` (before the protection), `pack_pads` or `connector` (behind it).
    #[arg(long, value_name = "WHERE")]
    pub sensed_at: Option<String>,
    /// Rated capacity in Ah as a second look at the label on the cell reads it: confirms a label that the count, or other cells
    /// of the model, speak against.
    #[arg(long, value_name = "AH")]
    pub label_again: Option<f64>,
    /// How many wires measured: 2, or 4 (two for the current, two for the voltage). With two, and where it is not known of a
    /// trace from elsewhere, leads and clips may be in a resistance.
    #[arg(long, value_name = "2|4")]
    pub wires: Option<u32>,
    /// Number written on the adapter between the fixture's leads and the cell, where there is one.
    #[arg(long, value_name = "NUMBER")]
    pub adapter: Option<u32>,
    /// What the device did with the cell in it: the screen then also tells whether the cell explains it.
    #[arg(long, value_name = "WHAT", value_parser = one_of(&DEVICE_DID))]
    pub device: Option<DeviceDid>,
    /// The most current that the device takes from the cell, or charges it with, in A.
    #[arg(long, value_name = "A", requires = "device")]
    pub device_current_a: Option<f64>,
    /// Lowest voltage at the cell with which the device runs, in V.
    #[arg(long, value_name = "V", requires = "device")]
    pub device_lowest_v: Option<f64>,
    /// The cell is new and unused: a reference for its model.
    #[arg(long)]
    pub new_cell: bool,
    /// Who looked.
    #[arg(long, value_name = "NAME")]
    pub assessor: Option<String>,
    /// What else was seen.
    #[arg(long, value_name = "TEXT")]
    pub note: Option<String>,
    /// Why it is the same cell as before, where the book asks because label, thickness, resistance, capacity or voltage speak
    /// against it; with --assessor, who answers for it.
    #[arg(long, value_name = "REASON")]
    pub same_cell: Option<String>,
}

/// Where the cell is and by which policy it is judged.
#[derive(Debug, Default, Args)]
#[command(next_help_heading = "Setting")]
pub struct SettingArguments {
    /// Place whose rules apply, as ISO 3166 code (`US`, `DE`, `US-CA`); none = general cautions only; unsaid, as set (see `celltriage settings`).
    #[arg(id = "setting_place", long = "place", value_name = "CODE")]
    pub place: Option<String>,
    /// Policy file in place of the built-in one; `version-2` is the one that was built in before.
    #[arg(long, value_name = "FILE", env = "CELLTRIAGE_POLICY")]
    pub policy: Option<PathBuf>,
    /// Folder with your own rule packs, laid over the built-in ones (see host/RULES.md).
    #[arg(long, value_name = "FOLDER", env = "CELLTRIAGE_RULES")]
    pub rules: Option<PathBuf>,
}

/// Where the book is.
#[derive(Clone, Debug, Args)]
pub struct BookPath {
    /// The book, a file on a local disk; `assess` makes it if it is missing. By default as CELLTRIAGE_BOOK or the settings
    /// file say, else in your own data folder: `celltriage settings` shows where.
    #[arg(
        // What is not typed is laid under by `settings::options`.
        id = "setting_book",
        long = "book",
        // Before or after what is to be done with it.
        global = true,
        required = false,
        value_name = "FILE"
    )]
    pub path: PathBuf,
}
