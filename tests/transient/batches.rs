//! The batch interface: order, threads, bad lines, names.

use pilotwire::transient::batch::batch;
use serde_json::{Value, json};

const CASES: &str = include_str!("../data/link-cases.json");

fn cases() -> Vec<Value> {
    let file: Value = serde_json::from_str(CASES).unwrap();
    let cases = file["cases"].as_array().unwrap();
    cases.iter().map(|entry| entry["case"].clone()).collect()
}

fn answers(lines: &str, threads: usize) -> Vec<String> {
    let mut out = Vec::new();
    batch(lines.as_bytes(), &mut out, threads, None).unwrap();
    let text = String::from_utf8(out).unwrap();
    text.lines().map(str::to_owned).collect()
}

fn lines(cases: &[Value]) -> String {
    cases
        .iter()
        .fold(String::new(), |text, case| text + &case.to_string() + "\n")
}

#[test]
fn results_depend_on_neither_order_nor_threads() {
    let mut many: Vec<Value> = std::iter::repeat_with(cases).take(12).flatten().collect();
    let forward = answers(&lines(&many), 1);
    assert_eq!(forward.len(), many.len());
    assert_eq!(forward, answers(&lines(&many), 7));
    many.reverse();
    let mut backward = answers(&lines(&many), 3);
    backward.reverse();
    assert_eq!(forward, backward);
}

#[test]
fn a_bad_line_is_answered_in_its_place() {
    let cases = cases();
    let mut impossible = cases[0].clone();
    impossible["cap"]["c_f"] = json!(-1.0);
    let mut incomplete = cases[0].clone();
    incomplete.as_object_mut().unwrap().remove("relay");
    let wrapped = json!({ "case": cases[1], "reference": {} });
    let text = format!(
        "{}\nnot json\n\n{impossible}\n{incomplete}\n{wrapped}",
        cases[0]
    );
    let answers: Vec<Value> = answers(&text, 2)
        .iter()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    assert_eq!(answers.len(), 6);
    assert_eq!(answers[0]["id"], "dev-01");
    assert!(answers[0]["error"].is_null());
    assert!(
        answers[1]["error"]
            .as_str()
            .unwrap()
            .starts_with("not a JSON object")
    );
    assert!(answers[2]["error"].is_string());
    assert_eq!(answers[3]["error"], "no link has capacitance = -1");
    assert_eq!(answers[3]["id"], "dev-01");
    assert!(answers[4]["error"].as_str().unwrap().contains("relay"));
    assert_eq!(answers[5]["id"], "dev-02");
    assert!(answers[5]["v_dc_mean"].is_f64());
}

#[test]
fn every_name_of_the_reference_is_answered() {
    let file: Value = serde_json::from_str(CASES).unwrap();
    for entry in file["cases"].as_array().unwrap() {
        let answer: Value = serde_json::from_str(&answers(&format!("{entry}\n"), 1)[0]).unwrap();
        for name in entry["reference"].as_object().unwrap().keys() {
            assert!(
                answer.get(name).is_some(),
                "{}: {name}",
                entry["case"]["id"]
            );
        }
    }
}
