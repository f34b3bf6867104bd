//! Connections that are let in: how many, from where, and how long they may say nothing. Where there is no place left, one that has said nothing yet makes
//! room for a new one.

use std::collections::{BTreeMap, HashMap};
use std::io;
use std::net::IpAddr;
use std::pin::Pin;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::task::{Context, Poll, ready};
use std::time::Duration;

use futures::{Stream, stream};
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::{TcpListener, TcpStream};
use tokio::time::{Instant, Sleep};
use tokio_util::sync::{CancellationToken, WaitForCancellationFutureOwned};
use tonic::transport::server::{Connected, TcpConnectInfo};

/// What a connection must have sent before it counts as one that talks: the preface of HTTP/2 (RFC 9113, section 3.4) has as many
/// bytes, and no request of HTTP/1.1 or greeting of TLS is shorter.
const FIRST_BYTES: usize = 24;
/// How long to wait after the system refused a further connection, as when file handles run out.
const PAUSE: Duration = Duration::from_millis(100);

/// What bounds connections.
#[derive(Debug, Clone, Copy)]
pub(crate) struct ConnectionLimits {
    /// Connections at once.
    pub(crate) all: usize,
    /// Connections of one address at once. This machine is not held to it: a proxy in front brings the callers of many.
    pub(crate) of_an_address: usize,
    /// Time for the first bytes.
    pub(crate) first_bytes: Duration,
    /// Time without a byte either way. A caller by HTTP/2 is asked every 30 s whether it is there, so that its connection is never
    /// silent that long.
    pub(crate) silence: Duration,
}

impl Default for ConnectionLimits {
    fn default() -> Self {
        Self { all: 1_024, of_an_address: 256, first_bytes: Duration::from_secs(10), silence: Duration::from_secs(300) }
    }
}

/// The connections of a listener, as long as they keep to the limits; others are closed at once.
pub(crate) fn incoming(
    listener: TcpListener,
    limits: ConnectionLimits,
) -> impl Stream<Item = io::Result<Connection>> + Send {
    stream::unfold((listener, Arc::new(Open::default())), move |(listener, open)| async move {
        let mut refused = false;
        let mut full = false;
        loop {
            match listener.accept().await {
                Ok((stream, peer)) => {
                    let Some(place) = Open::take(&open, peer.ip().to_canonical(), limits) else {
                        // Once until there is room again: a flood of connections is no flood of lines.
                        if std::mem::replace(&mut full, true) {
                            tracing::debug!(%peer, "a connection beyond the limits is closed");
                        } else {
                            tracing::warn!(%peer, most = limits.all, of_an_address = limits.of_an_address, "connections beyond the limits are closed");
                        }
                        continue;
                    };
                    // Else the end of a long answer lies here until the caller has acknowledged what came before it, which takes 40 ms.
                    if stream.set_nodelay(true).is_ok() {
                        let connection = Connection::new(stream, place, limits);
                        return Some((Ok(connection), (listener, open)));
                    }
                }
                Err(error) => {
                    // Once until the next connection: it would go on ten times a second.
                    if !std::mem::replace(&mut refused, true) {
                        tracing::warn!(%error, "no further connection can be taken at the moment");
                    }
                    tokio::time::sleep(PAUSE).await;
                }
            }
        }
    })
}

/// How many connections there are from where, and which of them have said nothing yet.
#[derive(Default)]
struct Open {
    counts: Mutex<Counts>,
}

#[derive(Default)]
struct Counts {
    of: HashMap<IpAddr, usize>,
    /// By number, the oldest first.
    mute: BTreeMap<u64, (IpAddr, CancellationToken)>,
    next: u64,
}

impl Open {
    fn take(this: &Arc<Self>, address: IpAddr, limits: ConnectionLimits) -> Option<Place> {
        let mut counts = this.lock();
        let most = if address.is_loopback() { limits.all } else { limits.of_an_address };
        if counts.of(address) >= most {
            counts.end_a_mute_one(|of| of == address)?;
        } else if counts.of.values().sum::<usize>() >= limits.all {
            counts.end_a_mute_one(|_| true)?;
        }
        *counts.of.entry(address).or_default() += 1;
        let (number, ended) = (counts.next, CancellationToken::new());
        counts.next += 1;
        counts.mute.insert(number, (address, ended.clone()));
        Some(Place { open: Arc::clone(this), address, number, ended })
    }

    /// A poisoned lock only means that a thread panicked while it held the counts, which are whole between any two calls on them.
    fn lock(&self) -> MutexGuard<'_, Counts> {
        self.counts.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Counts {
    fn of(&self, address: IpAddr) -> usize {
        self.of.get(&address).copied().unwrap_or_default()
    }

    /// Ends the oldest connection that has said nothing yet, of the addresses that are meant; none if all of them talk.
    fn end_a_mute_one(&mut self, meant: impl Fn(IpAddr) -> bool) -> Option<()> {
        let number = self.mute.iter().find_map(|(number, (address, _))| meant(*address).then_some(*number))?;
        let (address, ended) = self.mute.remove(&number)?;
        ended.cancel();
        self.leave(address);
        Some(())
    }

    fn leave(&mut self, address: IpAddr) {
        match self.of(address) {
            0 | 1 => self.of.remove(&address),
            more => self.of.insert(address, more - 1),
        };
    }
}

/// The place of a connection.
struct Place {
    open: Arc<Open>,
    address: IpAddr,
    number: u64,
    /// Another connection has the place.
    ended: CancellationToken,
}

impl Place {
    /// The connection has said something, and keeps its place from now on.
    fn talks(&self) {
        self.open.lock().mute.remove(&self.number);
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let mut counts = self.open.lock();
        counts.mute.remove(&self.number);
        if !self.ended.is_cancelled() {
            counts.leave(self.address);
        }
    }
}

/// A connection that ends when it is silent for too long, or before it said anything where its place is needed.
pub(crate) struct Connection {
    stream: TcpStream,
    /// Bytes that are still to come before it counts as one that talks.
    first: usize,
    silence: Duration,
    timer: Pin<Box<Sleep>>,
    ended: Pin<Box<WaitForCancellationFutureOwned>>,
    place: Place,
}

impl Connection {
    fn new(stream: TcpStream, place: Place, limits: ConnectionLimits) -> Self {
        let timer = Box::pin(tokio::time::sleep(limits.first_bytes));
        let ended = Box::pin(place.ended.clone().cancelled_owned());
        Self { stream, first: FIRST_BYTES, silence: limits.silence, timer, ended, place }
    }

    fn heard(&mut self, bytes: usize) {
        if self.first > 0 && bytes >= self.first {
            self.place.talks();
        }
        self.first = self.first.saturating_sub(bytes);
        self.moved();
    }

    fn moved(&mut self) {
        if self.first == 0 {
            self.timer.as_mut().reset(Instant::now() + self.silence);
        }
    }
}

impl AsyncRead for Connection {
    fn poll_read(mut self: Pin<&mut Self>, cx: &mut Context<'_>, into: &mut ReadBuf<'_>) -> Poll<io::Result<()>> {
        let before = into.filled().len();
        let polled = Pin::new(&mut self.stream).poll_read(cx, into);
        if polled.is_ready() {
            self.heard(into.filled().len().saturating_sub(before));
            return polled;
        }
        if self.ended.as_mut().poll(cx).is_pending() {
            ready!(self.timer.as_mut().poll(cx));
        }
        Poll::Ready(Err(io::Error::new(io::ErrorKind::TimedOut, "the connection was silent for too long")))
    }
}

impl AsyncWrite for Connection {
    fn poll_write(mut self: Pin<&mut Self>, cx: &mut Context<'_>, bytes: &[u8]) -> Poll<io::Result<usize>> {
        let polled = Pin::new(&mut self.stream).poll_write(cx, bytes);
        if polled.is_ready() {
            self.moved();
        }
        polled
    }

    fn poll_write_vectored(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        parts: &[io::IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        let polled = Pin::new(&mut self.stream).poll_write_vectored(cx, parts);
        if polled.is_ready() {
            self.moved();
        }
        polled
    }

    fn is_write_vectored(&self) -> bool {
        self.stream.is_write_vectored()
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(cx)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(cx)
    }
}

impl Connected for Connection {
    type ConnectInfo = TcpConnectInfo;

    fn connect_info(&self) -> TcpConnectInfo {
        self.stream.connect_info()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use futures::StreamExt as _;
    use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};

    fn limits() -> ConnectionLimits {
        let short = Duration::from_millis(200);
        ConnectionLimits { all: 2, of_an_address: 1, first_bytes: short, silence: short }
    }

    #[test]
    fn one_address_has_its_share_and_this_machine_all() {
        let open = Arc::new(Open::default());
        let take = |address: &str| {
            let place = Open::take(&open, address.parse().unwrap(), limits())?;
            place.talks();
            Some(place)
        };
        let (away, here) = ("192.0.2.7", "127.0.0.1");
        let first = take(away).unwrap();
        assert!(take(away).is_none());
        let _second = take(here).unwrap();
        assert!(take(here).is_none(), "the limit of all");
        drop(first);
        let _third = take(here).unwrap();
    }

    #[test]
    fn where_it_is_full_the_oldest_that_said_nothing_makes_room() {
        let open = Arc::new(Open::default());
        let take = |address: &str| Open::take(&open, address.parse().unwrap(), limits());
        let talks = take("127.0.0.1").unwrap();
        talks.talks();
        let mute = take("127.0.0.1").unwrap();
        let next = take("127.0.0.1").unwrap();
        assert!(mute.ended.is_cancelled() && !talks.ended.is_cancelled() && !next.ended.is_cancelled());
        // Its place is counted once, however long its end takes.
        drop(mute);
        next.talks();
        assert!(take("127.0.0.1").is_none(), "both of the two talk");
        drop(next);
        // An address at its own limit makes room among its own.
        let away = take("192.0.2.7").unwrap();
        let again = take("192.0.2.7").unwrap();
        assert!(away.ended.is_cancelled() && !again.ended.is_cancelled());
    }

    #[tokio::test]
    async fn a_silent_connection_is_ended_and_one_that_talks_is_not() {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = listener.local_addr().unwrap();
        let mut connections = std::pin::pin!(incoming(listener, limits()));
        for said in [&b"GET"[..], &[b'x'; 64]] {
            let mut caller = TcpStream::connect(address).await.unwrap();
            let mut connection = connections.next().await.unwrap().unwrap();
            caller.write_all(said).await.unwrap();
            let mut bytes = Vec::new();
            let error = connection.read_to_end(&mut bytes).await.unwrap_err();
            assert_eq!((error.kind(), bytes.as_slice()), (io::ErrorKind::TimedOut, said));
        }
        let mut caller = TcpStream::connect(address).await.unwrap();
        let mut connection = connections.next().await.unwrap().unwrap();
        let began = Instant::now();
        let talks = async move {
            while began.elapsed() < limits().silence * 3 {
                caller.write_all(&[b'x'; 24]).await.unwrap();
                tokio::time::sleep(limits().silence / 8).await;
            }
        };
        let hears = async {
            let mut bytes = Vec::new();
            connection.read_to_end(&mut bytes).await
        };
        let (heard, ()) = tokio::join!(hears, talks);
        heard.unwrap();
    }
}
