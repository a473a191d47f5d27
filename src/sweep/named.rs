//! Which link is meant: `front>fence`, `front:fence`, or `fence` alone.

use crate::site::{Fault, LinkId, Site, listed, nearest};

/// Finds the link that a word names: master and slave with `>`, `:` or `,` between them, or the slave alone.
/// Without a word: the only link of the yard.
///
/// # Errors
/// If there is no link of that name, or several and no word.
pub fn link_named(site: &Site, word: Option<&str>) -> Result<LinkId, Fault> {
    let names: Vec<String> = site.links.iter().map(|link| site.link_name(link)).collect();
    let all = || listed(names.iter().map(String::as_str), "or");
    if site.links.is_empty() {
        return Err(Fault::new(
            format!("{} has no links", site.name),
            "add a [[link]] to its site file",
        ));
    }
    let Some(word) = word else {
        return match names.len() {
            1 => Ok(LinkId(0)),
            many => Err(Fault::new(
                format!("there are {many} links"),
                format!("say which: {}", all()),
            )),
        };
    };
    let (master, slave) = match word.split_once(['>', ':', ',']) {
        Some((master, slave)) => (Some(master.trim()), slave.trim()),
        None => (None, word.trim()),
    };
    // A zone has one master, so the slave's name is enough.
    let found = site.links.iter().position(|link| {
        site[link.slave].name == slave && master.is_none_or(|name| site[link.master].name == name)
    });
    if let Some(index) = found {
        return Ok(LinkId(index));
    }
    let near = match master {
        Some(master) => nearest(
            &format!("{master} > {slave}"),
            names.iter().map(String::as_str),
        )
        .map(str::to_owned),
        None => nearest(
            slave,
            site.links.iter().map(|link| site[link.slave].name.as_str()),
        )
        .map(str::to_owned),
    };
    Err(Fault::new(
        format!("there is no link called `{}`", word.trim()),
        match near {
            Some(near) => format!("did you mean `{near}`? The links are {}", all()),
            None => format!("the links are {}", all()),
        },
    ))
}
