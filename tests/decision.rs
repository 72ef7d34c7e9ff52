//! From what is typed to a decision: pages, what is known before, danger words, clocks, simulated cells.

#[path = "answers_kept.rs"]
mod answers_kept;
#[path = "batch.rs"]
mod batch;
#[path = "calm_run.rs"]
mod calm_run;
#[path = "cell_names.rs"]
mod cell_names;
#[path = "command.rs"]
mod command;
#[path = "danger_first.rs"]
mod danger_first;
#[path = "decisions.rs"]
mod decisions;
#[path = "foreign_columns.rs"]
mod foreign_columns;
#[path = "grade_many.rs"]
mod grade_many;
#[path = "guided.rs"]
mod guided;
#[path = "guided_labels.rs"]
mod guided_labels;
#[path = "known_before.rs"]
mod known_before;
#[path = "known_first.rs"]
mod known_first;
#[path = "origin_and_trial.rs"]
mod origin_and_trial;
#[path = "plain_text.rs"]
mod plain_text;
#[path = "same_cell.rs"]
mod same_cell;
#[path = "simulated_apart.rs"]
mod simulated_apart;
#[path = "simulated_cells.rs"]
mod simulated_cells;
#[path = "visits.rs"]
mod visits;
#[path = "wrong_clock.rs"]
mod wrong_clock;
#[path = "wrong_clock_watch.rs"]
mod wrong_clock_watch;
