//! What holds for every SVG.

use roxmltree::{Document, Node};

/// Width of a letter of a usual sans-serif face, of its height.
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
            assert!(
                !value.contains("NaN") && !value.contains("inf"),
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
