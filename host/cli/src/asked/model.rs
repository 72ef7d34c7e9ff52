//! The model of a cell: a short list of the shop's own labels, the newest used first; part of a name narrows it.

use super::label_read::{LabelRead, fresh, said};
use super::{ask, label};
use crate::error::Error;
use crate::io::Io;
use crate::questions::Reply;
use celltriage_assessment::case::label_file;
use celltriage_book::Book;
use celltriage_measure::nameplate::Nameplate;
use celltriage_workshop::known_label::KnownLabel;
use celltriage_workshop::model_library::{LabelFrom, LibraryModel, ModelLibrary};
use std::path::Path;

/// So many models are on the screen at once: one key chooses each.
const MOST_SHOWN: usize = 9;
/// Typed for a model that is not in the list.
const NEW: &str = "n";

/// What the question is about.
#[derive(Clone, Copy, Debug)]
pub struct ModelQuestion<'a> {
    /// The book.
    pub book: &'a Path,
    /// The cell.
    pub cell: &'a str,
    /// Where the shop keeps its label files.
    pub models: Option<&'a Path>,
    /// The simulated cell's own label, where it is one.
    pub simulated: Option<&'a Nameplate>,
}

impl ModelQuestion<'_> {
    /// Asks which label the cell has; `None` where the person wants to go back.
    ///
    /// # Errors
    /// The input has ended, or the book cannot be read.
    pub fn ask(&self, io: &mut Io<'_>) -> Result<Option<LabelRead>, Error> {
        if let Some(known) = self.known()? {
            let said = said(&known.nameplate);
            let question = format!("Label as in entry {}: {said}? [Enter yes, n no] ", known.entry);
            match ask(&question, io)? {
                Reply::Back => return Ok(None),
                reply if reply.takes_it() => return Ok(Some(fresh(&known.nameplate, Vec::new())?)),
                _ => {}
            }
        }
        let library = ModelLibrary::read(self.book, self.models, self.simulated.is_some())?;
        library.faults.iter().for_each(|fault| io.note(&format!("warning: label file: {fault}")));
        if library.models.is_empty() && self.simulated.is_none() {
            io.note("No model is known here yet: the label is asked for, and kept for the next cell.");
            return self.new_label(io);
        }
        let mut shown = library.named("");
        loop {
            self.list(&shown, library.models.len(), io);
            let question = match shown.is_empty() {
                true => "Model [Enter or n]: ",
                false => "Model: number, part of its name, or n: ",
            };
            match ask(question, io)? {
                Reply::Back => return Ok(None),
                Reply::Empty if shown.len() == 1 && library.models.len() > 1 => {
                    return self.taken(shown.first().copied(), io);
                }
                Reply::Empty => match self.simulated {
                    Some(own) => return Ok(Some((own.clone(), Vec::new()))),
                    None => io.note("  a number, please: nobody but the label says which model it is"),
                },
                Reply::Text(text) if text == NEW => {
                    if let Some(label) = self.new_label(io)? {
                        return Ok(Some(label));
                    }
                }
                Reply::Text(text) => match numbered(&text, &shown) {
                    Some(model) => return self.taken(Some(model), io),
                    None => {
                        let found = library.named(&text);
                        if found.is_empty() {
                            io.note(&format!("  no model has `{text}` in its name"));
                        }
                        shown = if found.is_empty() { library.named("") } else { found };
                    }
                },
            }
        }
    }

    /// Returns the label that the book has of this very cell.
    fn known(&self) -> Result<Option<KnownLabel>, Error> {
        if !self.book.exists() {
            return Ok(None);
        }
        Ok(KnownLabel::read(&Book::open_to_read(self.book)?, self.cell)?)
    }

    fn taken(&self, model: Option<&LibraryModel>, io: &mut Io<'_>) -> Result<Option<LabelRead>, Error> {
        let Some(model) = model else { return Ok(None) };
        io.note(&format!("  {}: {}", model.name, said(&model.nameplate)));
        let files = match &model.from {
            LabelFrom::File(_, text) => {
                vec![label_file(text.clone())]
            }
            LabelFrom::Entry(_) => Vec::new(),
        };
        Ok(Some(fresh(&model.nameplate, files)?))
    }

    fn new_label(&self, io: &mut Io<'_>) -> Result<Option<LabelRead>, Error> {
        label::ask_label(self.models, io)
    }

    fn list(&self, shown: &[&LibraryModel], all: usize, io: &mut Io<'_>) {
        if !shown.is_empty() {
            io.note("Which model is it? Compare the figures with the label on the cell.");
        }
        let widest = shown.iter().take(MOST_SHOWN).map(|model| model.name.chars().count()).max();
        let width = widest.unwrap_or_default().min(24);
        for (number, model) in (1..=MOST_SHOWN).zip(shown) {
            let used =
                model.used.map(|(_, at)| at.to_zoned_datetime(io.zone.clone()).strftime("%d %b").to_string());
            let used = used.map_or_else(|| "not used yet".to_owned(), |day| format!("last {day}"));
            io.note(&format!(" {number}  {:<width$}  {}  {used}", model.name, said(&model.nameplate)));
        }
        if shown.len() > MOST_SHOWN {
            io.note(&format!("    and {} more: type part of the name", shown.len() - MOST_SHOWN));
        }
        let enter = match self.simulated {
            _ if shown.len() == 1 && all > 1 => "; Enter takes this one",
            Some(_) => "; Enter takes the simulated cell's own",
            None => "",
        };
        io.note(&format!(" n  another one, whose label is asked for{enter}"));
    }
}

fn numbered<'m>(text: &str, shown: &[&'m LibraryModel]) -> Option<&'m LibraryModel> {
    let number: usize = text.parse().ok().filter(|number| *number <= MOST_SHOWN)?;
    shown.get(number.checked_sub(1)?).copied()
}
