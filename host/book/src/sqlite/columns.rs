//! The columns of the rows that are read, in the order in which their readers expect them.

/// The columns of an entry.
pub(super) const COLUMNS: &str = "number, chain, position, origin, origin_number, form, at_ms, kind, subject_kind, \
     subject, simulated, fate, summary, program, corrects, inputs, result, stream, stream_digest, previous, digest";

/// The columns of a recording.
pub(super) const RECORDING: &str = "SELECT recording.number, at_ms, cell_id, coalesce(origin_number, recording.number), entry, \
     sha256, length, coalesce(origin, 1) FROM recording LEFT JOIN recording_from ON recording_from.recording = recording.number \
     LEFT JOIN finished_recording ON finished_recording.recording = recording.number";

/// The columns of a link.
pub(super) const LINK: &str = "SELECT number, recording, position, content, digest FROM stream";
