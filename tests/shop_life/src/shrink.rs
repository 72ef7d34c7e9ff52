//! A story that breaks a promise, made shorter as long as it breaks the same one.

use crate::life::{Broken, play};
use crate::step::Step;

/// Returns a story from which no step can be left out, and what it breaks.
pub fn shrunk(story: &[Step], broken: &Broken) -> (Vec<Step>, Broken) {
    let mut story = story[..=broken.at].to_vec();
    let mut broken = broken.clone();
    // Halves first, then single steps.
    let mut piece = story.len().div_ceil(2);
    while piece > 0 {
        let mut at = 0;
        while at < story.len() {
            let mut shorter = story.clone();
            shorter.drain(at..(at + piece).min(story.len()));
            match play(&shorter) {
                Err(other) if other.promise == broken.promise => {
                    shorter.truncate(other.at + 1);
                    (story, broken) = (shorter, *other);
                }
                _ => at += piece,
            }
        }
        piece = if piece == 1 { 0 } else { piece.div_ceil(2) };
    }
    (story, broken)
}

/// Tells a story in plain words.
pub fn in_words(story: &[Step], broken: &Broken) -> String {
    let steps: Vec<String> =
        story.iter().enumerate().map(|(at, step)| format!("{:>3}. {step}", at + 1)).collect();
    format!("{}\nbroken after step {}: {}: {}", steps.join("\n"), broken.at + 1, broken.promise, broken.what)
}
