//! Which column is what: by its name, its unit and its values.
//!
//! Points and shares below are our choice, tried on the ways of writing in the tests of `mapping`. They decide only what is shown first:
//! a person confirms it.

use super::table::{Column, share_rising};
use super::words::What;
use crate::mapping::parts::{
    ColumnName, CurrentUnit, DecimalMark, Mapping, TemperatureUnit, TimeUnit, VoltageUnit,
};

/// Voltages between which a lithium-ion cell lies, in V; a reading in mV lies a thousand times as high.
const CELL_VOLTS: std::ops::Range<f64> = 1.5..5.0;
/// What speaks for a column must reach this: a name, or a unit, or values that fit.
const ENOUGH: i32 = 2;

/// What was found, by places from 0.
#[derive(Clone, Debug)]
pub(super) struct Found {
    pub(super) time: usize,
    pub(super) time_unit: TimeUnit,
    pub(super) restarts: bool,
    pub(super) voltage: usize,
    pub(super) voltage_unit: VoltageUnit,
    pub(super) current: usize,
    pub(super) current_unit: CurrentUnit,
    pub(super) cell: Option<(usize, TemperatureUnit)>,
    pub(super) air: Option<(usize, TemperatureUnit)>,
    pub(super) cycle: Option<usize>,
    /// Columns of words that may say what is done.
    pub(super) modes: Vec<usize>,
}

impl Found {
    /// Finds the columns, or says which one is not there.
    pub(super) fn among(
        columns: &[Column],
        mark: DecimalMark,
        doubts: &mut Vec<String>,
    ) -> Result<Self, String> {
        let mut taken = Vec::new();
        let voltage = best(columns, &taken, doubts, "voltage", |column| {
            let in_volts = column.middle().is_some_and(|middle| CELL_VOLTS.contains(&middle));
            let in_millivolts = column.middle().is_some_and(|middle| CELL_VOLTS.contains(&(middle / 1e3)));
            let fits = if in_volts || in_millivolts { 2 } else { -2 };
            // A counter may pass through the same numbers, but it only rises, by steps that are all alike.
            let counts = if is_counter(column) { -3 } else { 0 };
            column.name.speaks_for(What::Voltage) + fits + counts
        })?;
        taken.push(voltage.place);
        let time = best(columns, &taken, &mut Vec::new(), "time", |column| {
            let clock = column.clock(mark);
            if column.numbers.is_empty() && clock.is_none() {
                return i32::MIN;
            }
            let rises = if clock.is_some() || column.rising() > 0.98 {
                3
            } else if column.rising() > 0.8 {
                1
            } else {
                -4
            };
            let still = if clock.is_none() && column.stays() > 0.5 { -6 } else { 0 };
            // The time of the whole test before that of a step, and both before a date that is written to the second.
            let of_step = if column.name.is_of_a_step() { -1 } else { 0 };
            let dated = if clock.is_some_and(|unit| unit != TimeUnit::Clock) { -2 } else { 0 };
            let counts = if is_counter(column) && column.name.speaks_for(What::Time) <= 0 { -1 } else { 0 };
            column.name.speaks_for(What::Time) + rises + still + of_step + dated + counts
        })?;
        taken.push(time.place);
        let current = best(columns, &taken, doubts, "current", |column| {
            if column.numbers.is_empty() {
                return i32::MIN;
            }
            // A charge that is counted rises or falls all the way; a current returns to zero or stays.
            let counts = if column.rising() > 0.98 && is_counter(column) { -3 } else { 0 };
            let flows = if column.largest() > 0.0 { 0 } else { -1 };
            // Without names: a current that is set stays as it is for many rows.
            let held = if column.title.is_empty() && column.stays() > 0.3 { 2 } else { 0 };
            column.name.speaks_for(What::Current) + counts + flows + held
        })?;
        taken.push(current.place);
        let mut temperatures: Vec<&Column> =
            columns.iter().filter(|column| !taken.contains(&column.place)).collect();
        temperatures
            .retain(|column| !column.numbers.is_empty() && column.name.speaks_for(What::Temperature) >= 3);
        let (air, cell): (Vec<&Column>, Vec<&Column>) =
            temperatures.into_iter().partition(|column| column.name.is_of_the_air());
        if let [first, others @ ..] = cell.as_slice()
            && !others.is_empty()
        {
            doubts.push(format!(
                "there are {} temperatures: `{}` is taken for the cell's surface",
                others.len() + 1,
                first.title
            ));
        }
        let of = |column: Option<&&Column>| column.map(|column| (column.place, temperature_unit(column)));
        let named = |what: What| {
            columns
                .iter()
                .filter(|column| !taken.contains(&column.place))
                .find(|column| column.name.speaks_for(what) >= 3 && column.words().is_some())
        };
        let modes =
            columns.iter().filter(|column| !taken.contains(&column.place) && column.words().is_some());
        let mut modes: Vec<&Column> =
            modes.filter(|column| column.words().is_some_and(|words| words.len() > 1)).collect();
        modes.sort_by_key(|column| -column.name.speaks_for(What::Mode));
        let time_unit = time_unit(time, mark, doubts);
        let times: Vec<f64> = time.fields.iter().filter_map(|field| time_unit.read(field, mark)).collect();
        Ok(Self {
            time: time.place,
            time_unit,
            restarts: share_rising(&times) < 0.9999,
            voltage: voltage.place,
            voltage_unit: voltage_unit(voltage),
            current: current.place,
            current_unit: current_unit(current, doubts),
            cell: of(cell.first()),
            air: of(air.first()),
            cycle: named(What::Cycle).map(|column| column.place),
            modes: modes.into_iter().map(|column| column.place).collect(),
        })
    }

    /// Returns the places that a mapping reads.
    pub(super) fn places(&self, mapping: &Mapping, columns: &[Column]) -> Vec<usize> {
        let place = |wanted: &ColumnName| match wanted {
            ColumnName::Place(place) => place.checked_sub(1),
            ColumnName::Name(name) => {
                columns.iter().find(|column| column.title == *name).map(|column| column.place)
            }
        };
        let mode = mapping.current.mode.as_ref().and_then(|mode| place(&mode.column));
        let cycle = mapping.rows.cycle.as_ref().and_then(|cycle| place(&cycle.column));
        let always = [Some(self.time), Some(self.voltage), Some(self.current)];
        let others = [self.cell.map(|(place, _)| place), self.air.map(|(place, _)| place), mode, cycle];
        always.into_iter().chain(others).flatten().collect()
    }
}

/// Returns the column that most speaks for; says so where another one does as much.
fn best<'c>(
    columns: &'c [Column],
    taken: &[usize],
    doubts: &mut Vec<String>,
    what: &str,
    speaks: impl Fn(&Column) -> i32,
) -> Result<&'c Column, String> {
    let free = columns.iter().filter(|column| !taken.contains(&column.place));
    let mut scored: Vec<(i32, &Column)> = free.map(|column| (speaks(column), column)).collect();
    // A stable order: of equals the first one.
    scored.sort_by_key(|(score, _)| -i64::from(*score));
    match scored.as_slice() {
        [(score, first), rest @ ..]
            if *score >= ENOUGH || (what == "current" && *score >= 0 && columns.len() <= 3) =>
        {
            if let Some((_, second)) = rest.first().filter(|(other, _)| other == score) {
                doubts.push(format!(
                    "`{}` may be the {what} too; `{}` is taken",
                    label(second),
                    label(first)
                ));
            }
            Ok(first)
        }
        _ => Err(format!(
            "no column looks like a {what}; the columns are {}: write a mapping by hand, or name them as the open Battery Data Format does",
            columns.iter().map(|column| format!("`{}`", label(column))).collect::<Vec<_>>().join(", ")
        )),
    }
}

fn label(column: &Column) -> String {
    if column.title.is_empty() { format!("column {}", column.place + 1) } else { column.title.clone() }
}

/// Returns whether it rises by the same amount from row to row, as numbers of rows do.
fn is_counter(column: &Column) -> bool {
    let steps: Vec<f64> =
        column.numbers.windows(2).filter_map(|pair| Some(pair.get(1)? - pair.first()?)).collect();
    let Some(first) = steps.first() else { return false };
    *first > 0.0 && steps.iter().filter(|step| (*step - first).abs() < 1e-9).count() * 100 >= steps.len() * 99
}

fn time_unit(column: &Column, mark: DecimalMark, doubts: &mut Vec<String>) -> TimeUnit {
    if let Some(unit) = column.clock(mark) {
        if unit == TimeUnit::DateDayFirst
            && column.fields.iter().all(|field| TimeUnit::DateMonthFirst.read(field, mark).is_some())
        {
            doubts.push(
                "the day of the dates may be the month: it matters where a test goes on past midnight"
                    .to_owned(),
            );
        }
        return unit;
    }
    match column.name.unit.as_deref() {
        Some("ms") => TimeUnit::Milliseconds,
        Some("min" | "minutes") => TimeUnit::Minutes,
        Some("h" | "hr" | "hours") => TimeUnit::Hours,
        Some(_) => TimeUnit::Seconds,
        None => {
            doubts.push("the unit of the time is not written: it is taken for seconds".to_owned());
            TimeUnit::Seconds
        }
    }
}

fn voltage_unit(column: &Column) -> VoltageUnit {
    // The values tell: no cell has 50 V, and none that is worth a look 50 mV.
    if column.middle().is_some_and(|middle| middle > 50.0) {
        VoltageUnit::Millivolts
    } else {
        VoltageUnit::Volts
    }
}

fn current_unit(column: &Column, doubts: &mut Vec<String>) -> CurrentUnit {
    match column.name.unit.as_deref() {
        Some("ma") => CurrentUnit::Milliamps,
        Some(_) => CurrentUnit::Amps,
        None => {
            let unit = if column.largest() > 50.0 { CurrentUnit::Milliamps } else { CurrentUnit::Amps };
            doubts.push(format!(
                "the unit of the current is not written: it is taken for {unit}, since it reaches {}",
                column.largest()
            ));
            unit
        }
    }
}

fn temperature_unit(column: &Column) -> TemperatureUnit {
    match column.name.unit.as_deref() {
        Some("degf" | "f" | "fahrenheit") => TemperatureUnit::Fahrenheit,
        Some("k" | "kelvin") => TemperatureUnit::Kelvin,
        _ => TemperatureUnit::Celsius,
    }
}
