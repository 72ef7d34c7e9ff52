//! `demo`: the school-tablet workshop of Port Ellery assesses its cells of the day on the simulated bench.
//!
//! Everything in here is invented: the town, the workshop, the cells. The measuring is not: each cell runs through the
//! fixture's firmware, the protocol's bytes, the estimators, the policy and the book.

use super::fixture::Quiet;
use super::known_first;
use super::shown::{Shown, show};
use crate::arguments::DemoArguments;
use crate::beside;
use crate::clock_check::{open_to_write, said};
use crate::desk::line;
use crate::error::{EXIT_DONE, Error};
use crate::io::{Io, fitted};
use crate::run_view::RunView;
use celltriage_assessment::case::{Case, Setting, label_file};
use celltriage_custody::PackRules;
use celltriage_custody::event::LifetimeRecord;
use celltriage_document::phrase::Phrase;
use celltriage_instrument::calibration::{Quantity, last_stored};
use celltriage_instrument::choice::FixtureChoice;
use celltriage_instrument::connected::name_of;
use celltriage_instrument::standing::Standing;
use celltriage_instrument::two_point::Reference;
use celltriage_link::{BenchCell, SIMULATED_SERIAL};
use celltriage_measure::observation::{Answer, Observations, Sign};
use celltriage_measure::plan::Extent;
use celltriage_report::day_table::{Row, day_table};
use celltriage_verdict::Source;
use celltriage_workshop::Workshop;

use celltriage_workshop::assess::Assessed;
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::fixture::calibration::Terms;
use celltriage_workshop::job::Job;
use celltriage_workshop::measuring::Overrides;
use celltriage_workshop::signer::Signer;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

/// One cell of the day.
struct Visit {
    id: &'static str,
    kind: &'static str,
    story: &'static str,
    extent: Extent,
    sign: Option<Sign>,
    clip_slips_after: Option<Duration>,
}

const VISITS: [Visit; 9] = [
    Visit {
        id: "PE-0401",
        kind: "sound",
        story: "from a school tablet with a cracked glass, two years old; charged full, tested over lunch",
        extent: Extent::Full,
        sign: None,
        clip_slips_after: None,
    },
    Visit {
        id: "PE-0402",
        kind: "faded",
        story: "from a handheld scanner that dies before the shift ends; charged full, tested overnight",
        extent: Extent::Full,
        sign: None,
        clip_slips_after: None,
    },
    Visit {
        id: "PE-0403",
        kind: "high-resistance",
        story: "from a tablet that switches off when its camera starts; quick screen",
        extent: Extent::Screen,
        sign: None,
        clip_slips_after: None,
    },
    Visit {
        id: "PE-0404",
        kind: "swollen",
        story: "has lifted the screen of a tablet that lay on a sunny sill; not put on the fixture",
        extent: Extent::Screen,
        sign: Some(Sign::Swollen),
        clip_slips_after: None,
    },
    Visit {
        id: "PE-0405",
        kind: "self-warming",
        story: "from a scanner that was warm in its drawer; quick screen",
        extent: Extent::Screen,
        sign: None,
        clip_slips_after: None,
    },
    Visit {
        id: "PE-0406",
        kind: "sound",
        story: "looks like the first one, but a clip slips off forty minutes into the discharge",
        extent: Extent::Full,
        sign: None,
        clip_slips_after: Some(Duration::from_secs(40 * 60)),
    },
    Visit {
        id: "PE-0407",
        kind: "deeply-discharged",
        story: "lay in a cupboard for three school years",
        extent: Extent::Screen,
        sign: None,
        clip_slips_after: None,
    },
    Visit {
        id: "PE-0408",
        kind: "sound",
        story: "a spare of unknown worth; quick screen only, nobody has five hours",
        extent: Extent::Screen,
        sign: None,
        clip_slips_after: None,
    },
    Visit {
        id: "PE-0409",
        kind: "tripped-protection",
        story: "from a tablet that fell silent in the middle of a lesson; its connector is as good as dead",
        extent: Extent::Screen,
        sign: None,
        clip_slips_after: None,
    },
];

/// What the fixture is calibrated against: quantity, limits of the meter (percent of its reading, and V, A or K besides),
/// unit in which the line of the demo tells it, and how many of it are one V, A or K.
const METERS: [(Quantity, f64, f64, &str, f64); 3] = [
    (Quantity::Voltage, 0.05, 0.2e-3, "mV", 1e3),
    (Quantity::Current, 0.2, 0.5e-3, "mA", 1e3),
    (Quantity::Thermometers, 0.0, 0.1, "K", 1.0),
];

/// Runs `demo`.
///
/// # Errors
/// An input error where the folder cannot be written, a book error for the book.
pub fn run(arguments: &DemoArguments, io: &mut Io<'_>) -> Result<u8, Error> {
    let unwritable = |what: &Path, error: std::io::Error| {
        Error::input(format!("cannot write {}: {error}", what.display()))
    };
    std::fs::create_dir_all(&arguments.out).map_err(|error| unwritable(&arguments.out, error))?;
    let book_path = arguments.out.join("book.sqlite");
    let book = open_to_write(&book_path, false, io)?;
    let setting = crate::case::read_setting(&arguments.setting, io)?;
    io.say("The workshop of Port Ellery refurbishes school tablets and handheld scanners. All of it is invented;");
    io.say(
        "the fixture is simulated, its firmware, protocol, estimates, policy and book are the real ones.\n",
    );

    let clock = HeldClock::at(io.now);
    let mut shop = Workshop::new(book, &clock, io.zone.clone());
    let calibrated = calibrated(&mut shop, io)?;
    io.say(&fitted(&calibrated, io.width));
    let mut decided: Vec<Assessed> = Vec::new();
    for (index, visit) in VISITS.iter().enumerate() {
        io.note(&format!("[{} of {}] cell {}", index + 1, VISITS.len(), visit.id));
        let seed = arguments.seed.wrapping_mul(1_000).wrapping_add(index as u64);
        let assessed = attend(visit, seed, &setting, &mut shop, io)?;
        let assessment = &assessed.assessment;
        let file = arguments.out.join(format!("{}.json", visit.id));
        let json = assessment.to_json().map_err(|error| Error::input(error.to_string()))?;
        std::fs::write(&file, json).map_err(|error| unwritable(&file, error))?;
        io.say(&format!("\ncell {}: {}", visit.id, visit.story));
        show(assessment, Shown { kept: Some(&assessed.kept), ..Shown::default() }, io)?;
        decided.push(assessed);
    }

    io.say("");
    let rows: Vec<Row<'_>> = decided.iter().map(|one| Row::Decided(&one.assessment)).collect();
    io.show(&day_table(Phrase::DayTitle, &rows));
    let recorded = life_recorded(&setting, &mut shop, io)?;
    io.say(&format!("\nthe tablet is back: {recorded}"));
    io.say(&format!("\nbook and one JSON file per cell: {}", arguments.out.display()));
    let first = decided.iter().find_map(Assessed::entry).unwrap_or(1);
    io.say(&format!("look closer:  celltriage book --book {} show entry:{first}", book_path.display()));
    Ok(decided
        .iter()
        .fold(EXIT_DONE, |code, assessed| code.max(beside::exit_code(&assessed.kept, EXIT_DONE))))
}

/// Calibrates the fixture as its owner would, with the simulated supply and meters, and says what that brought; a
/// calibration that the book knows from an earlier day of the demo stays in use.
fn calibrated(workshop: &mut Workshop<'_>, io: &mut Io<'_>) -> Result<String, Error> {
    let name = name_of(SIMULATED_SERIAL);
    if let Some((entry, record)) = Standing::read(workshop.book(), &name)?.calibrations.last() {
        return Ok(format!("{name} was calibrated on {} (entry {entry}).", record.on));
    }
    let mut brought = Vec::new();
    let mut entries = Vec::new();
    for (quantity, of_reading_percent, plus, unit, scale) in METERS {
        let reference = Reference {
            name: "the workshop's meters, certificates of March".to_owned(),
            of_reading_percent,
            plus,
        };
        let terms = Terms::new(quantity, "second bench, Port Ellery".to_owned(), reference, 365)?;
        let supply = FixtureChoice::bench(None, Some("supply"), 1);
        let (record, entry) = workshop.calibrate_on_bench(terms, &supply, &mut Quiet { io })?;
        entries.push(entry.number);
        // Both thermometers have one point each, voltage and current two: the higher one tells more.
        let point =
            if quantity == Quantity::Thermometers { record.points.first() } else { record.points.last() };
        brought.extend(point.map(|point| {
            format!("{} {:+.2} {unit}", quantity.word(), (point.reading - point.reference) * scale)
        }));
    }
    let (first, last) = (entries.first().copied().unwrap_or(0), entries.last().copied().unwrap_or(0));
    Ok(format!(
        "{name} was calibrated on {} against the workshop's meters (entries {first} to {last}); it had been off: {}.",
        workshop.today(),
        brought.join(", ")
    ))
}

/// Has one cell looked at, measured, judged and recorded.
fn attend(
    visit: &Visit,
    seed: u64,
    setting: &Setting,
    shop: &mut Workshop<'_>,
    io: &mut Io<'_>,
) -> Result<Assessed, Error> {
    known_first::told_of(shop.book(), visit.id, true, io)?;
    let cell = BenchCell::find(visit.kind)
        .ok_or_else(|| Error::input(format!("the simulated bench has no cell `{}`", visit.kind)))?;
    let mut observations = Observations::no_signs();
    if let Some(sign) = visit.sign {
        observations.set(sign, Answer::Yes);
    }
    observations.thickness_mm.clone_from(&cell.thickness_mm);
    observations.assessor = Some("second bench, Port Ellery".to_owned());
    let label = label_file(cell.nameplate.to_toml());
    let case = Case::new(visit.id, cell.nameplate.clone(), observations, setting.clone());
    let case = Case { files: vec![label], ..case };
    let cell = if visit.extent == Extent::Full { cell.charged() } else { cell };
    let cell = cell.on_calibrated_fixture(last_stored(shop.book(), SIMULATED_SERIAL)?);
    let slips = visit.clip_slips_after;
    let choice = FixtureChoice::Supplied(Arc::new(move || {
        Ok(match slips {
            Some(after) => Box::new(cell.on_bench_with_slipping_clip(seed, after)),
            None => Box::new(cell.on_bench(seed)),
        })
    }));
    let job = Job { case, choice, simulated: true, extent: visit.extent, overrides: Overrides::default() };
    Ok(shop.attend(&job, &mut RunView::on(io))?)
}

/// Writes down what its device's own gauge showed of the day's first cell; its next decision names it.
fn life_recorded(setting: &Setting, shop: &mut Workshop<'_>, io: &Io<'_>) -> Result<String, Error> {
    let record = LifetimeRecord {
        device: Some("school tablet".to_owned()),
        job: Some("118".to_owned()),
        cycles: Some(214),
        health_percent: Some(91.0),
        ..LifetimeRecord::of(VISITS[0].id, Source::Gauge)
    };
    let signer = Signer { by: "second bench, Port Ellery".to_owned(), on: None, clock: said(io) };
    Ok(line(&shop.record_lifetime(&signer, &PackRules::new(setting.packs.clone()), record)?))
}
