//! A bus transaction as the emulated board asks for it (its form is described in `words.rs`).

/// One part of it.
#[derive(Debug)]
pub enum Part {
    /// These bytes are written.
    Write(Vec<u8>),
    /// So many are read, into here.
    Read(Vec<u8>),
}

/// Returns address and parts; `None` if the question is cut short.
pub fn parse(question: &[u8]) -> Option<(u8, Vec<Part>)> {
    let (&address, mut rest) = question.split_first()?;
    let mut parts = Vec::new();
    while let [direction, length, after @ ..] = rest {
        let length = usize::from(*length);
        let (part, after) = if *direction == 0 {
            let (bytes, after) = after.split_at_checked(length)?;
            (Part::Write(bytes.to_vec()), after)
        } else {
            (Part::Read(vec![0; length]), after)
        };
        parts.push(part);
        rest = after;
    }
    Some((address, parts))
}

/// Returns what was read, all parts one after the other.
pub fn bytes_read(parts: Vec<Part>) -> Vec<u8> {
    let read = |part| match part {
        Part::Write(_) => Vec::new(),
        Part::Read(into) => into,
    };
    parts.into_iter().flat_map(read).collect()
}
