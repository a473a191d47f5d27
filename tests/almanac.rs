//! The promises of the sun almanac, each against a source of its own.

use chrono::{DateTime, NaiveDate, Utc};
use pilotwire::almanac::{Occurrence, Place, SolarDay, SunEvent};

/// One line of a table of events.
struct Row {
    text: &'static str,
    place: Place,
    date: NaiveDate,
    event: SunEvent,
    /// Expected instant and rate of climb [″/s]; nothing where the event does not happen.
    expected: Option<(DateTime<Utc>, f64)>,
}

fn rows(csv: &'static str) -> impl Iterator<Item = Row> {
    csv.lines().skip(1).map(|text| {
        let cells: Vec<&str> = text.split(',').collect();
        Row {
            text,
            place: Place::new(cells[0].parse().unwrap(), cells[1].parse().unwrap()).unwrap(),
            date: cells[2].parse().unwrap(),
            event: SunEvent::from_name(cells[3]).unwrap(),
            expected: (!cells[4].is_empty()).then(|| {
                (
                    cells[4].parse().unwrap(),
                    cells[5].parse::<f64>().unwrap().abs(),
                )
            }),
        }
    })
}

fn seconds_between(a: DateTime<Utc>, b: DateTime<Utc>) -> f64 {
    (a - b).num_microseconds().unwrap() as f64 * 1e-6
}

#[test]
fn scratch() {
    for (name, csv) in [
        ("sun", include_str!("data/sun.csv")),
        ("long", include_str!("data/sun-1950-2050.csv")),
    ] {
        let (mut n, mut missed, mut invented, mut over) = (0, 0, 0, 0);
        let mut worst = 0f64;
        let mut steep = 0f64;
        let mut arc = 0f64;
        let mut sum = 0.0;
        let mut arcsum = 0.0;
        for row in rows(csv) {
            n += 1;
            let found = SolarDay::new(row.place, row.date).unwrap().event(row.event);
            match (found, row.expected) {
                (Occurrence::At(t), Some((e, slope))) => {
                    let dt = seconds_between(t, e);
                    sum += dt;
                    arcsum += (dt * slope).powi(2);
                    worst = worst.max(dt.abs());
                    if slope > 2.0 {
                        steep = steep.max(dt.abs());
                    }
                    arc = arc.max(dt.abs() * slope);
                    if dt.abs() > (3.0 / slope).max(0.5) {
                        over += 1;
                        if over < 20 {
                            println!("{dt} {}", row.text);
                        }
                    }
                }
                (Occurrence::At(_), None) => {
                    invented += 1;
                    println!("inv {}", row.text);
                }
                (_, Some(_)) => {
                    missed += 1;
                    println!("miss {}", row.text);
                }
                _ => {}
            }
        }
        println!(
            "{name}: n {n} missed {missed} invented {invented} over {over} worst {worst:.3} s, steep {steep:.3} s, {arc:.3} arcsec mean {:.4} rms arc {:.4}",
            sum / n as f64,
            (arcsum / n as f64).sqrt()
        );
    }
}
