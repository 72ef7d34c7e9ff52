//! All settings of this computer in one table, one row each.

/// The setting that says where the book lies.
pub const BOOK: &str = "book";
/// The setting that says how this bench is called.
pub const BENCH: &str = "bench";
/// The setting that says whose rules hold here.
pub const PLACE: &str = "place";
/// The setting that says who works here.
pub const PERSON: &str = "person";
/// The setting that says what makes that person able to judge.
pub const QUALIFICATION: &str = "qualification";
/// The setting that says where the labels of the shop's models are.
pub const MODELS: &str = "models";
/// The setting that says how wide a printed label is.
pub const LABEL_WIDTH: &str = "label_width_mm";
/// The setting that says how high it is.
pub const LABEL_HEIGHT: &str = "label_height_mm";
/// The setting that says how fine the label printer prints.
pub const LABEL_DPI: &str = "label_dpi";
/// The setting that says which code is on a label.
pub const LABEL_CODE: &str = "label_code";
/// The setting that says where files of labels go.
pub const LABEL_FOLDER: &str = "label_folder";

/// One setting: where its value may come from, first to last.
#[derive(Clone, Copy, Debug)]
pub struct KeyRow {
    /// Its key in the settings file, on the page and in JSON.
    pub name: &'static str,
    /// The option that wins over all else; the commands that take it hold it under [`KeyRow::id`].
    pub option: Option<&'static str>,
    /// The variable that wins over the settings file.
    pub variable: Option<&'static str>,
    /// What its value is.
    pub kind: ValueKind,
    /// What holds where nobody says anything.
    pub otherwise: Otherwise,
}

/// What a value is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ValueKind {
    /// The path of a file.
    Path,
    /// One line of text; a variable that is empty sets none.
    Line,
    /// A length in mm.
    Millimetres,
    /// One of these words.
    OneOf(&'static [&'static str]),
}

/// What holds where nobody says anything.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Otherwise {
    /// A file of this name in the program's own folder among the data of the person.
    InDataFolder(&'static str),
    /// This text.
    Text(&'static str),
    /// A file or folder of this name in the folder of the book.
    BesideBook(&'static str),
    /// The setting has no value then.
    Unset,
}

/// Every setting: key, option, variable, what it is, what holds otherwise.
pub const KEYS: &[KeyRow] = &[
    row(
        BOOK,
        Some("--book"),
        Some("CELLTRIAGE_BOOK"),
        ValueKind::Path,
        Otherwise::InDataFolder("book.sqlite"),
    ),
    row(BENCH, None, None, ValueKind::Line, Otherwise::Text("bench 1")),
    row(PLACE, Some("--place"), Some("CELLTRIAGE_PLACE"), ValueKind::Line, Otherwise::Unset),
    row(PERSON, Some("--by"), Some("CELLTRIAGE_PERSON"), ValueKind::Line, Otherwise::Unset),
    row(
        QUALIFICATION,
        Some("--qualification"),
        Some("CELLTRIAGE_QUALIFICATION"),
        ValueKind::Line,
        Otherwise::Unset,
    ),
    row(
        MODELS,
        Some("--models"),
        Some("CELLTRIAGE_MODELS"),
        ValueKind::Path,
        Otherwise::BesideBook("models"),
    ),
    row(
        LABEL_WIDTH,
        Some("--width-mm"),
        Some("CELLTRIAGE_LABEL_WIDTH_MM"),
        ValueKind::Millimetres,
        Otherwise::Text("50"),
    ),
    row(
        LABEL_HEIGHT,
        Some("--height-mm"),
        Some("CELLTRIAGE_LABEL_HEIGHT_MM"),
        ValueKind::Millimetres,
        Otherwise::Text("30"),
    ),
    row(
        LABEL_DPI,
        Some("--dpi"),
        Some("CELLTRIAGE_LABEL_DPI"),
        ValueKind::OneOf(&DPI),
        Otherwise::Text("203"),
    ),
    row(
        LABEL_CODE,
        Some("--code"),
        Some("CELLTRIAGE_LABEL_CODE"),
        ValueKind::OneOf(&CODES),
        Otherwise::Text("data-matrix"),
    ),
    row(LABEL_FOLDER, Some("--folder"), Some("CELLTRIAGE_LABEL_FOLDER"), ValueKind::Path, Otherwise::Unset),
];

/// How fine label printers are sold, in dots per inch.
const DPI: [&str; 3] = ["203", "300", "600"];
/// The codes that a label may have.
const CODES: [&str; 2] = ["data-matrix", "qr"];

const fn row(
    name: &'static str,
    option: Option<&'static str>,
    variable: Option<&'static str>,
    kind: ValueKind,
    otherwise: Otherwise,
) -> KeyRow {
    KeyRow { name, option, variable, kind, otherwise }
}

impl KeyRow {
    /// Returns what a person is asked where a command needs the value and nobody has set it.
    pub fn question(&self) -> Option<&'static str> {
        match self.name {
            PERSON => Some("Your name (who does it, and answers for it): "),
            PLACE => Some("Whose rules hold here? ISO code, as US, DE or US-CA: "),
            _ => None,
        }
    }

    /// Returns the name under which the command line holds the option; `--book` of `grade` is another one and has no
    /// default, so the option's own name would not do.
    pub fn id(&self) -> String {
        format!("setting_{}", self.name)
    }
}
