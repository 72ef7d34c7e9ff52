//! Before a cell is charged: what the book says against it, and the look and the rest voltage that it lacks.

use super::{Call, alarmed};
use crate::beside;
use crate::case::given_looks;
use crate::error::Error;
use crate::io::Io;
use crate::questions::Questions;
use crate::run_view::RunView;
use celltriage_workshop::assess::Assessed;
use celltriage_workshop::charge_permit::ChargePermit;
use celltriage_workshop::{Fault, Workshop};

impl Call<'_> {
    fn refused(&self, why: String) -> Fault {
        Fault::NotToBeCharged { cell: self.id.to_owned(), why }
    }

    /// Checks that the book says nothing against a charge, at whatever stage the cell is.
    ///
    /// # Errors
    /// What speaks against it, and a book error.
    pub(super) fn not_refused(&self, shop: &Workshop<'_>) -> Result<(), Error> {
        match shop.charge_permit(self.id, &self.nameplate)? {
            ChargePermit::Refused { why } => Err(self.refused(why).into()),
            ChargePermit::Given | ChargePermit::Open { .. } => Ok(()),
        }
    }

    /// Makes sure that a person may be told to charge the cell; what is not known is looked at and measured now.
    ///
    /// # Errors
    /// What speaks against a charge or is not known, and what the measurement may meet.
    pub(super) fn make_chargeable(&self, shop: &mut Workshop<'_>, io: &mut Io<'_>) -> Result<(), Error> {
        let why = match shop.charge_permit(self.id, &self.nameplate)? {
            ChargePermit::Given => return Ok(()),
            ChargePermit::Refused { why } => return Err(self.refused(why).into()),
            ChargePermit::Open { why } => why,
        };
        io.note(&format!(
            "before {} is charged it is looked at, and its rest voltage taken without a load: {why}",
            self.id
        ));
        let assessed = self.first_look(shop, io)?;
        match shop.charge_permit(self.id, &self.nameplate)? {
            ChargePermit::Given => {
                beside::tell_entry(&assessed.kept, shop.book().path(), io);
                Ok(())
            }
            ChargePermit::Refused { why } => Err(self.ended(&assessed, why, shop, io)?.into()),
            ChargePermit::Open { why } => {
                beside::tell_entry(&assessed.kept, shop.book().path(), io);
                Err(Fault::NotToBeChargedYet { cell: self.id.to_owned(), why }.into())
            }
        }
    }

    fn first_look(&self, shop: &mut Workshop<'_>, io: &mut Io<'_>) -> Result<Assessed, Error> {
        let given = given_looks(&self.arguments.case.looks)?;
        let known = shop.case_file(self.id)?.standing;
        let book = shop.book().path().to_owned();
        let thickness_decides = self.setting.policy.needs_thickness();
        let questions = Questions { book: &book, cell: self.id, known: &known, thickness_decides };
        let given = questions.reacts(given, io)?;
        alarmed(&given, &self.setting, io);
        let observations = questions.looks(given, &self.nameplate, io)?;
        alarmed(&observations, &self.setting, io);
        let case = self.case(observations);
        let mut view = RunView::on(io);
        let looked =
            shop.look_before_charge(&case, (&self.choice, self.simulated), &self.overrides, &mut view);
        if looked.as_ref().is_ok_and(|looked| looked.kept.entry().is_some()) {
            questions.done();
        }
        looked.map_err(|fault| {
            let no_fixture = matches!(fault, Fault::Instrument(_));
            let hint = "its rest voltage must be known before it is charged: clip it onto the fixture, then call again";
            Error::from(fault).hints(no_fixture.then_some(hint).into_iter().chain(questions.hint(io)))
        })
    }
}
