//! From what is typed to a decision: pages, what is known before, danger words, clocks, simulated cells.

#[path = "command.rs"]
mod command;
#[path = "danger_first.rs"]
mod danger_first;
#[path = "decisions.rs"]
mod decisions;
#[path = "grade_many.rs"]
mod grade_many;
#[path = "guided.rs"]
mod guided;
#[path = "known_before.rs"]
mod known_before;
#[path = "plain_text.rs"]
mod plain_text;
#[path = "simulated_cells.rs"]
mod simulated_cells;
#[path = "wrong_clock.rs"]
mod wrong_clock;
