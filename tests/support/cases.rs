//! How many cases of a property are tried, and which.

use std::hash::{BuildHasher, RandomState};

use proptest::test_runner::{Config, RngSeed};

/// Tries a property with `ordinary` cases, times `PILOTWIRE_CASES_TIMES` of the environment.
///
/// The cases are different every time. A failing property leaves no file, but prints the seed that draws the
/// same cases; a case worth keeping becomes a test with a name.
pub(crate) fn cases(ordinary: u32) -> Config {
    let times: u32 = std::env::var("PILOTWIRE_CASES_TIMES").map_or(1, |times| {
        times
            .parse()
            .expect("PILOTWIRE_CASES_TIMES is a whole number")
    });
    let all = Config::default();
    let seed = match all.rng_seed {
        RngSeed::Fixed(seed) => seed,
        RngSeed::Random => RandomState::new().hash_one("cases"),
    };
    println!("PROPTEST_RNG_SEED={seed} draws these cases again");
    Config {
        cases: ordinary * times,
        max_global_rejects: all.max_global_rejects * times,
        rng_seed: RngSeed::Fixed(seed),
        failure_persistence: None,
        ..all
    }
}
