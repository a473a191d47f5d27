//! Relay and diode types, as their data sheets give them.

use std::ops::Range;

use toml::Spanned;

use crate::circuit::diode::Diode;
use crate::site::Relay;
use crate::site::field::Field;
use crate::site::file::{DiodeTable, RelayTable};
use crate::site::problem::Problem;
use crate::site::quantity::{
    Inductance, Resistance, Share, Temperature, ThermalResistance, TimeSpan, VoltsDc, milli,
    rounded,
};

use super::{Resolver, Table, numbered};

impl Resolver {
    pub(super) fn diodes(&mut self, tables: Vec<Spanned<DiodeTable>>) -> Vec<(String, Diode)> {
        let fields = tables
            .iter()
            .map(|table| (table.get_ref().name.as_ref(), table.span()));
        let names = self.names("diode", fields);
        let mut diodes = Vec::new();
        for (index, table) in tables.into_iter().enumerate() {
            let name = names.list[index].clone();
            if let Some(field) = &table.get_ref().name
                && let Ok(name) = &field.value
                && Diode::named(&name.0).is_some()
            {
                self.problems.push(Problem::new(
                    field.span.clone(),
                    format!("diode {}: there is a built-in type of this name", name.0),
                    "give yours another name",
                ));
            }
            let mut at = self.table(numbered("diode", index, name.as_deref()), table.span());
            let diode = at.diode(table.into_inner());
            diodes.extend(name.zip(diode));
        }
        diodes
    }
}

/// Lowest and highest inductance of a relay's coil divided by its resistance [s]; usual are 1 to 5 ms.
const LEAST_COIL_S: f64 = 2e-4;
const MOST_COIL_S: f64 = 0.05;

impl Table<'_> {
    fn diode(&mut self, table: DiodeTable) -> Option<Diode> {
        let saturation = self.need(
            "saturation_current",
            table.saturation_current,
            "saturation_current = \"7 nA\"",
        );
        let saturation = self.bound(
            "saturation_current",
            saturation,
            1e-18..1e-2,
            "write its model's saturation current, such as `\"7 nA\"`",
        );
        let emission = self.need(
            "emission_coefficient",
            table.emission_coefficient,
            "emission_coefficient = 1.8",
        );
        let emission = emission.and_then(|at| {
            if (0.9..=4.0).contains(&at.value) {
                return Some(at.value);
            }
            self.problem(
                at.span,
                format!("emission coefficient cannot be {}", at.value),
                "write a bare number from 1 to 4",
            );
            None
        });
        let series_ohm = self.bounded_or(
            "series_resistance",
            table.series_resistance,
            Resistance(0.0),
            0.0..100.0,
            "write ohms, from 0 up",
        );
        let reverse = self.bounded_or(
            "reverse_voltage",
            table.reverse_voltage,
            VoltsDc(1000.0),
            1.0..1e5,
            "write volts, above 0",
        );
        Some(Diode::custom(
            saturation?.value.0,
            emission?,
            series_ohm,
            reverse,
        ))
    }

    pub(super) fn relay(&mut self, table: RelayTable, name: Option<&str>) -> Relay {
        let volts = 0.05..100.0;
        let said = "write a coil voltage, such as `\"9.0 V\"`";
        let rated_v = self.bounded_or(
            "rated_voltage",
            table.rated_voltage,
            VoltsDc(12.0),
            1.0..100.0,
            said,
        );
        let coil_ohm = self.coil_ohm(table.coil_resistance);
        let span_of = |field: &Option<Field<VoltsDc>>| field.as_ref().map(|at| at.span.clone());
        let thresholds = [
            &table.release_voltage,
            &table.typical_release_voltage,
            &table.operate_voltage,
        ]
        .map(span_of);
        // Usual guarantees in the trade: operate 75 %, must-release 5 % (IEC 61810-1), typically 30 %,
        // continuous 110 % of rated (the usual class limit).
        let limit = span_of(&table.max_coil_voltage).or(span_of(&table.operate_voltage));
        let operate_v = self.bounded_or(
            "operate_voltage",
            table.operate_voltage,
            VoltsDc(milli(rated_v * 0.75)),
            volts.clone(),
            said,
        );
        let release_v = self.bounded_or(
            "release_voltage",
            table.release_voltage,
            VoltsDc(milli(rated_v * 0.05)),
            volts.clone(),
            said,
        );
        // If the usual share lies outside the guaranteed voltages, takes the middle between these.
        let usual_v = milli(rated_v * 0.30);
        let typical_v = match usual_v {
            usual_v if release_v < usual_v && usual_v < operate_v => usual_v,
            _ => milli(f64::midpoint(release_v, operate_v)),
        };
        let typical_release_v = self.bounded_or(
            "typical_release_voltage",
            table.typical_release_voltage,
            VoltsDc(typical_v),
            volts.clone(),
            said,
        );
        let hold_v = self.between(
            "holding_voltage",
            table.holding_voltage,
            rated_v * 0.50,
            typical_release_v..operate_v,
        );
        let relay = Relay {
            name: name.unwrap_or_default().into(),
            rated_v,
            coil_ohm,
            coil_tolerance: self.bounded_or(
                "coil_tolerance",
                table.coil_tolerance,
                Share(0.10),
                0.0..0.5,
                "write a share up to 50 %",
            ),
            operate_v,
            release_v,
            typical_release_v,
            hold_v,
            non_operate_v: self.between(
                "non_operate_voltage",
                table.non_operate_voltage,
                rated_v * 0.40,
                release_v..operate_v,
            ),
            max_coil_v: self.bounded_or(
                "max_coil_voltage",
                table.max_coil_voltage,
                VoltsDc(milli(rated_v * 1.10)),
                volts,
                said,
            ),
            max_coil_c: self.bounded_or(
                "max_coil_temperature",
                table.max_coil_temperature,
                Temperature(105.0),
                40.0..250.0,
                "write the coil's limit, such as `\"105 C\"`",
            ),
            thermal_k_per_w: self.bounded_or(
                "thermal_resistance",
                table.thermal_resistance,
                ThermalResistance(75.0),
                0.0..1000.0,
                "write coil to air, such as `\"75 K/W\"`",
            ),
            operate_s: self.bounded_or(
                "operate_time",
                table.operate_time,
                TimeSpan(0.010),
                0.0..1.0,
                "write a time up to 1 s",
            ),
            release_s: self.bounded_or(
                "release_time",
                table.release_time,
                TimeSpan(0.005),
                0.0..1.0,
                "write a time up to 1 s",
            ),
            inductance_h: self.inductance_h(table.coil_inductance, coil_ohm),
            contact_minimum_a: self.stated(
                "contact_minimum",
                table.contact_minimum,
                0.0..100.0,
                "write the least dependable contact current, such as `\"1 mA\"`",
            ),
        };
        self.in_order(&relay, thresholds, limit);
        relay
    }

    /// Coil resistance at 20 °C [Ω]; a usual one if it is missing or wrong, which is reported.
    fn coil_ohm(&mut self, field: Option<Field<Resistance>>) -> f64 {
        let coil = self.need("coil_resistance", field, "coil_resistance = \"400 ohm\"");
        let coil = self.bound(
            "coil_resistance",
            coil,
            1.0..100_000.0,
            "write ohms at 20 C, such as `\"400 ohm\"`",
        );
        coil.map_or(400.0, |at| at.value.0)
    }

    /// Coil inductance with the armature open [H], if stated.
    fn inductance_h(&mut self, field: Option<Field<Inductance>>, coil_ohm: f64) -> Option<f64> {
        self.stated(
            "coil_inductance",
            field,
            coil_ohm * LEAST_COIL_S..coil_ohm * MOST_COIL_S,
            "write henries with the armature open, such as `\"0.9 H\"`: a relay's coil has 1 to 5 mH for each ohm",
        )
    }

    /// A voltage between release and operate voltage. Its default, a share of rated that is usual for small DC
    /// relays, is moved in between.
    fn between(
        &mut self,
        key: &'static str,
        field: Option<Field<VoltsDc>>,
        usual_v: f64,
        bounds: Range<f64>,
    ) -> f64 {
        // If these are out of order themselves, that is reported elsewhere.
        let (low, high) = (bounds.start, bounds.end.max(bounds.start));
        self.bounded_or(
            key,
            field,
            VoltsDc(milli(usual_v).clamp(low, high)),
            low..high.max(low + 1e-6),
            "write volts between those at which it lets go and pulls in",
        )
    }

    /// Checks that its voltages are in the order in which a coil reaches them; `spans` and `limit` are their
    /// places.
    fn in_order(
        &mut self,
        relay: &Relay,
        spans: [Option<Range<usize>>; 3],
        limit: Option<Range<usize>>,
    ) {
        let ordered =
            relay.release_v < relay.typical_release_v && relay.typical_release_v < relay.operate_v;
        let typically = if spans[1].is_some() {
            format!(
                ", typically at {}",
                rounded(VoltsDc(relay.typical_release_v))
            )
        } else {
            String::new()
        };
        if !ordered && let Some(span) = spans.into_iter().flatten().next() {
            self.problem(
                span,
                format!(
                    "it would release at {}{typically}, but operate at {}",
                    rounded(VoltsDc(relay.release_v)),
                    rounded(VoltsDc(relay.operate_v))
                ),
                "order them: `release_voltage` lowest, then `typical_release_voltage`, then `operate_voltage`",
            );
        } else if relay.max_coil_v < relay.operate_v
            && let Some(span) = limit
        {
            self.problem(
                span,
                format!(
                    "it operates at {}, above its greatest coil voltage {}",
                    rounded(VoltsDc(relay.operate_v)),
                    rounded(VoltsDc(relay.max_coil_v))
                ),
                "look at the data sheet again: `operate_voltage` is below `max_coil_voltage`",
            );
        }
    }
}
