//! Who may look and who may switch.
//!
//! A browser can be made to ask anything of an address it reaches, so three things are looked at: that
//! the request names the page by one of its own names (a stranger's name that points here is refused),
//! that the page itself sent what changes something, and, where others than this machine reach the page,
//! that the client knows the password. That is 132 bits drawn at random, so wrong ones are not
//! counted: at a million a second a guess takes longer than the sun will shine, and a lock would only be a way to
//! lock the owner out.

use std::net::{IpAddr, SocketAddr};

use axum::extract::Request;
use axum::http::{HeaderMap, Method, StatusCode, header};
use subtle::ConstantTimeEq;

use crate::page;

use super::Refusal;

/// The name of the cookie that the password is kept in.
const COOKIE: &str = "pilotwire";

/// Least length of a password: 22 letters and digits of 64 kinds are 132 bits.
const LEAST_LETTERS: usize = 22;

/// The password of the page.
#[derive(Clone)]
pub(in crate::service) struct Password(String);

impl Password {
    /// A password, if it is long enough that no one can guess it.
    pub(in crate::service) fn new(text: &str) -> Result<Self, String> {
        let text = text.trim();
        let fits = |c: char| c.is_ascii_alphanumeric() || c == '-' || c == '_';
        if !text.chars().all(fits) {
            return Err("has other characters than letters, digits, - and _".into());
        }
        let kinds: std::collections::BTreeSet<char> = text.chars().collect();
        if text.len() < LEAST_LETTERS || kinds.len() < 8 {
            return Err(format!(
                "is too easy to guess: it needs {LEAST_LETTERS} letters and digits drawn at random"
            ));
        }
        Ok(Self(text.to_owned()))
    }

    /// Whether this is it, in the same time whichever letter is wrong.
    fn is(&self, given: &[u8]) -> bool {
        self.0.as_bytes().ct_eq(given).into()
    }
}

/// Looks at every request.
pub(super) struct Guard {
    password: Option<Password>,
    host: Option<String>,
}

fn sign_in(wrong: bool) -> Refusal {
    Refusal {
        code: StatusCode::UNAUTHORIZED,
        text: page::sign_in(wrong),
        signs_in: true,
    }
}

fn refuse(code: StatusCode, text: &str) -> Refusal {
    Refusal {
        code,
        text: text.to_owned(),
        signs_in: false,
    }
}

impl Guard {
    pub(super) fn new(password: Option<Password>, host: Option<String>) -> Self {
        Self { password, host }
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
        let open = matches!(request.uri().path(), "/healthz" | "/page.css" | "/sign-in");
        if open {
            return Ok(());
        }
        self.is_signed_in(headers)
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
        let wanted = if request.uri().path() == "/sign-in" {
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

    fn is_signed_in(&self, headers: &HeaderMap) -> Result<(), Refusal> {
        let Some(password) = &self.password else {
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
            Some(given) if password.is(given) => Ok(()),
            given => Err(sign_in(given.is_some())),
        }
    }

    /// The cookie for the right password.
    pub(super) fn sign_in(&self, given: &[u8]) -> Result<String, Refusal> {
        let Some(password) = &self.password else {
            return Err(refuse(
                StatusCode::NOT_FOUND,
                "This page needs no password.",
            ));
        };
        if !password.is(given) {
            return Err(sign_in(true));
        }
        Ok(format!(
            "{COOKIE}={}; HttpOnly; SameSite=Strict; Path=/; Max-Age=31536000",
            password.0
        ))
    }
}
