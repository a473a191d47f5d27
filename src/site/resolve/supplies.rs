//! Sources of 12 V.

use toml::Spanned;

use crate::site::field::Field;
use crate::site::file::SupplyTable;
use crate::site::quantity::{Current, Power, TimeSpan, VoltsAc, VoltsDc, milli, rounded};
use crate::site::{Supply, SupplyKind, SupplyOutput};

use super::{At, Names, Resolver, Table, numbered};

/// The defaults for a supply of this kind.
struct Usual {
    start_s: f64,
    rise_s: f64,
    hold_up_s: f64,
    efficiency: f64,
    standby_w: f64,
}

impl SupplyKind {
    /// Desktop-PC: ATX12V design guide (power-on < 500 ms, rise ≤ 20 ms, hold-up ≥ 16 ms, ≥ 70 %); standby of
    /// older units from memory. Others: assumed, common practice.
    fn usual(self) -> Usual {
        match self {
            Self::Transformer => Usual {
                start_s: 0.0,
                rise_s: 0.0,
                hold_up_s: 0.0,
                efficiency: 0.90,
                standby_w: 0.0,
            },
            Self::Dc => Usual {
                start_s: 0.3,
                rise_s: 0.0,
                hold_up_s: 0.0,
                efficiency: 0.80,
                standby_w: 0.5,
            },
            Self::DesktopPc => Usual {
                start_s: 0.5,
                rise_s: 0.02,
                hold_up_s: 0.016,
                efficiency: 0.70,
                standby_w: 3.0,
            },
        }
    }
}

/// Possible voltages of a lighting supply [V]; above extra-low voltage the cautions give a STOP.
const VOLTS: std::ops::Range<f64> = 1.0..250.0;
const VOLTS_SAID: &str = "write the output voltage of a lighting supply, such as `\"12.0 V\"`";

/// Lowest and highest service voltage of a DC supply if the file does not say [V]: the 12 V rail ±5 % (ATX12V
/// design guide, taken for other 12 V supplies too), or the same range around another voltage.
pub(crate) fn usual_band(voltage_v: f64) -> (f64, f64) {
    let nominal_v = if (10.8..=13.2).contains(&voltage_v) {
        12.0
    } else {
        voltage_v
    };
    (
        milli((nominal_v * 0.95).min(voltage_v)),
        milli((nominal_v * 1.05).max(voltage_v)),
    )
}

impl Resolver {
    pub(super) fn supply_names(&mut self, tables: &[Spanned<SupplyTable>]) -> Names {
        let fields = tables
            .iter()
            .map(|table| (table.get_ref().name.as_ref(), table.span()));
        self.names("supply", fields)
    }

    pub(super) fn supplies(
        &mut self,
        tables: Vec<Spanned<SupplyTable>>,
        names: &Names,
    ) -> Vec<Supply> {
        let mut supplies = Vec::new();
        for (index, table) in tables.into_iter().enumerate() {
            let name = names.list[index].as_deref();
            let mut at = self.table(numbered("supply", index, name), table.span());
            supplies.extend(at.supply(table.into_inner(), name.unwrap_or_default()));
        }
        supplies
    }
}

impl Table<'_> {
    fn supply(&mut self, mut table: SupplyTable, name: &str) -> Option<Supply> {
        let kind = self.need("kind", table.kind.take(), "kind = \"transformer\"");
        let Some(At { value: kind, .. }) = kind else {
            self.values_of(table);
            return None;
        };
        let usual = kind.usual();
        let output = if kind == SupplyKind::Transformer {
            self.belongs(
                "voltage",
                table.voltage.as_ref(),
                "a transformer has `no_load_voltage` and `full_load_voltage`",
            );
            self.belongs(
                "lowest_voltage",
                table.lowest_voltage.as_ref(),
                "a transformer follows `mains_tolerance`",
            );
            self.belongs(
                "highest_voltage",
                table.highest_voltage.as_ref(),
                "a transformer follows `mains_tolerance`",
            );
            self.belongs(
                "max_current",
                table.max_current.as_ref(),
                "a transformer has `rated_load`",
            );
            self.ac(
                table.no_load_voltage,
                table.full_load_voltage,
                table.rated_load,
            )
        } else {
            let remedy = "a DC supply has `voltage`, `lowest_voltage` and `highest_voltage`";
            self.belongs("no_load_voltage", table.no_load_voltage.as_ref(), remedy);
            self.belongs(
                "full_load_voltage",
                table.full_load_voltage.as_ref(),
                remedy,
            );
            self.belongs(
                "rated_load",
                table.rated_load.as_ref(),
                "a DC supply has `max_current`",
            );
            self.dc(
                table.voltage,
                table.lowest_voltage,
                table.highest_voltage,
                table.max_current,
            )
        };
        let wait = 0.0..60.0;
        let wait_said = "write a time between 0 s and 60 s";
        let start_s = self.bounded_or(
            "start_time",
            table.start_time,
            TimeSpan(usual.start_s),
            wait.clone(),
            wait_said,
        );
        let rise_s = self.bounded_or(
            "rise_time",
            table.rise_time,
            TimeSpan(usual.rise_s),
            wait.clone(),
            wait_said,
        );
        let efficiency = self.take(table.efficiency);
        let efficiency = match efficiency {
            None => {
                self.assume("efficiency", usual.efficiency);
                usual.efficiency
            }
            Some(at) if at.value > 0.0 && at.value <= 1.0 => at.value,
            Some(at) => {
                self.problem(
                    at.span,
                    format!("`efficiency` cannot be {}", at.value),
                    if at.value > 1.0 && at.value <= 100.0 {
                        format!("write it as a fraction: `{}`", at.value / 100.0)
                    } else {
                        "write a number above 0 and up to 1, such as `0.72`".into()
                    },
                );
                usual.efficiency
            }
        };
        Some(Supply {
            name: name.into(),
            kind,
            start_s: start_s + rise_s,
            hold_up_s: self.bounded_or(
                "hold_up_time",
                table.hold_up_time,
                TimeSpan(usual.hold_up_s),
                wait,
                wait_said,
            ),
            efficiency,
            standby_w: self.bounded_or(
                "standby_power",
                table.standby_power,
                Power(usual.standby_w),
                0.0..1000.0,
                "write what it draws while its lamps are dark, such as `\"3 W\"`",
            ),
            placement: self.take(table.placement).map(|at| at.value),
            outlet_protection: self.take(table.outlet_protection).map(|at| at.value),
            remote_on_a: self.bounded_or(
                "remote_on_current",
                table.remote_on_current,
                Current(0.0016),
                0.0..20.0,
                "write the current through the closed remote-on line, such as `\"1.6 mA\"`",
            ),
            output: output?,
        })
    }

    /// Reports the faulty values of a supply of unknown kind.
    fn values_of(&mut self, table: SupplyTable) {
        for volts in [table.no_load_voltage, table.full_load_voltage] {
            self.take(volts);
        }
        for volts in [table.voltage, table.lowest_voltage, table.highest_voltage] {
            self.take(volts);
        }
        for time in [table.start_time, table.rise_time, table.hold_up_time] {
            self.take(time);
        }
        for current in [table.max_current, table.remote_on_current] {
            self.take(current);
        }
        self.take(table.rated_load);
        self.take(table.efficiency);
        self.take(table.standby_power);
        self.take(table.placement);
        self.take(table.outlet_protection);
    }

    fn belongs<T>(&mut self, key: &str, field: Option<&Field<T>>, remedy: &str) {
        if let Some(field) = field {
            self.problem(
                field.span.clone(),
                format!("`{key}` does not fit this kind of supply"),
                remedy,
            );
        }
    }

    fn ac(
        &mut self,
        no_load: Option<Field<VoltsAc>>,
        full_load: Option<Field<VoltsAc>>,
        rated: Option<Field<crate::site::ApparentPower>>,
    ) -> Option<SupplyOutput> {
        let no_load = self.need("no_load_voltage", no_load, "no_load_voltage = \"13.2 V\"");
        let no_load = self.bound("no_load_voltage", no_load, VOLTS, VOLTS_SAID);
        let full_load_v = self.bounded_or(
            "full_load_voltage",
            full_load,
            VoltsAc(12.0),
            VOLTS,
            VOLTS_SAID,
        );
        let rated = self.need("rated_load", rated, "rated_load = \"300 VA\"");
        let rated = self.bound(
            "rated_load",
            rated,
            1.0..10_000.0,
            "write the nameplate, such as `\"300 VA\"`",
        );
        let no_load = no_load?;
        if no_load.value.0 < full_load_v {
            self.problem(
                no_load.span,
                format!(
                    "`no_load_voltage` {} is below `full_load_voltage` {}",
                    rounded(no_load.value),
                    rounded(VoltsAc(full_load_v))
                ),
                "a transformer gives less under load: swap them, or measure again",
            );
            return None;
        }
        Some(SupplyOutput::Ac {
            no_load_v: no_load.value.0,
            full_load_v,
            rated_va: rated?.value.0,
        })
    }

    fn dc(
        &mut self,
        voltage: Option<Field<VoltsDc>>,
        lowest: Option<Field<VoltsDc>>,
        highest: Option<Field<VoltsDc>>,
        max: Option<Field<Current>>,
    ) -> Option<SupplyOutput> {
        let voltage_v = self.bounded_or("voltage", voltage, VoltsDc(12.0), VOLTS, VOLTS_SAID);
        let usual = usual_band(voltage_v);
        let lowest_given = self.take(lowest);
        let lowest_v = if let Some(at) = &lowest_given {
            at.value.0
        } else {
            let value = usual.0;
            self.assume("lowest_voltage", VoltsDc(value));
            value
        };
        let highest_given = self.take(highest);
        let highest_v = if let Some(at) = &highest_given {
            at.value.0
        } else {
            let value = usual.1;
            self.assume("highest_voltage", VoltsDc(value));
            value
        };
        let wrong = lowest_given
            .filter(|_| lowest_v > voltage_v)
            .map(|at| {
                (
                    at.span,
                    format!("`lowest_voltage` {lowest_v} V is above `voltage` {voltage_v} V"),
                )
            })
            .or_else(|| {
                highest_given.filter(|_| highest_v < voltage_v).map(|at| {
                    (
                        at.span,
                        format!("`highest_voltage` {highest_v} V is below `voltage` {voltage_v} V"),
                    )
                })
            });
        if let Some((span, message)) = wrong {
            self.problem(
                span,
                message,
                "order them: `lowest_voltage`, `voltage`, `highest_voltage`",
            );
            return None;
        }
        let max = self.take(max);
        let max = self.bound(
            "max_current",
            max,
            0.01..1000.0,
            "write what the supply can give, such as `\"10 A\"`",
        );
        Some(SupplyOutput::Dc {
            voltage_v,
            lowest_v,
            highest_v,
            max_a: max.map(|at| at.value.0),
        })
    }
}
