//! Chains: when every zone goes on and off after its head, and which zones fail together.

use std::fmt::Write;
use std::num::NonZeroU32;

use chrono::NaiveDate;
use pilotwire::chain::{Chain, ChainZone, Fed, chain};
use pilotwire::check::check;
use pilotwire::link::Following;
use pilotwire::link::{self, Draw};
use pilotwire::report::check_text;
use pilotwire::site::{self, Site};

use crate::support::read::read;

/// The smallest number of random builds: they do not affect the ordinary evening.
const ONE_BUILD: Draw = Draw {
    seed: 1,
    builds: NonZeroU32::MIN,
};

const THREE: &str = include_str!("../config/chain-of-three.toml");

fn chain_of(site: &Site) -> Chain {
    chain(site, &link::judge(site, ONE_BUILD).unwrap())
}

fn zone<'a>(site: &Site, chain: &'a Chain, name: &str) -> &'a ChainZone {
    let mut zones = chain.zones.iter();
    zones
        .find(|zone| site[zone.zone].name == name)
        .expect("the zone is in a chain")
}

/// The plan adds up the delays of `following`; the course of events must reach the same times by letting one
/// thing follow another.
#[test]
fn an_ordinary_evening_goes_as_the_plan_says() {
    for text in [
        include_str!("../config/linked-pair.toml"),
        THREE,
        include_str!("../config/hot-wall.toml"),
        include_str!("../config/too-far.toml"),
        include_str!("worked_sites/copperleaf.toml"),
        include_str!("worked_sites/fjordstrand.toml"),
        include_str!("worked_sites/los-teros.toml"),
        include_str!("worked_sites/ocotillo.toml"),
    ] {
        let mut site = read(text);
        // The course of events is that of the year's typical evening.
        site.temperatures.monthly = None;
        let following = link::following(&site).unwrap();
        let chain = chain_of(&site);
        let date = NaiveDate::from_ymd_opt(2026, 11, 1).unwrap();
        let mut delays = vec![Some((0.0, 0.0)); site.zones.len()];
        for link in chain
            .zones
            .iter()
            .filter_map(|zone| site.link_to(zone.zone))
        {
            let at = site
                .links
                .iter()
                .position(|other| other.slave == link.slave);
            delays[link.slave.0] = match (delays[link.master.0], following[at.unwrap()].on(date)) {
                (
                    Some((on_s, off_s)),
                    Following::Follows {
                        on_delay_s,
                        off_delay_s,
                    },
                ) => Some((on_s + on_delay_s, off_s + off_delay_s)),
                _ => None,
            };
        }
        for zone in &chain.zones {
            let name = format!("{}: {}", site.name, site[zone.zone].name);
            let got = zone.lit_after.typical_s.zip(zone.dark_after.typical_s);
            match (delays[zone.zone.0], got) {
                (None, None) => {}
                (Some((on_s, off_s)), Some((lit_s, dark_s))) => {
                    assert!((on_s - lit_s).abs() < 1e-3, "{name} {on_s} {lit_s}");
                    assert!((off_s - dark_s).abs() < 1e-3, "{name} {off_s} {dark_s}");
                }
                other => panic!("{name} {other:?}"),
            }
        }
    }
}

/// By hand, coil warm, t = R·C·ln(V / release voltage) + the relay's release time of 5 ms:
///
/// - beech walk, on AC: 41 °C makes 1.0825 of 720 Ω and 3.0 V; 13.3 V. 779 Ω × 220 µF × ln(13.3 /
///   3.25) = 0.242 s; + 5 ms + 16 ms hold-up = 0.263 s.
/// - gate, on the beech walk's DC: 29 °C makes 1.035; 10.4 V. 745 Ω × 220 µF × ln(10.4 / 3.11) =
///   0.198 s; + 5 ms + 20 ms hold-up = 0.223 s.
///
/// On: 10 to 30 ms for capacitor and relay, 2 ms of bounce, and 400 + 20 ms, then 250 ms of supply.
#[test]
fn a_stage_on_ac_and_one_on_dc_have_times_of_their_own() {
    let site = read(THREE);
    let chain = chain_of(&site);
    let near = |name: &str, fed, (lit_s, within_s): (f64, f64), dark_s: f64| {
        let zone = zone(&site, &chain, name);
        assert_eq!(zone.fed, fed, "{name}");
        let (lit, dark) = (zone.lit_after, zone.dark_after);
        let (on_s, off_s) = (lit.typical_s.unwrap(), dark.typical_s.unwrap());
        assert!((on_s - lit_s).abs() <= within_s, "{name} {on_s}");
        assert!((off_s - dark_s).abs() < 0.005, "{name} {off_s}");
        assert!(lit.most_s.unwrap() >= on_s && dark.most_s.unwrap() >= off_s);
    };
    near("terrace", None, (0.0, 0.0), 0.0);
    near("beech-walk", Some(Fed::Ac), (0.442, 0.01), 0.263);
    near("gate", Some(Fed::Dc), (0.714, 0.02), 0.263 + 0.223);
}

#[test]
fn a_zone_takes_those_behind_it_along() {
    let site = read(THREE);
    let chain = chain_of(&site);
    let names = |zones: &[site::ZoneId]| -> Vec<String> {
        zones.iter().map(|zone| site[*zone].name.clone()).collect()
    };
    for (name, dark, lit) in [
        ("terrace", vec!["beech-walk", "gate"], vec![]),
        ("beech-walk", vec!["gate"], vec!["beech-walk", "gate"]),
        ("gate", vec![], vec!["gate"]),
    ] {
        let zone = zone(&site, &chain, name);
        assert_eq!(names(&zone.dark_with_it), dark, "{name}");
        assert_eq!(names(&zone.lit_if_welded), lit, "{name}");
    }
}

/// The chapter of `check` about chains.
fn said(text: &str) -> String {
    let site = read(text);
    let date = NaiveDate::from_ymd_opt(2026, 11, 1).unwrap();
    let text = check_text(&site, &check(&site, date, ONE_BUILD).unwrap(), false);
    assert!(
        text.lines().all(|line| line.chars().count() <= 80),
        "{text}"
    );
    let block = text
        .split("\n\n")
        .find(|block| block.starts_with("chain, "));
    block.expect("the yard has links").to_owned()
}

#[test]
fn a_zone_that_its_own_contact_holds_on_is_never_dark() {
    // The gate on the terrace's transformer, which only the terrace's clock should switch.
    let from = "name = \"gate\"\nsupply = \"gate\"";
    assert_eq!(THREE.matches(from).count(), 1);
    let text = THREE
        .replace(from, "name = \"gate\"\nsupply = \"terrace\"")
        .replace("accepts = [\"dc\"]", "accepts = [\"ac\"]");
    let said = said(&text);
    assert!(
        said.contains("\n  once lit, lit for ever: terrace, beech-walk, gate"),
        "{said}"
    );
    assert!(
        said.contains("\n  terrace     head                        never   never"),
        "{said}"
    );
}

#[test]
fn a_yard_without_links_has_no_chain() {
    let end = THREE.find("[[link]]").unwrap();
    let relays = THREE.find("[[relay]]").unwrap();
    let text = format!("{}{}", &THREE[..end], &THREE[relays..])
        .replace(
            "name = \"gate\"\nsupply = \"gate\"",
            "name = \"gate\"\nsupply = \"gate\"\non = \"18:00\"\noff = \"22:00\"",
        )
        .replace(
            "supply = \"potting-shed\"",
            "supply = \"potting-shed\"\non = \"18:00\"\noff = \"22:00\"",
        );
    let site = read(&text);
    let date = NaiveDate::from_ymd_opt(2026, 11, 1).unwrap();
    let text = check_text(&site, &check(&site, date, ONE_BUILD).unwrap(), true);
    assert!(
        !text.contains("chain, after") && !text.contains("order of events"),
        "{text}"
    );
}

/// A board passes on what its input sees: by hand, walk > pond over a link, pond to gate by an input, gate >
/// arch over a link. Where it falls back on the plan, the zone stays lit.
#[test]
fn a_board_that_follows_an_input_hands_darkness_and_light_on() {
    let text = |silent: &str| {
        format!(
            "{}\n[[supply]]\nname = \"third\"\nkind = \"dc\"\n\n\
             [[supply]]\nname = \"fourth\"\nkind = \"dc\"\n\n\
             [[zone]]\nname = \"gate\"\nsupply = \"third\"\nfollows_input = \"pond\"\n\
             if_master_silent = \"{silent}\"\n\n\
             [[input]]\nzone = \"pond\"\nchip = \"board\"\nline = 27\n\n\
             [[output]]\nzone = \"gate\"\nchip = \"board\"\nline = 17\n\n\
             [[zone]]\nname = \"arch\"\nsupply = \"fourth\"\n\n\
             [[link]]\nmaster = \"gate\"\nslave = \"arch\"\nwire = \"0.75 mm2\"\n\
             length = \"50 m\"\nrelay = \"r720\"\n",
            include_str!("cautions/quiet.toml")
        )
    };
    for (silent, of_walk) in [
        ("dark", &["pond", "gate", "arch"][..]),
        ("schedule", &["pond"]),
    ] {
        let site = read(&text(silent));
        let chain = chain_of(&site);
        let names = |zones: &[site::ZoneId]| -> Vec<String> {
            zones.iter().map(|zone| site[*zone].name.clone()).collect()
        };
        assert_eq!(names(&zone(&site, &chain, "walk").dark_with_it), of_walk);
        assert_eq!(names(&zone(&site, &chain, "gate").dark_with_it), ["arch"]);
        // A zone that the input sees lit counts as lit, whatever the plan says.
        assert_eq!(
            names(&zone(&site, &chain, "pond").lit_if_welded),
            ["pond", "gate", "arch"]
        );
        let check = check(
            &site,
            NaiveDate::from_ymd_opt(2027, 1, 1).unwrap(),
            ONE_BUILD,
        )
        .unwrap();
        let said = check_text(&site, &check, false);
        assert!(
            said.contains("2 of 2 slaves follow, 1 zone follows an input"),
            "{said}"
        );
        assert!(said.contains("gate  input"), "{said}");
    }
}

/// The same answer for any number of threads, whether a link is judged by itself or shares the judgement of an
/// identical one.
#[test]
fn links_alike_are_judged_once_and_each_as_by_itself() {
    let mut text = include_str!("../config/linked-pair.toml").to_owned();
    for (name, feet) in [("twin", 240), ("far", 400)] {
        let _ = write!(
            text,
            "\n[[supply]]\nname = \"{name}\"\nkind = \"desktop-pc\"\nvoltage = \"12.0 V\"\nmax_current = \"14 A\"\n\
             standby_power = \"2.5 W\"\nefficiency = 0.74\nplacement = \"indoors\"\n\
             [[zone]]\nname = \"{name}\"\nsupply = \"{name}\"\n\
             [[link]]\nmaster = \"walk\"\nslave = \"{name}\"\nwire = \"22 AWG\"\nstranding = \"solid\"\n\
             length = \"{feet} ft\"\nsplices = 2\nseries_resistor = \"22 ohm\"\nrectifier = \"bridge\"\n\
             diode = \"1N4007\"\ncapacitor = \"220 uF\"\ncapacitor_rating = \"50 V\"\nrelay = \"small-12v\"\n\
             fuse = \"100 mA\"\n"
        );
    }
    let site = read(&text);
    assert_eq!(link::first_alike(&site), [0, 0, 2]);
    // A link whose supply starts more slowly is different: its zone is lit later.
    let slower = text.replacen(
        "name = \"twin\"\n",
        "name = \"twin\"\nstart_time = \"2 s\"\n",
        1,
    );
    assert_eq!(link::first_alike(&read(&slower)), [0, 1, 2]);
    let few = Draw {
        seed: 1,
        builds: NonZeroU32::new(7).unwrap(),
    };
    for text in [text, slower] {
        let site = read(&text);
        let links = site.links.iter();
        let each: Vec<_> = links
            .map(|link| link::judge_link(&site, link, few).unwrap())
            .collect();
        for threads in [1, 2, 5] {
            assert_eq!(link::judge_on(&site, few, threads).unwrap(), each);
        }
    }
}
