//! What a column's name says of it: words of the trade in five languages, and a unit.
//!
//! Common words only: no program and no manufacturer is known here by its own names.

/// What a column may be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum What {
    Time,
    Voltage,
    Current,
    Temperature,
    Cycle,
    Mode,
}

/// A name taken apart.
#[derive(Clone, Debug, Default)]
pub(super) struct Name {
    words: Vec<String>,
    /// The unit in it, as written but for spellings of the degree.
    pub(super) unit: Option<String>,
}

const TIME: &[&str] =
    &["time", "zeit", "temps", "tiempo", "tempo", "elapsed", "date", "datetime", "timestamp", "datum"];
const VOLTAGE: &[&str] =
    &["voltage", "volt", "volts", "spannung", "tension", "voltaje", "tensione", "u", "v"];
const CURRENT: &[&str] = &["current", "amp", "amps", "strom", "courant", "corriente", "corrente", "cur", "i"];
const TEMPERATURE: &[&str] = &["temperature", "temperatur", "temp", "temperatura", "t1", "thermocouple"];
const CYCLE: &[&str] = &["cycle", "zyklus", "cyc", "ciclo"];
const STEP: &[&str] = &["step", "schritt", "etape", "paso", "passo"];
const MODE: &[&str] = &["mode", "state", "status", "modus", "zustand", "type", "md", "action"];
/// Of the air, not of the cell.
const AIR: &[&str] = &["ambient", "air", "room", "chamber", "umgebung", "ambiante", "raum", "luft", "env"];
/// What is worked out or set, not measured.
const NOT_MEASURED: &[&str] = &[
    "max",
    "min",
    "mean",
    "avg",
    "average",
    "delta",
    "limit",
    "set",
    "target",
    "capacity",
    "energy",
    "power",
    "charge",
    "resistance",
    "dv",
    "di",
    "dt",
    "d",
    "error",
    "range",
    "cutoff",
];

const UNITS: &[&str] = &[
    "v",
    "mv",
    "a",
    "ma",
    "s",
    "sec",
    "secs",
    "second",
    "seconds",
    "ms",
    "min",
    "minutes",
    "h",
    "hr",
    "hours",
    "degc",
    "c",
    "degf",
    "f",
    "k",
    "celsius",
    "kelvin",
    "fahrenheit",
    "hh:mm:ss",
    "h:m:s",
    "volt",
    "volts",
    "ampere",
    "amps",
    "ah",
    "mah",
    "wh",
    "mwh",
    "w",
    "mw",
    "ohm",
    "mohm",
];

impl Name {
    /// Takes a name apart; `below` is what stands under it in a line of units.
    pub(super) fn of(name: &str, below: Option<&str>) -> Self {
        let lower = with_spaces(&name.replace('°', "deg")).to_lowercase();
        let mut words: Vec<String> = lower
            .split(|c: char| !c.is_alphanumeric())
            .filter(|word| !word.is_empty())
            .map(str::to_owned)
            .collect();
        let plain = |text: &str| {
            text.replace('°', "deg")
                .to_lowercase()
                .trim_matches(|c: char| "[]()<>/ ".contains(c))
                .replace(' ', "")
        };
        let is_unit = |text: &str| UNITS.contains(&text);
        let bracketed =
            name.rsplit_once(['(', '[', '/', '<']).map(|(_, unit)| plain(unit)).filter(|unit| is_unit(unit));
        let last = words.last().filter(|word| words.len() > 1 && is_unit(word)).cloned();
        let unit = below.map(plain).filter(|unit| is_unit(unit)).or(bracketed).or(last);
        if let Some(unit) = &unit
            && words.len() > 1
            && words.last() == Some(unit)
        {
            words.pop();
        }
        Self { words, unit }
    }

    fn has(&self, words: &[&str]) -> bool {
        self.words.iter().any(|word| words.contains(&word.as_str()))
    }

    /// Returns whether a word says that it is the air's.
    pub(super) fn is_of_the_air(&self) -> bool {
        self.has(AIR)
    }

    /// Returns whether a word says that it is of one step only.
    pub(super) fn is_of_a_step(&self) -> bool {
        self.has(STEP)
    }

    /// Returns how much the name speaks for a meaning; below zero where it speaks against it.
    pub(super) fn speaks_for(&self, what: What) -> i32 {
        let (words, units): (&[&str], &[&str]) = match what {
            What::Time => (
                TIME,
                &[
                    "s", "sec", "secs", "second", "seconds", "ms", "min", "minutes", "h", "hr", "hours",
                    "hh:mm:ss", "h:m:s",
                ],
            ),
            What::Voltage => (VOLTAGE, &["v", "mv", "volt", "volts"]),
            What::Current => (CURRENT, &["a", "ma", "ampere", "amps"]),
            What::Temperature => {
                (TEMPERATURE, &["degc", "c", "degf", "f", "k", "celsius", "kelvin", "fahrenheit"])
            }
            What::Cycle => (CYCLE, &[]),
            What::Mode => (MODE, &[]),
        };
        let named = if self.has(words) { 3 } else { 0 };
        let unit = match &self.unit {
            Some(unit) if units.contains(&unit.as_str()) => 3,
            Some(_) => -6,
            None => 0,
        };
        let measured = matches!(what, What::Voltage | What::Current | What::Temperature);
        let against = if measured && self.has(NOT_MEASURED) { -4 } else { 0 };
        let of_time = match what {
            What::Cycle if self.has(TIME) => -6,
            // A slope is given for a time; it is none.
            What::Time if self.has(&["dv", "di", "dq", "dt"]) => -6,
            _ => 0,
        };
        named + unit + against + of_time
    }
}

/// Puts a space before a capital letter after two small ones: "StepTime" is two words, "mA" is one.
fn with_spaces(name: &str) -> String {
    let mut spaced = String::with_capacity(name.len() + 4);
    let mut small = 0;
    for letter in name.chars() {
        if letter.is_uppercase() && small >= 2 {
            spaced.push(' ');
        }
        small = if letter.is_lowercase() { small + 1 } else { 0 };
        spaced.push(letter);
    }
    spaced
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_every_writing_say_what_they_are() {
        for (name, what, unit) in [
            ("Voltage(V)", What::Voltage, Some("v")),
            ("U / mV", What::Voltage, Some("mv")),
            ("Spannung [V]", What::Voltage, Some("v")),
            ("cell_current_mA", What::Current, Some("ma")),
            ("I", What::Current, None),
            ("Strom", What::Current, None),
            ("Total Time, (h)", What::Time, Some("h")),
            ("elapsed_s", What::Time, Some("s")),
            ("Temp. (°C)", What::Temperature, Some("degc")),
            ("Cycle No", What::Cycle, None),
            ("StepType", What::Mode, None),
        ] {
            let name = Name::of(name, None);
            assert!(name.speaks_for(what) >= 3, "{name:?} {what:?} {}", name.speaks_for(what));
            assert_eq!(name.unit.as_deref(), unit, "{name:?}");
        }
    }

    #[test]
    fn what_is_worked_out_or_of_another_unit_is_not_taken() {
        for (name, what) in [
            ("Capacity(Ah)", What::Current),
            ("Max Voltage (V)", What::Voltage),
            ("dV/dt (V/s)", What::Time),
            ("Cycle Time (s)", What::Cycle),
            ("Charge Energy (Wh)", What::Voltage),
        ] {
            let name = Name::of(name, None);
            assert!(name.speaks_for(what) < 3, "{name:?} {what:?} {}", name.speaks_for(what));
        }
    }
}
