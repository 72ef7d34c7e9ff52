//! All settings of this computer in one table, one row each.

/// The setting that says where the book lies.
pub const BOOK: &str = "book";
/// The setting that says how this bench is called.
pub const BENCH: &str = "bench";

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
    /// One line of text.
    Line,
}

/// What holds where nobody says anything.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Otherwise {
    /// A file of this name in the program's own folder among the data of the person.
    InDataFolder(&'static str),
    /// This text.
    Text(&'static str),
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
];

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
    /// Returns the name under which the command line holds the option; `--book` of `grade` is another one and has no
    /// default, so the option's own name would not do.
    pub fn id(&self) -> String {
        format!("setting_{}", self.name)
    }
}
