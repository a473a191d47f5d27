//! Maps of margins over one axis and two.

use pilotwire::link::Verdict;
use pilotwire::picture::margin_map::{
    Along, Axis, Cell, Map, Turn, margin_map_svg, margin_map_text,
};
use roxmltree::Document;

use super::drawing;

fn values(name: &str, unit: &str, values: &[f64]) -> Axis {
    Axis {
        name: name.into(),
        unit: unit.into(),
        along: Along::Values(values.to_vec()),
    }
}

fn labels(name: &str, labels: &[&str]) -> Axis {
    Axis {
        name: name.into(),
        unit: String::new(),
        along: Along::Labels(labels.iter().map(|&label| label.into()).collect()),
    }
}

fn cell(margin: f64) -> Cell {
    Cell {
        margin: Some(margin),
        verdict: match margin {
            m if m < 0.0 => Verdict::NoGo,
            m if m < 0.15 => Verdict::Caution,
            _ => Verdict::Go,
        },
        why: "the pair takes 1.2 V & the rest <at low mains>".into(),
    }
}

fn lengths() -> Map {
    let metres = [10.0, 30.0, 60.0, 90.0, 120.0];
    Map {
        title: "house to pond".into(),
        x: values("pair length", "m", &metres),
        y: None,
        cells: metres.iter().map(|m| cell(0.6 - 0.006 * m)).collect(),
        turns: Vec::new(),
    }
}

fn table(columns: usize) -> Map {
    let metres: Vec<f64> = (1..=columns).map(|n| 10.0 * n as f64).collect();
    let wires = [
        "24 AWG telephone pair",
        "18 AWG",
        "14 AWG direct burial cable, black and long",
    ];
    Map {
        title: "house to pond".into(),
        turns: Vec::new(),
        cells: (0..wires.len())
            .flat_map(|row| {
                metres
                    .iter()
                    .map(move |m| cell(0.5 - 0.01 * m / (1.0 + row as f64)))
            })
            .collect(),
        x: values("pair length", "m", &metres),
        y: Some(labels("wire", &wires)),
    }
}

/// One of each kind, with their corners.
fn maps() -> Vec<Map> {
    let mut capacitors = Map {
        x: values("capacitor", "uF", &[47.0, 100.0, 470.0, 1000.0, 4700.0]),
        ..lengths()
    };
    capacitors.cells[1].margin = None;
    capacitors.cells[4].verdict = Verdict::Go;
    let things = Map {
        x: labels(
            "wire",
            &[
                "24 AWG",
                "an unusually long name of a wire that has to be broken",
                "",
                "x",
                "y",
            ],
        ),
        ..lengths()
    };
    let mut far = lengths();
    far.cells[0].margin = Some(12.0);
    far.cells[4].margin = Some(-7.5);
    let mut one = lengths();
    one.x = values("tap", "V", &[12.6]);
    one.cells.truncate(1);
    let falling = Map {
        x: values("tap", "V", &[14.0, 13.0, 12.0, 11.0, 10.0]),
        ..lengths()
    };
    let wide_words = Map {
        title: "w".repeat(200),
        x: labels("relay", &["w".repeat(90).as_str(), "b", "c"]),
        y: Some(labels(&"n".repeat(60), &["o".repeat(70).as_str()])),
        cells: vec![cell(0.1), cell(0.2), cell(-0.1)],
        turns: Vec::new(),
    };
    vec![
        lengths(),
        capacitors,
        things,
        far,
        one,
        falling,
        wide_words,
        table(4),
        table(24),
    ]
}

#[test]
fn a_map_is_small_and_sound() {
    for (index, map) in maps().iter().enumerate() {
        let svg = margin_map_svg(map);
        drawing::check(&format!("map {index}"), &svg);
        assert_eq!(svg, margin_map_svg(map));
        let bound = 12_000 + 500 * map.cells.len();
        assert!(svg.len() < bound, "map {index}: {}", svg.len());
    }
}

#[test]
fn every_cell_has_its_margin_its_shape_and_its_reason() {
    // Few enough columns for one block: cells in the order of the map.
    let map = table(6);
    let svg = margin_map_svg(&map);
    let document = Document::parse(&svg).unwrap();
    let cells: Vec<_> = document
        .descendants()
        .filter(|node| {
            node.has_tag_name("g")
                && node
                    .first_element_child()
                    .is_some_and(|child| child.tag_name().name() == "title")
        })
        .collect();
    assert_eq!(cells.len(), map.cells.len());
    for (group, cell) in cells.iter().zip(&map.cells) {
        let title = group.first_element_child().unwrap().text().unwrap();
        assert!(title.ends_with(&cell.why), "{title}");
        let percent = 100.0 * cell.margin.unwrap();
        let said = format!("{percent:+.0}").replace('-', "−");
        let text = group
            .children()
            .filter(|child| child.tag_name().name() == "text")
            .find_map(|child| child.text());
        if percent.abs() >= 1.0 {
            assert_eq!(text, Some(said.as_str()));
        }
        let shape = match cell.verdict {
            Verdict::Go => "solid",
            Verdict::Caution => "hollow",
            Verdict::NoGo => "stroke",
        };
        assert!(
            group
                .children()
                .any(|child| child.attribute("class") == Some(shape)),
            "{title}"
        );
    }
}

#[test]
fn the_edge_of_what_works_is_drawn_only_where_there_is_one() {
    let edges = |map: &Map| {
        let svg = margin_map_svg(map);
        let document = Document::parse(&svg).unwrap();
        document
            .descendants()
            .filter(|node| node.attribute("class") == Some("bold"))
            .filter_map(|node| node.attribute("d").map(|d| d.matches('M').count()))
            .sum::<usize>()
    };
    let mut map = table(4);
    for cell in &mut map.cells {
        cell.verdict = Verdict::Go;
    }
    assert_eq!(edges(&map), 0);
    // One cell in the middle has four sides.
    map.cells[5].verdict = Verdict::NoGo;
    assert_eq!(edges(&map), 4);
}

#[test]
fn the_edge_is_drawn_where_it_is_known_to_be() {
    let edge = |map: &Map| {
        let svg = margin_map_svg(map);
        let document = Document::parse(&svg).unwrap();
        document
            .descendants()
            .filter(|node| node.attribute("class") == Some("bold"))
            .filter_map(|node| node.attribute("x1")?.parse::<f64>().ok())
            .collect::<Vec<_>>()
    };
    let turn = |at, to| Turn { before: 3, at, to };
    let with = |turns| Map { turns, ..lengths() };
    // Works to 60 m, caution at 90 m, does not at 120 m.
    let early = edge(&with(vec![turn(93.0, Verdict::NoGo)]));
    let late = edge(&with(vec![turn(117.0, Verdict::NoGo)]));
    assert_eq!((early.len(), late.len()), (1, 1));
    // 404 − 52 − 16 units from 10 to 120 m.
    assert!((late[0] - early[0] - 24.0 * 336.0 / 110.0).abs() < 0.2);
    // A change to a verdict other than the next one does not count.
    assert_eq!(edge(&with(vec![turn(93.0, Verdict::Go)])), edge(&lengths()));
}

#[test]
fn a_cell_without_an_answer_has_no_verdict() {
    for mut map in [lengths(), table(4)] {
        map.cells[1].margin = None;
        map.cells[1].verdict = Verdict::NoGo;
        map.cells[1].why = "it does not settle".into();
        let svg = margin_map_svg(&map);
        assert!(svg.contains("no answer. it does not settle"));
        let document = Document::parse(&svg).unwrap();
        let group = document
            .descendants()
            .filter(|node| node.has_tag_name("g"))
            .find(|node| {
                node.first_element_child()
                    .and_then(|child| child.text())
                    .is_some_and(|text| text.contains("no answer"))
            })
            .unwrap();
        assert!(!group.children().any(|child| {
            matches!(
                child.attribute("class"),
                Some("solid" | "hollow" | "stroke")
            )
        }));
        let text = margin_map_text(&map);
        assert!(text.contains("no answer"), "{text}");
    }
}

#[test]
fn a_summary_says_what_works() {
    let text = margin_map_text(&lengths());
    assert!(
        text.contains("works 10 to 60 m; caution at 90 m; does not at 120 m"),
        "{text}"
    );
    let svg = margin_map_svg(&lengths());
    assert!(svg.contains("works 10 to 60 m; caution at 90 m; does not at 120 m"));
}

#[test]
fn a_table_never_overflows_a_terminal() {
    for map in maps() {
        let text = margin_map_text(&map);
        for line in text.lines() {
            assert!(line.chars().count() <= 80, "{line}");
            assert_eq!(line, line.trim_end());
        }
    }
    let text = margin_map_text(&table(24));
    assert!(text.matches("pair length, m").count() > 1, "{text}");
}

#[test]
#[should_panic(expected = "one cell for every value")]
fn a_map_with_cells_missing_is_our_own_mistake() {
    let mut map = table(4);
    map.cells.pop();
    margin_map_svg(&map);
}
