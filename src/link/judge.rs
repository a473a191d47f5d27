//! The one judge of a link: every case that its verdict rests on, and the least margin of each aspect.
//!
//! ```text
//! nominal mains, rated parts × 3 evenings ─► what it does, letting go, thin margin, coil that cooks
//! low mains, parts against pull-in × 3 ────► pulls in at dusk, comes back warm
//! low mains, worn parts, flat crest × 2 ───► stays in
//! high mains, three coils × 3 ─────────────► coil's voltage, coil's heat
//!      ─► per aspect the case with the least margin ─► findings, worst first ─► verdict
//! ```
//!
//! The evenings are the coldest, the ordinary and the hottest of the year, or of one month. Commands, pictures,
//! pages and the sheet all read [`Judgement`]; the cautions S18 to S22 and S50 put its findings into words. It
//! does not judge the fuse, the contact, or the ratings of capacitor and diodes. [`super::beyond`] has corners
//! that are harder than the verdict asks for.

use std::cell::RefCell;

use chrono::Month;

use crate::circuit::relay;
use crate::site::{Link, Site, SupplyOutput, ZoneId};
use crate::transient::CannotConclude;

use super::case::{BoxTemperature, Case, LinkCase, MainsLevel, Parts, work_out_altered};
use super::finding::{Finding, Trouble};
use super::worn::{self, Alter};
use super::{Outcome, Undecided, Verdict};

/// Margin below which a link counts as thin (common practice).
pub(crate) const THIN: f64 = 0.15;

/// Ratio of lowest to mean coil current below which a relay buzzes: the pull varies by more than a third.
pub(crate) const BUZZES: f64 = 0.8;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Aspect {
    /// Pulling in at dusk.
    Dusk,
    /// Pulling in again with a warm coil.
    HotRestart,
    Hold,
    Release,
    /// Highest continuous coil voltage.
    CoilVoltage,
    /// Highest coil temperature.
    CoilHeat,
}

impl Aspect {
    /// In the order in which a link meets them.
    pub const ALL: [Self; 6] = [
        Self::Dusk,
        Self::HotRestart,
        Self::Hold,
        Self::Release,
        Self::CoilVoltage,
        Self::CoilHeat,
    ];

    /// The name that JSON and CSV use.
    pub fn name(self) -> &'static str {
        match self {
            Self::Dusk => "dusk",
            Self::HotRestart => "hot restart",
            Self::Hold => "hold",
            Self::Release => "release",
            Self::CoilVoltage => "coil voltage",
            Self::CoilHeat => "coil heat",
        }
    }

    /// Whether the coil must be above the limit, not below.
    pub fn wants_more(self) -> bool {
        match self {
            Self::Dusk | Self::HotRestart | Self::Hold => true,
            Self::Release | Self::CoilVoltage | Self::CoilHeat => false,
        }
    }
}

/// The feed of a pair in a case.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FeedLevel {
    /// AC, with the mains at this level.
    Mains(MainsLevel),
    /// AC from a mains without a tolerance.
    OneMains,
    /// This voltage [V DC].
    Dc(f64),
}

impl FeedLevel {
    fn of(site: &Site, link: &Link, level: MainsLevel) -> Self {
        match site.feeding(link).output {
            SupplyOutput::Ac { .. } if site.mains.tolerance <= 0.0 => Self::OneMains,
            SupplyOutput::Ac { .. } => Self::Mains(level),
            SupplyOutput::Dc {
                voltage_v,
                lowest_v,
                highest_v,
                ..
            } => Self::Dc(match level {
                MainsLevel::Low => lowest_v,
                MainsLevel::Nominal => voltage_v,
                MainsLevel::High => highest_v,
            }),
        }
    }
}

/// The margin of one aspect in one case.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Margin {
    pub aspect: Aspect,
    pub case: Case,
    pub feed: FeedLevel,
    /// Coil temperature [°C].
    pub coil_c: f64,
    /// On the coil [V]: the mean, or for staying in the lowest.
    pub volts: f64,
    /// Limit that it must reach, or stay below [V].
    pub limit_v: f64,
    /// Margin as a fraction of the limit; negative if it fails.
    pub fraction: f64,
}

impl Margin {
    fn new(
        (site, link): (&Site, &Link),
        aspect: Aspect,
        case: Case,
        coil_c: f64,
        (volts, limit_v): (f64, f64),
    ) -> Self {
        let fraction = if aspect.wants_more() {
            relay::operate_margin(volts, limit_v)
        } else {
            // In a box hotter than the coil's limit there is no margin, whatever the voltage.
            (1.0 - volts / limit_v).max(-1.0)
        };
        Self {
            aspect,
            case,
            feed: FeedLevel::of(site, link, case.mains),
            coil_c,
            volts,
            limit_v,
            fraction,
        }
    }

    /// The margin of an aspect in a case; staying in needs a case with worn parts, so it is not read here.
    fn of(site: &Site, link: &Link, aspect: Aspect, at: &LinkCase) -> Self {
        let box_c = at.case.box_c;
        let (coil_c, volts, limit_v) = match aspect {
            Aspect::Dusk => (box_c, at.dusk.coil_v, at.operate_v),
            Aspect::HotRestart => (at.warm.coil_c, at.warm.coil_v, at.operate_warm_v),
            Aspect::Hold => (
                at.warm.coil_c,
                at.dusk.coil_least_a * at.coil_ohm,
                at.hold_v,
            ),
            Aspect::Release => (box_c, at.residual_v, at.release_v),
            Aspect::CoilVoltage => (at.warm.coil_c, at.highest_v(), link.relay.max_coil_v),
            Aspect::CoilHeat => (at.warm.coil_c, at.warm.coil_v, heat_limit_v(link, at)),
        };
        Self::new((site, link), aspect, at.case, coil_c, (volts, limit_v))
    }
}

impl LinkCase {
    /// The highest voltage on the coil, at dusk or warm [V].
    pub fn highest_v(&self) -> f64 {
        self.dusk.coil_v.max(self.warm.coil_v)
    }
}

/// The coil voltage at which the coil of a case reaches its highest permissible temperature [V].
fn heat_limit_v(link: &Link, case: &LinkCase) -> f64 {
    let relay = &link.relay;
    relay::thermal_limit_v(
        relay.coil_ohm * case.case.parts.coil_part(link),
        case.case.box_c,
        relay.thermal_k_per_w,
        relay.max_coil_c,
    )
}

/// What the verdict on a link rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct Judgement {
    /// Typical box, nominal mains, nominal parts.
    pub ordinary: LinkCase,
    /// The case with the least margin at dusk, parts against it.
    pub worst_dusk: LinkCase,
    /// The case with the least margin on a hot restart, parts against it.
    pub worst_restart: LinkCase,
    /// The case with the highest coil voltage, parts against it.
    pub highest: LinkCase,
    /// The case with the hottest coil: high mains, as a rule a small coil.
    pub hottest_coil: LinkCase,
    /// The case in which the residual voltage is nearest to the release voltage.
    pub worst_release: LinkCase,
    /// The zone up its chain, its master or further, whose supply the slave switches: the contact then holds
    /// its own coil on.
    pub held_by: Option<ZoneId>,
    /// The least margin of each aspect.
    margins: Vec<Margin>,
    /// What is wrong, worst first.
    findings: Vec<Finding>,
}

impl Judgement {
    /// What the slave does under ordinary conditions.
    pub fn outcome(&self) -> Outcome {
        held(self.ordinary.outcome(), self.held_by)
    }

    /// Whether it follows under ordinary conditions, but not in the worst case.
    pub fn only_ordinarily(&self) -> bool {
        self.outcome() == Outcome::Follows
            && (self.margin(Aspect::Dusk).fraction < 0.0
                || self.worst_release.outcome() == Outcome::StaysLit)
    }

    /// The least margin of an aspect.
    ///
    /// # Panics
    /// Never: every aspect is judged.
    pub fn margin(&self, aspect: Aspect) -> &Margin {
        let mut margins = self.margins.iter();
        margins
            .find(|margin| margin.aspect == aspect)
            .expect("every aspect is judged")
    }

    /// The least of all margins: the one that every command, picture and page names.
    ///
    /// # Panics
    /// Never: there are six aspects.
    pub fn least(&self) -> &Margin {
        let by = |a: &&Margin, b: &&Margin| a.fraction.total_cmp(&b.fraction);
        self.margins.iter().min_by(by).expect("six aspects")
    }

    pub fn findings(&self) -> &[Finding] {
        &self.findings
    }

    /// The finding of this kind, if there is one.
    pub fn finding(&self, trouble: Trouble) -> Option<&Finding> {
        self.findings.iter().find(|found| found.trouble == trouble)
    }

    pub fn trouble(&self) -> Option<Trouble> {
        self.findings.first().map(|found| found.trouble)
    }

    /// Whether to build it, judging by the relay.
    pub fn verdict(&self) -> Verdict {
        self.trouble().map_or(Verdict::Go, Trouble::verdict)
    }
}

/// A case: mains, evening, parts.
type Key = (MainsLevel, BoxTemperature, Parts);

/// A link and the evenings on which it is judged. Each case is worked out when first asked for.
pub(crate) struct Judge<'a> {
    site: &'a Site,
    link: &'a Link,
    /// Box on the coldest, the ordinary and the hottest evening [°C].
    box_c: [f64; 3],
    alter: Alter<'a>,
    cases: RefCell<Vec<(Key, LinkCase)>>,
}

impl<'a> Judge<'a> {
    /// Judges on the evenings of a year.
    pub(crate) fn of(site: &'a Site, link: &'a Link) -> Self {
        Self {
            site,
            link,
            box_c: BoxTemperature::ALL.map(|evening| evening.celsius(site)),
            alter: &|circuit| circuit,
            cases: RefCell::default(),
        }
    }

    /// Judges on the evenings of a month.
    pub(super) fn of_month(site: &'a Site, link: &'a Link, month: Month) -> Self {
        let of = site.temperatures.of_month(month);
        Self {
            box_c: [of.coldest_c, of.typical_c, of.hottest_c],
            ..Self::of(site, link)
        }
    }

    /// Judges a circuit that differs from the site file.
    pub(crate) fn altered(site: &'a Site, link: &'a Link, alter: Alter<'a>) -> Self {
        Self {
            alter,
            ..Self::of(site, link)
        }
    }

    fn celsius(&self, evening: BoxTemperature) -> f64 {
        match evening {
            BoxTemperature::Coldest => self.box_c[0],
            BoxTemperature::Typical => self.box_c[1],
            BoxTemperature::Hottest => self.box_c[2],
        }
    }

    /// # Errors
    /// If the simulation cannot conclude.
    pub(super) fn case(
        &self,
        mains: MainsLevel,
        evening: BoxTemperature,
        parts: Parts,
    ) -> Result<LinkCase, Undecided> {
        let key = (mains, evening, parts);
        if let Some((_, known)) = self.cases.borrow().iter().find(|(known, _)| *known == key) {
            return Ok(known.clone());
        }
        let box_c = self.celsius(evening);
        let case = Case {
            mains,
            box_c,
            parts,
        };
        let found = work_out_altered(self.site, self.link, case, self.alter)?;
        self.cases.borrow_mut().push((key, found.clone()));
        Ok(found)
    }

    /// The cases of all evenings, from the coldest to the hottest.
    fn evenings(&self, mains: MainsLevel, parts: Parts) -> Result<Vec<LinkCase>, Undecided> {
        let case = |evening| self.case(mains, evening, parts);
        BoxTemperature::ALL.into_iter().map(case).collect()
    }

    /// The margin of staying in, with worn parts at low mains. Both ends of the year are looked at, because
    /// diodes, copper and coil pull in different directions.
    fn stays_in(&self) -> Result<Margin, Undecided> {
        let at = |evening| {
            let box_c = self.celsius(evening);
            let case = Case {
                mains: MainsLevel::Low,
                box_c,
                parts: Parts::Worn,
            };
            worn::stays_in(self.site, self.link, box_c, self.alter)
                .map(|(coil_c, least_v, hold_v)| {
                    let volts = (least_v, hold_v);
                    Margin::new((self.site, self.link), Aspect::Hold, case, coil_c, volts)
                })
                .map_err(|why| Undecided::new(self.site, self.link, case, why))
        };
        let (cold, hot) = (at(BoxTemperature::Coldest)?, at(BoxTemperature::Hottest)?);
        Ok(if hot.fraction < cold.fraction {
            hot
        } else {
            cold
        })
    }

    /// # Errors
    /// If a simulation cannot conclude.
    pub(crate) fn judgement(&self) -> Result<Judgement, Undecided> {
        let (site, link) = (self.site, self.link);
        let ordinary = self.case(MainsLevel::Nominal, BoxTemperature::Typical, Parts::Nominal)?;
        let nominal = self.evenings(MainsLevel::Nominal, Parts::Nominal)?;
        let against = self.evenings(MainsLevel::Low, Parts::AgainstOperate)?;
        let large = self.evenings(MainsLevel::High, Parts::AgainstCoil)?;
        // A small coil takes the most power, unless the pair has as much resistance as the coil.
        let mut coils = large.clone();
        coils.extend(self.evenings(MainsLevel::High, Parts::Nominal)?);
        coils.extend(self.evenings(MainsLevel::High, Parts::AgainstOperate)?);
        let worst_dusk = least(&against, |case| case.margin_dusk);
        let worst_restart = least(&against, |case| case.margin_restart);
        let worst_release = least(&nominal, |case| case.release_v - case.residual_v);
        let highest = least(&large, |case| -case.highest_v());
        let hottest_coil = hottest(&coils);
        let margins = vec![
            Margin::of(site, link, Aspect::Dusk, &worst_dusk),
            Margin::of(site, link, Aspect::HotRestart, &worst_restart),
            self.stays_in()?,
            Margin::of(site, link, Aspect::Release, &worst_release),
            Margin::of(site, link, Aspect::CoilVoltage, &highest),
            Margin::of(site, link, Aspect::CoilHeat, &hottest_coil),
        ];
        let mut judgement = Judgement {
            ordinary,
            worst_dusk,
            worst_restart,
            highest,
            hottest_coil,
            worst_release,
            held_by: held_by(site, link),
            margins,
            findings: Vec::new(),
        };
        judgement.findings = findings(site, link, &judgement, &nominal);
        Ok(judgement)
    }
}

/// The findings, worst first; `nominal` are the evenings at nominal mains with rated parts.
fn findings(site: &Site, link: &Link, of: &Judgement, nominal: &[LinkCase]) -> Vec<Finding> {
    let ordinary = &of.ordinary;
    let relay = &link.relay;
    let outcome = ordinary.outcome();
    let dark = outcome == Outcome::StaysDark;
    let chatters = outcome == Outcome::Chatters;
    let steady = !chatters && !dark;
    let thinnest = least(nominal, |case| case.margin_dusk);
    let hottest = hottest(nominal);
    let some = !dark && thinnest.margin_dusk < 0.0;
    let fails = |aspect| of.margin(aspect).fraction < 0.0;
    let may = !dark && !some && fails(Aspect::Dusk);
    let thin = !dark && (0.0..THIN).contains(&thinnest.margin_dusk);
    let at = |aspect, case: &LinkCase| Some(Margin::of(site, link, aspect, case));
    let worst = |aspect| Some(*of.margin(aspect));
    let buzzes = steady
        && !fails(Aspect::Hold)
        && ordinary.dusk.coil_least_a < BUZZES * ordinary.dusk.coil_a;
    let lit = of.worst_release.residual_v >= of.worst_release.release_v;
    [
        (of.held_by.is_some(), Trouble::HeldOn, None),
        (dark, Trouble::StaysDark, at(Aspect::Dusk, ordinary)),
        (chatters, Trouble::Chatters, at(Aspect::Hold, ordinary)),
        (lit, Trouble::StaysLit, worst(Aspect::Release)),
        (some, Trouble::DarkSomeEvenings, at(Aspect::Dusk, &thinnest)),
        (
            hottest.warm.coil_c > relay.max_coil_c,
            Trouble::Cooks,
            at(Aspect::CoilHeat, &hottest),
        ),
        (may, Trouble::MayStayDark, worst(Aspect::Dusk)),
        (
            !dark && fails(Aspect::HotRestart),
            Trouble::HotRestart,
            worst(Aspect::HotRestart),
        ),
        (
            steady && fails(Aspect::Hold),
            Trouble::MayChatter,
            worst(Aspect::Hold),
        ),
        (
            fails(Aspect::CoilVoltage),
            Trouble::CoilVoltage,
            worst(Aspect::CoilVoltage),
        ),
        (
            of.hottest_coil.warm.coil_c > relay.max_coil_c,
            Trouble::CoilHeat,
            worst(Aspect::CoilHeat),
        ),
        (thin, Trouble::Thin, at(Aspect::Dusk, &thinnest)),
        (buzzes, Trouble::Buzzes, at(Aspect::Hold, ordinary)),
    ]
    .into_iter()
    .filter(|(is, _, _)| *is)
    .map(|(_, trouble, margin)| Finding { trouble, margin })
    .collect()
}

/// The case with the least of this value; the first of equals.
fn least(cases: &[LinkCase], of: impl Fn(&LinkCase) -> f64) -> LinkCase {
    cases
        .iter()
        .min_by(|a, b| of(a).total_cmp(&of(b)))
        .expect("an evening")
        .clone()
}

/// The case with the hottest coil; the last of equals.
fn hottest(cases: &[LinkCase]) -> LinkCase {
    cases
        .iter()
        .max_by(|a, b| a.warm.coil_c.total_cmp(&b.warm.coil_c))
        .expect("an evening")
        .clone()
}

/// Judges one link on the evenings of a year.
///
/// # Errors
/// If a simulation cannot conclude.
pub fn judgement(site: &Site, link: &Link) -> Result<Judgement, Undecided> {
    Judge::of(site, link).judgement()
}

/// Judges one link whose circuit differs from the site file: a fault.
///
/// # Errors
/// If a simulation cannot conclude.
pub(crate) fn judgement_altered(
    site: &Site,
    link: &Link,
    alter: Alter<'_>,
) -> Result<Judgement, CannotConclude> {
    let judge = Judge::altered(site, link, alter);
    judge.judgement().map_err(|undecided| undecided.why)
}

/// The zone up the chain of a link, its master or further, that shares the slave's supply.
pub(crate) fn held_by(site: &Site, link: &Link) -> Option<ZoneId> {
    let supply = site[link.slave].supply;
    // A board that follows an input passes the hold on as a relay does.
    let upward = std::iter::successors(Some(link.master), |zone| site.master_of(*zone));
    upward.into_iter().find(|zone| site[*zone].supply == supply)
}

/// The outcome of a link whose relay follows, but whose own contact holds it.
pub(crate) fn held(outcome: Outcome, by: Option<ZoneId>) -> Outcome {
    match (outcome, by) {
        (Outcome::Follows, Some(_)) => Outcome::StaysLit,
        _ => outcome,
    }
}
