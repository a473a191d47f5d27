//! A number stays on one line with its unit.

/// Units as they stand behind numbers in a sheet.
const UNITS: [&str; 25] = [
    "V", "mV", "A", "mA", "W", "kW", "VA", "kWh", "h", "min", "s", "ms", "m", "mm", "mm²", "ft",
    "in", "°C", "K", "%", "ohm", "Ω", "MΩ", "µF", "AWG",
];

/// A page in which no line breaks between a number and its unit, nor between volts and their kind. Left as they
/// are: tags, styles, and what is typed.
pub(super) fn kept_together(html: &str) -> String {
    let mut out = String::with_capacity(html.len());
    let mut rest = html;
    while let Some(begin) = rest.find('<') {
        let (text, tag) = rest.split_at(begin);
        out.push_str(&text_kept(text));
        let as_is = ["style", "code"]
            .into_iter()
            .find(|name| tag[1..].starts_with(name))
            .and_then(|name| tag.find(&format!("</{name}>")));
        let end = as_is.or_else(|| tag.find('>').map(|end| end + 1));
        let (as_is, behind) = tag.split_at(end.unwrap_or(tag.len()));
        out.push_str(as_is);
        rest = behind;
    }
    out.push_str(&text_kept(rest));
    out
}

fn text_kept(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut words = text.split(' ');
    out.extend(words.next());
    let mut volts = false;
    for word in words {
        let bare = word.trim_end_matches(|c: char| ",;:.)".contains(c));
        let unit = out.ends_with(|c: char| c.is_ascii_digit()) && UNITS.contains(&bare);
        let kind = volts && (bare == "AC" || bare == "DC");
        out.push(if unit || kind { '\u{a0}' } else { ' ' });
        out.push_str(word);
        volts = unit && word == "V";
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_keeps_its_unit() {
        for (html, kept) in [
            (
                "<b>12.45 V AC (11 to 13.85 V)</b>",
                "<b>12.45~V~AC (11 to 13.85~V)</b>",
            ),
            ("79.2 m (260 ft) one way", "79.2~m (260~ft) one way"),
            (
                "box 26 °C, +13 % and 8 lamps",
                "box 26~°C, +13~% and 8 lamps",
            ),
            ("V AC", "V AC"),
            (
                "<p class=\"a 1 V\">7.5 A</p>",
                "<p class=\"a 1 V\">7.5~A</p>",
            ),
            ("<code>--for 2 h</code> 2 h", "<code>--for 2 h</code> 2~h"),
            (
                "<style>a{b:1 s}</style>1 s <",
                "<style>a{b:1 s}</style>1~s <",
            ),
            ("1 Vase", "1 Vase"),
        ] {
            assert_eq!(kept_together(html), kept.replace('~', "\u{a0}"));
        }
    }
}
