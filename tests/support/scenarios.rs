//! The table of the worked sites: results by hand and by circuit simulation for every link
//! (`data/scenarios.csv`).

use std::collections::BTreeMap;

/// A quantity of one link in one case.
pub(crate) struct Row {
    pub(crate) site: String,
    /// As `master>slave`.
    pub(crate) link: String,
    pub(crate) case: String,
    pub(crate) quantity: String,
}

/// Asserts that every row is within its tolerance of the value that `ours` gives.
pub(crate) fn assert_all_within_tolerance(mut ours: impl FnMut(&Row) -> f64) {
    let mut rows = 0;
    let mut outside = Vec::new();
    let mut worst: BTreeMap<String, f64> = BTreeMap::new();
    for line in include_str!("../data/scenarios.csv").lines().skip(1) {
        let [site, link, case, quantity, value, _, tolerance, method] =
            fields(line).try_into().expect("eight fields");
        let expected: f64 = value.parse().unwrap();
        let tolerance: f64 = tolerance.parse().unwrap();
        let by = format!("{quantity}, {method}");
        let ours = ours(&Row {
            site,
            link,
            case,
            quantity,
        });
        let used = (ours - expected).abs() / tolerance;
        let entry = worst.entry(by).or_default();
        *entry = entry.max(used);
        if used.is_nan() || used > 1.0 {
            outside.push(format!("{line}: {ours:.3}"));
        }
        rows += 1;
    }
    println!("share of the tolerance used, worst row: {worst:#.2?}");
    assert!(
        outside.is_empty(),
        "{} of {rows} rows outside:\n{}",
        outside.len(),
        outside.join("\n")
    );
    assert_eq!(rows, 166);
}

/// The fields of one line; a field in quotes may hold commas.
fn fields(line: &str) -> Vec<String> {
    let mut quoted = false;
    let mut fields = vec![String::new()];
    for letter in line.chars() {
        match letter {
            '"' => quoted = !quoted,
            ',' if !quoted => fields.push(String::new()),
            other => fields.last_mut().unwrap().push(other),
        }
    }
    fields
}
