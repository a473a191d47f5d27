//! The least that a service of `Type=notify` can do: it says that it is ready, and sleeps.

fn main() -> std::io::Result<()> {
    sd_notify::notify(&[sd_notify::NotifyState::Ready])?;
    loop {
        std::thread::park();
    }
}
