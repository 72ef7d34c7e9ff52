//! Shipments: draft papers, the receiver's word, and the hand-over.

use crate::fault::{Fault, Result};
use crate::shop::Workshop;
use crate::signer::{Entered, Signer};
use celltriage_custody::circumstances::Circumstances;
use celltriage_custody::draft::{Request, build};
use celltriage_custody::event::{Event, HandedOver, ReceiverAgreed, ShipmentWithdrawn};
use celltriage_custody::state::Shipment;
use celltriage_custody::{PackRules, Refusal, Scope, State};
use jiff::civil::Date;

/// A shipment.
#[derive(Clone, Debug)]
pub struct ShipmentView {
    /// The shipment.
    pub shipment: Shipment,
    /// Whether simulated cells are in it.
    pub simulated: bool,
}

impl ShipmentView {
    /// Finds a shipment.
    ///
    /// # Errors
    /// There is none of that name.
    pub fn of(state: &State, name: &str) -> Result<Self> {
        let unknown = || Fault::Unknown(Refusal::UnknownShipment(name.to_owned()));
        let shipment = state.shipments.get(name).ok_or_else(unknown)?;
        let simulated = state.simulated_in(&shipment.draft).is_some();
        Ok(Self { shipment: shipment.clone(), simulated })
    }
}

/// Returns a hand-over with its waste code, where the day has only one and none was named.
pub(crate) fn with_the_only_code(
    state: &State,
    handed: &HandedOver,
    on: Date,
    circumstances: &Circumstances<'_>,
) -> Event {
    let place = state.shipments.get(&handed.shipment).map(|shipment| &shipment.draft.place);
    let codes = place.map_or_else(Vec::new, |place| circumstances.rules.waste_codes(place, on));
    let only = if let [only] = codes.as_slice() { Some(only.code.clone()) } else { None };
    let waste_code = handed.waste_code.clone().or(only);
    Event::HandedOver(HandedOver { waste_code, ..handed.clone() })
}

impl Workshop<'_> {
    /// Drafts the papers for a container.
    ///
    /// # Errors
    /// As [`Workshop::enter`]; what is forbidden gets no draft.
    pub fn draft_shipment(
        &mut self,
        signer: &Signer,
        rules: &PackRules,
        request: &Request,
    ) -> Result<Entered> {
        let mut names = vec![request.container.as_str(), request.shipment.as_str()];
        names.extend(request.more.iter().map(String::as_str));
        self.enter(signer, rules, Scope::Names(&names), |state, circumstances| {
            build(state, request, circumstances).map(|draft| Event::ShipmentDrafted(Box::new(draft)))
        })
    }

    /// Writes down that the receiver agreed.
    ///
    /// # Errors
    /// As [`Workshop::enter`].
    pub fn receiver_agrees(
        &mut self,
        signer: &Signer,
        rules: &PackRules,
        agreed: ReceiverAgreed,
    ) -> Result<Entered> {
        self.enter_event(signer, rules, &Event::ReceiverAgreed(agreed))
    }

    /// Withdraws a draft.
    ///
    /// # Errors
    /// As [`Workshop::enter`].
    pub fn withdraw(
        &mut self,
        signer: &Signer,
        rules: &PackRules,
        withdrawn: ShipmentWithdrawn,
    ) -> Result<Entered> {
        self.enter_event(signer, rules, &Event::ShipmentWithdrawn(withdrawn))
    }

    /// Writes down that a shipment has left. A waste code may be left out if the day has only one, or the place none.
    ///
    /// # Errors
    /// As [`Workshop::enter`].
    pub fn hand_over(&mut self, signer: &Signer, rules: &PackRules, handed: &HandedOver) -> Result<Entered> {
        let on = self.day_of(signer);
        self.enter(signer, rules, Scope::Names(&[&handed.shipment]), |state, circumstances| {
            Ok(with_the_only_code(state, handed, on, circumstances))
        })
    }

    /// Returns a shipment.
    ///
    /// # Errors
    /// There is none of that name, or the book cannot be read.
    pub fn shipment(&self, name: &str) -> Result<ShipmentView> {
        ShipmentView::of(&self.state_about(&[name])?, name)
    }
}
