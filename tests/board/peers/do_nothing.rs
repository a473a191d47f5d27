//! The smallest possible service of `Type=notify`: it reports that it is ready, and sleeps.

fn main() -> std::io::Result<()> {
    sd_notify::notify(&[sd_notify::NotifyState::Ready])?;
    loop {
        std::thread::park();
    }
}
