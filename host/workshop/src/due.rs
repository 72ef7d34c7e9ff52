//! What falls due in the workshop: on cells, containers, shipments and fixtures, and what is counted for its sites.

use crate::due_rules::on_rules;
use crate::fault::Result;
use crate::shop::Workshop;
use celltriage_custody::counters::{Counter, of_site};
use celltriage_custody::due::{Due, Urgency, due, item, most_urgent_first};
use celltriage_custody::{PackRules, Scope, State};
use celltriage_instrument::standing::all_due;
use jiff::civil::Date;

/// What falls due.
#[derive(Clone, Debug, PartialEq)]
pub struct DueList {
    /// The day from which days left are counted.
    pub today: Date,
    /// What is to be done: alarms, then overdue first.
    pub items: Vec<Due>,
    /// The counters of all sites at which a container stands.
    pub site: Vec<Counter>,
}

impl Workshop<'_> {
    /// Returns what falls due, all of it or within some days.
    ///
    /// # Errors
    /// The book cannot be read.
    pub fn due(&self, rules: &PackRules, within_days: Option<u32>) -> Result<DueList> {
        let state = self.state(Scope::Shop)?;
        let mut items = due(&state, &self.circumstances(rules));
        items.extend(self.due_on_fixtures()?);
        items.extend(on_rules(&state, rules.packs(), self.today()));
        most_urgent_first(&mut items);
        if let Some(days) = within_days {
            items.retain(|item| item.days_left <= i64::from(days));
        }
        Ok(DueList { today: self.today(), items, site: self.of_sites(&state, rules) })
    }

    fn due_on_fixtures(&self) -> Result<Vec<Due>> {
        let today = self.today();
        let found = all_due(&self.book)?;
        Ok(found
            .into_iter()
            .map(|due| {
                // A stop has no last day: it holds today.
                let (urgency, on) =
                    if due.stopped { (Urgency::Now, today) } else { (Urgency::Dated, due.on) };
                let source = "the fixture's own records";
                Due { urgency, ..item(&due.fixture, &due.what, on, today, source) }
            })
            .collect())
    }

    fn of_sites(&self, state: &State, rules: &PackRules) -> Vec<Counter> {
        let circumstances = self.circumstances(rules);
        let mut site: Vec<Counter> = Vec::new();
        for counter in state.places.iter().flat_map(|place| of_site(state, place, &circumstances)) {
            // A rule of the country holds in each of its parts, and is told once.
            if !site.contains(&counter) {
                site.push(counter);
            }
        }
        site
    }
}
