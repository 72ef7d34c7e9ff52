//! The whole command line: the commands, and where each is done.

use crate::arguments::{AssessArguments, DemoArguments, GradeArguments};
use crate::command;
use crate::error::Error;
use crate::io::{Io, Loudness};
use crate::settings::Settings;
use crate::settings::options::FILE_ID;
use crate::version::long_version;
use clap::{Args, Parser, Subcommand, ValueEnum};
use jiff::civil::Date;
use std::path::PathBuf;

/// Decides what becomes of a used lithium-ion cell: fit it again, recycle it, or keep it apart as damaged.
///
/// Measures a cell on the fixture (or takes a recorded trace), weighs the evidence against a stated policy, prints the
/// decision with its reasons and the cautions that follow from it, and keeps the book. A decision supports the person
/// who makes it; it does not replace the cell maker's criteria, local law or a trained person's judgement.
#[derive(Debug, Parser)]
#[command(name = "celltriage", version, long_version = long_version(), after_help = EXIT_CODES, max_term_width = 100)]
pub struct Arguments {
    /// Today by a calendar, as 2026-11-30: answers for a clock that stands before the newest entry of the book, or more
    /// than a day after it. A day that is not the clock's is an error.
    #[arg(long, global = true, value_name = "DATE", help_heading = "Clock")]
    pub today: Option<Date>,
    /// Settings file in place of your own (see `celltriage settings`); the variable CELLTRIAGE_SETTINGS names one too.
    #[arg(id = FILE_ID, long = "settings", global = true, value_name = "FILE", help_heading = "Settings file")]
    pub settings_file: Option<PathBuf>,
    /// How it is shown.
    #[command(flatten)]
    pub shown: ShownArguments,
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// How much is shown, and in which colours.
#[derive(Clone, Copy, Debug, Args)]
#[command(next_help_heading = "Terminal")]
pub struct ShownArguments {
    /// Colours: `auto` (on a terminal, where the variable NO_COLOR is not set), `always` or `never`.
    #[arg(long, global = true, value_name = "WHEN", default_value = "auto", hide_possible_values = true)]
    pub color: Colours,
    /// Neither progress nor notes; errors, warnings, questions and alarms stay.
    #[arg(long, global = true, conflicts_with = "verbose")]
    pub quiet: bool,
    /// Also where each setting is from, and how long it took.
    #[arg(long, global = true)]
    pub verbose: bool,
}

/// When colours are used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Colours {
    /// On a terminal.
    Auto,
    /// Always, also into files and pipes.
    Always,
    /// Never.
    Never,
}

impl ShownArguments {
    /// Sets what was asked for.
    pub fn apply(self, io: &mut Io<'_>) {
        match self.color {
            Colours::Auto => {}
            Colours::Always => io.colour = true,
            Colours::Never => io.colour = false,
        }
        io.loudness = match (self.quiet, self.verbose) {
            (true, _) => Loudness::Quiet,
            (false, true) => Loudness::Verbose,
            (false, false) => io.loudness,
        };
    }
}

const EXIT_CODES: &str = "\
Exit codes:
  0  done, whatever the cell's fate
  2  an option, a file or a value given cannot be used
  3  nothing could be measured: no fixture, no answer, or it refused
  4  the test did not run to its end (trip, stop, fixture lost); the cell is recorded so
  5  the book cannot be read or written, or does not verify
  6  an alarm, also one of the milder level: a watched cell, a self-test or a check standard is out of limits
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
    Guided(command::guided::GuidedArguments),
    /// Assess several cells at once, each on its own fixture, for example overnight.
    Batch(command::batch::BatchArguments),
    /// How another program's file is read: which column is what, in which unit and sign. Shown, confirmed, kept for `grade`.
    Columns(command::columns::ColumnsArguments),
    /// Explain a decision number by number: doubt, limit, guard band, probability, and what would settle it.
    Explain(command::explain::ExplainArguments),
    /// The book: read it, verify it, copy it, note how far it has come.
    Book(command::book::BookArguments),
    /// What the book knows of a model of cells.
    Model(command::model::ModelArguments),
    /// Where a cell came from: device and job, what its gauge showed, what happened to it, who says so.
    Origin(command::origin::OriginArguments),
    /// A cell in a device: fitted for trial, taken out, a short circuit or other incident there.
    Trial(command::trial::TrialArguments),
    /// Something comes in that nobody has measured: a cell, a pack, a device, a bucket; or advice before a thing is mailed.
    Receive(command::receive::ReceiveArguments),
    /// The text for the tag of a cell: its name and a check character, by which a slip shows when it is scanned or typed.
    Tag(command::tag::TagArguments),
    /// The label of a cell, with a code for scanners: as text, as a picture for a label printer, as a PDF.
    Label(command::label::CellLabelArguments),
    /// What was found of a cell on one page, for whoever brought it and for the file: as text, HTML or PDF.
    Report(command::report::ReportArguments),
    /// Judge the legal state of a cell: the tool proposes, a person signs.
    Judge(command::judge::JudgeArguments),
    /// Findings against a cell: what they block, and what ends them.
    Finding(command::finding::FindingArguments),
    /// Containers of cells and cells under watch: open, fill, weigh, look, show.
    Container(command::container::ContainerArguments),
    /// Shipments: draft papers, hand-over; test records of used cells.
    Shipment(command::shipment::ShipmentArguments),
    /// A cell or a container leaves without a shipment: handed back, sold, given away, lost, stolen, burnt, taken.
    Leave(command::leave::LeaveArguments),
    /// What left comes back: returned, refused, found again, brought back.
    Return(command::come_back::ReturnArguments),
    /// What happened against the rules: what is open, what is noted in words, what put it right.
    Irregularity(command::irregularity::IrregularityArguments),
    /// Local rules: places, facts with their sources and doubts, changes, own packs, cautions.
    Rules(command::rules::RulesArguments),
    /// The fixture itself: find it, ask it, test it, watch it.
    Fixture(command::fixture::FixtureCommand),
    /// Watch a cell that was or may become hot, for hours, without a load; an alarm where it heats up or is warm.
    HotCellWatch(command::hot_cell_watch::HotCellWatchArguments),
    /// What falls due, overdue first.
    Due(command::due::DueArguments),
    /// What this computer is set to, above all where the book lies, and who says so.
    Settings(command::settings::ShowSettings),
    /// The lines with which your shell learns to complete commands, options and the book's names.
    Completions(command::completions::CompletionsArguments),
    /// Pages for `man`: one of the program, one of each command.
    Manual(command::manual::ManualArguments),
}

/// Does what was typed; returns the exit code.
///
/// # Errors
/// What the command met, with what to do.
pub fn dispatch(command: &Command, settings: &Settings, io: &mut Io<'_>) -> Result<u8, Error> {
    match command {
        Command::Demo(arguments) => command::demo::run(arguments, io),
        Command::Assess(arguments) => command::assess::run(arguments, settings, io),
        Command::Grade(arguments) => command::grade::run(arguments, io),
        Command::Explain(arguments) => command::explain::run(arguments, io),
        Command::Model(arguments) => command::model::run(arguments, io),
        Command::Guided(arguments) => command::guided::run(arguments, io),
        Command::Columns(arguments) => command::columns::run(arguments, io),
        Command::Batch(arguments) => command::batch::run(arguments, io),
        Command::Book(arguments) => command::book::run(arguments, io),
        Command::Origin(arguments) => command::origin::run(arguments, io),
        Command::Trial(arguments) => command::trial::run(arguments, io),
        Command::Receive(arguments) => command::receive::run(arguments, io),
        Command::Tag(arguments) => command::tag::run(arguments, io),
        Command::Label(arguments) => command::label::run(arguments, io),
        Command::Report(arguments) => command::report::run(arguments, io),
        Command::Judge(arguments) => command::judge::run(arguments, io),
        Command::Finding(arguments) => command::finding::run(arguments, io),
        Command::Container(arguments) => command::container::run(arguments, io),
        Command::Shipment(arguments) => command::shipment::run(arguments, io),
        Command::Leave(arguments) => command::leave::run(arguments, io),
        Command::Return(arguments) => command::come_back::run(arguments, io),
        Command::Irregularity(arguments) => command::irregularity::run(arguments, io),
        Command::Rules(arguments) => command::rules::run(arguments, io),
        Command::Fixture(arguments) => command::fixture::run(arguments, io),
        Command::HotCellWatch(arguments) => command::hot_cell_watch::run(arguments, io),
        Command::Due(arguments) => command::due::run(arguments, io),
        Command::Settings(arguments) => command::settings::run(arguments, settings, io),
        Command::Completions(arguments) => command::completions::run(arguments, io),
        Command::Manual(arguments) => command::manual::run(arguments, io),
    }
}
