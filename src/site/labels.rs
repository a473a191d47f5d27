//! Labels for both ends of every run, the same in every table and picture.

use super::{LinkId, Site, Trunk, ZoneId};

/// The labels of a yard: `P1` for the first pair, `T1` for the first trunk.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RunLabels {
    /// By zone, then by trunk.
    trunks: Vec<Vec<Option<String>>>,
}

impl RunLabels {
    /// Trunks are counted zone by zone, masters before slaves; a trunk without a cable has no ends to label.
    pub fn of(site: &Site) -> Self {
        let mut labels = (1..).map(|number| format!("T{number}"));
        let mut trunks = vec![Vec::new(); site.zones.len()];
        for zone in site.zones_in_order() {
            let of_zone = site[zone].trunks.iter();
            trunks[zone.0] = of_zone
                .map(|trunk| trunk.cable.and_then(|_| labels.next()))
                .collect();
        }
        Self { trunks }
    }

    /// The label on both ends of a link's pair.
    pub fn pair(link: LinkId) -> String {
        format!("P{}", link.0 + 1)
    }

    /// Trunks of a zone, each with its label if it has one.
    pub fn trunks<'labels, 'site>(
        &'labels self,
        site: &'site Site,
        zone: ZoneId,
    ) -> impl Iterator<Item = (Option<&'labels str>, &'site Trunk)> {
        let labels = self.trunks[zone.0].iter().map(Option::as_deref);
        labels.zip(&site[zone].trunks)
    }
}
