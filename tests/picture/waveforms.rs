//! Waveforms of links with figures from a circuit simulator, one of each kind.

use pilotwire::picture::waveform::{
    Event, Thresholds, Trace, waveform_csv, waveform_sketch, waveform_svg,
};
use pilotwire::transient::case::Case;
use serde_json::Value;

use super::drawing;

const CASES: &str = include_str!("../data/link-cases.json");

/// Ordinary; a long thin pair; chatter without a capacitor; 4700 µF; a direct supply.
const KINDS: [&str; 5] = ["dev-01", "dev-03", "dev-07", "dev-09", "dev-13"];

/// Every link's trace, with the simulator's figures.
fn traces() -> Vec<(String, Trace, Value)> {
    let file: Value = serde_json::from_str(CASES).unwrap();
    let cases = file["cases"].as_array().unwrap();
    cases
        .iter()
        .filter_map(|entry| {
            let id = entry["case"]["id"].as_str().unwrap();
            if !KINDS.contains(&id) {
                return None;
            }
            let case: Case = serde_json::from_value(entry["case"].clone()).unwrap();
            let link = case.link().unwrap();
            let thresholds = Thresholds {
                operate_a: link.coil.operate_a,
                hold_a: 0.6 * link.coil.operate_a,
                release_a: link.coil.release_a,
                limit_a: Some(1.6 * link.coil.operate_a),
            };
            let trace = Trace::of(
                &link,
                thresholds,
                format!("house → pond <{id}>"),
                "as rated",
            );
            Some((id.to_owned(), trace.unwrap(), entry["reference"].clone()))
        })
        .collect()
}

/// Time of the last event of that name [s].
fn last_s(events: &[Event], what: &str) -> Option<f64> {
    events
        .iter()
        .rfind(|event| event.what == what)
        .map(|event| event.at_s)
}

#[test]
fn a_waveform_is_small_and_sound() {
    for (id, trace, _) in traces() {
        let svg = waveform_svg(&trace).file();
        drawing::check(&id, &svg);
        drawing::check_room(&id, &svg);
        assert_eq!(svg, waveform_svg(&trace).file(), "{id}");
        let usual = if id == "dev-07" { 40_000 } else { 20_000 };
        assert!(svg.len() < usual, "{id}: {}", svg.len());
        for name in [
            "lets go below",
            "stays in above",
            "pulls in at",
            "coil limit",
        ] {
            assert!(svg.contains(&format!("{name} ")), "{id}: {name}");
        }
    }
}

#[test]
fn events_stand_where_the_simulator_has_them() {
    for (id, trace, reference) in traces() {
        if reference["chatter"] == true {
            let opens = trace.events.iter().filter(|e| e.what == "contact opens");
            assert!(opens.count() > 5, "{id}");
            continue;
        }
        let pull_in_s = last_s(&trace.events, "contact closes");
        let expected_s = reference["t_pull_in_s"].as_f64();
        assert_eq!(pull_in_s.is_some(), expected_s.is_some(), "{id}");
        let (Some(pull_in_s), Some(expected_s)) = (pull_in_s, expected_s) else {
            continue;
        };
        assert!((pull_in_s - expected_s).abs() < 1e-4, "{id}: {pull_in_s}");
        let drop_out_s = last_s(&trace.events, "contact opens").unwrap() - trace.off_at_s;
        let expected_s = reference["t_drop_out_s"].as_f64().unwrap();
        assert!((drop_out_s - expected_s).abs() < 2e-4, "{id}: {drop_out_s}");
    }
}

#[test]
fn a_slow_relay_is_shown_until_it_has_let_go() {
    let (_, trace, reference) = traces().into_iter().find(|t| t.0 == "dev-09").unwrap();
    let end_s = trace.samples.last().unwrap().at_s;
    let drop_out_s = reference["t_drop_out_s"].as_f64().unwrap();
    assert!(drop_out_s > 3.0);
    assert!(end_s > trace.off_at_s + drop_out_s);
    assert!(last_s(&trace.events, "contact opens").is_some());
}

#[test]
fn samples_rise_and_leave_the_settled_part_out() {
    for (id, trace, _) in traces() {
        let steps: Vec<f64> = trace
            .samples
            .windows(2)
            .map(|pair| pair[1].at_s - pair[0].at_s)
            .collect();
        assert!(steps.iter().all(|&step| step > 0.0), "{id}");
        assert_eq!(steps.iter().filter(|&&step| step > 0.05).count(), 1, "{id}");
        assert!(waveform_svg(&trace).file().contains("left out"), "{id}");
    }
}

#[test]
fn a_sketch_is_never_wider_than_asked() {
    for (id, trace, _) in traces() {
        for columns in [40, 60, 72, 80, 132] {
            let sketch = waveform_sketch(&trace, columns);
            for line in sketch.lines() {
                assert!(line.chars().count() <= columns, "{id} {columns}: {line}");
                assert_eq!(line, line.trim_end(), "{id} {columns}");
            }
            assert!(sketch.contains('#') && sketch.contains('_'), "{id}");
        }
    }
}

#[test]
fn csv_has_one_line_a_sample() {
    for (id, trace, _) in traces() {
        let csv = waveform_csv(&trace);
        let mut lines = csv.lines();
        let header = lines.next().unwrap();
        assert_eq!(
            header,
            "at_s,far_v,dc_v,coil_v,wire_a,rectifier_a,capacitor_a,coil_a,armature,contact"
        );
        let rows: Vec<Vec<f64>> = lines
            .map(|line| {
                line.split(',')
                    .map(|field| field.parse().unwrap())
                    .collect()
            })
            .collect();
        assert_eq!(rows.len(), trace.samples.len(), "{id}");
        for (row, sample) in rows.iter().zip(&trace.samples) {
            assert_eq!(row.len(), 10, "{id}");
            assert!((row[2] - sample.dc_v).abs() < 1e-3, "{id}");
            assert!([0.0, 1.0].contains(&row[9]), "{id}");
        }
    }
}

#[test]
fn a_trace_without_samples_says_so() {
    let (_, mut trace, _) = traces().remove(0);
    trace.samples.clear();
    let svg = waveform_svg(&trace).file();
    drawing::check("nothing", &svg);
    assert!(svg.contains("nothing recorded"));
    assert!(waveform_sketch(&trace, 60).contains("nothing recorded"));
}

#[test]
fn whatever_a_title_holds_stays_text() {
    let (_, mut trace, _) = traces().remove(0);
    trace.title = "pond & \"house\" <script>\u{1b}[2J ]]> ".repeat(6);
    trace.subtitle = "x".repeat(500);
    drawing::check("hostile", &waveform_svg(&trace).file());
    let sketch = waveform_sketch(&trace, 60);
    assert!(!sketch.contains('\u{1b}'));
    assert!(sketch.lines().all(|line| line.chars().count() <= 60));
}
