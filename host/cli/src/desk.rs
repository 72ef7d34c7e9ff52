//! What every custody command needs: the book, the day, the local rules, and who signs.
//!
//! Takes what was typed and the outside world; gives a [`Desk`] through which events are read and written.

use crate::arguments::BookPath;
use crate::clock_check::{confirmed, stated_day_holds, warn_beside};
use crate::error::Error;
use crate::io::Io;
use celltriage_assessment::record::assessment_of;
use celltriage_book::{Book, Entry};
use celltriage_custody::circumstances::Circumstances;
use celltriage_custody::event::Event;
use celltriage_custody::ledger::{Signature, record};
use celltriage_custody::limits::CounterLimit;
use celltriage_custody::local_rules::PackRules;
use celltriage_custody::refusal::Refusal;
use celltriage_custody::state::{Container, State};
use celltriage_custody::units::{Milligrams, Millilitres, MilliwattHours};
use celltriage_rules::{Packs, PlaceCode, emergency_texts};
use clap::Args;
use jiff::civil::Date;
use std::cell::Cell;
use std::path::PathBuf;

/// Which book, and whose rules.
#[derive(Debug, Args)]
pub struct DeskArguments {
    /// The book.
    #[command(flatten)]
    pub book: BookPath,
    /// Folder with your own rule packs, laid over the built-in ones (see host/RULES.md).
    #[arg(long, global = true, value_name = "FOLDER", env = "CELLTRIAGE_RULES")]
    pub rules: Option<PathBuf>,
}

/// Who did it, and on what day.
#[derive(Clone, Debug, Args)]
#[command(next_help_heading = "Who and when")]
pub struct Who {
    /// Name of the person who did it and answers for it.
    #[arg(long, value_name = "NAME", env = "CELLTRIAGE_PERSON")]
    pub by: String,
    /// Day on which it happened, as 2026-11-25; by default today.
    #[arg(long, value_name = "DATE")]
    pub on: Option<Date>,
}

/// An open book with the day and the rules under which it is written.
pub struct Desk {
    book: Book,
    rules: PackRules,
    /// Whether somebody was told what to do about a cell that is reacting.
    alarmed: Cell<bool>,
    /// Today, where the shop is.
    pub today: Date,
}

impl Desk {
    /// Opens a book that is there; `write` says whether it is to be written.
    ///
    /// # Errors
    /// A book error, or an input error where the rule packs cannot be read.
    pub fn open(arguments: &DeskArguments, write: bool, io: &mut Io<'_>) -> Result<Self, Error> {
        // Opened to read first: custody begins with an assessment, so a missing book is a mistyped path.
        let mut book = Book::open_read_only(&arguments.book.path)?;
        if write {
            // The clock is asked about with the entry itself, after what must be told of a cell that is reacting.
            book = Book::open(&arguments.book.path)?;
        } else {
            stated_day_holds(io)?;
            warn_beside(&book, io);
        }
        let packs = crate::command::rules::read_packs(arguments.rules.as_deref())?;
        let today = io.today();
        Ok(Self { book, rules: PackRules::new(packs), alarmed: Cell::new(false), today })
    }

    /// Returns the book.
    pub fn book(&self) -> &Book {
        &self.book
    }

    /// Returns the rule packs.
    pub fn packs(&self) -> &Packs {
        self.rules.packs()
    }

    /// Returns the day and rules under which events are checked.
    pub fn circumstances(&self) -> Circumstances<'_> {
        Circumstances { today: self.today, rules: &self.rules }
    }

    /// Reads the present state.
    ///
    /// # Errors
    /// A book error.
    pub fn state(&self) -> Result<State, Error> {
        Ok(State::read(&self.book)?)
    }

    /// Writes an event, prints its line as data, and returns the state after it.
    ///
    /// # Errors
    /// A refusal as an input error, or a book error.
    pub fn write(
        &mut self,
        who: &Who,
        io: &mut Io<'_>,
        make: impl Fn(&State, &Circumstances<'_>) -> Result<Event, Refusal>,
    ) -> Result<State, Error> {
        let (entry, state) = self.enter(who, io, make)?;
        io.say(&line(&entry));
        Ok(state)
    }

    /// The same, with the line among the notes: for commands whose data are something else.
    ///
    /// # Errors
    /// A refusal as an input error, or a book error.
    pub fn write_noting(
        &mut self,
        who: &Who,
        io: &mut Io<'_>,
        make: impl Fn(&State, &Circumstances<'_>) -> Result<Event, Refusal>,
    ) -> Result<State, Error> {
        let (entry, state) = self.enter(who, io, make)?;
        io.note(&line(&entry));
        Ok(state)
    }

    fn enter(
        &mut self,
        who: &Who,
        io: &mut Io<'_>,
        make: impl Fn(&State, &Circumstances<'_>) -> Result<Event, Refusal>,
    ) -> Result<(Entry, State), Error> {
        let last = self.book.time_of_last_entry()?;
        confirmed(last, self.alarmed.get(), io)?;
        let signature = Signature { by: who.by.clone(), on: who.on.unwrap_or(self.today), at: io.now };
        let circumstances = Circumstances { today: self.today, rules: &self.rules };
        Ok(record(&mut self.book, &signature, &circumstances, |state| make(state, &circumstances))?)
    }

    /// Returns the limits of a container's place that this book cannot count, each in a few words with its source.
    pub fn uncounted(&self, container: &Container) -> Vec<String> {
        let opened = &container.opened;
        let told = self.packs().counters(Some(&opened.place), self.today, opened.kind.counted_as());
        told.into_iter()
            .filter(|told| CounterLimit::of(told.clone()).is_none())
            .map(|told| {
                let verify = if told.fact.verify { ", to be verified" } else { "" };
                let count = told.what;
                let of = if count.of.is_of_batteries() { ", of several cells," } else { "" };
                format!(
                    "{}{of} {} {} {} [{}{verify}]",
                    count.of.words(),
                    count.bound.words(),
                    count.limit,
                    count.unit.symbol(),
                    told.fact.source
                )
            })
            .collect()
    }

    /// Tells at once, before anything else, what to do about a cell that is reacting, by the rules of where it is.
    /// Returns how many lines that took.
    pub fn emergency(&self, place: Option<&PlaceCode>, io: &mut Io<'_>) -> usize {
        self.alarmed.set(true);
        io.emergency(emergency_texts(self.packs(), place))
    }

    /// Tells it once more.
    pub fn emergency_again(&self, place: Option<&PlaceCode>, io: &mut Io<'_>) {
        io.emergency_again(emergency_texts(self.packs(), place));
    }

    /// Returns where a cell is: the place of its container, else that of its latest assessment. What cannot be read is
    /// not known; nothing may keep an emergency text back.
    pub fn place_of(&self, cell: &str) -> Option<PlaceCode> {
        let state = self.state().ok()?;
        let found = state.cells.get(cell)?;
        let container = found.container().and_then(|name| state.containers.get(name));
        if let Some(container) = container {
            return Some(container.opened.place.clone());
        }
        let entry = self.book.entry(found.facts.as_ref()?.assessment).ok()??;
        assessment_of(&entry).ok()?.conditions.place
    }
}

fn line(entry: &Entry) -> String {
    format!("entry {}: {}", entry.number, entry.summary)
}

/// Reads a mass given in grams.
///
/// # Errors
/// An input error where the figure is none.
pub fn grams(given: Option<f64>) -> Result<Option<Milligrams>, Error> {
    figure(given, "g", Milligrams::from_grams)
}

/// Reads a mass given in kilograms.
///
/// # Errors
/// An input error where the figure is none.
pub fn kilograms(given: Option<f64>) -> Result<Option<Milligrams>, Error> {
    figure(given, "kg", Milligrams::from_kilograms)
}

/// Reads an energy given in watt-hours.
///
/// # Errors
/// An input error where the figure is none.
pub fn watt_hours(given: Option<f64>) -> Result<Option<MilliwattHours>, Error> {
    figure(given, "Wh", MilliwattHours::from_watt_hours)
}

/// Reads a volume given in litres.
///
/// # Errors
/// An input error where the figure is none.
pub fn litres(given: Option<f64>) -> Result<Option<Millilitres>, Error> {
    figure(given, "l", Millilitres::from_litres)
}

fn figure<T>(given: Option<f64>, unit: &str, read: impl Fn(f64) -> Option<T>) -> Result<Option<T>, Error> {
    given
        .map(|figure| {
            read(figure).ok_or_else(|| {
                Error::input(format!("{figure} {unit} cannot be meant; nothing was written"))
                    .hint("check figure and unit")
            })
        })
        .transpose()
}
