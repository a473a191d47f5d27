//! The sheet that stays with a yard: complete, self-contained, and in agreement with the rest of the program.

use std::collections::HashSet;
use std::fmt::Write;
use std::process::Command;
use std::sync::LazyLock;
use std::sync::atomic::{AtomicUsize, Ordering};

use pilotwire::chain::{LitZones, Outage, outages, wiring};
use pilotwire::check::Check;
use pilotwire::parts::{Amount, Part, parts};
use pilotwire::sheet::Section;
use pilotwire::site::SupplyId;

use crate::support::program::program;
use crate::support::read::read;
use crate::support::scratch::scratch;
use crate::support::yards::{changed, checked};

const PAIR: &str = include_str!("../config/linked-pair.toml");
const HOT_WALL: &str = include_str!("../config/hot-wall.toml");
const FAR_BOARD: &str = include_str!("../config/far-board.toml");
const CHAIN: &str = include_str!("../config/chain-of-three.toml");

/// What the program writes, and its exit code.
fn sheet(arguments: &[&str]) -> (String, i32) {
    let out = program()
        .arg("sheet")
        .args(arguments)
        .args(["--date", "2027-03-01"])
        .output()
        .unwrap();
    let text = String::from_utf8(out.stdout).unwrap();
    assert!(!text.is_empty(), "{}", String::from_utf8_lossy(&out.stderr));
    // Numbers are joined to their units; here they are searched as typed.
    (text.replace('\u{a0}', " "), out.status.code().unwrap())
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
fn a_terminal_is_told_where_to_write_instead_of_being_filled_with_markup() {
    // `script` of util-linux runs a command on a terminal of its own, and passes its exit code on.
    let command = format!("{} sheet", env!("CARGO_BIN_EXE_pilotwire"));
    let arguments = ["--quiet", "--return", "--command", &command, "/dev/null"];
    let out = Command::new("script").args(arguments).output().unwrap();
    let said = String::from_utf8(out.stdout).unwrap();
    assert_eq!(out.status.code(), Some(64), "{said}");
    assert!(said.contains("`-o sheet.html`"), "{said}");
    assert!(!said.contains("<!"), "{said}");
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

/// Every row of the wiring schedule or of the fuses leads to its run in the diagram.
#[test]
fn every_run_of_the_tables_is_in_the_diagram() {
    for file in [
        "linked-pair",
        "chain-of-three",
        "hot-wall",
        "far-board",
        "too-far",
    ] {
        let section = |name: &str| {
            let (html, _) = sheet(&[&format!("config/{file}.toml"), "--section", name]);
            html.split_once("<main>").unwrap().1.to_owned()
        };
        let drawn = section("diagram");
        let mut runs = 0;
        for table in [section("wiring"), section("fuses")] {
            for row in table.split("role=\"rowheader\">").skip(1) {
                let label = row.split('<').next().unwrap();
                if label.starts_with(['P', 'T']) && label[1..].parse::<u32>().is_ok() {
                    assert!(drawn.contains(&format!(">{label}: ")), "{file}: {label}");
                    runs += 1;
                }
            }
        }
        assert!(runs >= 2, "{file}: {runs}");
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
    // In the order of the sheet, whatever order the words were given in.
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
fn a_point_reads_well_where_it_is_copied_and_a_dead_zone_has_a_head() {
    let (html, _) = sheet(&["config/linked-pair.toml", "--section", "commissioning"]);
    assert!(html.contains("coil connected, <span class=\"state\">lit</span>"));
    assert!(!html.contains("Cure it first"));
    let (html, _) = sheet(&["config/too-far.toml", "--section", "commissioning"]);
    assert!(html.contains("<p class=\"stop\"><b>By the simulation this link does not work: "));
}

#[test]
fn faults_of_a_link_are_told_by_what_it_switches_and_what_feeds_it() {
    let (html, _) = sheet(&["config/linked-pair.toml", "--section", "links"]);
    assert!(html.contains("a broken remote-on lead (TP5 always at 5 V)"));
    assert!(!html.contains("None of it is sure"));
    let file = std::env::temp_dir().join(format!("pilotwire-links-{}.toml", std::process::id()));
    // 6 lamps of 40 W, 60 VA each unless stated otherwise, on 200 VA; the far supply is not a desktop-PC
    // supply.
    std::fs::write(
        &file,
        TWO_RUNS.replace("power = \"4 W\"", "power = \"40 W\""),
    )
    .unwrap();
    let (html, _) = sheet(&[file.to_str().unwrap(), "--section", "links"]);
    std::fs::remove_file(&file).unwrap();
    assert!(!html.contains("remote-on lead") && !html.contains("TP9"));
    assert!(html.contains("None of it is sure: supply near overloaded, 360.0 of 200.0 VA"));
}

/// Additional slaves of the walk, each with a pair of its own length.
fn with_slaves(feet: &[u32]) -> String {
    let mut text = PAIR.to_owned();
    for (n, feet) in feet.iter().enumerate() {
        let _ = write!(
            text,
            "\n[[supply]]\nname = \"s{n}\"\nkind = \"desktop-pc\"\nvoltage = \"12.0 V\"\nmax_current = \"14 A\"\n\
             standby_power = \"2.5 W\"\nefficiency = 0.74\nplacement = \"indoors\"\n\
             [[zone]]\nname = \"slave-{n}\"\nsupply = \"s{n}\"\n\
             [[link]]\nmaster = \"walk\"\nslave = \"slave-{n}\"\nwire = \"22 AWG\"\nstranding = \"solid\"\n\
             length = \"{feet} ft\"\nsplices = 2\nseries_resistor = \"22 ohm\"\nrectifier = \"bridge\"\n\
             diode = \"1N4007\"\ncapacitor = \"220 uF\"\ncapacitor_rating = \"50 V\"\nrelay = \"small-12v\"\n\
             fuse = \"100 mA\"\n"
        );
    }
    text
}

/// Among links with the same parts, the one with the least margin gets the waveforms; an identical link gets no
/// page of its own.
#[test]
fn links_of_the_same_parts_share_their_waveforms() {
    let file = std::env::temp_dir().join(format!("pilotwire-alike-{}.toml", std::process::id()));
    std::fs::write(&file, with_slaves(&[240, 400, 90])).unwrap();
    let (html, _) = sheet(&[file.to_str().unwrap(), "--section", "links"]);
    std::fs::remove_file(&file).unwrap();
    assert_eq!(html.matches("<div class=\"wave\">").count(), 1);
    let of = |link: usize| {
        let begin = html.find(&format!("<h3 id=\"link{link}\">")).unwrap();
        let rest = &html[begin..];
        &rest[..rest[4..].find("<h3").map_or(rest.len(), |end| end + 4)]
    };
    assert!(of(1).contains("Built as walk &gt; orchard is"));
    // The shortest pair leaves its coil the highest voltage, and these yards have the least margin there.
    assert!(of(3).contains("walk &gt; slave-2") && of(3).contains("<div class=\"wave\">"));
    for link in [0, 2] {
        assert!(of(link).contains("as <a href=\"#link3\">walk &gt; slave-2</a> does"));
        assert!(of(link).contains("Faults of "));
    }
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

/// The sheet hangs in a shed: how the folders of a machine are called is nothing for it.
#[test]
fn the_sheet_names_the_site_file_without_its_folders() {
    let file = scratch("named-on-the-sheet.toml");
    std::fs::write(&file, PAIR).unwrap();
    let (html, _) = sheet(&[file.to_str().unwrap()]);
    assert!(html.contains("<dt>Site file</dt><dd>named-on-the-sheet.toml</dd>"));
    let folder = file.parent().unwrap().to_str().unwrap();
    assert!(!html.contains(folder));
}

/// A sheet is printed again whenever the file changes: what is due does not move with it.
#[test]
fn maintenance_is_due_when_it_is_due_whatever_day_the_sheet_is_printed() {
    let of = |file: &str, date: &str| {
        let words = ["sheet", file, "--section", "maintenance", "--date", date];
        let out = program().args(words).output().unwrap();
        let html = String::from_utf8(out.stdout).unwrap();
        html.split_once("<main>").unwrap().1.to_owned()
    };
    let printed = of("config/linked-pair.toml", "2027-03-01");
    assert_eq!(printed, of("config/linked-pair.toml", "2028-09-12"));
    // At 44° north nights grow long in October, at 33° south in April.
    assert!(printed.contains("every year in October"));
    assert!(printed.contains("October, 5 years after it was built"));
    let south = of("config/too-far.toml", "2027-03-01");
    assert!(south.contains("every year in April"));
}

/// By the table of permissible currents: 22 AWG by practice, 12 and 14 AWG by the small-conductor rule as remembered.
#[test]
fn the_sheet_says_whose_figure_it_is_that_a_wire_carries() {
    let html = section(PAIR, "fuses");
    for said in [
        "22 AWG 2 A (common practice)",
        "14 AWG 15 A (NEC 240.4(D), from memory)",
        "12 AWG 20 A (NEC 240.4(D), from memory)",
    ] {
        assert!(html.contains(said), "no {said}");
    }
    assert_eq!(html.matches("14 AWG 15 A").count(), 1);
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
    let (site, check) = checked(PAIR);
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
        part(&all, "fuse 100 mA, time-lag").needed,
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
    let (site, check) = checked(&shelf);
    let all = parts(&site, &check.links);
    let pair = part(&all, "two-conductor cable for direct burial, 22 AWG solid");
    // A drum of 100 ft does not serve a run of 240 ft.
    assert_eq!(pair.to_buy(), pair.needed);
    assert!(
        pair.note
            .contains("the longest piece left on the shelf, 30.5 m, is too short")
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

/// A section of the sheet of a site, and its verdict.
fn section(text: &str, name: &str) -> String {
    static COUNT: AtomicUsize = AtomicUsize::new(0);
    let count = COUNT.fetch_add(1, Ordering::Relaxed);
    let file = std::env::temp_dir().join(format!(
        "pilotwire-section-{}-{count}.toml",
        std::process::id()
    ));
    std::fs::write(&file, text).unwrap();
    let (html, _) = sheet(&[file.to_str().unwrap(), "--section", name]);
    std::fs::remove_file(&file).unwrap();
    html
}

/// The cells of the rows of a table's body, without markup.
fn rows(html: &str) -> Vec<Vec<String>> {
    let plain = |cell: &str| -> String {
        let mut inside = false;
        cell.chars()
            .filter(|c| {
                inside = *c == '<' || (inside && *c != '>');
                !inside && *c != '>'
            })
            .collect()
    };
    html.split("<tr role=\"row\">")
        .skip(2)
        .map(|row| {
            let row = row.split("</tr>").next().unwrap();
            let cells = row.replace("</th>", "</td>");
            let cells = cells.split("</td>").filter(|cell| !cell.is_empty());
            cells.map(plain).collect()
        })
        .collect()
}

#[test]
fn fuses_and_runs_carry_the_same_labels() {
    // Two trunks on the second zone.
    let two = changed(
        PAIR,
        &[
            (
                "wire = \"14 AWG\"\nlength = \"90 ft\"\nfuse = \"7.5 A\"",
                "name = \"left\"\nwire = \"14 AWG\"\nlength = \"90 ft\"\nfuse = \"7.5 A\"\n[[trunk]]\nzone = \"orchard\"\nname = \"right\"\nwire = \"14 AWG\"\nlength = \"9 ft\"\nlamps = \"end\"\nfuse = \"1 A\"",
            ),
            (
                "power = \"3.5 W\"",
                "power = \"3.5 W\"\ntrunk = \"left\"\n[[lamp]]\nzone = \"orchard\"\ntrunk = \"right\"\npower = \"3.5 W\"",
            ),
        ],
    );
    let firsts = |name| -> Vec<String> {
        rows(&section(&two, name))
            .into_iter()
            .map(|mut row| row.swap_remove(0))
            .filter(|first| first.len() == 2)
            .collect()
    };
    assert_eq!(firsts("wiring"), ["P1", "T1", "T2", "T3"]);
    assert_eq!(firsts("fuses"), ["P1", "T1", "T2", "T3"]);
    let wiring = rows(&section(&two, "wiring"));
    assert_eq!(wiring[1][3], "a tap at every lamp, T1-L1 to T1-L8");
    assert_eq!(wiring[2][3], "a tap at every lamp, T2-L1 to T2-L10");
    assert_eq!(wiring[3][3], "at the lamp, T3-L1");
    assert!(wiring[3][1].starts_with("lamps of orchard, trunk 2 of 2, 1 lamp from"));
    let fuses = rows(&section(&two, "fuses"));
    assert_eq!(
        fuses[3][1],
        "lamps of orchard, trunk 2 of 2, at supply shed"
    );
}

/// The row of a fuse, and the caution about the same fuse.
#[test]
fn the_row_of_a_fuse_says_what_its_caution_says() {
    let orchard = "length = \"90 ft\"\nfuse = \"7.5 A\"";
    let limit = "max_current = \"14 A\"";
    let trunk = |fuse: &str, supply: &str| {
        changed(
            PAIR,
            &[
                (orchard, &format!("length = \"90 ft\"\n{fuse}")),
                (limit, supply),
            ],
        )
    };
    // 90 ft of 14 AWG (8.28 Ω/km at 20 °C, 7.96 at 10 °C): 0.437 Ω; 12 V / 0.437 Ω / 2.75 = 10.0 A; 35 W from
    // 11.4 V: 3.2 A, a quarter more 4.0 A, so 5 A. It carries 15 A.
    for (text, caution, row) in [
        (
            PAIR.to_owned(),
            None,
            "carries the load; the supply gives at most 14 A and the wire carries 15 A: a short that the fuse does not see heats nothing",
        ),
        (
            trunk("fuse = \"none\"", limit),
            None,
            // 14 A / 2.75 = 5.1 A.
            "the supply gives at most 14 A and the wire carries 15 A: a short heats nothing. To end it, fit 5 A at the supply",
        ),
        (
            trunk("fuse = \"none\"", "max_current = \"30 A\""),
            Some("STOP S06"),
            "STOP S06: missing: fit 5 A at the supply",
        ),
        (
            trunk("", "max_current = \"30 A\""),
            Some("NOTE S06"),
            "NOTE S06: not stated: fit 5 A at the supply",
        ),
        (
            trunk("fuse = \"7.5 A\"", "max_current = \"20 A\""),
            Some("WARN S09"),
            "WARN S09: a short at the far end may not blow it, too little flows: fit 5 A at the supply",
        ),
        (
            trunk("fuse = \"3 A\"", limit),
            Some("STOP S10"),
            "STOP S10: too small, it blows in service: fit 5 A at the supply",
        ),
        (
            trunk("fuse = \"20 A\"", "max_current = \"30 A\""),
            Some("STOP S10"),
            "STOP S10: too large for the wire: fit 5 A at the supply",
        ),
        (
            trunk("fuse = \"7.5 A\"", "max_current = \"30 A\""),
            None,
            "carries the load, spares the wire, sees a short at the far end",
        ),
    ] {
        let fuses = rows(&section(&text, "fuses"));
        assert_eq!(fuses[2][0], "T2");
        assert_eq!(fuses[2][6], row);
        let (site, check) = checked(&text);
        let cautions: Vec<String> = check
            .cautions
            .iter()
            .filter(|caution| caution.place.say(&site) == "zone orchard")
            .map(|caution| format!("{} {}", caution.level.name(), caution.code))
            .collect();
        assert_eq!(cautions, Vec::from_iter(caution), "{row}");
    }
    // The pair: 1.7 A / 2.75 = 0.6 A.
    for (fuse, row) in [
        (
            "fuse = \"none\"",
            "STOP S08: missing: fit 100 mA time-lag at the tapping point",
        ),
        (
            "",
            "NOTE S08: not stated: fit 100 mA time-lag at the tapping point",
        ),
    ] {
        let text = changed(PAIR, &[("fuse = \"100 mA\"", fuse)]);
        assert_eq!(rows(&section(&text, "fuses"))[0][6], row);
    }
}

#[test]
fn a_run_that_browns_out_has_no_load_to_judge_its_fuse_by() {
    // Ten lamps along 0.437 Ω are as one behind 11 × 21 / 600 of it, 0.168 Ω, which carries at most 11.4² /
    // (4 × 0.168) = 193 W.
    let brown = changed(
        PAIR,
        &[
            ("power = \"3.5 W\"", "power = \"25 W\""),
            ("max_current = \"14 A\"", "max_current = \"30 A\""),
        ],
    );
    let fuses = rows(&section(&brown, "fuses"));
    assert_eq!(fuses[2][3], "browns out");
    assert!(
        fuses[2][6].starts_with("load not known: the run browns out"),
        "{}",
        fuses[2][6]
    );
}

#[test]
fn a_cable_that_is_not_stated_leaves_the_largest_fuse_open() {
    // 30 W at 11.8 V: 2.54 A, a quarter more 3.18 A.
    let fuses = rows(&section(HOT_WALL, "fuses"));
    assert_eq!(fuses[1][0], "no cable");
    assert_eq!(
        fuses[1][6],
        "its wire is not stated: fit 5 A or more at the supply, if the wire bears it"
    );
}

/// An outage; the zones lit before, during and after it; and those lit once a board has waited.
type Named = (Outage, [String; 3], Vec<(f64, String)>);

/// Outages by night or by day: what fails, and the zones lit before, during and after it.
fn courses(text: &str, by_night: bool) -> Vec<Named> {
    let (site, check) = checked(text);
    let names = |zones: &LitZones| {
        let names: Vec<&str> = zones
            .0
            .iter()
            .map(|zone| site[*zone].name.as_str())
            .collect();
        names.join(" ")
    };
    outages(&site, &wiring(&site, &check.links))
        .iter()
        .filter(|course| course.by_night == by_night)
        .map(|course| {
            (
                course.outage,
                [&course.before, &course.meanwhile, &course.after].map(names),
                course
                    .waited
                    .iter()
                    .map(|(after_s, zones)| (*after_s, names(zones)))
                    .collect(),
            )
        })
        .collect()
}

fn supply(index: usize) -> Outage {
    Outage::Supply(SupplyId(index))
}

type Expected<'a> = (Outage, [&'a str; 3], &'a [(f64, &'a str)]);

fn assert_courses(text: &str, by_night: bool, expected: &[Expected<'_>]) {
    let ours = courses(text, by_night);
    let expected: Vec<_> = expected
        .iter()
        .map(|(outage, lit, waited)| {
            let waited: Vec<(f64, String)> = waited
                .iter()
                .map(|(after_s, lit)| (*after_s, (*lit).to_owned()))
                .collect();
            (*outage, lit.map(str::to_owned), waited)
        })
        .collect();
    assert_eq!(ours, expected);
}

const TWO_RUNS: &str = include_str!("data/two_runs.toml");

/// The parts of that yard with these on the shelf; the shelf does not change the judgement.
fn with_shelf(shelf: &[(&str, &str, &str)]) -> Vec<Part> {
    static CHECK: LazyLock<Check> = LazyLock::new(|| checked(TWO_RUNS).1);
    let mut text = TWO_RUNS.to_owned();
    for (kind, item, more) in shelf {
        writeln!(
            text,
            "\n[[shelf]]\nkind = \"{kind}\"\nitem = \"{item}\"\n{more}"
        )
        .unwrap();
    }
    parts(&read(&text), &CHECK.links)
}

fn metres(amount: Amount) -> f64 {
    match amount {
        Amount::Metres(metres) => metres,
        Amount::Pieces(count) => panic!("{count} pieces"),
    }
}

/// Each run: 20 m, 10 % and a metre at each end: 24 m.
#[test]
fn a_run_is_cut_from_one_drum() {
    for (drums, missing) in [
        (&[][..], 48.0),
        (&["length = \"30 m\""][..], 24.0),
        (&["length = \"48 m\""], 0.0),
        (&["length = \"24 m\"", "length = \"24 m\""], 0.0),
        (&["length = \"24 m\"\ncount = 2"], 0.0),
        (&["length = \"47 m\""], 24.0),
        (&["length = \"10 m\"\ncount = 5"], 48.0),
        (&["length = \"10 m\"\ncount = 5", "length = \"25 m\""], 24.0),
    ] {
        let shelf: Vec<_> = drums
            .iter()
            .map(|drum| ("wire", "2.5 mm2", *drum))
            .collect();
        let all = with_shelf(&shelf);
        let trunk = part(&all, "two-conductor cable for direct burial, 2.5");
        assert_eq!(trunk.runs.len(), 2);
        assert!((metres(trunk.needed) - 48.0).abs() < 1e-9);
        assert!(
            (metres(trunk.to_buy()) - missing).abs() < 1e-9,
            "{drums:?}: {:?}",
            trunk.to_buy()
        );
        assert!((metres(trunk.at_hand) - (48.0 - missing)).abs() < 1e-9);
    }
}

#[test]
fn what_is_not_surely_good_for_it_is_not_taken_from_the_shelf() {
    let pair_fuse = "fuse 100 mA, time-lag";
    for (kind, item, begins, taken, mentioned) in [
        // 15.5 V / 400 ohm are 39 mA, in pulses 58 mA RMS; in 22 ohm that is 0.07 W, at half its rating 0.25 W.
        ("resistor", "22 ohm 0.1 W", "resistor 22 ohm", false, false),
        ("resistor", "22 ohm", "resistor 22 ohm", false, true),
        ("resistor", "22 ohm 5 W", "resistor 22 ohm", true, false),
        ("capacitor", "220 uF", "electrolytic", false, true),
        ("capacitor", "220 uF 10 V", "electrolytic", false, false),
        ("capacitor", "220 uF 100 V", "electrolytic", true, false),
        ("fuse", "100 mA", pair_fuse, false, true),
        ("fuse", "100 mA quick", pair_fuse, false, true),
        ("fuse", "T0.1A", pair_fuse, true, false),
        ("fuse", "0.1 A time-lag", pair_fuse, true, false),
    ] {
        let all = with_shelf(&[(kind, item, "")]);
        let part = part(&all, begins);
        assert_eq!(part.to_buy().is_none(), taken, "{item}: {part:#?}");
        let said = part.note.contains(&format!("on the shelf: {item} without"));
        assert_eq!(said, mentioned, "{item}: {}", part.note);
    }
}

#[test]
fn taps_spares_and_the_fuse_that_is_not_stated_are_counted() {
    let all = with_shelf(&[]);
    // 6 and 12 lamps; the last lamp of each run is at its end.
    assert_eq!(
        part(&all, "tap connector for a lamp").needed,
        Amount::Pieces(16)
    );
    let (site, check) = checked(TWO_RUNS);
    // One in the pair and one in each run, as the cautions ask for, each with a holder.
    let told: Vec<&str> = check
        .cautions
        .iter()
        .filter_map(|caution| caution.text.split_once(": fit ").map(|(_, fit)| fit))
        .collect();
    assert_eq!(told.len(), 3, "{told:?}");
    let mut fuses = 0;
    for fuse in all.iter().filter(|part| part.item.starts_with("fuse ")) {
        let (amperes, lag) = match fuse.item["fuse ".len()..].split_once(", ") {
            Some((amperes, lag)) => (amperes, format!(" {lag}")),
            None => (&fuse.item["fuse ".len()..], String::new()),
        };
        let fit = format!("{amperes}{lag} at ");
        let count = told.iter().filter(|told| told.starts_with(&fit)).count();
        assert_eq!(
            fuse.needed,
            Amount::Pieces(count.try_into().unwrap()),
            "{fit}"
        );
        assert_eq!(fuse.spares, 2);
        fuses += count;
    }
    assert_eq!(fuses, 3);
    assert_eq!(part(&all, "holder for one fuse").needed, Amount::Pieces(3));
    assert_eq!(part(&all, "relay r400").spares, 1);
    assert_eq!(part(&all, "electrolytic").spares, 1);
    assert_eq!(part(&all, "diode").spares, 0);
    let lamps: Vec<u32> = all
        .iter()
        .filter(|part| part.item.starts_with("lamp "))
        .map(|part| part.spares)
        .collect();
    // One in ten, rounded up, of 6 and of 12.
    assert_eq!(lamps, [1, 2]);
    assert!(site.shelf.is_empty());
    for part in &all {
        assert!(!part.note.contains("spare"), "{}", part.note);
        assert!(!part.note.contains("wet"), "{}", part.note);
    }
    // The parts left on the shelf count as spares.
    let all = with_shelf(&[("relay", "r400", "count = 2")]);
    let relay = part(&all, "relay r400");
    assert_eq!((relay.to_buy(), relay.spares), (Amount::Pieces(0), 0));
}

/// A second link on a supply of higher voltage, behind a single diode on AC: 14.5 V · 1.1 · √2 · 2 = 45 V in
/// reverse, and half of that on the capacitor; the first link has 20 V.
#[test]
fn notes_are_about_the_hardest_place() {
    let more = r#"
[[supply]]
name = "tall"
kind = "transformer"
no_load_voltage = "14.5 V"
full_load_voltage = "12.0 V"
rated_load = "100 VA"

[[supply]]
name = "end"
kind = "dc"
voltage = "12.0 V"

[[zone]]
name = "tall"
supply = "tall"
on = "civil_dusk"
off = "23:00"

[[zone]]
name = "end"
supply = "end"

[[link]]
master = "tall"
slave = "end"
wire = "0.75 mm2"
length = "40 m"
relay = "r400"
rectifier = "single-diode"
"#;
    let (site, check) = checked(&(TWO_RUNS.to_owned() + more));
    let all = parts(&site, &check.links);
    assert_eq!(part(&all, "diode").note, "must stand 45 V in reverse");
    let capacitor = part(&all, "electrolytic");
    assert!(
        capacitor.note.starts_with("it may see 22.6 V"),
        "{}",
        capacitor.note
    );
    assert!(capacitor.note.contains("bridge's minus"));
    let (site, check) = checked(&TWO_RUNS.replace(
        "series_resistor",
        "rectifier = \"single-diode\"\nseries_resistor",
    ));
    let all = parts(&site, &check.links);
    assert!(!part(&all, "electrolytic").note.contains("bridge"));
}

/// By the rule of the trade: when the supply returns, every zone is as it should be at that moment; a chain is
/// dark from the dead supply on.
#[test]
fn a_chain_is_dark_from_the_dead_supply_on_and_comes_back_by_itself() {
    let all = "terrace beech-walk gate";
    assert_courses(
        CHAIN,
        true,
        &[
            (supply(0), [all, "", all], &[]),
            (supply(1), [all, "terrace", all], &[]),
            (supply(2), [all, "terrace beech-walk", all], &[]),
            (Outage::All, [all, "", all], &[]),
            (Outage::Timers, [all, "", all], &[]),
        ],
    );
    assert!(
        courses(CHAIN, false)
            .iter()
            .all(|day| day.1 == ["", "", ""])
    );
}

#[test]
fn a_timer_that_an_outlet_of_the_yard_feeds_may_lose_its_time() {
    let rows = rows(&section(CHAIN, "outages"));
    assert_eq!(
        rows[0][4],
        "photocell, or timer with a battery: all lit; without: terrace at wrong hours until set, and what follows"
    );
    // No timer is on the supply of the second zone.
    assert_eq!(rows[1][4], "all lit");
    assert_eq!(rows[4][0], "the timer of terrace");
    assert_eq!(
        rows[5][..4],
        ["any of them", "by day", "all dark", "all dark"]
    );
    assert!(
        rows[5][4].starts_with("photocell, or timer with a battery: all dark, nothing that was")
    );
    assert_eq!(rows.len(), 6);
}

/// A zone that a board drives, beside a pair with its own timer.
#[test]
fn a_board_that_fails_darkens_what_it_drives_and_nothing_else() {
    let drive = PAIR.to_owned()
        + "\n[[supply]]\nname = \"drive\"\nkind = \"dc\"\n"
        + "[[zone]]\nname = \"drive\"\nsupply = \"drive\"\non = \"sunset\"\noff = \"22:00\"\n"
        + "[[output]]\nzone = \"drive\"\nchip = \"gpiochip0\"\nline = 17\ndark_at_reset = true\n";
    let all = "walk orchard drive";
    assert_courses(
        &drive,
        true,
        &[
            (supply(0), [all, "drive", all], &[]),
            (supply(1), [all, "walk drive", all], &[]),
            (supply(2), [all, "walk orchard", all], &[]),
            (Outage::All, [all, "", all], &[]),
            (Outage::Board, [all, "walk orchard", all], &[]),
            (Outage::Timers, [all, "drive", all], &[]),
        ],
    );
    let html = section(&drive, "outages");
    assert!(html.contains("If the board hangs on one of these supplies, it fails with it"));
    assert_eq!(rows(&html)[5][0], "the timer of walk");
    // Lit while nothing drives its line: lit by day too when the board is dead.
    let lit = changed(&drive, &[("dark_at_reset = true", "dark_at_reset = false")]);
    let day = courses(&lit, false);
    assert_eq!(day[4].0, Outage::Board);
    assert_eq!(day[4].1, ["", "drive", ""]);
}

/// By S51: a desktop-PC supply runs while any contact or line pulls its remote-on line, and feeds all that hangs on it.
#[test]
fn zones_on_one_desktop_pc_supply_are_lit_by_whatever_wakes_it_and_by_nothing_else() {
    let shelf =
        "\n[[zone]]\nname = \"shelf\"\nsupply = \"shed\"\non = \"sunset\"\noff = \"22:00\"\n";
    // A timer of its own on the supply that the relay of the orchard wakes.
    let asleep = format!("{PAIR}{shelf}");
    let all = "walk orchard shelf";
    let expected = [
        // The walk is dead, the orchard's relay lets go, and the shelf's supply sleeps.
        (supply(0), [all, "", all], &[][..]),
        (supply(1), [all, "walk", all], &[]),
        (Outage::All, [all, "", all], &[]),
        (Outage::Timers, [all, "", all], &[]),
    ];
    assert_courses(&asleep, true, &expected);
    assert!(section(&asleep, "outages").contains(
        "shelf is lit only while orchard is, whatever its own times say: supply shed sleeps without it (S51)"
    ));
    // A line of the board wakes it for both.
    let woken = format!(
        "{asleep}[[output]]\nzone = \"shelf\"\nchip = \"gpiochip0\"\nline = 17\ndark_at_reset = true\n"
    );
    let expected = [
        (supply(0), [all, "orchard shelf", all], &[][..]),
        (supply(1), [all, "walk", all], &[]),
        (Outage::All, [all, "", all], &[]),
        (Outage::Board, [all, all, all], &[]),
        (Outage::Timers, [all, "orchard shelf", all], &[]),
    ];
    assert_courses(&woken, true, &expected);
    assert!(
        section(&woken, "outages")
            .contains("orchard and shelf are lit while either is: each wakes supply shed (S51)")
    );
    assert!(!section(PAIR, "outages").contains("S51"));
}

/// The boathouse follows the porch by an input; the porch has a photocell.
#[test]
fn a_zone_that_follows_an_input_goes_with_its_master_or_by_its_plan() {
    let all = "porch boathouse";
    let later: &[(f64, &str)] = &[(900.0, "boathouse")];
    let expected = |later| {
        [
            (supply(0), [all, "", all], later),
            (supply(1), [all, "porch", all], &[][..]),
            (Outage::All, [all, "", all], &[]),
            (Outage::Board, [all, "porch", all], &[]),
            (Outage::Timers, [all, "", all], later),
        ]
    };
    assert_courses(FAR_BOARD, true, &expected(later));
    assert_eq!(
        rows(&section(FAR_BOARD, "outages"))[0][3],
        "all dark; after 15 min without its master, by plan: lit: boathouse"
    );
    let dark = changed(
        FAR_BOARD,
        &[(
            "if_master_silent = \"schedule\"",
            "if_master_silent = \"dark\"",
        )],
    );
    assert_courses(&dark, true, &expected(&[]));
}

/// Leakage past the switch of the walk holds the relay of the orchard: about 6.5 V where 1.2 V is enough. It
/// ends when the walk's supply loses its mains, and is too little to pull the relay in again.
#[test]
fn a_link_that_stays_lit_is_lit_by_day_until_its_pair_is_really_dead() {
    let stuck = changed(
        PAIR,
        &[(
            "fuse = \"100 mA\"",
            "fuse = \"100 mA\"\noff_state_voltage = \"6 V\"",
        )],
    );
    let all = "walk orchard";
    assert_courses(
        &stuck,
        true,
        &[
            (supply(0), [all, "", all], &[]),
            (supply(1), [all, "walk", all], &[]),
            (Outage::All, [all, "", all], &[]),
            (Outage::Timers, [all, "orchard", all], &[]),
        ],
    );
    assert_courses(
        &stuck,
        false,
        &[
            (supply(0), ["orchard", "", ""], &[]),
            (supply(1), ["orchard", "", "orchard"], &[]),
            (Outage::All, ["orchard", "", ""], &[]),
            (Outage::Timers, ["orchard", "orchard", "orchard"], &[]),
        ],
    );
    let rows = rows(&section(&stuck, "outages"));
    assert_eq!(rows.len(), 8);
    assert_eq!(rows[4][1..4], ["by day", "lit: orchard", "all dark"]);
}

/// If S20 says that a yard may not restart after a blip, the table of outages says so too.
#[test]
fn what_may_not_come_back_warm_is_not_said_to_be_lit_again_for_sure() {
    let html = section(HOT_WALL, "outages");
    let rows = rows(&html);
    let unsure = "; on a hot evening terraces not surely (S20)";
    assert!(rows[0][4].ends_with(unsure), "{rows:#?}");
    // The relay stays in while its own supply is away.
    assert_eq!(rows[1][4], "all lit");
    assert!(rows[2][4].ends_with(unsure));
    assert_eq!(rows[3][4], format!("all lit{unsure}"));
    assert!(rows[4..].iter().all(|row| !row[4].contains("S20")));
    assert!(html.contains("the relay of terraces may stay out"));
    for text in [PAIR, CHAIN] {
        assert!(!section(text, "outages").contains("not surely"));
    }
    assert!(section(HOT_WALL, "schedule").contains("terraces: 122 nights at risk"));
}

#[test]
fn the_months_of_a_zone_add_up_to_its_year() {
    for (text, zones) in [(PAIR, 1), (CHAIN, 1), (HOT_WALL, 1), (FAR_BOARD, 2)] {
        let html = section(text, "schedule");
        let mut words = html.match_indices(" nights lit until ").map(|(at, _)| {
            let number = html[..at].rsplit(|c: char| !c.is_ascii_digit()).next();
            number.unwrap().parse::<u32>().unwrap()
        });
        // The first zone's comes first, and so do its months; the same zone of the next year is another row.
        let months: u32 = rows(&html)
            .iter()
            .filter(|row| row.len() == 6)
            .take(rows(&html).len() / zones)
            .map(|row| row[4].parse::<u32>().unwrap())
            .sum();
        assert_eq!(Some(months), words.next(), "{:#?}", rows(&html));
    }
}
