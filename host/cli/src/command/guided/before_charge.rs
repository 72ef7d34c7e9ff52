//! Before a cell is charged: what the book says against it, and the look and the rest voltage that it lacks.

use super::Call;
use crate::case::{ask_for_thickness, read_looks};
use crate::command::assess::{Assessed, assess, looked_for, must_not_be_loaded, not_measured};
use crate::error::{Error, Kind};
use crate::io::Io;
use celltriage_book::Book;
use celltriage_custody::state::State;
use celltriage_measure::observation::Sign;
use celltriage_measure::plan::Extent;
use celltriage_workshop::charge_permit::{ChargePermit, permit};

/// Says that a cell is not to be charged, and what to do with it.
pub(super) fn refused(id: &str, why: &str) -> Error {
    Error::input(format!("{id} is not to be charged: {why}"))
        .hint(format!("keep it apart, away from anything that burns; its whole story: celltriage book show {id} --cell"))
        .hint("where the ground no longer holds, it is assessed anew (celltriage assess), and a person judges (celltriage judge)")
}

impl Call<'_> {
    fn permit(&self, book: &Book, io: &Io<'_>) -> Result<ChargePermit, Error> {
        Ok(permit(book, &State::read(book)?, self.id, &self.nameplate, io.now)?)
    }

    /// Sees that the book says nothing against a charge, at whatever stage the cell is.
    ///
    /// # Errors
    /// What speaks against it, and a book error.
    pub(super) fn not_refused(&self, book: &Book, io: &Io<'_>) -> Result<(), Error> {
        match self.permit(book, io)? {
            ChargePermit::Refused { why } => Err(refused(self.id, &why)),
            ChargePermit::Given | ChargePermit::Open { .. } => Ok(()),
        }
    }

    /// Sees that a person may be told to charge the cell; what is not known is looked at and measured now.
    ///
    /// # Errors
    /// What speaks against a charge or is not known, and what the measurement may meet.
    pub(super) fn make_chargeable(&self, book: &mut Book, io: &mut Io<'_>) -> Result<(), Error> {
        let why = match self.permit(book, io)? {
            ChargePermit::Given => return Ok(()),
            ChargePermit::Refused { why } => return Err(refused(self.id, &why)),
            ChargePermit::Open { why } => why,
        };
        io.note(&format!(
            "before {} is charged it is looked at, and its rest voltage taken without a load: {why}",
            self.id
        ));
        let assessed = self.first_look(book, io)?;
        match self.permit(book, io)? {
            ChargePermit::Given => {
                io.note(&format!("written as entry {} of {}", assessed.entry, book.path().display()));
                Ok(())
            }
            ChargePermit::Refused { why } => Err(self.ended(&assessed, why, book, io)?),
            ChargePermit::Open { why } => Err(Error {
                kind: Kind::Measurement,
                message: format!("{} is not to be charged yet: {why}", self.id),
                hints: vec!["check the clips, then call again".to_owned()],
            }),
        }
    }

    fn first_look(&self, book: &mut Book, io: &mut Io<'_>) -> Result<Assessed, Error> {
        let mut observations = read_looks(&self.arguments.case.looks, io)?;
        super::alarmed(&observations, &self.setting, io);
        ask_for_thickness(&mut observations, &self.nameplate, io);
        let case = self.case(observations, book, io)?;
        if let Some(why) = must_not_be_loaded(&case) {
            return not_measured(&case, &why, self.simulated, book, io);
        }
        let withheld = format!("nobody is told to charge {}", self.id);
        looked_for(&Sign::ALL, &withheld, &case.observations, self.leave.said_in)?;
        let link = self.choice.link(Some(book)).map_err(|error| {
            Error::from(error).hint("its rest voltage must be known before it is charged: clip it onto the fixture, then call again")
        })?;
        assess(&case, link, Extent::Rest, &self.leave, book, io)
    }
}
