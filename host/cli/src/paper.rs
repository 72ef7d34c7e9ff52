//! Labels and papers as files; and what is said where the feature `paper` was left out.

use crate::error::Error;
use crate::io::Io;
use celltriage_document::document::Document;
use celltriage_document::form::html;
use jiff::civil::Date;
use std::path::{Path, PathBuf};

/// The files in which a paper is wanted.
#[derive(Clone, Copy, Debug, Default)]
pub struct Files<'a> {
    /// As a PDF.
    pub pdf: Option<&'a Path>,
    /// As a page for a browser.
    pub html: Option<&'a Path>,
}

impl Files<'_> {
    /// Writes a paper of a day into them; returns each with its form. All are made before the first is written.
    ///
    /// # Errors
    /// An input error: the paper cannot be made, a file cannot be written, or this program was built without PDF.
    pub fn write(
        &self,
        paper: &Document,
        day: Date,
        io: &mut Io<'_>,
    ) -> Result<Vec<(&'static str, PathBuf)>, Error> {
        let made = |path| Ok::<_, Error>(("pdf", path, pdf(paper, day)?));
        let pdf = self.pdf.map(made).transpose()?;
        let html = self.html.map(|path| ("html", path, html::page(paper).into_bytes()));
        let mut files = Vec::new();
        for (form, path, bytes) in pdf.into_iter().chain(html) {
            files.push((form, kept(path, &bytes, io)?));
        }
        Ok(files)
    }
}

/// Writes a file and says so.
///
/// # Errors
/// An input error where it cannot be written.
pub fn kept(path: &Path, bytes: &[u8], io: &mut Io<'_>) -> Result<PathBuf, Error> {
    std::fs::write(path, bytes)
        .map_err(|error| Error::input(format!("cannot write {}: {error}", path.display())))?;
    io.note(&format!("written to {}", path.display()));
    Ok(path.to_owned())
}

/// Refuses before anything is written into a book where no PDF can be made.
///
/// # Errors
/// An input error where this program was built without PDF.
pub fn pdf_can_be_made() -> Result<(), Error> {
    #[cfg(not(feature = "paper"))]
    return Err(without_paper());
    #[cfg(feature = "paper")]
    Ok(())
}

#[cfg(feature = "paper")]
fn pdf(paper: &Document, day: Date) -> Result<Vec<u8>, Error> {
    celltriage_print::page::pdf(paper, &about(&paper.title, day))
        .map_err(|error| Error::input(format!("{error}; nothing was written")))
}

#[cfg(not(feature = "paper"))]
fn pdf(_: &Document, _: Date) -> Result<Vec<u8>, Error> {
    Err(without_paper())
}

/// Says what a PDF is, of which day.
#[cfg(feature = "paper")]
pub fn about(title: &celltriage_document::text::Text, day: Date) -> celltriage_print::pdf_file::About {
    let part = |number: i8| number.unsigned_abs();
    celltriage_print::pdf_file::About {
        title: celltriage_document::plain::plain(&title.said()),
        language: celltriage_document::phrase::LANGUAGE.to_owned(),
        day: (day.year().unsigned_abs(), part(day.month()), part(day.day())),
    }
}

/// Says how to get a program that makes labels and PDF.
#[cfg(not(feature = "paper"))]
pub fn without_paper() -> Error {
    Error::input("this celltriage was built without printed labels and PDF; nothing was written")
        .hint("build it with them, in the project's folder host/cli: cargo build -r -F paper")
}
