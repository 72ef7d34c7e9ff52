//! A point of the checklist, and the answer to it.

use serde::{Deserialize, Serialize};

/// A point of the checklist. The name in files and options is [`Sign::key`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Sign {
    /// Hot, hissing, smoking, or giving off gas right now.
    ActiveNow,
    /// Leaked, vented, or smells of solvent.
    Leaked,
    /// The casing is open: punctured, cut, torn.
    CasingBreached,
    /// Thicker than it was, pillowed.
    Swollen,
    /// Dented, bent, creased, tabs torn.
    Deformed,
    /// Colour change, burn mark, corrosion.
    Discoloured,
    /// Known drop, water, heat, over-charge, over-discharge, wrong charger, prying.
    Misused,
    /// Protection board or fuse damaged or missing.
    ProtectionDamaged,
    /// Recalled, or named faulty by its maker.
    Recalled,
}

impl Sign {
    /// All signs in the order in which they are asked: what endangers the person first.
    pub const ALL: [Sign; 9] = [
        Sign::ActiveNow,
        Sign::Leaked,
        Sign::CasingBreached,
        Sign::Swollen,
        Sign::Deformed,
        Sign::Discoloured,
        Sign::Misused,
        Sign::ProtectionDamaged,
        Sign::Recalled,
    ];

    /// Returns the name in files, options and JSON.
    pub const fn key(self) -> &'static str {
        match self {
            Sign::ActiveNow => "active_now",
            Sign::Leaked => "leaked",
            Sign::CasingBreached => "casing_breached",
            Sign::Swollen => "swollen",
            Sign::Deformed => "deformed",
            Sign::Discoloured => "discoloured",
            Sign::Misused => "misused",
            Sign::ProtectionDamaged => "protection_damaged",
            Sign::Recalled => "recalled",
        }
    }

    /// Returns the sign with this name.
    pub fn from_key(key: &str) -> Option<Sign> {
        Sign::ALL.into_iter().find(|sign| sign.key() == key)
    }

    /// Returns two or three words for lists.
    pub const fn words(self) -> &'static str {
        match self {
            Sign::ActiveNow => "active now",
            Sign::Leaked => "leaked",
            Sign::CasingBreached => "casing open",
            Sign::Swollen => "swollen",
            Sign::Deformed => "deformed",
            Sign::Discoloured => "discoloured",
            Sign::Misused => "misused",
            Sign::ProtectionDamaged => "protection damaged",
            Sign::Recalled => "recalled",
        }
    }

    /// Returns the question to put to the person; "yes" is always the bad answer.
    pub const fn question(self) -> &'static str {
        match self {
            Sign::ActiveNow => "Is it hot, hissing, crackling, smoking or giving off gas now?",
            Sign::Leaked => "Is it wet, sticky or stained, or does it smell sweet or of solvent?",
            Sign::CasingBreached => "Is there a hole, cut or tear in the casing?",
            Sign::Swollen => "Is it thicker than it was made, rounded, or soft like a pillow?",
            Sign::Deformed => "Is it dented, bent or creased, or is a tab torn?",
            Sign::Discoloured => "Is there a colour change, a burn mark or corrosion?",
            Sign::Misused => "Is a drop, water, heat, wrong charger, deep discharge or prying known of it?",
            Sign::ProtectionDamaged => "Is its protection board or fuse damaged or missing?",
            Sign::Recalled => "Has its maker recalled it or called it faulty?",
        }
    }

    /// Returns how to look, for a person who has not done it before.
    pub const fn help(self) -> &'static str {
        match self {
            Sign::ActiveNow => {
                "Look and listen from arm's length before touching. If yes: stop, leave, get help."
            }
            Sign::Leaked => {
                "Look along the seams and at the tabs on a clean sheet of paper. Do not sniff closely."
            }
            Sign::CasingBreached => {
                "Look at all six faces, the corners and the folded edges under good light."
            }
            Sign::Swollen => {
                "Lay it on glass: a flat cell does not rock. Compare with the thickness on the label."
            }
            Sign::Deformed => {
                "Hold it against a straight edge; look where the cell was glued or levered out."
            }
            Sign::Discoloured => "Look at the film, the tabs and the tape; compare front and back.",
            Sign::Misused => {
                "Ask who brought it and look at the device: water marks, cracked frame, odd charger."
            }
            Sign::ProtectionDamaged => {
                "Look at the small board under the tape at the tabs. Made without one: answer no."
            }
            Sign::Recalled => {
                "Look up maker, type and batch in the maker's and the authority's recall lists."
            }
        }
    }
}

/// Answer to one point.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Answer {
    /// Not checked. Counts as possibly there.
    #[default]
    NotObserved,
    /// Checked, not found.
    No,
    /// Found.
    Yes,
}

impl Answer {
    /// Returns the name in files, options and JSON.
    pub const fn key(self) -> &'static str {
        match self {
            Answer::NotObserved => "not_observed",
            Answer::No => "no",
            Answer::Yes => "yes",
        }
    }
}
