//! A trace of a good cell, recorded before, under the name of a cell: by a slip, or by somebody who wants it to be good.

use crate::bench::Tested;
use crate::cells::Kind;
use crate::clock::WrongClock;
use crate::job::label;
use crate::life::{Came, Ears, Life};
use crate::step::{Eyes, Tag};
use celltriage_assessment::case::Case;
use celltriage_book::Book;
use celltriage_link::BenchCell;
use celltriage_measure::observation::Observations;
use celltriage_verdict::Fate;
use celltriage_workshop::Workshop;
use celltriage_workshop::trace_file::GivenTrace;
use jiff::tz::TimeZone;
use std::path::Path;
use std::sync::OnceLock;

/// The frames of a full test of a good cell; played once.
static FRAMES: OnceLock<Result<Vec<u8>, String>> = OnceLock::new();

impl Life<'_> {
    /// Grades a good trace under a name.
    pub(crate) fn graded(&mut self, typed: &str) -> Came {
        let fails = |error: String| ("a trace can be graded", error);
        let frames = FRAMES.get_or_init(|| self.good_frames()).clone().map_err(fails)?;
        let given =
            GivenTrace::read(Path::new("good.frames"), frames).map_err(|fault| fails(fault.to_string()))?;
        let setting = crate::job::setting(self.shop.today()).map_err(fails)?;
        let mut looks = Observations::no_signs();
        looks.assessor = Some("M. Adeyemi".to_owned());
        let good = BenchCell::find(Kind::Sound.on_bench()).map(|cell| cell.thickness_mm);
        good.iter().flatten().for_each(|point| looks.add_thickness(vec![*point; 3]));
        let case = Case::new(typed, label(), looks, setting);
        let assessed = match self.shop.grade(&case, given, &mut Ears::default()) {
            Ok(assessed) => assessed,
            Err(fault) => return self.refused(&fault),
        };
        let Some(entry) = assessed.entry() else {
            return Err(("a decision is in the book", format!("{:?}", assessed.kept)));
        };
        self.tally.graded += 1;
        let now = self.clock.true_time.get();
        self.touched = Some(typed.to_owned());
        self.may_be_assessed(typed)?;
        self.told.about(typed, entry, now);
        if assessed.assessment.verdict.fate != Fate::Reuse {
            return Ok(());
        }
        self.tally.reuse_of_a_trace += 1;
        let told = self.told.cells.get(typed).cloned().unwrap_or_default();
        if told.held.is_empty() && !told.is_shaken() {
            return Ok(());
        }
        let what = format!("{typed} is for reuse by a trace, held for {:?}", told.held);
        Err(("no reuse while anything stands", what))
    }

    /// Tests a good cell in a book of its own, on a fixture that is in order.
    fn good_frames(&self) -> Result<Vec<u8>, String> {
        let folder = tempfile::tempdir().map_err(|error| error.to_string())?;
        let book = Book::open(folder.path().join("book.sqlite")).map_err(|error| error.to_string())?;
        let clock = WrongClock::at("2026-11-27T08:00:00Z");
        let mut shop = Workshop::new(book, &clock, TimeZone::UTC);
        let test = Tested { cell: 0, tag: Tag::Own, eyes: Eyes::Careful, full: true, mishap: None };
        let job = self.job("GOOD", Kind::Sound, &test).map_err(|(_, what)| what)?;
        let assessed = shop.attend(&job, &mut Ears::default()).map_err(|fault| fault.to_string())?;
        let _of_this_test = crate::job::fixture_used();
        let entry = assessed.entry().ok_or("it is not in its book")?;
        let files = shop.export(entry.into()).map_err(|fault| fault.to_string())?;
        let frames = files.into_iter().find(|file| file.name.ends_with(".frames"));
        frames.map(|file| file.bytes).ok_or_else(|| "it left no frames".to_owned())
    }
}
