//! What a mapping says, as data: the keys of its file are the names here.

use serde::{Deserialize, Serialize};
use std::fmt;

/// How a file of another program is read.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Mapping {
    /// Who has looked at it and found it right; without a name it is a guess.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub confirmed_by: Option<String>,
    /// How the text is written.
    pub text: Layout,
    /// Time.
    pub time: TimeColumn,
    /// Voltage of one cell.
    pub voltage: VoltageColumn,
    /// Current.
    pub current: CurrentColumn,
    /// Temperature of the cell's surface.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cell_temperature: Option<TemperatureColumn>,
    /// Temperature of the air.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub air_temperature: Option<TemperatureColumn>,
    /// Which rows count; all where nothing is said.
    #[serde(default, skip_serializing_if = "RowChoice::is_all")]
    pub rows: RowChoice,
}

/// How the text is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Layout {
    /// Bytes to letters.
    pub encoding: Encoding,
    /// Between the fields of a line.
    pub separator: Separator,
    /// Before the decimals of a number.
    pub decimal: DecimalMark,
    /// Line that names the columns, from 1; 0 where none does.
    pub names_in_line: usize,
    /// Line of the first row, from 1.
    pub first_row_in_line: usize,
}

/// A set of words of the file, each with its meaning.
macro_rules! words {
    ($(#[$about:meta])* $name:ident { $($(#[$each:meta])* $variant:ident = $word:literal),+ $(,)? }) => {
        $(#[$about])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
        pub enum $name {
            $($(#[$each])* #[serde(rename = $word)] $variant,)+
        }

        impl $name {
            /// Returns the word that the file has for it.
            pub const fn word(self) -> &'static str {
                match self { $(Self::$variant => $word,)+ }
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result { out.write_str(self.word()) }
        }
    };
}

words! {
    /// Bytes to letters.
    Encoding {
        /// With or without a byte order mark.
        Utf8 = "utf-8",
        /// The low byte first.
        Utf16LittleEndian = "utf-16-le",
        /// The high byte first.
        Utf16BigEndian = "utf-16-be",
        /// One byte a letter (ISO 8859-1).
        Latin1 = "latin-1",
    }
}

words! {
    /// Between the fields of a line.
    Separator {
        /// `,`
        Comma = "comma",
        /// `;`
        Semicolon = "semicolon",
        /// One tab.
        Tab = "tab",
        /// Any number of spaces and tabs.
        Space = "space",
    }
}

words! {
    /// Before the decimals of a number.
    DecimalMark {
        /// `.`
        Point = "point",
        /// `,`
        Comma = "comma",
    }
}

words! {
    /// How a time is written.
    TimeUnit {
        /// Seconds.
        Seconds = "s",
        /// Milliseconds.
        Milliseconds = "ms",
        /// Minutes.
        Minutes = "min",
        /// Hours.
        Hours = "h",
        /// Hours, minutes and seconds between colons, days before them where there are any.
        Clock = "hh:mm:ss",
        /// Year, month, day, time of day.
        Date = "date",
        /// Day, month, year, time of day.
        DateDayFirst = "date-day-first",
        /// Month, day, year, time of day.
        DateMonthFirst = "date-month-first",
    }
}

words! {
    /// Unit of a voltage.
    VoltageUnit {
        /// Volt.
        Volts = "V",
        /// Millivolt.
        Millivolts = "mV",
    }
}

words! {
    /// Unit of a current.
    CurrentUnit {
        /// Ampere.
        Amps = "A",
        /// Milliampere.
        Milliamps = "mA",
    }
}

words! {
    /// Unit of a temperature.
    TemperatureUnit {
        /// Degree Celsius.
        Celsius = "degC",
        /// Degree Fahrenheit.
        Fahrenheit = "degF",
        /// Kelvin.
        Kelvin = "K",
    }
}

words! {
    /// What a current above zero does to the cell.
    Positive {
        /// It charges.
        Charges = "charges",
        /// It discharges.
        Discharges = "discharges",
        /// Either: the column of the mode tells.
        AsModeSays = "as-mode-says",
    }
}

/// A column: by its name, or by its place from 1 where it has none.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum ColumnName {
    /// Its place, from 1.
    Place(usize),
    /// Its name as the file has it.
    Name(String),
}

impl fmt::Display for ColumnName {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Place(place) => write!(out, "column {place}"),
            Self::Name(name) => write!(out, "`{name}`"),
        }
    }
}

/// The column of the time.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TimeColumn {
    /// Which.
    pub column: ColumnName,
    /// How it is written.
    pub unit: TimeUnit,
    /// Whether it begins again with each step: what has passed before is then added.
    #[serde(default)]
    pub restarts: bool,
}

/// The column of the voltage.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct VoltageColumn {
    /// Which.
    pub column: ColumnName,
    /// Its unit.
    pub unit: VoltageUnit,
}

/// The column of the current.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CurrentColumn {
    /// Which.
    pub column: ColumnName,
    /// Its unit.
    pub unit: CurrentUnit,
    /// What a current above zero does.
    pub positive: Positive,
    /// The column that says what is done, where the current has no sign of its own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mode: Option<Mode>,
}

/// The column that says what is done, and its words.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Mode {
    /// Which.
    pub column: ColumnName,
    /// Words under which a current charges.
    pub charge: Vec<String>,
    /// Words under which a current discharges.
    pub discharge: Vec<String>,
}

/// A column of temperatures.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TemperatureColumn {
    /// Which.
    pub column: ColumnName,
    /// Its unit.
    pub unit: TemperatureUnit,
}

/// Which rows count.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RowChoice {
    /// Only these cycles.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cycle: Option<Selection>,
    /// Only these steps.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub step: Option<Selection>,
}

impl RowChoice {
    /// Returns whether nothing is left out.
    pub const fn is_all(&self) -> bool {
        self.cycle.is_none() && self.step.is_none()
    }
}

/// RowChoice in which a column has one of some values.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Selection {
    /// Which column.
    pub column: ColumnName,
    /// Its values, as the file writes them.
    pub values: Vec<String>,
}
