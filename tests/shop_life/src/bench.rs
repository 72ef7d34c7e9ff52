//! A cell on the fixture: looked at, tested under the tag that is typed, perhaps by a program that is killed.

use crate::cells::{Kind, name};
use crate::life::{Came, Ears, Life};
use crate::rig::Rig;
use crate::step::{Eyes, Tag};
use crate::told::{Held, Lies};
use celltriage_assessment::case::{Case, Setting};
use celltriage_instrument::choice::FixtureChoice;
use celltriage_link::{BenchCell, SimulatedLink};
use celltriage_measure::observation::{Answer, Observations, Sign};
use celltriage_measure::plan::Extent;
use celltriage_verdict::Fate;
use celltriage_workshop::job::Job;
use celltriage_workshop::measuring::Overrides;
use jiff::SignedDuration;
use std::cell::RefCell;
use std::sync::Arc;
use std::time::Duration;

/// Time in which the load must be off once its owner is gone: the silence that is allowed, and a sample.
const OFF_WITHIN: Duration = Duration::from_millis(3_100);
/// Less current than this is none: the sink's leakage and the meter's zero.
const NO_CURRENT_A: f64 = 1e-3;

thread_local! {
    /// The bench of the test under way, for a look at what is true there.
    static BENCH: RefCell<Option<SimulatedLink>> = const { RefCell::new(None) };
}

impl Life<'_> {
    /// Tests a cell under the name that is typed.
    pub(crate) fn tested(
        &mut self,
        cell: u8,
        tag: Tag,
        eyes: Eyes,
        full: bool,
        dies_after: Option<u16>,
    ) -> Came {
        let Some(kind) = self.kinds.get(&cell).copied() else { return Ok(()) };
        let typed = match tag {
            Tag::Own => name(cell),
            Tag::Of(other) => name(other),
            Tag::Small => name(cell).to_lowercase(),
        };
        self.touched = Some(typed.clone());
        let job = self.job(&typed, kind, eyes, full, dies_after)?;
        BENCH.with_borrow_mut(|bench| *bench = None);
        let result = self.shop.attend(&job, &mut Ears::default());
        self.clock.pass(if full { SignedDuration::from_hours(6) } else { SignedDuration::from_mins(3) });
        let bench = BENCH.with_borrow_mut(Option::take);
        let held = self.told.held(&typed).first().copied();
        if let (Some(held), true) = (held, bench.is_some()) {
            return Err((
                "no load on a held cell",
                format!("{typed} was put on the fixture, held for {held:?}"),
            ));
        }
        self.tally.on_fixture += u64::from(bench.is_some());
        if let Some(bench) = bench.filter(|_| dies_after.is_some()) {
            self.tally.killed += 1;
            // The bench's time goes on without a host.
            bench.pass(OFF_WITHIN);
            if let Some((_, amps)) = bench.meters().filter(|(_, amps)| amps.abs() > NO_CURRENT_A) {
                return Err(("load off within 3.1 s of its owner's death", format!("{amps} A flow")));
            }
        }
        let assessed = match result {
            Ok(assessed) => assessed,
            Err(fault) => return self.refused(&fault),
        };
        if self.told.cells.get(&typed).is_some_and(|cell| cell.lies == Lies::Gone) {
            return Err(("nothing is recorded of a cell that left", format!("{typed} was assessed")));
        }
        if self.told.cells.get(&typed).is_some_and(|cell| cell.lies == Lies::Fitted) {
            return Err(("a cell in a device is on no fixture", format!("{typed} was assessed")));
        }
        self.tally.kept_off += u64::from(assessed.by_choice);
        let fate = assessed.assessment.verdict.fate;
        if let (Fate::Reuse, Some(held)) = (fate, held) {
            return Err((
                "no reuse while anything stands",
                format!("{typed} is for reuse, held for {held:?}"),
            ));
        }
        self.tally.reuse += u64::from(fate == Fate::Reuse);
        let Some(entry) = assessed.entry() else {
            return Err(("a decision is in the book", format!("{:?}", assessed.kept)));
        };
        let now = self.clock.true_time.get();
        let told = self.told.about(&typed, entry);
        if eyes == Eyes::Alarmed {
            told.reacted = Some(now);
        }
        if assessed.is_finished() && !assessed.by_choice {
            told.unscreened = false;
            told.shaken &= !assessed.assessment.cell.observations.all_answered_no();
        }
        if assessed.assessment.cell.observations.any_found() {
            told.held.push((entry, Held::Sign));
        } else if kind == Kind::Warming && fate == Fate::Quarantine && !assessed.by_choice {
            told.held.push((entry, Held::KeptApart));
        }
        Ok(())
    }

    fn job(
        &self,
        typed: &str,
        kind: Kind,
        eyes: Eyes,
        full: bool,
        dies_after: Option<u16>,
    ) -> Result<Job, (&'static str, String)> {
        let fails = |error: String| ("a test can begin", error);
        let cell = BenchCell::find(kind.on_bench()).ok_or_else(|| fails(format!("no cell {kind}")))?;
        let cell = if full { cell.charged() } else { cell };
        let place = "DE".parse().ok();
        let setting = Setting::built_in(place, self.shop.today()).map_err(fails)?;
        let observations = looks(kind, eyes, &cell);
        let case = Case::new(typed, cell.nameplate.clone(), observations, setting);
        let seed = self.tally.steps;
        let choice = FixtureChoice::Supplied(Arc::new(move || {
            let bench = cell.on_bench(seed);
            BENCH.with_borrow_mut(|place| *place = Some(bench.clone()));
            Ok(Box::new(Rig::new(bench, dies_after)))
        }));
        let extent = if full { Extent::Full } else { Extent::Screen };
        // Whoever tests has looked at the cell that tripped last.
        let overrides = Overrides { acknowledge_trip: true, despite_stop: None };
        Ok(Job { case, choice, simulated: false, extent, overrides })
    }
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
pub(crate) fn label() -> celltriage_measure::nameplate::Nameplate {
    BenchCell::find("sound").map(|cell| cell.nameplate).unwrap_or_else(|| unreachable!("the bench has it"))
}
