//! The plan and the season: every rule of the schedule with times worked out by hand, the cases that surprise
//! site owners, four whole sites, and laws that hold for any yard.

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
