//! Words that promise what no tool can: found in a text, they are refused.

/// Words and phrases that a caution may never hold, in lower case.
const PROMISES: [&str; 43] = [
    "safe",
    "safely",
    "safe to ship",
    "compliant",
    "compliance",
    "complies",
    "conforms",
    "harmless",
    "guaranteed",
    "guarantees",
    "certified",
    "approved for",
    "risk-free",
    "no risk",
    "no danger",
    "fully legal",
    "fully compliant",
    "lawful",
    "legal to",
    "risk free",
    "without risk",
    "without danger",
    "no hazard",
    "hazard-free",
    "not dangerous",
    "not hazardous",
    "non-hazardous",
    "nonhazardous",
    "danger-free",
    "cannot burn",
    "cannot catch fire",
    "will not burn",
    "will not catch fire",
    "cleared for",
    "fit to ship",
    "ready to ship",
    "ok to ship",
    "may be shipped",
    "can be shipped",
    "meets the law",
    "meets all",
    "nothing to fear",
    "unbedenklich",
];

/// Returns the first promise in a text as whole words, if there is one.
pub fn promise_in(text: &str) -> Option<&'static str> {
    let words: String =
        text.to_lowercase().chars().map(|c| if c.is_alphanumeric() || c == '-' { c } else { ' ' }).collect();
    let words = format!(" {} ", words.split_whitespace().collect::<Vec<_>>().join(" "));
    PROMISES.into_iter().find(|promise| words.contains(&format!(" {promise} ")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_promise_is_found_as_a_whole_word_in_any_case() {
        assert_eq!(promise_in("It is Safe."), Some("safe"));
        assert_eq!(promise_in("The label is\ncompliant, of course"), Some("compliant"));
        assert_eq!(promise_in("There is no  risk here"), Some("no risk"));
        assert_eq!(promise_in("This package may be\nshipped."), Some("may be shipped"));
        assert_eq!(promise_in("Ask the safety adviser; the safeguard stays"), None);
    }
}
