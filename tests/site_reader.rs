//! Whatever a site file contains, reading it gives a yard, or a report that can be printed.

use std::ops::Range;

use pilotwire::civil_time::ZoneInfo;
use pilotwire::site::{Problems, Site, read};
use proptest::prelude::*;

use crate::support::cases::cases;

const YARDS: [&str; 2] = [
    include_str!("../config/chain-of-three.toml"),
    include_str!("data/whole-site.toml"),
];

/// Tokens to write in place of any other.
const TOKENS: [&str; 40] = [
    "",
    "\"",
    "'",
    "\"\"\"",
    "[",
    "]",
    "[[",
    "]]",
    "{",
    "}",
    "=",
    ",",
    ".",
    "#",
    "\n",
    "\r",
    "\t",
    "-1",
    "0",
    "1e999",
    "nan",
    "12 V",
    "\"12 V\"",
    "\"1e300 m\"",
    "\"-5 ft\"",
    "\"0 W\"",
    "true",
    "2027-02-28",
    "07:30",
    "\"24:00\"",
    "\"sun 91 deg\"",
    "site",
    "zone",
    "[[zone]]",
    "[site]",
    "walk",
    "µ",
    "“",
    "\u{feff}",
    "name = \"gate\"",
];

#[derive(Debug, Clone)]
enum Slip {
    Delete(usize),
    Double(usize, usize),
    Swap(usize, usize),
    Replace(usize, usize),
    Borrow(usize, usize),
    Insert(usize, usize),
    Cut(usize),
}

fn slips() -> impl Strategy<Value = Vec<Slip>> {
    let place = || 0..usize::MAX;
    let slip = prop_oneof![
        3 => place().prop_map(Slip::Delete),
        2 => (place(), place()).prop_map(|(from, to)| Slip::Double(from, to)),
        2 => (place(), place()).prop_map(|(a, b)| Slip::Swap(a, b)),
        4 => (place(), place()).prop_map(|(at, token)| Slip::Replace(at, token)),
        4 => (place(), place()).prop_map(|(at, from)| Slip::Borrow(at, from)),
        2 => (place(), place()).prop_map(|(at, token)| Slip::Insert(at, token)),
        1 => place().prop_map(Slip::Cut),
    ];
    prop::collection::vec(slip, 1..6)
}

/// The places of the words, numbers and signs of a text.
fn tokens(text: &str) -> Vec<Range<usize>> {
    let mut found: Vec<Range<usize>> = Vec::new();
    let mut last_kind = ' ';
    for (at, letter) in text.char_indices() {
        let kind = if letter.is_alphanumeric() || "_-.".contains(letter) {
            'a'
        } else {
            letter
        };
        let end = at + letter.len_utf8();
        match found.last_mut() {
            Some(token) if kind == 'a' && last_kind == 'a' => token.end = end,
            _ => found.push(at..end),
        }
        last_kind = kind;
    }
    found
}

fn slipped(text: &str, slip: &Slip) -> String {
    let mut lines: Vec<&str> = text.split_inclusive('\n').collect();
    let words = tokens(text);
    if words.is_empty() {
        return TOKENS[0].into();
    }
    match *slip {
        Slip::Delete(at) => {
            lines.remove(at % lines.len());
        }
        Slip::Double(from, to) => {
            let line = lines[from % lines.len()];
            lines.insert(to % (lines.len() + 1), line);
        }
        Slip::Swap(a, b) => {
            let count = lines.len();
            lines.swap(a % count, b % count);
        }
        Slip::Replace(at, token) => {
            let word = words[at % words.len()].clone();
            let token = TOKENS[token % TOKENS.len()];
            return [&text[..word.start], token, &text[word.end..]].concat();
        }
        Slip::Borrow(at, from) => {
            let word = words[at % words.len()].clone();
            let other = words[from % words.len()].clone();
            return [&text[..word.start], &text[other], &text[word.end..]].concat();
        }
        Slip::Insert(at, token) => {
            let start = words[at % words.len()].start;
            let token = TOKENS[token % TOKENS.len()];
            return [&text[..start], token, &text[start..]].concat();
        }
        Slip::Cut(at) => return text[..words[at % words.len()].start].into(),
    }
    lines.concat()
}

fn read_text(text: &str, zones: &ZoneInfo) -> Result<Site, Problems> {
    read(text.as_bytes(), "yard.toml", &|name| zones.open(name))
}

/// Whether a span can be cut out of the text; the reader sees the text without its byte-order mark.
fn lies_in(text: &str, span: &Range<usize>) -> bool {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    text.get(span.clone()).is_some()
}

proptest! {
    #![proptest_config(cases(400))]

    #[test]
    fn a_yard_with_slips_is_a_yard_or_a_report(yard in 0..YARDS.len(), slips in slips()) {
        let zones = ZoneInfo::from_environment();
        let text = slips.iter().fold(YARDS[yard].to_owned(), |text, slip| slipped(&text, slip));
        let first = read_text(&text, &zones);
        let second = read_text(&text, &zones);
        match (first, second) {
            (Ok(first), Ok(second)) => {
                prop_assert_eq!(format!("{first:?}"), format!("{second:?}"));
            }
            (Err(first), Err(second)) => {
                prop_assert_eq!(first.list(), second.list());
                prop_assert!(!first.list().is_empty(), "nothing is wrong, but there is no yard");
                for problem in first.list() {
                    for span in problem.span.iter().chain(problem.related.iter().map(|at| &at.0)) {
                        prop_assert!(lies_in(&text, span), "{span:?} of {problem:?}");
                    }
                    prop_assert!(!problem.message.is_empty() && !problem.remedy.is_empty());
                }
                let report = first.to_string();
                let shown = report.matches("\n  → ").count();
                // Fifty are shown, then how many more there are.
                prop_assert_eq!(shown, first.list().len().min(50));
            }
            _ => prop_assert!(false, "read twice, and not the same"),
        }
    }
}
