//! Several pictures in one page: none affects another, or the page.

use std::collections::HashSet;
use std::fmt::Write;
use std::num::NonZeroU32;

use pilotwire::chain::chain;
use pilotwire::link::{Draw, LinkJudgement, following, judge};
use pilotwire::picture::{
    Picture, chain::chain_svg, ladder::ladder_svg, lamps::lamps_svg, season::season_svg, style,
    yard::yard_svg,
};
use pilotwire::schedule::skies;
use pilotwire::season::season;
use pilotwire::site::{LinkId, Site};
use roxmltree::{Document, Node};

use crate::support::read::read;
use crate::support::yards::CONFIG;

use super::seasons::four;
use super::yards::{thirty, zones_at};

/// Every picture of a yard except waveforms.
fn drawn(site: &Site) -> Vec<Picture> {
    let draw = Draw {
        seed: 1,
        builds: NonZeroU32::MIN,
    };
    let judged = judge(site, draw).unwrap();
    let evenings = "2027-03-01".parse().unwrap()..="2027-05-31".parse().unwrap();
    let season = season(site, evenings.clone(), &following(site).unwrap()).unwrap();
    let mut pictures = vec![
        season_svg(site, &season, &skies(site, evenings).unwrap()),
        yard_svg(site),
        lamps_svg(site),
        chain_svg(site, &chain(site, &judged)),
    ];
    let links: Vec<(LinkId, &LinkJudgement)> = judged
        .iter()
        .enumerate()
        .map(|(n, j)| (LinkId(n), j))
        .collect();
    pictures.extend(links.iter().map(|link| ladder_svg(site, &[*link])));
    pictures
}

#[test]
fn pictures_in_one_page_share_no_id() {
    // A season of four panels draws its sky by reference; here the page contains it twice.
    let pictures: Vec<Picture> = [four(), read(CONFIG[1].1), four()]
        .iter()
        .flat_map(drawn)
        .collect();
    let mut page = String::from("<main>");
    for (n, picture) in pictures.iter().enumerate() {
        page.push_str(&picture.inline(&format!("picture-{n}")).into_string());
    }
    page.push_str("</main>");
    let page = Document::parse(&page).unwrap();
    let svgs: Vec<Node<'_, '_>> = page
        .root_element()
        .children()
        .filter(Node::is_element)
        .collect();
    assert_eq!(svgs.len(), pictures.len());
    let mut seen = HashSet::new();
    let mut references = 0;
    for (n, svg) in svgs.into_iter().enumerate() {
        assert_eq!(svg.attribute("role"), Some("img"));
        assert!(
            svg.attribute("aria-label")
                .is_some_and(|said| !said.is_empty())
        );
        let ids: Vec<&str> = svg
            .descendants()
            .filter_map(|node| node.attribute("id"))
            .collect();
        for id in &ids {
            assert!(id.starts_with(&format!("picture-{n}-")), "{id}");
            assert!(seen.insert(id.to_string()), "{id} is there twice");
        }
        for node in svg.descendants() {
            assert!(!node.has_tag_name(("http://www.w3.org/2000/svg", "style")));
            if let Some(href) = node.attribute("href") {
                references += 1;
                assert!(
                    ids.contains(&&href[1..]),
                    "{href} is not in its own picture"
                );
            }
        }
    }
    assert_eq!(references, 2 * 3);
}

#[test]
fn a_picture_in_a_page_is_the_picture_of_the_file() {
    for picture in drawn(&four()) {
        let file = picture.file();
        let (before, rest) = file.split_once("<style>").unwrap();
        let (_, after) = rest.split_once("</style>").unwrap();
        let inline = picture.inline("pwp").into_string();
        assert_eq!(format!("{before}{after}"), format!("{inline}\n"));
    }
}

/// A picture taller than a page of paper is cut into parts that each fit one, and nothing is lost or drawn
/// twice.
#[test]
fn a_long_picture_comes_in_parts() {
    let site = thirty(|_| 0);
    for picture in drawn(&site).iter().take(4).chain([&long_season()]) {
        let file = picture.file();
        let whole = Document::parse(&file).unwrap();
        let page = format!("<main>{}</main>", picture.inline("long").into_string());
        let page = Document::parse(&page).unwrap();
        let svgs: Vec<Node<'_, '_>> = page
            .root_element()
            .children()
            .filter(Node::is_element)
            .collect();
        let mut end = 0.0;
        let mut said = Vec::new();
        for svg in &svgs {
            let frame: Vec<f64> = svg
                .attribute("viewBox")
                .unwrap()
                .split(' ')
                .map(|number| number.parse().unwrap())
                .collect();
            assert!((frame[1] - end).abs() < 0.11, "{frame:?} after {end}");
            end = frame[1] + frame[3];
            assert!(
                frame[3] <= if svgs.len() > 1 { 920.0 } else { 1115.0 },
                "{frame:?}"
            );
            for text in texts(svg) {
                let y: f64 = text.attribute("y").unwrap().parse().unwrap();
                assert!(
                    y >= frame[1] && y <= end,
                    "{:?} outside {frame:?}",
                    text.text()
                );
                said.push(text.text().unwrap().to_owned());
            }
        }
        let high: f64 = whole
            .root_element()
            .attribute("height")
            .unwrap()
            .parse()
            .unwrap();
        assert!((end - high).abs() < 1.0);
        let all: Vec<String> = texts(&whole.root_element())
            .map(|text| text.text().unwrap().to_owned())
            .collect();
        assert_eq!(said, all);
        assert_eq!(
            page.descendants()
                .filter(|node| node.attribute("href").is_some())
                .count(),
            whole
                .descendants()
                .filter(|node| node.attribute("href").is_some())
                .count()
        );
    }
}

/// A season of twelve zones that have nothing in common.
fn long_season() -> Picture {
    let mut zones = String::new();
    for n in 0..12 {
        let (hour, minute) = ((22 + n / 4) % 24, 15 * (n % 4));
        let keys = format!("on = \"sunset\"\noff = \"{hour:02}:{minute:02}\"");
        let _ = writeln!(zones, "[[zone]]\nname = \"z{n}\"\nsupply = \"dc\"\n{keys}");
    }
    let site = zones_at(50.0, &zones);
    let evenings = "2027-01-01".parse().unwrap()..="2027-12-31".parse().unwrap();
    let season = season(&site, evenings.clone(), &following(&site).unwrap()).unwrap();
    season_svg(&site, &season, &skies(&site, evenings).unwrap())
}

fn texts<'a, 'i>(svg: &Node<'a, 'i>) -> impl Iterator<Item = Node<'a, 'i>> {
    svg.descendants()
        .filter(|node| node.has_tag_name(("http://www.w3.org/2000/svg", "text")))
}

/// Selectors of a style sheet, those inside media rules as well.
fn selectors(style: &str) -> Vec<String> {
    style
        .split(['{', '}'])
        .map(str::trim)
        .filter(|part| !part.is_empty() && !part.starts_with('@') && !part.contains(':'))
        .flat_map(|part| part.split(','))
        .map(str::to_owned)
        .collect()
}

#[test]
fn the_style_of_pictures_restyles_nothing_else() {
    let style = style();
    assert!(
        !style.contains(['<', '&']),
        "not plain text in HTML and XML"
    );
    let selectors = selectors(&style);
    assert!(selectors.len() > 40, "{selectors:?}");
    for selector in selectors {
        assert!(selector.starts_with(".pwp"), "{selector}");
    }
    // The page's style has every rule that any of its pictures has as a file.
    for picture in drawn(&four()) {
        let file = picture.file();
        let own = file.split_once("<style>").unwrap().1;
        let own = own.split_once("</style>").unwrap().0;
        assert!(style.starts_with(own), "{own}");
    }
}
