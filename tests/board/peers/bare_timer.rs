//! A bare loop around a timer on the wall clock: the shortest possible time between an instant and an edge.
//!
//! `bare_timer LINE COUNT` switches the named line `COUNT` times, on, off, on, at the next full seconds.
//! With `-` for a line it switches nothing, and prints how late it was each time [µs].

use std::error::Error;

use gpiocdev::Request;
use gpiocdev::line::Value;
use rustix::time::{
    ClockId, Itimerspec, TimerfdClockId, TimerfdFlags, TimerfdTimerFlags, Timespec, clock_gettime,
    timerfd_create, timerfd_settime,
};

const NEVER: Timespec = Timespec {
    tv_sec: 0,
    tv_nsec: 0,
};

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = std::env::args().collect();
    let [_, name, count] = words.as_slice() else {
        return Err("bare_timer LINE COUNT".into());
    };
    let driven = match name.as_str() {
        "-" => None,
        name => {
            let line = gpiocdev::find_named_line(name).ok_or("no such line")?;
            let request = Request::builder()
                .with_found_line(&line)
                .as_output(Value::Inactive)
                .request()?;
            Some((request, line.info.offset))
        }
    };
    let timer = timerfd_create(TimerfdClockId::Realtime, TimerfdFlags::CLOEXEC)?;
    let first = clock_gettime(ClockId::Realtime).tv_sec + 2;
    let mut level = Value::Active;
    let mut expirations = [0; 8];
    for due in first..first + count.parse::<i64>()? {
        let at = Itimerspec {
            it_interval: NEVER,
            it_value: Timespec {
                tv_sec: due,
                tv_nsec: 0,
            },
        };
        timerfd_settime(
            &timer,
            TimerfdTimerFlags::ABSTIME | TimerfdTimerFlags::CANCEL_ON_SET,
            &at,
        )?;
        rustix::io::read(&timer, &mut expirations)?;
        if let Some((request, offset)) = &driven {
            request.set_value(*offset, level)?;
            level = level.not();
        } else {
            let now = clock_gettime(ClockId::Realtime);
            println!("{}", (now.tv_sec - due) * 1_000_000 + now.tv_nsec / 1000);
        }
    }
    Ok(())
}
