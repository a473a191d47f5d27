//! The service as its users meet it: the running program, with its socket and its log.
//!
//! These tests wait for a program that runs by the real clock; none of them measures how long that takes. The
//! engine and the rehearsal test switching times without a clock.

use std::io::{BufRead, BufReader, Read, Write};
use std::os::unix::fs::PermissionsExt;
use std::os::unix::net::UnixStream;
use std::path::{Path, PathBuf};
use std::process::{Output, Stdio};
use std::time::Duration;

use rustix::process::{Pid, Signal, kill_process};

use crate::support::program::{Running, program};
use crate::support::scratch::empty_folder;

/// The demo with a line for its head, and a clock that counts as set.
fn yard(folder: &Path) -> String {
    let proof = folder.join("clock-set");
    format!(
        "{}\n[[output]]\nzone = \"walk\"\nchip = \"gpiochip0\"\nline = 17\n\n[daemon]\nclock_proof = \"{}\"\n",
        include_str!("../config/linked-pair.toml"),
        proof.display()
    )
}

struct Service {
    running: Running,
    folder: PathBuf,
}

impl Service {
    /// A folder of its own, named after the test.
    fn folder(name: &str) -> PathBuf {
        let folder = empty_folder(&format!("service-{name}"));
        std::fs::write(folder.join("site.toml"), yard(&folder)).unwrap();
        std::fs::write(folder.join("clock-set"), "").unwrap();
        folder
    }

    fn start(name: &str) -> Self {
        Self::start_in(Self::folder(name))
    }

    fn start_in(folder: PathBuf) -> Self {
        Self::start_as(folder, &["run", "--print"])
    }

    fn start_as(folder: PathBuf, words: &[&str]) -> Self {
        let log = std::fs::File::create(folder.join("log")).unwrap();
        let out = std::fs::File::create(folder.join("out")).unwrap();
        let child = program()
            .args(words)
            .arg(folder.join("site.toml"))
            .arg("--socket")
            .arg(folder.join("socket"))
            .arg("--state-dir")
            .arg(folder.join("state"))
            .stdin(Stdio::null())
            .stdout(out)
            .stderr(log)
            .spawn()
            .unwrap();
        let service = Self {
            running: Running(child),
            folder,
        };
        service.until("it answers", |it| {
            it.ask(&["status"]).status.code() != Some(69)
        });
        service
    }

    fn socket(&self) -> PathBuf {
        self.folder.join("socket")
    }

    fn text(&self, file: &str) -> String {
        std::fs::read_to_string(self.folder.join(file)).unwrap_or_default()
    }

    /// Waits until a condition is true; how long that takes is not tested.
    fn until(&self, what: &str, so: impl Fn(&Self) -> bool) {
        for _ in 0..600 {
            if so(self) {
                return;
            }
            std::thread::sleep(Duration::from_millis(50));
        }
        panic!("{what}: never; the log:\n{}", self.text("log"));
    }

    fn ask(&self, words: &[&str]) -> Output {
        program()
            .args(words)
            .arg("--socket")
            .arg(self.socket())
            .output()
            .unwrap()
    }

    fn said(&self, words: &[&str]) -> String {
        let output = self.ask(words);
        String::from_utf8(output.stdout).unwrap() + &String::from_utf8(output.stderr).unwrap()
    }

    fn status(&self) -> serde_json::Value {
        let output = self.ask(&["status", "--format", "json"]);
        serde_json::from_slice(&output.stdout).unwrap()
    }

    fn signal(&self, signal: Signal) {
        kill_process(Pid::from_child(&self.running.0), signal).unwrap();
    }

    /// Stops the service; returns its exit code.
    fn stop(mut self) -> (Option<i32>, PathBuf) {
        self.signal(Signal::TERM);
        let code = self.running.0.wait().unwrap().code();
        (code, self.folder.clone())
    }
}

/// Sends these bytes over the socket, and reads until the other end closes.
fn raw(service: &Service, bytes: &[u8]) -> String {
    let mut stream = UnixStream::connect(service.socket()).unwrap();
    stream
        .set_read_timeout(Some(Duration::from_secs(30)))
        .unwrap();
    // The service may close before everything is written: its answer is what counts.
    let _ = stream.write_all(bytes);
    let _ = stream.shutdown(std::net::Shutdown::Write);
    let mut text = String::new();
    let _ = stream.read_to_string(&mut text);
    text
}

#[test]
fn a_zone_is_forced_and_released_and_all_of_it_is_told() {
    let service = Service::start("force");
    let held = service.said(&["force", "walk", "on", "--for", "1h30m"]);
    assert!(held.starts_with("walk held on until "), "{held}");
    service.until("it is lit", |it| it.status()["zones"][0]["driven"] == true);
    let status = service.status();
    assert_eq!(status["zones"][0]["held"], true);
    // The slave has no line and no input: its state is known from its master.
    service.until("the link is worked out", |it| {
        it.status()["zones"][1]["condition"] == "lit"
    });
    assert_eq!(service.status()["zones"][1]["known"], "predicted");
    let released = service.said(&["release", "walk"]);
    assert!(released.starts_with("walk released: "), "{released}");
    let again = service.said(&["release", "walk"]);
    assert_eq!(again, "walk was not held\n");
    let log = service.text("log");
    assert!(log.contains("held zone=\"walk\" what=\"held on\""), "{log}");
    assert!(log.contains("switched zone=\"walk\" what=\"on\""), "{log}");
    let printed = service.text("out");
    assert!(printed.contains("  walk     on  held until "), "{printed}");
    let history = service.said(&["history"]);
    assert!(history.contains("held on"), "{history}");
    assert!(history.contains("released"), "{history}");
}

#[test]
fn all_zones_are_forced_and_released_in_one_stroke() {
    let service = Service::start("all");
    let held = service.said(&["force", "--all", "on", "--for", "15m"]);
    assert!(held.starts_with("1 zone held on until "), "{held}");
    assert!(held.contains(": walk\n"), "{held}");
    assert!(held.contains("by wire: orchard\n"), "{held}");
    service.until("it is lit", |it| it.status()["zones"][0]["driven"] == true);
    let refused = service.ask(&["force", "on", "--all", "--for", "8h", "--until", "23:00"]);
    assert_eq!(refused.status.code(), Some(64), "one end is enough");
    for wrong in [
        &["force", "--all", "walk", "on"][..],
        &["force", "--all"],
        &["force", "on"],
        &["release"],
        &["release", "--all", "walk"],
    ] {
        assert_eq!(service.ask(wrong).status.code(), Some(64), "{wrong:?}");
    }
    let refused = service.ask(&["force", "--all", "on", "--for", "200h"]);
    assert_eq!(refused.status.code(), Some(1));
    let released = service.said(&["release", "--all"]);
    assert!(
        released.starts_with("1 zone released: walk o"),
        "{released}"
    );
    assert_eq!(service.said(&["release", "--all"]), "no zone was held\n");
    let history = service.said(&["history", "--zone", "walk"]);
    assert_eq!(history.matches("held on").count(), 1, "{history}");
}

#[test]
fn what_it_was_told_survives_its_death() {
    let service = Service::start("death");
    assert!(
        service
            .ask(&["force", "walk", "on", "--for", "2h"])
            .status
            .success()
    );
    service.until("it is lit", |it| it.status()["zones"][0]["driven"] == true);
    let folder = service.folder.clone();
    service.signal(Signal::KILL);
    drop(service);
    // The socket left behind must not be in the way.
    assert!(folder.join("socket").exists());
    let service = Service::start_in(folder);
    service.until("it is lit again", |it| {
        it.status()["zones"][0]["driven"] == true
    });
    assert_eq!(service.status()["zones"][0]["held"], true);
    assert_eq!(service.status()["zones"][0]["operations"], 2);
    let (code, folder) = service.stop();
    assert_eq!(code, Some(0));
    assert!(!folder.join("socket").exists());
    let printed = std::fs::read_to_string(folder.join("out")).unwrap();
    assert!(
        printed.contains("  walk     off  told to stop"),
        "{printed}"
    );
    // Without a service the history is read from the store.
    let history = program()
        .args(["history", "--format", "csv", "--state-dir"])
        .arg(folder.join("state"))
        .arg("--socket")
        .arg(folder.join("socket"))
        .output()
        .unwrap();
    let history = String::from_utf8(history.stdout).unwrap();
    assert_eq!(
        history.matches(",service,,started,").count(),
        2,
        "{history}"
    );
    assert_eq!(
        history.matches(",switched,walk,off,").count(),
        1,
        "{history}"
    );
}

#[test]
fn a_bad_new_site_file_leaves_the_old_one_in_force() {
    let service = Service::start("reload");
    let site = service.folder.join("site.toml");
    let good = std::fs::read_to_string(&site).unwrap();
    std::fs::write(&site, good.replace("civil_dusk", "civil_dsuk")).unwrap();
    let reload = service.ask(&["reload"]);
    assert_eq!(reload.status.code(), Some(1));
    let why = String::from_utf8(reload.stderr).unwrap();
    assert!(why.contains("the old one stays in force"), "{why}");
    assert!(why.contains("civil_dsuk"), "{why}");
    let alarms = service.status()["alarms"].to_string();
    assert!(
        alarms.contains("the new site file was not taken"),
        "{alarms}"
    );
    assert!(service.ask(&["force", "walk", "on"]).status.success());
    std::fs::write(&site, good.replace("\"walk\"", "\"path\"")).unwrap();
    service.signal(Signal::HUP);
    service.until("the new one is read", |it| {
        it.status()["zones"][0]["zone"] == "path"
    });
    assert_eq!(service.status()["alarms"], serde_json::json!([]));
    assert_eq!(service.ask(&["force", "walk", "on"]).status.code(), Some(1));
}

#[test]
fn what_is_no_request_is_refused_and_harms_nobody() {
    let service = Service::start("garbage");
    for (bytes, expected) in [
        (b"\n".to_vec(), "not understood"),
        (b"{}\n".to_vec(), "not understood"),
        (b"{\"do\":\"dance\"}\n".to_vec(), "unknown variant `dance`"),
        (
            b"{\"do\":\"release\",\"zone\":\"walk\",\"force\":1}\n".to_vec(),
            "unknown field",
        ),
        (b"\xff\xfe\x00\n".to_vec(), "not understood"),
        (b"{\"do\":\"status\"}".to_vec(), "not ended by a line feed"),
        (vec![b'['; 200_000], "longer than 64 kB"),
        (
            [
                b"{\"do\":\"status\",\"x\":".to_vec(),
                vec![b'['; 60_000],
                b"\n".to_vec(),
            ]
            .concat(),
            "recursion limit",
        ),
    ] {
        let answer = raw(&service, &bytes);
        assert!(answer.contains(expected), "{expected}: {answer}");
        assert!(answer.len() < 1000, "{answer}");
    }
    assert_eq!(service.status()["zones"][0]["zone"], "walk");
}

#[test]
fn what_is_asked_for_cannot_write_lines_of_the_log() {
    let service = Service::start("injection");
    let name = "walk\\n INFO switched zone=\\\"walk\\\" \\u001b[2Jwhat=\\\"on\\\"";
    let request = format!("{{\"do\":\"force\",\"zone\":\"{name}\",\"lit\":true}}\n");
    let answer = raw(&service, request.as_bytes());
    assert!(answer.contains("there is no zone"), "{answer}");
    let log = service.text("log");
    assert!(log.contains("asked uid="), "{log}");
    assert!(
        !log.lines()
            .any(|line| line.starts_with(" INFO switched zone=\"walk\"")),
        "{log}"
    );
    assert!(!log.contains('\u{1b}'), "{log}");
}

#[test]
fn clients_that_say_nothing_do_not_keep_others_out() {
    let service = Service::start("silent");
    let silent: Vec<_> = (0..20)
        .map(|_| UnixStream::connect(service.socket()).unwrap())
        .collect();
    // Eight connections are taken; after being silent for too long they are closed.
    service.until("a ninth is heard", |it| {
        it.ask(&["status"]).status.code() != Some(69)
    });
    drop(silent);
    let mut stream = UnixStream::connect(service.socket()).unwrap();
    stream
        .write_all(b"{\"do\":\"status\"}\n{\"do\":\"status\"}\n")
        .unwrap();
    let mut lines = BufReader::new(stream).lines();
    for _ in 0..2 {
        assert!(lines.next().unwrap().unwrap().starts_with("{\"status\":"));
    }
}

#[test]
fn the_socket_is_for_its_owner_and_group_and_for_one_service() {
    let service = Service::start("socket");
    let mode = std::fs::metadata(service.socket())
        .unwrap()
        .permissions()
        .mode();
    assert_eq!(mode & 0o777, 0o660);
    let second = program()
        .args(["run", "--print"])
        .arg(service.folder.join("site.toml"))
        .arg("--socket")
        .arg(service.socket())
        .output()
        .unwrap();
    assert_eq!(second.status.code(), Some(69));
    let why = String::from_utf8(second.stderr).unwrap();
    assert!(why.contains("another pilotwire answers on"), "{why}");
    assert!(service.ask(&["status"]).status.success());
}

#[test]
fn a_clock_in_doubt_is_said_and_darkens() {
    let folder = Service::folder("doubt");
    std::fs::remove_file(folder.join("clock-set")).unwrap();
    // Without --print, which trusts the clock: its line is lost where there is no such chip.
    let service = Service::start_as(folder, &["run"]);
    let status = service.status();
    // A machine whose kernel was given the time by a battery clock has no doubt.
    if status["clock"] == "good" {
        return;
    }
    assert_eq!(status["zones"][0]["wanted"], false);
    assert!(
        status["alarms"]
            .to_string()
            .contains("the clock is doubtful; ")
    );
    assert_eq!(service.ask(&["status"]).status.code(), Some(1));
    let refused = service.said(&["force", "walk", "on", "--until-next"]);
    assert!(refused.contains("say for how long"), "{refused}");
    std::fs::write(service.folder.join("clock-set"), "").unwrap();
    // Any wake-up looks at the line; this one is requested.
    assert!(
        service
            .ask(&["force", "walk", "off", "--for", "1s"])
            .status
            .success()
    );
    assert_eq!(service.status()["clock"], "good");
}

#[test]
fn a_damaged_store_does_not_stop_it() {
    let folder = Service::folder("damaged");
    std::fs::create_dir_all(folder.join("state")).unwrap();
    std::fs::write(folder.join("state/pilotwire.db"), "no database at all").unwrap();
    let service = Service::start_in(folder);
    let alarms = service.status()["alarms"].to_string();
    assert!(alarms.contains("store: "), "{alarms}");
    let forced = service.said(&["force", "walk", "on"]);
    assert!(forced.contains("walk held on"), "{forced}");
}

#[test]
fn readings_are_taken_judged_and_kept_and_a_new_site_file_is_worked_out_anew() {
    let service = Service::start("readings");
    let worked_out = |zone: &str| {
        let zone = format!("\n{zone}\n");
        move |it: &Service| it.said(&["readings"]).contains(&zone)
    };
    service.until("the points are worked out", worked_out("orchard"));
    let none = service.ask(&["readings"]);
    assert_eq!(none.status.code(), Some(0));
    let said = service.said(&["measured", "walk", "TP1=12,6"]);
    assert!(
        said.contains("1 reading of walk: as it should be"),
        "{said}"
    );
    assert!(!said.contains("not on the disk"), "{said}");
    let code = |words: &[&str]| service.ask(words).status.code();
    assert_eq!(code(&["measured", "walk", "TP1=12,6"]), Some(0));
    assert_eq!(code(&["readings"]), Some(0), "as it should be");
    let wrong = ["measured", "orchard", "TP11 pair=OL", "TP3 DC=0.1"];
    assert_eq!(code(&wrong), Some(1), "one of them is off");
    assert_eq!(code(&["measured", "orchard", "TP3 DC=much"]), Some(1));
    let off = service.said(&wrong);
    assert!(off.contains("2 readings of orchard: TP3 DC low"), "{off}");
    let readings = service.ask(&["readings"]);
    assert_eq!(readings.status.code(), Some(1), "some are off");
    let text = String::from_utf8(readings.stdout).unwrap();
    assert!(
        text.starts_with("1 of 3 readings is off: orchard/TP3 DC low"),
        "{text}"
    );
    assert!(
        text.lines().all(|line| line.chars().count() <= 80),
        "{text}"
    );
    let json = service.said(&["readings", "--format", "json"]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["zones"][0]["points"][0]["found"], "within");
    assert_eq!(json["off"], true);
    for (words, code, expected) in [
        (
            &["measured", "orchard", "TP3=1"][..],
            1,
            "perhaps TP3 DC or TP3 AC",
        ),
        (&["measured", "orchad", "TP2=1"], 1, "did you mean orchard?"),
        (&["measured", "orchard", "TP2=-1"], 1, "swap the probes"),
        (&["measured", "orchard", "TP2"], 64, "write it as"),
        (
            &["measured", "orchard", "TP2=1", "TP2=2"],
            64,
            "given twice",
        ),
        (&["measured", "orchard"], 64, "POINT=VALUE"),
    ] {
        let output = service.ask(words);
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(code), "{words:?}: {said}");
        assert!(said.contains(expected), "{words:?}: {said}");
    }
    let history = service.said(&["history"]);
    assert!(history.contains("2 readings"), "{history}");
    // The results for links and expected readings are worked out from the new file too.
    let site = service.folder.join("site.toml");
    let text = std::fs::read_to_string(&site).unwrap();
    std::fs::write(&site, text.replace("\"orchard\"", "\"grove\"")).unwrap();
    assert!(service.ask(&["reload"]).status.success());
    service.until("the new points are worked out", worked_out("grove"));
    let grove = service.status()["zones"][1]["why"].to_string();
    assert!(!grove.contains("not worked out yet"), "{grove}");
    let (code, folder) = service.stop();
    assert_eq!(code, Some(0));
    std::fs::write(&site, text).unwrap();
    let service = Service::start_in(folder);
    service.until("the points are worked out", worked_out("orchard"));
    let text = service.said(&["readings"]);
    assert!(
        text.starts_with("1 of 3 readings is off: orchard/TP3 DC low"),
        "{text}"
    );
}

#[test]
fn words_that_make_no_sense_are_told_so() {
    for (words, code, expected) in [
        (&["run"][..], 64, "run needs a site file"),
        (&["run", "no-such.toml"], 78, "cannot be read"),
        (
            &["force", "walk", "on", "--for", "30"],
            64,
            "write it as 90s, 30m, 2h or 1h30m",
        ),
        (
            &["force", "walk", "on", "--for", "30m", "--until", "22:00"],
            64,
            "cannot be used with",
        ),
        (&["force", "walk", "dim"], 64, "invalid value"),
        (
            &["status", "--socket", "/nonexistent/socket"],
            69,
            "no service answers on",
        ),
        (
            &[
                "history",
                "--state-dir",
                "/nonexistent",
                "--socket",
                "/nonexistent/socket",
            ],
            69,
            "/nonexistent",
        ),
    ] {
        let output = program().args(words).output().unwrap();
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(code), "{words:?}: {said}");
        assert!(said.contains(expected), "{words:?}: {said}");
    }
}
