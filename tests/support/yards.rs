//! Yards that several promises use.

use chrono::NaiveDate;
use pilotwire::check::{Check, check};
use pilotwire::link::Draw;
use pilotwire::site::Site;

use super::read::read;

/// Site files of `config/`, by name.
pub(crate) const CONFIG: [(&str, &str); 5] = [
    ("linked-pair", include_str!("../../config/linked-pair.toml")),
    (
        "chain-of-three",
        include_str!("../../config/chain-of-three.toml"),
    ),
    ("far-board", include_str!("../../config/far-board.toml")),
    ("hot-wall", include_str!("../../config/hot-wall.toml")),
    ("too-far", include_str!("../../config/too-far.toml")),
];

/// A yard that gives no caution: every evening at 20 °C, where all factors of copper are 1.
pub(crate) const QUIET: &str = include_str!("../cautions/quiet.toml");

/// The site file with passages replaced; each passage must occur exactly once.
pub(crate) fn changed(site: &str, changes: &[(&str, &str)]) -> String {
    let mut site = site.to_owned();
    for (old, new) in changes {
        assert_eq!(site.matches(old).count(), 1, "{old}");
        site = site.replacen(old, new, 1);
    }
    site
}

/// The site of a text, and its `check` for the year from 2027-01-01.
pub(crate) fn checked(text: &str) -> (Site, Check) {
    let site = read(text);
    let from = NaiveDate::from_ymd_opt(2027, 1, 1).unwrap();
    let check = check(&site, from, Draw::default()).unwrap();
    (site, check)
}
