//! Texts kept beside the tests, and rewritten on request.

/// Whether the environment asks for kept texts to be rewritten, as `README=write` does.
pub(crate) fn write(name: &str) -> bool {
    std::env::var_os(name).is_some_and(|how| how == "write")
}

/// Asserts that two texts are the same; if not, shows the first line that differs.
pub(crate) fn assert_same(name: &str, today: &str, kept: &str) {
    if today == kept {
        return;
    }
    let (mut a, mut b) = (today.lines(), kept.lines());
    for number in 1.. {
        let (a, b) = (a.next(), b.next());
        assert!(
            a == b && a.is_some(),
            "{name}, line {number}:\n  today {a:?}\n  kept  {b:?}\n\nall of today:\n{today}"
        );
    }
}
