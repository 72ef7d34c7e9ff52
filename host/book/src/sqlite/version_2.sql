-- The book, version 2: what version 1 has, with chains, typed subjects, packed texts and indexes.
--
-- Form: of the seal; 0 marks the place of an entry that could not be saved from a damaged book.
-- An entry is in two places: `entry` is its head, sealed and small; `text` holds what it was made from and what came out,
-- under digests that the head names. Entries that came from another book keep the number that they had there, since
-- texts name entries by it.
--
-- `words`, `unfinished` and everything called kept are drawn from the rest: they may be thrown away and made again.

CREATE TABLE book (
    number INTEGER PRIMARY KEY,
    id     BLOB NOT NULL UNIQUE CHECK (length(id) = 16)
) STRICT;

CREATE TABLE chain (
    number INTEGER PRIMARY KEY,
    id     BLOB NOT NULL UNIQUE CHECK (length(id) = 16),
    bench  TEXT NOT NULL CHECK (bench <> ''),
    home   INTEGER NOT NULL CHECK (home IN (0, 1))
) STRICT;

CREATE TABLE sort (
    one  INTEGER PRIMARY KEY CHECK (one = 1),
    sort TEXT NOT NULL CHECK (sort IN ('real', 'simulated', 'mixed'))
) STRICT;

CREATE TABLE entry (
    number        INTEGER PRIMARY KEY,
    chain         INTEGER NOT NULL REFERENCES chain (number),
    position      INTEGER NOT NULL,
    origin        INTEGER NOT NULL REFERENCES book (number),
    origin_number INTEGER NOT NULL,
    form          INTEGER NOT NULL CHECK (form IN (0, 1, 2)),
    at_ms         INTEGER NOT NULL,
    kind          TEXT    NOT NULL CHECK (kind <> ''),
    subject_kind  TEXT    NOT NULL CHECK (subject_kind <> ''),
    subject       TEXT    NOT NULL CHECK (subject <> ''),
    simulated     INTEGER          CHECK (simulated IN (0, 1)),
    fate          TEXT             CHECK (fate <> ''),
    summary       TEXT    NOT NULL,
    program       TEXT    NOT NULL,
    corrects      INTEGER,
    inputs        BLOB    NOT NULL CHECK (length(inputs) = 32),
    result        BLOB    NOT NULL CHECK (length(result) = 32),
    stream        INTEGER NOT NULL,
    stream_digest BLOB    NOT NULL CHECK (length(stream_digest) = 32),
    previous      BLOB    NOT NULL CHECK (length(previous) = 32),
    digest        BLOB    NOT NULL CHECK (length(digest) = 32),
    UNIQUE (chain, position),
    UNIQUE (origin, origin_number)
) STRICT;

-- Number: twice the entry's, and one more for the result.
CREATE TABLE text (
    number  INTEGER PRIMARY KEY,
    packing INTEGER NOT NULL,
    bytes   BLOB    NOT NULL
) STRICT;

-- All that an entry is about; the first is its subject.
CREATE TABLE about (
    entry        INTEGER NOT NULL REFERENCES entry (number) DEFERRABLE INITIALLY DEFERRED,
    position     INTEGER NOT NULL,
    subject_kind TEXT    NOT NULL CHECK (subject_kind <> ''),
    subject      TEXT    NOT NULL CHECK (subject <> ''),
    PRIMARY KEY (entry, position)
) STRICT, WITHOUT ROWID;

-- Texts about persons, taken out of summary, inputs and result, which hold a mark with the digest instead.
CREATE TABLE personal (
    entry    INTEGER NOT NULL REFERENCES entry (number) DEFERRABLE INITIALLY DEFERRED,
    position INTEGER NOT NULL,
    digest   BLOB    NOT NULL CHECK (length(digest) = 32),
    salt     BLOB             CHECK (length(salt) = 16),
    text     TEXT,
    PRIMARY KEY (entry, position)
) STRICT, WITHOUT ROWID;

-- The links of the recordings: each begin (position 0) and each chunk in the order of writing, with the digest over it
-- and the link before. Entries seal how far it had come.
CREATE TABLE stream (
    number    INTEGER PRIMARY KEY,
    recording INTEGER NOT NULL REFERENCES recording (number),
    position  INTEGER NOT NULL,
    content   BLOB    NOT NULL CHECK (length(content) = 32),
    digest    BLOB    NOT NULL CHECK (length(digest) = 32),
    UNIQUE (recording, position)
) STRICT;

-- Recordings that came with entries of another book, with the number that they had there.
CREATE TABLE recording_from (
    recording     INTEGER PRIMARY KEY REFERENCES recording (number),
    origin        INTEGER NOT NULL REFERENCES book (number),
    origin_number INTEGER NOT NULL,
    UNIQUE (origin, origin_number)
) STRICT;

-- The numbers that entries of other chains bear in other books.
CREATE TABLE known_as (
    book   INTEGER NOT NULL REFERENCES book (number),
    number INTEGER NOT NULL,
    entry  INTEGER NOT NULL REFERENCES entry (number),
    PRIMARY KEY (book, number)
) STRICT, WITHOUT ROWID;

-- Attached texts are packed like those of entries; then this is their length, and the digest is of what they are.
ALTER TABLE content ADD COLUMN packing INTEGER NOT NULL DEFAULT 0;
ALTER TABLE content ADD COLUMN length INTEGER;

CREATE TABLE words (
    entry INTEGER PRIMARY KEY,
    text  TEXT NOT NULL
) STRICT;
CREATE TABLE unfinished (
    recording INTEGER PRIMARY KEY,
    cell_id   TEXT NOT NULL
) STRICT;
CREATE TABLE kept_to (
    fold    TEXT PRIMARY KEY,
    version INTEGER NOT NULL,
    number  INTEGER NOT NULL,
    digest  BLOB    NOT NULL CHECK (length(digest) = 32)
) STRICT, WITHOUT ROWID;
CREATE TABLE kept (
    fold   TEXT    NOT NULL,
    key    TEXT    NOT NULL,
    packing INTEGER NOT NULL,
    value  BLOB    NOT NULL,
    digest BLOB    NOT NULL CHECK (length(digest) = 32),
    PRIMARY KEY (fold, key)
) STRICT, WITHOUT ROWID;
CREATE TABLE kept_under (
    fold  TEXT    NOT NULL,
    label TEXT    NOT NULL,
    rank  INTEGER NOT NULL,
    key   TEXT    NOT NULL,
    PRIMARY KEY (fold, label, rank, key)
) STRICT, WITHOUT ROWID;

CREATE INDEX entry_kind ON entry (kind, number);
CREATE INDEX entry_fate ON entry (fate, number) WHERE fate IS NOT NULL;
CREATE INDEX about_subject ON about (subject_kind, subject, entry);
CREATE INDEX kept_labels ON kept_under (fold, key);
CREATE INDEX unfinished_cell ON unfinished (cell_id);

-- Nothing is changed or taken out.
CREATE TRIGGER book_keeps BEFORE UPDATE ON book
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER book_stays BEFORE DELETE ON book
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER chain_keeps BEFORE UPDATE ON chain
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER chain_stays BEFORE DELETE ON chain
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER entry_keeps BEFORE UPDATE ON entry
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER entry_stays BEFORE DELETE ON entry
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER text_keeps BEFORE UPDATE ON text
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER text_stays BEFORE DELETE ON text
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER about_keeps BEFORE UPDATE ON about
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER about_stays BEFORE DELETE ON about
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER stream_keeps BEFORE UPDATE ON stream
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER stream_stays BEFORE DELETE ON stream
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER recording_from_keeps BEFORE UPDATE ON recording_from
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER recording_from_stays BEFORE DELETE ON recording_from
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER known_as_keeps BEFORE UPDATE ON known_as
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER known_as_stays BEFORE DELETE ON known_as
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER personal_stays BEFORE DELETE ON personal
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
-- A text about a person may be blanked, once an entry says so; its digest stays.
CREATE TRIGGER personal_keeps BEFORE UPDATE ON personal
WHEN NEW.text IS NOT NULL OR NEW.salt IS NOT NULL OR NEW.entry IS NOT OLD.entry OR NEW.position IS NOT OLD.position
    OR NEW.digest IS NOT OLD.digest
    OR NOT EXISTS (SELECT 1 FROM entry WHERE kind = 'blanked' AND origin = 1 AND corrects = OLD.entry)
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;

-- Nothing is inserted out of turn; see version 1.
CREATE TRIGGER entry_next BEFORE INSERT ON entry
WHEN NEW.number IS NOT (SELECT coalesce(max(number), 0) + 1 FROM entry)
BEGIN SELECT RAISE(ABORT, 'entries are numbered without gaps'); END;
CREATE TRIGGER entry_position BEFORE INSERT ON entry
WHEN NEW.position IS NOT (SELECT coalesce(max(position), 0) + 1 FROM entry WHERE chain = NEW.chain)
BEGIN SELECT RAISE(ABORT, 'a chain has no gaps'); END;
CREATE TRIGGER entry_once BEFORE INSERT ON entry
WHEN EXISTS (SELECT 1 FROM entry WHERE origin = NEW.origin AND origin_number = NEW.origin_number)
BEGIN SELECT RAISE(ABORT, 'this entry is here already'); END;
CREATE TRIGGER text_once BEFORE INSERT ON text
WHEN EXISTS (SELECT 1 FROM text WHERE number = NEW.number) OR EXISTS (SELECT 1 FROM entry WHERE number = NEW.number / 2)
BEGIN SELECT RAISE(ABORT, 'this entry is sealed'); END;
CREATE TRIGGER about_next BEFORE INSERT ON about
WHEN NEW.position IS NOT (SELECT coalesce(max(position), 0) + 1 FROM about WHERE entry = NEW.entry)
    OR EXISTS (SELECT 1 FROM entry WHERE number = NEW.entry)
BEGIN SELECT RAISE(ABORT, 'this entry is sealed'); END;
CREATE TRIGGER personal_next BEFORE INSERT ON personal
WHEN NEW.position IS NOT (SELECT coalesce(max(position), 0) + 1 FROM personal WHERE entry = NEW.entry)
    OR EXISTS (SELECT 1 FROM entry WHERE number = NEW.entry)
BEGIN SELECT RAISE(ABORT, 'this entry is sealed'); END;
CREATE TRIGGER stream_next BEFORE INSERT ON stream
WHEN NEW.number IS NOT (SELECT coalesce(max(number), 0) + 1 FROM stream)
    OR EXISTS (SELECT 1 FROM stream WHERE recording = NEW.recording AND position = NEW.position)
BEGIN SELECT RAISE(ABORT, 'links are numbered without gaps'); END;
CREATE TRIGGER attachment_sealed BEFORE INSERT ON attachment
WHEN EXISTS (SELECT 1 FROM entry WHERE number = NEW.entry)
BEGIN SELECT RAISE(ABORT, 'this entry is sealed'); END;
CREATE TRIGGER finished_recording_sealed BEFORE INSERT ON finished_recording
WHEN EXISTS (SELECT 1 FROM entry WHERE number = NEW.entry)
BEGIN SELECT RAISE(ABORT, 'this entry is sealed'); END;
CREATE TRIGGER book_once BEFORE INSERT ON book
WHEN EXISTS (SELECT 1 FROM book WHERE number = NEW.number OR id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'this is here already'); END;
CREATE TRIGGER chain_once BEFORE INSERT ON chain
WHEN EXISTS (SELECT 1 FROM chain WHERE number = NEW.number OR id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'this is here already'); END;
CREATE TRIGGER recording_from_once BEFORE INSERT ON recording_from
WHEN EXISTS (SELECT 1 FROM recording_from WHERE recording = NEW.recording)
BEGIN SELECT RAISE(ABORT, 'this is here already'); END;
CREATE TRIGGER known_as_once BEFORE INSERT ON known_as
WHEN EXISTS (SELECT 1 FROM known_as WHERE book = NEW.book AND number = NEW.number)
BEGIN SELECT RAISE(ABORT, 'this is here already'); END;
CREATE TRIGGER sort_keeps BEFORE UPDATE ON sort
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER sort_stays BEFORE DELETE ON sort
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER sort_once BEFORE INSERT ON sort
WHEN EXISTS (SELECT 1 FROM sort)
BEGIN SELECT RAISE(ABORT, 'this is here already'); END;
