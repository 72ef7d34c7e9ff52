//! What to say to somebody who asks before a thing is mailed: nothing is written down, and nothing is ever said to be fit to be sent.

use crate::event::Symptom;
use celltriage_measure::observation::Sign;
use celltriage_rules::{
    Action, Carriage, Caution, Fact, LegalState, Packs, PlaceCode, Presents, cautions_for,
};
use celltriage_verdict::{CellState, Fate};
use jiff::civil::Date;
use std::collections::BTreeMap;

/// What there is to say.
#[derive(Clone, Debug, PartialEq)]
pub struct MailAdvice {
    /// Signs that show.
    pub shows: Vec<Sign>,
    /// Signs that nobody has looked for, or of which nobody can tell.
    pub open: Vec<Sign>,
    /// As what it is handled.
    pub presents: Presents,
    /// What is to be heeded when such a thing is packed and sent, by the rules of the place.
    pub cautions: Vec<Caution>,
    /// What the rules of the place say of post and aircraft.
    pub facts: Vec<Fact>,
}

/// Returns what there is to say of a thing of which somebody tells these signs.
pub fn before_mailing(
    signs: &BTreeMap<Sign, Symptom>,
    place: Option<&PlaceCode>,
    today: Date,
    packs: &Packs,
) -> MailAdvice {
    let told = |sign: &Sign| signs.get(sign).copied();
    let shows: Vec<Sign> = Sign::ALL.into_iter().filter(|sign| told(sign) == Some(Symptom::Yes)).collect();
    let open: Vec<Sign> = Sign::ALL
        .into_iter()
        .filter(|sign| !matches!(told(sign), Some(Symptom::Yes | Symptom::No)))
        .collect();
    let presents = presents(&shows, &open);
    // What shows and is no danger of its own in the table of cautions counts as damage.
    let condition = match presents.condition() {
        CellState::Unknown if !shows.is_empty() => CellState::DamagedOrDefective,
        condition => condition,
    };
    let state = LegalState::of(Fate::Undecided, condition);
    let away = [Carriage::Post, Carriage::Air];
    let mut facts = packs.facts(place, today, state);
    facts.retain(|fact| fact.by.iter().any(|carriage| away.contains(carriage)));
    MailAdvice {
        cautions: cautions_for(presents, Action::Ship, place, today, packs),
        shows,
        open,
        presents,
        facts,
    }
}

/// Returns how the thing presents itself; with a sign that has no row of its own, or one left open, nobody can tell.
fn presents(shows: &[Sign], open: &[Sign]) -> Presents {
    let rows = [
        (Sign::ActiveNow, Presents::ActiveNow),
        (Sign::CasingBreached, Presents::Punctured),
        (Sign::Leaked, Presents::Leaking),
        (Sign::Swollen, Presents::Swollen),
    ];
    let row = rows.into_iter().find(|(sign, _)| shows.contains(sign)).map(|(_, presents)| presents);
    match row {
        Some(presents) => presents,
        None if shows.is_empty() && open.is_empty() => Presents::Intact,
        None => Presents::Unknown,
    }
}
