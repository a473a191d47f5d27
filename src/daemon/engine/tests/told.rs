//! What `status` and answers say, and that it is so.

use super::forced::done;
use super::*;

impl Bench {
    /// What the status says of a zone, as scripts read it.
    fn told(&self, zone: &str) -> serde_json::Value {
        let status = serde_json::to_value(self.engine.status(self.now)).unwrap();
        let zones = status["zones"].as_array().unwrap();
        let told = zones.iter().find(|told| told["zone"] == zone);
        told.expect("the zone").clone()
    }

    fn in_short(&self) -> String {
        self.engine.status(self.now).in_short()
    }

    /// What was said of holds of a zone, newest last, since this was last asked.
    fn said_of_holds(&mut self) -> Vec<String> {
        let said = self.engine.take_said();
        let of_holds = said.into_iter().filter(|event| event.kind == Kind::Held);
        of_holds
            .map(|event| format!("{}: {}", event.what, event.why))
            .collect()
    }
}

/// The yard whose slave nobody looks at, its links worked out.
fn unwatched() -> Bench {
    let site = yard_with(&[(
        "[[input]]\nzone = \"fence\"\nchip = \"gpiochip0\"\nline = 3\n",
        "",
    )]);
    let mut bench = Bench::at(site, "2027-03-01T20:30:00Z");
    let links = crate::link::judge(bench.engine.site(), crate::link::Draw::FEWEST).unwrap();
    bench.engine.set_links(links);
    bench.after(10.0);
    bench
}

#[test]
fn a_reading_that_says_that_a_zone_cannot_be_lit_is_believed_over_the_prediction() {
    let mut bench = unwatched();
    assert!(bench.lit(FRONT));
    let told = bench.told("fence");
    assert_eq!(
        (&told["lit"], &told["known"]),
        (&true.into(), &"predicted".into())
    );
    let sheet = crate::commissioning::Sheet::of(bench.engine.site()).unwrap();
    bench.engine.set_sheet(Ok(sheet));
    // A pair that is broken gives the coil nothing, whatever its supply gives: by Kirchhoff's first law.
    bench.measure("front", &[("TP1", "12.5")]).unwrap();
    bench
        .measure("fence", &[("TP2", "0"), ("TP3 DC", "0"), ("TP3 AC", "0")])
        .unwrap();
    bench.after(1.0);
    let told = bench.told("fence");
    assert_eq!(told["condition"], "dark", "{told}");
    assert_eq!(told["lit"], false, "{told}");
    assert_eq!(told["known"], "measured", "{told}");
    assert_eq!(told["next"], serde_json::Value::Null, "{told}");
    let why = told["why"].as_str().unwrap();
    assert!(why.contains("pair broken"), "{why}");
    assert!(
        bench.in_short().starts_with("lit: front; "),
        "{}",
        bench.in_short()
    );
    // Mended, and measured again: it is predicted as before.
    let [pair, coil, ripple] = ["TP2", "TP3 DC", "TP3 AC"].map(|name| {
        let readings = bench.engine.readings(bench.now);
        let zone = readings.zones.iter().find(|it| it.zone == "fence").unwrap();
        let point = zone.points.iter().find(|it| it.name == name).unwrap();
        format!("{:.1}", point.typical.unwrap())
    });
    bench
        .measure(
            "fence",
            &[("TP2", &pair), ("TP3 DC", &coil), ("TP3 AC", &ripple)],
        )
        .unwrap();
    bench.after(1.0);
    let told = bench.told("fence");
    assert_eq!(
        (&told["lit"], &told["known"]),
        (&true.into(), &"predicted".into())
    );
}

#[test]
fn what_is_not_known_is_not_called_dark() {
    // No zone has a line or an input, and what the link does is not worked out yet.
    let site = yard_with(&[
        ("minimum_lit = \"5 s\"\nminimum_dark = \"5 s\"\n", ""),
        (
            "[[output]]\nzone = \"front\"\nchip = \"gpiochip0\"\nline = 1\n",
            "",
        ),
        (
            "[[output]]\nzone = \"far\"\nchip = \"gpiochip0\"\nline = 2\n",
            "",
        ),
        (
            "follows_input = \"porch\"\non_delay = \"2 s\"\noff_delay = \"3 s\"\nsilent_after = \"10 min\"\nif_master_silent = \"schedule\"",
            "on = \"20:00\"\noff = \"23:00\"",
        ),
        (
            "[[input]]\nzone = \"fence\"\nchip = \"gpiochip0\"\nline = 3\n",
            "",
        ),
    ]);
    let bench = Bench::at(site, "2027-03-01T12:00:00Z");
    // The porch has an input, which says dark; the front goes by its plan.
    assert_eq!(bench.told("fence")["lit"], serde_json::Value::Null);
    let short = bench.in_short();
    assert!(
        short.starts_with("unknown: fence; the others dark; "),
        "{short}"
    );
    let mut lit = Bench::at(yard(), "2027-03-01T20:30:00Z");
    lit.board.borrow_mut().senses = vec![(FENCE, Err(fault())), (PORCH, Ok(false))];
    lit.after(10.0);
    assert!(
        lit.in_short().contains("lit: front; unknown: fence"),
        "{}",
        lit.in_short()
    );
    let mut none = Bench::at(yard(), "2027-03-01T12:00:00Z");
    none.board.borrow_mut().senses = vec![(FENCE, Err(fault())), (PORCH, Err(fault()))];
    none.board.borrow_mut().broken = true;
    none.after(10.0).after(10.0);
    let short = none.in_short();
    assert!(!short.contains("dark"), "{short}");
    assert!(
        short.contains("whether any zone is lit is unknown"),
        "{short}"
    );
}

#[test]
fn a_hold_that_force_shortens_or_turns_round_is_told_with_its_old_and_new_end() {
    let mut bench = Bench::at(yard(), "2027-03-01T12:00:00Z");
    bench.after(10.0);
    bench.force("front", true, Some(Until::For(7200)));
    bench.after(10.0).engine.take_said();
    let shorter = done(bench.force("front", true, Some(Until::For(900)))).unwrap();
    assert_eq!(
        shorter.note.as_deref(),
        Some(
            "front was held on until 2027-03-01 14:00:10 UTC: that hold now ends sooner, at 2027-03-01 12:15:20 UTC"
        )
    );
    assert_eq!(
        bench.said_of_holds(),
        ["held on: until 2027-03-01 12:15:20 UTC, before on until 2027-03-01 14:00:10 UTC"]
    );
    // Longer than before takes nothing from anybody.
    let longer = done(bench.force("front", true, Some(Until::For(1800)))).unwrap();
    assert_eq!(longer.note, None);
    let turned = done(bench.force("front", false, Some(Until::For(3600)))).unwrap();
    let note = turned.note.unwrap();
    assert!(
        note.contains("front was held on until 2027-03-01 12:30:20 UTC: that hold is over"),
        "{note}"
    );
}

#[test]
fn until_the_plan_next_switches_is_refused_where_it_switches_nothing() {
    // Beyond the polar circle in December the sun is down all day: each evening ends where the next begins.
    let site = yard_with(&[
        ("latitude = 51.0", "latitude = 78.0"),
        (
            "on = \"20:00\"\noff = \"23:00\"\nminimum_lit",
            "on = \"sunset\"\noff = \"sunrise\"\nminimum_lit",
        ),
    ]);
    let mut bench = Bench::at(site, "2027-12-20T12:30:00Z");
    bench.after(10.0);
    assert!(bench.lit(FRONT), "all day");
    let refusal = done(bench.force("front", false, Some(Until::Next))).unwrap_err();
    assert_eq!(
        refusal.why,
        "the plan of front does not switch it within two days"
    );
    assert_eq!(refusal.remedy, "say for how long: `--for 30m`");
}

#[test]
fn a_predicted_slave_is_so_since_its_master_is() {
    let mut bench = unwatched();
    bench.after(600.0);
    bench.force("front", false, Some(Until::For(900)));
    bench.after(10.0);
    let since = |told: serde_json::Value| {
        let since = told["since"].as_str().expect("a time").to_owned();
        since.parse::<DateTime<Utc>>().expect("a time")
    };
    let (master, slave) = (since(bench.told("front")), since(bench.told("fence")));
    assert_eq!(bench.told("fence")["lit"], false);
    // The relay lets go some milliseconds after the master does.
    let behind = (slave - master).as_seconds_f64();
    assert!((0.0..5.0).contains(&behind), "{behind} s after its master");
}

#[test]
fn what_a_line_waits_for_is_said_as_the_trade_says_it() {
    let mut bench = Bench::at(yard(), "2027-03-01T12:00:00Z");
    bench.after(10.0).force("front", true, None);
    bench.force("front", false, None);
    assert_eq!(bench.told("front")["waits"], "minimum on-time not over yet");
    bench.after(5.0).force("front", true, None);
    assert_eq!(
        bench.told("front")["waits"],
        "minimum off-time not over yet"
    );
}

fn page(bench: &mut Bench) -> String {
    crate::page::yard(&bench.engine.seen(bench.now)).into_string()
}

#[test]
fn a_page_names_the_zone_to_hold_only_where_that_lights_anything() {
    let mut bench = unwatched();
    let shown = page(&mut bench);
    assert!(shown.contains("To light it, hold front."), "{shown}");
    // A wire so thin and long that the coil gets far less than it needs: 300 m of 30 AWG are 207 ohm there and back
    // (0.3385 ohm/m at 20 °C, ASTM B258), and the coil has 400.
    let site = yard_with(&[
        (
            "[[input]]\nzone = \"fence\"\nchip = \"gpiochip0\"\nline = 3\n",
            "",
        ),
        (
            "wire = \"22 AWG\"\nlength = \"20 m\"",
            "wire = \"30 AWG\"\nlength = \"600 m\"",
        ),
    ]);
    let mut bench = Bench::at(site, "2027-03-01T20:30:00Z");
    let links = crate::link::judge(bench.engine.site(), crate::link::Draw::FEWEST).unwrap();
    bench.engine.set_links(links);
    bench.after(10.0);
    assert_eq!(bench.told("fence")["lit"], false);
    let shown = page(&mut bench);
    assert!(!shown.contains("To light it"), "{shown}");
    assert!(
        shown.contains("No hold lights it: the relay of fence does not pull in."),
        "{shown}"
    );
}

#[test]
fn a_page_says_of_its_times_which_is_on_and_which_is_off() {
    let mut bench = Bench::at(yard(), "2027-03-01T12:00:00Z");
    let shown = page(&mut bench);
    assert!(
        shown.contains("on: fixed time 20:00; off: fixed time 23:00"),
        "{shown}"
    );
}

#[test]
fn the_night_of_a_page_is_as_long_as_the_sun_is_down() {
    let night = |latitude: &str, at: &str| {
        let site = yard_with(&[("latitude = 51.0", &format!("latitude = {latitude}"))]);
        let shown = page(&mut Bench::at(site, at));
        let band = shown.split("<rect class=\"night\" ").nth(1)?;
        let of = |name: &str| {
            let value = band
                .split(&format!("{name}=\""))
                .nth(1)?
                .split('"')
                .next()?;
            value.parse::<f64>().ok()
        };
        Some((of("x").unwrap(), of("width").unwrap()))
    };
    // At 78° the sun stays down from late October to mid February, and up from mid April to late August.
    assert_eq!(night("78.0", "2027-12-20T13:00:00Z"), Some((0.0, 360.0)));
    assert_eq!(night("78.0", "2027-06-20T13:00:00Z"), None);
    // On the equator of an equinox it is down for 24 h less 12 h and the 7 min that refraction and its disc add.
    let (from, wide) = night("0.0", "2027-03-20T13:00:00Z").unwrap();
    assert!(
        (wide - 360.0 * (12.0 * 60.0 - 7.0) / 1440.0).abs() < 1.0,
        "{wide}"
    );
    assert!((from - 90.0).abs() < 4.0, "{from}");
}
