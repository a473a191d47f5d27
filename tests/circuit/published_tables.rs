//! Wire tables and printed voltage-drop examples.

use pilotwire::circuit::wire::{Gauge, SPLICE_OHM, Stranding, loop_ohm, ohm_per_m};

const FEET_TO_M: f64 = 0.3048;

fn close(ours: f64, printed: f64, share: f64) -> bool {
    (ours / printed - 1.0).abs() <= share
}

#[test]
#[expect(
    clippy::approx_constant,
    reason = "3.14 is the table's resistance of 14 AWG"
)]
fn nec_chapter_9_table_8_solid_and_seven_strand() {
    // AWG, solid, 7-strand [Ω per 1000 ft, uncoated copper, 75 °C]. Printed to three figures.
    for (awg, solid, seven) in [
        (18, 7.77, 7.95),
        (16, 4.89, 4.99),
        (14, 3.07, 3.14),
        (12, 1.93, 1.98),
        (10, 1.21, 1.24),
        (8, 0.764, 0.778),
    ] {
        let per_kft =
            |stranding| 1000.0 * FEET_TO_M * ohm_per_m(Gauge::Awg(awg), stranding, 75.0).unwrap();
        assert!(
            close(per_kft(Stranding::Solid), solid, 0.005),
            "{awg} AWG solid"
        );
        assert!(
            close(per_kft(Stranding::Stranded), seven, 0.006),
            "{awg} AWG stranded"
        );
    }
    // 6 AWG is listed with seven strands only.
    let six = 1000.0 * FEET_TO_M * ohm_per_m(Gauge::Awg(6), Stranding::Stranded, 75.0).unwrap();
    assert!(close(six, 0.491, 0.006), "{six}");
}

#[test]
fn iec_60228_maxima() {
    // mm², classes 1 and 2, class 5 [Ω/km at 20 °C, plain copper].
    for (mm2, class_2, class_5) in [
        (0.5, 36.0, 39.0),
        (0.75, 24.5, 26.0),
        (1.0, 18.1, 19.5),
        (1.5, 12.1, 13.3),
        (2.5, 7.41, 7.98),
        (4.0, 4.61, 4.95),
        (6.0, 3.08, 3.30),
        (10.0, 1.83, 1.91),
    ] {
        let gauge = Gauge::SquareMillimetres(mm2);
        let per_km = |stranding| 1000.0 * ohm_per_m(gauge, stranding, 20.0).unwrap();
        assert!(close(per_km(Stranding::Solid), class_2, 1e-9), "{mm2} mm²");
        assert!(
            close(per_km(Stranding::Stranded), class_2, 1e-9),
            "{mm2} mm²"
        );
        assert!(close(per_km(Stranding::Class5), class_5, 1e-9), "{mm2} mm²");
        assert_eq!(gauge.usual_stranding(), Stranding::Class5);
    }
}

#[test]
fn photovoltaic_help_page_at_forty_degrees() {
    // Photovoltaic design help page: 4, 6 and 10 mm² at 40 °C [Ω/m], to six figures.
    for (mm2, printed) in [(4.0, 0.004972346), (6.0, 0.003322088), (10.0, 0.001973838)] {
        let ours = ohm_per_m(Gauge::SquareMillimetres(mm2), Stranding::Solid, 40.0).unwrap();
        assert!(close(ours, printed, 1e-6), "{mm2} mm²: {ours}");
    }
    // The same page: 12 A, 157 V, 1 % allowed.
    assert!((157.0 * 0.01 / 12.0_f64 - 0.1308).abs() < 1e-4);
}

#[test]
fn printed_voltage_drops() {
    struct Example {
        source: &'static str,
        gauge: Gauge,
        stranding: Stranding,
        wire_c: f64,
        one_way_m: f64,
        amps: f64,
        printed_v: f64,
        share: f64,
    }
    use Gauge::{Awg, SquareMillimetres};
    use Stranding::{Solid, Stranded};
    for example in [
        Example {
            source: "electrician training page: 4.99 Ω/kft",
            gauge: Awg(16),
            stranding: Stranded,
            wire_c: 75.0,
            one_way_m: 100.0 * FEET_TO_M,
            amps: 4.0,
            printed_v: 3.992,
            share: 0.006,
        },
        Example {
            source: "exam-preparation page: K = 12.9, 6530 circular mil",
            gauge: Awg(12),
            stranding: Stranded,
            wire_c: 75.0,
            one_way_m: 100.0 * FEET_TO_M,
            amps: 20.0,
            printed_v: 7.902,
            share: 0.006,
        },
        Example {
            source: "the same page: 16510 circular mil",
            gauge: Awg(8),
            stranding: Stranded,
            wire_c: 75.0,
            one_way_m: 100.0 * FEET_TO_M,
            amps: 20.0,
            printed_v: 3.125,
            share: 0.006,
        },
        Example {
            source: "solar-module maker: 0.0177/1.5, 12 m in three pieces; the IEC maximum is 2.5 % above",
            gauge: SquareMillimetres(1.5),
            stranding: Stranded,
            wire_c: 20.0,
            one_way_m: 12.0,
            amps: 3.0,
            printed_v: 0.8496,
            share: 0.03,
        },
        Example {
            source: "British course: 18 mV/A/m at 70 °C, rounded to whole millivolts",
            gauge: SquareMillimetres(2.5),
            stranding: Solid,
            wire_c: 70.0,
            one_way_m: 18.0,
            amps: 16.0,
            printed_v: 5.184,
            share: 0.02,
        },
        Example {
            source: "12 V boat article: 8.5 mΩ/m",
            gauge: Awg(14),
            stranding: Stranded,
            wire_c: 20.0,
            one_way_m: 10.0,
            amps: 10.0,
            printed_v: 1.7,
            share: 0.005,
        },
    ] {
        let ohm = loop_ohm(
            example.gauge,
            example.stranding,
            example.one_way_m,
            example.wire_c,
            0,
            SPLICE_OHM,
        )
        .unwrap();
        let ours_v = ohm * example.amps;
        assert!(
            close(ours_v, example.printed_v, example.share),
            "{}: {ours_v} V",
            example.source
        );
    }
}

#[test]
fn a_boat_page_is_more_optimistic_than_the_standard() {
    // Boat page: 0.0164·I·L/S with L there and back, 1.6 A, 22 m, 1.5 mm²: 0.38 V. Its resistivity
    // is 5 % below copper.
    let ohm = loop_ohm(
        Gauge::SquareMillimetres(1.5),
        Stranding::Stranded,
        11.0,
        20.0,
        0,
        SPLICE_OHM,
    )
    .unwrap();
    assert!((1.05..1.13).contains(&(ohm * 1.6 / 0.385)), "{ohm}");
}
