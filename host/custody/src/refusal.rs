//! Why an event is not written: what is in the way.
//!
//! Every refusal means that nothing was written.

use crate::cell_name::NotAName;
use crate::refusal_of_irregular::RefusalOfIrregular;
use crate::refusal_on_container::RefusalOnContainer;
use crate::refusal_on_leaving::RefusalOnLeaving;
use celltriage_rules::LegalState;
use jiff::civil::Date;

/// Why an event is not written.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    /// The book has neither an assessment nor a receipt of the cell.
    #[error("the book holds neither an assessment nor a receipt of cell {0}")]
    UnknownCell(String),
    /// A name that no new cell may have.
    #[error("the book knows no cell of this name, and it is no name for a new one: {0}")]
    BadCellName(NotAName),
    /// There is no such container.
    #[error("there is no container {0}")]
    UnknownContainer(String),
    /// There is no such shipment.
    #[error("there is no shipment {0}")]
    UnknownShipment(String),
    /// Two containers that people take for one.
    #[error("container {name} looks like container {known}, which stands here")]
    LooksLikeContainer {
        /// The name.
        name: String,
        /// The container that stands.
        known: String,
    },
    /// The name is in use.
    #[error("the name {name} is taken by a {what}")]
    NameTaken {
        /// The name.
        name: String,
        /// A cell, a container or a shipment.
        what: &'static str,
    },
    /// A text is missing or is not one line.
    #[error("the {0} must be one line of text, without blanks at its ends")]
    BadText(&'static str),
    /// A number is out of range.
    #[error("{0}")]
    BadNumber(String),
    /// The day is wrong.
    #[error("the day {day} is {what}")]
    BadDay {
        /// The day.
        day: Date,
        /// What is wrong with it.
        what: String,
    },
    /// The cell has left.
    #[error(
        "cell {cell} was handed over with shipment {shipment} on {on}; nothing about it is changed any more"
    )]
    CellGone {
        /// The cell.
        cell: String,
        /// The shipment.
        shipment: String,
        /// The day.
        on: Date,
    },
    /// The container has left.
    #[error(
        "container {container} was handed over with shipment {shipment}; nothing goes in or out any more"
    )]
    ContainerGone {
        /// The container.
        container: String,
        /// The shipment.
        shipment: String,
    },
    /// Papers are drafted for the container.
    #[error("papers are drafted for container {container} (shipment {shipment}); nothing goes in or out")]
    ContainerDrafted {
        /// The container.
        container: String,
        /// The shipment.
        shipment: String,
    },
    /// The cell is in a container already.
    #[error("cell {cell} is in container {container} already")]
    ElsewhereAlready {
        /// The cell.
        cell: String,
        /// The container.
        container: String,
    },
    /// The cell is in no container.
    #[error("cell {0} is in no container")]
    NotInContainer(String),
    /// The cell is to serve again.
    #[error("cell {0} is graded for reuse: it is not waste and goes into no waste container")]
    ForReuse(String),
    /// Intact and damaged do not mix.
    #[error("cell {cell} is {state}; container {container} is for {takes}, and the two are never mixed")]
    WrongMix {
        /// The cell.
        cell: String,
        /// Its state, in words.
        state: String,
        /// The container.
        container: String,
        /// What the container is for.
        takes: &'static str,
    },
    /// The cell is critical.
    #[error("cell {0} is critical: it is not moved and not sent")]
    Critical(String),
    /// The cell is under watch.
    #[error("cell {cell} is under watch since {since}: {because}")]
    UnderWatch {
        /// The cell.
        cell: String,
        /// Since when.
        since: Date,
        /// Why.
        because: String,
    },
    /// The cell is not under watch.
    #[error("cell {0} is not under watch")]
    NotUnderWatch(String),
    /// Each damaged cell has an inner packing of its own.
    #[error("container {0} takes each cell in an inner packing of its own, and none is named")]
    NoInnerPacking(String),
    /// The inner packing holds another cell.
    #[error(
        "inner packing {inner} of container {container} holds cell {holds} already; one damaged cell to one packing"
    )]
    InnerPackingTaken {
        /// The inner packing.
        inner: String,
        /// The container.
        container: String,
        /// The cell in it.
        holds: String,
    },
    /// Chemistries do not mix here.
    #[error("container {container} holds {holds} and takes no other chemistry ({why}); cell {cell} is {has}")]
    OtherChemistry {
        /// The cell.
        cell: String,
        /// Its chemistry.
        has: String,
        /// The container.
        container: String,
        /// The chemistry in it.
        holds: String,
        /// Which rule says so.
        why: String,
    },
    /// The container's own limit would be passed.
    #[error("container {container} would hold {would}, more than the {limit} it was opened for")]
    ContainerFull {
        /// The container.
        container: String,
        /// What it would hold.
        would: String,
        /// Its limit.
        limit: String,
    },
    /// The judgement does not fit.
    #[error("{0}")]
    BadJudgement(String),
    /// Something was found of the cell before.
    #[error("cell {cell} is not to serve again; known before: {found}")]
    KnownBefore {
        /// The cell.
        cell: String,
        /// What was found.
        found: String,
    },
    /// What was found of the cell says that it is damaged, and stands.
    #[error("cell {cell} counts as damaged: {found}; what ends that is {ends}")]
    CountsAsDamaged {
        /// The cell.
        cell: String,
        /// What was found.
        found: String,
        /// What ends it.
        ends: &'static str,
    },
    /// The cell was found critical, and that stands.
    #[error("cell {cell} was found critical and stays so: {found}; {why}")]
    StillCritical {
        /// The cell.
        cell: String,
        /// What was found.
        found: String,
        /// What is missing for a milder judgement.
        why: String,
    },
    /// A simulated cell and a real one.
    #[error(
        "cell {cell} is {is} and container {container} holds {holds}, which is not: simulated and real cells are never \
         together"
    )]
    MixedWithSimulated {
        /// The cell.
        cell: String,
        /// The container.
        container: String,
        /// A cell in it.
        holds: String,
        /// Real or simulated: what the cell is.
        is: &'static str,
    },
    /// A simulated cell leaves with nobody.
    #[error("cell {cell} of shipment {shipment} is simulated: there is nothing to hand over")]
    Simulated {
        /// The cell.
        cell: String,
        /// The shipment.
        shipment: String,
    },
    /// The watch may not end yet.
    #[error("the watch over cell {cell} is not over: {why}")]
    NotReleasable {
        /// The cell.
        cell: String,
        /// Why not.
        why: String,
    },
    /// Never by air.
    #[error("no papers for air: {0}")]
    Air(String),
    /// The container holds nothing.
    #[error("container {0} is empty")]
    Empty(String),
    /// Watched cells are not sent.
    #[error("container {0} holds cells under watch; such a container is not sent")]
    QuarantineIsNotSent(String),
    /// Nobody has judged the cell.
    #[error(
        "nobody has judged cell {0} since its latest assessment; an unjudged cell may be critical and is not sent"
    )]
    NotJudged(String),
    /// Something that was found blocks sending it.
    #[error("cell {cell} is not sent while this stands: {found}")]
    NotLeaving {
        /// The cell.
        cell: String,
        /// What was found.
        found: String,
    },
    /// A finding is not ended yet, or there is none.
    #[error("what entry {entry} found of cell {cell} is not ended: {why}")]
    NotEnded {
        /// The cell.
        cell: String,
        /// The entry.
        entry: u32,
        /// What is missing.
        why: String,
    },
    /// A local rule forbids it.
    #[error("cell {cell} is not sent: {why}")]
    Forbidden {
        /// The cell.
        cell: String,
        /// The rule.
        why: String,
    },
    /// The shipment is in another stage.
    #[error("shipment {shipment} {is}")]
    WrongStage {
        /// The shipment.
        shipment: String,
        /// In what stage it is.
        is: String,
    },
    /// The receiver has not agreed.
    #[error("no receiver has agreed to shipment {0}")]
    NotAgreed(String),
    /// The draft no longer tells what is there.
    #[error("the draft of shipment {shipment} no longer fits: {what}")]
    DraftOutdated {
        /// The shipment.
        shipment: String,
        /// What has changed.
        what: String,
    },
    /// The waste code is not valid on the day.
    #[error("waste code {given} may not be used on {on}; on that day: {valid}")]
    WasteCode {
        /// The code given.
        given: String,
        /// The day.
        on: Date,
        /// The codes of that day.
        valid: String,
    },
    /// No test record can be made.
    #[error("no test record for cell {cell}: {why}")]
    NoUsedRecord {
        /// The cell.
        cell: String,
        /// Why not.
        why: String,
    },
    /// A record of a cell's life that says nothing.
    #[error("the record of cell {0} says nothing")]
    EmptyRecord(String),
    /// The cell is in a device.
    #[error("cell {cell} is fitted in {device} since {since}")]
    IsFitted {
        /// The cell.
        cell: String,
        /// The device or job.
        device: String,
        /// Since when.
        since: Date,
    },
    /// The cell is in no device.
    #[error("cell {0} is fitted in no device")]
    NotFitted(String),
    /// Something stands against the cell.
    #[error("cell {cell} is not to be fitted: {why}")]
    NotToBeFitted {
        /// The cell.
        cell: String,
        /// What stands against it.
        why: String,
    },
    /// Nothing proves that the cell may serve again.
    #[error("cell {cell} is not to be fitted to stay: {why}")]
    NotProven {
        /// The cell.
        cell: String,
        /// What is not known.
        why: String,
    },
    /// A judgement milder than the tool's proposal, without a reason.
    #[error("\"{state}\" is milder than \"{proposed}\", which the tool proposes; say why")]
    Milder {
        /// The judgement.
        state: LegalState,
        /// What the tool proposes.
        proposed: LegalState,
    },
    /// What is said on receipt does not go together, or something is missing.
    #[error("{cell} is not received so: {why}")]
    BadReceipt {
        /// The name.
        cell: String,
        /// What is wrong or missing.
        why: String,
    },
    /// It is not the shop's to discard.
    #[error("{cell} is not to be discarded: {why}")]
    NoConsent {
        /// The cell or thing.
        cell: String,
        /// Whose it is, and what was said.
        why: String,
    },
    /// Damaged cells are packed singly.
    #[error(
        "lot {lot} counts as damaged and has {cells} cells: damaged ones are sent each in a packing of its own"
    )]
    LotOfDamaged {
        /// The lot.
        lot: String,
        /// How many cells it has.
        cells: u32,
    },
    /// Something does not leave, come back or follow so.
    #[error(transparent)]
    OnLeaving(#[from] RefusalOnLeaving),
    /// A container is not moved, repacked or sent so.
    #[error(transparent)]
    OnContainer(#[from] RefusalOnContainer),
    /// Something is not written down as an irregularity.
    #[error(transparent)]
    OfIrregular(#[from] RefusalOfIrregular),
    /// There is no such entry.
    #[error("the book has no entry {0}")]
    NoSuchEntry(u32),
    /// The entry cannot be corrected so.
    #[error("entry {entry} cannot be corrected so: {why}")]
    NotCorrectable {
        /// The entry.
        entry: u32,
        /// Why not.
        why: String,
    },
}
