//! What somebody does in the search for what does not balance.

use super::super::*;
use super::{BOXES, CELLS};
use celltriage_measure::observation::Sign;
use proptest::prelude::*;

/// One thing that somebody does; the flag: against the rules, where they refuse it.
#[derive(Clone, Debug)]
pub(super) enum Does {
    Assess(usize, Fate, CellState),
    Judge(usize, LegalState),
    Place(usize, usize, bool),
    TakeOut(usize, bool),
    Hold(usize),
    Escalate(usize),
    Fit(usize, bool),
    OutOfDevice(usize, bool),
    Draft(usize),
    Agree,
    HandOver(bool),
    Leave(usize, WayOut, bool),
    LeaveBox(usize, WayOut, bool),
    Back(usize),
    BackBox(usize),
    Refused(usize),
    PutRight(usize),
    /// From one box into another, or out: all of it, or one cell.
    Repack(usize, Option<usize>, Option<usize>, bool),
    /// Received, or what its owner says; with a sign or without.
    Receive(usize, Option<Consent>, Option<Sign>),
}

pub(super) fn does() -> impl Strategy<Value = Does> {
    let (cell, one) = (0..CELLS.len(), 0..BOXES.len());
    let way = prop::sample::select(&WayOut::ALL[..]);
    let fate = prop::sample::select(&Fate::ALL[..]);
    let condition = prop::sample::select(&CellState::ALL[..]);
    let (intact, damaged) = (LegalState::IntactWaste, LegalState::DamagedOrDefective);
    let judged = prop::sample::select(vec![intact, intact, intact, LegalState::NotWaste, damaged]);
    let against = prop::bool::weighted(0.2);
    let into = prop::option::weighted(0.8, one.clone());
    let (given, not_asked) = (Some(Consent::Given), Some(Consent::NotAsked));
    let consent = prop::sample::select(vec![None, None, None, given, given, not_asked]);
    let sign = prop::option::weighted(0.12, prop::sample::select(vec![Sign::Swollen, Sign::CasingBreached]));
    let placed = prop::sample::select(vec![0, 0, 3, 3, 3, 1, 2]);
    let drafted = prop::sample::select(vec![0, 0, 0, 1, 2, 3]);
    prop_oneof![
        2 => (cell.clone(), fate, condition).prop_map(|(cell, fate, condition)| Does::Assess(cell, fate, condition)),
        12 => (cell.clone(), judged).prop_map(|(cell, state)| Does::Judge(cell, state)),
        12 => (cell.clone(), placed, against).prop_map(|(cell, one, how)| Does::Place(cell, one, how)),
        3 => (cell.clone(), against).prop_map(|(cell, how)| Does::TakeOut(cell, how)),
        1 => cell.clone().prop_map(Does::Hold),
        1 => cell.clone().prop_map(Does::Escalate),
        3 => (cell.clone(), any::<bool>()).prop_map(|(cell, how)| Does::Fit(cell, how)),
        3 => (cell.clone(), any::<bool>()).prop_map(|(cell, how)| Does::OutOfDevice(cell, how)),
        5 => drafted.prop_map(Does::Draft),
        4 => Just(Does::Agree),
        5 => any::<bool>().prop_map(Does::HandOver),
        3 => (cell.clone(), way.clone(), against).prop_map(|(cell, way, how)| Does::Leave(cell, way, how)),
        2 => (one.clone(), way, against).prop_map(|(one, way, how)| Does::LeaveBox(one, way, how)),
        4 => cell.clone().prop_map(Does::Back),
        4 => one.clone().prop_map(Does::BackBox),
        4 => (one.clone(), into, prop::option::of(cell.clone()), against)
            .prop_map(|(one, into, only, how)| Does::Repack(one, into, only, how)),
        5 => (cell.clone(), consent, sign).prop_map(|(cell, told, sign)| Does::Receive(cell, told, sign)),
        1 => cell.prop_map(Does::Refused),
        2 => (0_usize..4).prop_map(Does::PutRight),
    ]
}

/// How many cells something is, by its receipt.
pub(super) fn cells_of(name: &str) -> u32 {
    if name == "LOT-6" { 7 } else { 1 }
}

/// What is told of a new thing, or what its owner says of one that is here.
pub(super) fn receive(name: &str, new: bool, consent: Option<Consent>, sign: Option<Sign>) -> Event {
    let is = if name == "LOT-6" { ReceivedAs::Lot } else { ReceivedAs::DeviceWithin };
    let change = |told: &mut Received| {
        told.note = Some("looked at by the counter".to_owned());
        told.whose = consent.map_or(told.whose, |_| Some(Whose::Bringer));
        told.consent = consent;
        told.signs.extend(sign.map(|sign| (sign, Symptom::Yes)));
    };
    if new { received(name, is, change) } else { added(name, change) }
}

impl Does {
    /// Returns the cell that must have been received before.
    pub(super) fn cell(&self) -> Option<usize> {
        match self {
            Does::Assess(cell, ..)
            | Does::Judge(cell, _)
            | Does::Place(cell, ..)
            | Does::TakeOut(cell, _)
            | Does::Hold(cell)
            | Does::Escalate(cell)
            | Does::Fit(cell, _)
            | Does::OutOfDevice(cell, _)
            | Does::Leave(cell, ..)
            | Does::Back(cell)
            | Does::Refused(cell) => Some(*cell),
            _ => None,
        }
    }
}
