//! Checkpoints: how far the book had come, noted where nobody who can write the book can write.
//!
//! The chains of a book show what was changed in the middle. That the last entries were cut off, or that a whole chain was
//! computed again, shows only beside something that lies elsewhere:
//!
//! | kept as | shows | does not show |
//! | --- | --- | --- |
//! | digest on paper, or a file on another machine | every change, cut or new computation of the entries up to it | anything after it; who noted it |
//! | the same, signed with a key that lies elsewhere | also that whoever holds the key noted it | when it was noted, and that the entries were true |
//!
//! Signatures are Ed25519 (RFC 8032).

use std::fmt;
use std::str::FromStr;

use jiff::Timestamp;

use super::identity::Id;
use super::key::{Key, NotACheckpoint, SecretKey, bytes_of, hexadecimal};
use super::store::Rows;
use super::{Book, BookError, BookFault, Digest, Problem};

/// First line of a checkpoint.
const FIRST_LINE: &str = "celltriage checkpoint 1";

/// How far a chain had come.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChainHead {
    /// The chain.
    pub chain: Id,
    /// Number of its entries.
    pub entries: u32,
    /// Digest of the last one.
    pub digest: Digest,
}

/// How far a book had come.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Checkpoint {
    /// The book.
    pub book: Id,
    /// When it was noted.
    pub at: Timestamp,
    /// Its chains; that of the bench itself first.
    pub chains: Vec<ChainHead>,
    /// Public key and signature.
    pub signed: Option<(Key, [u8; 64])>,
}

/// What a checkpoint says of a book.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Held {
    /// What does not fit; empty where the book still holds what it held then.
    pub faults: Vec<BookFault>,
    /// Entries of the book's own chain that it covers.
    pub entries: u32,
}

impl Book {
    /// Returns how far the book has come.
    pub fn checkpoint(&self, at: Timestamp) -> Result<Checkpoint, BookError> {
        self.read(|rows| {
            let identity = rows.identity()?;
            let mut chains = Vec::new();
            for (index, chain) in identity.chains.iter().enumerate() {
                let Some((entries, digest)) = rows.head(index as i64 + 1)? else { continue };
                let head = ChainHead { chain: chain.id, entries: super::read::small(entries)?, digest };
                if chain.home { chains.insert(0, head) } else { chains.push(head) }
            }
            Ok(Checkpoint { book: identity.book(), at, chains, signed: None })
        })
    }

    /// Compares the book with a checkpoint.
    pub fn held(&self, checkpoint: &Checkpoint) -> Result<Held, BookError> {
        self.read(|rows| {
            let identity = rows.identity()?;
            let mut held = Held { faults: Vec::new(), entries: 0 };
            if checkpoint.book != identity.book() {
                held.fault(None, format!("the checkpoint is of another book, {}", checkpoint.book));
            }
            for head in &checkpoint.chains {
                let index = identity.chains.iter().position(|chain| chain.id == head.chain);
                match index {
                    Some(index) => head_fits(rows, index as i64 + 1, head, &mut held)?,
                    None => held.fault(None, format!("chain {} is not in it any more", head.chain.short())),
                }
            }
            held.entries = checkpoint.chains.first().map_or(0, |head| head.entries);
            Ok(held)
        })
    }

    /// Compares the book's own chain with a number of entries and the digest of the last one.
    pub fn held_at(&self, entries: u32, digest: Digest) -> Result<Held, BookError> {
        self.read(|rows| {
            let identity = rows.identity()?;
            let mut held = Held { faults: Vec::new(), entries };
            let head = ChainHead { chain: identity.chain_of(identity.home()), entries, digest };
            head_fits(rows, identity.home(), &head, &mut held)?;
            Ok(held)
        })
    }
}

fn head_fits(rows: &dyn Rows, chain: i64, head: &ChainHead, held: &mut Held) -> Result<(), Problem> {
    let now = rows.head(chain)?.map_or(0, |(position, _)| position);
    match rows.entry_at(chain, head.entries.into())? {
        Some(row) if row.digest == head.digest => {}
        Some(row) => held.fault(
            Some(row.number),
            format!("it, or one before it, is not the one that was written: its digest was {}", head.digest),
        ),
        None => held.fault(
            None,
            format!("the last entries are missing: the chain had {}, now it has {now}", head.entries),
        ),
    }
    Ok(())
}

impl Held {
    fn fault(&mut self, entry: Option<i64>, what: String) {
        self.faults.push(BookFault { entry, what });
    }
}

impl Checkpoint {
    /// Returns the text that is signed.
    fn body(&self) -> String {
        let mut text = format!("{FIRST_LINE}\nbook {}\nat {}\n", self.book, self.at);
        for head in &self.chains {
            text.push_str(&format!("chain {} {} {}\n", head.chain, head.entries, head.digest));
        }
        text
    }

    /// Signs it.
    #[must_use]
    pub fn sign(mut self, key: &SecretKey) -> Self {
        self.signed = Some((key.public(), key.sign(&self.body())));
        self
    }

    /// Returns whose signature it bears, if it is that key's.
    pub fn signer(&self) -> Option<Key> {
        let (key, signature) = self.signed.as_ref()?;
        key.signed(&self.body(), signature).then_some(*key)
    }
}

impl fmt::Display for Checkpoint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.body())?;
        match &self.signed {
            Some((key, signature)) => writeln!(f, "signed {key} {}", hexadecimal(signature)),
            None => Ok(()),
        }
    }
}

impl FromStr for Checkpoint {
    type Err = NotACheckpoint;

    fn from_str(text: &str) -> Result<Self, NotACheckpoint> {
        let wrong = |line: &str| NotACheckpoint(format!("this line does not belong to a checkpoint: {line}"));
        let mut lines = text.lines().map(str::trim).filter(|line| !line.is_empty());
        if lines.next() != Some(FIRST_LINE) {
            return Err(NotACheckpoint(format!("a checkpoint begins with the line \"{FIRST_LINE}\"")));
        }
        let (mut book, mut at, mut chains, mut signed) = (None, None, Vec::new(), None);
        for line in lines {
            let words: Vec<&str> = line.split_whitespace().collect();
            match words[..] {
                ["book", id] => book = id_of(id),
                ["at", time] => at = time.parse().ok(),
                ["chain", id, entries, digest] => chains.push(ChainHead {
                    chain: id_of(id).ok_or_else(|| wrong(line))?,
                    entries: entries.parse().map_err(|_| wrong(line))?,
                    digest: digest.parse().map_err(|_| wrong(line))?,
                }),
                ["signed", key, signature] => {
                    let key: Key = key.parse()?;
                    signed = Some((key, bytes_of(signature).ok_or_else(|| wrong(line))?));
                }
                _ => return Err(wrong(line)),
            }
        }
        let missing = |what: &str| NotACheckpoint(format!("the checkpoint does not say {what}"));
        let book = book.ok_or_else(|| missing("which book it is of"))?;
        Ok(Self { book, at: at.ok_or_else(|| missing("when it was noted"))?, chains, signed })
    }
}

fn id_of(text: &str) -> Option<Id> {
    bytes_of(text).map(Id)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn checkpoint() -> Checkpoint {
        let head = ChainHead { chain: Id([3; 16]), entries: 12, digest: Digest::of(b"twelfth") };
        let at = Timestamp::from_second(1_790_000_000).unwrap();
        Checkpoint { book: Id([1; 16]), at, chains: vec![head], signed: None }
    }

    #[test]
    fn what_is_written_is_read_and_every_changed_letter_breaks_the_signature() {
        let signed = checkpoint().sign(&SecretKey::of([7; 32]));
        let text = signed.to_string();
        assert_eq!(text.parse::<Checkpoint>().unwrap(), signed);
        assert_eq!(signed.signer(), Some(SecretKey::of([7; 32]).public()));
        assert_eq!(checkpoint().signer(), None);
        for place in 0..text.len() {
            let mut bytes = text.clone().into_bytes();
            if bytes[place].is_ascii_whitespace() {
                continue;
            }
            bytes[place] = if bytes[place] == b'0' { b'1' } else { b'0' };
            let changed = String::from_utf8(bytes).unwrap().parse::<Checkpoint>();
            assert!(changed.is_err() || changed.unwrap().signer().is_none(), "letter {place}");
        }
    }

    #[test]
    fn what_is_no_checkpoint_or_key_is_refused_in_words() {
        for text in ["", "book", "celltriage checkpoint 1\nbook 12", "celltriage checkpoint 1\nat 2026"] {
            assert!(text.parse::<Checkpoint>().is_err(), "{text}");
        }
        assert!("abc".parse::<Key>().is_err());
        assert!(SecretKey::read("hello").is_err());
    }
}
