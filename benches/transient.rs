//! Time per on/off transient and per steady state, one thread.
//!
//! `cargo bench --bench transient`. Runs the twenty reference links, then ten thousand variations of them as a
//! Monte-Carlo run draws them; the shortest of several repetitions counts.

use std::hint::black_box;
use std::time::Duration;

use pilotwire_physics::transient::case::Case;
use pilotwire_physics::transient::{Link, simulate, steady_state};

const CASES: &str = include_str!("../tests/data/link-cases.json");
const REPETITIONS: usize = 7;
const SAMPLES: usize = 10_000;

fn main() {
    let file: serde_json::Value = serde_json::from_str(CASES).expect("the reference cases");
    let links: Vec<Link> = file["cases"]
        .as_array()
        .expect("cases")
        .iter()
        .map(|entry| {
            let case: Case = serde_json::from_value(entry["case"].clone()).expect("a case");
            case.link().expect("a link")
        })
        .collect();
    let samples: Vec<Link> = (0..SAMPLES)
        .map(|n| varied(links[n % links.len()], n))
        .collect();
    for (name, links, repetitions) in [
        ("reference", &links, 20 * REPETITIONS),
        ("varied", &samples, 2),
    ] {
        let on_off = shortest(repetitions, || {
            for link in links {
                let _ = black_box(simulate(black_box(link)));
            }
        });
        let steady = shortest(repetitions, || {
            for link in links {
                let _ = black_box(steady_state(black_box(link)));
            }
        });
        let failed = links.iter().filter(|link| simulate(link).is_err()).count();
        let each = |whole: Duration| whole.as_secs_f64() * 1e6 / links.len() as f64;
        println!(
            "{name:10} {:6} links  on/off {:7.1} us  steady state {:6.1} us  all {:.3} s  without answer {failed}",
            links.len(),
            each(on_off),
            each(steady),
            on_off.as_secs_f64(),
        );
    }
}

/// Mains ±10 %, capacitor −20…+20 %, coil ±10 %, thresholds ±15 %; multiples of irrational numbers
/// instead of a random generator.
fn varied(mut link: Link, n: usize) -> Link {
    let draw = |k: u32| (n as f64 * f64::from(k).sqrt()).fract() * 2.0 - 1.0;
    if let pilotwire_physics::transient::Source::Ac {
        rms_v, phase_rad, ..
    } = &mut link.source
    {
        *rms_v *= 1.0 + 0.1 * draw(2);
        *phase_rad += 3.0 * draw(3);
    }
    if let Some(capacitor) = &mut link.capacitor {
        capacitor.farad *= 1.0 + 0.2 * draw(5);
    }
    link.coil.ohm *= 1.0 + 0.1 * draw(7);
    link.coil.operate_a *= 1.0 + 0.15 * draw(11);
    link.coil.release_a *= 1.0 + 0.15 * draw(13);
    link
}

fn shortest(repetitions: usize, mut run: impl FnMut()) -> Duration {
    (0..repetitions)
        .map(|_| {
            #[expect(clippy::disallowed_methods, reason = "a bench measures time")]
            let start = std::time::Instant::now();
            run();
            start.elapsed()
        })
        .min()
        .unwrap_or_default()
}
