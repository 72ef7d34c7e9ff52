//! A label as files for the printer: what size, how fine, which code, where to.
//!
//! What draws them is in the crate `celltriage-print` behind the feature `paper`, so that a build for the bench alone stays short.

use crate::error::Error;
use crate::io::Io;
use celltriage_document::label::Label;
use clap::{Args, ValueEnum};
use jiff::civil::Date;
use serde_json::{Value, json};
use std::path::PathBuf;

/// How fine the printer prints.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Dpi {
    /// 8 dots in a mm.
    #[value(name = "203")]
    Dpi203,
    /// 300 dots in an inch.
    #[value(name = "300")]
    Dpi300,
    /// 600 dots in an inch.
    #[value(name = "600")]
    Dpi600,
}

/// What a scanner reads on it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Code {
    /// Data Matrix.
    DataMatrix,
    /// QR code.
    Qr,
}

/// Size and files of a label.
#[derive(Clone, Debug, Args)]
#[command(next_help_heading = "Printed label")]
pub struct LabelFiles {
    /// Write it as a picture of one bit a dot for a label printer.
    #[arg(long, value_name = "FILE")]
    pub png: Option<PathBuf>,
    /// Write it as a PDF as large as the label.
    #[arg(long, value_name = "FILE")]
    pub pdf: Option<PathBuf>,
    /// Write both, named after what the label is for, into the folder of labels.
    #[arg(long)]
    pub files: bool,
    /// The folder of labels. This and what follows: unsaid, as set (see `celltriage settings`).
    #[arg(id = "setting_label_folder", long = "folder", value_name = "FOLDER")]
    pub folder: Option<PathBuf>,
    /// Width of the label in mm.
    #[arg(id = "setting_label_width_mm", long = "width-mm", value_name = "MM", default_value_t = 50.0)]
    pub width_mm: f64,
    /// Height of the label in mm.
    #[arg(id = "setting_label_height_mm", long = "height-mm", value_name = "MM", default_value_t = 30.0)]
    pub height_mm: f64,
    /// Dots per inch of the printer, as it is sold.
    #[arg(id = "setting_label_dpi", long = "dpi", value_name = "DPI", default_value = "203")]
    pub dpi: Dpi,
    /// Which code holds the name.
    #[arg(id = "setting_label_code", long = "code", value_name = "CODE", default_value = "data-matrix")]
    pub code: Code,
}

/// What was written.
#[derive(Clone, Debug, Default)]
pub struct Written {
    /// Each file with its form.
    pub files: Vec<(&'static str, PathBuf)>,
    /// Width and height in dots.
    pub dots: Option<[u32; 2]>,
    /// Whether words that rules ask for had no room.
    pub marks_elsewhere: bool,
}

impl LabelFiles {
    /// Returns whether a file is asked for.
    pub const fn asks(&self) -> bool {
        self.png.is_some() || self.pdf.is_some() || self.files
    }

    /// Returns the files that are asked for, as PNG and as PDF.
    ///
    /// # Errors
    /// An input error where no folder of labels is set.
    fn paths(&self, label: &Label) -> Result<[Option<PathBuf>; 2], Error> {
        let named = [self.png.clone(), self.pdf.clone()];
        if !self.files {
            return Ok(named);
        }
        let Some(folder) = &self.folder else {
            return Err(Error::input("no folder of labels is set; nothing was written")
                .hint("name it: --folder FOLDER, or set it once: label_folder in the settings file"));
        };
        let letter = |letter: char| if letter.is_alphanumeric() { letter } else { '-' };
        // Without the check character of its tag.
        let name = label.name.said();
        let stem: String = name.split('+').next().unwrap_or_default().chars().map(letter).collect();
        let [png, pdf] = named;
        let below = |ending: &str| Some(folder.join(format!("{stem}.{ending}")));
        Ok([png.or_else(|| below("png")), pdf.or_else(|| below("pdf"))])
    }

    /// Writes the files that are asked for.
    ///
    /// # Errors
    /// An input error: there is no room, a file cannot be written, or this program was built without labels.
    pub fn write(&self, label: &Label, day: Date, io: &mut Io<'_>) -> Result<Written, Error> {
        if !self.asks() {
            return Ok(Written::default());
        }
        let paths = self.paths(label)?;
        if let Some(folder) = self.folder.as_deref().filter(|_| self.files) {
            std::fs::create_dir_all(folder)
                .map_err(|error| Error::input(format!("cannot make {}: {error}", folder.display())))?;
        }
        drawn::write(self, &paths, label, day, io)
    }
}

impl Written {
    /// Returns it for machines, beside what the label says.
    pub fn in_json(&self, label: &Label) -> Value {
        let files: Vec<_> =
            self.files.iter().map(|(form, path)| json!({ "form": form, "path": path })).collect();
        let said = [&label.name, &label.result].into_iter().chain(&label.lines);
        json!({
            "schema": "celltriage.label/1", "code": label.code, "says": said.map(|text| text.said()).collect::<Vec<_>>(),
            "notices": label.notices.iter().map(|text| text.said()).collect::<Vec<_>>(),
            "marks": label.marks.iter().map(|mark| mark.words.said()).collect::<Vec<_>>(),
            "marks_elsewhere": self.marks_elsewhere, "dots": self.dots, "files": files,
        })
    }
}

#[cfg(feature = "paper")]
mod drawn {
    use super::{Code, Date, Dpi, Error, Io, Label, LabelFiles, PathBuf, Written};
    use crate::paper::{about, kept};
    use celltriage_print::code::CodeKind;
    use celltriage_print::label::laid_out;
    use celltriage_print::paper::{Fineness, Paper};
    use celltriage_print::{pdf_file, png_file};

    pub(super) fn write(
        how: &LabelFiles,
        [png, pdf]: &[Option<PathBuf>; 2],
        label: &Label,
        day: Date,
        io: &mut Io<'_>,
    ) -> Result<Written, Error> {
        let fineness = match how.dpi {
            Dpi::Dpi203 => Fineness::Dpi203,
            Dpi::Dpi300 => Fineness::Dpi300,
            Dpi::Dpi600 => Fineness::Dpi600,
        };
        let kind = match how.code {
            Code::DataMatrix => CodeKind::DataMatrix,
            Code::Qr => CodeKind::Qr,
        };
        let paper = Paper { width_mm: how.width_mm, height_mm: how.height_mm, fineness };
        let layout = laid_out(label, paper, kind).map_err(|fault| {
            Error::input(format!("{fault}; nothing was written"))
                .hint("give --width-mm and --height-mm of the label in the printer")
        })?;
        let mut files = Vec::new();
        if let Some(path) = png {
            let bytes = png_file::png(&layout).map_err(|error| Error::input(error.to_string()))?;
            files.push(("png", kept(path, &bytes, io)?));
        }
        if let Some(path) = pdf {
            let bytes = pdf_file::label(&layout, &about(&label.title, day))
                .map_err(|error| Error::input(error.to_string()))?;
            files.push(("pdf", kept(path, &bytes, io)?));
        }
        Ok(Written { files, dots: Some(layout.dots), marks_elsewhere: layout.marks_elsewhere })
    }
}

#[cfg(not(feature = "paper"))]
mod drawn {
    use super::{Date, Error, Io, Label, LabelFiles, PathBuf, Written};

    pub(super) fn write(
        _: &LabelFiles,
        _: &[Option<PathBuf>; 2],
        _: &Label,
        _: Date,
        _: &mut Io<'_>,
    ) -> Result<Written, Error> {
        Err(crate::paper::without_paper())
    }
}
