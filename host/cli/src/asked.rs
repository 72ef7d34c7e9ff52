//! What a call lacks, asked of a person at the terminal: the cell's id, its model, its label. Answers are data before the call begins.
//!
//! | file | what |
//! |---|---|
//! | [`id`] | a cell's id, scanned or typed; a link of another maker |
//! | [`model`] | the model, from the shop's own labels |
//! | [`label`] | the label of a model that is not known yet, field by field |
//! | [`label_read`] | a label as it was read, and its figures in words |

pub mod id;
pub mod label;
pub mod label_read;
pub mod model;

use crate::error::Error;
use crate::io::Io;
use crate::questions::Reply;

/// Asks one question.
///
/// # Errors
/// The input has ended, or nobody is there.
fn ask(question: &str, io: &mut Io<'_>) -> Result<Reply, Error> {
    Reply::to(question, io).ok_or_else(|| {
        Error::input("the questions were ended; nothing was measured or written")
            .hint("call again, or give what is asked for as options: its help has them")
    })
}
