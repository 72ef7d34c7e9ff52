//! Writes an image for the simulated board, so that `celltriage fixture update --simulated` can be tried.
//!
//! ```sh
//! cargo run -p celltriage-simulated-board --example image -- new.uf2 0123456789ab
//! celltriage fixture update new.uf2 --simulated supply --drive FOLDER --by NAME
//! ```
//! The second argument is the commit that it names.

use celltriage_protocol::description::COMMIT;
use celltriage_simulated_board::image::for_this_board;
use std::error::Error;

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args().skip(1);
    let file = arguments.next().ok_or("the name of the file is missing")?;
    let commit = arguments.next().unwrap_or_else(|| "0123456789ab".to_owned());
    if commit.len() > COMMIT || !commit.chars().all(|letter| letter.is_ascii_graphic()) {
        return Err(format!("a commit has at most {COMMIT} letters and digits").into());
    }
    std::fs::write(file, for_this_board(&commit))?;
    Ok(())
}
