//! The watch over a cell that was or may become hot: left on the fixture without load, looked at for hours.
//!
//! | file | what |
//! |---|---|
//! | [`alarm`] | an alarm: level, cause, limits |
//! | [`judge`] | readings in, alarms out: pure; with `trend`, which tells heat that grows from a cell that takes on the room's temperature |
//! | [`watch`] | the hours themselves: ask, judge, keep, tell |
//! | [`record`] | what the book is told |
//! | [`keeper`] | what is kept, in the book or beside it; [`unkept`]: alarms that lie beside it |
//!
//! No load plan is sent: whatever plan the fixture holds is replaced by one marked *watch only*, which it would refuse to
//! load. A fixture that has tripped can be watched as it is; its trip stays latched and its load off.

pub mod alarm;
pub mod judge;
pub mod keeper;
pub mod record;
mod trend;
pub mod unkept;
pub mod watch;
