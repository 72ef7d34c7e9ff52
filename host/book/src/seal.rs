//! The seal of an entry: a digest over everything that is in it and over the seal of the entry before.
//!
//! Form 1 is that of the first books: one chain, texts hashed whole. Form 2 names chain, position and origin, covers the
//! digests of its texts (so that a head can be checked by itself), the digests of texts about persons (so that these can be
//! blanked), and how far the stream of recordings had come. The forms never change; another one gets another number.

use super::digest::Digester;
use super::identity::Identity;
use super::store::{EntryRow, PersonalRow, RecordingRow};
use super::{Attachment, Digest, Subject};

/// What belongs to an entry beside its head.
#[derive(Clone, Debug, Default)]
pub(super) struct Belongings {
    pub(super) about: Vec<Subject>,
    pub(super) personal: Vec<PersonalRow>,
    pub(super) attachments: Vec<Attachment>,
    pub(super) recordings: Vec<RecordingRow>,
}

impl EntryRow {
    /// Returns the seal of form 2.
    pub(super) fn seal(&self, identity: &Identity, belongings: &Belongings) -> Digest {
        let mut digester = Digester::fields("celltriage book entry 2");
        digester.field(identity.chain_of(self.chain).0);
        digester.field(self.previous);
        digester.integer(self.position);
        digester.field(identity.book_of(self.origin).0);
        digester.integer(self.origin_number);
        digester.integer(self.at_ms);
        digester.field(&self.kind);
        digester.optional(self.simulated.map(|simulated| [u8::from(simulated)]));
        digester.optional(self.fate.as_ref());
        digester.field(&self.summary);
        digester.field(&self.program);
        digester.field(self.inputs);
        digester.field(self.result);
        digester.optional(self.corrects.map(i64::to_le_bytes));
        digester.integer(self.stream.0);
        digester.field(self.stream.1);
        digester.count(belongings.about.len());
        for subject in &belongings.about {
            digester.field(subject.kind.word());
            digester.field(&subject.name);
        }
        digester.count(belongings.personal.len());
        for row in &belongings.personal {
            digester.field(row.digest);
        }
        files(&mut digester, belongings);
        digester.finish()
    }

    /// Returns the seal of form 1, which covers the texts themselves.
    pub(super) fn seal_1(&self, inputs: &str, result: &str, belongings: &Belongings) -> Digest {
        let mut digester = Digester::fields("celltriage book entry 1");
        digester.field(self.previous);
        digester.integer(self.origin_number);
        digester.integer(self.at_ms);
        digester.field(&self.kind);
        digester.field(&self.subject.name);
        digester.optional(self.fate.as_ref());
        digester.field(&self.summary);
        digester.field(&self.program);
        digester.field(inputs);
        digester.field(result);
        digester.optional(self.corrects.map(i64::to_le_bytes));
        files(&mut digester, belongings);
        digester.finish()
    }
}

/// Attachments and recordings, alike in both forms.
fn files(digester: &mut Digester, belongings: &Belongings) {
    digester.count(belongings.attachments.len());
    for attachment in &belongings.attachments {
        digester.field(&attachment.name);
        digester.field(&attachment.media_type);
        digester.field(attachment.sha256);
    }
    digester.count(belongings.recordings.len());
    for recording in &belongings.recordings {
        digester.integer(recording.origin_number);
        digester.integer(recording.at_ms);
        digester.field(&recording.cell_id);
        digester.field(recording.finished.map_or(Digest::BEGINNING, |(_, sha256, _)| sha256));
    }
}

#[cfg(test)]
mod tests {
    use super::super::identity::{Chain, Id};
    use super::*;

    fn row() -> EntryRow {
        EntryRow {
            number: 7,
            chain: 1,
            position: 7,
            origin: 1,
            origin_number: 7,
            form: 1,
            at_ms: 1,
            kind: "assessment".into(),
            subject: Subject::cell("C-1"),
            simulated: None,
            fate: None,
            summary: "sound".into(),
            program: "celltriage 0.1.0".into(),
            corrects: None,
            inputs: Digest::of(b"{}"),
            result: Digest::of(b"{}"),
            stream: (0, Digest::BEGINNING),
            previous: Digest::BEGINNING,
            digest: Digest::BEGINNING,
        }
    }

    fn identity() -> Identity {
        let chain =
            |byte: u8, bench: &str| Chain { id: Id([byte; 16]), bench: bench.into(), home: byte == 3 };
        let chains = vec![chain(3, "bench 1"), chain(4, "bench 2")];
        Identity { books: vec![Id([1; 16]), Id([2; 16])], chains, sort: None }
    }

    fn belongings() -> Belongings {
        let sha256 = Digest::of(b"trace");
        Belongings {
            about: vec![Subject::cell("C-1")],
            personal: vec![PersonalRow::of([9; 16], "M. Orme")],
            attachments: vec![Attachment { name: "a".into(), media_type: "b".into(), sha256, length: 5 }],
            recordings: vec![RecordingRow {
                number: 1,
                at_ms: 2,
                cell_id: "C-1".into(),
                origin: 1,
                origin_number: 1,
                finished: Some((7, sha256, 5)),
            }],
        }
    }

    #[test]
    fn the_seal_of_form_1_stays_what_it_was() {
        // Worked out apart from this program, by hashing the fields with Python's hashlib; books that exist depend on it.
        assert_eq!(
            row().seal_1("{}", "{}", &Belongings::default()).to_string(),
            "c2d55ff2a78e6ab42a26c6a577b271b60a5b778afe3836cc2dea9f43a343131d"
        );
    }

    #[test]
    fn every_part_of_an_entry_is_sealed() {
        type Change = fn(&mut EntryRow, &mut Belongings);
        let changes: [Change; 24] = [
            |row, _| row.chain = 2,
            |row, _| row.position += 1,
            |row, _| row.origin = 2,
            |row, _| row.origin_number += 1,
            |row, _| row.at_ms += 1,
            |row, _| row.kind.push('s'),
            |row, _| row.simulated = Some(false),
            |row, _| row.simulated = Some(true),
            |row, _| row.fate = Some("reuse".into()),
            |row, _| row.summary.push('s'),
            |row, _| row.program.push('s'),
            |row, _| row.corrects = Some(3),
            |row, _| row.inputs = Digest::of(b"{ }"),
            |row, _| row.result = Digest::of(b"{ }"),
            |row, _| row.stream.0 = 1,
            |row, _| row.stream.1 = Digest::of(b""),
            |row, _| row.previous = Digest::of(b""),
            |_, all| all.about.clear(),
            |_, all| all.about.push(Subject::cell("C-2")),
            |_, all| all.about[0].kind = super::super::SubjectKind::Container,
            |_, all| all.personal.clear(),
            |_, all| all.attachments[0].name.push('x'),
            |_, all| all.recordings[0].at_ms += 1,
            |_, all| all.recordings.clear(),
        ];
        let sealed = row().seal(&identity(), &belongings());
        // Worked out apart from this program: tests/book_seal.py. Books that exist depend on it.
        assert_eq!(sealed.to_string(), "0fdcfcdc8d2fd3f0992ef7d3619c0aca6377e4a9803f8c22b3d70b78aacfdae0");
        let mut seen = vec![sealed];
        for (index, change) in changes.into_iter().enumerate() {
            let (mut row, mut all) = (row(), belongings());
            change(&mut row, &mut all);
            let changed = row.seal(&identity(), &all);
            assert!(!seen.contains(&changed), "change {index}");
            seen.push(changed);
        }
        let blanked = Belongings {
            personal: vec![PersonalRow { text: None, ..belongings().personal[0].clone() }],
            ..belongings()
        };
        assert_eq!(row().seal(&identity(), &blanked), sealed, "blanking leaves the seal as it is");
    }
}
