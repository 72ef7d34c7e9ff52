//! A cell of which the book knows something bad: the full test that would earn a reuse, and what keeps it off.

use super::{ABLE, Shop};
use crate::Call;

/// A full test after a look with every sign answered no and a thickness in order: all that earns a reuse.
const FULL: [&str; 8] =
    ["--simulated", "sound", "--extent", "full", "--no-signs", "--thickness-mm", "4.0", "--thickness-mm"];
/// Who did it, and why.
pub const REASON: [&str; 4] = ["--by", "Ines Harrow", "--because", "wrong cell in the hand"];

impl Shop {
    /// The full test.
    pub fn full(&self, now: &str, cell: &str) -> Call {
        self.at(now, &format!("assess --id {cell}"), &[&FULL[..], &["4.0"]].concat())
    }

    /// A judgement with every question answered no.
    pub fn judge_clean(&self, now: &str, cell: &str, state: &str) -> Call {
        let mut typed = format!("judge {cell} --state {state}");
        for question in [
            "acute_hazard",
            "casing_open",
            "identified_defective",
            "leaked_or_vented",
            "cannot_be_diagnosed",
            "mechanical_damage",
            "swollen",
            "discoloured",
            "misuse",
            "short_circuit_protection",
            "safety_features",
            "internal_safety_components",
        ] {
            typed.push_str(&format!(" --answer {question}=no"));
        }
        self.at(now, &typed, &[&REASON[..], &ABLE].concat())
    }

    /// Strikes an entry.
    ///
    /// # Panics
    /// If it is refused.
    pub fn strike(&self, now: &str, entry: u32) -> Call {
        self.must(now, &format!("container correct {entry} --strike"), &REASON)
    }

    /// Sees that a full test is refused: told first, recorded without a load, quarantined by a criterion of its own.
    ///
    /// # Panics
    /// If one of these is missing.
    pub fn kept_off(&self, now: &str, cell: &str, why: &str) {
        let call = self.full(now, cell);
        let first = format!("Known before: {cell}: {why}");
        assert!(call.err.starts_with(&first), "{cell}: {}", call.err);
        assert!(
            call.out.contains("QUARANTINE  cell ") && !call.out.contains("REUSE       cell "),
            "{}",
            call.out
        );
        assert!(!call.err.contains(" A for "), "no load: {}", call.err);
        // It is the reason, below the words for a cell that reacts where it does.
        let head: Vec<&str> = call.out.lines().take(10).flat_map(str::split_whitespace).collect();
        assert!(head.join(" ").contains(&format!("Known before: {why}")), "{head:?}");
        let json = self.at(now, &format!("assess --json --id {cell}"), &[&FULL[..], &["4.0"]].concat());
        let json: serde_json::Value = serde_json::from_str(&json.out).expect("JSON");
        let reasons = json["verdict"]["reasons"].as_array().expect("reasons");
        let known = reasons.iter().find(|reason| reason["criterion"] == "known_before").expect("a reason");
        assert_eq!(
            (known["finding"].as_str(), known["on_fail"].as_str()),
            (Some("fail"), Some("quarantine"))
        );
        assert!(known["text"].as_str().expect("text").contains("(entry "), "{known}");
        assert_eq!(json["conditions"]["run"]["outcome"], "not_measured");
        let newest = self.newest();
        let again = self.at(now, &format!("book recompute {newest}"), &[]);
        assert_eq!(again.code, 0, "{}{}", again.out, again.err);
    }
}
