//! The sheet that stays with a yard: complete, self-contained, and true to what the rest of the program says.

use std::collections::HashSet;
use std::process::Command;

use chrono::NaiveDate;
use pilotwire::chain::Draw;
use pilotwire::chain::timeline::{Outage, outages, wiring};
use pilotwire::check::{Check, check};
use pilotwire::parts::{Amount, Part, parts};
use pilotwire::schedule::local_time::ZoneInfo;
use pilotwire::sheet::Section;
use pilotwire::site::{self, Site, SupplyId};

const PAIR: &str = include_str!("../config/linked-pair.toml");
const CHAIN: &str = include_str!("../config/chain-of-three.toml");

fn judged(text: &str) -> (Site, Check) {
    let zones = ZoneInfo::from_environment();
    let site = site::read(text.as_bytes(), "test", &|zone| zones.open(zone))
        .unwrap_or_else(|problems| panic!("{}", problems.render(false)));
    let from = NaiveDate::from_ymd_opt(2027, 1, 1).unwrap();
    let check = check(&site, from, Draw::default()).unwrap();
    (site, check)
}

/// What the program writes, and its exit code.
fn sheet(arguments: &[&str]) -> (String, i32) {
    let out = Command::new(env!("CARGO_BIN_EXE_pilotwire"))
        .arg("sheet")
        .args(arguments)
        .args(["--date", "2027-03-01"])
        .output()
        .unwrap();
    let text = String::from_utf8(out.stdout).unwrap();
    assert!(!text.is_empty(), "{}", String::from_utf8_lossy(&out.stderr));
    (text, out.status.code().unwrap())
}

/// Values of an attribute, in order.
fn attribute<'a>(html: &'a str, name: &str) -> Vec<&'a str> {
    let mark = format!(" {name}=\"");
    html.match_indices(&mark)
        .map(|(at, _)| {
            let rest = &html[at + mark.len()..];
            &rest[..rest.find('"').unwrap()]
        })
        .collect()
}

#[test]
fn every_demo_yard_has_every_section_and_fetches_and_runs_nothing() {
    for (file, code) in [
        ("config/linked-pair.toml", 0),
        ("config/chain-of-three.toml", 0),
        ("config/hot-wall.toml", 0),
        ("config/far-board.toml", 0),
        ("config/too-far.toml", 1),
    ] {
        let (html, exit) = sheet(&[file]);
        assert_eq!(exit, code, "{file}");
        for section in Section::ALL {
            let id = format!("<h2 id=\"{}\">", section.name());
            assert_eq!(html.matches(&id).count(), 1, "{file}: {id}");
        }
        let ids = attribute(&html, "id");
        let unique: HashSet<&&str> = ids.iter().collect();
        assert_eq!(unique.len(), ids.len(), "{file}: an id twice");
        for target in attribute(&html, "href")
            .into_iter()
            .chain(attribute(&html, "src"))
        {
            let inside = target.strip_prefix('#').is_some_and(|id| ids.contains(&id));
            assert!(inside || target.starts_with("data:"), "{file}: {target}");
        }
        assert!(!html.contains("<script"), "{file}");
        assert!(!html.contains("url("), "{file}");
        assert!(
            html.contains("Content-Security-Policy\" content=\"default-src 'none'"),
            "{file}"
        );
        // The one address in it names the format of its pictures.
        let addresses = html.matches("http").count();
        assert_eq!(
            addresses,
            html.matches("http://www.w3.org/2000/svg").count() + html.matches("http-equiv").count(),
            "{file}"
        );
        assert!(html.contains("licensed person"), "{file}");
    }
}

#[test]
fn a_section_alone_is_that_section_with_verdict_and_origin() {
    let (html, _) = sheet(&[
        "config/linked-pair.toml",
        "--section",
        "fuses",
        "--section",
        "commissioning",
    ]);
    assert!(html.contains("<h2 id=\"fuses\">") && html.contains("<h2 id=\"commissioning\">"));
    assert_eq!(html.matches("<h2 ").count(), 2);
    // In the order of the sheet, whatever the order of the words.
    let (other, _) = sheet(&[
        "config/linked-pair.toml",
        "--section",
        "commissioning",
        "--section",
        "fuses",
    ]);
    assert_eq!(html, other);
    assert!(html.contains("class=\"verdict\">GO"));
    assert!(html.contains("SHA-256"));
}

#[test]
fn the_checksum_is_that_of_the_file_as_another_program_sums_it() {
    let out = Command::new("sha256sum")
        .arg("config/linked-pair.toml")
        .output()
        .unwrap();
    let theirs = String::from_utf8(out.stdout).unwrap();
    let sum = theirs.split_whitespace().next().unwrap();
    assert_eq!(sum.len(), 64);
    let (html, _) = sheet(&["config/linked-pair.toml", "--section", "limits"]);
    assert!(html.contains(sum), "no {sum}");
}

#[test]
fn markup_in_a_name_stays_text() {
    let file = std::env::temp_dir().join(format!("pilotwire-sheet-{}.toml", std::process::id()));
    let evil = PAIR
        .replace(
            "name = \"Hazel Bank\"",
            "name = \"<img src=x onerror=alert(1)> & 'Bank'\"",
        )
        .replace(
            "splices = 2\n",
            "splices = 2\ncolours = \"</td><b>red\"\ndepth = \"6 in\"\n",
        );
    std::fs::write(&file, evil).unwrap();
    let (html, _) = sheet(&[file.to_str().unwrap()]);
    std::fs::remove_file(&file).unwrap();
    assert!(!html.contains("<img"));
    assert!(html.contains("&lt;img src=x onerror=alert(1)&gt; &amp; 'Bank'"));
    assert!(!html.contains("</td><b>red"));
    assert!(html.contains("&lt;/td&gt;&lt;b&gt;red"));
    assert!(html.contains("152 mm (6 in)"));
}

fn part<'a>(parts: &'a [Part], begins: &str) -> &'a Part {
    let mut found = parts.iter().filter(|part| part.item.starts_with(begins));
    let part = found
        .next()
        .unwrap_or_else(|| panic!("no {begins} among {parts:#?}"));
    assert!(found.next().is_none(), "two {begins}");
    part
}

#[test]
fn the_parts_of_a_yard_are_counted_with_slack_and_the_shelf_is_used_first() {
    let (site, check) = judged(PAIR);
    let all = parts(&site, &check.links);
    let metres = |part: &Part| match part.needed {
        Amount::Metres(metres) => metres,
        Amount::Pieces(count) => panic!("{count} pieces of {}", part.item),
    };
    // 240 ft and 10 %, and a metre at each end.
    let pair = part(&all, "two-conductor cable for direct burial, 22 AWG solid");
    assert!((metres(pair) - (240.0 * 0.3048 * 1.1 + 2.0)).abs() < 1e-9);
    // Four in the bridge, one across the coil.
    assert_eq!(part(&all, "diode 1N4007").needed, Amount::Pieces(5));
    assert_eq!(part(&all, "splice").needed, Amount::Pieces(2));
    assert_eq!(part(&all, "fuse 7.5 A").needed, Amount::Pieces(2));
    assert_eq!(
        part(&all, "fuse 250 mA, time-lag").needed,
        Amount::Pieces(1)
    );
    assert!(all.iter().all(|part| part.to_buy() == part.needed));

    let shelf = PAIR.to_owned()
        + "\n[[shelf]]\nkind = \"wire\"\nitem = \"22 AWG\"\nlength = \"100 ft\"\n"
        + "[[shelf]]\nkind = \"wire\"\nitem = \"12 AWG\"\nlength = \"500 ft\"\n"
        + "[[shelf]]\nkind = \"diode\"\nitem = \"1n4007\"\ncount = 3\n"
        + "[[shelf]]\nkind = \"capacitor\"\nitem = \"220 uF 25 V\"\n"
        + "[[shelf]]\nkind = \"resistor\"\nitem = \"22 ohm 1 W\"\ncount = 10\n"
        + "[[shelf]]\nkind = \"relay\"\nitem = \"small-12v\"\n"
        + "[[shelf]]\nkind = \"fuse\"\nitem = \"7.5 A\"\n";
    let (site, check) = judged(&shelf);
    let all = parts(&site, &check.links);
    let pair = part(&all, "two-conductor cable for direct burial, 22 AWG solid");
    let Amount::Metres(missing) = pair.to_buy() else {
        panic!("{pair:?}")
    };
    assert!(
        (missing - (140.0 * 0.3048 + 240.0 * 0.3048 * 0.1 + 2.0)).abs() < 1e-9,
        "{missing}"
    );
    assert!(
        part(&all, "two-conductor cable for direct burial, 12 AWG")
            .to_buy()
            .is_none()
    );
    assert_eq!(part(&all, "diode").to_buy(), Amount::Pieces(2));
    // 25 V is too little for this link: it does not count.
    assert_eq!(part(&all, "electrolytic").to_buy(), Amount::Pieces(1));
    assert!(part(&all, "resistor 22 ohm").to_buy().is_none());
    assert!(part(&all, "relay small-12v").to_buy().is_none());
    assert_eq!(part(&all, "fuse 7.5 A").to_buy(), Amount::Pieces(1));
}

/// By the rule of the trade: on return everything is as it should be at that moment; a chain is dark from
/// where its supply is dead.
#[test]
fn a_chain_is_dark_from_the_dead_supply_on_and_comes_back_by_itself() {
    let (site, check) = judged(CHAIN);
    let courses = outages(&wiring(&site, &check.links), site.supplies.len());
    let names = |zones: &[pilotwire::site::ZoneId]| -> Vec<&str> {
        zones.iter().map(|zone| site[*zone].name.as_str()).collect()
    };
    let supply = |name: &str| {
        let index = site
            .supplies
            .iter()
            .position(|supply| supply.name == name)
            .unwrap();
        Outage::Supply(SupplyId(index))
    };
    let expected: [(Outage, &[&str]); 5] = [
        (supply("terrace"), &[]),
        (supply("potting-shed"), &["terrace"]),
        (supply("gate"), &["terrace", "beech-walk"]),
        (Outage::All, &[]),
        (Outage::Switches, &[]),
    ];
    assert_eq!(courses.len(), expected.len());
    for (course, (outage, meanwhile)) in courses.iter().zip(expected) {
        assert_eq!(course.outage, outage);
        assert_eq!(names(&course.before.0), ["terrace", "beech-walk", "gate"]);
        assert_eq!(names(&course.meanwhile.0), meanwhile, "{outage:?}");
        assert_eq!(
            names(&course.after.0),
            ["terrace", "beech-walk", "gate"],
            "{outage:?}"
        );
    }
}
