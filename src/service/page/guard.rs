//! Who may look and who may switch.
//!
//! A browser can be made to ask anything of an address it reaches, so three things are looked at: that
//! the request names the page by one of its own names (a stranger's name that points here is refused),
//! that the page itself sent what changes something, and, where others than this machine reach the page,
//! that the client knows the password.

use std::collections::HashMap;
use std::net::{IpAddr, SocketAddr};
use std::sync::Mutex;
use std::time::Duration;

use axum::extract::Request;
use axum::http::{HeaderMap, Method, StatusCode, header};
use subtle::ConstantTimeEq;

use crate::page;
use crate::service::clock;

use super::Refusal;

/// The name of the cookie that the word is kept in.
const COOKIE: &str = "pilotwire";

/// So many wrong words in a row cost nothing.
const FREE_FAILURES: u32 = 5;

/// The longest that somebody who guesses has to wait [s].
const LONGEST_WAIT_S: u64 = 3600;

/// So many who guess are remembered; the oldest are forgotten.
const MOST_GUESSERS: usize = 1024;

/// Least length of a word: 22 letters and digits of 64 kinds are 132 bits.
const LEAST_LETTERS: usize = 22;

/// The word that opens the page.
#[derive(Clone)]
pub(in crate::service) struct Token(String);

impl Token {
    /// A word, if it is long enough that nobody guesses it.
    pub(in crate::service) fn new(text: &str) -> Result<Self, String> {
        let word = text.trim();
        let fits = |c: char| c.is_ascii_alphanumeric() || c == '-' || c == '_';
        if !word.chars().all(fits) {
            return Err("has other characters than letters, digits, - and _".into());
        }
        let kinds: std::collections::BTreeSet<char> = word.chars().collect();
        if word.len() < LEAST_LETTERS || kinds.len() < 8 {
            return Err(format!(
                "is too easy to guess: it needs {LEAST_LETTERS} letters and digits drawn at random"
            ));
        }
        Ok(Self(word.to_owned()))
    }

    fn is(&self, word: &[u8]) -> bool {
        self.0.as_bytes().ct_eq(word).into()
    }
}

/// Who has guessed wrong, how often, and when they may again.
#[derive(Debug, Clone, Copy)]
struct Guesser {
    failures: u32,
    last: Duration,
}

impl Guesser {
    fn waits_s(&self) -> u64 {
        match self.failures.checked_sub(FREE_FAILURES) {
            None => 0,
            Some(beyond) => (1_u64 << beyond.min(16)).min(LONGEST_WAIT_S),
        }
    }
}

/// Looks at every request.
pub(super) struct Guard {
    token: Option<Token>,
    host: Option<String>,
    guessers: Mutex<HashMap<IpAddr, Guesser>>,
}

fn refuse(code: StatusCode, text: &str) -> Refusal {
    Refusal {
        code,
        text: text.to_owned(),
        retry_after_s: None,
        door: false,
    }
}

impl Guard {
    pub(super) fn new(token: Option<Token>, host: Option<String>) -> Self {
        Self {
            token,
            host,
            guessers: Mutex::default(),
        }
    }

    /// Whether a request may go on.
    pub(super) fn check(
        &self,
        request: &Request,
        from: IpAddr,
        to: SocketAddr,
    ) -> Result<(), Refusal> {
        let headers = request.headers();
        let mut hosts = headers.get_all(header::HOST).iter();
        let host = hosts.next().and_then(|host| host.to_str().ok());
        let only = hosts.next().is_none();
        // A target with a host in it overrules the header (RFC 9112, 3.2.2), so it must be ours as well.
        let target = request
            .uri()
            .authority()
            .map(axum::http::uri::Authority::as_str);
        if !only
            || !host.is_some_and(|host| self.is_ours(host, from, to))
            || target.is_some_and(|target| !self.is_ours(target, from, to))
        {
            return Err(refuse(
                StatusCode::MISDIRECTED_REQUEST,
                "This is not the name of this board; see `page_host` in the site file.",
            ));
        }
        let changes = !matches!(*request.method(), Method::GET | Method::HEAD);
        if changes {
            Self::sent_by_page(headers, host.unwrap_or_default())?;
            Self::in_json(request)?;
        }
        let open = matches!(request.uri().path(), "/healthz" | "/page.css" | "/enter");
        if open {
            return Ok(());
        }
        self.knows_the_word(headers, from)
    }

    /// Whether a name is one of this board's: the address that was connected to, the configured name, and
    /// the usual names of this machine for this machine.
    fn is_ours(&self, name: &str, from: IpAddr, to: SocketAddr) -> bool {
        let port = to.port();
        let address = SocketAddr::new(to.ip().to_canonical(), port);
        let mut ours = vec![address.to_string()];
        if port == 80 {
            ours.push(address.ip().to_string());
        }
        if from.is_loopback() {
            ours.push(format!("localhost:{port}"));
        }
        if let Some(host) = &self.host {
            ours.push(format!("{host}:{port}"));
            if port == 80 {
                ours.push(host.clone());
            }
        }
        ours.iter().any(|ours| ours.eq_ignore_ascii_case(name))
    }

    /// Whether a change was sent by the page itself, as the browser says.
    fn sent_by_page(headers: &HeaderMap, host: &str) -> Result<(), Refusal> {
        let text = |name: &str| headers.get(name).map(|value| value.to_str().unwrap_or("?"));
        let own = match (text("sec-fetch-site"), text("origin")) {
            (Some(site), _) => site == "same-origin",
            (None, Some(origin)) => origin
                .strip_prefix("http://")
                .is_some_and(|origin| origin.eq_ignore_ascii_case(host)),
            // No browser: one that sends neither cannot be made to send a header of ours.
            (None, None) => headers.contains_key("x-pilotwire"),
        };
        if own {
            Ok(())
        } else {
            Err(refuse(
                StatusCode::FORBIDDEN,
                "Only this page may ask for that; other programs send the header x-pilotwire.",
            ))
        }
    }

    /// Whether a change is sent as a page of somebody else cannot send it.
    fn in_json(request: &Request) -> Result<(), Refusal> {
        let kind = request.headers().get(header::CONTENT_TYPE);
        let kind = kind.and_then(|kind| kind.to_str().ok()).unwrap_or("");
        let wanted = if request.uri().path() == "/enter" {
            "application/x-www-form-urlencoded"
        } else {
            "application/json"
        };
        let essence = kind.split(';').next().unwrap_or("").trim();
        if essence.eq_ignore_ascii_case(wanted) {
            Ok(())
        } else {
            Err(refuse(
                StatusCode::UNSUPPORTED_MEDIA_TYPE,
                "It must be sent as application/json.",
            ))
        }
    }

    fn knows_the_word(&self, headers: &HeaderMap, from: IpAddr) -> Result<(), Refusal> {
        let Some(token) = &self.token else {
            return Ok(());
        };
        let bearer = headers
            .get(header::AUTHORIZATION)
            .and_then(|value| value.as_bytes().strip_prefix(b"Bearer "));
        let cookie = headers
            .get_all(header::COOKIE)
            .iter()
            .filter_map(|value| value.to_str().ok())
            .flat_map(|value| value.split(';'))
            .find_map(|part| part.trim().strip_prefix(COOKIE)?.strip_prefix('='));
        match bearer.or(cookie.map(str::as_bytes)) {
            Some(word) => self.guess(token, word, from),
            None => Err(Refusal {
                code: StatusCode::UNAUTHORIZED,
                text: page::door(false),
                retry_after_s: None,
                door: true,
            }),
        }
    }

    /// The cookie for whoever gives the right word.
    pub(super) fn enter(&self, word: &[u8], from: IpAddr) -> Result<String, Refusal> {
        let Some(token) = &self.token else {
            return Err(refuse(StatusCode::NOT_FOUND, "This page needs no word."));
        };
        self.guess(token, word, from)?;
        Ok(format!(
            "{COOKIE}={}; HttpOnly; SameSite=Strict; Path=/; Max-Age=31536000",
            token.0
        ))
    }

    /// Whether a word is right. Whoever guesses wrong waits longer and longer, and nobody else does: a
    /// lock for all would be a way to lock the owner out.
    fn guess(&self, token: &Token, word: &[u8], from: IpAddr) -> Result<(), Refusal> {
        let now = clock::since_boot();
        let mut guessers = self
            .guessers
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner);
        if let Some(guesser) = guessers.get(&from) {
            let until = guesser.last + Duration::from_secs(guesser.waits_s());
            if now < until {
                return Err(Refusal {
                    code: StatusCode::TOO_MANY_REQUESTS,
                    text: "Too many wrong words; wait.".into(),
                    retry_after_s: Some(until.saturating_sub(now).as_secs() + 1),
                    door: false,
                });
            }
        }
        if token.is(word) {
            guessers.remove(&from);
            return Ok(());
        }
        if guessers.len() >= MOST_GUESSERS && !guessers.contains_key(&from) {
            let oldest = guessers.iter().min_by_key(|(_, it)| it.last);
            if let Some(oldest) = oldest.map(|(address, _)| *address) {
                guessers.remove(&oldest);
            }
        }
        let guesser = guessers.entry(from).or_insert(Guesser {
            failures: 0,
            last: now,
        });
        guesser.failures += 1;
        guesser.last = now;
        Err(Refusal {
            code: StatusCode::UNAUTHORIZED,
            text: page::door(true),
            retry_after_s: None,
            door: true,
        })
    }
}
