//! The accept loop, connections and the way down.

use std::convert::Infallible;
use std::io;
use std::net::{IpAddr, SocketAddr};
use std::pin::pin;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use axum::Router;
use axum::body::Body;
use axum::http::Request;
use futures_util::stream::{FuturesUnordered, StreamExt as _};
use hyper::body::{Body as _, Incoming};
use hyper::service::service_fn;
use hyper_util::rt::{TokioExecutor, TokioIo, TokioTimer};
use hyper_util::server::conn::auto::Builder;
use tokio::net::{TcpListener, TcpSocket, TcpStream};
use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;

use crate::http::app::{App, Service};
use crate::http::bare::Worded;
use crate::http::settings::Settings;

/// Connections the kernel may hold until they are accepted.
const BACKLOG: u32 = 1024;
/// Streams a client may open on one HTTP/2 connection.
const STREAMS: u32 = 64;
/// What ended connections may take to let go after the hard stop.
const LAST_BREATH: Duration = Duration::from_secs(1);

/// Tells a server to stop. A clone tells the same server.
#[derive(Clone, Default)]
pub struct Stop {
    gently: CancellationToken,
    at_once: CancellationToken,
}

impl Stop {
    /// Says "not ready", keeps serving for the grace, then finishes what runs; the second time stops at once.
    pub fn stop(&self) {
        if self.gently.is_cancelled() {
            self.at_once.cancel();
        }
        self.gently.cancel();
    }
}

/// A bound server.
pub struct Server {
    listener: TcpListener,
    service: Arc<Service>,
}

impl Server {
    /// Binds to the settings' address. Must be called within a runtime.
    ///
    /// # Errors
    /// When the address cannot be bound.
    pub fn bind(settings: Settings, routes: Router<App>) -> io::Result<Self> {
        let socket = if settings.listen.is_ipv4() { TcpSocket::new_v4() } else { TcpSocket::new_v6() }?;
        socket.set_reuseaddr(true)?;
        socket.bind(settings.listen)?;
        let listener = socket.listen(BACKLOG)?;
        let app = App::new(settings);
        Ok(Self { listener, service: Arc::new(Service { router: routes.with_state(app.clone()), app }) })
    }

    /// Where it listens.
    ///
    /// # Errors
    /// When the operating system does not say.
    pub fn local_addr(&self) -> io::Result<SocketAddr> {
        self.listener.local_addr()
    }

    /// What its requests share.
    #[must_use]
    pub fn app(&self) -> &App {
        &self.service.app
    }

    /// Serves until told to stop; returns when nothing is left running.
    pub async fn run(self, stop: Stop) {
        let settings = &self.app().settings;
        let (grace, drain) = (settings.grace, settings.drain);
        let closing = CancellationToken::new();
        let cut_off = CancellationToken::new();
        let connections = TaskTracker::new();
        {
            let mut accepting = pin!(self.accept(&connections, &closing, &cut_off));
            tokio::select! {
                () = &mut accepting => {}
                () = stop.gently.cancelled() => {}
            }
            self.app().stop_being_ready();
            tracing::info!(grace_s = grace.as_secs_f64(), "not ready any more; still serving");
            tokio::select! {
                () = &mut accepting => {}
                () = tokio::time::sleep(grace) => {}
                () = stop.at_once.cancelled() => {}
            }
        }
        drop(self.listener);
        connections.close();
        closing.cancel();
        tracing::info!(open = connections.len(), drain_s = drain.as_secs_f64(), "finishing what runs");
        tokio::select! {
            () = connections.wait() => return,
            () = tokio::time::sleep(drain) => {}
            () = stop.at_once.cancelled() => {}
        }
        tracing::warn!(open = connections.len(), "cutting off what still runs");
        cut_off.cancel();
        // Ends early when every connection has let go.
        let _ = tokio::time::timeout(LAST_BREATH, connections.wait()).await;
    }

    async fn accept(&self, connections: &TaskTracker, closing: &CancellationToken, cut_off: &CancellationToken) {
        let room = Arc::new(Semaphore::new(self.app().settings.connections));
        let builder = Arc::new(builder(&self.app().settings));
        // The semaphore is never closed.
        while let Ok(permit) = Arc::clone(&room).acquire_owned().await {
            let (stream, peer) = match self.listener.accept().await {
                Ok(accepted) => accepted,
                Err(error) => {
                    // One client's broken handshake, or no file descriptors left: neither ends the service.
                    tracing::warn!(%error, "cannot accept");
                    tokio::time::sleep(Duration::from_millis(20)).await;
                    continue;
                }
            };
            let connection = Connection {
                service: Arc::clone(&self.service),
                builder: Arc::clone(&builder),
                closing: closing.clone(),
                cut_off: cut_off.clone(),
                _permit: permit,
            };
            connections.spawn(connection.serve(stream, peer.ip()));
        }
    }
}

fn builder(settings: &Settings) -> Builder<TokioExecutor> {
    let mut builder = Builder::new(TokioExecutor::new());
    // Room for a whole head, so that it is this service that says what is too large.
    let buffer = settings.uri_bytes + settings.header_bytes + (16 << 10);
    builder
        .http1()
        // The connection's own watch times heads: hyper would set a timer anew for every request.
        .header_read_timeout(None)
        .max_buf_size(buffer.max(64 << 10));
    builder
        .http2()
        .timer(TokioTimer::new())
        .max_concurrent_streams(STREAMS)
        .max_header_list_size(u32::try_from(buffer).unwrap_or(u32::MAX))
        .keep_alive_interval(settings.header_timeout)
        .keep_alive_timeout(settings.header_timeout);
    builder
}

/// One connection.
struct Connection {
    service: Arc<Service>,
    builder: Arc<Builder<TokioExecutor>>,
    closing: CancellationToken,
    cut_off: CancellationToken,
    _permit: OwnedSemaphorePermit,
}

/// What may end a connection, besides its client.
enum Signal {
    /// It is time to go, or nothing was asked for too long: what is asked is still answered.
    Finish,
    /// The hard stop.
    CutOff,
}

/// What a connection has been doing.
#[derive(Default)]
struct Activity {
    begun: AtomicU64,
    ended: AtomicU64,
}

impl Activity {
    /// How many requests have ended; nothing while one is being served.
    fn idle_after(&self) -> Option<u64> {
        let ended = self.ended.load(Ordering::Relaxed);
        (self.begun.load(Ordering::Relaxed) == ended).then_some(ended)
    }

    /// Ends when no request has been served nor begun for as long as `patience`, and at most twice as long. A look at
    /// counters now and then costs a request nothing, unlike a timer of its own.
    async fn quiet(&self, patience: Duration) {
        let mut seen = self.idle_after();
        loop {
            tokio::time::sleep(patience).await;
            let now = self.idle_after();
            if now.is_some() && now == seen {
                return;
            }
            seen = now;
        }
    }
}

/// A request being served on a connection.
struct Busy(Arc<Activity>);

impl Busy {
    fn on(activity: &Arc<Activity>) -> Self {
        activity.begun.fetch_add(1, Ordering::Relaxed);
        Self(Arc::clone(activity))
    }
}

impl Drop for Busy {
    fn drop(&mut self) {
        self.0.ended.fetch_add(1, Ordering::Relaxed);
    }
}

impl Connection {
    async fn serve(self, stream: TcpStream, peer: IpAddr) {
        // Answers are small; waiting to fill a segment would only delay them.
        let _ = stream.set_nodelay(true);
        let app = &self.service.app;
        app.meters.connections.inc();
        let _open = Open(app);
        let activity = Arc::new(Activity::default());
        let service = service_fn(|request: Request<Incoming>| {
            let busy = Busy::on(&activity);
            let request = request.map(|body| if body.is_end_stream() { Body::empty() } else { Body::new(body) });
            let service = Arc::clone(&self.service);
            async move {
                let response = service.serve(request, peer).await;
                drop(busy);
                Ok::<_, Infallible>(response)
            }
        });
        let stream = TokioIo::new(Worded::new(stream, app.clone()));
        let mut connection = pin!(self.builder.serve_connection(stream, service));
        // A set asks only those of its futures that were woken. Asking them all at every turn of the connection would take the
        // locks of both tokens, which all connections share, for every request.
        let mut signals = FuturesUnordered::new();
        signals.push(self.signal(&activity));
        tokio::select! {
            biased;
            // Broken connections are the client's business; what it was told is in the log already.
            _ = connection.as_mut() => return,
            signal = signals.next() => match signal {
                Some(Signal::CutOff) => return,
                Some(Signal::Finish) | None => {}
            }
        }
        if activity.idle_after() == Some(0) {
            // Nothing was ever asked, so nothing is owed.
            return;
        }
        connection.as_mut().graceful_shutdown();
        // A client that does not read its answer must not hold the connection for ever.
        tokio::select! {
            biased;
            _ = connection => {}
            () = activity.quiet(app.settings.write_timeout) => {}
            () = self.cut_off.cancelled() => {}
        }
    }

    async fn signal(&self, activity: &Activity) -> Signal {
        tokio::select! {
            () = self.cut_off.cancelled() => Signal::CutOff,
            () = self.closing.cancelled() => Signal::Finish,
            // No whole head within the time: the first, the next after an answer, or an answer that nobody reads.
            () = activity.quiet(self.service.app.settings.header_timeout) => Signal::Finish,
        }
    }
}

/// Counts a connection out again.
struct Open<'a>(&'a App);

impl Drop for Open<'_> {
    fn drop(&mut self) {
        self.0.meters.connections.dec();
    }
}
