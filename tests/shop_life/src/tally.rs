//! What stories were made of, so that one sees that they get far.

use std::ops::AddAssign;

macro_rules! counted {
    ($($(#[$says:meta])* $name:ident),* $(,)?) => {
        /// What stories were made of.
        #[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
        pub struct Tally { $($(#[$says])* pub $name: u64),* }

        impl AddAssign for Tally {
            fn add_assign(&mut self, other: Self) {
                $(self.$name += other.$name;)*
            }
        }
    };
}

counted! {
    /// Steps.
    steps,
    /// Steps that were refused.
    refused,
    /// Tests for which the fixture was reached.
    on_fixture,
    /// Tests that were kept off the fixture.
    kept_off,
    /// Tests whose host was killed.
    killed,
    /// Tests in which something else went wrong.
    mishaps,
    /// Tests that came to no end in order.
    unfinished,
    /// Tests on a fixture that had drifted.
    drifted,
    /// Measurements of the check standard.
    standards,
    /// Those that stopped the fixture.
    stopped,
    /// Cells graded for reuse.
    reuse,
    /// Traces that were graded.
    graded,
    /// Traces graded for reuse.
    reuse_of_a_trace,
    /// Cells that lay in a box.
    boxed,
    /// Watches that ended.
    released,
    /// Boxes that left.
    left,
    /// Records of used cells.
    records,
    /// Entries that were struck.
    struck,
    /// Findings that were ended by their rule.
    ended,
    /// Cells that went into a device.
    fitted,
    /// Changes to the other bench of the shop.
    other_bench,
    /// Times when two programs wrote at the same moment.
    at_once,
    /// Entries that were written at a bench away and merged.
    merged,
    /// Watches on the fixture.
    hot_watches,
    /// Alarms of these, warm ones and about the watch.
    alarms,
    /// Alarms that said that a cell reacts.
    reacting,
    /// Alarms that were ended by a new watch.
    alarms_ended,
    /// Times when the disk was full.
    full_disks,
    /// What was not taken by the book for that, and told so.
    untaken,
    /// What lay beside a book and was taken in.
    taken_in,
}
