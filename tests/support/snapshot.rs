//! Snapshots of what people read, kept in `tests/snapshots/` by their names alone.

/// Compares a text with the snapshot of that name. Digests are left out: they move with every change of a version;
/// so are sizes and times of a verification.
#[macro_export]
macro_rules! snapshot {
    ($name:expr, $text:expr) => {
        insta::with_settings!({ omit_expression => true, prepend_module_to_snapshot => false, filters => vec![
            (r"[0-9a-f]{64}", "DIGEST"),
            (r"hashed [\d.]+ [kMG]?B?(bytes)? in [\d.]+ s", "hashed BYTES in SECONDS"),
            (r"policy workshop default ([\d.]+) \([0-9a-f]{12}\)", "policy workshop default $1 (DIGEST)"),
        ] }, { insta::assert_snapshot!($name, $text) })
    };
}
