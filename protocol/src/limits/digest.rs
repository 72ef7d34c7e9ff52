//! One number for the whole table of limits, so that a record can say which limits the guard had.
//!
//! It tells one table from another; it is no seal against somebody who wants another table to look the same.

use super::*;

macro_rules! table {
    (quantities: $($quantity:ident),*; numbers: $($number:ident),*;) => {
        /// Every limit by its name, in the unit of its type.
        pub const TABLE: &[(&str, i64)] = &[
            $((stringify!($quantity), $quantity.get() as i64),)*
            $((stringify!($number), $number as i64),)*
        ];
    };
}

table! {
    quantities:
        LOWEST_START, LOADED_FLOOR, LOWEST_PLAN_FLOOR, LOWEST_END, LOWEST_LFP_END, FLOOR_MARGIN, LOWEST_CHARGE_LIMIT,
        HIGHEST_CHARGE_LIMIT, HIGHEST_LFP_CHARGE_LIMIT, OVER_CHARGE_MARGIN,
        LARGEST_PULSE, LARGEST_ADAPTER_PULSE, LONGEST_PULSE, LARGEST_STEADY, SMALLEST_LOAD, CURRENT_CEILING, CURRENT_MARGIN, OFF_CURRENT,
        SETTLE, COLDEST_START, WARMEST_START, HOTTEST, LARGEST_RISE, LARGEST_REST_RISE, FASTEST_REST_WARMING,
        FASTEST_LOADED_WARMING, WARMING_SPAN, SINK_STORE, CONTACT_SPREAD, OLDEST_ELECTRICAL, OLDEST_TEMPERATURE,
        HOST_SILENCE, KEEP_ALIVE, PLAN_KEPT, REPORT_AT_LEAST, LONGEST_STEP, LOOK_VOLTAGE_MARGIN, LOOK_CURRENT_MARGIN;
    numbers:
        SINK_LOSS_UW, MOST_SAME_CURRENTS, MOST_SAME_VOLTAGES, SHORTEST_PERIOD_US, LONGEST_REST_PERIOD_US,
        LONGEST_LOADED_PERIOD_US, LOOK_LEAD_UOHM, MOST_BAD_LOOKS;
}

/// Digest of [`TABLE`]: FNV-1a of 64 bits (Fowler, Noll, Vo) over each name and its value as eight bytes, little endian.
pub const DIGEST: u64 = digest(TABLE);

/// Offset basis and prime of FNV-1a for 64 bits (from memory; the test compares a value that was published).
const BASIS: u64 = 0xCBF2_9CE4_8422_2325;
const PRIME: u64 = 0x0000_0100_0000_01B3;

// An index is all that a constant function can count with.
const fn digest(table: &[(&str, i64)]) -> u64 {
    let (mut digest, mut row) = (BASIS, 0);
    while row < table.len() {
        let (name, value) = table[row];
        digest = take(take(digest, name.as_bytes()), &value.to_le_bytes());
        row += 1;
    }
    digest
}

const fn take(mut digest: u64, bytes: &[u8]) -> u64 {
    let mut at = 0;
    while at < bytes.len() {
        digest = (digest ^ bytes[at] as u64).wrapping_mul(PRIME);
        at += 1;
    }
    digest
}

#[cfg(test)]
mod tests {
    extern crate std;
    use super::*;
    use std::string::String;
    use std::vec::Vec;

    /// The published value for "foobar" (test vectors of the FNV authors).
    #[test]
    fn the_digest_is_the_published_one() {
        assert_eq!(take(BASIS, b"foobar"), 0x8594_4171_F739_67E8);
    }

    #[test]
    fn every_limit_is_in_the_table_once() {
        let named = |line: &str| line.strip_prefix("pub const ")?.split(':').next().map(String::from);
        let mut stated: Vec<String> = include_str!("../limits.rs").lines().filter_map(named).collect();
        let mut listed: Vec<String> = TABLE.iter().map(|(name, _)| String::from(*name)).collect();
        stated.sort();
        listed.sort();
        assert!(stated.len() > 30);
        assert_eq!(stated, listed);
    }

    #[test]
    fn another_value_or_another_name_is_another_digest() {
        let one = digest(&[("A", 1), ("B", 2)]);
        assert_ne!(one, digest(&[("A", 2), ("B", 2)]));
        assert_ne!(one, digest(&[("A", 1), ("C", 2)]));
        assert_ne!(one, digest(&[("B", 2), ("A", 1)]));
    }
}
