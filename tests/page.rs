//! The page against intruders and against clients that block it; with the running program. Each case is one of
//! the usual ways to attack a small web server on a local network.

use std::fmt::Write as _;
use std::io::{Read, Write};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::Stdio;
use std::time::Duration;

use crate::support::program::{Running, program};
use crate::support::scratch::empty_folder;

mod readings;

/// Drawn at random for these tests.
const PASSWORD: &str = "k3Vn8qTz5YwR1cJx7bLd2Gma";

struct Page {
    _running: Running,
    at: SocketAddr,
    folder: PathBuf,
}

/// A port that is not in use.
fn free_port() -> u16 {
    TcpListener::bind("127.0.0.1:0")
        .unwrap()
        .local_addr()
        .unwrap()
        .port()
}

impl Page {
    fn start(name: &str, daemon: &str) -> Self {
        let pair = include_str!("../config/linked-pair.toml");
        let output = "\n[[output]]\nzone = \"walk\"\nchip = \"gpiochip0\"\nline = 17\n";
        Self::of(name, &format!("{pair}{output}"), daemon)
    }

    /// The page of a yard; the site file must not end with settings of the service.
    fn of(name: &str, yard: &str, daemon: &str) -> Self {
        let folder = empty_folder(&format!("page-{name}"));
        std::fs::write(folder.join("password"), format!("{PASSWORD}\n")).unwrap();
        let only_mine = std::fs::Permissions::from_mode(0o600);
        std::fs::set_permissions(folder.join("password"), only_mine).unwrap();
        let at = SocketAddr::from(([127, 0, 0, 1], free_port()));
        let site = format!(
            "{yard}\n[daemon]\nlisten = \"{at}\"\nclock_proof = \"/dev/null\"\n{}",
            daemon.replace("FOLDER", &folder.display().to_string()),
        );
        std::fs::write(folder.join("site.toml"), site).unwrap();
        Self::run(folder, at)
    }

    /// Runs the yard in a folder, and waits until its page listens.
    fn run(folder: PathBuf, at: SocketAddr) -> Self {
        let log = std::fs::File::create(folder.join("log")).unwrap();
        let child = program()
            .args(["run", "--print", "--page"])
            .arg(folder.join("site.toml"))
            .arg("--socket")
            .arg(folder.join("socket"))
            .arg("--state-dir")
            .arg(folder.join("state"))
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(log)
            .spawn()
            .unwrap();
        let page = Self {
            _running: Running(child),
            at,
            folder,
        };
        for _ in 0..6000 {
            // As long as the port is not in use, a connection may meet itself.
            let listens = TcpStream::connect(at)
                .is_ok_and(|stream| stream.local_addr().ok() != stream.peer_addr().ok());
            if listens {
                return page;
            }
            std::thread::sleep(Duration::from_millis(5));
        }
        panic!("no page: {}", page.log());
    }

    fn log(&self) -> String {
        std::fs::read_to_string(self.folder.join("log")).unwrap()
    }

    /// Sends this, and returns everything received.
    fn raw(&self, request: &[u8]) -> String {
        let mut stream = TcpStream::connect(self.at).unwrap();
        stream
            .set_read_timeout(Some(Duration::from_secs(30)))
            .unwrap();
        let _ = stream.write_all(request);
        let mut answer = Vec::new();
        let _ = stream.read_to_end(&mut answer);
        String::from_utf8_lossy(&answer).into_owned()
    }

    fn send(&self, method: &str, target: &str, headers: &[&str], body: &str) -> String {
        let mut request = format!("{method} {target} HTTP/1.1\r\nConnection: close\r\n");
        if !headers.iter().any(|header| header.starts_with("Host:")) {
            let _ = write!(request, "Host: {}\r\n", self.at);
        }
        for header in headers.iter().filter(|header| **header != "Host:") {
            let _ = write!(request, "{header}\r\n");
        }
        if !body.is_empty() {
            let _ = write!(request, "Content-Length: {}\r\n", body.len());
        }
        self.raw(format!("{request}\r\n{body}").as_bytes())
    }

    fn get(&self, target: &str) -> String {
        self.send("GET", target, &[], "")
    }
}

fn code(answer: &str) -> u16 {
    answer
        .strip_prefix("HTTP/1.1 ")
        .and_then(|rest| rest.get(..3))
        .and_then(|code| code.parse().ok())
        .unwrap_or(0)
}

const FORCE: &str = r#"{"do":"force","zone":"walk","lit":true,"until":{"for":60}}"#;
const JSON: &str = "Content-Type: application/json";
const OWN: &str = "Sec-Fetch-Site: same-origin";

#[test]
fn the_page_and_its_parts_are_served_small_and_closed() {
    let page = Page::start("served", "");
    let whole = page.get("/");
    assert_eq!(code(&whole), 200, "{whole}");
    for header in [
        "content-security-policy: default-src 'none'; ",
        "x-content-type-options: nosniff",
        "referrer-policy: no-referrer",
        "cache-control: no-store",
    ] {
        assert!(whole.contains(header), "{header}");
    }
    // Everything that the policy forbids: scripts and styles within, and anything from elsewhere.
    for within in [
        "<style",
        " style=",
        "onclick=",
        "http://",
        "https://",
        "javascript:",
    ] {
        assert!(!whole.contains(within), "{within}: {whole}");
    }
    for (target, kind) in [
        ("/page.css", "content-type: text/css"),
        ("/page.js", "content-type: text/javascript"),
        ("/metrics", "content-type: application/openmetrics-text"),
    ] {
        let answer = page.get(target);
        assert!(code(&answer) == 200 && answer.contains(kind), "{answer}");
    }
    assert!(page.get("/metrics").trim_end().ends_with("# EOF"));
    // A yard with one zone needs no button for all zones.
    assert!(!whole.contains(" data-all"), "{whole}");
    for target in [
        "/nothing",
        "/../etc/passwd",
        "/%2e%2e%2fetc/passwd",
        "/page.css/..%2f..%2fetc%2fpasswd",
    ] {
        assert_eq!(code(&page.get(target)), 404, "{target}");
    }
    for method in ["DELETE", "PUT", "OPTIONS", "TRACE", "PATCH"] {
        let answer = page.send(method, "/", &[OWN, JSON], "");
        assert!([405, 403].contains(&code(&answer)), "{method}: {answer}");
    }
}

/// A browser that loads the page while the board starts keeps that answer: nothing loads it again.
#[test]
fn a_browser_that_comes_before_the_first_look_at_the_yard_is_shown_the_yard() {
    for start in 0..10 {
        let page = Page::start("early", "");
        let whole = page.get("/");
        assert_eq!(code(&whole), 200, "start {start}: {whole}");
    }
}

/// Loads the page as a browser does: headers, page, style and script.
fn first_load(page: &Page) -> usize {
    let parts = ["/", "/page.css", "/page.js"];
    parts.map(|part| page.get(part).len()).iter().sum()
}

#[test]
fn a_first_load_is_at_most_60_kb() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("config");
    let mut yards = Vec::new();
    for file in std::fs::read_dir(folder).unwrap() {
        let path = file.unwrap().path();
        if path.extension().is_some_and(|ending| ending == "toml") {
            let text = std::fs::read_to_string(&path).unwrap();
            let name = path.file_stem().unwrap().to_string_lossy().into_owned();
            // If the yard has settings of its own, they come last.
            let yard = text.split("\n[daemon]").next().unwrap().to_owned();
            yards.push((name, yard));
        }
    }
    assert!(yards.len() >= 5);
    for (name, yard) in &yards {
        let page = Page::of(&format!("first-{name}"), yard, "");
        let bytes = first_load(&page);
        println!("{name}: {bytes} bytes");
        assert!((5_000..=60_000).contains(&bytes), "{name}: {bytes}");
    }
    // Thirty zones that can be forced; twenty of them just were.
    let mut yard = include_str!("../config/linked-pair.toml").to_owned();
    for n in 1..=28 {
        let _ = write!(
            yard,
            "\n[[zone]]\nname = \"terrace-{n}\"\nsupply = \"house\"\non = \"civil_dusk + {n} min\"\noff = \"23:15\"\n\
             minimum_lit = \"0 s\"\nminimum_dark = \"0 s\"\n\
             [[lamp]]\nzone = \"terrace-{n}\"\ncount = 2\npower = \"3 W\"\naccepts = [\"dc\"]\n\
             [[output]]\nzone = \"terrace-{n}\"\nchip = \"gpiochip0\"\nline = {n}\n"
        );
    }
    let page = Page::of("first-thirty", &yard, "stagger = \"0 s\"\n");
    for n in 1..=20 {
        let force = FORCE.replace("walk", &format!("terrace-{n}"));
        assert_eq!(code(&page.send("POST", "/do", &[JSON, OWN], &force)), 200);
    }
    let whole = page.get("/");
    assert_eq!(whole.matches("<article class=\"zone\"").count(), 30);
    assert_eq!(whole.matches(" data-all").count(), 1);
    // A zone that follows joins in once its link is worked out.
    let next = whole.matches("<b>On at ").count() + whole.matches("<b>Off at ").count();
    assert!([29, 30].contains(&next), "each is next switched: {next}");
    assert_eq!(whole.matches("<li><time ").count(), 30, "{whole}");
    let bytes = first_load(&page);
    println!("thirty zones, thirty events: {bytes} bytes");
    assert!((5_000..=60_000).contains(&bytes), "{bytes}");
}

#[test]
fn only_its_own_names_reach_it() {
    let page = Page::start("names", "page_host = \"board.example\"\n");
    let port = page.at.port();
    let good = [
        format!("127.0.0.1:{port}"),
        format!("localhost:{port}"),
        format!("LOCALHOST:{port}"),
        format!("board.example:{port}"),
    ];
    for host in &good {
        assert_eq!(
            code(&page.send("GET", "/", &[&format!("Host: {host}")], "")),
            200,
            "{host}"
        );
    }
    let evil = [
        "evil.example".to_owned(),
        format!("evil.example:{port}"),
        format!("127.0.0.1.evil.example:{port}"),
        format!("board.example.evil.example:{port}"),
        format!("board.example:{port}@evil.example"),
        format!("evil.example@board.example:{port}"),
        "127.0.0.1".to_owned(),
        format!("127.0.0.1:{}", port ^ 1),
        format!("0.0.0.0:{port}"),
        format!("[::1]:{port}"),
        String::new(),
    ];
    for host in &evil {
        let answer = page.send("GET", "/", &[&format!("Host: {host}")], "");
        assert!([421, 400].contains(&code(&answer)), "{host}: {answer}");
    }
    // The target overrules the header (RFC 9112, 3.2.2).
    let absolute = format!("http://evil.example:{port}/");
    assert_eq!(code(&page.send("GET", &absolute, &[], "")), 421);
    let absolute = format!("http://{}/", page.at);
    assert_eq!(code(&page.send("GET", &absolute, &[], "")), 200);
    assert_eq!(
        code(&page.send("GET", &absolute, &["Host: evil.example"], "")),
        421
    );
    let two = [&*format!("Host: {}", page.at), "Host: evil.example"];
    assert!([421, 400].contains(&code(&page.send("GET", "/", &two, ""))));
    assert!([421, 400].contains(&code(&page.send("GET", "/", &["Host:"], ""))));
}

#[test]
fn only_the_page_itself_may_change_anything() {
    let page = Page::start("changes", "");
    let own_origin = format!("Origin: http://{}", page.at);
    for (headers, expected) in [
        (vec![JSON, OWN], 200),
        (vec![JSON, &*own_origin], 200),
        (vec![JSON, "x-pilotwire: 1"], 200),
        (
            vec!["Content-Type: application/json; charset=utf-8", OWN],
            200,
        ),
        (vec![JSON], 403),
        (vec![JSON, "Sec-Fetch-Site: cross-site"], 403),
        (vec![JSON, "Sec-Fetch-Site: same-site"], 403),
        (vec![JSON, "Sec-Fetch-Site: none"], 403),
        (vec![JSON, "Sec-Fetch-Site: cross-site", &*own_origin], 403),
        (vec![JSON, "Origin: http://evil.example"], 403),
        (vec![JSON, "Origin: null"], 403),
        (
            vec![JSON, "Origin: http://evil.example", "x-pilotwire: 1"],
            403,
        ),
        (vec!["Content-Type: text/plain", OWN], 415),
        (
            vec!["Content-Type: application/x-www-form-urlencoded", OWN],
            415,
        ),
        (vec!["Content-Type: multipart/form-data", OWN], 415),
        (vec![OWN], 415),
    ] {
        let answer = page.send("POST", "/do", &headers, FORCE);
        assert_eq!(code(&answer), expected, "{headers:?}: {answer}");
    }
    assert_eq!(code(&page.get("/do")), 405);
    for (body, expected) in [
        ("{\"do\":\"release\",\"zone\":\"walk\"}", 200),
        ("{\"do\":\"release\",\"zone\":\"nobody\"}", 409),
        (
            "{\"do\":\"force-all\",\"lit\":true,\"until\":{\"for\":900}}",
            200,
        ),
        (
            "{\"do\":\"force-all\",\"lit\":true,\"until\":{\"for\":0}}",
            409,
        ),
        ("{\"do\":\"release-all\"}", 200),
        // A request that names a zone does not mean all zones.
        ("{\"do\":\"force-all\",\"zone\":\"walk\",\"lit\":true}", 422),
        ("{\"do\":\"release-all\",\"zone\":\"walk\"}", 422),
        ("{\"do\":\"force-all\"}", 422),
        ("{\"do\":\"reload\"}", 403),
        ("{\"do\":\"trust-clock\"}", 403),
        ("{\"do\":\"history\"}", 403),
        ("{\"do\":\"readings\"}", 403),
        (
            "{\"do\":\"force\",\"zone\":\"walk\",\"lit\":true,\"more\":1}",
            422,
        ),
        ("{", 422),
        ("\u{0}", 422),
    ] {
        let answer = page.send("POST", "/do", &[JSON, OWN], body);
        assert_eq!(code(&answer), expected, "{body}: {answer}");
    }
    let deep = format!("{{\"do\":{}", "[".repeat(1900));
    assert_eq!(code(&page.send("POST", "/do", &[JSON, OWN], &deep)), 422);
    let large = format!("{{\"do\":\"{}\"}}", "x".repeat(5000));
    assert_eq!(code(&page.send("POST", "/do", &[JSON, OWN], &large)), 413);
}

#[test]
fn what_is_sent_cannot_write_lines_of_the_log_or_marks_of_the_page() {
    let page = Page::start("injection", "");
    let name = "<script>alert(1)</script>\\n INFO switched zone=\\\"walk\\\"\\u001b[2J";
    let body = format!("{{\"do\":\"release\",\"zone\":\"{name}\"}}");
    let answer = page.send("POST", "/do", &[JSON, OWN], &body);
    assert_eq!(code(&answer), 409);
    assert!(
        answer.contains("content-type: application/json"),
        "{answer}"
    );
    let log = page.log();
    assert!(log.contains("asked by the page"), "{log}");
    assert!(!log.contains('\u{1b}'), "{log}");
    assert!(
        !log.lines().any(|line| line.starts_with(" INFO switched")),
        "{log}"
    );
    assert!(!page.get("/").contains("<script>alert"));
}

#[test]
fn floods_of_headers_end() {
    let page = Page::start("headers", "");
    let many: Vec<String> = (0..100).map(|n| format!("X-{n}: 1")).collect();
    let many: Vec<&str> = many.iter().map(String::as_str).collect();
    assert_eq!(code(&page.send("GET", "/", &many, "")), 431);
    let long = format!("X-Long: {}", "x".repeat(40_000));
    assert_eq!(code(&page.send("GET", "/", &[&long], "")), 431);
    let long = format!("/{}", "x".repeat(40_000));
    assert!([414, 431].contains(&code(&page.get(&long))));
}

#[test]
fn slow_clients_and_silent_ones_are_let_go_and_keep_nobody_out() {
    let page = Page::start("slow", "");
    let mut half: Vec<TcpStream> = (0..40)
        .map(|_| {
            let mut stream = TcpStream::connect(page.at).unwrap();
            stream.write_all(b"GET / HTTP/1.1\r\nHost: x\r\n").unwrap();
            stream
        })
        .collect();
    // The server closes all forty in turn, sixteen at a time, and then serves the next client. A server without
    // a limit would never get to that client, and its wait would end without an answer.
    let answer = page.get("/healthz");
    assert_eq!(code(&answer), 200);
    half[0]
        .set_read_timeout(Some(Duration::from_secs(30)))
        .unwrap();
    let mut rest = Vec::new();
    let _ = half[0].read_to_end(&mut rest);
    // A body that never comes.
    let request = format!(
        "POST /do HTTP/1.1\r\nHost: {}\r\n{JSON}\r\n{OWN}\r\nContent-Length: 100\r\n\r\n{{",
        page.at
    );
    let answer = page.raw(request.as_bytes());
    assert!([408, 0].contains(&code(&answer)), "{answer}");
}

#[test]
fn listeners_that_never_read_are_eight_at_most() {
    let page = Page::start("listeners", "");
    let listeners: Vec<TcpStream> = (0..8)
        .map(|_| {
            let mut stream = TcpStream::connect(page.at).unwrap();
            let request = format!("GET /events HTTP/1.1\r\nHost: {}\r\n\r\n", page.at);
            stream.write_all(request.as_bytes()).unwrap();
            let mut first = [0; 15];
            stream.read_exact(&mut first).unwrap();
            assert_eq!(&first, b"HTTP/1.1 200 OK");
            stream
        })
        .collect();
    assert_eq!(code(&page.get("/events")), 503);
    // Other clients are served, and events go on.
    for _ in 0..50 {
        assert_eq!(code(&page.send("POST", "/do", &[JSON, OWN], FORCE)), 200);
    }
    assert_eq!(code(&page.get("/")), 200);
    drop(listeners);
    for _ in 0..200 {
        let mut stream = TcpStream::connect(page.at).unwrap();
        let request = format!("GET /events HTTP/1.1\r\nHost: {}\r\n\r\n", page.at);
        stream.write_all(request.as_bytes()).unwrap();
        let mut first = [0; 12];
        stream.read_exact(&mut first).unwrap();
        if &first == b"HTTP/1.1 200" {
            return;
        }
        std::thread::sleep(Duration::from_millis(100));
    }
    panic!("their seats are never free again");
}

#[test]
fn news_come_as_they_happen() {
    let page = Page::start("news", "");
    let mut stream = TcpStream::connect(page.at).unwrap();
    stream
        .set_read_timeout(Some(Duration::from_secs(30)))
        .unwrap();
    let request = format!("GET /events HTTP/1.1\r\nHost: {}\r\n\r\n", page.at);
    stream.write_all(request.as_bytes()).unwrap();
    assert_eq!(code(&page.send("POST", "/do", &[JSON, OWN], FORCE)), 200);
    let mut told = String::new();
    let mut part = [0; 4096];
    while !told.contains("held on") {
        let count = stream.read(&mut part).unwrap();
        assert_ne!(count, 0, "{told}");
        told += &String::from_utf8_lossy(&part[..count]);
    }
    assert!(told.contains("content-type: text/event-stream"), "{told}");
}

/// A client that is answered "held" and looks at the page sees it held: the answer does not run ahead of the
/// page.
#[test]
fn what_was_answered_is_what_the_page_shows_next() {
    let page = Page::start("next", "");
    for _ in 0..50 {
        for (body, held) in [
            (FORCE, true),
            ("{\"do\":\"release\",\"zone\":\"walk\"}", false),
        ] {
            assert_eq!(code(&page.send("POST", "/do", &[JSON, OWN], body)), 200);
            let next = page.get("/");
            // What happened before stands further down.
            let (zones, _) = next.split_once("id=\"tonight\"").unwrap();
            assert_eq!(zones.contains("held until"), held, "{next}");
        }
    }
}

/// Waits for the page to show the finished `check`.
fn once_checked(page: &Page, says: &str) -> String {
    for _ in 0..100 {
        let now = page.get("/");
        if now.contains(says) {
            return now;
        }
        std::thread::sleep(Duration::from_millis(100));
    }
    panic!("never says {says:?}: {}", page.get("/"));
}

#[test]
fn a_yard_that_must_not_be_built_is_not_as_it_should_be() {
    let page = Page::of("no-go", include_str!("../config/too-far.toml"), "");
    let now = once_checked(&page, "check says NO-GO: S19 link ");
    assert!(now.contains("<title>1 alarm"), "{now}");
    assert!(!now.contains("All as it should be"), "{now}");
    assert!(page.log().contains("check says NO-GO"), "{}", page.log());
    // A caution is not an alarm, but the page shows it.
    let page = Page::of("warned", include_str!("../config/hot-wall.toml"), "");
    let now = once_checked(&page, "Check: 2 warnings, see `pilotwire check`");
    assert!(now.contains("All as it should be"), "{now}");
    assert!(now.contains("(predicted)"), "{now}");
}

#[test]
fn with_a_password_nothing_is_seen_or_done_without_it() {
    let page = Page::start("password", "page_token = \"FOLDER/password\"\n");
    for target in [
        "/",
        "/readings",
        "/readings.js",
        "/metrics",
        "/events",
        "/page.js",
        "/nothing",
    ] {
        assert_eq!(code(&page.get(target)), 401, "{target}");
    }
    assert_eq!(code(&page.get("/healthz")), 200);
    assert_eq!(code(&page.send("POST", "/do", &[JSON, OWN], FORCE)), 401);
    assert!(
        page.get("/")
            .contains("<form method=\"post\" action=\"/sign-in\">")
    );
    let bearer = format!("Authorization: Bearer {PASSWORD}");
    assert_eq!(code(&page.send("GET", "/", &[&bearer], "")), 200);
    assert_eq!(
        code(&page.send("POST", "/do", &[JSON, OWN, &bearer], FORCE)),
        200
    );
    // The password alone does not make a foreign page one of its own.
    let foreign = [JSON, "Sec-Fetch-Site: cross-site", &bearer];
    assert_eq!(code(&page.send("POST", "/do", &foreign, FORCE)), 403);
    let form = "Content-Type: application/x-www-form-urlencoded";
    let answer = page.send(
        "POST",
        "/sign-in",
        &[form, OWN],
        &format!("password={PASSWORD}"),
    );
    assert_eq!(code(&answer), 303, "{answer}");
    let cookie = answer
        .lines()
        .find_map(|line| line.strip_prefix("set-cookie: "))
        .unwrap();
    for part in ["HttpOnly", "SameSite=Strict", "Path=/"] {
        assert!(cookie.contains(part), "{cookie}");
    }
    let cookie = format!("Cookie: other=1; {}", cookie.split(';').next().unwrap());
    assert_eq!(code(&page.send("GET", "/", &[&cookie], "")), 200);
}

/// 132 bits cannot be guessed, so wrong passwords are not counted: nothing that a stranger sends keeps the owner out.
#[test]
fn every_wrong_password_is_refused_and_none_keeps_the_owner_out() {
    let page = Page::start("guess", "page_token = \"FOLDER/password\"\n");
    let asked_with = |password: &str| {
        let bearer = format!("Authorization: Bearer {password}");
        code(&page.send("GET", "/", &[&bearer], ""))
    };
    let form = "Content-Type: application/x-www-form-urlencoded";
    let sent = |password: &str| {
        let body = format!("password={password}");
        code(&page.send("POST", "/sign-in", &[form, OWN], &body))
    };
    let near = [
        String::new(),
        PASSWORD[1..].to_owned(),
        PASSWORD[..PASSWORD.len() - 1].to_owned(),
        format!("{PASSWORD}x"),
        PASSWORD.to_lowercase(),
        "x".repeat(PASSWORD.len()),
        "x".repeat(4000),
    ];
    for wrong in near.iter().cycle().take(100) {
        assert_eq!(asked_with(wrong), 401, "{wrong}");
        assert_eq!(sent(wrong), 401, "{wrong}");
    }
    assert_eq!(asked_with(PASSWORD), 200);
    assert_eq!(sent(PASSWORD), 303);
}

#[test]
fn where_others_reach_it_there_is_no_page_without_a_password_and_the_lights_go_on() {
    for (name, change, expected) in [
        ("open", "", "give it a password"),
        ("short", "short", "too easy to guess"),
        ("readable", "readable", "may be read by others"),
    ] {
        let folder = empty_folder(&format!("page-refused-{name}"));
        let file = folder.join("password");
        std::fs::write(&file, if change == "short" { "1234" } else { PASSWORD }).unwrap();
        let mode = if change == "readable" { 0o644 } else { 0o600 };
        std::fs::set_permissions(&file, std::fs::Permissions::from_mode(mode)).unwrap();
        let token = match change {
            "" => String::new(),
            _ => format!("page_token = \"{}\"\n", file.display()),
        };
        let port = free_port();
        let site = format!(
            "{}\n[daemon]\nlisten = \"0.0.0.0:{port}\"\n{token}",
            include_str!("../config/linked-pair.toml")
        );
        std::fs::write(folder.join("site.toml"), site).unwrap();
        let log = std::fs::File::create(folder.join("log")).unwrap();
        let mut child = program()
            .args(["run", "--print", "--page"])
            .arg(folder.join("site.toml"))
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(log)
            .spawn()
            .unwrap();
        let mut said = String::new();
        for _ in 0..600 {
            said = std::fs::read_to_string(folder.join("log")).unwrap();
            if said.contains("no page") {
                break;
            }
            std::thread::sleep(Duration::from_millis(50));
        }
        assert!(said.contains(expected), "{name}: {said}");
        assert!(TcpStream::connect(("127.0.0.1", port)).is_err(), "{name}");
        assert!(child.try_wait().unwrap().is_none(), "{name}: it runs on");
        child.kill().unwrap();
        child.wait().unwrap();
    }
}
