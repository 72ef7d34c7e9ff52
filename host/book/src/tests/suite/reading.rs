//! Each method that reads, against what was written; and that no method is left out of the suite.

use std::collections::BTreeSet;
use std::sync::Arc;

use super::between::{Between, READ, WRITTEN};
use super::calls::Calls;
use super::dump::{difference, dump};
use super::{Book, New, assessment, begin, fill, on_each_store, read, second, write};
use crate::store::{LinkRow, Wanted};
use crate::{Digest, Id, Problem, Subject};

on_each_store! {
    what_is_not_there_is_none_zero_or_empty,
    an_entry_and_all_that_belongs_to_it_is_read,
    recordings_and_their_links_are_read,
    what_is_read_of_many_entries_at_once_is_what_each_has,
    who_stops_listening_hears_no_more,
    every_method_is_asked_for,
}

fn what_is_not_there_is_none_zero_or_empty(new: New) {
    let place = new();
    drop(place.begin(1));
    read(&*place.store(), |rows| {
        assert_eq!(rows.last()?, None);
        assert_eq!((rows.head(1)?, rows.entry(1)?, rows.entry_at(1, 1)?), (None, None, None));
        assert_eq!((rows.text(2)?, rows.words(1)?, rows.content(Digest::of(b""))?), (None, None, None));
        assert_eq!((rows.about(1)?, rows.personal(1)?), (vec![], vec![]));
        assert_eq!((rows.attachments(1)?, rows.attachments_without_bytes()?), (vec![], vec![]));
        assert_eq!((rows.recording(1)?, rows.recording_from(2, 1)?), (None, None));
        assert_eq!((rows.recordings(1)?, rows.unfinished(None)?), (vec![], vec![]));
        assert_eq!((rows.chunk(1, 1)?, rows.length(1)?, rows.last_chunk(1)?), (None, 0, 0));
        assert_eq!((rows.last_link()?, rows.link(1)?, rows.links_of(1)?), (None, None, vec![]));
        assert_eq!((rows.unlinked()?, rows.last_recording()?, rows.known_as(1, 1)?), (vec![], 0, None));
        assert_eq!((rows.kept_to("story")?, rows.kept("story", "C-1")?), (None, None));
        assert!(
            rows.kept_under("story", "all", None)?.is_empty() && rows.kept_labels("story", "")?.is_empty()
        );
        assert!(rows.names("cell")?.is_empty());
        let identity = rows.identity()?;
        assert_eq!((identity.books, identity.sort), (vec![Id([1; 16])], None));
        assert_eq!((identity.chains[0].bench.as_str(), identity.chains[0].home), ("bench 1", true));
        Ok(())
    });
    // A database without a book has no identity, which is no error either.
    read(&*new().store(), |rows| {
        let identity = rows.identity()?;
        assert!(identity.books.is_empty() && identity.chains.is_empty());
        Ok(())
    });
}

fn an_entry_and_all_that_belongs_to_it_is_read(new: New) {
    let place = new();
    fill(&mut place.begin(1));
    read(&*place.store(), |rows| {
        let row = rows.entry(2)?.unwrap();
        assert_eq!((row.number, row.chain, row.position, row.origin, row.origin_number), (2, 1, 2, 1, 2));
        assert_eq!((row.form, row.at_ms, row.kind.as_str()), (2, 1_790_000_000_000, "assessment"));
        assert_eq!((&row.subject, row.simulated), (&Subject::cell("C-2"), Some(false)));
        assert_eq!((row.fate.as_deref(), row.corrects), (Some("recycle"), None));
        assert_eq!((row.previous, row.stream.0), (rows.entry(1)?.unwrap().digest, 6));
        assert_eq!(rows.head(1)?, rows.last()?.map(|last| (3, last.digest)));
        assert_eq!((rows.entry_at(1, 2)?, rows.entry_at(2, 2)?), (Some(row.clone()), None));
        let inputs = rows.text(4)?.unwrap().text()?;
        assert_eq!((Digest::of(inputs.as_bytes()), inputs.contains("A. Hale")), (row.inputs, false));
        assert_eq!(Digest::of(rows.text(5)?.unwrap().text()?.as_bytes()), row.result);
        assert!(rows.words(2)?.unwrap().contains("A. Hale"));
        assert_eq!(
            (rows.about(2)?, rows.names("cell")?),
            (vec![row.subject], vec!["C-1".into(), "C-2".into()])
        );
        let personal = rows.personal(2)?;
        assert_eq!((personal.len(), personal[0].fits()), (1, true));
        assert_eq!(personal[0].text.as_ref().unwrap().1, "A. Hale");
        let attached = rows.attachments(2)?;
        assert_eq!((attached.len(), attached[0].name.as_str(), attached[0].length), (2, "trace.csv", 3));
        assert_eq!(rows.content(attached[0].sha256)?.unwrap(), b"C-2");
        let mut contents = Vec::new();
        rows.contents(&mut |sha256, first, bytes| contents.push((sha256, first, bytes.to_vec())))?;
        let of = |bytes: &[u8], first| (Digest::of(bytes), Some(first), bytes.to_vec());
        assert_eq!(
            contents,
            [of(b"C-1", 1), of(b"policy", 1), of(b"C-2", 2)],
            "each once, as first attached"
        );
        Ok(())
    });
}

fn recordings_and_their_links_are_read(new: New) {
    let place = new();
    let left = fill(&mut place.begin(1));
    read(&*place.store(), |rows| {
        let row = rows.recording(2)?.unwrap();
        assert_eq!((row.number, row.origin, row.origin_number, row.cell_id.as_str()), (2, 1, 2, "C-2"));
        assert_eq!(row.finished.map(|(entry, _, length)| (entry, length)), Some((2, 12)));
        assert_eq!((rows.recordings(2)?, rows.recordings(4)?), (vec![row], vec![]));
        assert_eq!((rows.last_recording()?, rows.last_chunk(2)?, rows.length(2)?), (4, 2, 12));
        assert_eq!((rows.chunk(2, 2)?, rows.chunk(2, 3)?), (Some(b", the end".to_vec()), None));
        let mut parts = Vec::new();
        rows.chunks(2, &mut |chunk| parts.push(chunk.len()))?;
        assert_eq!(parts, [3, 9]);
        let unfinished = rows.unfinished(None)?;
        assert_eq!((unfinished.len(), unfinished[0].number), (1, i64::from(left)));
        assert_eq!((rows.unfinished(Some("C-3"))?, rows.unfinished(Some("C-1"))?), (unfinished, vec![]));
        let links = rows.links_of(2)?;
        let places: Vec<_> = links.iter().map(|link| (link.number, link.position)).collect();
        assert_eq!(places, [(4, 0), (5, 1), (6, 2)]);
        assert_eq!((rows.link(5)?, links[1].content), (Some(links[1]), Digest::of(b"C-2")));
        assert_eq!((rows.last_link()?.unwrap().number, rows.unlinked()?), (11, vec![]));
        Ok(())
    });
    // What was recorded without its link is named, each recording once.
    let mut store = place.store();
    let content = Digest::of(b"x");
    write(&mut *store, |rows| {
        let row = rows.recording(4)?.unwrap();
        rows.add_recording(&crate::store::RecordingRow { number: 5, ..row })?;
        rows.add_chunk(5, 1, b"x")?;
        rows.add_chunk(4, 2, b"x")?;
        rows.add_link(&LinkRow { number: 12, recording: 5, position: 1, content, digest: content })
    })
    .unwrap();
    assert_eq!(read(&*store, |rows| rows.unlinked()), [4, 5]);
}

fn what_is_read_of_many_entries_at_once_is_what_each_has(new: New) {
    let place = new();
    fill(&mut place.begin(1));
    read(&*place.store(), |rows| {
        for (first, last) in [(1, 3), (2, 2), (2, 9), (4, 9), (3, 2)] {
            let (mut about, mut personal, mut recordings) = (vec![], vec![], vec![]);
            let (mut attached, mut words, mut texts) = (vec![], vec![], vec![]);
            for entry in first..=last {
                about.extend(rows.about(entry)?.into_iter().map(|one| (entry, one)));
                personal.extend(rows.personal(entry)?.into_iter().map(|one| (entry, one)));
                attached
                    .extend(rows.attachments(entry)?.into_iter().map(|one| (entry, one.name, one.sha256)));
                recordings.extend(rows.recordings(entry)?.into_iter().map(|one| (entry, one)));
                words.extend(rows.words(entry)?.into_iter().map(|one| (entry, one)));
                for number in [entry * 2, entry * 2 + 1] {
                    texts.extend(rows.text(number)?.map(|one| (number, one.packing, one.bytes)));
                }
            }
            assert_eq!(rows.about_between(first, last)?, about);
            assert_eq!(rows.personal_between(first, last)?, personal);
            let found = rows.attachments_between(first, last)?.into_iter();
            assert_eq!(found.map(|(entry, one)| (entry, one.name, one.sha256)).collect::<Vec<_>>(), attached);
            assert_eq!(rows.recordings_between(first, last)?, recordings);
            assert_eq!(rows.words_between(first, last)?, words);
            let mut heard = Vec::new();
            rows.texts_between(first, last, &mut |number, packing, bytes| {
                heard.push((number, packing, bytes.to_vec()));
            })?;
            assert_eq!(heard, texts);
        }
        let mut contents = Vec::new();
        rows.contents_between(2, 3, &mut |sha256, bytes| contents.push((sha256, bytes.to_vec())))?;
        let of = |bytes: &[u8]| (Digest::of(bytes), bytes.to_vec());
        assert_eq!(contents, [of(b"policy"), of(b"C-2")]);
        assert_eq!(
            (rows.content_after(0)?, rows.content_after(2)?, rows.content_after(3)?),
            (Some(1), Some(3), None)
        );
        assert_eq!(
            (rows.first_with(Digest::of(b"C-2"))?, rows.first_with(Digest::of(b"none"))?),
            (Some(2), None)
        );
        assert_eq!(rows.contents_of_no_entry()?, []);
        let after: Vec<_> = [0, 2, 3].into_iter().map(|number| rows.number_after(number).unwrap()).collect();
        assert_eq!(after, [Some(1), Some(3), None]);
        assert_eq!((rows.last_number()?, rows.digest_of(9)?), (3, None));
        assert_eq!(rows.digest_of(2)?, rows.entry(2)?.map(|row| row.digest));
        Ok(())
    });
}

fn who_stops_listening_hears_no_more(new: New) {
    let place = new();
    fill(&mut place.begin(1));
    let store = place.store();
    read(&*store, |rows| {
        let (mut heard, mut links) = (0, 0);
        rows.entries(&Wanted::default(), &mut |_| {
            heard += 1;
            Ok(heard < 2)
        })?;
        rows.links(&mut |_| {
            links += 1;
            Ok(links < 3)
        })?;
        assert_eq!((heard, links), (2, 3));
        Ok(())
    });
    // A listener's own problem comes back as it is.
    let refused = store.read(&mut |rows| rows.entries(&Wanted::default(), &mut |_| Err(Problem::Grown)));
    assert!(matches!(refused, Err(Problem::Grown)));
}

fn every_method_is_asked_for(new: New) {
    let (place, other) = (new(), new());
    let calls = Arc::new(Calls::default());
    let mut store = Between { inner: place.store(), calls: Arc::clone(&calls) };
    begin(&mut store, 1);
    let mut book = Book::over(Box::new(store), "told");
    fill(&mut other.begin(2));
    fill(&mut book);
    book.merge_from(&*other.store()).unwrap();
    super::keeping::keep_some(&mut book);
    let store = Between { inner: place.store(), calls: Arc::clone(&calls) };
    assert_eq!(difference(&dump(&store), &dump(&*place.store())), [""; 0]);
    book.blank(1, "asked", "A. Hale", second(3)).unwrap();
    book.forget_kept(super::keeping::STORY).unwrap();
    book.append(assessment("C-9")).unwrap();
    assert!(book.verify().unwrap().entries > 3);
    let asked = calls.names();
    let all: BTreeSet<&str> = READ.iter().chain(WRITTEN).copied().collect();
    assert_eq!(all.difference(&asked).collect::<Vec<_>>(), Vec::<&&str>::new());
}
