//! What may end a finding by the rule of its kind, and whether it does.
//!
//! Looks at its temperature end that it was warm at rest; a new watch on the fixture without an alarm ends an alarm. The rules say
//! what is missing, in words. A finding that makes the cell critical waits for a person's judgement first.

use crate::event::TemperatureLook;
use celltriage_instrument::hot_cell::record::{Ended, WatchRecord};
use celltriage_verdict::{KnownFinding, Release};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

/// A cell this much warmer than the air, in K, is not cool: what two whole contact thermometers may differ by is less (our choice).
const COOL_K: f64 = 1.0;
/// By so much, in K, it may be warmer against the air at the second look than at the first: what a reading repeats to (our choice).
const LEVEL_K: f64 = 0.5;
/// So long must lie between two looks, in minutes. A pouch cell of 40 g gives its heat to still air with a time constant of 8 to
/// 15 min (about 1 kJ/(kg K), 5 to 10 W/(m2 K), common figures): after an hour less than 2 % of what it took from a hand or an
/// iron is left, and what still is there is made inside.
const APART_MIN: i64 = 60;
/// Shortest watch that ends an alarm, in hours (our choice: the slowest alarm, 20 mV at 4 mV an hour, takes five).
const SHORTEST_WATCH_H: f64 = 6.0;
/// So many times as long as the watch took to its alarm must the new one last without one (our choice).
const LONGER: f64 = 2.0;

/// What was looked at and measured since.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Grounds {
    /// Looks at its temperature.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    looks: Vec<Seen>,
    /// Entries of alarms, with the seconds from the beginning of their watch.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    alarms: Vec<(u32, f64)>,
    /// Entries of watches without an alarm, with their seconds.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    quiet: Vec<(u32, f64)>,
    /// Entries of looks and watches at another bench, with those of findings that it did not know of: they may be older.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    not_since: Vec<(u32, u32)>,
}

/// A look.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
struct Seen {
    entry: u32,
    at: Timestamp,
    over_air_k: f64,
    /// Made at another bench: where it stands here says nothing of when it was made.
    #[serde(default)]
    elsewhere: bool,
}

impl Grounds {
    /// Takes in a look at its temperature.
    pub(crate) fn looked(&mut self, entry: u32, look: &TemperatureLook) {
        self.looks.push(Seen {
            entry,
            at: look.at,
            over_air_k: look.temperature_c - look.air_c,
            elsewhere: false,
        });
    }

    /// Takes in an alarm of a watch that began so many seconds before.
    pub(crate) fn alarmed(&mut self, entry: u32, after_s: f64) {
        self.alarms.push((entry, after_s));
    }

    /// Takes in a whole watch; only one that ended as asked for or by a person, and saw all of its time, says something.
    pub(crate) fn watched(&mut self, entry: u32, record: &WatchRecord) {
        let whole = matches!(record.ended, Ended::Time | Ended::Stopped);
        if whole && record.alarms.is_empty() {
            self.quiet.push((entry, record.lasted_s));
        }
    }

    /// Takes in that an entry of another bench may be older than findings that it did not know of, whatever its number is here.
    pub(crate) fn knew_nothing_of(&mut self, entry: u32, findings: &[u32]) {
        self.not_since.extend(findings.iter().map(|found| (entry, *found)));
    }

    /// Takes in that a look was made at another bench.
    pub(crate) fn was_elsewhere(&mut self, look: u32) {
        self.looks.iter_mut().filter(|seen| seen.entry == look).for_each(|seen| seen.elsewhere = true);
    }

    /// Says whether an entry was written after a finding.
    fn is_since(&self, entry: u32, found: u32) -> bool {
        entry > found && !self.not_since.contains(&(entry, found))
    }

    /// Forgets what a struck entry said; returns the sort of release that may have rested on it.
    pub(crate) fn strike(&mut self, struck: u32) -> Option<Release> {
        let (looks, quiet) = (self.looks.len(), self.quiet.len());
        self.looks.retain(|seen| seen.entry != struck);
        self.quiet.retain(|(entry, _)| *entry != struck);
        self.alarms.retain(|(entry, _)| *entry != struck);
        if self.looks.len() < looks {
            Some(Release::Cooling)
        } else {
            (self.quiet.len() < quiet).then_some(Release::NewMeasurement)
        }
    }

    /// Says whether a person may end a finding by the rule of its kind.
    ///
    /// # Errors
    /// What is missing, in words.
    pub fn may_end(&self, found: &KnownFinding) -> Result<(), String> {
        match found.kind.row().release {
            _ if found.is_acute() => {
                Err("it makes the cell critical: a person judges it first, after four weeks under watch"
                    .to_owned())
            }
            Release::Cooling => self.cooled_since(found.entry),
            Release::NewMeasurement => self.watched_since(found.entry),
            other => Err(format!("what ends it is {}", other.words())),
        }
    }

    fn cooled_since(&self, entry: u32) -> Result<(), String> {
        // Not "greater than": a figure that is NaN must not pass.
        let cool = |seen: &&&Seen| seen.over_air_k <= COOL_K;
        // A look at which it was warm counts in any case.
        let counts = |seen: &&Seen| seen.entry > entry && (!cool(&seen) || self.is_since(seen.entry, entry));
        let since: Vec<&Seen> = self.looks.iter().filter(counts).collect();
        let Some(last) = since.last() else {
            return Err("nobody has looked at its temperature since".to_owned());
        };
        let in_a_row = since.iter().rev().take_while(cool).count();
        let Some(first) = since.get(since.len().saturating_sub(in_a_row)).filter(|_| in_a_row > 0) else {
            return Err(format!(
                "at the last look (entry {}) it was {:.1} K warmer than the air, and {COOL_K} K is the most",
                last.entry, last.over_air_k
            ));
        };
        // A look of another bench may have been made before one of here that found it warm.
        let later = |seen: &&Seen| !cool(&seen) && seen.at > last.at;
        if let Some(warm) = self.looks.iter().find(|seen| last.elsewhere && later(seen)) {
            return Err(format!(
                "at a later look (entry {}) it was {:.1} K warmer than the air, and {COOL_K} K is the most",
                warm.entry, warm.over_air_k
            ));
        }
        // Where benches were merged, one at which it was warm may lie between two of another bench.
        let warm =
            self.looks.iter().filter(|seen| !cool(&seen) && seen.at <= last.at).map(|seen| seen.at).max();
        let later =
            since.iter().rev().take(in_a_row).rev().find(|seen| warm.is_none_or(|warm| seen.at > warm));
        let first = if warm.is_some_and(|warm| first.at <= warm) { later.unwrap_or(last) } else { first };
        let minutes = last.at.duration_since(first.at).as_mins();
        if minutes < APART_MIN {
            return Err(format!(
                "it takes two looks {APART_MIN} min apart at which it is cool; entries {} and {} are {minutes} min apart",
                first.entry, last.entry
            ));
        }
        let grown = last.over_air_k - first.over_air_k;
        if grown <= LEVEL_K {
            return Ok(());
        }
        Err(format!(
            "from entry {} to entry {} it has warmed by {grown:.1} K against the air",
            first.entry, last.entry
        ))
    }

    fn watched_since(&self, entry: u32) -> Result<(), String> {
        let after_s = self.alarms.iter().find(|(alarm, _)| *alarm == entry).map_or(0.0, |(_, after)| *after);
        let hours = (after_s * LONGER / 3_600.0).max(SHORTEST_WATCH_H);
        let longest = self
            .quiet
            .iter()
            .filter(|(watch, _)| self.is_since(*watch, entry))
            .map(|(_, lasted)| *lasted / 3_600.0);
        match longest.reduce(f64::max) {
            Some(lasted) if lasted >= hours => Ok(()),
            Some(lasted) => Err(format!(
                "it takes a watch on the fixture of {hours:.1} h without an alarm; the longest since lasted {lasted:.1} h"
            )),
            None => Err(format!(
                "it takes a watch on the fixture of {hours:.1} h without an alarm, and there is none since"
            )),
        }
    }
}
