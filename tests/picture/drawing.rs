//! Laws for every SVG.

use roxmltree::{Document, Node};

/// Width of a letter of an ordinary sans-serif font, as a fraction of its height.
const SPREAD: f64 = 0.55;

fn attribute(node: &Node<'_, '_>, name: &str) -> Option<f64> {
    node.attribute(name)?.parse().ok()
}

/// Reads a picture as XML and checks what every picture promises.
pub(crate) fn check(name: &str, svg: &str) {
    let document = Document::parse(svg).unwrap_or_else(|error| panic!("{name}: {error}"));
    let root = document.root_element();
    assert!(root.has_tag_name(("http://www.w3.org/2000/svg", "svg")));
    assert_eq!(root.attribute("role"), Some("img"), "{name}");
    let says = |tag: &str| {
        root.children()
            .find(|child| child.tag_name().name() == tag)
            .and_then(|child| child.text())
            .map_or(0, |text| text.trim().len())
    };
    assert!(says("title") > 0 && says("desc") > 0, "{name}");
    let frame: Vec<f64> = root
        .attribute("viewBox")
        .unwrap()
        .split(' ')
        .map(|number| number.parse().unwrap())
        .collect();
    let (wide, high) = (frame[2], frame[3]);
    for node in document.descendants().filter(Node::is_element) {
        let tag = node.tag_name().name();
        assert!(
            !matches!(tag, "script" | "image" | "a" | "foreignObject"),
            "{name}: {tag}"
        );
        for attribute in node.attributes() {
            let value = attribute.value();
            // A name may contain such letters.
            assert!(
                attribute.name() == "aria-label"
                    || (!value.contains("NaN") && !value.contains("inf")),
                "{name}: {value}"
            );
            assert!(
                attribute.name() != "href" || value.starts_with('#'),
                "{name}: {value}"
            );
        }
        match tag {
            "text" => {
                let text = node.text().unwrap_or_default();
                let letter = if node.attribute("class").is_some_and(|c| c.contains("head")) {
                    14.0
                } else {
                    11.5
                };
                let long = text.chars().count() as f64 * letter * SPREAD;
                let (x, y) = (
                    attribute(&node, "x").unwrap(),
                    attribute(&node, "y").unwrap(),
                );
                let left = match node.attribute("text-anchor") {
                    Some("end") => x - long,
                    Some("middle") => x - long / 2.0,
                    _ => x,
                };
                assert!(
                    left >= 0.0 && left + long <= wide && y >= letter * 0.7 && y <= high - 2.0,
                    "{name}: {text:?} at {left:.0}+{long:.0}, {y:.0} of {wide} × {high}"
                );
            }
            "rect" => {
                let [x, y, w, h] =
                    ["x", "y", "width", "height"].map(|name| attribute(&node, name).unwrap_or(0.0));
                assert!(
                    x >= 0.0 && y >= 0.0 && w >= 0.0 && h >= 0.0 && x + w <= wide && y + h <= high,
                    "{name}: rect {x} {y} {w} {h}"
                );
            }
            _ => {}
        }
    }
    assert!(
        !svg.contains("@import") && !svg.contains("@font-face"),
        "{name}"
    );
}

/// Points of every part of a path; a curve counts by its ends.
pub(crate) fn paths(d: &str) -> Vec<Vec<(f64, f64)>> {
    let mut parts: Vec<Vec<(f64, f64)>> = Vec::new();
    let (mut x, mut y) = (0.0, 0.0);
    let mut rest = d;
    while let Some(command) = rest.chars().next() {
        rest = &rest[1..];
        let end = rest
            .find(|c: char| c.is_ascii_alphabetic())
            .unwrap_or(rest.len());
        let numbers = numbers(&rest[..end]);
        rest = &rest[end..];
        let relative = command.is_ascii_lowercase();
        let (x0, y0) = if relative { (x, y) } else { (0.0, 0.0) };
        match command.to_ascii_uppercase() {
            'Z' => continue,
            'H' => x = x0 + numbers[numbers.len() - 1],
            'V' => y = y0 + numbers[numbers.len() - 1],
            'M' | 'L' => {
                for (index, pair) in numbers.chunks(2).enumerate() {
                    let base = if relative { (x, y) } else { (0.0, 0.0) };
                    (x, y) = (base.0 + pair[0], base.1 + pair[1]);
                    if command.eq_ignore_ascii_case(&'M') && index == 0 {
                        parts.push(Vec::new());
                    }
                    parts.last_mut().unwrap().push((x, y));
                }
                continue;
            }
            'C' => {
                for six in numbers.chunks(6) {
                    let base = if relative { (x, y) } else { (0.0, 0.0) };
                    (x, y) = (base.0 + six[4], base.1 + six[5]);
                    parts.last_mut().unwrap().push((x, y));
                }
                continue;
            }
            other => panic!("no such command of a path here: {other}"),
        }
        parts.last_mut().unwrap().push((x, y));
    }
    parts
}

fn numbers(text: &str) -> Vec<f64> {
    let mut spaced = String::new();
    for c in text.chars() {
        if c == '-' || c == ',' {
            spaced.push(' ');
        }
        if c != ',' {
            spaced.push(c);
        }
    }
    spaced
        .split_whitespace()
        .map(|n| n.parse().unwrap())
        .collect()
}

/// Checks that no text covers another, and that no line leaves the picture.
pub(crate) fn check_room(name: &str, svg: &str) {
    let document = Document::parse(svg).unwrap();
    let root = document.root_element();
    let frame: Vec<f64> = root
        .attribute("viewBox")
        .unwrap()
        .split(' ')
        .map(|number| number.parse().unwrap())
        .collect();
    let mut boxes: Vec<(f64, f64, f64, f64, String)> = Vec::new();
    for node in document.descendants().filter(Node::is_element) {
        if node.tag_name().name() == "text" {
            let text = node.text().unwrap_or_default();
            let head = node.attribute("class").is_some_and(|c| c.contains("head"));
            let letter = if head { 14.0 } else { 11.5 };
            let long = text.chars().count() as f64 * letter * SPREAD;
            let (x, y) = (
                attribute(&node, "x").unwrap(),
                attribute(&node, "y").unwrap(),
            );
            let left = match node.attribute("text-anchor") {
                Some("end") => x - long,
                Some("middle") => x - long / 2.0,
                _ => x,
            };
            boxes.push((
                left,
                y - 0.72 * letter,
                left + long,
                y + 0.16 * letter,
                text.to_owned(),
            ));
        }
        if let Some(d) = node.attribute("d") {
            for (x, y) in paths(d).into_iter().flatten() {
                assert!(
                    x >= 0.0 && y >= 0.0 && x <= frame[2] && y <= frame[3],
                    "{name}: {x} {y} of {d}"
                );
            }
        }
        for (x, y) in [("x1", "y1"), ("x2", "y2"), ("cx", "cy")] {
            if let (Some(x), Some(y)) = (attribute(&node, x), attribute(&node, y)) {
                assert!(
                    x >= 0.0 && y >= 0.0 && x <= frame[2] && y <= frame[3],
                    "{name}: {x} {y}"
                );
            }
        }
    }
    for (index, a) in boxes.iter().enumerate() {
        for b in &boxes[..index] {
            let covers = a.0 < b.2 && b.0 < a.2 && a.1 < b.3 && b.1 < a.3;
            assert!(!covers, "{name}: {a:?} covers {b:?}");
        }
    }
}
