//! What is shown while a book is copied or verified, and how its numbers are said.

use crate::io::{Io, bar_in, fitted};
use celltriage_workshop::copies::CopyStep;
use indicatif::ProgressBar;
use std::time::{Duration, Instant};

/// How often progress is reported where no bar can be drawn.
const TELL_EVERY: Duration = Duration::from_secs(10);
/// How often a bar without an end is drawn: the seconds on it count.
const TICK: Duration = Duration::from_millis(250);

/// A bar where a line can be redrawn, lines elsewhere.
pub(super) struct Progress<'a, 'io> {
    io: &'a mut Io<'io>,
    /// The bar, and what it counts.
    bar: Option<(ProgressBar, &'static str)>,
    told_at: Instant,
}

impl<'a, 'io> Progress<'a, 'io> {
    pub(super) fn on(io: &'a mut Io<'io>) -> Self {
        Self { io, bar: None, told_at: Instant::now() }
    }

    /// Shows one step; a step of another sort begins another bar.
    pub(super) fn step(&mut self, step: CopyStep) {
        let (what, done, of) = match step {
            CopyStep::Copied { done, of } => ("copied", done, of),
            CopyStep::Verifies => ("verifying", 0, 0),
            CopyStep::Saved(number) => ("saved up to entry", number.into(), 0),
        };
        if !self.io.draws() {
            return self.line(what, done, of);
        }
        if self.bar.as_ref().is_none_or(|(_, counts)| *counts != what) {
            self.clear();
            self.bar = Some((drawn(of), what));
        }
        if let Some((bar, _)) = &self.bar {
            bar.set_position(done);
            bar.set_message(if step == CopyStep::Verifies || of > 0 {
                what.to_owned()
            } else {
                format!("{what} {done}")
            });
        }
    }

    fn line(&mut self, what: &str, done: u64, of: u64) {
        if self.told_at.elapsed() < TELL_EVERY {
            return;
        }
        self.told_at = Instant::now();
        match (done * 100).checked_div(of) {
            Some(percent) => self.io.progress(&format!("  {what}: {percent} %")),
            None if done > 0 => self.io.progress(&format!("  {what} {done}")),
            None => self.io.progress(&format!("  {what}")),
        }
    }

    fn clear(&mut self) {
        if let Some((bar, _)) = self.bar.take() {
            bar.finish_and_clear();
        }
    }
}

impl Drop for Progress<'_, '_> {
    fn drop(&mut self) {
        self.clear();
    }
}

fn drawn(of: u64) -> ProgressBar {
    let template =
        if of > 0 { "  [{bar:30}] {percent:>3} %  {wide_msg}" } else { "  {spinner} {elapsed}  {wide_msg}" };
    let bar = bar_in(of, template);
    if of == 0 {
        bar.enable_steady_tick(TICK);
    }
    bar
}

/// Says a line of text, broken between words where a terminal would break it inside one.
pub(super) fn say_line(text: &str, io: &mut Io<'_>) {
    let text = if io.screen { fitted(text, io.width) } else { text.to_owned() };
    io.say(&text);
}

/// Says a number of bytes.
pub(super) fn size(bytes: u64) -> String {
    match bytes {
        0..1_000 => format!("{bytes} bytes"),
        1_000..1_000_000 => format!("{:.1} kB", bytes as f64 / 1e3),
        1_000_000..1_000_000_000 => format!("{:.1} MB", bytes as f64 / 1e6),
        _ => format!("{:.2} GB", bytes as f64 / 1e9),
    }
}

/// Says how many of something, by its name for one.
pub(super) fn counted(count: impl Into<u64>, one: &str, many: &str) -> String {
    match count.into() {
        1 => format!("1 {one}"),
        count => format!("{count} {many}"),
    }
}

/// Says numbers in their order, those that follow each other as from and to.
pub(super) fn numbers(numbers: &[u32]) -> String {
    let mut runs: Vec<(u32, u32)> = Vec::new();
    for number in numbers {
        match runs.last_mut() {
            Some((_, last)) if last.checked_add(1) == Some(*number) => *last = *number,
            _ => runs.push((*number, *number)),
        }
    }
    let said = runs.iter().map(|(first, last)| match last - first {
        0 => first.to_string(),
        1 => format!("{first}, {last}"),
        _ => format!("{first} to {last}"),
    });
    said.collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_that_follow_each_other_are_said_once() {
        for (all, said) in [
            (&[][..], ""),
            (&[4], "4"),
            (&[4, 5, 7], "4, 5, 7"),
            (&[1, 2, 3, 9, 11, 12, 13], "1 to 3, 9, 11 to 13"),
        ] {
            assert_eq!(numbers(all), said);
        }
        assert_eq!(
            (counted(1_u32, "entry", "entries"), counted(0_u32, "entry", "entries")),
            ("1 entry".into(), "0 entries".into())
        );
        assert_eq!(
            (size(999), size(1_500), size(2_500_000)),
            ("999 bytes".into(), "1.5 kB".into(), "2.5 MB".into())
        );
    }
}
