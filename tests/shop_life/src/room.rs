//! A mount namespace of its own for this program, in which it may mount small file systems: they go with it, whatever becomes of it.

use std::io::Error;
use std::os::unix::process::CommandExt;
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
    let with = |program: &std::path::Path| {
        let mut command = Command::new("unshare");
        command.args(["--user", "--map-root-user", "--mount", "--propagation", "private", "sh", "-c", BEGIN]);
        command.arg(program);
        command
    };
    let tried = with("true".as_ref()).stdout(Stdio::null()).stderr(Stdio::null()).status();
    match tried {
        Ok(status) if status.success() => {}
        Ok(status) => return Some(Error::other(status.to_string())),
        Err(error) => return Some(error),
    }
    match std::env::current_exe() {
        Ok(program) => Some(with(&program).args(std::env::args_os().skip(1)).exec()),
        Err(error) => Some(error),
    }
}
