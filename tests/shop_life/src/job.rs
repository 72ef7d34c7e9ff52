//! What is asked of the workshop where a cell is put on the fixture: the cell, the person's word, the fixture with its faults.

use crate::bench::Tested;
use crate::cells::Kind;
use crate::fixture::{Fixture, library_cell};
use crate::life::Life;
use crate::mishap::Mishap;
use crate::rig::Rig;
use crate::step::Eyes;
use celltriage_assessment::case::{Case, Setting};
use celltriage_instrument::choice::FixtureChoice;
use celltriage_link::BenchCell;
use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::observation::{Answer, Observations, Sign};
use celltriage_measure::plan::Extent;
use celltriage_simulated_board::library::LibraryCell;
use celltriage_simulated_board::options::Options;
use celltriage_simulated_board::parameters::CellParameters;
use celltriage_workshop::job::Job;
use celltriage_workshop::measuring::Overrides;
use jiff::civil::Date;
use std::cell::RefCell;
use std::sync::{Arc, OnceLock};

/// Serial number of the shop's first fixture.
const SERIAL: u64 = 17;

thread_local! {
    /// The fixture in use, for a look at what is true there.
    static FIXTURE: RefCell<Option<Fixture>> = const { RefCell::new(None) };
}

/// What is the same for every job; to read it again each time takes longer than a screen on the simulated bench.
static SETTING: OnceLock<Result<Setting, String>> = OnceLock::new();

/// Takes the fixture that was used last, if one was reached.
pub(crate) fn fixture_used() -> Option<Fixture> {
    FIXTURE.with_borrow_mut(Option::take)
}

impl Life<'_> {
    /// What is asked where a cell is tested under a name.
    pub(crate) fn job(&self, typed: &str, kind: Kind, test: &Tested) -> Result<Job, (&'static str, String)> {
        let fails = |error: String| ("a test can begin", error);
        let cell = BenchCell::find(kind.on_bench()).ok_or_else(|| fails(format!("no cell {kind}")))?;
        let observations = looks(kind, test.eyes, &cell);
        let setting = setting(self.shop.today()).map_err(fails)?;
        let case = Case::new(typed, cell.nameplate, observations, setting);
        let (cell, mut options) = self.on_bench(kind)?;
        // The two others no charger is to be set on.
        if test.full && !matches!(kind, Kind::Dead | Kind::Reversed) {
            options.initial_soc = 1.0;
        }
        options.faults.extend(test.mishap.and_then(Mishap::injection));
        let choice = reached(cell.parameters, options, test.mishap);
        let extent = if test.full { Extent::Full } else { Extent::Screen };
        // Whoever tests has looked at the cell that tripped last.
        let overrides = Overrides { acknowledge_trip: true, despite_stop: None };
        Ok(Job { case, choice, simulated: false, extent, overrides })
    }

    /// A cell of this kind on the shop's fixture as it is now.
    pub(crate) fn on_bench(&self, kind: Kind) -> Result<(LibraryCell, Options), (&'static str, String)> {
        let cell = library_cell(kind.on_bench());
        let cell = cell.ok_or_else(|| ("a test can begin", format!("no cell {kind}")))?;
        let mut options = cell.options(self.tally.steps);
        // A watch tells a real fixture from the simulated one by its serial number.
        options.serial = SERIAL + self.replaced;
        let channels = &mut options.imperfections.channels;
        let (thousandths, millivolts) = self.drift;
        channels.current_gain += f64::from(thousandths) * 1e-3;
        channels.voltage_offset_v += f64::from(millivolts) * 1e-3;
        Ok((cell, options))
    }
}

/// The door to the fixture with this on its leads.
pub(crate) fn reached(on_it: CellParameters, options: Options, mishap: Option<Mishap>) -> FixtureChoice {
    FixtureChoice::Supplied(Arc::new(move || {
        let fixture = Fixture::new(on_it.clone(), options.clone());
        FIXTURE.with_borrow_mut(|place| *place = Some(fixture.clone()));
        Ok(Box::new(Rig::new(fixture, mishap)))
    }))
}

pub(crate) fn setting(today: Date) -> Result<Setting, String> {
    let made = SETTING.get_or_init(|| Setting::built_in("DE".parse().ok(), today));
    made.clone().map(|setting| Setting { date: today, ..setting })
}

/// The rules of all places, as they are built in.
pub(crate) fn packs(today: Date) -> Result<celltriage_rules::Packs, String> {
    setting(today).map(|setting| setting.packs)
}

/// What the person says.
fn looks(kind: Kind, eyes: Eyes, cell: &BenchCell) -> Observations {
    let mut said = match eyes {
        Eyes::Hurried => return Observations::default(),
        Eyes::Careful | Eyes::Blind | Eyes::Wrong | Eyes::Alarmed => Observations::no_signs(),
    };
    match eyes {
        Eyes::Careful => {
            kind.sign().into_iter().for_each(|sign| said.set(sign, Answer::Yes));
            cell.thickness_mm.iter().for_each(|point| said.add_thickness(vec![*point; 3]));
        }
        Eyes::Wrong => said.set(Sign::Deformed, Answer::Yes),
        Eyes::Alarmed => said.set(Sign::ActiveNow, Answer::Yes),
        Eyes::Blind | Eyes::Hurried => {}
    }
    said.assessor = Some("M. Adeyemi".to_owned());
    said
}

/// The label of a sound cell, for questions about a charge.
pub(crate) fn label() -> Nameplate {
    static LABEL: OnceLock<Nameplate> = OnceLock::new();
    let sound = || BenchCell::find("sound").map(|cell| cell.nameplate);
    LABEL.get_or_init(|| sound().unwrap_or_else(|| unreachable!("the bench has it"))).clone()
}
