//! A short plan run over a link that loses frames, and what may be expected of it.

use crate::{Collector, LosingLink, Passing, SharedBench, samples, short_plan};
use celltriage_link::{Client, LinkError, RunEnd, read_recording};
use celltriage_protocol::event::Outcome;
use celltriage_protocol::units::Micros;

/// What came of a run.
pub struct LossyRun {
    /// How it ended.
    pub end: Result<RunEnd, LinkError>,
    /// What was seen of it.
    pub watch: Collector,
    /// The bench afterwards.
    pub bench: SharedBench,
}

impl LossyRun {
    /// Runs the plan over a link that loses what the rule says.
    pub fn of(is_lost: impl FnMut(&Passing) -> bool) -> Self {
        let (bench, mut watch) = (SharedBench::sound(11), Collector::default());
        let link = LosingLink::on(&bench, is_lost);
        let end =
            Client::connect(link).and_then(|(mut client, ..)| client.run(&short_plan(10_000), &mut watch));
        Self { end, watch, bench }
    }

    /// Numbers of the events in the order in which they were kept.
    pub fn numbers(&self) -> Vec<u32> {
        read_recording(&self.watch.frames).events.iter().map(|(number, _)| *number).collect()
    }

    /// Sees that the plan was run to its end and every event had once.
    ///
    /// # Panics
    /// If it was not.
    pub fn assert_whole(&self, wanted: usize, what: &str) {
        assert_eq!(
            self.end.as_ref().map(|end| end.outcome).ok(),
            Some(Outcome::Complete),
            "{what}: {:?}",
            self.end
        );
        let numbers = self.numbers();
        assert!(numbers.windows(2).all(|pair| pair[1] == pair[0] + 1), "{what}: {numbers:?}");
        // A start that comes later moves the plan against the readings of temperature, which cost samples.
        assert!(samples(&self.watch.events).abs_diff(wanted) <= 20, "{what}");
        self.assert_over(what);
    }

    /// Sees that the load is off and that it did not take longer than it may.
    ///
    /// # Panics
    /// If it is not.
    pub fn assert_over(&self, what: &str) {
        let mut bench = self.bench.0.borrow_mut();
        // 7 s of steps, 2 s before the first, 30 s, and at most 9 s for getting through before the start.
        assert!(bench.now() <= Micros::from_secs(7 + 2 + 30 + 9), "{what}: {:?}", bench.now());
        // The last stop, or the silence that follows, takes effect.
        bench.receive(Micros::from_millis(3_100), &mut Vec::new());
        while bench.receive(Micros::from_millis(100), &mut Vec::new()) > 0 {}
        assert!(!bench.load_is_on(), "{what}: the load is still on");
    }
}
