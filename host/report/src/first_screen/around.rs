//! What a face knows beside the assessment: whether a book holds it, and what is typed for what comes next.

/// Something that a person may type next.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ToType {
    /// To write down that it goes into a device.
    Fit,
    /// To judge what it is in law.
    Judge,
    /// To assess it again.
    Assess,
    /// To be led through charge, rest and discharge.
    Guided,
    /// To put it under watch.
    Watch,
    /// To have the decision in a book.
    Keep,
    /// To see all of it.
    Whole,
    /// To see it number by number.
    Numbers,
}

impl ToType {
    /// All of them.
    pub const ALL: [ToType; 8] = [
        ToType::Fit,
        ToType::Judge,
        ToType::Assess,
        ToType::Guided,
        ToType::Watch,
        ToType::Keep,
        ToType::Whole,
        ToType::Numbers,
    ];
}

/// What stands around the assessment.
#[derive(Clone, Copy)]
pub struct Around<'a> {
    /// Whether a book was asked about the cell and holds the decision, or will.
    pub in_book: bool,
    /// The words to type, as the face has them.
    pub typed: &'a dyn Fn(ToType) -> String,
}

impl Around<'_> {
    /// Returns what to type; it stays on one line.
    pub(super) fn command(&self, what: ToType) -> String {
        (self.typed)(what).replace(' ', "\u{a0}")
    }
}
