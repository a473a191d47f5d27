//! The sheet that stays with the yard: one HTML file with everything that the next person needs who digs,
//! measures, or switches it off.
//!
//! It has its style and its pictures inside, fetches nothing, runs nothing, and prints on A4 and Letter.
//! Every part of it is a section of its own, and a reader can ask for some of them alone.

use chrono::NaiveDate;
use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::check::Check;
use crate::commissioning::{Point, Symptoms};
use crate::parts::Part;
use crate::picture::{self, Picture};
use crate::report::FOOTER;
use crate::schedule::Sky;
use crate::season::Season;
use crate::site::{LinkId, Site};

mod build;
mod commission;
mod kept;
mod links;
mod service;
mod summary;
mod times;

const STYLE: &str = include_str!("sheet/sheet.css");

/// Nothing is fetched and nothing runs, whatever a name in the site file says.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'";

/// A part of the sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Section {
    /// Verdict and cautions.
    Summary,
    /// The one-line diagram.
    Diagram,
    /// What to buy, and what is in the drawer.
    Parts,
    /// Runs and pilot wires, splice by splice.
    Wiring,
    /// Fuses.
    Fuses,
    /// Test points with an empty column.
    Commissioning,
    /// Links with their ladders, waveforms and faults; lamps.
    Links,
    /// When it switches, in words and over twelve months.
    Schedule,
    /// What is lit after a power cut.
    Outages,
    /// How to force, and how to shut everything down.
    Control,
    /// What to look at in which year.
    Maintenance,
    /// What was not looked at, and who decides.
    Limits,
}

impl Section {
    /// All of them, in the order of the sheet.
    pub const ALL: [Self; 12] = [
        Self::Summary,
        Self::Diagram,
        Self::Parts,
        Self::Wiring,
        Self::Fuses,
        Self::Commissioning,
        Self::Links,
        Self::Schedule,
        Self::Outages,
        Self::Control,
        Self::Maintenance,
        Self::Limits,
    ];

    /// What it is called on the command line, and in the file.
    pub fn name(self) -> &'static str {
        match self {
            Self::Summary => "summary",
            Self::Diagram => "diagram",
            Self::Parts => "parts",
            Self::Wiring => "wiring",
            Self::Fuses => "fuses",
            Self::Commissioning => "commissioning",
            Self::Links => "links",
            Self::Schedule => "schedule",
            Self::Outages => "outages",
            Self::Control => "control",
            Self::Maintenance => "maintenance",
            Self::Limits => "limits",
        }
    }

    fn title(self) -> &'static str {
        match self {
            Self::Summary => "Summary",
            Self::Diagram => "The yard",
            Self::Parts => "What to buy, and what is in the drawer",
            Self::Wiring => "Wiring schedule",
            Self::Fuses => "Fuses",
            Self::Commissioning => "Commissioning sheet",
            Self::Links => "Links and lamps",
            Self::Schedule => "When it switches",
            Self::Outages => "After a power cut",
            Self::Control => "Forcing, and shutting down",
            Self::Maintenance => "Maintenance",
            Self::Limits => "Limits of this sheet",
        }
    }
}

/// A link's picture of one evening, and what its faults show.
pub enum LinkPages {
    /// The link is built as this one before it is, on the same master.
    As(LinkId),
    /// It is the first of those.
    Own {
        /// How it switches.
        waveforms: Waveforms,
        /// Faults and what meters show, the healthy link first.
        symptoms: Vec<Symptoms>,
    },
}

/// Waveforms of a link.
pub enum Waveforms {
    /// Its own.
    Own(Box<Picture>),
    /// Those of a link of the same parts that has less margin: what differs is the pair.
    Of(LinkId),
}

/// What a sheet is made of.
pub struct Sheet<'a> {
    /// The yard.
    pub site: &'a Site,
    /// Its verdict.
    pub check: &'a Check,
    /// Twelve months from the day it is made.
    pub season: &'a Season,
    /// The sky over them.
    pub skies: &'a [Sky],
    /// What meters should show.
    pub points: &'a [Point],
    /// What it is built of.
    pub parts: &'a [Part],
    /// In the order of [`Site::links`].
    pub links: &'a [LinkPages],
    /// What the site file is called.
    pub file: &'a str,
    /// SHA-256 of the site file.
    pub checksum: &'a str,
    /// Version of the time-zone rules, if the machine says.
    pub zone_rules: Option<&'a str>,
    /// The day it is made.
    pub made: NaiveDate,
    /// This program's version.
    pub version: &'a str,
}

/// The sheet, with these sections, in their order.
pub fn sheet_html(sheet: &Sheet<'_>, sections: &[Section]) -> String {
    let chosen: Vec<Section> = Section::ALL
        .into_iter()
        .filter(|section| sections.contains(section))
        .collect();
    let site = sheet.site;
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(POLICY);
                meta name="viewport" content="width=device-width,initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta name="generator" content={ "pilotwire " (sheet.version) };
                title { (site.name) ": lighting, made " (sheet.made) }
                link rel="icon" href="data:,";
                style { (PreEscaped(picture::style())) (PreEscaped(STYLE)) }
            }
            body {
                header {
                    h1 { (site.name) }
                    p .made { "Low-voltage lighting, sheet of " (sheet.made) }
                    p .verdict { (summary::verdict(sheet)) }
                    p { (FOOTER) }
                    (origin(sheet))
                    @if chosen.len() > 1 {
                        nav aria-label="Contents" {
                            ol {
                                @for section in &chosen {
                                    li { a href={ "#" (section.name()) } { (section.title()) } }
                                }
                            }
                        }
                    }
                }
                main {
                    @for section in &chosen {
                        section class=(section.name()) aria-labelledby=(section.name()) {
                            h2 id=(section.name()) { (section.title()) }
                            (body(sheet, *section))
                        }
                    }
                }
            }
        }
    };
    let mut out = kept::kept_together(&page.into_string());
    out.push('\n');
    out
}

fn body(sheet: &Sheet<'_>, section: Section) -> Markup {
    match section {
        Section::Summary => summary::summary(sheet),
        Section::Diagram => build::diagram(sheet),
        Section::Parts => build::parts(sheet),
        Section::Wiring => build::wiring(sheet),
        Section::Fuses => build::fuses(sheet),
        Section::Commissioning => commission::commissioning(sheet),
        Section::Links => links::links(sheet),
        Section::Schedule => times::schedule(sheet),
        Section::Outages => service::outages(sheet),
        Section::Control => service::control(sheet),
        Section::Maintenance => service::maintenance(sheet),
        Section::Limits => summary::limits(sheet),
    }
}

/// By what a sheet and a site file are known to belong together.
fn origin(sheet: &Sheet<'_>) -> Markup {
    html! {
        dl .origin {
            div { dt { "Site file" } dd { (sheet.file) } }
            div { dt { "SHA-256" } dd .sum { (sheet.checksum) } }
            div { dt { "Made" } dd { (sheet.made) " by pilotwire " (sheet.version) } }
            div { dt { "Time-zone rules" } dd {
                (sheet.site.timezone.name()) ", "
                (sheet.zone_rules.map_or_else(|| "version not stated by this machine".into(), |version| format!("version {version}")))
            } }
        }
    }
}

/// A table; on a telephone every row is a card that says which column is which. Nothing where there are no rows.
fn table(caption: &str, head: &[&str], rows: &[Vec<Markup>]) -> Markup {
    html! {
        @if !rows.is_empty() {
            // A table that is laid out as cards is no table to a reader of the screen, unless it says so.
            table role="table" {
                caption { (caption) }
                thead role="rowgroup" {
                    tr role="row" { @for cell in head { th scope="col" role="columnheader" { (cell) } } }
                }
                tbody role="rowgroup" {
                    @for row in rows {
                        tr role="row" {
                            @for (index, (cell, head)) in row.iter().zip(head).enumerate() {
                                @if index == 0 { th scope="row" role="rowheader" { (cell) } }
                                @else { td role="cell" data-head=(head) { (cell) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// Lines to fill in.
fn form(caption: &str, lines: &[&str]) -> Markup {
    html! {
        table .signed role="table" {
            caption { (caption) }
            tbody role="rowgroup" {
                @for line in lines {
                    tr role="row" { th scope="row" role="rowheader" { (line) } td role="cell" { (blank()) } }
                }
            }
        }
    }
}

/// A cell of text.
fn cell(text: impl AsRef<str>) -> Markup {
    html! { (text.as_ref()) }
}

/// A cell to write in.
fn blank() -> Markup {
    html! { span .blank { } }
}
