//! What is known of a thing that was received before anybody measured it, drawn from all that was said of it.
//!
//! What nobody said is the worst case: it may be somebody else's, its mass and energy are the most that such a thing may have. A sign
//! that was found stays found, whatever is seen later; only striking its entry withdraws it.

use crate::cell::Cell;
use crate::event::{Consent, ContainerKind, Received, ReceivedAs, RestsOn, Stated};
use crate::facts::largest_energy;
use crate::limits::UNKNOWN_MASS;
use crate::receipt::{Intake, Receipt};
use crate::state::State;
use crate::units::{Milligrams, MilliwattHours};
use celltriage_rules::{Goods, LegalState};
use celltriage_verdict::{Fate, Told};
use jiff::civil::Date;

/// Mass and energy of a pack or a device of which nobody has told them, in cells as large as a label may state: with more a person does
/// not come to the counter (our choice).
const CELLS_OF_A_THING: u64 = 10;

impl Cell {
    /// Returns whether it was received before or instead of being assessed.
    pub const fn is_received(&self) -> bool {
        !self.receipts.is_empty()
    }

    /// Returns what its receipts say.
    pub fn intake(&self) -> Option<Intake> {
        Intake::of(&self.receipts)
    }

    /// Returns what it is, as far as somebody said so. Whoever assesses it measures a cell: then it is one, and no device any more,
    /// until somebody says otherwise; a pack and a lot stay what they are.
    pub fn is_as(&self) -> Option<ReceivedAs> {
        let intake = self.intake()?;
        match intake.told.is {
            Some(ReceivedAs::DeviceWithin | ReceivedAs::DeviceBeside)
                if self.facts.as_ref().is_some_and(|facts| facts.assessment > intake.is_since) =>
            {
                Some(ReceivedAs::Cell)
            }
            None if self.facts.is_some() => Some(ReceivedAs::Cell),
            told => told,
        }
    }

    /// Returns whether it is a device with its battery.
    pub fn is_device(&self) -> bool {
        self.is_as().is_some_and(ReceivedAs::is_device)
    }

    /// Returns in what form it is carried.
    pub fn goods(&self) -> Goods {
        match self.is_as() {
            Some(ReceivedAs::DeviceWithin) => Goods::InEquipment,
            Some(ReceivedAs::DeviceBeside) => Goods::WithEquipment,
            _ => Goods::Alone,
        }
    }

    /// Returns how many cells it is counted as: those of a lot, else one.
    pub fn count(&self) -> u32 {
        let lot = self.intake().filter(|_| self.is_as() == Some(ReceivedAs::Lot));
        lot.and_then(|intake| intake.told.count).map_or(1, |count| count.max(1))
    }

    /// Returns its receipts where they are about what it is now: those of a device say nothing of the cell that came out of it.
    fn figures(&self) -> Option<Received> {
        let intake = self.intake()?;
        let was = intake.told.is.or_else(|| self.facts.as_ref().map(|_| ReceivedAs::Cell));
        (was == self.is_as()).then_some(intake.told)
    }

    /// Returns the mass that is known, with what it rests on.
    pub fn stated_mass(&self) -> Option<Stated<Milligrams>> {
        let stated = |value, rests_on| Stated { value, rests_on };
        let weighed = self.weighed.map(|(_, mass)| stated(mass, RestsOn::Measured));
        let received = self.figures().and_then(|told| told.mass);
        let measured = received.filter(|mass| mass.rests_on == RestsOn::Measured);
        let label = self.facts.as_ref().and_then(|facts| facts.label_mass);
        weighed.or(measured).or_else(|| label.map(|mass| stated(mass, RestsOn::Label))).or(received)
    }

    /// Returns the energy that is known, with what it rests on.
    pub fn stated_energy(&self) -> Option<Stated<MilliwattHours>> {
        let received = self.figures().and_then(|told| told.energy);
        let alone = matches!(self.is_as(), None | Some(ReceivedAs::Cell));
        let label = self.facts.as_ref().filter(|_| alone || received.is_none());
        let label = label.map(|facts| Stated { value: facts.energy, rests_on: RestsOn::Label });
        label.or(received)
    }

    /// Returns the mass that counts where nobody knows it.
    pub(crate) fn largest_mass(&self) -> Milligrams {
        Milligrams(UNKNOWN_MASS.0.saturating_mul(self.cells_at_most()))
    }

    /// Returns the energy that counts where nobody knows it: none of a cell of which there is nothing but a name.
    pub(crate) fn largest_energy(&self) -> MilliwattHours {
        if self.is_received() {
            MilliwattHours(largest_energy().0.saturating_mul(self.cells_at_most()))
        } else {
            MilliwattHours::default()
        }
    }

    fn cells_at_most(&self) -> u64 {
        match self.is_as() {
            Some(ReceivedAs::Cell) => 1,
            Some(ReceivedAs::Lot) => u64::from(self.count()),
            None if !self.is_received() => 1,
            _ => CELLS_OF_A_THING,
        }
    }

    /// Returns the mass of its heaviest cell: that of a lot as a whole where nobody told it.
    pub fn heaviest(&self) -> Milligrams {
        let told = self.figures().filter(|_| self.is_as() == Some(ReceivedAs::Lot));
        told.and_then(|told| told.heaviest).map_or_else(|| self.mass(), |mass| mass.value)
    }

    /// Returns the energy of its largest cell: that of a lot as a whole where nobody told it.
    pub fn largest(&self) -> MilliwattHours {
        let told = self.figures().filter(|_| self.is_as() == Some(ReceivedAs::Lot));
        told.and_then(|told| told.largest).map_or_else(|| self.energy(), |energy| energy.value)
    }

    /// Says why it must not be discarded; `None` where it may, as far as it is about whose it is.
    pub fn lacks_consent(&self) -> Option<String> {
        self.intake().and_then(|intake| intake.lacks_consent())
    }

    /// Returns the state that what was seen on receipt points to, where no assessment has seen it since.
    pub(crate) fn as_received(&self) -> LegalState {
        let decided = self.facts.as_ref().map_or(0, |facts| facts.assessment);
        let seen = self.standing().filter(|found| found.told == Told::Receipt && found.entry > decided);
        let state = |found| {
            LegalState::of(Fate::Undecided, celltriage_verdict::KnownFinding::as_it_counts(found).condition)
        };
        seen.map(state).max().unwrap_or(LegalState::NotWaste)
    }

    /// Takes back what a struck receipt says: what it saw and what its owner said. What the thing is and whose stays: nothing becomes
    /// milder, and what lies in a container is not lost.
    pub(crate) fn forget_receipt(&mut self, struck: u32) {
        for receipt in self.receipts.iter_mut().filter(|receipt| receipt.entry == struck) {
            let Received { cell, is, whose, owner, consent, mass, energy, count, heaviest, largest, .. } =
                std::mem::take(&mut receipt.told);
            receipt.told = Received {
                cell,
                is,
                whose,
                owner,
                // Whatever was said before it, nobody has asked then.
                consent: consent.map(|_| Consent::NotAsked),
                mass,
                energy,
                count,
                heaviest,
                largest,
                ..Received::default()
            };
            receipt.struck = true;
        }
    }
}

impl State {
    /// Takes in that something was received, or what else was said of it.
    pub(crate) fn receives(&mut self, entry: u32, on: Date, told: &Received) {
        let in_waste = self.cells.get(&told.cell).and_then(Cell::container);
        let in_waste = in_waste.and_then(|name| self.containers.get(name));
        let in_waste = in_waste.is_some_and(|container| container.opened.kind != ContainerKind::Quarantine);
        let cell = self.cell(&told.cell);
        let waited = cell.lacks_consent().is_some();
        // A new look makes a critical thing no milder; a person does.
        cell.escalated |= cell.legal() == LegalState::Critical || told.is_urgent();
        let (was, is_device) =
            (cell.is_as(), told.is.map_or_else(|| cell.is_device(), ReceivedAs::is_device));
        cell.receipts.push(Receipt { entry, on, told: told.clone(), struck: false });
        if told.is.is_some() && was != told.is {
            cell.weighed = None;
        }
        // Of a device the mass says nothing of the cell that may come out of it.
        let measured = told.mass.filter(|mass| mass.rests_on == RestsOn::Measured && !is_device);
        if let Some(mass) = measured {
            cell.weighed = Some((entry, mass.value));
        }
        let recycled = cell.facts.as_ref().is_some_and(|facts| facts.fate == Fate::Recycle);
        if waited && cell.lacks_consent().is_none() && (in_waste || recycled) {
            cell.discards.push((entry, on));
        }
        // Nothing measures it: a look is all that can be had.
        if cell.facts.is_none() && told.is_a_look() {
            let open = cell.screening.iter_mut().filter(|screening| screening.done_by.is_none());
            open.for_each(|screening| screening.done_by = Some(entry));
        }
    }

    /// Returns how many cells lie in a container: those of a lot each.
    pub fn count_in(&self, container: &str) -> usize {
        let counts = self.cells_in(container).map(|(_, cell)| cell.count() as usize);
        counts.fold(0, usize::saturating_add)
    }

    /// Returns whether a mass or an energy in a container is only estimated.
    pub fn is_estimated_in(&self, container: &str) -> bool {
        let guess = |rests_on: Option<RestsOn>| rests_on == Some(RestsOn::Estimated);
        self.cells_in(container).any(|(_, cell)| {
            guess(cell.stated_mass().map(|mass| mass.rests_on))
                || guess(cell.stated_energy().map(|energy| energy.rests_on))
        })
    }
}
