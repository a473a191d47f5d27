//! The form that takes readings, in the running program.

use serde_json::{Value, json};

use super::{JSON, OWN, PASSWORD, Page, code};

/// A worked site; a circuit simulator gave its meter readings, healthy and with faults.
const COPPERLEAF: &str = include_str!("../worked_sites/copperleaf.toml");

impl Page {
    /// Loads the form; if making it takes longer than the page waits, it asks again as the page says.
    fn form(&self, headers: &[&str]) -> String {
        for _ in 0..10 {
            let form = self.send("GET", "/readings", headers, "");
            if code(&form) != 200 || form.contains("<form") {
                return form;
            }
            assert!(form.contains("is being worked out"), "{form}");
        }
        panic!("no form: {}", self.log());
    }

    /// Sends readings of a zone as the page does; returns code and answer.
    fn measure(&self, zone: &str, readings: &Value) -> (u16, Value) {
        let body = json!({"do": "measured", "zone": zone, "readings": readings});
        let answer = self.send("POST", "/do", &[JSON, OWN], &body.to_string());
        let text = answer.split_once("\r\n\r\n").map_or("", |(_, body)| body);
        (
            code(&answer),
            serde_json::from_str(text).unwrap_or(Value::Null),
        )
    }
}

/// Checks that markup closes what it opens, in order, and that every id is unique.
fn well_formed(html: &str) {
    const EMPTY: [&str; 5] = ["meta", "link", "input", "br", "!DOCTYPE"];
    let mut open = Vec::new();
    for tag in html.split('<').skip(1) {
        let (tag, _) = tag.split_once('>').expect("a tag ends");
        let name = tag.split([' ', '/']).next().unwrap();
        if let Some(name) = tag.strip_prefix('/') {
            assert_eq!(open.pop(), Some(name), "in {html}");
        } else if !EMPTY.contains(&name) {
            open.push(name);
        }
    }
    assert!(open.is_empty(), "{open:?}");
    let mut ids: Vec<&str> = html
        .split(" id=\"")
        .skip(1)
        .map(|rest| rest.split('"').next().unwrap())
        .collect();
    let all = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), all, "an id is there twice");
}

/// The values of an attribute.
fn all<'a>(html: &'a str, attribute: &str) -> Vec<&'a str> {
    html.split(&format!(" {attribute}=\""))
        .skip(1)
        .map(|rest| rest.split('"').next().unwrap())
        .collect()
}

#[test]
fn the_form_says_of_every_point_of_every_demo_yard_where_how_and_what() {
    let yards = std::fs::read_dir("config").unwrap();
    let yards = yards.map(|entry| entry.unwrap().path());
    for path in yards.filter(|path| path.extension().is_some_and(|it| it == "toml")) {
        let name = path.file_stem().unwrap().to_str().unwrap();
        let yard = std::fs::read_to_string(&path).unwrap();
        // The board's yard has a table of the service already: the tests' settings go there.
        let yard = yard.split("[daemon]").next().unwrap();
        let page = Page::of(&format!("form-{name}"), yard, "");
        let form = page.form(&[]);
        assert_eq!(code(&form), 200, "{form}");
        let (_, html) = form.split_once("\r\n\r\n").unwrap();
        well_formed(html);
        let inputs = html.matches("<input").count();
        assert!(inputs >= 3, "{name}: {inputs}");
        assert_eq!(html.matches("inputmode=\"decimal\"").count(), inputs);
        assert_eq!(html.matches("Meter on <b>").count(), inputs);
        assert_eq!(html.matches("Expected: <b>").count(), inputs);
        // Every input has a label, and the text that describes it exists.
        let ids = all(html, "id");
        let labels = all(html, "for");
        assert_eq!(labels.len(), inputs, "{name}");
        for label in labels {
            assert!(ids.contains(&label), "{name}: {label}");
        }
        for described in all(html, "aria-describedby") {
            for id in described.split(' ') {
                assert!(ids.contains(&id), "{name}: {id}");
            }
        }
        for heading in all(html, "aria-labelledby") {
            assert!(ids.contains(&heading), "{name}: {heading}");
        }
        let forms = html.matches("<form").count();
        assert_eq!(html.matches("role=\"status\"").count(), forms);
        // Without its script nothing can be sent, and the page says what to do.
        assert_eq!(html.matches("<button disabled>").count(), forms);
        assert!(html.contains("<noscript>") && html.contains("pilotwire measured ZONE"));
        assert!(html.contains("Switch mains off"), "{name}");
        for within in ["<style", " style=", "onclick=", "http://", "https://"] {
            assert!(!html.contains(within), "{name}: {within}");
        }
        assert!(html.contains("href=\"/\""), "the way back");
        assert!(
            page.get("/").contains("href=\"/readings\""),
            "the way there"
        );
    }
}

#[test]
fn the_form_is_small_and_its_script_too() {
    let page = Page::start("form-small", "");
    let form = page.form(&[]);
    let script = page.get("/readings.js");
    assert!(script.contains("content-type: text/javascript"), "{script}");
    let parts = form.len() + script.len() + page.get("/page.css").len();
    assert!(parts <= 60_000, "{parts}");
    assert_eq!(
        code(&page.send("POST", "/readings", &[JSON, OWN], "{}")),
        405
    );
}

/// Readings from the simulator's table of faults are sent, and the answer must name the fault.
#[test]
fn readings_that_are_sent_name_the_fault_and_survive_a_restart() {
    let page = Page::of("form-faults", COPPERLEAF, "");
    page.form(&[]);
    for (tp1, tp2, tp3, tp3_ac, fault) in [
        ("12.58", "12.25", "14.7", "0.33", "as it should be"),
        ("12,58", "12,28", "13,8", "0,67", "one bridge diode open"),
        ("12.58", "12.27", "14.2", "1.0", "capacitor at 30 %"),
        ("12.58", "12.40", "9.8", "5.3", "capacitor open"),
        (
            "12.58",
            "9.36",
            "9.5",
            "0.15",
            "100 ohm more in the pair (a splice)",
        ),
        ("12.58", "12.58", "16.7", "0.0", "coil open"),
        (
            "12.58",
            "1.9",
            "0.07",
            "0.0",
            "a short at the coil: in it, in the capacitor, or by a diode across it the wrong way round",
        ),
        ("10.8", "10.5", "12.4", "0.27", "as it should be"),
        (
            "12.58",
            "11.26",
            "12.6",
            "0.23",
            "25 ohm more in the pair (a splice)",
        ),
    ] {
        let (code, _) = page.measure("front", &json!({"TP1": tp1}));
        assert_eq!(code, 200);
        let readings = json!({"TP2": tp2, "TP3 DC": tp3, "TP3 AC": tp3_ac, "TP4 open": "OL"});
        let (code, answer) = page.measure("fence", &readings);
        assert_eq!(code, 200, "{answer}");
        let measured = &answer["measured"];
        assert_eq!(measured["kept"], true);
        let fence = &measured["zones"][0];
        assert_eq!(fence["zone"], "fence");
        assert_eq!(fence["link"]["fits"][0]["fault"], fault, "{answer}");
        assert_eq!(fence["points"].as_array().unwrap().len(), 15);
    }
    let yard = page.get("/");
    assert!(
        yard.contains("fence/TP2 low, fence/TP3 DC low; fence fits: 25 ohm more"),
        "{yard}"
    );
    let form = page.form(&[]);
    for part in [
        "front &gt; fence fits: 25 ohm more in the pair (a splice), read 20",
        "what you see of it: nothing yet: it follows, with little left when hot",
        "<b>low</b>: 12.6 V DC on ",
        "; first 14.7 V DC on ",
        "<b>within</b>: OL on ",
        "fence/TP2 low, fence/TP3 DC low; fence fits: 25 ohm more in the pair",
    ] {
        assert!(form.contains(part), "{part}: {form}");
    }
    let (folder, at) = (page.folder.clone(), page.at);
    drop(page);
    let page = Page::run(folder, at);
    let again = page.form(&[]);
    for part in [
        "<b>low</b>: 12.6 V DC on ",
        "; first 14.7 V DC on ",
        "25 ohm more in the pair",
    ] {
        assert!(again.contains(part), "{part}: {again}");
    }
}

#[test]
fn the_first_readings_after_a_start_are_taken_and_say_whether_they_are_off() {
    let page = Page::start("form-first", "");
    let (code, answer) = page.measure("orchard", &json!({"TP3 DC": "0.1"}));
    assert_eq!(code, 200, "{answer}");
    assert_eq!(answer["measured"]["off"], true, "{answer}");
    let (_, answer) = page.measure("walk", &json!({"TP1": "12.6"}));
    assert_eq!(answer["measured"]["off"], false, "{answer}");
}

/// The value of a figure.
fn figure<'a>(figures: &'a str, name: &str) -> Option<&'a str> {
    let line = figures.lines().find(|line| line.starts_with(name))?;
    Some(line.rsplit(' ').next().unwrap())
}

#[test]
fn figures_tell_whether_readings_are_off_and_when_they_were_taken() {
    let page = Page::start("form-figures", "");
    let figures = page.get("/metrics");
    // A metric family without a measurement has a name and no values.
    for family in [
        "pilotwire_zone_readings_off",
        "pilotwire_zone_measured_timestamp_seconds",
        "pilotwire_link_readings_off",
        "pilotwire_link_measured_timestamp_seconds",
    ] {
        assert!(
            figures.contains(&format!("# TYPE {family} gauge\n")),
            "{figures}"
        );
        assert_eq!(figure(&figures, &format!("{family}{{")), None);
    }
    let now = || {
        std::time::SystemTime::UNIX_EPOCH
            .elapsed()
            .unwrap()
            .as_secs()
    };
    let before = now();
    assert_eq!(page.measure("walk", &json!({"TP1": "12.6"})).0, 200);
    assert_eq!(
        page.measure("orchard", &json!({"TP2": "12.2", "TP3 DC": "0.1"}))
            .0,
        200
    );
    let told = |figures: &str| {
        let of = |name: &str| figure(figures, name).map(str::to_owned);
        [
            of("pilotwire_zone_readings_off{zone=\"walk\"}"),
            of("pilotwire_zone_readings_off{zone=\"orchard\"}"),
            of("pilotwire_link_readings_off{link=\"walk > orchard\"}"),
        ]
    };
    let expected = ["0", "1", "1"].map(|it| Some(it.to_owned()));
    let figures = page.get("/metrics");
    assert_eq!(told(&figures), expected, "{figures}");
    for of in [
        "zone_measured_timestamp_seconds{zone=\"walk\"}",
        "link_measured_timestamp_seconds{link",
    ] {
        let at: u64 = figure(&figures, &format!("pilotwire_{of}"))
            .unwrap()
            .parse()
            .unwrap();
        assert!((before..=now()).contains(&at), "{figures}");
    }
    // After a restart the form need not be opened first.
    let (folder, at) = (page.folder.clone(), page.at);
    drop(page);
    let page = Page::run(folder, at);
    let again = (0..600).any(|_| {
        std::thread::sleep(std::time::Duration::from_millis(50));
        told(&page.get("/metrics")) == expected
    });
    assert!(again, "{}", page.get("/metrics"));
}

#[test]
fn what_cannot_be_taken_is_refused_whole_and_says_which() {
    let page = Page::start("form-wrong", "");
    page.form(&[]);
    let (code, answer) = page.measure(
        "orchard",
        &json!({"TP2": "12.2", "TP3": "14", "TP3 AC": "much", "TP10": -1, "TP11 pair": "OL", "TP1": "12.6", "TP4 closed": 1e9}),
    );
    assert_eq!(code, 409, "{answer}");
    let at = &answer["refused"]["at"];
    for (point, why) in [
        ("TP3", "perhaps TP3 DC or TP3 AC"),
        ("TP3 AC", "not a number"),
        ("TP10", "swap the probes"),
        ("TP4 closed", "write OL"),
        ("TP1", "orchard has no such point: it is one of walk"),
    ] {
        assert!(at[point].as_str().unwrap().contains(why), "{answer}");
    }
    assert_eq!(at.as_object().unwrap().len(), 5);
    assert!(page.form(&[]).contains("nothing is measured yet"));
    for (zone, readings, expected, why) in [
        ("orchad", json!({"TP2": 1}), 409, "did you mean orchard?"),
        ("orchard", json!({}), 409, "nothing was measured"),
        ("orchard", json!({"TP2": true}), 422, ""),
        ("orchard", json!({"TP2": null}), 422, ""),
        ("orchard", json!({"TP2": [12.2]}), 422, ""),
        ("orchard", json!([12.2]), 422, ""),
        ("orchard", json!("12.2"), 422, ""),
        ("orchard", json!({"TP2": "1".repeat(5000)}), 413, ""),
        (
            "orchard",
            json!({"TP2": "1".repeat(3000)}),
            409,
            "not a number",
        ),
    ] {
        let (code, answer) = page.measure(zone, &readings);
        assert_eq!(code, expected, "{readings}: {answer}");
        assert!(answer.to_string().contains(why), "{readings}: {answer}");
    }
    for body in [
        "{\"do\":\"measured\",\"zone\":\"orchard\"}",
        "{\"do\":\"measured\",\"zone\":\"orchard\",\"readings\":{\"TP2\":1e999}}",
        "{\"do\":\"measured\",\"zone\":\"orchard\",\"readings\":{\"TP2\":1},\"more\":1}",
    ] {
        let answer = page.send("POST", "/do", &[JSON, OWN], body);
        assert_eq!(super::code(&answer), 422, "{body}: {answer}");
    }
    assert!(page.form(&[]).contains("nothing is measured yet"));
}

#[test]
fn nobody_else_sends_readings() {
    let page = Page::start("form-guard", "page_token = \"FOLDER/password\"\n");
    let body = "{\"do\":\"measured\",\"zone\":\"walk\",\"readings\":{\"TP1\":12.5}}";
    let bearer = format!("Authorization: Bearer {PASSWORD}");
    let send = |headers: &[&str]| code(&page.send("POST", "/do", headers, body));
    assert_eq!(code(&page.form(&[])), 401);
    assert_eq!(send(&[JSON, OWN]), 401);
    assert_eq!(send(&[JSON, OWN, "Cookie: pilotwire=nonsense"]), 401);
    assert_eq!(send(&[JSON, &bearer]), 403);
    assert_eq!(send(&[JSON, "Sec-Fetch-Site: cross-site", &bearer]), 403);
    assert_eq!(send(&[JSON, "Origin: http://evil.example", &bearer]), 403);
    assert_eq!(send(&["Content-Type: text/plain", OWN, &bearer]), 415);
    assert!(page.form(&[&bearer]).contains("nothing is measured yet"));
    assert_eq!(send(&[JSON, OWN, &bearer]), 200);
    let cookie = format!("Cookie: pilotwire={PASSWORD}");
    assert_eq!(send(&[JSON, OWN, &cookie]), 200);
    assert!(!page.form(&[&bearer]).contains("nothing is measured yet"));
}

#[test]
fn odd_names_and_odd_readings_stay_text() {
    let yard = COPPERLEAF.replace("Copperleaf Row", "<script>alert(1)</script> & 'x'");
    assert_ne!(yard, COPPERLEAF);
    let page = Page::of("form-odd", &yard, "");
    let odd = "<img src=x>\\n INFO switched zone=\u{1b}[2J";
    let (code, answer) = page.measure("front", &json!({ odd: odd }));
    assert_eq!(code, 409, "{answer}");
    let form = page.form(&[]);
    assert_eq!(page.measure("front", &json!({ "TP1": odd, odd: 1 })).0, 409);
    for text in [form, page.form(&[]), page.get("/")] {
        assert!(
            !text.contains("<script>alert") && !text.contains("<img"),
            "{text}"
        );
        assert!(
            text.contains("&lt;script&gt;alert(1)&lt;/script&gt; &amp; "),
            "{text}"
        );
    }
    let log = page.log();
    assert!(!log.contains('\u{1b}'), "{log}");
    assert!(
        !log.lines()
            .any(|line| line.starts_with(" INFO switched zone=\u{1b}")),
        "{log}"
    );
}
