//! A mount namespace of its own for this program, in which it may mount small file systems: they go with it, whatever becomes of it.

use std::ffi::OsStr;
use std::io::Error;
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::{Command, Stdio};

/// Set where the program runs in such a namespace.
const OURS: &str = "CELLTRIAGE_LIFE_ROOM";
/// Memory of its own for everything, and the temporary folder in it: what is put there for a full disk goes too. The allocator
/// keeps what it has: each run takes megabytes and gives them back, and to have them cleared each time costs a tenth.
const BEGIN: &str = "mount -t tmpfs -o mode=1777 tmpfs /dev/shm && mkdir -p /dev/shm/tmp && \
                     MALLOC_TRIM_THRESHOLD_=268435456 MALLOC_MMAP_THRESHOLD_=268435456 TMPDIR=/dev/shm/tmp CELLTRIAGE_LIFE_ROOM=1 exec \"$0\" \"$@\"";

/// Whether this program may mount.
pub fn is_ours() -> bool {
    std::env::var_os(OURS).is_some()
}

/// Begins this program again in a namespace of its own, as root of it. Returns only where that cannot be had.
pub fn enter() -> Option<Error> {
    if is_ours() {
        return None;
    }
    match again(std::env::args_os().skip(1)) {
        Ok(mut command) => Some(command.exec()),
        Err(error) => Some(error),
    }
}

/// This program in a namespace of its own, with these words behind its name.
///
/// # Errors
/// Such a namespace cannot be had.
pub fn again<W: AsRef<OsStr>>(words: impl IntoIterator<Item = W>) -> Result<Command, Error> {
    let tried = within(Path::new("true")).stdout(Stdio::null()).stderr(Stdio::null()).status()?;
    if !tried.success() {
        return Err(Error::other(tried.to_string()));
    }
    let mut command = within(&std::env::current_exe()?);
    command.args(words);
    Ok(command)
}

fn within(program: &Path) -> Command {
    let mut command = Command::new("unshare");
    command.args(["--user", "--map-root-user", "--mount", "--propagation", "private", "sh", "-c", BEGIN]);
    command.arg(program);
    command
}
