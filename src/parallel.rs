//! Independent pieces of work on several threads.

/// As many threads as there are cores.
pub fn cores() -> usize {
    std::thread::available_parallelism().map_or(1, std::num::NonZero::get)
}

/// Calls `work` with every number below `count`; results come in order, whatever the number of threads.
pub fn in_order<T: Send>(count: usize, threads: usize, work: impl Fn(usize) -> T + Sync) -> Vec<T> {
    let threads = threads.clamp(1, count.max(1));
    // Neighbours take about the same time: dealing them out in turn gives every thread the same load.
    let of = |first: usize| (first..count).step_by(threads).map(&work).collect();
    let dealt: Vec<Vec<T>> = std::thread::scope(|scope| {
        let others: Vec<_> = (1..threads)
            .map(|first| scope.spawn(move || of(first)))
            .collect();
        let mut dealt = vec![of(0)];
        dealt.extend(others.into_iter().map(|other| {
            other
                .join()
                .unwrap_or_else(|panic| std::panic::resume_unwind(panic))
        }));
        dealt
    });
    let mut hands: Vec<_> = dealt.into_iter().map(Vec::into_iter).collect();
    (0..count)
        .map(|index| hands[index % threads].next().expect("dealt in turn"))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_order_does_not_depend_on_the_threads() {
        for threads in [0, 1, 2, 3, 7, 40] {
            let squares = in_order(17, threads, |n| n * n);
            let expected: Vec<usize> = (0..17).map(|n| n * n).collect();
            assert_eq!(squares, expected);
        }
        assert!(in_order(0, 4, |n| n).is_empty());
    }
}
