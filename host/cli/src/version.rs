//! What this program is: version, commit, and the formats that it reads and writes.

use celltriage_assessment::comparison::METHOD;
use celltriage_protocol::version::{CURRENT, MIN};
use celltriage_verdict::Policy;

/// Returns the lines of `--version`; the first is that of `-V`.
pub fn long_version() -> String {
    let paper = if cfg!(feature = "paper") { "with" } else { "without" };
    let build = if cfg!(debug_assertions) { "for tests" } else { "for use" };
    let commit = option_env!("CELLTRIAGE_COMMIT").unwrap_or("not recorded in this build");
    let target = option_env!("CELLTRIAGE_TARGET").unwrap_or("a machine that is not recorded");
    let policy = Policy::built_in().map_or_else(|_| "unreadable".to_owned(), |policy| policy.mark.version);
    let rows = [
        ("commit", commit.to_owned()),
        ("build", format!("{build}, for {target}, {paper} printed labels and PDF")),
        ("book", format!("format {}; older ones are brought up to date", celltriage_book::FORMAT)),
        ("protocol", format!("{MIN} to {CURRENT}; fixtures of {CURRENT} are run")),
        ("JSON", celltriage_assessment::SCHEMA.to_owned()),
        ("decisions", format!("method {METHOD}, policy {policy}")),
    ];
    let mut text = env!("CARGO_PKG_VERSION").to_owned();
    for (name, what) in rows {
        text.push_str(&format!("\n{name:<11}{what}"));
    }
    text
}
