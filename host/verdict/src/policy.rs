//! The policy: which criteria there are, read from a data file and checked.
//!
//! Input: the text of a policy file (the default one is built in); output: a [`Policy`] or the place of the mistake.
//! A policy may be stricter or use other numbers, but some things it may not leave out: every sign of the checklist,
//! the rest voltage, warming at rest, resistance and the counted capacity stay mandatory for `reuse`.

use super::policy_file;
use crate::criterion::{Consequence, Criterion, Subject};
use crate::label_terms::LabelTerms;
use crate::limit::Guard;
use crate::measurand::Measurand;
use crate::reason::PolicyMark;
use crate::traceability::Traceability;
use celltriage_measure::estimate::Quantity;
use celltriage_measure::observation::Sign;
use celltriage_written::Faults;
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;

/// The text of the policy that is built in.
pub const DEFAULT_POLICY: &str = include_str!("../policy/default.toml");

/// The text of the policy that was built in before: cells judged by it can be judged by it again.
pub const POLICY_2: &str = include_str!("../policy/version_2.toml");

/// What a policy must ask for, one of each line: nothing may lead to `reuse` without these.
pub const ALWAYS_MANDATORY: [&[Measurand]; 4] = [
    &[Measurand::Estimate(Quantity::RestVoltage)],
    &[Measurand::Estimate(Quantity::RestTemperatureRise)],
    &[
        Measurand::ResistanceTimesCapacity,
        Measurand::Estimate(Quantity::Resistance25Celsius),
        Measurand::Estimate(Quantity::ResistanceTwoLevel),
    ],
    &[Measurand::Estimate(Quantity::CapacityFraction), Measurand::Estimate(Quantity::Capacity)],
];

/// A checked policy.
#[derive(Clone, Debug, PartialEq)]
pub struct Policy {
    /// Name, version and digest.
    pub mark: PolicyMark,
    /// The text it was read from, to be kept with the decision.
    pub text: String,
    /// The criteria in the order of the file.
    pub criteria: Vec<Criterion>,
    /// What an unfinished test means.
    pub unfinished: Consequence,
    /// What it means that nothing was measured.
    pub not_measured: Consequence,
    /// What a trip means, by the name of its cause.
    pub trips: BTreeMap<String, Consequence>,
    /// Whether steps are withheld that the decision speaks against; not where a decision made before this was a rule is
    /// computed again.
    pub withholds: bool,
    /// What it makes of a cell whose life is not recorded; `None` where a decision made before this was asked is computed again.
    pub traceability: Option<Traceability>,
    /// When a count speaks against the label; `None` where a decision made before this was asked is computed again.
    pub label: Option<LabelTerms>,
    /// Whether a capacity passes by its lower bound; not where a decision made before bounds were known is computed again.
    pub bounds: bool,
    /// The stated risk of the whole policy and the guard that follows from it.
    pub guard: Guard,
}

impl Policy {
    /// Reads the policy that is built in.
    pub fn built_in() -> Result<Self, Faults> {
        Self::from_toml(DEFAULT_POLICY, "built-in policy")
    }

    /// Reads a policy; `file` is its name for messages.
    pub fn from_toml(text: &str, file: &str) -> Result<Self, Faults> {
        let parts = policy_file::read(text, file)?;
        let policy_file::Parts {
            name,
            version,
            criteria,
            unfinished,
            not_measured,
            trips,
            traceability,
            label,
            guard,
        } = parts;
        let mark = PolicyMark { name, version, sha256: digest(text) };
        let policy = Self {
            mark,
            text: text.to_owned(),
            criteria,
            unfinished,
            not_measured,
            trips,
            withholds: true,
            traceability: Some(traceability),
            label: Some(label),
            bounds: true,
            guard,
        };
        policy.check_what_may_not_be_left_out().map_err(|what| Faults::of_whole(file, what))?;
        Ok(policy)
    }

    /// Returns whether `reuse` needs the thickness of some cell to pass: whoever is asked for it is told what leaving it out costs.
    pub fn needs_thickness(&self) -> bool {
        let growth = Measurand::Estimate(Quantity::ThicknessGrowth);
        self.criteria.iter().any(|criterion| {
            let is_about =
                matches!(&criterion.subject, Subject::Number(number) if number.measurand == growth);
            criterion.mandatory && is_about
        })
    }

    /// The same for a decision of before steps were withheld: it comes out as it did.
    #[must_use]
    pub fn without_withholding(self) -> Self {
        Self { withholds: false, ..self }
    }

    /// The same for a decision of before lives were asked about: it comes out as it did.
    #[must_use]
    pub fn without_traceability(self) -> Self {
        Self { traceability: None, ..self }
    }

    /// The same for a decision of before labels were asked about: it comes out as it did.
    #[must_use]
    pub fn without_label(self) -> Self {
        Self { label: None, ..self }
    }

    /// The same for a decision of before bounds were known: it comes out as it did.
    #[must_use]
    pub fn without_bounds(self) -> Self {
        Self { bounds: false, ..self }
    }

    fn check_what_may_not_be_left_out(&self) -> Result<(), String> {
        let mandatory = || self.criteria.iter().filter(|criterion| criterion.mandatory);
        let asks_sign = |sign| mandatory().any(|criterion| criterion.subject == Subject::Sign(sign));
        let asks_number = |wanted: &Measurand| {
            mandatory().any(|criterion| {
                matches!(&criterion.subject, Subject::Number(number) if number.measurand == *wanted)
            })
        };
        let signs = Sign::ALL
            .into_iter()
            .filter(|sign| !asks_sign(*sign))
            .map(|sign| format!("sign = \"{}\"", sign.key()));
        let numbers = ALWAYS_MANDATORY
            .into_iter()
            .filter(|group| !group.iter().any(asks_number))
            .map(|group| group.iter().map(|wanted| wanted.key()).collect::<Vec<_>>().join("\" or \""))
            .map(|keys| format!("quantity = \"{keys}\""));
        let left_out: Vec<_> = signs.chain(numbers).collect();
        if left_out.is_empty() {
            return Ok(());
        }
        Err(format!(
            "no mandatory criterion looks at {}; without it a cell could be reused unseen: add one for each",
            left_out.join(", ")
        ))
    }
}

fn digest(text: &str) -> String {
    Sha256::digest(text.as_bytes()).iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_built_in_policy_reads_and_names_a_source_for_every_limit() {
        let policy = Policy::built_in().unwrap();
        assert!(policy.criteria.iter().all(|criterion| !criterion.consequence.source.is_empty()));
        assert_eq!(policy.mark.sha256.len(), 64);
        assert_eq!(policy.text, DEFAULT_POLICY);
    }

    /// Entries name a policy by its digest: the one from before may not change by a byte.
    #[test]
    fn the_policy_from_before_stays_as_it_was() {
        let before = Policy::from_toml(POLICY_2, "version 2").unwrap();
        assert_eq!(before.mark.version, "2.4");
        assert_eq!(before.mark.sha256, "8ae0953d956e685e0755e18e52b989b2f9dfc86b1063e31ef6bce7ab14be4693");
        let zones = before.criteria.iter().filter(|one| match &one.subject {
            Subject::Number(number) => number.or_flat || number.unclear_after_s.is_some(),
            Subject::Sign(_) => false,
        });
        assert_eq!(zones.count(), 0, "what it does not ask it does not get");
    }

    #[test]
    fn another_text_has_another_digest() {
        let other = DEFAULT_POLICY.replace("limit = 0.80", "limit = 0.70");
        let other = Policy::from_toml(&other, "mine.toml").unwrap();
        assert_ne!(other.mark.sha256, Policy::built_in().unwrap().mark.sha256);
    }

    /// Each case changes one text of the default policy into another; the mistake must be told at its line.
    #[test]
    fn mistakes_are_told_with_line_and_remedy() {
        let cases = [
            ("limit = 0.80", "limit = \"most\"", "a number", true),
            ("limit = 0.80\n", "limt = 0.80\n", "limt", true),
            ("quantity = \"capacity_fraction\"", "quantity = \"capacity_share\"", "capacity_ah", true),
            ("sign = \"swollen\"", "sign = \"swolen\"", "swollen", true),
            ("kind = \"at_least\"\nlimit = 0.80", "kind = \"least\"\nlimit = 0.80", "at_least", true),
            ("kind = \"at_least\"\nlimit = 0.80", "limit = 0.80", "kind", true),
            ("limit = 0.80", "limits = [0.8, 1.2]", "within", true),
            ("limit = 0.80", "limit = nan", "finite", true),
            ("limit = 0.80\n", "limit = 0.80\ndoubtful = 0.75\n", "doubtful", true),
            ("limit = 0.35", "limit = 0.35\nrisk = 0.7", "risk", true),
            ("sensed = [\"before_protection\"]", "sensed = [\"before\"]", "before_protection", true),
            ("sign = \"recalled\"", "sign = \"recalled\"\nor_flat = true", "no number here", true),
            (
                "on_fail = \"recycle\"\nsource = \"the w",
                "on_fail = \"reuse\"\nsource = \"the w",
                "reuse",
                true,
            ),
            ("id = \"capacity\"", "id = \"resistance\"", "twice", true),
            ("cause = \"polarity\"", "cause = \"reversed\"", "voltage_low", true),
            ("source = \"limit of the fixture: 45 °C\"", "source = \" \"", "source", true),
            (
                "schema = \"celltriage.policy/1\"",
                "schema = \"celltriage.policy/9\"",
                "celltriage.policy/1",
                true,
            ),
            (
                "sign = \"recalled\"\nmandatory = true",
                "sign = \"recalled\"\nmandatory = false",
                "recalled",
                false,
            ),
            ("limit = 0.80\nmandatory = true", "limit = 0.80\nmandatory = false", "capacity_fraction", false),
            ("sign = \"recalled\"", "sign = \"recalled\"\nquantity = \"capacity_ah\"", "either", true),
        ];
        for (from, to, words, has_line) in cases {
            assert_eq!(DEFAULT_POLICY.matches(from).count(), 1, "the case must change one place: {from}");
            let changed = DEFAULT_POLICY.replace(from, to);
            let faults = Policy::from_toml(&changed, "mine.toml").expect_err(to);
            let Some(told) = faults.0.iter().find(|fault| fault.what.contains(words)) else {
                panic!("{to:?} gave {faults}")
            };
            assert_eq!(told.place.line > 0, has_line, "{to:?} gave {told}");
            if has_line {
                let line_of_change =
                    DEFAULT_POLICY[..DEFAULT_POLICY.find(from).unwrap()].matches('\n').count() + 1;
                let away = told.place.line.abs_diff(line_of_change);
                assert!(away <= 5, "{to:?} at {line_of_change} was told at {}", told.place);
            }
        }
    }

    #[test]
    fn all_mistakes_come_at_once_in_the_order_of_the_file() {
        let text = DEFAULT_POLICY
            .replacen("sign = \"swollen\"", "sign = \"swolen\"", 1)
            .replacen("limit = 0.80\n", "limt = 0.80\n", 1)
            .replacen("cause = \"polarity\"", "cause = \"polarty\"", 1)
            .replacen("[not_measured]\n", "[not_measured]\ncolour = \"red\"\n", 1);
        let faults = Policy::from_toml(&text, "mine.toml").unwrap_err();
        for words in [
            "did you mean \"swollen\"?",
            "unknown key `limt`; did you mean `limit`?",
            "did you mean \"polarity\"?",
            "unknown key `colour`",
        ] {
            assert!(faults.0.iter().any(|fault| fault.what.contains(words)), "{words}: {faults}");
        }
        let lines: Vec<_> = faults.0.iter().map(|fault| fault.place.line).collect();
        assert!(lines.is_sorted() && lines.iter().all(|line| *line > 0), "{faults}");
    }

    #[test]
    fn a_file_that_is_no_policy_is_refused_in_one_line() {
        let faults =
            Policy::from_toml("rated_capacity_ah = 3.0\ncharge_limit_v = 4.2\n", "cell.toml").unwrap_err();
        let expected = "cell.toml:1:1: this is not a policy that this program reads; it must say schema = \"celltriage.policy/1\"";
        assert_eq!(faults.to_string(), expected);
    }

    #[test]
    fn a_choice_that_is_mistyped_is_refused_with_the_word_that_was_meant() {
        let text = DEFAULT_POLICY.replacen("on_fail = \"quarantine\"", "on_fail = \"quarantin\"", 1);
        let faults = Policy::from_toml(&text, "mine.toml").unwrap_err().to_string();
        assert!(
            faults.contains("on_fail: unknown variant `quarantin`")
                && faults.contains("did you mean `quarantine`?"),
            "{faults}"
        );
    }
}
