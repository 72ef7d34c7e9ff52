//! What has happened although the rules refuse it, written down as it was, and what put it right.

use crate::fault::Result;
use crate::leaving::Thing;
use crate::repacking::{NewPlace, Repack};
use crate::shipments::with_the_only_code;
use crate::shop::Workshop;
use crate::signer::{Entered, Signer};
use crate::trial::{ToFit, fitted};
use celltriage_custody::check::broken_rules;
use celltriage_custody::circumstances::Circumstances;
use celltriage_custody::event::{
    CellPlaced, CellTakenOut, Departure, Event, HandedOver, Irregularity, Named, Remedy, SCHEMA, Signed,
    TakenOutOfDevice,
};
use celltriage_custody::refusal_of_irregular::RefusalOfIrregular;
use celltriage_custody::state::Irregular;
use celltriage_custody::{PackRules, Refusal, Scope, State};
use jiff::civil::Date;

/// What has happened.
#[derive(Clone, Debug)]
pub enum Happened {
    /// A cell lies in a container.
    Placed(CellPlaced),
    /// A cell was taken out of its container.
    TakenOut(CellTakenOut),
    /// A cell was fitted into a device.
    Fitted(ToFit),
    /// A cell was taken out of its device.
    OutOfDevice(TakenOutOfDevice),
    /// A shipment left.
    HandedOver(HandedOver),
    /// A cell or a container left without a shipment.
    Left(Thing, Departure),
    /// A container was moved.
    Moved(NewPlace),
    /// Cells went from one container into another, or out.
    Repacked(Repack),
}

/// Something irregular that no event says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Remark {
    /// What it is about.
    pub about: Named,
    /// Its name.
    pub name: String,
    /// What has happened.
    pub happened: String,
    /// The rule that it breaks, in a person's words.
    pub breaks: String,
    /// What is done about it.
    pub action: String,
}

impl Happened {
    fn names(&self) -> Vec<&str> {
        match self {
            Self::Placed(placed) => vec![&placed.cell, &placed.container],
            Self::TakenOut(taken) => vec![&taken.cell],
            Self::Fitted(new) => vec![&new.cell],
            Self::OutOfDevice(taken) => vec![&taken.cell],
            Self::HandedOver(handed) => vec![&handed.shipment],
            Self::Left(thing, _) => vec![thing.name()],
            Self::Moved(new) => vec![&new.container],
            Self::Repacked(new) => new.names(),
        }
    }

    const fn about(&self) -> Named {
        match self {
            Self::HandedOver(_) => Named::Shipment,
            Self::Left(Thing::Container(_), _) | Self::Moved(_) | Self::Repacked(_) => Named::Container,
            _ => Named::Cell,
        }
    }

    fn event(&self, state: &State, on: Date, circumstances: &Circumstances<'_>) -> Result<Event, Refusal> {
        Ok(match self {
            Self::Placed(placed) => Event::CellPlaced(placed.clone()),
            Self::TakenOut(taken) => Event::CellTakenOut(taken.clone()),
            Self::Fitted(new) => fitted(state, new),
            Self::OutOfDevice(taken) => Event::TakenOutOfDevice(taken.clone()),
            Self::HandedOver(handed) => with_the_only_code(state, handed, on, circumstances),
            Self::Left(thing, departure) => thing.leaves(state, departure),
            Self::Moved(new) => new.event(state)?,
            Self::Repacked(new) => new.event(state),
        })
    }
}

impl Workshop<'_> {
    /// Writes down what has happened although the rules refuse it, with the rules that it breaks and what is done about it. It stands
    /// open until [`Workshop::put_right`].
    ///
    /// # Errors
    /// As [`Workshop::enter`]; what no rule refuses is not irregular.
    pub fn write_as_it_was(
        &mut self,
        signer: &Signer,
        rules: &PackRules,
        happened: &Happened,
        action: &str,
    ) -> Result<Entered> {
        let on = self.day_of(signer);
        self.enter(signer, rules, Scope::Names(&happened.names()), |state, circumstances| {
            let event = happened.event(state, on, circumstances)?;
            let signed = Signed { schema: SCHEMA, by: signer.by.clone(), on, event };
            let breaks = broken_rules(state, &signed, circumstances)?;
            Ok(Event::Irregularity(Box::new(Irregularity {
                about: happened.about(),
                name: signed.event.subject().to_owned(),
                event: Some(Box::new(signed.event)),
                happened: None,
                breaks,
                action: action.to_owned(),
            })))
        })
    }

    /// Writes down something irregular that no event says, in a person's words.
    ///
    /// # Errors
    /// As [`Workshop::enter`].
    pub fn remark_irregular(
        &mut self,
        signer: &Signer,
        rules: &PackRules,
        remark: &Remark,
    ) -> Result<Entered> {
        let Remark { about, name, happened, breaks, action } = remark.clone();
        let (event, happened, breaks) = (None, Some(happened), vec![breaks]);
        let told = Irregularity { about, name, event, happened, breaks, action };
        self.enter_event(signer, rules, &Event::Irregularity(Box::new(told)))
    }

    /// Writes down what put an irregularity right.
    ///
    /// # Errors
    /// As [`Workshop::enter`]; there is no open irregularity of this entry.
    pub fn put_right(
        &mut self,
        signer: &Signer,
        rules: &PackRules,
        entry: u32,
        done: &str,
    ) -> Result<Entered> {
        self.enter(signer, rules, Scope::Entry(entry), |state, _| {
            let found = state.irregularities.get(&entry);
            let told = &found.ok_or(RefusalOfIrregular::NoIrregularity(entry))?.told;
            let (about, name, done) = (told.about, told.name.clone(), done.to_owned());
            Ok(Event::Remedy(Remedy { about, name, entry, done }))
        })
    }

    /// Returns what happened against the rules and was not put right, or all that ever did.
    ///
    /// # Errors
    /// The book cannot be read.
    pub fn irregularities(&self, all: bool) -> Result<Vec<(u32, Irregular)>> {
        let scope = if all { Scope::All } else { Scope::Shop };
        let found = self.state(scope)?.irregularities.into_iter();
        Ok(found.filter(|(_, one)| all || one.is_open()).collect())
    }
}
