//! The signs of the checklist: all that are open on one screen, then one by one with their number; one key for none of them.
//!
//! Why `0` and not `n` for none of all these: whoever goes through the questions with `n` must never answer those unread that are
//! left. Whether the cell reacts is never among them: it is asked first and alone.

use super::{Questions, Reply};
use crate::error::Error;
use crate::io::{Io, fitted};
use crate::spoken::spoken;
use celltriage_measure::observation::{Answer, Observations, Sign};

/// Typed where every open sign was looked for and none was found.
const NONE_OF_THESE: &str = "0";
/// Told once, under the list.
const KEYS: [&str; 2] = [
    "y found, n not found, Enter not looked, ? how to look, b back, Ctrl-C stop",
    "0 looked all over for every sign listed and still open, and found none",
];

impl Questions<'_> {
    /// Asks the open signs from one of them on.
    ///
    /// # Errors
    /// As [`Questions::reacts`].
    pub(super) fn signs(
        &self,
        open: &[Sign],
        from: usize,
        looks: &mut Observations,
        io: &mut Io<'_>,
    ) -> Result<(), Error> {
        let mut at = from;
        while let Some(sign) = open.get(at).copied() {
            if self.is_settled(looks) {
                if looks.answer(Sign::ActiveNow) != Answer::Yes {
                    io.note(match looks.any_found() {
                        true => "a sign was found, which decides: the other signs are not asked",
                        false => "what is known of it decides: the other signs are not asked",
                    });
                }
                return Ok(());
            }
            if at == 0 && from == 0 && open.len() > 1 {
                list(open, io);
            }
            let line = self.ask(&question(sign), io)?;
            match (Reply::of(&line), spoken(&line)) {
                (Reply::Back, _) if at == 0 => {
                    looks.set(Sign::ActiveNow, self.whether_it_reacts(io)?);
                    if looks.answer(Sign::ActiveNow) == Answer::Yes {
                        crate::danger_first::tell(io);
                    }
                }
                (Reply::Back, _) => {
                    at -= 1;
                    open.get(at).map(|sign| looks.signs.remove(sign));
                }
                (Reply::Text(text), _) if text == NONE_OF_THESE => {
                    open.iter().skip(at).for_each(|sign| looks.set(*sign, Answer::No));
                    at = open.len();
                }
                (_, Some(answer)) => {
                    looks.set(sign, answer);
                    at += 1;
                }
                (_, None) => io.note(&format!("  {}", sign.help())),
            }
            self.keep(looks, io);
        }
        Ok(())
    }

    /// Asks whether the cell is reacting now.
    ///
    /// # Errors
    /// As [`Questions::reacts`].
    pub(super) fn whether_it_reacts(&self, io: &mut Io<'_>) -> Result<Answer, Error> {
        loop {
            let line = self.ask(&format!("{}[y/n] ", question(Sign::ActiveNow)), io)?;
            match spoken(&line) {
                Some(answer) => return Ok(answer),
                None => io.note(&format!("  {}", Sign::ActiveNow.help())),
            }
        }
    }
}

/// Shows the signs that are open, with the keys.
fn list(open: &[Sign], io: &mut Io<'_>) {
    io.note("Look at the cell all over, under good light, for each of these:");
    for sign in open {
        let line = format!(" {}  {}", number(*sign), sign.question());
        io.note(&fitted(&line, io.width).replace('\n', "\n    "));
    }
    KEYS.iter().for_each(|line| io.note(line));
}

fn number(sign: Sign) -> usize {
    1 + Sign::ALL.into_iter().position(|one| one == sign).unwrap_or_default()
}

fn question(sign: Sign) -> String {
    format!("{} of {}  {} ", number(sign), Sign::ALL.len(), sign.question())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_question_fits_a_line_or_two_and_the_list_fits_the_screen() {
        for sign in Sign::ALL {
            assert!(fitted(&question(sign), 80).lines().count() <= 2, "{}", question(sign));
        }
        assert!(KEYS.iter().all(|line| line.len() < 80));
    }
}
