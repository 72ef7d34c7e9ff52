//! What has already happened although the rules refuse it: the option that says so, and the hint that names it.

use crate::desk::Desk;
use crate::error::Error;
use celltriage_custody::CustodyError;
use celltriage_workshop::Fault;
use celltriage_workshop::as_it_was::Happened;
use celltriage_workshop::signer::{Entered, Signer};
use clap::Args;

/// That it has happened against the rules.
#[derive(Clone, Debug, Default, Args)]
#[command(next_help_heading = "Against the rules")]
pub struct AsItWas {
    /// It has happened already and the rules refuse it: write it down as it was, flagged, with what is done about it now.
    ///
    /// It stays in `due` and in the story until `celltriage irregularity remedy` says what put it right. It makes nothing possible: what
    /// stands against a cell stays, and the cell is screened again before it serves.
    #[arg(long = "irregular", value_name = "WHAT IS DONE ABOUT IT")]
    pub action: Option<String>,
}

impl AsItWas {
    /// Writes down what has happened: by the rules, or where it is said to be irregular as it was.
    ///
    /// # Errors
    /// The refusal, with how what has already happened is written down; or a book error.
    pub fn enter(
        &self,
        desk: &mut Desk<'_>,
        signer: &Signer,
        happened: &Happened,
        by_the_rules: impl FnOnce(&mut Desk<'_>) -> Result<Entered, Fault>,
    ) -> Result<Entered, Error> {
        match &self.action {
            Some(action) => Ok(desk.shop.write_as_it_was(signer, &desk.rules, happened, action)?),
            None => by_the_rules(desk).map_err(with_hint),
        }
    }
}

/// Adds to a refusal by a rule how that is written down which has already happened.
pub fn with_hint(fault: Fault) -> Error {
    let by_a_rule = match &fault {
        Fault::Custody(error) => matches!(&**error, CustodyError::Refused(refusal) if refusal.is_a_rule()),
        _ => false,
    };
    let error = Error::from(fault);
    if by_a_rule {
        error.hint(
            "if it has already happened, write it down as it was: the same with --irregular 'WHAT IS DONE ABOUT IT'",
        )
    } else {
        error
    }
}
