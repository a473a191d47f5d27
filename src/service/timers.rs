//! Timers of the kernel, and a bell between threads.

use std::os::fd::OwnedFd;
use std::sync::Arc;
use std::time::Duration;

use chrono::{DateTime, Utc};
use rustix::event::{EventfdFlags, eventfd};
use rustix::io::{Errno, read, write};
use rustix::time::{
    Itimerspec, TimerfdClockId, TimerfdFlags, TimerfdTimerFlags, Timespec, timerfd_create,
    timerfd_settime,
};

/// A bell that wakes the control thread: rung at one end, heard at the other.
pub(super) fn bell() -> Result<(Arc<OwnedFd>, Arc<OwnedFd>), Errno> {
    let bell = Arc::new(eventfd(0, EventfdFlags::NONBLOCK | EventfdFlags::CLOEXEC)?);
    Ok((Arc::clone(&bell), bell))
}

/// Rings it.
pub(super) fn ring(bell: &OwnedFd) {
    // Full only if it has been rung 2^64 times unheard.
    let _ = write(bell, &1_u64.to_ne_bytes());
}

/// Takes away what made it readable.
pub(super) fn quiet(fd: &OwnedFd) -> Result<(), Errno> {
    let mut count = [0; 8];
    match read(fd, &mut count) {
        Ok(_) | Err(Errno::AGAIN) => Ok(()),
        Err(error) => Err(error),
    }
}

/// Goes off when the wall clock shows a time, and when somebody sets it.
pub(super) struct WallTimer(OwnedFd);

/// Goes off so long after the board was started.
pub(super) struct BootTimer(OwnedFd);

fn create(clock: TimerfdClockId) -> Result<OwnedFd, Errno> {
    timerfd_create(clock, TimerfdFlags::NONBLOCK | TimerfdFlags::CLOEXEC)
}

fn once(at: Timespec) -> Itimerspec {
    Itimerspec {
        it_interval: Timespec {
            tv_sec: 0,
            tv_nsec: 0,
        },
        it_value: at,
    }
}

impl WallTimer {
    pub(super) fn new() -> Result<Self, Errno> {
        create(TimerfdClockId::Realtime).map(Self)
    }

    pub(super) fn fd(&self) -> &OwnedFd {
        &self.0
    }

    /// Arms it; at once if that is past. Whether the clock was set since it was last looked at: it is
    /// armed all the same.
    pub(super) fn arm(&self, at: DateTime<Utc>) -> Result<bool, Errno> {
        // Zero would disarm it.
        let at = Timespec {
            tv_sec: at.timestamp().max(1),
            tv_nsec: i64::from(at.timestamp_subsec_nanos()),
        };
        let flags = TimerfdTimerFlags::ABSTIME | TimerfdTimerFlags::CANCEL_ON_SET;
        match timerfd_settime(&self.0, flags, &once(at)) {
            Ok(_) => Ok(false),
            Err(Errno::CANCELED) => Ok(true),
            Err(error) => Err(error),
        }
    }

    /// Takes away what made it readable. Whether it went off, or the clock was set, is no matter: both
    /// mean that it is time to look.
    pub(super) fn quiet(&self) -> Result<(), Errno> {
        match quiet(&self.0) {
            Err(Errno::CANCELED) => Ok(()),
            other => other,
        }
    }
}

impl BootTimer {
    pub(super) fn new() -> Result<Self, Errno> {
        create(TimerfdClockId::Boottime).map(Self)
    }

    pub(super) fn fd(&self) -> &OwnedFd {
        &self.0
    }

    pub(super) fn arm(&self, at: Duration) -> Result<(), Errno> {
        let at = Timespec {
            tv_sec: i64::try_from(at.as_secs()).unwrap_or(i64::MAX),
            tv_nsec: i64::from(at.subsec_nanos()).max(1),
        };
        timerfd_settime(&self.0, TimerfdTimerFlags::ABSTIME, &once(at)).map(|_| ())
    }

    pub(super) fn quiet(&self) -> Result<(), Errno> {
        quiet(&self.0)
    }
}
