//! `rules`: which places are known, what their packs say and how sure that is, what changes between two days, whether
//! an own pack is well formed, and the cautions for one thing to be done with one kind of cell.

#[cfg(test)]
mod tests;

use super::in_json;
use crate::choice::{ACTIONS, PRESENTS, one_of, place_named};
use crate::error::{EXIT_DONE, Error, read_text};
use crate::io::Io;
use celltriage_report::cautions::cautions_page;
use celltriage_report::rules_page::{changes_page, facts_page, origin, packs_page};
use celltriage_rules::{Action, Fact, Pack, PackOrigin, Packs, Presents, Seen, cautions_for};
use celltriage_written::Faults;
use clap::{Args, Subcommand};
use jiff::civil::Date;
use serde_json::json;
use std::path::{Path, PathBuf};

/// Options of `rules`.
#[derive(Debug, Args)]
pub struct RulesArguments {
    /// Folder with your own rule packs, laid over the built-in ones (see host/RULES.md).
    #[arg(long, value_name = "FOLDER", env = "CELLTRIAGE_RULES", global = true)]
    pub rules: Option<PathBuf>,
    /// What to do with the rules.
    #[command(subcommand)]
    pub action: RulesAction,
}

/// What to do with the rules.
#[derive(Debug, Subcommand)]
pub enum RulesAction {
    /// The places that are known, with how much is known of each.
    List,
    /// Every fact that holds in a place, with source, how it was seen, and doubts.
    Show {
        /// The place as ISO 3166 code (`US-CA`), or a layer by its name (`air`, `adr`), or `*` for everywhere.
        place: String,
        /// The day, e.g. `2026-12-09`; today if not given.
        #[arg(long, value_name = "DAY")]
        date: Option<Date>,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
    /// What changes in a place between two days.
    Diff {
        /// The place as ISO 3166 code, or a layer by its name.
        place: String,
        /// The earlier day.
        first: Date,
        /// The later day.
        second: Date,
    },
    /// Check your own pack: every mistake in its form, with its place in the file.
    Check {
        /// The pack.
        file: PathBuf,
    },
    /// What to heed before you touch, move, store, ship, charge or discharge a cell that looks like this.
    Cautions {
        /// Where you are, as ISO 3166 code; none = general cautions only; unsaid, as set (see `celltriage settings`).
        #[arg(id = "setting_place", long = "place", value_name = "CODE")]
        place: Option<String>,
        /// How the cell presents itself.
        #[arg(long, value_parser = one_of(&PRESENTS))]
        condition: Presents,
        /// What you want to do with it.
        #[arg(long, value_parser = one_of(&ACTIONS))]
        action: Action,
        /// The day; today if not given.
        #[arg(long, value_name = "DAY")]
        date: Option<Date>,
        /// As JSON.
        #[arg(long)]
        json: bool,
    },
}

/// Runs `rules`.
///
/// # Errors
/// An input error for a place, file or folder that cannot be used.
pub fn run(arguments: &RulesArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    if let RulesAction::Check { file } = &arguments.action {
        return check(file, io);
    }
    let packs = read_packs(arguments.rules.as_deref())?;
    let today = io.today();
    match &arguments.action {
        RulesAction::List => {
            io.show_in_screens(&packs_page(&packs, today), 0);
            io.note("`celltriage rules show PLACE` tells each fact with its source and its doubts");
        }
        RulesAction::Show { place, date, json } => {
            let date = date.unwrap_or(today);
            let layers = asked_for(place, &packs)?;
            match json {
                true => io.say(&as_json(place, &layers, date)?),
                false => {
                    io.show_in_screens(&facts_page(&layers, date), 0);
                }
            }
            if let Some(missing) = missing(place, &packs) {
                io.note(&missing);
            }
        }
        RulesAction::Diff { place, first, second } => {
            if second < first {
                return Err(
                    Error::input(format!("{second} lies before {first}")).hint("give the earlier day first")
                );
            }
            io.show_in_screens(&changes_page(&asked_for(place, &packs)?, *first, *second), 0);
        }
        RulesAction::Cautions { place, condition, action, date, json } => {
            let place = place_named(place.as_deref())?;
            let found = cautions_for(*condition, *action, place.as_ref(), date.unwrap_or(today), &packs);
            if *condition == Presents::ActiveNow {
                // The page itself begins with what to do: the bell is for who does not look at it.
                io.ring();
            }
            match json {
                true => io.say(&in_json(&found)?),
                false => io.show(&cautions_page(*condition, *action, place.as_ref(), &found)),
            }
        }
        RulesAction::Check { .. } => {}
    }
    Ok(EXIT_DONE)
}

/// Reads the built-in packs and those of a folder.
///
/// # Errors
/// An input error with every mistake in every file.
pub fn read_packs(folder: Option<&Path>) -> Result<Packs, Error> {
    Packs::with_folder(folder).map_err(|errors| refused(&errors))
}

fn refused(errors: &Faults) -> Error {
    let told = match errors.0.len() {
        1 => errors.to_string(),
        count => format!("{count} mistakes in rule packs\n{errors}"),
    };
    Error::input(told)
        .hint("host/RULES.md tells the form of a pack; `celltriage rules check FILE` checks one")
}

fn asked_for<'p>(name: &str, packs: &'p Packs) -> Result<Vec<&'p Pack>, Error> {
    packs.named(name).map_err(|error| Error::input(error.to_string()))
}

/// Says so where a place has no pack of its own.
fn missing(name: &str, packs: &Packs) -> Option<String> {
    let place = packs.without_own_pack(name)?;
    Some(format!("no rules of {place} itself are known here: ask its waste authority and its fire authority"))
}

fn as_json(name: &str, layers: &[&Pack], date: Date) -> Result<String, Error> {
    let layers: Vec<_> = layers
        .iter()
        .map(|pack| {
            let facts: Vec<_> = pack
                .rules
                .iter()
                .filter(|rule| rule.holds_on(date))
                .map(|rule| {
                    let mut fact = json!(Fact::of(pack, rule, date));
                    fact["count"] = json!(rule.count);
                    fact["label"] = json!(rule.label);
                    fact["blocks"] = json!(rule.blocks);
                    fact["paper"] = json!(rule.paper);
                    fact["codes"] = json!(rule.codes);
                    fact["signs"] = json!(rule.signs);
                    fact["proposes"] = json!(rule.proposes);
                    fact
                })
                .collect();
            json!({
                "name": pack.name(), "title": pack.title, "version": pack.version,
                "checked_on": pack.checked_on, "review_by": pack.review_by, "authority": pack.authority,
                "origin": origin(pack).said(), "facts": facts,
            })
        })
        .collect();
    in_json(&json!({ "schema": "celltriage.rules-shown/1", "place": name, "date": date, "layers": layers }))
}

fn check(file: &Path, io: &mut Io<'_>) -> Result<u8, Error> {
    let text = read_text(file, "rule pack")?;
    let mut packs = Packs::built_in().map_err(|errors| refused(&errors))?;
    packs.add_own(&file.display().to_string(), &text).map_err(|errors| refused(&errors))?;
    packs.check_conflicts(file.parent()).map_err(|errors| refused(&errors))?;
    let own = packs.all().iter().find(|pack| matches!(pack.origin, PackOrigin::Own { .. }));
    if let Some(pack) = own {
        let count = pack.rules.len();
        let from_memory = pack.rules.iter().filter(|rule| rule.seen == Seen::Memory).count();
        let over = match &pack.origin {
            PackOrigin::Own { replaces: true, .. } => "replaces the built-in pack",
            _ => "is laid over what is built in",
        };
        io.say(&format!(
            "{}: {count} facts for {}, {from_memory} of them from memory; it {over}",
            file.display(),
            pack.name()
        ));
        io.say("The form is right. Whether the facts are, only the cited texts can tell.");
    }
    Ok(EXIT_DONE)
}
