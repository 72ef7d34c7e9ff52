//! Refusing: the database itself takes no change, whoever asks.

use super::three_entries;

/// What a trigger says of a row out of turn.
const TURN: [&str; 6] =
    ["without gaps", "is sealed", "is finished", "stored already", "here already", "append-only"];
/// Tables that hold what is drawn from the others.
const DRAWN: [&str; 5] = ["words", "unfinished", "kept", "kept_to", "kept_under"];

#[test]
fn the_database_itself_refuses_every_change() {
    let shelf = three_entries();
    let stranger = shelf.stranger();
    let from_another = "INSERT INTO book VALUES (2, zeroblob(16)); INSERT INTO known_as VALUES (2, 1, 1);
         INSERT INTO recording_from VALUES (1, 2, 1)";
    stranger.execute_batch(from_another).unwrap();
    let tables = [
        "entry",
        "content",
        "attachment",
        "recording",
        "recording_chunk",
        "finished_recording",
        "book",
        "chain",
        "sort",
        "text",
        "about",
        "personal",
        "stream",
        "recording_from",
        "known_as",
    ];
    let in_file: i64 = stranger
        .query_row("SELECT count(*) FROM sqlite_schema WHERE type = 'table'", [], |row| row.get(0))
        .unwrap();
    assert_eq!(
        in_file,
        (tables.len() + DRAWN.len()) as i64,
        "a table was added without its triggers being tested"
    );
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
        ("INSERT INTO content SELECT 4, sha256, x'00', 0, NULL FROM content LIMIT 1", "stored already"),
        ("INSERT OR REPLACE INTO content VALUES (2, zeroblob(32), x'00', 0, NULL)", "without gaps"),
        (
            "INSERT INTO entry SELECT 5, chain, 4, origin, 5, form, at_ms, kind, subject_kind, subject, simulated, fate,
             summary, program, corrects, inputs, result, stream, stream_digest, previous, digest FROM entry WHERE number = 3",
            "without gaps",
        ),
        (
            "INSERT INTO entry SELECT 4, chain, 5, origin, 4, form, at_ms, kind, subject_kind, subject, simulated, fate,
             summary, program, corrects, inputs, result, stream, stream_digest, previous, digest FROM entry WHERE number = 3",
            "a chain has no gaps",
        ),
        (
            "INSERT INTO entry SELECT 4, chain, 4, origin, 3, form, at_ms, kind, subject_kind, subject, simulated, fate,
             summary, program, corrects, inputs, result, stream, stream_digest, previous, digest FROM entry WHERE number = 3",
            "here already",
        ),
        ("INSERT INTO text VALUES (6, 0, x'7b7d')", "entry is sealed"),
        ("INSERT INTO about VALUES (3, 2, 'cell', 'C-9')", "entry is sealed"),
        ("INSERT INTO personal VALUES (3, 2, zeroblob(32), NULL, NULL)", "entry is sealed"),
        ("UPDATE personal SET text = NULL, salt = NULL", "append-only"),
        ("INSERT INTO stream VALUES (99, 4, 1, zeroblob(32), zeroblob(32))", "without gaps"),
        ("INSERT INTO sort VALUES (1, 'mixed')", "here already"),
    ] {
        let error = stranger.execute(statement, []).unwrap_err().to_string();
        assert!(error.contains(refusal), "{statement}: {error}");
    }
}
