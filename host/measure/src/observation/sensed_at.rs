//! Where the voltage of the cell was picked up: what lies in the path besides the cell. A person says it; no fixture sees it.

use serde::{Deserialize, Serialize};

/// Where the sense leads touched. The words are those of `hardware-notes/adapter.md`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SensedAt {
    /// At the cell's own tabs or terminals.
    Tabs,
    /// At the pads of the protection board that the cell is welded to, before the protection.
    CellPads,
    /// At the pads of the protection board towards the device, behind the protection.
    PackPads,
    /// At the connector of the pack, behind protection and lead.
    Connector,
}

impl SensedAt {
    /// All places, from the cell outwards.
    pub const ALL: [SensedAt; 4] =
        [SensedAt::Tabs, SensedAt::CellPads, SensedAt::PackPads, SensedAt::Connector];

    /// Returns the name in files, options and JSON.
    pub const fn key(self) -> &'static str {
        match self {
            SensedAt::Tabs => "tabs",
            SensedAt::CellPads => "cell_pads",
            SensedAt::PackPads => "pack_pads",
            SensedAt::Connector => "connector",
        }
    }

    /// Returns the place in words.
    pub const fn words(self) -> &'static str {
        match self {
            SensedAt::Tabs => "at bare tabs",
            SensedAt::CellPads => "at the cell's pads of the protection board",
            SensedAt::PackPads => "at the pack's pads of the protection board",
            SensedAt::Connector => "at the connector",
        }
    }

    /// Returns the place with this name.
    pub fn from_key(key: &str) -> Option<SensedAt> {
        SensedAt::ALL.into_iter().find(|place| place.key() == key)
    }

    /// Returns whether the protection's transistors, and perhaps lead and connector, are in the path.
    pub const fn has_protection_in_path(self) -> bool {
        matches!(self, SensedAt::PackPads | SensedAt::Connector)
    }

    /// Returns whether the place is reached with sprung pins and not with clips.
    pub const fn needs_sprung_pins(self) -> bool {
        !matches!(self, SensedAt::Tabs)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_place_has_its_own_name_and_the_name_in_json_is_the_same() {
        for place in SensedAt::ALL {
            assert_eq!(SensedAt::from_key(place.key()), Some(place));
            assert_eq!(serde_json::to_value(place).unwrap(), place.key());
        }
        assert_eq!(SensedAt::from_key("unknown"), None);
    }
}
