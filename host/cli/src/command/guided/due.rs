//! What a person has to do next in a guided run: the words for people, the same as JSON for machines, and the waiting.

use crate::command::say_json;
use crate::error::Error;
use crate::io::Io;
use celltriage_document::form::terminal::Terminal;
use celltriage_measure::nameplate::Nameplate;
use celltriage_report::guided_page::step_page;
use celltriage_verdict::charge_temperature::charge_temperature;
use celltriage_verdict::limit_figure;
use jiff::Timestamp;
use serde_json::{Value, json};
use std::time::{Duration, Instant};

/// Charge current in units of It, and the part of It below which a charger has ended (common practice).
const CHARGE_IT: f64 = 0.5;
const ENDED_IT: f64 = 0.05;

/// What is due.
pub(super) struct Due {
    stage: &'static str,
    text: String,
    then: String,
    data: Value,
    simulated: bool,
}

impl Due {
    /// What the technician is told to do at the charger.
    pub(super) fn charge(id: &str, nameplate: &Nameplate) -> Self {
        let it = nameplate.rated_capacity_ah;
        let text = format!(
            "charge {id} on your charger: limit {}, as on its label, never higher; at most {:.2} A (0.5 It, or what its \
             maker says); until the charger ends by itself (below {:.3} A). Charge it {}, on a surface that \
             cannot burn, with somebody near. Hot, swelling, smelling: stop.",
            limit_figure(nameplate.charge_limit_v, "V"),
            CHARGE_IT * it,
            ENDED_IT * it,
            charge_temperature(),
        );
        let then = format!("celltriage guided --id {id} --charged");
        let data = json!({
            "schema": "celltriage.capacity_run/1", "cell": id, "next": "charge", "text": text, "then": then,
            "charge_limit_v": nameplate.charge_limit_v, "largest_current_a": CHARGE_IT * it, "ended_below_a": ENDED_IT * it,
        });
        Self { stage: "1 of 3", text, then: format!("then: {then}"), data, simulated: false }
    }

    /// What is due until the cell has rested.
    pub(super) fn rest(id: &str, until: Timestamp, io: &Io<'_>) -> Self {
        let clock = until.to_zoned_datetime(io.zone.clone()).strftime("%Y-%m-%d %H:%M").to_string();
        let text = format!("let {id} rest off the charger until {clock}, in the room, away from heat.");
        let then = format!("celltriage guided --id {id}");
        let data = json!({
            "schema": "celltriage.capacity_run/1", "cell": id, "next": "rest", "text": text, "then": then,
            "until": until.to_string(),
        });
        let then = format!("then look at it, clip it on, and: {then}");
        Self { stage: "2 of 3", text, then, data, simulated: false }
    }

    /// The same for a cell that may be one of the simulated bench, which it then says.
    #[must_use]
    pub(super) fn simulated(mut self, simulated: bool) -> Self {
        self.simulated = simulated;
        if let Some(members) = self.data.as_object_mut().filter(|_| simulated) {
            members.insert("simulated".to_owned(), true.into());
        }
        self
    }

    /// Says what is due; among the notes where the data are JSON.
    pub(super) fn begin(&self, json: bool, io: &mut Io<'_>) {
        let page = step_page(self.stage, &self.text, self.simulated);
        match json {
            true => io.note(Terminal::new(io.width).text(&page).trim_end()),
            false => io.show(&page),
        }
    }

    /// Says what to call afterwards, as the last of this call.
    ///
    /// # Errors
    /// An input error where it cannot be written as JSON.
    pub(super) fn end(&self, json: bool, io: &mut Io<'_>) -> Result<(), Error> {
        if json {
            return say_json(&self.data, io);
        }
        io.say(&self.then);
        Ok(())
    }
}

/// Asks whether the charger has ended; nobody there, or anything but Enter, means later.
pub(super) fn charger_has_ended(io: &mut Io<'_>) -> bool {
    let asked = io.ask.as_mut();
    let answer = asked.and_then(|ask| ask("Press Enter when the charger has ended (anything else: later). "));
    answer.is_some_and(|line| line.trim().is_empty())
}

/// Waits on the spot; returns whether the time has come.
pub(super) fn waited(until: Timestamp, now: Timestamp, io: &mut Io<'_>) -> bool {
    let wait = until.duration_since(now);
    let wait = Duration::from_secs(u64::try_from(wait.as_secs()).unwrap_or(0));
    io.note(&format!(
        "waiting {} min; Ctrl-C ends the waiting and loses nothing",
        wait.as_secs().div_ceil(60)
    ));
    let began = Instant::now();
    while began.elapsed() < wait {
        if io.stop_wanted() {
            return false;
        }
        std::thread::sleep(Duration::from_millis(500).min(wait));
    }
    true
}

#[cfg(test)]
mod tests {
    use super::*;
    use celltriage_assessment::test_support::example;

    /// Two bands on two pages are one too many.
    #[test]
    fn the_charger_and_the_page_of_a_cell_for_reuse_tell_one_temperature() {
        let assessment = example(|_| {});
        let cautions = assessment.cautions.iter().filter(|one| one.rule == "any.reuse.charge");
        let told = cautions.map(|one| one.text.clone()).chain(assessment.verdict.next_steps.clone());
        let told: Vec<String> = told.chain([Due::charge("A", &assessment.cell.nameplate).text]).collect();
        assert_eq!(told.len(), 3, "{told:?}");
        for text in told {
            assert!(text.contains(&charge_temperature()) && text.matches("°C").count() == 1, "{text}");
        }
    }
}
