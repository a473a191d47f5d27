//! On how many inputs a law is tried.

use proptest::prelude::ProptestConfig;

/// Cases of a law that says nothing of them; `PROPTEST_CASES` replaces it.
const USUAL: u64 = 256;

/// Tries a law on so many cases as a rule. `PROPTEST_CASES` makes every law's more or fewer in proportion: 51,200
/// tries each 200 times as often. A failure prints its input and leaves no file.
pub(crate) fn tried(cases: u32) -> ProptestConfig {
    let config = ProptestConfig::default();
    let scaled = u64::from(cases) * u64::from(config.cases) / USUAL;
    ProptestConfig {
        cases: u32::try_from(scaled).unwrap_or(u32::MAX).max(1),
        failure_persistence: None,
        ..config
    }
}
