//! The yard, checked: references resolved, quantities typed, defaults filled in.
//!
//! ```text
//! bytes ─ read ─► SiteFile (mirror of the TOML) ─ resolve ─► Site, or every problem of the file
//! ```
//!
//! No strings are left to parse. Supplies, zones, links and relays keep the order of the file and are referred
//! to by position.

use std::fmt;

use chrono::{Month, NaiveDate, NaiveTime, Weekday};

use crate::almanac::Place;
use crate::circuit::diode::Diode;
use crate::circuit::rectifier::Rectifier;
use crate::circuit::wire::{Gauge, Stranding};
use crate::civil_time::SiteZone;

mod fault;
mod field;
mod file;
mod keys;
mod labels;
mod list;
mod moment;
mod problem;
mod quantity;
mod read;
mod resolve;
mod syntax;

pub(crate) use fault::listed;
pub use fault::{Fault, nearest};
pub use field::Line;
pub use labels::RunLabels;
pub use moment::{Moment, NoTwilight, SunMark, parse_clock, parse_moment, parse_no_twilight};
pub use problem::{Problem, Problems};
pub use quantity::{
    ApparentPower, Capacitance, Current, Frequency, Inductance, Length, Power, Quantity,
    Resistance, Share, Temperature, ThermalResistance, TimeSpan, Volts, VoltsAc, VoltsDc,
    parse_gauge,
};
pub use read::{LARGEST_FILE, MOST_ZONES, read, schema};
pub(crate) use resolve::{TIME_DELAY, usual_band};

#[derive(Debug, Clone)]
pub struct Site {
    /// What the yard is called.
    pub name: String,
    pub place: Place,
    /// The time-zone rules of its clock.
    pub timezone: SiteZone,
    /// The code whose wording the cautions use.
    pub region: Region,
    pub mains: Mains,
    /// What a kilowatt-hour costs, if stated.
    pub tariff: Option<Tariff>,
    /// Temperatures of the relay boxes and the buried wire.
    pub temperatures: Temperatures,
    /// Sources of 12 V.
    pub supplies: Vec<Supply>,
    pub zones: Vec<Zone>,
    /// Pilot wires, each after the one that feeds its master.
    pub links: Vec<Link>,
    /// All relay types of the file, used or not.
    pub relays: Vec<Relay>,
    /// Unusual dates, in the order of the file; a later one overrides an earlier one.
    pub exceptions: Vec<Exception>,
    pub outputs: Vec<Output>,
    pub inputs: Vec<Input>,
    pub shelf: Vec<ShelfPart>,
    /// Where the service keeps its state and listens.
    pub daemon: Daemon,
    /// Values that the file leaves out, with the default taken.
    pub assumed: Vec<Assumed>,
}

macro_rules! id {
    ($(#[$doc:meta])* $name:ident => $list:ident: $item:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub usize);

        impl std::ops::Index<$name> for Site {
            type Output = $item;
            fn index(&self, id: $name) -> &$item {
                &self.$list[id.0]
            }
        }
    };
}
id!(
    /// Position of a zone in [`Site::zones`].
    ZoneId => zones: Zone
);
id!(
    /// Position of a supply in [`Site::supplies`].
    SupplyId => supplies: Supply
);
id!(
    /// Position of a link in [`Site::links`].
    LinkId => links: Link
);

/// The code whose wording the cautions use.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Region {
    /// National Electrical Code.
    Nec,
    /// IEC 60364 and the national codes made from it.
    Iec,
    Other,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mains {
    /// Nominal voltage [V RMS].
    pub voltage_v: f64,
    /// Frequency [Hz].
    pub frequency_hz: f64,
    /// Deviation of the voltage, up or down, as a fraction.
    pub tolerance: f64,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Tariff {
    /// Price of one kilowatt-hour.
    pub per_kwh: f64,
    /// Currency of the price.
    pub currency: String,
}

/// Temperatures when the lights come on [°C].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Temperatures {
    /// Box on the coldest evening.
    pub coldest_c: f64,
    /// Box on an ordinary evening.
    pub typical_c: f64,
    /// Box on the hottest evening.
    pub hottest_c: f64,
    /// Buried wire, any evening.
    pub wire_c: f64,
    /// Box, month by month from January, if stated; every value lies within coldest to hottest.
    pub monthly: Option<[MonthTemperatures; 12]>,
}

impl Temperatures {
    /// The box on the evenings of a month; without monthly values, as on those of the year.
    pub fn of_month(&self, month: Month) -> MonthTemperatures {
        self.monthly.map_or(
            MonthTemperatures {
                coldest_c: self.coldest_c,
                typical_c: self.typical_c,
                hottest_c: self.hottest_c,
            },
            |months| months[month.number_from_month() as usize - 1],
        )
    }
}

/// Temperatures of the boxes when the lights come on, in one month [°C].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MonthTemperatures {
    pub coldest_c: f64,
    pub typical_c: f64,
    pub hottest_c: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SupplyKind {
    /// 50/60 Hz transformer, AC out.
    Transformer,
    /// Listed DC supply.
    Dc,
    /// Desktop-PC supply with remote-on line, DC out.
    DesktopPc,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Placement {
    /// In a dry building.
    Indoors,
    /// Outdoors, exposed to rain and sun.
    Outdoors,
}

/// What protects the mains outlet of a supply.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OutletProtection {
    /// Residual-current device, 30 mA.
    Rcd30mA,
    /// Ground-fault circuit interrupter.
    Gfci,
    None,
}

/// A source of 12 V.
#[derive(Debug, Clone, PartialEq)]
pub struct Supply {
    pub name: String,
    pub output: SupplyOutput,
    /// A desktop-PC supply, an indoor appliance with an earthed minus.
    pub kind: SupplyKind,
    /// From switched on to output up, and rising to full [s].
    pub start_s: f64,
    /// Time for which the output stays up after switch-off [s].
    pub hold_up_s: f64,
    /// Output power divided by input power when lit.
    pub efficiency: f64,
    /// Input power while its zones are dark [W].
    pub standby_w: f64,
    /// If stated.
    pub placement: Option<Placement>,
    /// Protection of its mains outlet, if stated.
    pub outlet_protection: Option<OutletProtection>,
    /// Current through its closed remote-on line [A].
    pub remote_on_a: f64,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SupplyOutput {
    /// AC at mains frequency.
    Ac {
        /// Without load, nominal mains [V RMS].
        no_load_v: f64,
        /// At rated load, nominal mains [V RMS].
        full_load_v: f64,
        /// Nameplate [VA].
        rated_va: f64,
    },
    Dc {
        /// As measured or rated [V].
        voltage_v: f64,
        /// Lowest voltage in service [V].
        lowest_v: f64,
        /// Highest voltage in service [V].
        highest_v: f64,
        /// Rated current [A], if stated.
        max_a: Option<f64>,
    },
}

/// Time for which the remote-on line of a desktop-PC supply must be released before it surely starts again [s]
/// (ATX12V design guides: more than 100 ms).
const RESTART_S: f64 = 0.1;

impl Supply {
    /// Time for which its remote-on line must be released before it surely starts again [s].
    pub fn restart_s(&self) -> f64 {
        match self.kind {
            SupplyKind::DesktopPc => RESTART_S,
            SupplyKind::Transformer | SupplyKind::Dc => 0.0,
        }
    }

    /// Whether it gives AC.
    pub fn is_ac(&self) -> bool {
        matches!(self.output, SupplyOutput::Ac { .. })
    }

    /// A short-circuit current, cut to the supply's current limit [A]: no fuse sees more than that.
    pub fn limited_a(&self, short_a: f64) -> f64 {
        match self.output {
            SupplyOutput::Dc {
                max_a: Some(max_a), ..
            } => short_a.min(max_a),
            SupplyOutput::Dc { max_a: None, .. } | SupplyOutput::Ac { .. } => short_a,
        }
    }
}

/// A group of lamps that are lit together.
#[derive(Debug, Clone, PartialEq)]
pub struct Zone {
    pub name: String,
    /// The supply that feeds it.
    pub supply: SupplyId,
    pub switching: Switching,
    /// Dark from then until the next evening.
    pub curfew: Option<NaiveTime>,
    /// Minimum on-time of its output line [s].
    pub minimum_lit_s: f64,
    /// Minimum off-time of its output line [s].
    pub minimum_dark_s: f64,
    /// Cables with their lamps; lamps without a cable are on a trunk of zero length.
    pub trunks: Vec<Trunk>,
}

impl Zone {
    /// All lamp groups of the zone.
    pub fn lamps(&self) -> impl Iterator<Item = &LampGroup> {
        self.trunks.iter().flat_map(|trunk| &trunk.lamps)
    }

    /// Power of all lamps [W].
    pub fn lamp_w(&self) -> f64 {
        // Not `sum`: the sum of no lamps is −0.
        self.lamps().fold(0.0, |sum_w, group| {
            sum_w + f64::from(group.count) * group.power_w
        })
    }

    /// Apparent power of all lamps on AC [VA].
    pub fn lamp_va(&self) -> f64 {
        self.lamps().fold(0.0, |sum_va, group| {
            sum_va + f64::from(group.count) * group.apparent_va
        })
    }
}

#[derive(Debug, Clone, PartialEq)]
pub enum Switching {
    /// By clock and sun, with at least one window.
    Timed(Vec<Window>),
    /// By its master, over this link.
    Follows(LinkId),
    /// By this board, following an input that senses its master.
    Senses(Sensing),
}

/// How a board follows an input that senses the master.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sensing {
    /// The zone whose input it follows.
    pub master: ZoneId,
    /// From input on to line on [s].
    pub on_delay_s: f64,
    /// From input off to line off [s].
    pub off_delay_s: f64,
    /// What it does on a night when the input stays off.
    pub if_silent: IfSilent,
    /// The input counts as silent after being off for this long while its master's plan is lit [s].
    pub silent_after_s: f64,
}

/// What a zone does while its master is silent though the master's plan is lit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum IfSilent {
    /// It stays dark.
    Dark,
    /// It follows its master's plan.
    Schedule,
}

/// One lit stretch of an evening.
#[derive(Debug, Clone, PartialEq)]
pub struct Window {
    pub on: Moment,
    pub off: Off,
    pub not_before: Option<NaiveTime>,
    pub not_after: Option<NaiveTime>,
    /// Evenings on which it applies.
    pub days: Days,
    /// The substitute on nights without that twilight.
    pub if_no_twilight: NoTwilight,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Off {
    At(Moment),
    /// This many seconds after it began.
    For(i32),
}

/// A set of days of the week.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Days(u8);

impl Days {
    pub const ALL: Self = Self(0b111_1111);

    pub fn contain(self, day: Weekday) -> bool {
        self.0 & (1 << day.num_days_from_monday()) != 0
    }
}

impl FromIterator<Weekday> for Days {
    fn from_iter<I: IntoIterator<Item = Weekday>>(days: I) -> Self {
        Self(
            days.into_iter()
                .fold(0, |set, day| set | 1 << day.num_days_from_monday()),
        )
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LampKind {
    /// Draws the same power at any voltage within its range.
    Led,
    /// Draws less current at lower voltage.
    Filament,
}

/// Lamps of one type.
#[derive(Debug, Clone, PartialEq)]
pub struct LampGroup {
    pub count: u32,
    pub kind: LampKind,
    /// Power of one lamp [W].
    pub power_w: f64,
    /// Apparent power of one lamp on AC [VA].
    pub apparent_va: f64,
    /// Voltage at which a filament draws its rated power [V].
    pub rated_v: f64,
    /// Lowest voltage at which it lights properly [V], if stated.
    pub lowest_v: Option<f64>,
    /// Highest voltage that it survives [V], if stated.
    pub highest_v: Option<f64>,
    /// Takes AC, if stated.
    pub accepts_ac: Option<bool>,
    /// Takes DC, if stated.
    pub accepts_dc: Option<bool>,
}

/// A cable with its lamps.
#[derive(Debug, Clone, PartialEq)]
pub struct Trunk {
    /// The cable; `None` where the file gives lamps but no cable.
    pub cable: Option<Cable>,
    /// Distance of every lamp from the supply, one-way [m], in the order of `lamps`.
    pub distances_m: Vec<f64>,
    /// Its lamps in order.
    pub lamps: Vec<LampGroup>,
    /// Fuse at the supply end.
    pub fuse: Fuse,
    pub laid: Laid,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cable {
    pub gauge: Gauge,
    /// How the conductor is made up.
    pub stranding: Stranding,
    /// One-way route [m].
    pub length_m: f64,
}

/// What the file states about a fuse.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fuse {
    NotStated,
    /// The file says `none`.
    None,
    /// Its rating [A].
    Rated(f64),
}

/// A pilot wire and the parts at its far end.
#[derive(Debug, Clone, PartialEq)]
pub struct Link {
    /// The zone whose output voltage it carries.
    pub master: ZoneId,
    /// The zone whose supply it switches.
    pub slave: ZoneId,
    /// The pair, unless only its resistance was measured.
    pub cable: Option<Cable>,
    /// Number of splices, both conductors counted.
    pub splices: u32,
    /// Resistance of one splice [Ω].
    pub splice_ohm: f64,
    /// Measured loop resistance [Ω], used instead of cable and splices.
    pub measured_loop_ohm: Option<f64>,
    /// Series resistor on the AC side [Ω].
    pub series_ohm: f64,
    pub rectifier: Rectifier,
    pub diode: Diode,
    /// Name of the diode type in the file.
    pub diode_name: String,
    pub capacitor: Option<Capacitor>,
    /// Diode across the coil.
    pub flyback_diode: bool,
    pub relay: Relay,
    /// Voltage on the pair when the master is off [V, AC or DC as the master].
    pub off_state_v: f64,
    /// Fuse at the tapping point.
    pub fuse: Fuse,
    /// How the pair is laid.
    pub laid: Laid,
}

/// How a run is laid, as far as the file says.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Laid {
    /// Cover over it [m].
    pub depth_m: Option<f64>,
    /// The conductors' colours or markings, in the owner's words.
    pub colours: Option<String>,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Capacitor {
    /// Nominal capacitance [F].
    pub farad: f64,
    /// Tolerance, up or down, as a fraction.
    pub tolerance: f64,
    /// Rated voltage [V DC].
    pub rating_v: f64,
}

/// A relay, as its data sheet gives it; voltages and resistance with the coil at 20 °C.
#[derive(Debug, Clone, PartialEq)]
pub struct Relay {
    pub name: String,
    /// Rated coil voltage [V].
    pub rated_v: f64,
    /// Coil resistance [Ω].
    pub coil_ohm: f64,
    /// Tolerance of the coil resistance, up or down, as a fraction.
    pub coil_tolerance: f64,
    /// Surely pulls in at this voltage [V].
    pub operate_v: f64,
    /// Surely lets go at this voltage [V].
    pub release_v: f64,
    /// Usually lets go at this voltage [V].
    pub typical_release_v: f64,
    /// Surely stays in above this voltage [V].
    pub hold_v: f64,
    /// Surely does not pull in below this voltage [V].
    pub non_operate_v: f64,
    /// Highest continuous coil voltage [V].
    pub max_coil_v: f64,
    /// Highest coil temperature [°C].
    pub max_coil_c: f64,
    /// Thermal resistance from coil to box air [K/W].
    pub thermal_k_per_w: f64,
    /// From voltage on coil to contact closed [s].
    pub operate_s: f64,
    /// From voltage off coil to contact open [s].
    pub release_s: f64,
    /// Coil inductance [H], if stated.
    pub inductance_h: Option<f64>,
    /// Lowest current that the contact switches dependably [A], if stated.
    pub contact_minimum_a: Option<f64>,
}

/// Dates on which a zone has other times.
#[derive(Debug, Clone, PartialEq)]
pub struct Exception {
    pub from: NaiveDate,
    pub to: NaiveDate,
    /// The timed zone; `None` for all.
    pub zone: Option<ZoneId>,
    pub change: Change,
}

/// What an exception changes in a zone's own window.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Change {
    /// Not lit at all.
    Dark,
    /// Other switching times; at least one is given.
    Moments {
        on: Option<Moment>,
        off: Option<Moment>,
    },
}

/// Pull resistor of an input line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bias {
    /// Pulled up to the supply.
    PullUp,
    /// Pulled down to ground.
    PullDown,
    Disabled,
    /// As the board has it.
    AsIs,
}

/// A GPIO line that this board drives.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Output {
    pub zone: ZoneId,
    /// Name or label of the chip.
    pub chip: String,
    pub line: Line,
    /// Lit when low.
    pub active_low: bool,
    /// Dark while nothing drives the line, if stated.
    pub dark_at_reset: Option<bool>,
}

/// A GPIO line that tells whether a zone is really lit.
#[derive(Debug, Clone, PartialEq)]
pub struct Input {
    pub zone: ZoneId,
    /// Name or label of the chip.
    pub chip: String,
    pub line: Line,
    /// Lit when low.
    pub active_low: bool,
    pub bias: Bias,
    /// How long a level must last to count [s].
    pub debounce_s: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ShelfKind {
    Wire,
    Relay,
    Capacitor,
    Diode,
    Resistor,
    Fuse,
    Supply,
}

/// A part at hand.
#[derive(Debug, Clone, PartialEq)]
pub struct ShelfPart {
    pub kind: ShelfKind,
    /// Its marking.
    pub item: String,
    /// Length of wire [m].
    pub length_m: Option<f64>,
    pub count: u32,
    pub price: Option<f64>,
}

/// Where the service keeps its state and listens.
#[derive(Debug, Clone, PartialEq)]
pub struct Daemon {
    /// Folder for everything that must survive a power cut.
    pub state_dir: String,
    /// Where the command line reaches the service.
    pub socket: String,
    /// Address and port of the status page.
    pub listen: Option<std::net::SocketAddr>,
    /// The file with its password.
    pub page_token: Option<String>,
    /// A host name by which browsers reach the page.
    pub page_host: Option<String>,
    /// What timed zones do while the clock is in doubt.
    pub on_doubtful_clock: OnDoubtfulClock,
    /// A file that exists once the clock has been set from the network.
    pub clock_proof: String,
    /// Delay between two zones going on [s].
    pub stagger_s: f64,
    /// How long `force` holds a zone if no time is given [s].
    pub hold_s: f64,
}

/// What timed zones do while it is not known whether the clock is right.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OnDoubtfulClock {
    /// They stay dark.
    Dark,
    /// They stay as they were when the clock was last known to be right.
    Last,
    /// They follow the plan by the clock as it is.
    Schedule,
}

/// A value that the file leaves out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Assumed {
    /// The table, such as `link front > fence`.
    pub place: String,
    pub key: &'static str,
    pub value: String,
}

impl fmt::Display for Assumed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {} = {}", self.place, self.key, self.value)
    }
}

impl Site {
    /// `master > slave`, the name of a link in messages.
    pub fn link_name(&self, link: &Link) -> String {
        format!("{} > {}", self[link.master].name, self[link.slave].name)
    }

    /// How a zone is switched: `timed`, `follows walk`, `follows the input of walk`.
    pub fn how_switched(&self, zone: ZoneId) -> String {
        match self[zone].switching {
            Switching::Timed(_) => "timed".into(),
            Switching::Follows(link) => format!("follows {}", self[self[link].master].name),
            Switching::Senses(sensing) => {
                format!("follows the input of {}", self[sensing.master].name)
            }
        }
    }

    /// The link that switches `zone`, unless the zone is timed.
    pub fn link_to(&self, zone: ZoneId) -> Option<&Link> {
        match self[zone].switching {
            Switching::Follows(link) => Some(&self[link]),
            Switching::Timed(_) | Switching::Senses(_) => None,
        }
    }

    /// The supply of a link's master, which feeds the pair.
    pub fn feeding(&self, link: &Link) -> &Supply {
        &self[self[link.master].supply]
    }

    /// The supply of a link's slave, which the relay switches.
    pub fn switched(&self, link: &Link) -> &Supply {
        &self[self[link.slave].supply]
    }

    /// The zone that `zone` follows, over a link or by an input.
    pub fn master_of(&self, zone: ZoneId) -> Option<ZoneId> {
        match self[zone].switching {
            Switching::Follows(link) => Some(self[link].master),
            Switching::Senses(sensing) => Some(sensing.master),
            Switching::Timed(_) => None,
        }
    }

    /// The line that this board drives for `zone`.
    pub fn output_of(&self, zone: ZoneId) -> Option<&Output> {
        self.outputs.iter().find(|output| output.zone == zone)
    }

    /// The line that tells this board whether `zone` is lit.
    pub fn input_of(&self, zone: ZoneId) -> Option<&Input> {
        self.inputs.iter().find(|input| input.zone == zone)
    }

    /// Whether the site file leaves this key of a part out, such as `relay r400`, so that the usual value was taken.
    pub fn leaves_out(&self, part: &str, key: &str) -> bool {
        let mut assumed = self.assumed.iter();
        assumed.any(|value| value.key == key && value.place == part)
    }

    /// Whether the file does not say that a DC supply has an enable input: without `remote_on_current` it may have
    /// nothing to switch it by but its mains. A desktop PC's has its remote-on line.
    pub fn enable_not_stated(&self, supply: &Supply) -> bool {
        let part = format!("supply {}", supply.name);
        supply.kind == SupplyKind::Dc && self.leaves_out(&part, "remote_on_current")
    }

    /// Whether something beside a timer in its mains plug tells the supply of a zone to go on and off: the contact of
    /// a relay, or a line of the board. A transformer has no input for a line, which then switches lamps alone.
    pub fn wakes_supply(&self, zone: ZoneId) -> bool {
        let line = self.output_of(zone).is_some() && !self[self[zone].supply].is_ac();
        self.link_to(zone).is_some() || line
    }

    /// Whether the supply of a zone has one remote-on line, with which all of it sleeps. Of a supply that is no desktop
    /// PC's the file does not say whether contacts and lines switch it, or lamps alone.
    pub fn remote_on_for_all(&self, zone: ZoneId) -> bool {
        self[self[zone].supply].kind == SupplyKind::DesktopPc
    }

    /// Zones that wake the supply of a zone at times of their own. Not among them are those that go with it, over
    /// links of one master, nor those up or down its chain (S18).
    pub fn wakers_beside(&self, zone: ZoneId) -> impl Iterator<Item = ZoneId> {
        let above = |from: ZoneId| std::iter::successors(Some(from), |at| self.master_of(*at));
        let below = move |zone: ZoneId, other: ZoneId| above(zone).any(|at| at == other);
        let apart = move |other: ZoneId| {
            let masters = (self.link_to(zone), self.link_to(other));
            let together = matches!(masters, (Some(one), Some(two)) if one.master == two.master);
            !together && !below(zone, other) && !below(other, zone)
        };
        let others = (0..self.zones.len()).map(ZoneId);
        others
            .filter(move |other| *other != zone && self[*other].supply == self[zone].supply)
            .filter(|other| self.wakes_supply(*other))
            .filter(move |other| apart(*other))
    }

    /// Zones, each after its master.
    pub fn zones_in_order(&self) -> Vec<ZoneId> {
        let mut followers = vec![Vec::new(); self.zones.len()];
        for link in &self.links {
            followers[link.master.0].push(link.slave);
        }
        let mut order = Vec::with_capacity(self.zones.len());
        for (index, zone) in self.zones.iter().enumerate() {
            match zone.switching {
                Switching::Timed(_) => order.push(ZoneId(index)),
                Switching::Follows(_) => {}
                Switching::Senses(sensing) => followers[sensing.master.0].push(ZoneId(index)),
            }
        }
        let mut next = 0;
        while let Some(&master) = order.get(next) {
            order.append(&mut followers[master.0]);
            next += 1;
        }
        order
    }
}
