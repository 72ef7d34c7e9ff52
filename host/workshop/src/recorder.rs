//! Keeps every frame of a run, and passes on what happens.
//!
//! Frames go into the book's recording about once a second while the run lasts, so that a crash of the host loses at
//! most the last second, and into memory for the estimates.

use crate::event::{Attendant, WorkEvent};
use celltriage_book::{Book, Problem, RecordingNumber};
use celltriage_link::{Attendant as Attends, Recorder, RunEvent};
use std::time::{Duration, Instant};

/// How often the recording is brought to the disk.
const FLUSH_EVERY: Duration = Duration::from_secs(1);
/// A recording that grows faster than this is brought to the disk earlier.
const FLUSH_BYTES: usize = 256 * 1024;

/// The recorder of one run.
pub struct RunRecorder<'a, 'b> {
    book: &'a mut Book,
    number: RecordingNumber,
    attendant: &'a mut Attendant<'b>,
    frames: Vec<u8>,
    flushed: usize,
    flushed_at: Instant,
    /// Another program holds the book locked: frames wait in memory.
    locked: bool,
    remarks: Vec<String>,
}

impl<'a, 'b> RunRecorder<'a, 'b> {
    /// Begins with nothing kept.
    pub fn new(book: &'a mut Book, number: RecordingNumber, attendant: &'a mut Attendant<'b>) -> Self {
        Self {
            book,
            number,
            attendant,
            frames: Vec::new(),
            flushed: 0,
            flushed_at: Instant::now(),
            locked: false,
            remarks: Vec::new(),
        }
    }

    /// Ends the recording: brings the rest to the disk, and returns all frames with what was odd about the link.
    ///
    /// # Errors
    /// A sentence if the book did not take the rest.
    pub fn finish(mut self) -> Result<(Vec<u8>, Vec<String>), String> {
        self.attendant.sees(&WorkEvent::RunEnds);
        if let Some(rest) = self.frames.get(self.flushed..).filter(|rest| !rest.is_empty()) {
            self.book.append_recording(self.number, rest).map_err(|error| error.to_string())?;
        }
        Ok((self.frames, std::mem::take(&mut self.remarks)))
    }

    /// Brings the frames to the disk while the fixture runs. Whoever waits for another program's lock says nothing to the
    /// fixture, which then takes the host for gone: what is not kept now is tried again a second later.
    fn flush_soon(&mut self) -> Result<(), String> {
        self.flushed_at = Instant::now();
        let Some(rest) = self.frames.get(self.flushed..).filter(|rest| !rest.is_empty()) else {
            return Ok(());
        };
        let was_locked = self.locked;
        match self.book.append_recording_soon(self.number, rest) {
            Ok(()) => {
                self.flushed = self.frames.len();
                self.locked = false;
                if was_locked {
                    self.attendant.sees(&WorkEvent::BookTakesAgain);
                }
                Ok(())
            }
            Err(error) if matches!(error.problem, Problem::Locked) => {
                self.locked = true;
                if !was_locked {
                    self.attendant.sees(&WorkEvent::BookLocked(error.path));
                }
                Ok(())
            }
            Err(error) => Err(error.to_string()),
        }
    }
}

impl Attends<RunEvent> for RunRecorder<'_, '_> {
    fn sees(&mut self, event: &RunEvent) {
        if let RunEvent::Remark(text) = event {
            self.remarks.push(format!("link: {text}"));
        }
        self.attendant.sees(&WorkEvent::Run(event.clone()));
    }

    fn stop_wanted(&self) -> bool {
        self.attendant.stop_wanted()
    }
}

impl Recorder for RunRecorder<'_, '_> {
    fn keep(&mut self, frame: &[u8]) -> Result<(), String> {
        self.frames.extend_from_slice(frame);
        let waiting = self.frames.len() - self.flushed;
        if self.flushed_at.elapsed() >= FLUSH_EVERY || waiting >= FLUSH_BYTES && !self.locked {
            self.flush_soon()?;
        }
        Ok(())
    }
}
