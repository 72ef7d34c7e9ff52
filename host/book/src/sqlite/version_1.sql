-- The book, version 1. Times are milliseconds since 1970 (UTC); digests are SHA-256, 32 bytes.
--
-- An entry is sealed by its own row: what belongs to it (attachment, finished_recording) is written first, in the same
-- transaction, and the database takes nothing more for it afterwards.
--
-- No table has a hidden row number, which would be a second way to replace a row. The tables that hold large blobs have a
-- number of their own instead of WITHOUT ROWID: there SQLite would read whole blobs just to find its way.

CREATE TABLE entry (
    number   INTEGER PRIMARY KEY,
    at_ms    INTEGER NOT NULL,
    kind     TEXT    NOT NULL CHECK (kind <> ''),
    cell_id  TEXT    NOT NULL CHECK (cell_id <> ''),
    fate     TEXT             CHECK (fate <> ''),
    summary  TEXT    NOT NULL,
    program  TEXT    NOT NULL,
    inputs   TEXT    NOT NULL CHECK (json_valid(inputs)),
    result   TEXT    NOT NULL CHECK (json_valid(result)),
    corrects INTEGER REFERENCES entry (number),
    previous BLOB    NOT NULL CHECK (length(previous) = 32),
    digest   BLOB    NOT NULL CHECK (length(digest) = 32)
) STRICT;

CREATE TABLE content (
    number INTEGER PRIMARY KEY,
    sha256 BLOB NOT NULL UNIQUE CHECK (length(sha256) = 32),
    bytes  BLOB NOT NULL
) STRICT;

CREATE TABLE attachment (
    entry      INTEGER NOT NULL REFERENCES entry (number) DEFERRABLE INITIALLY DEFERRED,
    position   INTEGER NOT NULL,
    name       TEXT    NOT NULL CHECK (name <> ''),
    media_type TEXT    NOT NULL CHECK (media_type <> ''),
    sha256     BLOB    NOT NULL REFERENCES content (sha256),
    PRIMARY KEY (entry, position)
) STRICT, WITHOUT ROWID;

CREATE TABLE recording (
    number  INTEGER PRIMARY KEY,
    at_ms   INTEGER NOT NULL,
    cell_id TEXT    NOT NULL CHECK (cell_id <> '')
) STRICT;

CREATE TABLE recording_chunk (
    number    INTEGER PRIMARY KEY,
    recording INTEGER NOT NULL REFERENCES recording (number),
    position  INTEGER NOT NULL,
    bytes     BLOB    NOT NULL,
    UNIQUE (recording, position)
) STRICT;

CREATE TABLE finished_recording (
    recording INTEGER PRIMARY KEY REFERENCES recording (number),
    entry     INTEGER NOT NULL REFERENCES entry (number) DEFERRABLE INITIALLY DEFERRED,
    sha256    BLOB    NOT NULL CHECK (length(sha256) = 32),
    length    INTEGER NOT NULL
) STRICT;

CREATE INDEX attachment_content ON attachment (sha256);
CREATE INDEX finished_recording_entry ON finished_recording (entry);

-- Nothing is changed or taken out.
CREATE TRIGGER entry_keeps BEFORE UPDATE ON entry
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER entry_stays BEFORE DELETE ON entry
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER content_keeps BEFORE UPDATE ON content
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER content_stays BEFORE DELETE ON content
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER attachment_keeps BEFORE UPDATE ON attachment
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER attachment_stays BEFORE DELETE ON attachment
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER recording_keeps BEFORE UPDATE ON recording
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER recording_stays BEFORE DELETE ON recording
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER recording_chunk_keeps BEFORE UPDATE ON recording_chunk
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER recording_chunk_stays BEFORE DELETE ON recording_chunk
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER finished_recording_keeps BEFORE UPDATE ON finished_recording
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;
CREATE TRIGGER finished_recording_stays BEFORE DELETE ON finished_recording
BEGIN SELECT RAISE(ABORT, 'the book is append-only'); END;

-- Nothing is inserted out of turn. INSERT OR REPLACE deletes without running a delete trigger (SQLite's rule unless
-- recursive_triggers is on), so these are also what keeps a row from being replaced.
CREATE TRIGGER entry_next BEFORE INSERT ON entry
WHEN NEW.number IS NOT (SELECT coalesce(max(number), 0) + 1 FROM entry)
BEGIN SELECT RAISE(ABORT, 'entries are numbered without gaps'); END;
CREATE TRIGGER content_next BEFORE INSERT ON content
WHEN NEW.number IS NOT (SELECT coalesce(max(number), 0) + 1 FROM content)
BEGIN SELECT RAISE(ABORT, 'contents are numbered without gaps'); END;
CREATE TRIGGER content_once BEFORE INSERT ON content
WHEN EXISTS (SELECT 1 FROM content WHERE sha256 = NEW.sha256)
BEGIN SELECT RAISE(ABORT, 'this content is stored already'); END;
CREATE TRIGGER attachment_next BEFORE INSERT ON attachment
WHEN NEW.position IS NOT (SELECT coalesce(max(position), 0) + 1 FROM attachment WHERE entry = NEW.entry)
BEGIN SELECT RAISE(ABORT, 'attachments are numbered without gaps'); END;
CREATE TRIGGER attachment_sealed BEFORE INSERT ON attachment
WHEN EXISTS (SELECT 1 FROM entry WHERE number = NEW.entry)
BEGIN SELECT RAISE(ABORT, 'this entry is sealed'); END;
CREATE TRIGGER recording_next BEFORE INSERT ON recording
WHEN NEW.number IS NOT (SELECT coalesce(max(number), 0) + 1 FROM recording)
BEGIN SELECT RAISE(ABORT, 'recordings are numbered without gaps'); END;
CREATE TRIGGER recording_chunk_next BEFORE INSERT ON recording_chunk
WHEN NEW.number IS NOT (SELECT coalesce(max(number), 0) + 1 FROM recording_chunk)
    OR NEW.position IS NOT
    (SELECT coalesce(max(position), 0) + 1 FROM recording_chunk WHERE recording = NEW.recording)
BEGIN SELECT RAISE(ABORT, 'chunks are numbered without gaps'); END;
CREATE TRIGGER recording_chunk_sealed BEFORE INSERT ON recording_chunk
WHEN EXISTS (SELECT 1 FROM finished_recording WHERE recording = NEW.recording)
BEGIN SELECT RAISE(ABORT, 'this recording is finished'); END;
CREATE TRIGGER finished_recording_once BEFORE INSERT ON finished_recording
WHEN EXISTS (SELECT 1 FROM finished_recording WHERE recording = NEW.recording)
BEGIN SELECT RAISE(ABORT, 'this recording is finished'); END;
CREATE TRIGGER finished_recording_sealed BEFORE INSERT ON finished_recording
WHEN EXISTS (SELECT 1 FROM entry WHERE number = NEW.entry)
BEGIN SELECT RAISE(ABORT, 'this entry is sealed'); END;
