//! The open points about a cell, asked one by one: answers are kept as they come, and a fate that is settled ends the asking.

use crate::error::Error;
use crate::io::Io;
use crate::spoken::spoken;
use celltriage_measure::nameplate::{Form, Nameplate};
use celltriage_measure::observation::{
    Answer, HOW_TO_MEASURE_THICKNESS, HOW_TO_TRY_FLATNESS, Observations, Sign,
};
use celltriage_verdict::KnownFinding;
use celltriage_workshop::kept_answers::KeptAnswers;
use std::path::Path;

/// The points of a cell's face at which its thickness is taken.
const POINTS: [&str; 3] = ["the middle", "one corner", "another corner"];

/// The questions of one call about one cell.
#[derive(Clone, Copy, Debug)]
pub struct Questions<'a> {
    /// The book beside which answers are kept.
    pub book: &'a Path,
    /// The cell.
    pub cell: &'a str,
    /// What is known against it: where that keeps it off the fixture, only what endangers people is asked.
    pub known: &'a [KnownFinding],
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
            looks.set(Sign::ActiveNow, self.one(Sign::ActiveNow, io)?);
        }
        if looks.answer(Sign::ActiveNow) == Answer::Yes {
            crate::danger_first::tell(io);
        }
        Ok(looks)
    }

    /// Asks the other open points, the most dangerous first.
    ///
    /// # Errors
    /// As [`Questions::reacts`].
    pub fn signs(&self, mut looks: Observations, io: &mut Io<'_>) -> Result<Observations, Error> {
        let settled = self.known.iter().any(|found| found.bars().load);
        for sign in Sign::ALL {
            // An empty answer to the first question is one: nobody has looked.
            if io.ask.is_none() || sign == Sign::ActiveNow || looks.answer(sign) != Answer::NotObserved {
                continue;
            }
            if looks.any_found() {
                if looks.answer(Sign::ActiveNow) != Answer::Yes {
                    io.note("a sign was found, which decides: the other signs are not asked");
                }
                break;
            }
            if settled {
                io.note("what is known of it decides: the other signs are not asked");
                break;
            }
            let answer = self.one(sign, io)?;
            looks.set(sign, answer);
            self.keep(&looks, io);
        }
        Ok(looks)
    }

    /// Asks for the thickness, point by point, where the label states one, none was given and somebody is there to answer.
    /// A slip of the finger is told and the point asked again.
    ///
    /// # Errors
    /// As [`Questions::signs`].
    pub fn thickness(
        &self,
        looks: &mut Observations,
        nameplate: &Nameplate,
        io: &mut Io<'_>,
    ) -> Result<(), Error> {
        let settled = looks.any_found() || self.known.iter().any(|found| found.bars().load);
        if nameplate.nominal_thickness_mm.is_none() && !settled {
            return self.flatness(looks, nameplate, io);
        }
        let asked = nameplate.nominal_thickness_mm.filter(|_| looks.thickness_mm.is_empty() && !settled);
        let Some(nominal) = asked.filter(|_| io.ask.is_some()) else { return Ok(()) };
        io.note(HOW_TO_MEASURE_THICKNESS);
        for point in POINTS {
            let question =
                format!("Thickness at {point} in mm (made: {nominal}), readings with commas [empty = none] ");
            loop {
                let line = self.ask(&question, io)?;
                if line.trim().is_empty() {
                    return Ok(());
                }
                match Observations::parse_thickness(line.trim()) {
                    Ok(readings) => {
                        looks.add_thickness(readings);
                        break;
                    }
                    Err(error) => io.note(&format!("  {error}")),
                }
            }
            self.keep(looks, io);
        }
        Ok(())
    }

    /// Asks whether a cell lies flat, where no thickness is known that it could be held against.
    fn flatness(
        &self,
        looks: &mut Observations,
        nameplate: &Nameplate,
        io: &mut Io<'_>,
    ) -> Result<(), Error> {
        let is_round = nameplate.form == Form::Cylindrical;
        if io.ask.is_none() || is_round || looks.lies_flat.is_some() {
            return Ok(());
        }
        io.note(HOW_TO_TRY_FLATNESS);
        while looks.lies_flat.is_none() {
            let line = self.ask("Does it lie flat on both faces? [y/n, empty = not tried] ", io)?;
            match spoken(&line) {
                Some(Answer::NotObserved) => return Ok(()),
                Some(answer) => looks.lies_flat = Some(answer == Answer::Yes),
                None => io.note("  y if it lies flat on both faces, n if it rocks or bulges"),
            }
        }
        self.keep(looks, io);
        Ok(())
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

    fn one(&self, sign: Sign, io: &mut Io<'_>) -> Result<Answer, Error> {
        let question = format!("{} [y/n, ? = how to look, empty = not looked] ", sign.question());
        loop {
            match spoken(&self.ask(&question, io)?) {
                Some(answer) => return Ok(answer),
                None => io.note(&format!("  {}", sign.help())),
            }
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
