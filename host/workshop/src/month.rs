//! What happened in a month, counted from the book: decisions, what a person did with cells, what left.

use crate::fault::Result;
use crate::shop::Workshop;
use celltriage_assessment::record::ASSESSMENT;
use celltriage_book::{Filter, Head};
use celltriage_custody::Scope;
use celltriage_custody::cell::Whereabouts;
use celltriage_custody::units::Milligrams;
use celltriage_instrument::hot_cell::record::ALARM;
use celltriage_verdict::Fate;
use jiff::ToSpan;
use jiff::civil::Date;
use serde::Serialize;
use std::collections::BTreeMap;
use std::fmt;
use std::str::FromStr;

/// A month of the calendar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Month {
    first: Date,
}

/// A text that is no month.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("`{0}` is no month: write year and month, as 2026-11")]
pub struct NotAMonth(String);

/// What happened in a month. Struck entries count for nothing; simulated cells count only where the month has no real ones.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MonthSummary {
    /// Year and month.
    pub month: String,
    /// Whether all of it is about simulated cells.
    pub simulated: bool,
    /// Cells that were assessed, each by its last decision in the month.
    pub cells: BTreeMap<Fate, u32>,
    /// Decisions, a cell's later ones too.
    pub decisions: u32,
    /// Decisions that somebody struck since.
    pub struck: u32,
    /// Decisions on simulated cells that were left out.
    pub simulated_left_out: u32,
    /// Judgements of a person.
    pub judged: u32,
    /// Cells put into containers.
    pub placed: u32,
    /// Cells fitted into devices.
    pub fitted: u32,
    /// Alarms of the hot-cell watch, of either level.
    pub alarms: u32,
    /// Irregularities noted.
    pub irregularities: u32,
    /// What left and has not come back.
    pub left: Vec<LeftInMonth>,
}

/// Cells that left in one way.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LeftInMonth {
    /// How, and with what.
    pub how: String,
    /// How many cells.
    pub cells: u32,
    /// Their mass; what nobody weighed counts with the worst case, as in containers.
    pub mass_mg: Milligrams,
}

impl FromStr for Month {
    type Err = NotAMonth;

    fn from_str(text: &str) -> std::result::Result<Self, NotAMonth> {
        let read = text.split_once('-').and_then(|(year, month)| {
            let (year, month) = (year.parse().ok()?, month.parse().ok()?);
            Date::new(year, month, 1).ok()
        });
        read.map(|first| Self { first }).ok_or_else(|| NotAMonth(text.to_owned()))
    }
}

impl fmt::Display for Month {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{:04}-{:02}", self.first.year(), self.first.month())
    }
}

impl Month {
    /// Returns the month of a day.
    pub fn of(day: Date) -> Self {
        Self { first: day.first_of_month() }
    }

    fn holds(self, day: Date) -> bool {
        day.first_of_month() == self.first
    }
}

impl Workshop<'_> {
    /// Counts what happened in a month, by the days of the workshop.
    ///
    /// # Errors
    /// The book cannot be read.
    pub fn month(&self, month: Month) -> Result<MonthSummary> {
        let heads = self.heads_of(month)?;
        let state = self.state(Scope::All)?;
        let real = heads.iter().any(|head| head.simulated == Some(false));
        let simulated = !real && heads.iter().any(|head| head.simulated == Some(true));
        let of_this_sort = |head: &&Head| head.simulated.is_none_or(|one| one == simulated);
        let counts = |head: &&Head| of_this_sort(head) && !state.struck.contains_key(&head.number);
        let count = |kind: &str| number(heads.iter().filter(counts).filter(|head| head.kind == kind).count());
        let decisions = || heads.iter().filter(|head| head.kind == ASSESSMENT);
        let mut last: BTreeMap<&str, &Head> = BTreeMap::new();
        for head in decisions().filter(counts) {
            last.insert(&head.subject.name, head);
        }
        let mut cells: BTreeMap<Fate, u32> = BTreeMap::new();
        for fate in last.into_values().filter_map(fate_of) {
            *cells.entry(fate).or_default() += 1;
        }
        let mut left: BTreeMap<String, (u32, Milligrams)> = BTreeMap::new();
        for cell in state.cells.values().filter(|cell| cell.is_simulated() == simulated) {
            let how = match &cell.whereabouts {
                Whereabouts::HandedOver { shipment, on } if month.holds(*on) => {
                    format!("handed over with shipment {shipment}")
                }
                Whereabouts::Left { how, on, .. } if month.holds(*on) => how.words().to_owned(),
                _ => continue,
            };
            let (cells, mass) = left.entry(how).or_default();
            *cells += 1;
            *mass = mass.plus(cell.mass());
        }
        let irregular = heads.iter().filter(counts).filter(|head| head.kind.ends_with("-irregularity"));
        Ok(MonthSummary {
            month: month.to_string(),
            simulated,
            cells,
            decisions: number(decisions().filter(counts).count()),
            struck: number(
                decisions()
                    .filter(of_this_sort)
                    .filter(|head| state.struck.contains_key(&head.number))
                    .count(),
            ),
            simulated_left_out: number(
                decisions().filter(|head| head.simulated == Some(true) && !simulated).count(),
            ),
            judged: count("judgement"),
            placed: count("cell-placed"),
            fitted: count("fitted"),
            alarms: count(ALARM),
            irregularities: number(irregular.count()),
            left: left
                .into_iter()
                .map(|(how, (cells, mass_mg))| LeftInMonth { how, cells, mass_mg })
                .collect(),
        })
    }

    /// Reads the heads of the entries of a month, oldest first: its days are those of the workshop.
    fn heads_of(&self, month: Month) -> Result<Vec<Head>> {
        let at = |day: Date| day.to_zoned_datetime(self.zone().clone()).ok().map(|day| day.timestamp());
        let after = month.first.checked_add(1.month()).ok();
        let filter = Filter { since: at(month.first), until: after.and_then(at), ..Filter::default() };
        let mut heads = self.book.heads(&filter)?;
        heads.sort_by_key(|head| head.number);
        Ok(heads)
    }
}

fn fate_of(head: &Head) -> Option<Fate> {
    let key = head.fate.as_deref()?;
    Fate::ALL.into_iter().find(|fate| fate.key() == key)
}

fn number(count: usize) -> u32 {
    u32::try_from(count).unwrap_or(u32::MAX)
}
