//! Keeps every frame of a run, and passes on what happens.
//!
//! Frames go into memory at once, for the estimates, and from there into the book by a thread of its own about once a second, so
//! that a crash of the host loses at most the last second. The run never waits for that: whoever says nothing to the fixture is
//! taken for gone, and the load drops.

use crate::event::{Attendant, WorkEvent};
use crate::settling::Settling;
use celltriage_book::{News, Writer};
use celltriage_link::{Attendant as Attends, Recorder, RunEvent};

/// So much of a run is held in memory at most (our choice: five times the longest discharge at 1 kHz).
pub const MOST_BYTES: usize = 512 << 20;

/// The recorder of one run.
pub struct RunRecorder<'a, 'b> {
    writer: Writer,
    attendant: &'a mut Attendant<'b>,
    remarks: Vec<String>,
    settling: Option<Settling<'a>>,
}

impl<'a, 'b> RunRecorder<'a, 'b> {
    /// Begins with nothing kept.
    pub fn new(writer: Writer, attendant: &'a mut Attendant<'b>) -> Self {
        Self { writer, attendant, remarks: Vec::new(), settling: None }
    }

    /// Ends the run as soon as its answer is settled.
    #[must_use]
    pub fn until_settled(self, settling: Option<Settling<'a>>) -> Self {
        Self { settling, ..self }
    }

    /// Takes a frame.
    pub fn take(&mut self, frame: &[u8]) {
        self.writer.push(frame);
        self.tell();
    }

    /// Ends the run; returns who has its frames, with what was odd about the link.
    pub fn finish(mut self) -> (Writer, Vec<String>) {
        self.tell();
        self.attendant.sees(&WorkEvent::RunEnds);
        match self.writer.lost_frames() {
            0 => {}
            lost => self.remarks.push(format!("{lost} frames of the run are lost: memory was full of them")),
        }
        match self.writer.read(|dropped, _| dropped) {
            0 => {}
            dropped => {
                self.remarks.push(format!("the first {dropped} bytes of the run are in the book alone"))
            }
        }
        (self.writer, self.remarks)
    }

    /// Tells what is new of the book.
    fn tell(&mut self) {
        for news in self.writer.news() {
            self.attendant.sees(&match news {
                News::NotKept(why) => WorkEvent::NotKept(why),
                News::KeptAgain { lost_frames } => WorkEvent::KeptAgain { lost_frames },
                News::Losing => WorkEvent::FramesLost,
            });
        }
    }
}

impl Attends<RunEvent> for RunRecorder<'_, '_> {
    fn sees(&mut self, event: &RunEvent) {
        if let RunEvent::Remark(text) = event {
            self.remarks.push(format!("link: {text}"));
        }
        self.attendant.sees(&WorkEvent::Run(event.clone()));
        if let (Some(settling), RunEvent::Fixture(event)) = (&mut self.settling, event) {
            for told in settling.sees(event, &self.writer) {
                self.attendant.sees(&told);
            }
        }
        self.tell();
    }

    fn stop_wanted(&self) -> bool {
        self.attendant.stop_wanted()
    }
}

impl Recorder for RunRecorder<'_, '_> {
    fn keep(&mut self, frame: &[u8]) -> Result<(), String> {
        self.take(frame);
        Ok(())
    }

    fn settled(&self) -> bool {
        self.settling.as_ref().is_some_and(Settling::is_settled)
    }
}
