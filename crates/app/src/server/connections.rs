//! Taking connections in, watching them, and letting none keep others out.
//!
//! A connection waits for its client (for a request, or for the rest of one) or works on an answer. One that
//! waits too long is closed. When there are too many, the one that has waited longest makes room, of the peer
//! who has most; one that is being worked on never does. So a thousand requests that are never finished are
//! closed one by one as others come, and nobody is shut out.

use std::collections::BTreeMap;
use std::convert::Infallible;
use std::io;
use std::net::{IpAddr, Ipv6Addr, SocketAddr};
use std::pin::{Pin, pin};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::task::{Context, Poll};
use std::time::{Duration, Instant};

use axum::Router;
use axum::body::{Body, Bytes};
use axum::extract::{ConnectInfo, Request};
use axum::response::Response;
use hyper::body::{Body as _, Frame, Incoming, SizeHint};
use hyper::server::conn::http1;
use hyper::service::{Service, service_fn};
use hyper_util::rt::TokioIo;
use hyper_util::service::TowerToHyperService;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{Notify, watch};
use tokio::task::JoinSet;

/// Bytes of the head of a request, at most. Browsers' heads have some hundred.
const MOST_HEAD: usize = 64 * 1024;
/// How long no connection is taken in when the system has no descriptor left for one.
const BREATH: Duration = Duration::from_millis(50);
/// Descriptors that are left to everything but connections.
const RESERVED: usize = 128;

/// What connections must keep to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// How long a request may take from its first byte to the end of its head.
    pub head: Duration,
    /// How long a connection may stay without a request. Taking the last answer counts as that.
    pub idle: Duration,
    /// Connections in all.
    pub connections: usize,
    /// Connections of one peer. This machine may have all: a proxy on it speaks for many.
    pub per_peer: usize,
    /// How long requests that are being answered get when the program is told to end.
    pub grace: Duration,
}

impl Default for Limits {
    fn default() -> Limits {
        Limits {
            head: Duration::from_secs(15),
            idle: Duration::from_secs(75),
            connections: 1024,
            // A whole gym may come by one address, and a browser opens six connections.
            per_peer: 256,
            grace: Duration::from_secs(3),
        }
    }
}

impl Limits {
    /// The same limits, with no more connections than so many descriptors allow.
    #[must_use]
    pub fn within(self, descriptors: usize) -> Limits {
        let connections = descriptors.saturating_sub(RESERVED).max(descriptors / 2).max(1);
        Limits { connections: self.connections.min(connections), ..self }
    }
}

/// Answers requests with `pages` until `told_to_end` is done; then those under way get the grace, and what is
/// left is cut off. Goes on through whatever goes wrong with single connections.
pub async fn serve(
    listener: TcpListener,
    pages: Router,
    limits: Limits,
    told_to_end: impl Future<Output = ()>,
) {
    let register = Arc::new(Register { limits, ..Register::default() });
    let (end, ending) = watch::channel(false);
    let mut tasks = JoinSet::new();
    let mut told_to_end = pin!(told_to_end);
    loop {
        let accepted = tokio::select! {
            accepted = listener.accept() => accepted,
            Some(_) = tasks.join_next() => continue,
            () = &mut told_to_end => break,
        };
        match accepted {
            Ok((stream, peer)) => match register.admit(peer.ip()) {
                Some(admitted) => {
                    tasks.spawn(admitted.answer(stream, peer, pages.clone(), ending.clone()));
                }
                None => refuse(&stream),
            },
            // Whoever knocked has gone away.
            Err(error) if is_of_one_connection(&error) => {}
            Err(_) => {
                register.make_room();
                tokio::time::sleep(BREATH).await;
            }
        }
    }
    drop(listener);
    end.send_replace(true);
    let all_gone = async { while tasks.join_next().await.is_some() {} };
    tokio::time::timeout(limits.grace, all_gone).await.ok();
    tasks.shutdown().await;
}

fn is_of_one_connection(error: &io::Error) -> bool {
    use io::ErrorKind::{ConnectionAborted, ConnectionRefused, ConnectionReset, Interrupted};
    matches!(error.kind(), ConnectionAborted | ConnectionRefused | ConnectionReset | Interrupted)
}

/// Turns away whoever has too many requests under way already, in words that phones can read too.
fn refuse(stream: &TcpStream) {
    const REASON: &str =
        r#"{"error":"the desk has too much to answer for you at once; try again in a moment"}"#;
    let answer = format!(
        "HTTP/1.1 503 Service Unavailable\r\nconnection: close\r\nretry-after: 2\r\n\
         content-type: application/json\r\ncontent-length: {}\r\n\r\n{REASON}",
        REASON.len()
    );
    // There is room for so little in a new connection; if not, closing it says enough.
    stream.try_write(answer.as_bytes()).ok();
}

/// Where a connection stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Phase {
    /// Nothing of a request has come, or the client is taking the last answer.
    Idle,
    /// Something of a request's head has come.
    Head,
    /// Its body is coming. How long that may take is for whoever reads it.
    Body,
    /// All of it is here and is being answered.
    Working,
    /// It was told to close.
    Closing,
}

/// One connection, as the register has it.
#[derive(Debug)]
struct Connection {
    /// Whose it is.
    peer: IpAddr,
    state: Mutex<(Phase, Instant)>,
    close: Notify,
}

impl Connection {
    fn state(&self) -> MutexGuard<'_, (Phase, Instant)> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn enter(&self, phase: Phase) {
        let mut state = self.state();
        if state.0 != Phase::Closing {
            *state = (phase, Instant::now());
        }
    }

    /// Since when it waits for its client, if it does.
    fn waits_since(&self) -> Option<Instant> {
        let (phase, since) = *self.state();
        match phase {
            Phase::Idle | Phase::Head | Phase::Body => Some(since),
            Phase::Working | Phase::Closing => None,
        }
    }

    fn is_overdue(&self, limits: &Limits) -> bool {
        let (phase, since) = *self.state();
        match phase {
            Phase::Idle => since.elapsed() >= limits.idle,
            Phase::Head => since.elapsed() >= limits.head,
            Phase::Body | Phase::Working => false,
            Phase::Closing => true,
        }
    }

    fn close(&self) {
        self.enter(Phase::Closing);
        self.close.notify_one();
    }
}

/// All connections that are open.
#[derive(Debug, Default)]
struct Register {
    limits: Limits,
    open: Mutex<Open>,
}

#[derive(Debug, Default)]
struct Open {
    next: u64,
    by_number: BTreeMap<u64, Arc<Connection>>,
}

impl Register {
    /// Takes one in from `peer`, if need be in the place of one that waits; none if nobody waits.
    fn admit(self: &Arc<Register>, peer: IpAddr) -> Option<Admitted> {
        let peer = whose(peer);
        let mut open = self.open();
        let (all, own) = (open.count(|_| true), open.count(|one| one.peer == peer));
        if own >= self.limits.per_peer && !peer.is_loopback() {
            open.longest_waiting(|one| one.peer == peer)?.close();
        } else if all >= self.limits.connections {
            open.longest_waiting(|_| true)?.close();
        }
        let state = Mutex::new((Phase::Idle, Instant::now()));
        let connection = Arc::new(Connection { peer, state, close: Notify::new() });
        let number = open.next;
        open.next += 1;
        open.by_number.insert(number, Arc::clone(&connection));
        Some(Admitted { connection, number, register: Arc::clone(self) })
    }

    /// Closes the connection that has waited longest.
    fn make_room(&self) {
        if let Some(connection) = self.open().longest_waiting(|_| true) {
            connection.close();
        }
    }

    /// A panic while this was held can't leave it half changed.
    fn open(&self) -> MutexGuard<'_, Open> {
        self.open.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Open {
    fn count(&self, which: impl Fn(&Connection) -> bool) -> usize {
        let counts =
            |one: &&Arc<Connection>| one.state().0 != Phase::Closing && which(one.as_ref());
        self.by_number.values().filter(counts).count()
    }

    /// The one that has waited longest for its client, among those of whoever has most.
    fn longest_waiting(&self, which: impl Fn(&Connection) -> bool) -> Option<&Arc<Connection>> {
        let mut of_peer: BTreeMap<IpAddr, usize> = BTreeMap::new();
        for one in self.by_number.values() {
            *of_peer.entry(one.peer).or_insert(0) += 1;
        }
        let waiting = self.by_number.values().filter(|one| which(one.as_ref()));
        waiting
            .filter_map(|one| Some((of_peer.get(&one.peer)?, one.waits_since()?.elapsed(), one)))
            .max_by_key(|(many, waited, _)| (**many, *waited))
            .map(|(_, _, one)| one)
    }
}

/// To whom an address belongs: a house gets 64 bits of the sixth version for itself (RFC 6177).
fn whose(address: IpAddr) -> IpAddr {
    match address.to_canonical() {
        IpAddr::V6(address) if !address.is_loopback() => {
            IpAddr::V6(Ipv6Addr::from_bits(address.to_bits() >> 64 << 64))
        }
        address => address,
    }
}

/// A connection that was taken in; its place is free again once this is dropped.
struct Admitted {
    connection: Arc<Connection>,
    number: u64,
    register: Arc<Register>,
}

impl Drop for Admitted {
    fn drop(&mut self) {
        self.register.open().by_number.remove(&self.number);
    }
}

impl Admitted {
    /// Answers the requests on it until it is closed from either side.
    async fn answer(
        self,
        stream: TcpStream,
        peer: SocketAddr,
        pages: Router,
        mut ending: watch::Receiver<bool>,
    ) {
        let (connection, limits) = (&self.connection, self.register.limits);
        // Without it an answer in two parts may wait for the client's word on the first.
        stream.set_nodelay(true).ok();
        let watched = Watched { stream, connection: Arc::clone(connection) };
        let answering = service_fn(|request| answer_one(connection, &pages, peer, request));
        let mut talk = pin!(
            http1::Builder::new()
                .max_buf_size(MOST_HEAD)
                .serve_connection(TokioIo::new(watched), answering)
        );
        let mut looks = tokio::time::interval((limits.head.min(limits.idle) / 4).max(BREATH));
        loop {
            tokio::select! {
                _ = talk.as_mut() => return,
                () = connection.close.notified() => return,
                _ = looks.tick() => {
                    if connection.is_overdue(&limits) {
                        return;
                    }
                }
                // A sender that is gone ends it as well.
                _ = ending.changed() => break,
            }
        }
        // Whoever has sent nothing, or the beginning of something, has been promised nothing.
        if matches!(connection.state().0, Phase::Idle | Phase::Head) {
            // What was answered just now may still be on its way out.
            talk.as_mut().graceful_shutdown();
            tokio::time::timeout(BREATH, talk).await.ok();
            return;
        }
        talk.as_mut().graceful_shutdown();
        talk.await.ok();
    }
}

/// Answers one request, and notes where its connection stands meanwhile.
async fn answer_one(
    connection: &Arc<Connection>,
    pages: &Router,
    peer: SocketAddr,
    request: hyper::Request<Incoming>,
) -> Result<Response, Infallible> {
    connection.enter(Phase::Body);
    let mut request: Request<Body> = request.map(|incoming| {
        let body = WatchedBody { incoming, connection: Arc::clone(connection) };
        body.look();
        Body::new(body)
    });
    request.extensions_mut().insert(ConnectInfo(peer));
    let answer = TowerToHyperService::new(pages.clone()).call(request).await;
    connection.enter(Phase::Idle);
    answer
}

/// A stream that notes when something of a request comes.
struct Watched {
    stream: TcpStream,
    connection: Arc<Connection>,
}

impl AsyncRead for Watched {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        let before = buffer.filled().len();
        let read = Pin::new(&mut self.stream).poll_read(context, buffer);
        if buffer.filled().len() > before && self.connection.state().0 == Phase::Idle {
            self.connection.enter(Phase::Head);
        }
        read
    }
}

impl AsyncWrite for Watched {
    fn poll_write(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        Pin::new(&mut self.stream).poll_write(context, bytes)
    }

    fn poll_write_vectored(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        slices: &[io::IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        Pin::new(&mut self.stream).poll_write_vectored(context, slices)
    }

    fn is_write_vectored(&self) -> bool {
        self.stream.is_write_vectored()
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(context)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(context)
    }
}

/// A request's body that notes when all of it has come.
struct WatchedBody {
    incoming: Incoming,
    connection: Arc<Connection>,
}

impl WatchedBody {
    fn look(&self) {
        if self.incoming.is_end_stream() {
            self.connection.enter(Phase::Working);
        }
    }
}

impl hyper::body::Body for WatchedBody {
    type Data = Bytes;
    type Error = hyper::Error;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, hyper::Error>>> {
        let frame = Pin::new(&mut self.incoming).poll_frame(context);
        if matches!(frame, Poll::Ready(None)) {
            self.connection.enter(Phase::Working);
        } else {
            self.look();
        }
        frame
    }

    fn is_end_stream(&self) -> bool {
        self.incoming.is_end_stream()
    }

    fn size_hint(&self) -> SizeHint {
        self.incoming.size_hint()
    }
}
