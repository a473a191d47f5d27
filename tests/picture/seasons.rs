//! The season chart, compared with the plan and with the sun's position.

use std::fmt::Write;
use std::time::Duration;

use chrono::{DateTime, Days, NaiveDate, NaiveTime, TimeDelta, Utc};
use pilotwire::almanac::SunPosition;
use pilotwire::link::following;
use pilotwire::picture::season::{season_strip, season_svg};
use pilotwire::schedule::{Sky, skies};
use pilotwire::season::{Season, season};
use pilotwire::site::Site;
use proptest::prelude::*;
use roxmltree::{Document, Node};

use crate::support::read::read;
use crate::support::yards::CONFIG;

use super::characters::without_colours;
use super::drawing::{self, paths};
use super::yards::{thirty, zones_at};

fn date(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn of(site: &Site, from: &str, to: &str) -> (Season, Vec<Sky>) {
    let evenings = date(from)..=date(to);
    let season = season(site, evenings.clone(), &following(site).unwrap()).unwrap();
    let skies = skies(site, evenings).unwrap();
    (season, skies)
}

/// A leap year: the longest year.
const YEAR: (&str, &str) = ("2027-09-01", "2028-08-31");

/// Four zones that have nothing in common.
pub(crate) fn four() -> Site {
    zones_at(
        60.0,
        "[[zone]]\nname = \"a\"\nsupply = \"dc\"\non = \"sunset\"\noff = \"23:00\"\n\
         [[zone]]\nname = \"b\"\nsupply = \"dc\"\non = \"civil_dusk\"\noff = \"sunrise\"\ndays = [\"mon\", \"wed\", \"fri\"]\n\
         [[zone]]\nname = \"c\"\nsupply = \"dc\"\non = \"sunset + 30 min\"\noff = \"00:30\"\n\
         [[window]]\nzone = \"c\"\non = \"05:30\"\noff = \"sunrise\"\ndays = [\"tue\", \"sat\"]\n\
         [[zone]]\nname = \"d\"\nsupply = \"dc\"\non = \"20:00\"\noff = \"02:30\"\n",
    )
}

/// Two zones where the sun does not set in summer nor rise in winter.
fn north() -> Site {
    zones_at(
        69.65,
        "[[zone]]\nname = \"quay\"\nsupply = \"dc\"\non = \"civil_dusk\"\noff = \"23:00\"\n\
         [[zone]]\nname = \"steps\"\nsupply = \"dc\"\non = \"sunset\"\noff = \"sunrise\"\n",
    )
}

fn has_class(node: &Node<'_, '_>, class: &str) -> bool {
    node.attribute("class")
        .is_some_and(|c| c.split(' ').any(|c| c == class))
}

/// Frames of the panels: left, top, width, height.
fn frames(document: &Document<'_>) -> Vec<[f64; 4]> {
    document
        .descendants()
        .filter(|node| node.tag_name().name() == "rect" && has_class(node, "axis"))
        .map(|node| {
            ["x", "y", "width", "height"].map(|name| node.attribute(name).unwrap().parse().unwrap())
        })
        .collect()
}

fn shapes(document: &Document<'_>, class: &str) -> Vec<Vec<(f64, f64)>> {
    document
        .descendants()
        .filter(|node| has_class(node, class))
        .filter_map(|node| node.attribute("d"))
        .flat_map(paths)
        .collect()
}

/// Whether a point lies inside one of the outlines (ray to the right, even or odd).
fn inside(shapes: &[Vec<(f64, f64)>], (x, y): (f64, f64)) -> bool {
    shapes.iter().any(|shape| {
        let next = shape.iter().cycle().skip(1);
        let crossed = shape.iter().zip(next).filter(|((ax, ay), (bx, by))| {
            (ay > &y) != (by > &y) && x < ax + (y - ay) / (by - ay) * (bx - ax)
        });
        crossed.count() % 2 == 1
    })
}

/// Hours after noon by the clock on the wall, of an evening.
fn instant(site: &Site, evening: NaiveDate, hours: f64) -> DateTime<Utc> {
    let noon = evening.and_time(NaiveTime::from_hms_opt(12, 0, 0).unwrap());
    let after = Duration::from_secs_f64(hours * 3600.0);
    site.timezone
        .resolve(noon + TimeDelta::from_std(after).unwrap())
        .utc
}

#[test]
fn what_is_drawn_lit_is_lit_in_the_plan() {
    for (name, site, panels) in [
        ("pair", read(CONFIG[0].1), 1),
        ("three", read(CONFIG[1].1), 1),
        ("four", four(), 4),
        ("north", north(), 2),
    ] {
        let (season, skies) = of(&site, YEAR.0, YEAR.1);
        let svg = season_svg(&site, &season, &skies).file();
        let document = Document::parse(&svg).unwrap();
        let frames = frames(&document);
        assert_eq!(frames.len(), panels, "{name}");
        let lit = shapes(&document, "lit");
        // Panels are in the order of the zones, each with the first of the zones that share it.
        for (frame, zone) in frames.iter().zip(site.zones_in_order()) {
            let [left, top, wide, high] = *frame;
            let nights = skies.len();
            for evening in (0..nights).step_by(3) {
                let date = season.from + Days::new(evening as u64);
                if skies[evening].evening.has_clock_change(&site) {
                    continue;
                }
                let rows: Vec<_> = season
                    .plan
                    .rows
                    .iter()
                    .filter(|row| row.zone == zone)
                    .collect();
                let mine = |at: DateTime<Utc>| {
                    rows.iter().any(|row| {
                        row.on.is_some_and(|on| on <= at)
                            && row.lit_until(&site).is_some_and(|off| at < off)
                    })
                };
                for half_hour in 0..48 {
                    let hours = f64::from(half_hour) / 2.0 + 0.2;
                    let at = |by: f64| mine(instant(&site, date, (hours + by).clamp(0.0, 23.99)));
                    // Within ten minutes of a switching, a unit of the picture may show either state.
                    if at(-0.17) != at(0.17) {
                        continue;
                    }
                    let x = left + (evening as f64 + 0.5) / nights as f64 * wide;
                    let y = top + hours / 24.0 * high;
                    assert_eq!(
                        inside(&lit, (x, y)),
                        at(0.0),
                        "{name}, {date} at {hours:.1} h after noon"
                    );
                }
            }
        }
    }
}

#[test]
fn the_sky_is_bright_where_the_sun_is_up() {
    for (name, site) in [("pair", read(CONFIG[0].1)), ("north", north())] {
        let (season, skies) = of(&site, YEAR.0, YEAR.1);
        let svg = season_svg(&site, &season, &skies).file();
        let document = Document::parse(&svg).unwrap();
        let [left, top, wide, high] = frames(&document)[0];
        for (class, altitude_deg) in [
            ("pwp-day", -50.0 / 60.0),
            ("pwp-civil", -6.0),
            ("pwp-nautical", -12.0),
            ("pwp-astronomical", -18.0),
        ] {
            let bright = shapes(&document, class);
            for evening in (0..skies.len()).step_by(9) {
                for hour in 0..24 {
                    let hours = f64::from(hour) + 0.5;
                    let at = instant(&site, season.from + Days::new(evening as u64), hours);
                    let sun = SunPosition::at(site.place, at).unwrap().altitude_deg;
                    // Next to a mark, and in the week of a clock change, the picture is coarse.
                    if (sun - altitude_deg).abs() < 1.2
                        || skies[evening].evening.has_clock_change(&site)
                    {
                        continue;
                    }
                    let x = left + (evening as f64 + 0.5) / skies.len() as f64 * wide;
                    let y = top + hours / 24.0 * high;
                    assert_eq!(
                        inside(&bright, (x, y)),
                        sun > altitude_deg,
                        "{name}: {class} at {at}, sun {sun:.1}"
                    );
                }
            }
        }
    }
}

#[test]
fn a_season_chart_is_sound_and_small() {
    let mut zones = String::new();
    for n in 0..30 {
        let (hour, minute) = (18 + n / 6, 9 * (n % 6));
        let keys = format!("on = \"sunset\"\noff = \"{hour:02}:{minute:02}\"");
        let _ = writeln!(
            zones,
            "[[zone]]\nname = \"zone-number-{n}-of-them\"\nsupply = \"dc\"\n{keys}"
        );
    }
    let many = zones_at(60.0, &zones);
    for (name, site, most) in [
        ("pair", read(CONFIG[0].1), 40_000),
        ("three", read(CONFIG[1].1), 60_000),
        ("hot wall", read(CONFIG[3].1), 60_000),
        ("four", four(), 120_000),
        ("north", north(), 120_000),
        ("star of thirty", thirty(|_| 0), 40_000),
        ("thirty apart", many, 400_000),
    ] {
        for (from, to) in [
            YEAR,
            ("2027-03-01", "2027-03-01"),
            ("2027-03-20", "2027-04-05"),
            ("2027-01-01", "2031-12-31"),
        ] {
            let (season, skies) = of(&site, from, to);
            let svg = season_svg(&site, &season, &skies).file();
            drawing::check(name, &svg);
            drawing::check_room(name, &svg);
            assert_eq!(svg, season_svg(&site, &season, &skies).file());
            let years = if to > "2030" { 5 } else { 1 };
            assert!(svg.len() <= years * most, "{name}: {} bytes", svg.len());
            println!("{name}, {from}: {} bytes", svg.len());
        }
    }
}

/// Lit time is striped, so that on paper without colour it does not look like twilight.
#[test]
fn what_is_lit_is_striped_from_its_on_to_its_off() {
    for site in [read(CONFIG[1].1), four()] {
        let (season, skies) = of(&site, YEAR.0, YEAR.1);
        let svg = season_svg(&site, &season, &skies).file();
        let document = Document::parse(&svg).unwrap();
        let lit = shapes(&document, "lit");
        let strokes = shapes(&document, "glow");
        assert!(strokes.len() > 80);
        for stroke in &strokes[..strokes.len() - 3] {
            let [(x, from), (_, to)] = stroke[..] else {
                panic!("{stroke:?}")
            };
            for part in [0.1, 0.5, 0.9] {
                let y = from + part * (to - from);
                assert!((to - from).abs() < 1.0 || inside(&lit, (x, y)), "{x} {y}");
            }
        }
    }
}

/// The chart of four zones that have nothing in common: 120 kB at most.
#[test]
fn a_season_of_four_zones_is_small() {
    let site = four();
    for (from, to) in [YEAR, ("2026-12-01", "2027-11-30")] {
        let (season, skies) = of(&site, from, to);
        let svg = season_svg(&site, &season, &skies).file();
        assert_eq!(svg.matches("(timed)").count(), 2 * 4 / 2);
        assert!(svg.len() <= 120_000, "{} bytes", svg.len());
    }
}

#[test]
fn clock_changes_stand_at_their_night_and_are_named() {
    let site = read(CONFIG[1].1);
    let (season, skies) = of(&site, "2026-11-24", "2027-11-23");
    let svg = season_svg(&site, &season, &skies).file();
    // The last Sundays of March and October; the nights before them.
    for said in ["27 Mar: clocks +1 h", "30 Oct: clocks −1 h"] {
        assert!(svg.contains(said), "{said}");
    }
    let document = Document::parse(&svg).unwrap();
    let [left, _, wide, _] = frames(&document)[0];
    for evening in ["2027-03-27", "2027-10-30"] {
        let nights = (date(evening) - date("2026-11-24")).num_days() as f64;
        let x = left + (nights + 0.5) / skies.len() as f64 * wide;
        let there = shapes(&document, "seam")
            .iter()
            .any(|line| (line[0].0 - x).abs() < 0.2);
        assert!(there, "{evening}");
    }
}

#[test]
fn nights_out_of_the_ordinary_are_said_with_their_reason() {
    let site = read(CONFIG[1].1);
    let (season, skies) = of(&site, "2026-11-24", "2027-11-23");
    let svg = season_svg(&site, &season, &skies).file();
    // A note below its panel, and in the text for a pointer.
    let document = Document::parse(&svg).unwrap();
    let note = "1 night with other times: until 01:30, by [[date]]; 2026-12-31";
    let told = document.descendants().any(|node| {
        node.has_tag_name(("http://www.w3.org/2000/svg", "title")) && node.text() == Some(note)
    });
    assert!(told);
    let words = svg.replace("</text>", " ");
    for said in [
        "8 nights without light",
        "1 night with other times: until 01:30, by [[date]]",
        "<title>",
    ] {
        assert!(words.contains(said), "{said}");
    }
    let site = read(CONFIG[3].1);
    let (season, skies) = of(&site, "2026-11-24", "2027-11-23");
    let at_risk: usize = season
        .nights
        .iter()
        .flatten()
        .map(|nights| nights.at_risk.len())
        .sum();
    assert!(at_risk > 0);
    assert!(
        season_svg(&site, &season, &skies)
            .file()
            .contains(&format!("{at_risk} nights at risk"))
    );
}

#[test]
fn a_pointer_is_told_of_every_month() {
    let site = read(CONFIG[0].1);
    let (season, skies) = of(&site, "2027-01-01", "2027-12-31");
    let svg = season_svg(&site, &season, &skies).file();
    for month in &season.zones[0].months {
        let said = format!(
            "walk and orchard, {}: lit {} of ",
            month.first.format("%B %Y"),
            month.nights_lit
        );
        assert!(svg.contains(&said), "{said}");
    }
}

#[test]
fn a_strip_keeps_to_its_width_and_says_in_letters_what_colours_say() {
    for (site, from, to) in [
        (read(CONFIG[1].1), "2026-11-24", "2027-11-23"),
        (north(), "2026-11-24", "2027-11-23"),
        (four(), "2027-03-20", "2027-04-05"),
        (four(), "2027-03-20", "2027-03-20"),
    ] {
        let (season, skies) = of(&site, from, to);
        for columns in [20, 40, 80, 132, 1000] {
            let plain = season_strip(&site, &season, &skies, columns, false);
            let bound = columns.clamp(40, 200);
            for line in plain.lines() {
                assert!(line.chars().count() <= bound, "{columns}: {line}");
                assert_eq!(line, line.trim_end());
            }
            assert!(!plain.contains('\u{1b}'));
            let mut coloured = season_strip(&site, &season, &skies, columns, true);
            assert!(coloured.contains('\u{1b}'));
            coloured = without_colours(&coloured);
            assert_eq!(coloured, plain);
        }
    }
}

#[test]
fn a_strip_shows_lit_hours() {
    // Lit from 20:00 to 02:30 on every night: 6 whole lines and half of one.
    let site = zones_at(
        60.0,
        "[[zone]]\nname = \"d\"\nsupply = \"dc\"\non = \"20:00\"\noff = \"02:30\"\n",
    );
    let (season, skies) = of(&site, "2027-01-01", "2027-02-28");
    let strip = season_strip(&site, &season, &skies, 60, false);
    let lines: Vec<&str> = strip
        .lines()
        .filter(|line| line.contains(['#', '+']) && !line.contains("lit"))
        .collect();
    assert_eq!(lines.len(), 7, "{strip}");
    assert!(
        lines[..6]
            .iter()
            .all(|line| line[6..].chars().all(|c| c == '#')),
        "{strip}"
    );
    assert!(lines[6][6..].chars().all(|c| c == '+'), "{strip}");
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 64,
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    /// As a reader needs it: the letter of every note stands below its panel, and none over another.
    #[test]
    fn letters_of_exceptions_never_collide_and_none_is_missing(
        dates in prop::collection::vec((0_u64..180, 0_u64..12), 1..9),
    ) {
        let from = date("2027-09-01");
        let mut text = "[[zone]]\nname = \"walk\"\nsupply = \"dc\"\non = \"sunset\"\noff = \"23:00\"\n".to_owned();
        for (index, (first, days)) in dates.iter().enumerate() {
            let (first, last) = (from + Days::new(*first), from + Days::new(first + days));
            // Each ends at a time of its own, so each is a note of its own, unless a later one hides it.
            let _ = writeln!(text, "[[date]]\nfrom = {first}\nto = {last}\noff = \"00:{:02}\"", 10 + index);
        }
        let site = zones_at(51.0, &text);
        let (season, skies) = of(&site, "2027-09-01", "2028-03-31");
        let svg = season_svg(&site, &season, &skies).file();
        let document = Document::parse(&svg).unwrap();
        let number = |node: &Node<'_, '_>, name: &str| node.attribute(name).unwrap().parse::<f64>().unwrap();
        let letters = document.descendants().filter(|node| {
            node.has_tag_name(("http://www.w3.org/2000/svg", "text"))
                && node.text().is_some_and(|text| text.len() == 1 && text.as_bytes()[0].is_ascii_lowercase())
        });
        let (below, beside): (Vec<_>, Vec<_>) = letters.partition(|node| node.attribute("text-anchor") == Some("middle"));
        prop_assert!(!beside.is_empty());
        for note in &beside {
            prop_assert!(below.iter().any(|it| it.text() == note.text()), "no letter of note {:?}", note.text());
        }
        for (index, one) in below.iter().enumerate() {
            for other in &below[index + 1..] {
                let [x, y] = ["x", "y"].map(|name| (number(one, name) - number(other, name)).abs());
                // A letter of 11.5 is at most 0.6 of that wide, and 0.8 of it high.
                prop_assert!(x >= 7.0 || y >= 9.2, "{:?} over {:?}: {x} and {y} apart", one.text(), other.text());
            }
        }
    }
}
