//! What must hold after every step, and what a check of the whole must find.

use crate::cells::box_name;
use crate::job::label;
use crate::life::{Came, Life};
use crate::told::Lies;
use celltriage_custody::Scope;
use celltriage_custody::cell::{Cell, Whereabouts};
use celltriage_custody::units::Milligrams;
use celltriage_workshop::charge_permit::ChargePermit;

impl Life<'_> {
    /// Checks what concerns the cell of the last step.
    pub(crate) fn promises_hold(&self) -> Came {
        let Some(name) = &self.touched else { return Ok(()) };
        let state =
            self.shop.state_about(&[name]).map_err(|fault| ("the book can be asked", fault.to_string()))?;
        self.cell_is_as_told(name, state.cells.get(name))?;
        let permit = self
            .shop
            .charge_permit(name, &label())
            .map_err(|fault| ("the book can be asked", fault.to_string()))?;
        let told = self.told.cells.get(name).cloned().unwrap_or_default();
        if permit == ChargePermit::Given
            && (!told.held.is_empty() || told.is_shaken() || told.lies != Lies::Loose)
        {
            let why = format!("{name} may be charged: {:?}, {:?}", told.held, told.lies);
            return Err(("nobody is told to charge a held cell", why));
        }
        Ok(())
    }

    fn cell_is_as_told(&self, name: &str, cell: Option<&Cell>) -> Came {
        let Some(told) = self.told.cells.get(name) else { return Ok(()) };
        let Some(cell) = cell else {
            return Err(("nothing acknowledged is lost", format!("{name} is unknown")));
        };
        let known = cell.known();
        let stands = |entry: u32| known.iter().any(|found| found.entry == entry);
        if let Some(held) = told.held.iter().find(|(entry, _)| !stands(*entry)) {
            return Err(("what was found stands until it is struck", format!("{name}: {held:?}")));
        }
        let lies = &cell.whereabouts;
        let as_told = match (&told.lies, lies) {
            (Lies::Loose, Whereabouts::Loose) | (Lies::Gone, Whereabouts::HandedOver { .. }) => true,
            (Lies::Fitted, Whereabouts::Fitted { .. }) => true,
            (Lies::In(one), Whereabouts::In { container, .. }) => *container == box_name(*one),
            _ => false,
        };
        if !as_told {
            return Err(("every cell is somewhere, once", format!("{name}: {lies:?}, told {:?}", told.lies)));
        }
        Ok(())
    }

    /// Checks the whole book.
    pub(crate) fn checked(&mut self) -> Came {
        let asked = |fault: celltriage_workshop::Fault| ("the book can be asked", fault.to_string());
        let found = self.shop.verify().map_err(asked)?;
        if !found.passed() {
            return Err(("the book verifies", format!("{:?}", found.faults)));
        }
        let kept = self.shop.faults_of_kept(true, &mut |_| {}).map_err(asked)?;
        if let Some(fault) = kept.first() {
            return Err(("what is kept is what the entries say", (*fault).to_owned()));
        }
        for entry in &self.told.entries {
            let head = self.shop.book().head(*entry).map_err(|error| asked(error.into()))?;
            if head.is_none() {
                return Err(("nothing acknowledged is lost", format!("entry {entry}")));
            }
        }
        let names: Vec<&str> = self.told.cells.keys().map(String::as_str).collect();
        let state = self.shop.state(Scope::Names(&names)).map_err(asked)?;
        for name in &names {
            self.cell_is_as_told(name, state.cells.get(*name))?;
        }
        self.held_cells_are_due()?;
        self.counted_once()
    }

    /// A held cell that lies in no box and is not sent is on the list of what is to be done.
    fn held_cells_are_due(&self) -> Came {
        let list =
            self.shop.due(&self.rules, None).map_err(|fault| ("the book can be asked", fault.to_string()))?;
        for (name, told) in &self.told.cells {
            let listed = || list.items.iter().any(|item| item.subject == *name);
            if told.lies == Lies::Loose && !told.held.is_empty() && !listed() {
                return Err(("what is held and lies nowhere is due", format!("{name}: {:?}", told.held)));
            }
        }
        Ok(())
    }

    /// The shop's containers hold what they were told to hold, each cell once, and weigh what their cells weigh.
    fn counted_once(&self) -> Came {
        let state =
            self.shop.state(Scope::Shop).map_err(|fault| ("the book can be asked", fault.to_string()))?;
        for one in self.told.boxes.keys() {
            let name = box_name(*one);
            let held: Vec<&String> = state.cells_in(&name).map(|(cell, _)| cell).collect();
            let told: Vec<&String> = self
                .told
                .cells
                .iter()
                .filter(|(_, cell)| cell.lies == Lies::In(*one))
                .map(|(cell, _)| cell)
                .collect();
            if held != told {
                return Err(("nothing is counted twice", format!("{name} holds {held:?}, told {told:?}")));
            }
            let mass: Milligrams = state.cells_in(&name).map(|(_, cell)| cell.mass()).sum();
            if state.mass_in(&name) != mass {
                return Err(("nothing is counted twice", format!("{name} weighs {}", state.mass_in(&name))));
            }
        }
        Ok(())
    }
}
