//! The page over HTTP: who may look, who may switch, and for how long a client may hold the line.
//!
//! What is served was made by the control thread when something happened; a request costs it nothing.
//! Only what is asked to be done goes to it.

use std::convert::Infallible;
use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use axum::Router;
use axum::body::{Body, Bytes};
use axum::extract::{DefaultBodyLimit, Request, State};
use axum::http::{HeaderName, HeaderValue, StatusCode, header};
use axum::middleware::{self, Next};
use axum::response::sse::{Event as Sse, KeepAlive};
use axum::response::{Html, IntoResponse, Response};
use axum::routing::{get, post};
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use tokio::net::TcpListener;
use tokio::sync::{Semaphore, oneshot, watch};
use tracing::{debug, info, warn};

use crate::daemon::control::{Reply, Request as Ask};
use crate::daemon::engine::seen::Seen;
use crate::page;

use super::clock;
use super::control_loop::{Message, Post};

mod guard;
mod metrics;
mod socket;

pub(super) use socket::PageSocket;

use guard::Guard;

/// So many connections at a time.
const MOST_CONNECTIONS: usize = 16;

/// So many of them may be told of news.
const MOST_LISTENERS: usize = 8;

/// Headers must be there within this.
const HEADERS_WITHIN: Duration = Duration::from_secs(5);

/// An answer must be there, and a body read, within this.
const ANSWER_WITHIN: Duration = Duration::from_secs(10);

/// The first look at the yard is waited for so long.
const LOOK_WITHIN: Duration = Duration::from_secs(8);

/// What meters should show is waited for so long.
const SHEET_WITHIN: Duration = Duration::from_secs(8);

/// A listener hears something at least so often.
const KEEP_ALIVE: Duration = Duration::from_secs(15);

/// The largest body [bytes].
const LARGEST_BODY: usize = 4096;

/// The control loop counts as alive if it has looked within this [s]: three ticks.
const ALIVE_WITHIN_S: u64 = 180;

/// What the control thread shows.
pub(super) struct Shown {
    /// The newest; `None` before the first.
    pub(super) seen: watch::Sender<Option<Arc<Seen>>>,
    /// When it last looked, since boot [s].
    pub(super) looked: AtomicU64,
}

impl Shown {
    pub(super) fn new() -> Arc<Self> {
        Arc::new(Self {
            seen: watch::Sender::new(None),
            looked: AtomicU64::new(clock::since_boot().as_secs()),
        })
    }
}

/// All that an answer needs.
#[derive(Clone)]
struct Served {
    shown: Arc<Shown>,
    post: Post,
    guard: Arc<Guard>,
    listeners: Arc<Semaphore>,
}

/// Who asks, and at which of our addresses.
#[derive(Clone, Copy)]
struct Peer {
    from: IpAddr,
    to: SocketAddr,
}

/// Serves the page for ever.
pub(super) async fn serve(socket: PageSocket, shown: Arc<Shown>, post: Post) {
    let listener = match TcpListener::from_std(socket.listener) {
        Ok(listener) => listener,
        Err(error) => {
            warn!(why = ?error.to_string(), "no page");
            return;
        }
    };
    let served = Served {
        shown,
        post,
        guard: Arc::new(Guard::new(socket.password, socket.host)),
        listeners: Arc::new(Semaphore::new(MOST_LISTENERS)),
    };
    let router = router(served);
    let seats = Arc::new(Semaphore::new(MOST_CONNECTIONS));
    loop {
        let Ok(seat) = Arc::clone(&seats).acquire_owned().await else {
            return;
        };
        let (stream, peer) = match listener.accept().await {
            Ok(accepted) => accepted,
            Err(error) => {
                warn!(why = ?error.to_string(), "a browser could not be let in");
                tokio::time::sleep(Duration::from_secs(1)).await;
                continue;
            }
        };
        let Ok(to) = stream.local_addr() else {
            continue;
        };
        let peer = Peer {
            from: peer.ip().to_canonical(),
            to,
        };
        let router = router.clone().layer(axum::Extension(peer));
        tokio::spawn(async move {
            let served = hyper::server::conn::http1::Builder::new()
                .timer(TokioTimer::new())
                .header_read_timeout(HEADERS_WITHIN)
                .max_headers(32)
                .max_buf_size(16 * 1024)
                .serve_connection(TokioIo::new(stream), TowerToHyperService::new(router))
                .await;
            if let Err(error) = served {
                debug!(why = ?error.to_string(), "a browser went away");
            }
            drop(seat);
        });
    }
}

fn router(served: Served) -> Router {
    let answers = Router::new()
        .route("/", get(whole))
        .route("/readings", get(sheet))
        .route("/do", post(act))
        .route("/sign-in", post(sign_in))
        .route(
            "/page.css",
            get(|| asset("text/css; charset=utf-8", page::STYLE)),
        )
        .route(
            "/page.js",
            get(|| asset("text/javascript; charset=utf-8", page::SCRIPT)),
        )
        .route(
            "/readings.js",
            get(|| asset("text/javascript; charset=utf-8", page::FORM_SCRIPT)),
        )
        .route("/healthz", get(health))
        .route("/metrics", get(figures))
        .route("/events", get(events))
        .fallback(|| async { (StatusCode::NOT_FOUND, "There is nothing here.\n") })
        .layer(DefaultBodyLimit::max(LARGEST_BODY))
        .layer(middleware::from_fn_with_state(served.clone(), guarded));
    answers.with_state(served)
}

/// Looks at every request before anybody else does, and dresses every answer.
async fn guarded(
    State(served): State<Served>,
    axum::Extension(peer): axum::Extension<Peer>,
    request: Request,
    next: Next,
) -> Response {
    let mut response = match served.guard.check(&request, peer.from, peer.to) {
        Err(refusal) => refusal.into_response(),
        Ok(()) => match tokio::time::timeout(ANSWER_WITHIN, next.run(request)).await {
            Ok(response) => response,
            Err(_) => (StatusCode::REQUEST_TIMEOUT, "Too slow.\n").into_response(),
        },
    };
    let headers = response.headers_mut();
    for (name, value) in [
        (
            "content-security-policy",
            "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; img-src data:; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
        ),
        ("x-content-type-options", "nosniff"),
        ("referrer-policy", "no-referrer"),
        ("cross-origin-resource-policy", "same-origin"),
        ("cross-origin-opener-policy", "same-origin"),
    ] {
        headers.insert(
            HeaderName::from_static(name),
            HeaderValue::from_static(value),
        );
    }
    headers
        .entry(header::CACHE_CONTROL)
        .or_insert(HeaderValue::from_static("no-store"));
    response
}

fn asset(kind: &'static str, text: &'static str) -> std::future::Ready<impl IntoResponse + use<>> {
    std::future::ready(([(header::CONTENT_TYPE, kind)], text))
}

/// The newest that there is to see. Nothing loads a page again that was asked for while the board starts, so the
/// first look is waited for.
async fn newest(served: &Served) -> Option<Arc<Seen>> {
    let mut news = served.shown.seen.subscribe();
    match tokio::time::timeout(LOOK_WITHIN, news.wait_for(Option::is_some)).await {
        Ok(Ok(seen)) => seen.clone(),
        _ => None,
    }
}

fn not_yet() -> Response {
    (
        StatusCode::SERVICE_UNAVAILABLE,
        [(header::RETRY_AFTER, "1")],
        "The yard has not been looked at yet.\n",
    )
        .into_response()
}

async fn whole(State(served): State<Served>) -> Response {
    match newest(&served).await {
        Some(seen) => Html(page::page(&seen)).into_response(),
        None => not_yet(),
    }
}

/// Waits a while for what meters should show, which is only worked out once somebody asks.
async fn wait_for_points(served: &Served) {
    let comes = |seen: &Option<Arc<Seen>>| seen.as_ref().is_none_or(|seen| seen.readings.comes);
    let mut news = served.shown.seen.subscribe();
    if comes(&news.borrow()) {
        served.post.send(Message::WantSheet);
    }
    let there = news.wait_for(|seen| !comes(seen));
    // Whoever waits in vain is told so, and asks again.
    let _ = tokio::time::timeout(SHEET_WITHIN, there).await;
}

async fn sheet(State(served): State<Served>) -> Response {
    wait_for_points(&served).await;
    match newest(&served).await {
        Some(seen) => Html(page::form(&seen)).into_response(),
        None => not_yet(),
    }
}

async fn health(State(served): State<Served>) -> Response {
    let looked = served.shown.looked.load(Ordering::Relaxed);
    let ago_s = clock::since_boot().as_secs().saturating_sub(looked);
    if ago_s <= ALIVE_WITHIN_S {
        "ok\n".into_response()
    } else {
        let text = format!("the control loop last looked {ago_s} s ago\n");
        (StatusCode::SERVICE_UNAVAILABLE, text).into_response()
    }
}

async fn figures(State(served): State<Served>) -> Response {
    match newest(&served).await {
        Some(seen) => (
            [(
                header::CONTENT_TYPE,
                "application/openmetrics-text; version=1.0.0; charset=utf-8",
            )],
            metrics::text(&seen),
        )
            .into_response(),
        None => not_yet(),
    }
}

/// Forces, releases and takes readings; nothing else is done from the page.
async fn act(State(served): State<Served>, body: Bytes) -> Response {
    let request: Ask = match serde_json::from_slice(&body) {
        Ok(
            request @ (Ask::Force { .. }
            | Ask::ForceAll { .. }
            | Ask::Release { .. }
            | Ask::ReleaseAll {}
            | Ask::Measured { .. }),
        ) => request,
        Ok(_) => {
            let text = "Only force, release, both of all, and measured.\n";
            return (StatusCode::FORBIDDEN, text).into_response();
        }
        Err(error) => {
            let text = format!("{error}\n");
            return (StatusCode::UNPROCESSABLE_ENTITY, text).into_response();
        }
    };
    info!(request = ?request, "asked by the page");
    if matches!(request, Ask::Measured { .. }) {
        wait_for_points(&served).await;
    }
    let (sender, receiver) = oneshot::channel();
    served.post.send(Message::Ask((request, sender)));
    let Ok(reply) = receiver.await else {
        return (StatusCode::SERVICE_UNAVAILABLE, "The service stops.\n").into_response();
    };
    let code = match reply {
        Reply::Refused(_) => StatusCode::CONFLICT,
        _ => StatusCode::OK,
    };
    (code, axum::Json(reply)).into_response()
}

/// Takes the password, from the page's own form.
async fn sign_in(State(served): State<Served>, body: Bytes) -> Response {
    let given = body.strip_prefix(b"password=").unwrap_or_default();
    match served.guard.sign_in(given) {
        Ok(cookie) => (
            StatusCode::SEE_OTHER,
            [
                (header::LOCATION, "/".to_owned()),
                (header::SET_COOKIE, cookie),
            ],
        )
            .into_response(),
        Err(refusal) => refusal.into_response(),
    }
}

/// Tells of news as they come.
async fn events(State(served): State<Served>) -> Response {
    let Ok(seat) = Arc::clone(&served.listeners).try_acquire_owned() else {
        return (
            StatusCode::SERVICE_UNAVAILABLE,
            [(header::RETRY_AFTER, "15")],
            "Eight are listening already.\n",
        )
            .into_response();
    };
    let mut news = served.shown.seen.subscribe();
    news.mark_changed();
    let stream = futures_util::stream::unfold((news, seat), |(mut news, seat)| async move {
        loop {
            if news.changed().await.is_err() {
                return None;
            }
            let seen = news.borrow_and_update().clone();
            if let Some(seen) = seen {
                let data = serde_json::json!({
                    "at": seen.status.at.timestamp(),
                    "title": page::title(&seen),
                    "yard": page::yard(&seen).into_string(),
                });
                let event = Sse::default().data(data.to_string());
                return Some((Ok::<_, Infallible>(event), (news, seat)));
            }
        }
    });
    axum::response::sse::Sse::new(stream)
        .keep_alive(KeepAlive::new().interval(KEEP_ALIVE))
        .into_response()
}

/// A refusal of the guard.
pub(super) struct Refusal {
    code: StatusCode,
    text: String,
    /// It is the page that asks for the password.
    signs_in: bool,
}

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        let body = if self.signs_in {
            Html(self.text).into_response()
        } else {
            Body::from(self.text + "\n").into_response()
        };
        (self.code, body).into_response()
    }
}
