//! Requests for what belongs to many entries at once: those from one number to another, both included.

/// What they are about.
pub(super) const ABOUT: &str =
    "SELECT entry, subject_kind, subject FROM about WHERE entry BETWEEN $1 AND $2 ORDER BY entry, position";

/// Texts about persons.
pub(super) const PERSONAL: &str =
    "SELECT digest, salt, text, entry FROM personal WHERE entry BETWEEN $1 AND $2 ORDER BY entry, position";

/// Attachments, without a look at their bytes.
pub(super) const ATTACHMENTS: &str = "SELECT entry, name, media_type, sha256 FROM attachment WHERE entry BETWEEN $1 AND $2 ORDER BY entry, position";

/// Which recordings.
pub(super) const RECORDINGS: &str = "WHERE recording.number IN (SELECT recording FROM finished_recording \
     WHERE entry BETWEEN $1 AND $2) ORDER BY entry, recording.number";

/// Words.
pub(super) const WORDS: &str = "SELECT entry, text FROM words WHERE entry BETWEEN $1 AND $2 ORDER BY entry";

/// Texts, by their own numbers.
pub(super) const TEXTS: &str =
    "SELECT number, packing, bytes FROM text WHERE number BETWEEN $1 AND $2 ORDER BY number";

/// Contents, by their own numbers.
pub(super) const CONTENTS: &str =
    "SELECT sha256, bytes, packing FROM content WHERE number BETWEEN $1 AND $2 ORDER BY number";

// Digests are anywhere: asked for in their own order, both indexes are read from one end to the other.

/// Attachments whose bytes are not there.
pub(super) const WITHOUT_BYTES: &str = "SELECT entry, position, name FROM attachment INDEXED BY attachment_content \
     WHERE NOT EXISTS (SELECT 1 FROM content WHERE content.sha256 = attachment.sha256) ORDER BY attachment.sha256";

/// Contents that no entry has.
pub(super) const OF_NO_ENTRY: &str = "SELECT sha256 FROM content WHERE NOT EXISTS (SELECT 1 FROM attachment \
     WHERE attachment.sha256 = content.sha256) ORDER BY sha256";
