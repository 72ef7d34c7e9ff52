//! Refusing: the database itself takes no change, whoever asks.

use super::three_entries;

/// What a trigger says of a row out of turn.
const TURN: [&str; 4] = ["without gaps", "is sealed", "is finished", "stored already"];

#[test]
fn the_database_itself_refuses_every_change() {
    let shelf = three_entries();
    let stranger = shelf.stranger();
    let tables = ["entry", "content", "attachment", "recording", "recording_chunk", "finished_recording"];
    let in_file: i64 = stranger
        .query_row("SELECT count(*) FROM sqlite_schema WHERE type = 'table'", [], |row| row.get(0))
        .unwrap();
    assert_eq!(in_file, tables.len() as i64, "a table was added without its triggers being tested");
    for table in tables {
        let column: String = stranger
            .query_row("SELECT name FROM pragma_table_info($1) LIMIT 1", [table], |row| row.get(0))
            .unwrap();
        // The words are the triggers' own: a refusal by a foreign key would leave the last row unguarded.
        for (statement, refusals) in [
            (format!("UPDATE {table} SET {column} = {column}"), &["append-only"][..]),
            (format!("DELETE FROM {table}"), &["append-only"]),
            (format!("INSERT OR REPLACE INTO {table} SELECT * FROM {table} LIMIT 1"), &TURN),
            (format!("REPLACE INTO {table} SELECT * FROM {table} ORDER BY 1 DESC LIMIT 1"), &TURN),
        ] {
            let error = stranger.execute(&statement, []).unwrap_err().to_string();
            assert!(refusals.iter().any(|refusal| error.contains(refusal)), "{statement}: {error}");
        }
    }
    assert!(shelf.open().verify().unwrap().passed());
}

#[test]
fn the_database_itself_takes_nothing_for_what_is_sealed() {
    let shelf = three_entries();
    let stranger = shelf.stranger();
    // A recording that may still grow, for the refusals that are not about being finished.
    stranger.execute("INSERT INTO recording VALUES (4, 0, 'C-4')", []).unwrap();
    for (statement, refusal) in [
        ("INSERT INTO attachment SELECT 1, 2, 'late.csv', 'text/csv', sha256 FROM content LIMIT 1", "entry is sealed"),
        ("INSERT INTO attachment SELECT 4, 2, 'early.csv', 'text/csv', sha256 FROM content LIMIT 1", "without gaps"),
        ("INSERT INTO recording_chunk VALUES (7, 1, 3, x'00')", "recording is finished"),
        ("INSERT INTO recording_chunk VALUES (7, 4, 2, x'00')", "without gaps"),
        ("INSERT INTO recording_chunk VALUES (8, 4, 1, x'00')", "without gaps"),
        ("INSERT INTO finished_recording VALUES (4, 3, zeroblob(32), 0)", "entry is sealed"),
        ("INSERT INTO finished_recording VALUES (1, 4, zeroblob(32), 0)", "recording is finished"),
        ("INSERT INTO recording VALUES (9, 0, 'C-9')", "without gaps"),
        ("INSERT INTO content SELECT 4, sha256, x'00' FROM content LIMIT 1", "stored already"),
        ("INSERT OR REPLACE INTO content VALUES (2, zeroblob(32), x'00')", "without gaps"),
        (
            "INSERT INTO entry SELECT 5, at_ms, kind, cell_id, fate, summary, program, inputs, result, corrects,
             previous, digest FROM entry WHERE number = 3",
            "without gaps",
        ),
    ] {
        let error = stranger.execute(statement, []).unwrap_err().to_string();
        assert!(error.contains(refusal), "{statement}: {error}");
    }
}
