//! Work for numbered cells on all processors, each number taken by whoever is free.

use std::sync::atomic::{AtomicU64, Ordering};

/// Does `work` for each number below `count`; each thread keeps what it gathers in a value of its own, and all of them come back.
pub fn spread<T: Send>(
    count: u64,
    begin: impl Fn() -> T + Sync,
    work: impl Fn(&mut T, u64) + Sync,
) -> Vec<T> {
    let next = AtomicU64::new(0);
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        let one = || {
            let mut gathered = begin();
            loop {
                let index = next.fetch_add(1, Ordering::Relaxed);
                if index >= count {
                    return gathered;
                }
                work(&mut gathered, index);
            }
        };
        let workers: Vec<_> = (0..threads).map(|_| scope.spawn(one)).collect();
        workers.into_iter().map(|worker| worker.join().expect("a worker ends well")).collect()
    })
}
