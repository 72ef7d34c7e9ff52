//! What every custody command needs: the workshop, the local rules, and who signs.

use crate::arguments::BookPath;
use crate::beside;
use crate::clock_check::{confirmed, note_copy, open_to_write, said, stated_day_holds, warn_beside};
use crate::error::Error;
use crate::io::Io;
use crate::written_to::tell_written;
use celltriage_book::Book;
use celltriage_custody::local_rules::PackRules;
use celltriage_custody::units::{Milligrams, Millilitres, MilliwattHours};
use celltriage_link::Attendant;
use celltriage_rules::PlaceCode;
use celltriage_workshop::Workshop;
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::danger::emergency_at;
use celltriage_workshop::event::WorkEvent;
use celltriage_workshop::signer::{Entered, Signer};
use clap::Args;
use jiff::civil::Date;
use serde_json::{Value, json};
use std::path::PathBuf;

/// Which book, and whose rules.
#[derive(Clone, Debug, Args)]
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
    /// Name of the person who did it and answers for it; unsaid, as set (see `celltriage settings`).
    #[arg(id = "setting_person", long = "by", value_name = "NAME")]
    pub by: String,
    /// Day on which it happened, as 2026-11-25; by default today.
    #[arg(long, value_name = "DATE")]
    pub on: Option<Date>,
}

impl Who {
    /// Returns who it was, where a command can do without and nobody may have said so; `does` is what that person does.
    ///
    /// # Errors
    /// Nobody says so.
    pub fn said(by: Option<&str>, on: Option<Date>, does: &str) -> Result<Self, Error> {
        let by = by.ok_or_else(|| {
            Error::input("nobody says so; nothing was written")
                .hint(format!("give the name of who {does}: --by NAME"))
        })?;
        Ok(Self { by: by.to_owned(), on })
    }
}

/// Who did it and on what day, and whether what was written is told as JSON.
#[derive(Clone, Debug, Args)]
pub struct Signing {
    /// Who and when.
    #[command(flatten)]
    pub who: Who,
    /// Print what was written as JSON.
    #[arg(long)]
    pub json: bool,
}

impl std::ops::Deref for Signing {
    type Target = Who;

    fn deref(&self) -> &Who {
        &self.who
    }
}

/// The workshop with the rules under which its custody is written.
pub struct Desk<'c> {
    /// The workshop.
    pub shop: Workshop<'c>,
    /// The rules.
    pub rules: PackRules,
    /// Whether what was entered is told as JSON.
    pub json: bool,
}

impl<'c> Desk<'c> {
    /// Opens a book that is there; `write` says whether it is to be written.
    ///
    /// # Errors
    /// A book error, or an input error where the rule packs cannot be read.
    pub fn open(
        arguments: &DeskArguments,
        write: bool,
        clock: &'c HeldClock,
        io: &mut Io<'_>,
    ) -> Result<Self, Error> {
        // Opened to read first: custody begins with an assessment, so a missing book is a mistyped path.
        let mut book = Book::open_to_read(&arguments.book.path)?;
        if write {
            // The clock is asked about with the entry itself, after what must be said of a cell that is reacting.
            let copied_to = book.copied_to().map(std::path::Path::to_owned);
            beside::take_in(&arguments.book.path, io);
            book = Book::open(&arguments.book.path)?;
            note_copy(copied_to.as_deref(), io);
        } else {
            note_copy(book.copied_to(), io);
            stated_day_holds(io)?;
            warn_beside(&book, io);
            beside::tell(&arguments.book.path, io);
        }
        let packs = crate::command::rules::read_packs(arguments.rules.as_deref())?;
        Ok(Self {
            shop: Workshop::new(book, clock, io.zone.clone()),
            rules: PackRules::new(packs),
            json: false,
        })
    }

    /// Opens a book to write; one that is not there is begun: a cell's story may begin at this desk.
    ///
    /// # Errors
    /// As [`Self::open`].
    pub fn begin(arguments: &DeskArguments, clock: &'c HeldClock, io: &mut Io<'_>) -> Result<Self, Error> {
        let path = &arguments.book.path;
        if path.exists() {
            return Self::open(arguments, true, clock, io);
        }
        let packs = crate::command::rules::read_packs(arguments.rules.as_deref())?;
        let book = open_to_write(path, false, io)?;
        Ok(Self {
            shop: Workshop::new(book, clock, io.zone.clone()),
            rules: PackRules::new(packs),
            json: false,
        })
    }

    /// Returns who signs, after asking about a clock in doubt.
    ///
    /// # Errors
    /// An input error where nobody answers for the clock, or a book error.
    pub fn signer(&self, who: &Who, io: &mut Io<'_>) -> Result<Signer, Error> {
        let last = self.shop.book().time_of_last_entry()?;
        Ok(Signer { by: who.by.clone(), on: who.on, clock: confirmed(last, false, io)? })
    }

    /// Returns who signs, as [`Desk::signer`]; what is entered then is told as that person wants it.
    ///
    /// # Errors
    /// As [`Desk::signer`].
    pub fn signs(&mut self, who: &Signing, io: &mut Io<'_>) -> Result<Signer, Error> {
        self.json = who.json;
        self.signer(who, io)
    }

    /// Returns who signs that a cell is reacting: nobody is asked anything.
    pub fn signer_at_once(&self, who: &Who, io: &Io<'_>) -> Signer {
        Signer { by: who.by.clone(), on: who.on, clock: said(io) }
    }

    /// Says at once, before anything else, what to do about a cell that is reacting, by the rules of where it is.
    /// Returns how many lines that took.
    pub fn emergency(&self, place: Option<&PlaceCode>, io: &mut Io<'_>) -> usize {
        io.emergency(emergency_at(place, self.rules.packs()).iter().map(String::as_str))
    }

    /// The same, telling what is entered as JSON where that is asked for.
    #[must_use]
    pub fn told_as_json(self, json: bool) -> Self {
        Self { json, ..self }
    }

    /// Says what was entered, and where.
    pub fn tell(&self, entered: &Entered, io: &mut Io<'_>) {
        match self.json {
            true => io.say(&format!("{:#}", all_in_json(vec![in_json(entered)]))),
            false => io.say(&line(entered)),
        }
        self.tell_written(entered, io);
    }

    /// Says only where it was entered.
    pub fn tell_written(&self, entered: &Entered, io: &mut Io<'_>) {
        tell_written(entered.entry.number, self.shop.book().path(), io);
    }

    /// Says it once more.
    pub fn emergency_again(&self, place: Option<&PlaceCode>, io: &mut Io<'_>) {
        io.emergency_again(emergency_at(place, self.rules.packs()).iter().map(String::as_str));
    }
}

/// Shows what happens while an event of custody is written.
pub struct AtDesk<'a, 'io>(pub &'a mut Io<'io>);

impl Attendant<WorkEvent> for AtDesk<'_, '_> {
    fn sees(&mut self, event: &WorkEvent) {
        match event {
            WorkEvent::Emergency(texts) => {
                self.0.emergency(texts.iter().map(String::as_str));
            }
            WorkEvent::ClockInDoubt(text) => self.0.note(&format!("warning: {text}")),
            _ => {}
        }
    }

    fn stop_wanted(&self) -> bool {
        self.0.stop_wanted()
    }
}

/// Returns what was entered, for machines.
pub fn in_json(entered: &Entered) -> Value {
    let entry = &entered.entry;
    json!({
        "number": entry.number, "at": entry.at.to_string(), "kind": entry.kind,
        "subject": entry.subject.name, "summary": entry.summary, "event": entry.inputs,
    })
}

/// Returns all that a command has entered, for machines.
pub fn all_in_json(entered: Vec<Value>) -> Value {
    json!({ "schema": "celltriage.entered/1", "entered": entered })
}

/// Returns the line that an event was written with.
pub fn line(entered: &Entered) -> String {
    format!("entry {}: {}", entered.entry.number, entered.entry.summary)
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
                Error::input(format!("{figure} {unit} is not plausible; nothing was written"))
                    .hint("check figure and unit")
            })
        })
        .transpose()
}
