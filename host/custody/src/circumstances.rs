//! The day and the local rules under which an event is checked.

use crate::local_rules::LocalRules;
use jiff::civil::Date;

/// Day and local rules under which an event is checked.
#[derive(Clone, Copy)]
pub struct Circumstances<'a> {
    /// Today, where the shop is.
    pub today: Date,
    /// Local rules.
    pub rules: &'a dyn LocalRules,
}
