//! Sums over a season, with values that can be worked out on paper.

use pilotwire::link::Following;
use pilotwire::season::{Season, season, year_from};
use pilotwire::site::Site;

use super::yard::{FOLLOWS, GREENWICH, TROMSO, all_year, date, read, slave, text, utc, yard, zone};

fn sums(site: &Site, from: &str, to: &str) -> Season {
    let following = vec![FOLLOWS; site.links.len()];
    season(site, date(from)..=date(to), &all_year(&following)).unwrap()
}

#[test]
fn a_year_ends_before_its_date_comes_again() {
    let cases = [
        ("2027-01-01", "2027-12-31"),
        ("2026-11-24", "2027-11-23"),
        ("2027-03-01", "2028-02-29"),
        // That date does not come again: the last day of February ends the year.
        ("2028-02-29", "2029-02-28"),
        ("2028-03-01", "2029-02-28"),
    ];
    for (from, to) in cases {
        let year = year_from(date(from));
        assert_eq!((*year.start(), *year.end()), (date(from), date(to)));
    }
}

/// Three hours on six evenings of the week, none on Sundays; 40 W of lamps at 80 %.
fn walk() -> Site {
    let zones = zone(
        "walk",
        "on = \"19:00\"\noff = \"22:00\"\ndays = [\"mon\", \"tue\", \"wed\", \"thu\", \"fri\", \"sat\"]",
    ) + &slave("hedge", "walk", "")
        + "[[lamp]]\nzone = \"walk\"\ncount = 8\npower = \"5 W\"\n";
    let supply = "kind = \"dc\"\nefficiency = 0.8\nstandby_power = \"2 W\"";
    read(&text(GREENWICH, &zones).replacen("kind = \"dc\"", supply, 1))
}

#[test]
fn nights_hours_switchings_and_energy_add_up() {
    // 2027-02-01 is a Monday: four weeks, then Monday to Wednesday of March.
    let site = walk();
    let season = sums(&site, "2027-02-01", "2027-03-03");
    let (walk, hedge) = (&season.zones[0], &season.zones[1]);
    assert_eq!(walk.nights_lit, 27);
    assert_eq!(walk.nights_dark["not lit on that day of the week"], 4);
    assert_eq!(hedge.nights_dark["walk stays dark"], 4);
    assert_eq!((walk.switchings, walk.relay_operations), (54, 0));
    assert_eq!((hedge.switchings, hedge.relay_operations), (54, 27));
    assert!((walk.lit_s - 27.0 * 3.0 * 3600.0).abs() < 1e-6);
    // 40 W / 0.8 for 81 h.
    assert!((walk.lit_kwh - 4.05).abs() < 1e-9);
    // One supply for both: dark for 31 days less the time from walk on to hedge off, 27 × (3 h + 0.2 s), at 2 W.
    let dark_h = 31.0 * 24.0 - 27.0 * (3.0 + 0.2 / 3600.0);
    assert!((walk.standby_kwh - 0.002 * dark_h).abs() < 1e-9);
    assert!(hedge.standby_kwh.abs() < f64::EPSILON);
    assert!((walk.cost(0.5) - 0.5 * (4.05 + 0.002 * dark_h)).abs() < 1e-9);

    let months: Vec<_> = walk
        .months
        .iter()
        .map(|month| (month.first.to_string(), month.nights_lit))
        .collect();
    assert_eq!(
        months,
        [("2027-02-01".to_owned(), 24), ("2027-03-01".to_owned(), 3)]
    );
    assert_eq!(hedge.nights_not_following, 0);
}

#[test]
fn earliest_and_latest_are_by_the_clock_on_the_wall() {
    // The hour of the first night counts from its own date, also after midnight.
    let dates = "[[date]]\nfrom = 2027-02-02\non = \"01:00\"\noff = \"02:00\"\n\
                 [[date]]\nfrom = 2027-02-03\non = \"17:00\"\n";
    let site = yard(
        GREENWICH,
        &(zone("walk", "on = \"19:00\"\noff = \"22:00\"") + dates),
    );
    let season = sums(&site, "2027-02-01", "2027-02-04");
    let walk = &season.zones[0];
    assert_eq!(walk.earliest_on, Some(utc("2027-02-03T17:00:00Z")));
    assert_eq!(walk.latest_on, Some(utc("2027-02-03T01:00:00Z")));
    assert_eq!(walk.longest, Some((date("2027-02-03"), 5.0 * 3600.0)));
    assert_eq!(walk.shortest, Some((date("2027-02-02"), 3600.0)));
}

#[test]
fn a_zone_that_stays_lit_never_switches() {
    let site = walk();
    let season = season(
        &site,
        date("2027-02-01")..=date("2027-02-07"),
        &all_year(&[Following::StaysLit]),
    )
    .unwrap();
    let hedge = &season.zones[1];
    assert_eq!((hedge.nights_lit, hedge.nights_not_following), (7, 7));
    assert!((hedge.lit_s - 7.0 * 86_400.0).abs() < 1e-6);
    assert_eq!((hedge.switchings, hedge.relay_operations), (0, 0));
    assert_eq!((hedge.earliest_on, hedge.latest_on), (None, None));
    // Its supply is never dark.
    assert!(season.zones[0].standby_kwh.abs() < 1e-12);
}

#[test]
fn a_polar_night_is_one_long_light_not_a_switching_a_day() {
    let zones = zone("quay", "on = \"sunset\"\noff = \"sunrise\"")
        + &slave("shed", "quay", "")
        + &slave("pier", "shed", "");
    let site = yard(TROMSO, &zones);
    // The sun stays down from 2026-11-27 to 2027-01-15.
    let season = sums(&site, "2026-12-01", "2026-12-31");
    let quay = &season.zones[0];
    assert_eq!(quay.nights_lit, 31);
    assert!((quay.lit_s - 31.0 * 86_400.0).abs() < 1e-6);
    assert_eq!(quay.switchings, 2);
    for slave in &season.zones[1..] {
        assert_eq!(
            (slave.nights_lit, slave.switchings, slave.relay_operations),
            (31, 2, 1)
        );
    }
}

#[test]
fn a_season_of_leap_years_counts_the_leap_day() {
    let site = walk();
    let season = sums(&site, "2028-02-01", "2028-03-01");
    assert_eq!(season.plan.rows.len(), 2 * 30);
    let walk = &season.zones[0];
    assert_eq!(walk.nights_lit + walk.nights_dark.values().sum::<u32>(), 30);
}

/// A light from 15:00 to ten hours after sunrise reaches into the next evening in late October: the
/// sun of Greenwich rises at 06:45 on the 28th, so the last one ends at 16:45 (both within a minute).
#[test]
fn no_second_is_counted_twice() {
    let site = yard(
        GREENWICH,
        &zone("gate", "on = \"15:00\"\noff = \"sunrise + 10 h\""),
    );
    let season = sums(&site, "2026-10-25", "2026-10-27");
    let sum = &season.zones[0];
    let last = season.plan.rows[2].off.unwrap();
    let whole = last - utc("2026-10-25T15:00:00Z");
    assert!(
        (sum.lit_s - whole.as_seconds_f64()).abs() < 1e-3,
        "{}",
        sum.lit_s
    );
    assert!((sum.lit_s / 3600.0 - 73.75).abs() < 0.05, "{}", sum.lit_s);
    // The first evening has all of its light, from 15:00 to ten hours after a sunrise at 06:42; those that follow begin
    // when it ends.
    let (evening, lit_s) = sum.longest.unwrap();
    assert_eq!(evening, date("2026-10-25"));
    assert!((lit_s / 3600.0 - 25.7).abs() < 0.05, "{lit_s}");
    let (_, least_s) = sum.shortest.unwrap();
    assert!((least_s / 3600.0 - 24.03).abs() < 0.03, "{least_s}");
    // It does not go off in between.
    assert_eq!(sum.switchings, 2);
}

/// Two windows that are dark for different reasons: the lights of the evening would end before
/// dusk, and those of the morning are for Fridays. 2026-06-12 is one.
#[test]
fn a_night_without_light_has_all_its_reasons() {
    let site = yard(
        GREENWICH,
        &(zone("gate", "on = \"civil_dusk\"\noff = \"20:30\"")
            + "[[window]]\nzone = \"gate\"\non = \"05:00\"\noff = \"06:00\"\ndays = [\"fri\"]\n"),
    );
    let season = sums(&site, "2026-06-08", "2026-06-14");
    let dark: Vec<_> = season.zones[0].nights_dark.iter().collect();
    let both = "off comes before on; not lit on that day of the week".to_owned();
    assert_eq!(dark, [(&both, &6)]);
    assert_eq!(season.zones[0].nights_lit, 1);
}
