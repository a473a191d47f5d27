//! The plan and the season: every rule of the schedule with times worked out by hand, the cases that site owners trip
//! over, four whole sites, and laws that hold for any yard.

#[expect(
    dead_code,
    reason = "the tests of local time use more of the private database"
)]
#[path = "../local_time/frozen.rs"]
mod frozen;

mod calendar;
mod clock_changes;
mod dates;
mod followers;
mod laws;
mod moments;
mod nights;
mod program;
mod seasons;
mod sky;
mod twilight;
mod words;
mod worked_sites;
mod yard;
