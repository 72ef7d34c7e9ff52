//! Cells that end below 2.6 V, assessed full on the simulated bench down to the end of discharge on their labels.

use celltriage_assessment::case::{Case, Setting};
use celltriage_book::Book;
use celltriage_instrument::choice::FixtureChoice;
use celltriage_link::{Attendant, RunEvent};
use celltriage_measure::estimate::Quantity;
use celltriage_measure::nameplate::{Chemistry, Nameplate};
use celltriage_measure::observation::Observations;
use celltriage_measure::plan::{Extent, PlanError};
use celltriage_protocol::event::{Event, Outcome, StepEnd};
use celltriage_simulated_board::library::{self, LibraryCell};
use celltriage_verdict::Fate;
use celltriage_workshop::assess::Assessed;
use celltriage_workshop::clock::HeldClock;
use celltriage_workshop::event::WorkEvent;
use celltriage_workshop::job::Job;
use celltriage_workshop::measuring::Overrides;
use celltriage_workshop::{Fault, Workshop};
use jiff::tz::TimeZone;

/// Remembers how the discharge ended, and how low the cell was told to be.
#[derive(Default)]
struct Ends {
    steps: Vec<StepEnd>,
    outcome: Option<Outcome>,
    lowest_uv: i32,
}

impl Attendant<WorkEvent> for Ends {
    fn sees(&mut self, event: &WorkEvent) {
        match event {
            WorkEvent::Run(RunEvent::Fixture(Event::StepEnded { cause, .. })) => self.steps.push(*cause),
            WorkEvent::Run(RunEvent::Fixture(Event::PlanEnded { outcome, .. })) => {
                self.outcome = Some(*outcome)
            }
            WorkEvent::Run(RunEvent::Fixture(Event::Samples(block))) => {
                let lowest = block.samples().map(|sample| sample.voltage.get()).min();
                self.lowest_uv = self.lowest_uv.min(lowest.unwrap_or(i32::MAX));
            }
            _ => {}
        }
    }

    fn stop_wanted(&self) -> bool {
        false
    }
}

/// Assesses a cell of the bench under a label that may differ from its own.
fn assess(kind: &str, change: impl Fn(&mut Nameplate), watch: &mut Ends) -> Result<Assessed, Fault> {
    let folder = tempfile::tempdir().expect("a folder");
    let clock = HeldClock::at("2026-11-25T12:00:00Z".parse().expect("a timestamp"));
    let book = Book::open(folder.path().join("book.sqlite"))?;
    let mut shop = Workshop::new(book, &clock, TimeZone::UTC);
    let choice = FixtureChoice::cell(None, Some(kind), 1)?;
    let mut label = choice.bench_cell().expect("it is simulated").nameplate.clone();
    change(&mut label);
    let setting = Setting::built_in(None, shop.today()).expect("the built-in policy and rules");
    let case = Case::new("PE-0421", label, Observations::no_signs(), setting);
    let job = Job { case, choice, simulated: true, extent: Extent::Full, overrides: Overrides::default() };
    shop.attend(&job, watch)
}

#[test]
fn cells_that_end_below_the_strictest_floor_are_discharged_to_the_end_on_their_label() {
    type Cell = fn() -> LibraryCell;
    for (kind, cell) in
        [("cylindrical", library::cylindrical as Cell), ("iron-phosphate", library::iron_phosphate as Cell)]
    {
        let mut ends = Ends { lowest_uv: i32::MAX, ..Ends::default() };
        let assessed = assess(kind, |_| (), &mut ends).unwrap_or_else(|fault| panic!("{kind}: {fault}"));
        let (truth, end_v) = (cell(), cell().parameters.tables().end_of_discharge_v);
        assert_eq!(ends.outcome, Some(Outcome::Complete), "{kind}");
        assert!(ends.steps.contains(&StepEnd::Floor), "{kind}: {:?}", ends.steps);
        let lowest_v = f64::from(ends.lowest_uv) * 1e-6;
        assert!((lowest_v - end_v).abs() < 0.01, "{kind}: down to {lowest_v} V");
        let capacity = assessed.assessment.estimates.get(&Quantity::Capacity);
        let capacity =
            capacity.unwrap_or_else(|| panic!("{kind}: {:?}", assessed.assessment.conditions.not_estimated));
        let true_ah = truth.parameters.tables().capacity_ah;
        println!(
            "{kind}: {:.4} ± {:.4} Ah, true {true_ah:.4} Ah",
            capacity.value,
            2.0 * capacity.standard_uncertainty
        );
        assert!((capacity.value / true_ah - 1.0).abs() < 0.01, "{kind}: {} of {true_ah} Ah", capacity.value);
        let error = (capacity.value - true_ah).abs();
        assert!(error < 2.0 * capacity.standard_uncertainty, "{kind}: {} of {true_ah} Ah", capacity.value);
        let verdict = &assessed.assessment.verdict;
        for reason in &verdict.reasons {
            println!("{kind}: {} {:?}: {}", reason.criterion, reason.finding, reason.text);
        }
        assert_eq!(verdict.fate, Fate::Reuse, "{kind}");
    }
}

#[test]
fn a_label_below_its_chemistry_is_refused_before_anything_is_sent() {
    let refused = |kind: &str, change: &dyn Fn(&mut Nameplate)| {
        let mut ends = Ends::default();
        let fault = assess(kind, change, &mut ends).expect_err("refused");
        assert_eq!((ends.outcome, ends.steps.len()), (None, 0), "nothing ran");
        fault
    };
    let too_low = refused("cylindrical", &|label| label.end_of_discharge_v = 2.4);
    assert!(matches!(too_low, Fault::Plan(PlanError::FloorTooLow { .. })), "{too_low}");
    let not_told = refused("cylindrical", &|label| label.chemistry = Chemistry::LithiumIon);
    assert!(matches!(not_told, Fault::Plan(PlanError::FloorTooLow { .. })), "{not_told}");
    let no_phosphate = refused("iron-phosphate", &|label| label.charge_limit_v = 3.9);
    assert!(matches!(no_phosphate, Fault::Plan(PlanError::NoPhosphate { .. })), "{no_phosphate}");
    let assumed = refused("iron-phosphate", &|label| {
        (label.end_of_discharge_v, label.end_of_discharge_assumed) = (2.5, true);
    });
    assert!(matches!(assumed, Fault::Plan(PlanError::FloorNotTold { .. })), "{assumed}");
}
