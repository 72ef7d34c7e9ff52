//! Judging a cell: what a person is shown and asked, and the judgement in the book.

use crate::danger::emergency_at;
use crate::event::{Attendant, WorkEvent};
use crate::fault::Result;
use crate::shop::Workshop;
use crate::signer::{Entered, Signer};
use celltriage_assessment::Assessment;
use celltriage_assessment::record::assessment_of;
use celltriage_custody::cell::Cell;
use celltriage_custody::checklist::{Answers, Criterion, as_recorded};
use celltriage_custody::circumstances::Circumstances;
use celltriage_custody::event::{Event, Judgement};
use celltriage_custody::{PackRules, Refusal, Scope, State};
use celltriage_measure::observation::Answer;
use celltriage_rules::{LegalState, PlaceCode, Proposal, propose, propose_as_seen};
use celltriage_verdict::Fate;
use jiff::civil::Date;

/// What there is to judge a cell by.
#[derive(Clone, Debug)]
pub struct ToJudge {
    /// How the cell stands.
    pub cell: Cell,
    /// Entry of its latest assessment, or of the last look on receipt of what nobody has assessed.
    pub entry: u32,
    /// That assessment; `None` where nobody made one. One that cannot be read leaves every question open.
    pub assessment: Option<Assessment>,
    /// What was recorded at the bench, question by question.
    pub recorded: Answers,
}

/// What a person judges.
#[derive(Clone, Debug)]
pub struct NewJudgement {
    /// The cell.
    pub cell: String,
    /// Entry of the assessment, or of the receipt, that was looked at.
    pub assessment: u32,
    /// What it is judged to be.
    pub state: LegalState,
    /// The answers to the questions.
    pub answers: Answers,
    /// What makes the person able to judge.
    pub qualification: String,
    /// Why it is milder than proposed, or what else was seen.
    pub because: Option<String>,
    /// The device that it was taken out of.
    pub device: Option<String>,
    /// Day on which it was taken out.
    pub removed_on: Option<Date>,
    /// Where a photograph of it is kept.
    pub photo: Option<String>,
    /// Day on which it was decided to discard the cell; `None`: as follows from assessment and judgement.
    pub discarded_on: Option<Date>,
    /// Where it is; `None`: where the book has it.
    pub place: Option<PlaceCode>,
}

impl Workshop<'_> {
    /// Returns what there is to judge a cell by.
    ///
    /// # Errors
    /// The book has neither an assessment nor a receipt of the cell, or cannot be read.
    pub fn to_judge(&self, cell: &str) -> Result<ToJudge> {
        let unknown = || Refusal::UnknownCell(cell.to_owned());
        let found = self.state_about(&[cell])?.cells.remove(cell).ok_or_else(unknown)?;
        let (entry, _) = found.to_be_judged().ok_or_else(unknown)?;
        if found.facts.is_none() {
            let recorded = found.intake().map_or_else(Answers::new, |intake| intake.as_recorded());
            return Ok(ToJudge { cell: found, entry, assessment: None, recorded });
        }
        let assessment = self.book.entry(entry)?.and_then(|entry| assessment_of(&entry).ok());
        let recorded = assessment.as_ref().map_or_else(Answers::new, as_recorded);
        Ok(ToJudge { cell: found, entry, assessment, recorded })
    }

    /// Returns what speaks for a legal state by the rules of a place, and what is for a person to judge.
    pub fn proposal(
        &self,
        to_judge: &ToJudge,
        place: Option<&PlaceCode>,
        rules: &PackRules,
    ) -> Option<Proposal> {
        let Some(assessment) = &to_judge.assessment else {
            let seen = to_judge.cell.intake().filter(|_| to_judge.cell.facts.is_none())?.observations();
            return Some(propose_as_seen(&seen, place, self.today(), rules.packs()));
        };
        let observed = &assessment.cell.observations;
        Some(propose(&assessment.verdict, observed, place, self.today(), rules.packs()))
    }

    /// Writes a judgement. If the cell is judged to be reacting, what to do is told before anything else, and a clock in
    /// doubt holds nothing up.
    ///
    /// # Errors
    /// As [`Workshop::enter`].
    pub fn judge(
        &mut self,
        signer: &Signer,
        rules: &PackRules,
        new: &NewJudgement,
        attendant: &mut Attendant<'_>,
    ) -> Result<Entered> {
        let on = self.day_of(signer);
        let make = |state: &State, _: &Circumstances<'_>| {
            let unknown = || Refusal::UnknownCell(new.cell.clone());
            let cell = state.cells.get(&new.cell).ok_or_else(unknown)?;
            Ok(Event::Judgement(new.event(cell, on)))
        };
        if !is_urgent(new.state, &new.answers) {
            return self.enter(signer, rules, Scope::Names(&[&new.cell]), make);
        }
        let place = new.place.clone().or_else(|| self.place_of(&new.cell));
        attendant.sees(&WorkEvent::Emergency(emergency_at(place.as_ref(), rules.packs())));
        self.enter_at_once(signer, rules, Scope::Names(&[&new.cell]), attendant, make)
    }
}

impl NewJudgement {
    fn event(&self, cell: &Cell, on: Date) -> Judgement {
        Judgement {
            cell: self.cell.clone(),
            // What was looked at, not what is there by now: the check tells the two apart.
            assessment: self.assessment,
            proposed: cell.proposal(),
            state: self.state,
            answers: self.answers.clone(),
            qualification: self.qualification.clone(),
            because: self.because.clone(),
            device: self.device.clone(),
            removed_on: self.removed_on,
            photo: self.photo.clone(),
            decided_on: self.discarded_on.or_else(|| decided_on(cell, self.state, on)),
        }
    }
}

/// Returns whether a judgement with these answers says that the cell is reacting now.
pub fn is_urgent(state: LegalState, answers: &Answers) -> bool {
    state == LegalState::Critical || answers.get(&Criterion::AcuteHazard) == Some(&Answer::Yes)
}

/// Returns the next question that is still open before a cell is judged to be in this state. There is none if the cell is
/// reacting now, and only that question if it is judged critical: nobody stays beside it to answer questions, and what to
/// do about it must not be scrolled away by them.
pub fn next_question(answers: &Answers, state: LegalState) -> Option<Criterion> {
    if answers.get(&Criterion::AcuteHazard) == Some(&Answer::Yes) {
        return None;
    }
    let asked = |one: &Criterion| state != LegalState::Critical || *one == Criterion::AcuteHazard;
    Criterion::ALL.into_iter().filter(asked).find(|one| !answers.contains_key(one))
}

/// Returns the day on which a cell counts as discarded by a judgement. A damaged cell that is only kept apart is not
/// discarded yet; it is when it goes into a waste container.
fn decided_on(cell: &Cell, judged: LegalState, on: Date) -> Option<Date> {
    let recycled = cell.facts.as_ref().filter(|facts| facts.fate == Fate::Recycle).map(|facts| facts.on);
    // What its owner gave to be discarded is waste from that day at the latest, whenever somebody judges it.
    let recycled = recycled.filter(|_| cell.lacks_consent().is_none());
    let given = cell.intake().filter(|_| cell.facts.is_none()).and_then(|intake| intake.consented_on);
    match judged {
        LegalState::NotWaste => None,
        LegalState::IntactWaste => recycled.or(given).or(Some(on)),
        _ => recycled,
    }
}
