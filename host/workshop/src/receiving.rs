//! What comes into the workshop before anybody has measured it: received, with what was seen of it, whose it is, and its photographs.

use crate::danger::emergency_at;
use crate::event::{Attendant, WorkEvent};
use crate::fault::{Fault, Result};
use crate::shop::Workshop;
use crate::signer::{Entered, Signer};
use celltriage_book::NewAttachment;
use celltriage_custody::circumstances::Circumstances;
use celltriage_custody::event::{Event, Received};
use celltriage_custody::{PackRules, Scope, State};
use celltriage_rules::PlaceCode;
use std::path::{Path, PathBuf};

/// A photograph larger than this, in bytes, is not taken into the book (our choice: a telephone makes smaller ones).
const LARGEST_PHOTOGRAPH: usize = 20 * 1024 * 1024;
/// How a picture begins, with its media type.
const PICTURES: [(&[u8], &str); 3] = [
    (&[0xff, 0xd8, 0xff], "image/jpeg"),
    (&[0x89, b'P', b'N', b'G', 0x0d, 0x0a, 0x1a, 0x0a], "image/png"),
    (b"RIFF", "image/webp"),
];

/// Something received.
#[derive(Clone, Debug, Default)]
pub struct NewReceipt {
    /// What is said of it; the names of its photographs are those of the files.
    pub told: Received,
    /// Files with photographs.
    pub photographs: Vec<PathBuf>,
    /// Where the shop is, for the emergency number; `None`: not known.
    pub place: Option<PlaceCode>,
}

impl Workshop<'_> {
    /// Writes down that something was received, or what else is known of it. If it is reacting, what to do is told before anything else,
    /// and a clock in doubt holds nothing up.
    ///
    /// # Errors
    /// A photograph cannot be read, or as [`Workshop::enter`].
    pub fn receive(
        &mut self,
        signer: &Signer,
        rules: &PackRules,
        new: &NewReceipt,
        attendant: &mut Attendant<'_>,
    ) -> Result<Entered> {
        let urgent = new.told.is_urgent();
        if urgent {
            let place = new.place.clone().or_else(|| self.place_of(&new.told.cell));
            attendant.sees(&WorkEvent::Emergency(emergency_at(place.as_ref(), rules.packs())));
        }
        let files = new.photographs.iter().map(|path| photograph(path)).collect::<Result<Vec<_>>>()?;
        let names = files.iter().map(|file| file.name.clone()).collect();
        let told = Received { photographs: names, ..new.told.clone() };
        let make = |_: &State, _: &Circumstances<'_>| Ok(Event::Received(Box::new(told.clone())));
        if urgent {
            self.warn_of_clock(signer, attendant)?;
        } else {
            self.clock_reading()?.allows(signer.clock)?;
        }
        self.write_signed_with(signer, rules, Scope::Names(&[&new.told.cell]), &files, make)
    }
}

/// Reads a photograph as it is kept with an entry, under the name of its file.
fn photograph(path: &Path) -> Result<NewAttachment> {
    let no = |why: String| Fault::NoPhotograph { file: path.to_owned(), why };
    let bytes = std::fs::read(path).map_err(|error| no(error.to_string()))?;
    if bytes.len() > LARGEST_PHOTOGRAPH {
        return Err(no(format!("it has {} bytes, and {LARGEST_PHOTOGRAPH} is the most", bytes.len())));
    }
    let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let kind = PICTURES.into_iter().find(|(beginning, _)| bytes.starts_with(beginning));
    let Some((_, media_type)) =
        kind.filter(|(_, kind)| *kind != "image/webp" || bytes.get(8..12) == Some(b"WEBP"))
    else {
        return Err(no("it is no picture: JPEG, PNG and WebP are taken".to_owned()));
    };
    Ok(NewAttachment { name, media_type: media_type.to_owned(), bytes })
}
