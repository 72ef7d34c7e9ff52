//! The open points about a cell, asked one by one: answers are kept as they come, `b` goes back, and a fate that is settled ends the
//! asking.
//!
//! | file | what |
//! |---|---|
//! | `reply.rs` | a typed line: back, nothing, or text |
//! | `signs.rs` | the signs of the checklist, with all of them on one screen and one key for none |
//! | `thickness.rs` | thickness, or whether the cell lies flat |

mod reply;
mod signs;
mod thickness;

pub use reply::Reply;

use crate::error::Error;
use crate::io::Io;
use crate::spoken::spoken;
use celltriage_measure::nameplate::Nameplate;
use celltriage_measure::observation::{Answer, Observations, Sign};
use celltriage_verdict::KnownFinding;
use celltriage_workshop::kept_answers::KeptAnswers;
use std::path::Path;

/// The questions of one call about one cell.
#[derive(Clone, Copy, Debug)]
pub struct Questions<'a> {
    /// The book beside which answers are kept.
    pub book: &'a Path,
    /// The cell.
    pub cell: &'a str,
    /// What is known against it: where that keeps it off the fixture, only what endangers people is asked.
    pub known: &'a [KnownFinding],
    /// Whether the policy grades no flat cell for reuse without a thickness.
    pub thickness_decides: bool,
}

impl Questions<'_> {
    /// Asks whether the cell is reacting, before anything else is read or asked; what an earlier call has asked is offered.
    ///
    /// # Errors
    /// The input has ended: what was answered is kept.
    pub fn reacts(&self, given: Observations, io: &mut Io<'_>) -> Result<Observations, Error> {
        let mut looks = if given.any_found() { given } else { self.taken_up(given, io)? };
        let open = looks.answer(Sign::ActiveNow) == Answer::NotObserved && !looks.any_found();
        if open && io.ask.is_some() {
            looks.set(Sign::ActiveNow, self.whether_it_reacts(io)?);
        }
        if looks.answer(Sign::ActiveNow) == Answer::Yes {
            crate::danger_first::tell(io);
        }
        Ok(looks)
    }

    /// Asks the other open signs, the most dangerous first, and then the thickness; `b` goes back over both.
    ///
    /// # Errors
    /// As [`Questions::reacts`].
    pub fn looks(
        &self,
        mut looks: Observations,
        nameplate: &Nameplate,
        io: &mut Io<'_>,
    ) -> Result<Observations, Error> {
        if io.ask.is_none() {
            return Ok(looks);
        }
        let answered = |sign: &Sign| looks.answer(*sign) != Answer::NotObserved;
        // An empty answer to the first question is one: nobody has looked.
        let open = Sign::ALL.into_iter().filter(|sign| *sign != Sign::ActiveNow && !answered(sign));
        let open: Vec<Sign> = open.collect();
        let (mut from, mut told) = (0, false);
        loop {
            self.signs(&open, from, &mut looks, io)?;
            if self.thickness(&mut looks, nameplate, std::mem::replace(&mut told, true), io)? {
                return Ok(looks);
            }
            match open.len().checked_sub(1) {
                Some(last) => from = last,
                None => io.note("  this is the first question"),
            }
            for sign in open.iter().skip(from) {
                looks.signs.remove(sign);
            }
        }
    }

    /// Returns whether the fate is settled: nothing that is still to be asked would change it.
    fn is_settled(&self, looks: &Observations) -> bool {
        looks.any_found() || self.known.iter().any(|found| found.bars().load)
    }

    /// Returns what to add to an error after which the call has not come to its end.
    pub fn hint(&self, io: &Io<'_>) -> Option<&'static str> {
        let kept = KeptAnswers::of(self.book, self.cell, io.now);
        kept.map(|_| "your answers are kept: the same call offers them again")
    }

    /// Forgets the answers: a decision holds them.
    pub fn done(&self) {
        KeptAnswers::forget(self.book, self.cell);
    }

    /// Offers what an earlier call was told.
    fn taken_up(&self, given: Observations, io: &mut Io<'_>) -> Result<Observations, Error> {
        let Some(kept) = KeptAnswers::of(self.book, self.cell, io.now).filter(|_| io.ask.is_some()) else {
            return Ok(given);
        };
        let at = kept.at.to_zoned_datetime(io.zone.clone()).strftime("%H:%M").to_string();
        let points = kept.answers.thickness_mm.len();
        let question = format!(
            "Answers of {at} about {} are kept: {} of {} signs, {points} thicknesses. Take them? [Y/n] ",
            self.cell,
            kept.signs(),
            Sign::ALL.len()
        );
        match spoken(&self.ask(&question, io)?) {
            Some(Answer::No) => {
                self.done();
                Ok(given)
            }
            // What is said now wins.
            _ => Ok(kept.answers.overlaid(given)),
        }
    }

    fn ask(&self, question: &str, io: &mut Io<'_>) -> Result<String, Error> {
        io.ask.as_mut().and_then(|ask| ask(question)).ok_or_else(|| {
            let text =
                format!("the questions about {} were ended; nothing was measured or written", self.cell);
            let hint =
                self.hint(io).unwrap_or("call again, or give the answers as options: --sign, --no-signs");
            Error::input(text).hint(hint)
        })
    }

    /// A file that cannot be written is told once, by its absence: the next call asks again.
    fn keep(&self, looks: &Observations, io: &Io<'_>) {
        let kept = KeptAnswers { cell: self.cell.to_owned(), at: io.now, answers: looks.clone() };
        let _the_answers_are_only_convenience = kept.keep(self.book);
    }
}
