//! The messages for wrong words, and the meaning of right ones.

use pilotwire::site::Site;
use pilotwire::sweep::{Points, axes, link_named};

use crate::support::read::read;

use super::{PAIR, PLAIN};

fn wrong(site: &Site, link: usize, words: &[&str]) -> String {
    let words: Vec<String> = words.iter().map(|word| (*word).to_owned()).collect();
    axes(site, &site.links[link], &words)
        .expect_err("these words make no sense")
        .to_string()
}

#[test]
fn wrong_words_get_a_remedy() {
    let pair = read(PAIR);
    for (word, said) in [
        (
            "lenght=20..200m",
            "`lenght` is nothing that can be varied; did you mean `length`?",
        ),
        ("length", "`length` has no values; write `length=20..200m`"),
        (
            "length=20..200",
            "`200` has no unit; write `200 m` or `200 ft`",
        ),
        (
            "length=20..200V",
            "`200V` is not a length: unit `V` does not fit; it takes `m`, `ft`, `cm`, `mm`, `km`, `in` or `yd`",
        ),
        (
            "length=200..20m",
            "the range `200..20m` does not rise; write the smaller value first, as in `length=20..200m`",
        ),
        (
            "length=..200m",
            "the range `..200m` has one end; write both, as in `length=20..200m`",
        ),
        (
            "length=20..200m/1",
            "`/1` is not how many values to take; write a whole number from 2 up, as in `length=20..200m/10`",
        ),
        (
            "length=20..200m/9000",
            "9000 values are too many for an axis; take 200 at most",
        ),
        (
            "length=20,,60m",
            "`20,,60m` has an empty place; write values with commas between them, as in `length=20..200m`",
        ),
        (
            "length=0..20m",
            "length `0` is out of bounds; write a route between 1 cm and 10 km",
        ),
        (
            "wire=18..22AWG",
            "`wire` takes a list, not a range; write `wire=18AWG,20AWG,0.75mm2`",
        ),
        (
            "wire=18",
            "`18` has no unit; write `\"18 AWG\"` or `\"18 mm2\"`",
        ),
        (
            "wire=all",
            "`all` sizes of wire are more than anybody has; name some, as in `wire=18AWG,20AWG,0.75mm2`",
        ),
        (
            "relay=r4000",
            "there is no relay called `r4000`; did you mean `r400`?",
        ),
        (
            "relay=coil",
            "there is no relay called `coil`; the site file has `r720`, `r400` and `r90`",
        ),
        (
            "rectifier=bridg",
            "`bridg` is not a rectifier; did you mean `bridge`?",
        ),
        (
            "splices=0..2.5",
            "`2.5` is not a number of splices; write whole numbers, as in `splices=0..6`",
        ),
        (
            "temperature=20..400C",
            "temperature `400C` is out of bounds; write a temperature between -70 C and 90 C",
        ),
        ("mains=-15..15", "`15` has no unit; write `15 %`"),
        (
            "voltage=10..14V",
            "supply near is a transformer, its voltage follows the mains; vary `mains`",
        ),
    ] {
        assert_eq!(wrong(&pair, 0, &[word]), format!("--vary {word}: {said}"));
    }
}

#[test]
fn what_a_link_has_not_cannot_be_varied() {
    let plain = read(PLAIN);
    for word in ["length=20..200m", "wire=22AWG", "splices=0..4"] {
        let name = word.split('=').next().unwrap();
        assert_eq!(
            wrong(&plain, 1, &[word]),
            format!(
                "--vary {word}: the loop of fence > gate is measured, which counts instead of its {name}; vary `loop`, or take `loop_resistance` out of the site file"
            )
        );
    }
    assert_eq!(
        wrong(&plain, 0, &["mains=-15..15%"]),
        "--vary mains=-15..15%: supply near gives front > fence DC, whatever the mains; vary `voltage`"
    );
}

#[test]
fn two_axes_at_most_that_do_not_clash() {
    let pair = read(PAIR);
    for (words, said) in [
        (
            &["length=1..9m", "relay=all", "series=0..9ohm"][..],
            "3 things are varied, a map has two axes; leave out all but two",
        ),
        (
            &["length=1..9m", "length=20..30m"],
            "`length` is varied twice; put all its values into one list",
        ),
        (
            &["length=1..9m", "loop=2..9ohm"],
            "`loop` stands for the whole pair, `length` with it; vary one of the two",
        ),
        (
            &["length=1..90m/100", "series=0..9ohm/100"],
            "10000 combinations are more than 2000; take fewer values, as in `length=20..200m/10`",
        ),
    ] {
        assert_eq!(wrong(&pair, 0, words), said);
    }
}

#[test]
fn values_are_read_in_their_unit() {
    let pair = read(PAIR);
    let numbers = |word: &str| {
        let (x, _) = axes(&pair, &pair.links[0], &[word.to_owned()]).unwrap();
        match x.points {
            Points::Numbers(numbers) => (numbers, x.unit),
            Points::Things(_) => panic!("{word}"),
        }
    };
    for (word, expected, unit) in [
        ("length=20..200m/4", &[20.0, 80.0, 140.0, 200.0][..], "m"),
        ("length=60ft..120ft/3", &[60.0, 90.0, 120.0], "ft"),
        ("length=0.3048m..3ft/3", &[1.0, 2.0, 3.0], "ft"),
        ("length=240,60,120ft", &[60.0, 120.0, 240.0], "ft"),
        ("length=20m, 40 m", &[20.0, 40.0], "m"),
        ("mains=-10..10%/3", &[-10.0, 0.0, 10.0], "%"),
        ("temperature=32..212F/2", &[], "F"),
        ("capacitor=47..470uF/4", &[47.0, 100.0, 220.0, 470.0], "uF"),
        ("splices=0..3", &[0.0, 1.0, 2.0, 3.0], ""),
    ] {
        if expected.is_empty() {
            assert!(wrong(&pair, 0, &[word]).contains("out of bounds"));
        } else {
            assert_eq!(numbers(word), (expected.to_vec(), unit), "{word}");
        }
    }
}

#[test]
fn a_link_is_named_in_four_ways() {
    let plain = read(PLAIN);
    for word in [
        "front>fence",
        "front > fence",
        "front:fence",
        "front,fence",
        "fence",
    ] {
        assert_eq!(link_named(&plain, Some(word)).unwrap().0, 0, "{word}");
    }
    assert_eq!(link_named(&plain, Some("gate")).unwrap().0, 1);
    assert_eq!(link_named(&read(PAIR), None).unwrap().0, 0);
    for (word, said) in [
        (
            None,
            "there are 2 links; say which: `front > fence` or `fence > gate`",
        ),
        (
            Some("fense"),
            "there is no link called `fense`; did you mean `fence`? The links are `front > fence` or `fence > gate`",
        ),
        (
            Some("front>gate"),
            "there is no link called `front>gate`; did you mean `front > fence`? The links are `front > fence` or `fence > gate`",
        ),
        (
            Some("swimming"),
            "there is no link called `swimming`; the links are `front > fence` or `fence > gate`",
        ),
    ] {
        assert_eq!(link_named(&plain, word).unwrap_err().to_string(), said);
    }
}
