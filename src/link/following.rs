//! What a slave does on the evenings of each month, for the plan.

use chrono::{Datelike, Month, NaiveDate};

/// What the slave of a link does when its master switches, on one evening.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Following {
    /// It follows, after these delays.
    Follows {
        /// From master on to slave lit [s].
        on_delay_s: f64,
        /// From master off to slave dark [s].
        off_delay_s: f64,
    },
    /// Its relay does not pull in.
    StaysDark,
    /// Its relay does not let go.
    StaysLit,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FollowingByMonth([Following; 12]);

impl FollowingByMonth {
    /// The same in every month.
    pub fn all_year(following: Following) -> Self {
        Self([following; 12])
    }

    /// Asks `of_month` for every month.
    ///
    /// # Errors
    /// The first error of `of_month`.
    pub fn new<E>(mut of_month: impl FnMut(Month) -> Result<Following, E>) -> Result<Self, E> {
        let mut month = Month::January;
        let mut months = [of_month(month)?; 12];
        for following in &mut months[1..] {
            month = month.succ();
            *following = of_month(month)?;
        }
        Ok(Self(months))
    }

    pub fn on(&self, evening: NaiveDate) -> Following {
        self.0[evening.month0() as usize]
    }
}
