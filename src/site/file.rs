//! The site file as it is written: plain tables that mirror the TOML, nothing checked yet.
//!
//! The JSON Schema is made from these types, and their comments are its descriptions. No flattened,
//! untagged or internally tagged types here: with those the TOML reader puts the mark on the wrong
//! line.

use schemars::JsonSchema;
use serde::Deserialize;
use toml::Spanned;

use crate::circuit::rectifier::Rectifier;
use crate::circuit::wire::{Gauge, Stranding};

use super::field::{
    Accepts, Clock, Date, Days, Field, Line, Name, OrNone, Spread, WireSize, words,
};
use super::moment::{Moment, NoTwilight};
use super::quantity::{
    ApparentPower, Capacitance, Current, Frequency, Inductance, Length, Power, Resistance, Share,
    Temperature, ThermalResistance, TimeSpan, Volts, VoltsAc, VoltsDc,
};
use super::resolve::Monthly;
use super::{
    Bias, IfSilent, LampKind, OnDoubtfulClock, OutletProtection, Placement, Region, ShelfKind,
    SupplyKind,
};

/// A whole yard: supplies, zones, the pilot wires between them, and where on earth it lies.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct SiteFile {
    /// Where the yard lies and which rules it is under.
    #[schemars(with = "Option<SiteTable>")]
    pub(crate) site: Option<Spanned<SiteTable>>,
    /// Temperatures of the relay boxes at the moment the lights come on.
    pub(crate) temperature: TemperatureTable,
    /// The sources of 12 V.
    #[schemars(with = "Vec<SupplyTable>")]
    pub(crate) supply: Vec<Spanned<SupplyTable>>,
    /// Groups of lamps that are lit together. A zone with `on` is timed; the slave of a link follows, and so does a zone with `follows_input`.
    #[schemars(with = "Vec<ZoneTable>")]
    pub(crate) zone: Vec<Spanned<ZoneTable>>,
    /// Further lit windows of a timed zone.
    #[schemars(with = "Vec<WindowTable>")]
    pub(crate) window: Vec<Spanned<WindowTable>>,
    /// Lamps of a zone, in order along its trunk.
    #[schemars(with = "Vec<LampTable>")]
    pub(crate) lamp: Vec<Spanned<LampTable>>,
    /// The cable that feeds a zone's lamps.
    #[schemars(with = "Vec<TrunkTable>")]
    pub(crate) trunk: Vec<Spanned<TrunkTable>>,
    /// A pilot wire: the master's output voltage switches the slave's supply.
    #[schemars(with = "Vec<LinkTable>")]
    pub(crate) link: Vec<Spanned<LinkTable>>,
    /// Relay types, as their data sheets give them.
    #[schemars(with = "Vec<RelayTable>")]
    pub(crate) relay: Vec<Spanned<RelayTable>>,
    /// Diode types beyond the built-in ones.
    #[schemars(with = "Vec<DiodeTable>")]
    pub(crate) diode: Vec<Spanned<DiodeTable>>,
    /// GPIO lines that this board drives.
    #[schemars(with = "Vec<OutputTable>")]
    pub(crate) output: Vec<Spanned<OutputTable>>,
    /// GPIO lines that tell whether a zone is really lit.
    #[schemars(with = "Vec<InputTable>")]
    pub(crate) input: Vec<Spanned<InputTable>>,
    /// Days out of the ordinary; they end by themselves.
    #[schemars(with = "Vec<DateTable>")]
    pub(crate) date: Vec<Spanned<DateTable>>,
    /// Parts at hand.
    #[schemars(with = "Vec<ShelfTable>")]
    pub(crate) shelf: Vec<Spanned<ShelfTable>>,
    /// Where the service keeps its state and listens.
    pub(crate) daemon: DaemonTable,
}

/// Where the yard lies and which rules it is under.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct SiteTable {
    /// What the yard is called.
    pub(crate) name: Option<Field<String>>,
    /// Degrees, north positive, at most 89 either way.
    pub(crate) latitude: Option<Field<f64>>,
    /// Degrees, east positive.
    pub(crate) longitude: Option<Field<f64>>,
    /// A name of the tz database, such as "America/Chicago"; never an offset.
    pub(crate) timezone: Option<Field<String>>,
    /// Which code's wording the cautions use. Default: "other".
    pub(crate) region: Option<Field<Region>>,
    /// Nominal mains voltage. Default: 120 V under "nec", else 230 V.
    pub(crate) mains: Option<Field<VoltsAc>>,
    /// Mains frequency. Default: 60 Hz under "nec", else 50 Hz.
    pub(crate) frequency: Option<Field<Frequency>>,
    /// How far the mains voltage strays either way. Default: 10 %.
    pub(crate) mains_tolerance: Option<Field<Share>>,
    /// Price of a kilowatt-hour, in `currency`.
    pub(crate) tariff_per_kwh: Option<Field<f64>>,
    /// What the tariff is counted in, such as "USD".
    pub(crate) currency: Option<Field<String>>,
}

/// Temperatures of the relay boxes at the moment the lights come on.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct TemperatureTable {
    /// Coldest evening. Default: that of `monthly`, else 25 K below `typical`.
    pub(crate) coldest: Option<Field<Temperature>>,
    /// Ordinary evening. Default: the mean of `monthly`, else 15 C.
    pub(crate) typical: Option<Field<Temperature>>,
    /// Hottest evening. Default: that of `monthly`, else 25 K above `typical`.
    pub(crate) hottest: Option<Field<Temperature>>,
    /// Buried wire. Default: as `typical`.
    pub(crate) wire: Option<Field<Temperature>>,
    /// Twelve lists, January to December, each of the month's coldest, typical and hottest evening, such as `["-8 C", "4 C", "15 C"]`: then `season` names the nights at risk. Default: every month as the year, and no night named.
    pub(crate) monthly: Option<Monthly>,
}

/// A source of 12 V.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct SupplyTable {
    /// What zones call it.
    pub(crate) name: Option<Field<Name>>,
    /// "transformer" (50/60 Hz, AC out), "dc" or "desktop-pc" (DC out, remote-on line).
    pub(crate) kind: Option<Field<SupplyKind>>,
    /// Transformer: output with nothing connected, at nominal mains.
    pub(crate) no_load_voltage: Option<Field<VoltsAc>>,
    /// Transformer: output at rated load. Default: 12 V.
    pub(crate) full_load_voltage: Option<Field<VoltsAc>>,
    /// Transformer: its nameplate.
    pub(crate) rated_load: Option<Field<ApparentPower>>,
    /// DC: as measured or rated. Default: 12 V.
    pub(crate) voltage: Option<Field<VoltsDc>>,
    /// DC: least output in service. Default: 5 % below 12 V, or `voltage` if lower.
    pub(crate) lowest_voltage: Option<Field<VoltsDc>>,
    /// DC: greatest output in service. Default: 5 % above 12 V, or `voltage` if higher.
    pub(crate) highest_voltage: Option<Field<VoltsDc>>,
    /// DC: what it can give.
    pub(crate) max_current: Option<Field<Current>>,
    /// Switched on to output up. Default: 500 ms for "desktop-pc", 300 ms for "dc", 0 for a transformer.
    pub(crate) start_time: Option<Field<TimeSpan>>,
    /// Output from rising to full. Default: 20 ms for "desktop-pc", else 0.
    pub(crate) rise_time: Option<Field<TimeSpan>>,
    /// Output stays up after switch-off. Default: 16 ms for "desktop-pc", else 0.
    pub(crate) hold_up_time: Option<Field<TimeSpan>>,
    /// Output power over input power when lit. Default: 0.70 for "desktop-pc", 0.80 for "dc", 0.90 for a transformer.
    pub(crate) efficiency: Option<Field<f64>>,
    /// What it draws while its zones are dark. Default: 3 W for "desktop-pc", 0.5 W for "dc", 0 for a transformer.
    pub(crate) standby_power: Option<Field<Power>>,
    /// "indoors" or "outdoors". Left out counts as not stated.
    pub(crate) placement: Option<Field<Placement>>,
    /// "rcd-30ma", "gfci" or "none". Left out counts as not stated.
    pub(crate) outlet_protection: Option<Field<OutletProtection>>,
    /// Current through the remote-on line or enable input when closed. Default: 1.6 mA.
    pub(crate) remote_on_current: Option<Field<Current>>,
}

/// A group of lamps that are lit together.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct ZoneTable {
    /// What links, lamps and trunks call it.
    pub(crate) name: Option<Field<Name>>,
    /// The supply that feeds its lamps.
    pub(crate) supply: Option<Field<Name>>,
    /// When it goes on: "`civil_dusk`", "sunset + 15 min", "sun -3.5 deg" or "21:30".
    pub(crate) on: Option<Field<Moment>>,
    /// When it goes off: "23:00", "sunrise", "`civil_dawn` - 10 min".
    pub(crate) off: Option<Field<Moment>>,
    /// How long it stays lit, instead of `off`.
    pub(crate) r#for: Option<Field<TimeSpan>>,
    /// Earliest switch-on.
    pub(crate) not_before: Option<Field<Clock>>,
    /// Latest switch-on.
    pub(crate) not_after: Option<Field<Clock>>,
    /// Evenings on which it is lit. An evening runs from noon to noon: Monday, 06:00, is still Sunday's. Default: all.
    pub(crate) days: Option<Field<Days>>,
    /// What stands in on nights without that twilight: "sunset", "skip" or a time. Default: "sunset".
    pub(crate) if_no_twilight: Option<Field<NoTwilight>>,
    /// Dark from then till the next evening. On a slave it needs an [[output]]: a relay cannot know the hour.
    pub(crate) curfew: Option<Field<Clock>>,
    /// The zone whose [[input]] this board follows when it switches this one, instead of `on` or a link.
    pub(crate) follows_input: Option<Field<Name>>,
    /// With `follows_input`: the input on for so long before the zone goes on. Default: 1 s.
    pub(crate) on_delay: Option<Field<TimeSpan>>,
    /// With `follows_input`: the input off for so long before the zone goes off. Default: 1 s.
    pub(crate) off_delay: Option<Field<TimeSpan>>,
    /// With `follows_input`, on a night on which the input stays off though the master should be lit: "dark", or "schedule" to keep the master's plan. Default: "dark".
    pub(crate) if_master_silent: Option<Field<IfSilent>>,
    /// With `follows_input`: off for so long while the master should be lit, the input counts as silent. Default: 10 min.
    pub(crate) silent_after: Option<Field<TimeSpan>>,
    /// Once on, its [[output]] stays on at least so long. Default: 1 s.
    pub(crate) minimum_lit: Option<Field<TimeSpan>>,
    /// Once off, its [[output]] stays off at least so long; never less than its supply needs to start again. Default: 1 s.
    pub(crate) minimum_dark: Option<Field<TimeSpan>>,
}

/// A further lit window of a timed zone.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct WindowTable {
    /// The zone.
    pub(crate) zone: Option<Field<Name>>,
    /// As in a zone.
    pub(crate) on: Option<Field<Moment>>,
    /// As in a zone.
    pub(crate) off: Option<Field<Moment>>,
    /// As in a zone.
    pub(crate) r#for: Option<Field<TimeSpan>>,
    /// As in a zone.
    pub(crate) not_before: Option<Field<Clock>>,
    /// As in a zone.
    pub(crate) not_after: Option<Field<Clock>>,
    /// As in a zone. Default: the zone's own.
    pub(crate) days: Option<Field<Days>>,
    /// As in a zone. Default: the zone's own.
    pub(crate) if_no_twilight: Option<Field<NoTwilight>>,
}

/// Lamps of one type in a zone.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct LampTable {
    /// The zone.
    pub(crate) zone: Option<Field<Name>>,
    /// Name of the trunk it hangs on; needed only where the zone has several.
    pub(crate) trunk: Option<Field<Name>>,
    /// How many. Default: 1.
    pub(crate) count: Option<Field<u32>>,
    /// "led" (constant power) or "filament". Default: "led".
    pub(crate) kind: Option<Field<LampKind>>,
    /// Power of one lamp.
    pub(crate) power: Option<Field<Power>>,
    /// Apparent power of one lamp on AC. Default: 1.5 × power for "led", power for "filament".
    pub(crate) apparent_power: Option<Field<ApparentPower>>,
    /// Voltage at which a filament draws its power. Default: 12 V.
    pub(crate) rated_voltage: Option<Field<Volts>>,
    /// Least voltage it lights properly at.
    pub(crate) lowest_voltage: Option<Field<Volts>>,
    /// Greatest voltage it survives.
    pub(crate) highest_voltage: Option<Field<Volts>>,
    /// Which currents it takes. Left out counts as not stated.
    pub(crate) accepts: Option<Field<Accepts>>,
}

/// The cable that feeds a zone's lamps.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct TrunkTable {
    /// The zone.
    pub(crate) zone: Option<Field<Name>>,
    /// What lamps call it; needed only where the zone has several.
    pub(crate) name: Option<Field<Name>>,
    /// Conductor size, "12 AWG" or "2.5 mm2".
    #[schemars(with = "Option<Field<WireSize>>")]
    pub(crate) wire: Option<Field<Gauge>>,
    /// Default: "solid" for AWG, "class5" for mm2.
    #[schemars(with = "Option<Field<StrandingWords>>")]
    pub(crate) stranding: Option<Field<Stranding>>,
    /// One-way route.
    pub(crate) length: Option<Field<Length>>,
    /// "even", "end" or a list of distances from the supply. Default: "even".
    pub(crate) lamps: Option<Field<Spread>>,
    /// Fuse at the supply end, or "none".
    pub(crate) fuse: Option<Field<OrNone<Current>>>,
    /// How deep it lies: the cover over it.
    pub(crate) depth: Option<Field<Length>>,
    /// What its conductors look like, in your words; the sheet asks to verify them with a meter.
    pub(crate) colours: Option<Field<String>>,
}

/// A pilot wire and what hangs at its far end.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct LinkTable {
    /// The zone whose output voltage it carries.
    pub(crate) master: Option<Field<Name>>,
    /// The zone whose supply it switches.
    pub(crate) slave: Option<Field<Name>>,
    /// Conductor size, "22 AWG" or "0.75 mm2".
    #[schemars(with = "Option<Field<WireSize>>")]
    pub(crate) wire: Option<Field<Gauge>>,
    /// Default: "solid" for AWG, "class5" for mm2.
    #[schemars(with = "Option<Field<StrandingWords>>")]
    pub(crate) stranding: Option<Field<Stranding>>,
    /// One-way route.
    pub(crate) length: Option<Field<Length>>,
    /// Splices on the way, both conductors counted. Default: 0.
    pub(crate) splices: Option<Field<u32>>,
    /// Measured with the far end shorted; then it counts instead of wire, length and splices.
    pub(crate) loop_resistance: Option<Field<Resistance>>,
    /// One splice. Default: 10 mohm.
    pub(crate) splice_resistance: Option<Field<Resistance>>,
    /// Resistor in the AC side, before the rectifier. Default: none.
    pub(crate) series_resistor: Option<Field<Resistance>>,
    /// "bridge", "single-diode" or "none". Default: "bridge".
    #[schemars(with = "Option<Field<RectifierWords>>")]
    pub(crate) rectifier: Option<Field<Rectifier>>,
    /// A known type, or one of [[diode]]. Default: "1N4007".
    pub(crate) diode: Option<Field<String>>,
    /// Smoothing capacitor, or "none". Default: 220 uF.
    pub(crate) capacitor: Option<Field<OrNone<Capacitance>>>,
    /// Its rated voltage. Default: 50 V.
    pub(crate) capacitor_rating: Option<Field<VoltsDc>>,
    /// Its tolerance either way. Default: 20 %.
    pub(crate) capacitor_tolerance: Option<Field<Share>>,
    /// Diode across the coil, cathode to plus. Default: true.
    pub(crate) flyback_diode: Option<Field<bool>>,
    /// One of [[relay]].
    pub(crate) relay: Option<Field<Name>>,
    /// What the pair still carries when the master is off, relay connected. Default: 0 V.
    pub(crate) off_state_voltage: Option<Field<Volts>>,
    /// Fuse at the tapping point, or "none". Left out counts as not stated.
    pub(crate) fuse: Option<Field<OrNone<Current>>>,
    /// How deep the pair lies: the cover over it.
    pub(crate) depth: Option<Field<Length>>,
    /// What its conductors look like, in your words; the sheet asks to verify them with a meter.
    pub(crate) colours: Option<Field<String>>,
}

/// A relay type, as its data sheet gives it.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct RelayTable {
    /// What links call it.
    pub(crate) name: Option<Field<Name>>,
    /// Rated coil voltage. Default: 12 V.
    pub(crate) rated_voltage: Option<Field<VoltsDc>>,
    /// Coil at 20 C.
    pub(crate) coil_resistance: Option<Field<Resistance>>,
    /// Its tolerance either way. Default: 10 %.
    pub(crate) coil_tolerance: Option<Field<Share>>,
    /// Surely pulls in at this voltage, coil at 20 C. Default: 75 % of rated.
    pub(crate) operate_voltage: Option<Field<VoltsDc>>,
    /// Surely lets go at this voltage, coil at 20 C. Default: 5 % of rated.
    pub(crate) release_voltage: Option<Field<VoltsDc>>,
    /// Lets go at this voltage as a rule, coil at 20 C. Default: 30 % of rated.
    pub(crate) typical_release_voltage: Option<Field<VoltsDc>>,
    /// Surely stays in above it, coil at 20 °C. Default: 50 % of rated, kept between typical release and
    /// operate voltage.
    pub(crate) holding_voltage: Option<Field<VoltsDc>>,
    /// Surely does not pull in below it, coil at 20 °C. Default: 40 % of rated, kept between release and
    /// operate voltage.
    pub(crate) non_operate_voltage: Option<Field<VoltsDc>>,
    /// Greatest continuous coil voltage. Default: 110 % of rated.
    pub(crate) max_coil_voltage: Option<Field<VoltsDc>>,
    /// Greatest coil temperature. Default: 105 C.
    pub(crate) max_coil_temperature: Option<Field<Temperature>>,
    /// Coil to box air. Default: 75 K/W.
    pub(crate) thermal_resistance: Option<Field<ThermalResistance>>,
    /// Voltage on coil to contact closed. Default: 10 ms.
    pub(crate) operate_time: Option<Field<TimeSpan>>,
    /// Voltage off coil to contact open. Default: 5 ms.
    pub(crate) release_time: Option<Field<TimeSpan>>,
    /// Coil inductance with the armature open, as a meter shows it. Default: 2.5 mH for each ohm.
    pub(crate) coil_inductance: Option<Field<Inductance>>,
    /// Least dependable contact current. Default: not stated.
    pub(crate) contact_minimum: Option<Field<Current>>,
}

/// A diode type of your own.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct DiodeTable {
    /// What links call it.
    pub(crate) name: Option<Field<Name>>,
    /// Saturation current at 27 C.
    pub(crate) saturation_current: Option<Field<Current>>,
    /// Emission coefficient, a bare number from 1 to 3.
    pub(crate) emission_coefficient: Option<Field<f64>>,
    /// Series resistance.
    pub(crate) series_resistance: Option<Field<Resistance>>,
    /// Repetitive peak reverse voltage. Default: 1000 V.
    pub(crate) reverse_voltage: Option<Field<VoltsDc>>,
}

/// A GPIO line that this board drives for a zone.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct OutputTable {
    /// The zone.
    pub(crate) zone: Option<Field<Name>>,
    /// Name or label of the GPIO chip.
    pub(crate) chip: Option<Field<String>>,
    /// Offset, or name of the line.
    pub(crate) line: Option<Field<Line>>,
    /// Lit when the line is low. Default: false.
    pub(crate) active_low: Option<Field<bool>>,
    /// The zone is dark while nothing drives the line, as at every start of the board: a resistor, or the driver itself, sees to it. Left out counts as not stated.
    pub(crate) dark_at_reset: Option<Field<bool>>,
}

/// A GPIO line that tells whether a zone is really lit.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct InputTable {
    /// The zone.
    pub(crate) zone: Option<Field<Name>>,
    /// Name or label of the GPIO chip.
    pub(crate) chip: Option<Field<String>>,
    /// Offset, or name of the line.
    pub(crate) line: Option<Field<Line>>,
    /// Lit when the line is low. Default: false.
    pub(crate) active_low: Option<Field<bool>>,
    /// "pull-up", "pull-down", "disabled" or "as-is". Default: "as-is".
    pub(crate) bias: Option<Field<Bias>>,
    /// How long a level must last to count. Default: 20 ms.
    pub(crate) debounce: Option<Field<TimeSpan>>,
}

/// Days out of the ordinary.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct DateTable {
    /// First evening.
    pub(crate) from: Option<Field<Date>>,
    /// Last evening. Default: as `from`.
    pub(crate) to: Option<Field<Date>>,
    /// The timed zone. Default: all of them.
    pub(crate) zone: Option<Field<Name>>,
    /// Goes on then, instead; also on a day that is not one of the zone's `days`.
    pub(crate) on: Option<Field<Moment>>,
    /// Goes off then, instead; on the zone's own `days` only, unless `on` is given too.
    pub(crate) off: Option<Field<Moment>>,
    /// Not lit at all.
    pub(crate) dark: Option<Field<bool>>,
}

/// A part at hand.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct ShelfTable {
    /// "wire", "relay", "capacitor", "diode", "resistor", "fuse" or "supply".
    pub(crate) kind: Option<Field<ShelfKind>>,
    /// What is written on it: a wire size, a capacitance, the name of a relay.
    pub(crate) item: Option<Field<String>>,
    /// How much wire.
    pub(crate) length: Option<Field<Length>>,
    /// How many. Default: 1.
    pub(crate) count: Option<Field<u32>>,
    /// Price of one, or of the length.
    pub(crate) price: Option<Field<f64>>,
}

/// Where the service keeps its state and listens.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub(crate) struct DaemonTable {
    /// Folder for what must survive a power cut.
    pub(crate) state_dir: Option<Field<String>>,
    /// Where the command line reaches the service.
    pub(crate) socket: Option<Field<String>>,
    /// Address and port of the status page. Left out: no page.
    pub(crate) listen: Option<Field<String>>,
    /// A file with the password of the page, 22 letters and digits at least. Needed if others than this machine can reach the page.
    pub(crate) page_token: Option<Field<String>>,
    /// A name by which browsers reach the page, such as "board.example". Its address serves without.
    pub(crate) page_host: Option<Field<String>>,
    /// What timed zones do while nobody knows whether the clock is right: "dark", "last" (as they were when the board last knew) or "schedule" (by the clock as it is). Default: "dark".
    pub(crate) on_doubtful_clock: Option<Field<OnDoubtfulClock>>,
    /// A file that exists once the clock has been set from the network. Default: /run/systemd/timesync/synchronized.
    pub(crate) clock_proof: Option<Field<String>>,
    /// Between two zones that go on. Default: 1 s.
    pub(crate) stagger: Option<Field<TimeSpan>>,
    /// How long `force` holds a zone when nothing is said. Default: 1 h.
    pub(crate) hold: Option<Field<TimeSpan>>,
}

words!(Region, "a region", ["nec" => Region::Nec, "iec" => Region::Iec, "other" => Region::Other]);
words!(SupplyKind, "a kind of supply", [
    "transformer" => SupplyKind::Transformer, "dc" => SupplyKind::Dc, "desktop-pc" => SupplyKind::DesktopPc,
]);
words!(Placement, "a placement", ["indoors" => Placement::Indoors, "outdoors" => Placement::Outdoors]);
words!(OutletProtection, "an outlet protection", [
    "rcd-30ma" => OutletProtection::Rcd30mA, "gfci" => OutletProtection::Gfci, "none" => OutletProtection::None,
]);
words!(LampKind, "a kind of lamp", ["led" => LampKind::Led, "filament" => LampKind::Filament]);
/// The words of [`Stranding`], in the schema.
struct StrandingWords;
words!(Stranding, schema StrandingWords, "a stranding", [
    "solid" => Stranding::Solid, "stranded" => Stranding::Stranded, "class5" => Stranding::Class5,
]);
/// The words of [`Rectifier`], in the schema.
struct RectifierWords;
words!(Rectifier, schema RectifierWords, "a rectifier", [
    "bridge" => Rectifier::Bridge, "single-diode" => Rectifier::SingleDiode, "none" => Rectifier::None,
]);
words!(Bias, "a bias", [
    "pull-up" => Bias::PullUp, "pull-down" => Bias::PullDown, "disabled" => Bias::Disabled, "as-is" => Bias::AsIs,
]);
words!(IfSilent, "an answer to a silent master", [
    "dark" => IfSilent::Dark, "schedule" => IfSilent::Schedule,
]);
words!(OnDoubtfulClock, "an answer to a doubtful clock", [
    "dark" => OnDoubtfulClock::Dark, "last" => OnDoubtfulClock::Last,
    "schedule" => OnDoubtfulClock::Schedule,
]);
words!(ShelfKind, "a kind of part", [
    "wire" => ShelfKind::Wire, "relay" => ShelfKind::Relay, "capacitor" => ShelfKind::Capacitor,
    "diode" => ShelfKind::Diode, "resistor" => ShelfKind::Resistor, "fuse" => ShelfKind::Fuse,
    "supply" => ShelfKind::Supply,
]);
