//! One thing about a link set to a value.

use crate::circuit::rectifier::Rectifier;
use crate::circuit::wire::Gauge;
use crate::site::{Capacitor, LinkId, Relay, Site, SupplyOutput, usual_band};

/// Rating [V] and tolerance taken for a capacitor where the link had none: the defaults of the site file.
const USUAL_CAPACITOR: (f64, f64) = (50.0, 0.20);

#[derive(Debug, Clone, PartialEq)]
pub enum Setting {
    /// One-way route length [m].
    Length(f64),
    /// Measured loop resistance, instead of cable and splices [Ω].
    Loop(f64),
    Wire(Gauge),
    Relay(Box<Relay>),
    /// Capacitance [F], or none.
    Capacitor(Option<f64>),
    /// Box temperature on every evening [°C].
    Temperature(f64),
    /// Mains permanently off nominal by this fraction.
    Mains(f64),
    /// Voltage of the master's DC supply [V]; its range in service moves along.
    Voltage(f64),
    /// Series resistor before the rectifier [Ω].
    Series(f64),
    /// Splices of the pair.
    Splices(u32),
    Rectifier(Rectifier),
}

impl Setting {
    /// Changes the link, or its feed.
    pub fn apply(&self, site: &mut Site, id: LinkId) {
        let supply = site[site[id].master].supply;
        let name = site.link_name(&site[id]);
        let assumed = |place: String, key: &str| {
            site.assumed
                .iter()
                .any(|value| value.key == key && value.place == place)
        };
        let any_stranding = assumed(format!("link {name}"), "stranding");
        let any_band = ["lowest_voltage", "highest_voltage"]
            .map(|key| assumed(format!("supply {}", site[supply].name), key));
        let link = &mut site.links[id.0];
        match self {
            Self::Length(length_m) => {
                if let Some(cable) = &mut link.cable {
                    cable.length_m = *length_m;
                }
            }
            Self::Loop(ohm) => link.measured_loop_ohm = Some(*ohm),
            Self::Wire(gauge) => {
                if let Some(cable) = &mut link.cable {
                    cable.gauge = *gauge;
                    if any_stranding {
                        cable.stranding = gauge.usual_stranding();
                    }
                }
            }
            Self::Relay(relay) => link.relay = (**relay).clone(),
            Self::Capacitor(farad) => {
                link.capacitor = farad.map(|farad| {
                    let (rating_v, tolerance) = link
                        .capacitor
                        .map_or(USUAL_CAPACITOR, |part| (part.rating_v, part.tolerance));
                    Capacitor {
                        farad,
                        tolerance,
                        rating_v,
                    }
                });
            }
            Self::Temperature(celsius) => {
                let box_c = &mut site.temperatures;
                box_c.coldest_c = *celsius;
                box_c.typical_c = *celsius;
                box_c.hottest_c = *celsius;
                box_c.monthly = None;
            }
            Self::Mains(off) => {
                site.mains.tolerance = 0.0;
                if let SupplyOutput::Ac {
                    no_load_v,
                    full_load_v,
                    ..
                } = &mut site.supplies[supply.0].output
                {
                    *no_load_v *= 1.0 + off;
                    *full_load_v *= 1.0 + off;
                }
            }
            Self::Voltage(volts) => {
                if let SupplyOutput::Dc {
                    voltage_v,
                    lowest_v,
                    highest_v,
                    ..
                } = &mut site.supplies[supply.0].output
                {
                    let by = volts / *voltage_v;
                    let usual = usual_band(*volts);
                    *lowest_v = if any_band[0] { usual.0 } else { *lowest_v * by };
                    *highest_v = if any_band[1] {
                        usual.1
                    } else {
                        *highest_v * by
                    };
                    *voltage_v = *volts;
                }
            }
            Self::Series(ohm) => link.series_ohm = *ohm,
            Self::Splices(count) => link.splices = *count,
            Self::Rectifier(rectifier) => link.rectifier = *rectifier,
        }
    }
}
