//! Sentences, and which of them bar an action: those are shown whatever else has no room.

/// Words with which a sentence bars something. More than bars is shown rather than less.
const BARS: [&str; 12] = [
    "not",
    "never",
    "no",
    "nothing",
    "nobody",
    "none",
    "only",
    "without",
    "forbidden",
    "hands",
    "stop",
    "unless",
];

/// So many sentences say what a step is (our choice): why it is, and what to do.
const FIRST: usize = 2;

/// Splits a text into its sentences, each with its point.
pub(super) fn sentences(text: &str) -> Vec<&str> {
    let mut found = Vec::new();
    let mut rest = text.trim();
    while let Some(end) = [". ", "! ", "? "].iter().filter_map(|end| rest.find(end)).min() {
        let (one, after) = rest.split_at(end + 1);
        found.push(one);
        rest = after.trim_start();
    }
    if !rest.is_empty() {
        found.push(rest);
    }
    found
}

/// Returns whether a sentence bars an action.
pub(super) fn bars(sentence: &str) -> bool {
    let lower = sentence.to_lowercase();
    lower.split(|letter: char| !letter.is_alphanumeric()).any(|word| BARS.contains(&word))
}

/// Returns the sentences of a text that bar an action.
pub(super) fn barring(text: &str) -> String {
    sentences(text).into_iter().filter(|one| bars(one)).collect::<Vec<_>>().join(" ")
}

/// Returns of the same sentences only the parts between semicolons that bar an action, without what stands before a colon and bars none.
pub(super) fn barring_parts(text: &str) -> String {
    let of = |sentence: &str| {
        let parts = sentence.trim_end_matches('.').split("; ").filter(|part| bars(part));
        let parts = parts
            .map(|part| part.split_once(": ").filter(|(head, _)| !bars(head)).map_or(part, |(_, rest)| rest));
        let parts = parts.collect::<Vec<_>>();
        capital(&parts.join("; ")) + "."
    };
    sentences(text).into_iter().filter(|one| bars(one)).map(of).collect::<Vec<_>>().join(" ")
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().into_iter().flat_map(char::to_uppercase).chain(letters.as_str().chars()).collect()
}

/// Returns the first sentences of a text and those that bar an action, with three points where more was said.
pub(super) fn shortened(text: &str) -> String {
    let all = sentences(text);
    let kept: Vec<&str> =
        all.iter().enumerate().filter(|(at, one)| *at < FIRST || bars(one)).map(|(_, one)| *one).collect();
    let more = if kept.len() < all.len() { " ..." } else { "" };
    kept.join(" ") + more
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sentence_ends_at_its_point_and_no_number_is_cut() {
        assert_eq!(sentences("Rest it 1.5 h. Then test! Why?"), ["Rest it 1.5 h.", "Then test!", "Why?"]);
        assert_eq!(sentences("down to 3 V"), ["down to 3 V"]);
        assert_eq!(sentences(" "), [""; 0]);
    }

    #[test]
    fn what_bars_is_kept_and_what_is_left_out_leaves_its_mark() {
        let text = "Swollen: gas is inside. Keep it flat. Lift it so. Never bend it.";
        assert_eq!(barring(text), "Never bend it.");
        let parts = "Wet: gloves; lay it flat; wipe nothing up; hot: do not sniff. Rest it; wait.";
        assert_eq!(barring_parts(parts), "Wipe nothing up; do not sniff.");
        assert_eq!(barring_parts("Only when cool: into sand."), "Only when cool: into sand.");
        assert_eq!(shortened(text), "Swollen: gas is inside. Keep it flat. Never bend it. ...");
        assert_eq!(shortened("Keep it apart."), "Keep it apart.");
        // Part of a word bars nothing.
        assert!(!bars("Another note on nothingness") && bars("HANDS off!") && bars("only now"));
    }
}
