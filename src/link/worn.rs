//! Worn parts: a link after some years, at low mains with a flat crest and an aged capacitor.

use crate::circuit::relay;
use crate::site::{LampKind, Link, Site};
use crate::transient::{self, CannotConclude};

use super::case::{settled, warm, with_coil};
use super::corner::{self, Corner};

/// Share of the peak that remains with a mains crest as flat as is usual: 1.36 over 1.414 (crest factors of
/// real mains; common practice).
pub(super) const FLAT_CREST: f64 = 1.36 / std::f64::consts::SQRT_2;

/// How far LED lamps with their own rectifiers move the peak, up or down (circuit simulation of 470 to 2000 µF
/// in total).
pub(super) const LED_LAMPS: f64 = 0.03;

/// Remaining capacitance at the end of a capacitor's life, as a fraction (common practice).
pub(super) const AGED: f64 = 0.8;

/// ESR of a cold or aged capacitor as a multiple of a new one's (common practice).
pub(super) const AGED_ESR: f64 = 4.0;

/// A change to a circuit before it is worked out.
pub(crate) type Alter<'a> = &'a dyn Fn(transient::Link) -> transient::Link;

/// Low mains, a flat crest, all lamps lit, the pair at least as warm as the box, a small coil, and a
/// capacitor that is small, old and leaking.
pub(super) fn corner(site: &Site, link: &Link, box_c: f64) -> Corner {
    let on_ac = site.feeding(link).is_ac();
    let crest = if on_ac { FLAT_CREST } else { 1.0 };
    Corner {
        level: -1.0,
        crest: crest * (1.0 - led_lamps(site, link)),
        wire_c: site.temperatures.wire_c.max(box_c),
        coil_part: 1.0 - link.relay.coil_tolerance,
        capacitor_part: AGED * (1.0 - link.capacitor.map_or(0.0, |part| part.tolerance)),
        esr_part: AGED_ESR,
        leak_part: 1.0,
        ..Corner::ordinary(site, link).in_box(box_c)
    }
}

/// How far the master's lamps move the peak, up or down.
pub(super) fn led_lamps(site: &Site, link: &Link) -> f64 {
    if site.feeding(link).is_ac() && leds(site, link) {
        LED_LAMPS
    } else {
        0.0
    }
}

/// Whether the master's lamps have their own rectifiers.
pub(super) fn leds(site: &Site, link: &Link) -> bool {
    site[link.master]
        .lamps()
        .any(|group| group.kind == LampKind::Led)
}

/// Temperature of the warm coil [°C], its lowest voltage between two pulses [V], and the voltage that it must
/// stay above [V].
pub(super) fn stays_in(
    site: &Site,
    link: &Link,
    box_c: f64,
    alter: Alter<'_>,
) -> Result<(f64, f64, f64), CannotConclude> {
    let corner = corner(site, link, box_c);
    let circuit = alter(corner::circuit(site, link, &corner));
    let warm = warm(link, &corner, &circuit)?;
    let least_a = settled(&with_coil(&circuit, warm.coil_ohm))?
        .window
        .coil_least_a;
    Ok((
        warm.coil_c,
        least_a * warm.coil_ohm,
        relay::threshold_v(link.relay.hold_v, warm.coil_c),
    ))
}
