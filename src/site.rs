//! The yard, checked: references resolved, quantities typed, defaults filled in.
//!
//! ```text
//! bytes ─ read ─► SiteFile (mirror of the TOML) ─ resolve ─► Site, or every problem of the file
//! ```
//!
//! Nothing here is a string left to parse. Supplies, zones, links and relays are held in the order
//! of the file and referred to by position.

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
    /// The rules of its clock.
    pub timezone: SiteZone,
    /// Whose wording the cautions use.
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
    /// Days out of the ordinary, in the order of the file; a later one overrides an earlier one.
    pub exceptions: Vec<Exception>,
    pub outputs: Vec<Output>,
    pub inputs: Vec<Input>,
    pub shelf: Vec<ShelfPart>,
    /// Where the service keeps its state and listens.
    pub daemon: Daemon,
    /// Values that the file leaves out, with what was taken instead.
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

/// Whose code words the cautions.
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
    /// How far the voltage strays either way, as a fraction.
    pub tolerance: f64,
}

/// What a kilowatt-hour costs.
#[derive(Debug, Clone, PartialEq)]
pub struct Tariff {
    /// Price of one kilowatt-hour.
    pub per_kwh: f64,
    /// What it is counted in.
    pub currency: String,
}

/// Temperatures at the moment the lights come on [°C].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Temperatures {
    /// Box, coldest evening.
    pub coldest_c: f64,
    /// Box, ordinary evening.
    pub typical_c: f64,
    /// Box, hottest evening.
    pub hottest_c: f64,
    /// Buried wire, any evening.
    pub wire_c: f64,
    /// Box, month by month from January, if stated; none lies outside the coldest and hottest.
    pub monthly: Option<[MonthTemperatures; 12]>,
}

impl Temperatures {
    /// The box on the evenings of a month: where no months are stated, as on those of the year.
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

/// Temperatures of the boxes at the moment the lights come on, in one month [°C].
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

/// Where a supply stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Placement {
    /// In a dry building.
    Indoors,
    /// In the weather.
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
    /// What zones call it.
    pub name: String,
    pub output: SupplyOutput,
    /// A desktop-PC supply, an indoor appliance with an earthed minus.
    pub kind: SupplyKind,
    /// Switched on to output up, and rising to full [s].
    pub start_s: f64,
    /// Output stays up after switch-off [s].
    pub hold_up_s: f64,
    /// Output power over input power when lit.
    pub efficiency: f64,
    /// Input power while its zones are dark [W].
    pub standby_w: f64,
    /// Where it stands, if stated.
    pub placement: Option<Placement>,
    /// What protects its outlet, if stated.
    pub outlet_protection: Option<OutletProtection>,
    /// Current through its remote-on line when closed [A].
    pub remote_on_a: f64,
}

/// What a supply gives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SupplyOutput {
    /// AC at mains frequency.
    Ac {
        /// Nothing connected, nominal mains [V RMS].
        no_load_v: f64,
        /// Rated load, nominal mains [V RMS].
        full_load_v: f64,
        /// Nameplate [VA].
        rated_va: f64,
    },
    Dc {
        /// As measured or rated [V].
        voltage_v: f64,
        /// Least in service [V].
        lowest_v: f64,
        /// Greatest in service [V].
        highest_v: f64,
        /// What it can give [A], if stated.
        max_a: Option<f64>,
    },
}

/// How long a desktop-PC supply must be let go so that it surely starts again [s] (ATX12V design guides: more
/// than 100 ms).
const RESTART_S: f64 = 0.1;

impl Supply {
    /// How long it must be let go so that it surely starts again [s].
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

    /// What it gives of a current into a short [A]: what limits its current lets no fuse see more.
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
    /// What links call it.
    pub name: String,
    /// The supply that feeds it.
    pub supply: SupplyId,
    /// How it is switched.
    pub switching: Switching,
    /// Dark from then till the next evening.
    pub curfew: Option<NaiveTime>,
    /// A line that lights it stays on at least so long [s].
    pub minimum_lit_s: f64,
    /// A line that lights it stays off at least so long [s].
    pub minimum_dark_s: f64,
    /// Cables with their lamps; lamps without a cable hang on a trunk of no length.
    pub trunks: Vec<Trunk>,
}

impl Zone {
    /// All lamp groups of the zone.
    pub fn lamps(&self) -> impl Iterator<Item = &LampGroup> {
        self.trunks.iter().flat_map(|trunk| &trunk.lamps)
    }

    /// Power of all lamps [W].
    pub fn lamp_w(&self) -> f64 {
        // Not `sum`: that of no lamps at all is −0.
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

/// How a zone is switched.
#[derive(Debug, Clone, PartialEq)]
pub enum Switching {
    /// By the clock and the sun; at least one window.
    Timed(Vec<Window>),
    /// By its master, over this link.
    Follows(LinkId),
    /// By this board, as an input says of its master.
    Senses(Sensing),
}

/// How a board follows an input that senses the master.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sensing {
    /// The zone whose input it follows.
    pub master: ZoneId,
    /// From the input on to the line on [s].
    pub on_delay_s: f64,
    /// From the input off to the line off [s].
    pub off_delay_s: f64,
    /// What happens on a night on which the input stays off.
    pub if_silent: IfSilent,
    /// The input counts as silent when it has been off for so long while its master's plan is lit [s].
    pub silent_after_s: f64,
}

/// What a zone does whose master is silent though its plan says lit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum IfSilent {
    /// It stays dark.
    Dark,
    /// It keeps its master's plan.
    Schedule,
}

/// One lit stretch of an evening.
#[derive(Debug, Clone, PartialEq)]
pub struct Window {
    /// When it begins.
    pub on: Moment,
    /// When it ends.
    pub off: Off,
    pub not_before: Option<NaiveTime>,
    pub not_after: Option<NaiveTime>,
    /// Evenings on which it happens.
    pub days: Days,
    /// What stands in on nights without that twilight.
    pub if_no_twilight: NoTwilight,
}

/// How a window ends.
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

    /// Whether `day` is one of them.
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
    /// Draws the same power at any voltage in its window.
    Led,
    /// Draws less current at less voltage.
    Filament,
}

/// Lamps of one type.
#[derive(Debug, Clone, PartialEq)]
pub struct LampGroup {
    pub count: u32,
    pub kind: LampKind,
    /// Power of one [W].
    pub power_w: f64,
    /// Apparent power of one on AC [VA].
    pub apparent_va: f64,
    /// Voltage at which a filament draws its power [V].
    pub rated_v: f64,
    /// Least voltage it lights properly at [V], if stated.
    pub lowest_v: Option<f64>,
    /// Greatest voltage it survives [V], if stated.
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
    /// How it is laid.
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

/// What the file says of a fuse.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fuse {
    NotStated,
    /// That there is none.
    None,
    /// Its rating [A].
    Rated(f64),
}

/// A pilot wire and what hangs at its far end.
#[derive(Debug, Clone, PartialEq)]
pub struct Link {
    /// Whose output voltage it carries.
    pub master: ZoneId,
    /// Whose supply it switches.
    pub slave: ZoneId,
    /// The pair, unless only its resistance was measured.
    pub cable: Option<Cable>,
    /// Splices on the way.
    pub splices: u32,
    /// One splice [Ω].
    pub splice_ohm: f64,
    /// Measured loop [Ω], which counts instead of cable and splices.
    pub measured_loop_ohm: Option<f64>,
    /// Resistor in the AC side [Ω].
    pub series_ohm: f64,
    /// What turns the pair's voltage into DC.
    pub rectifier: Rectifier,
    pub diode: Diode,
    /// What the file calls them.
    pub diode_name: String,
    pub capacitor: Option<Capacitor>,
    /// Diode across the coil.
    pub flyback_diode: bool,
    pub relay: Relay,
    /// What the pair carries when the master is off [V, AC or DC as the master].
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
    /// What its conductors look like, in the words of whoever laid it.
    pub colours: Option<String>,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Capacitor {
    /// Nominal capacitance [F].
    pub farad: f64,
    /// Tolerance either way, as a fraction.
    pub tolerance: f64,
    /// Rated voltage [V DC].
    pub rating_v: f64,
}

/// A relay, as its data sheet gives it; voltages and resistance at a coil of 20 °C.
#[derive(Debug, Clone, PartialEq)]
pub struct Relay {
    /// What links call it.
    pub name: String,
    /// Rated coil voltage [V].
    pub rated_v: f64,
    /// Coil resistance [Ω].
    pub coil_ohm: f64,
    /// Its tolerance either way, as a fraction.
    pub coil_tolerance: f64,
    /// Surely pulls in at [V].
    pub operate_v: f64,
    /// Surely lets go at [V].
    pub release_v: f64,
    /// Lets go as a rule at [V].
    pub typical_release_v: f64,
    /// Surely stays in above [V].
    pub hold_v: f64,
    /// Surely does not pull in below [V].
    pub non_operate_v: f64,
    /// Greatest continuous coil voltage [V].
    pub max_coil_v: f64,
    /// Greatest coil temperature [°C].
    pub max_coil_c: f64,
    /// Coil to box air [K/W].
    pub thermal_k_per_w: f64,
    /// Voltage on coil to contact closed [s].
    pub operate_s: f64,
    /// Voltage off coil to contact open [s].
    pub release_s: f64,
    /// Coil inductance [H], if stated.
    pub inductance_h: Option<f64>,
    /// Least dependable contact current [A], if stated.
    pub contact_minimum_a: Option<f64>,
}

/// Days out of the ordinary.
#[derive(Debug, Clone, PartialEq)]
pub struct Exception {
    pub from: NaiveDate,
    pub to: NaiveDate,
    /// The timed zone; `None` for all of them.
    pub zone: Option<ZoneId>,
    pub change: Change,
}

/// What an exception changes in a zone's own window.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Change {
    /// Not lit at all.
    Dark,
    /// Other moments; at least one is given.
    Moments {
        on: Option<Moment>,
        off: Option<Moment>,
    },
}

/// Pull of an input line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bias {
    /// To the supply.
    PullUp,
    /// To ground.
    PullDown,
    Disabled,
    /// Whatever the board has.
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

/// Which family a part at hand is of.
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
    /// What is written on it.
    pub item: String,
    /// How much wire [m].
    pub length_m: Option<f64>,
    pub count: u32,
    pub price: Option<f64>,
}

/// Where the service keeps its state and listens.
#[derive(Debug, Clone, PartialEq)]
pub struct Daemon {
    /// Folder for what must survive a power cut.
    pub state_dir: String,
    /// Where the command line reaches the service.
    pub socket: String,
    /// Address and port of the status page.
    pub listen: Option<std::net::SocketAddr>,
    /// The file with the word that opens it.
    pub page_token: Option<String>,
    /// A name by which browsers reach it.
    pub page_host: Option<String>,
    /// What timed zones do while the clock is in doubt.
    pub on_doubtful_clock: OnDoubtfulClock,
    /// A file that exists once the clock has been set from the network.
    pub clock_proof: String,
    /// Between two zones that go on [s].
    pub stagger_s: f64,
    /// How long a zone is held where nothing else is said [s].
    pub hold_s: f64,
}

/// What timed zones do while nobody knows whether the clock is right.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OnDoubtfulClock {
    /// They stay dark.
    Dark,
    /// They stay as they were when the board last knew.
    Last,
    /// They keep their plan by the clock as it is.
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
    /// `master > slave`, as links are called.
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
