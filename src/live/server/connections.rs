//! Connections: how many there are, and how long each may keep the server waiting.

use std::io;
use std::pin::Pin;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::task::{Context, Poll, ready};
use std::time::Duration;

use axum::Router;
use axum::extract::Request;
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use tokio::io::{AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt, ReadBuf};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::Semaphore;
use tokio::task::JoinHandle;
use tokio::time::{Sleep, sleep, timeout};
use tower_service::Service;

use super::{ANSWER_TIME, HEAD_TIME, MOST_BYTES, MOST_CONNECTIONS};

/// Connections beyond the limit that are told so at once; more are just closed.
const MOST_TOLD: usize = 16;
/// The most time that telling one takes.
const TELL_TIME: Duration = Duration::from_secs(1);
/// From a failure of the whole machine to the next try.
const REST: Duration = Duration::from_millis(200);

/// What a connection beyond the limit is told.
const FULL: &str =
    "Too many browsers and tabs have this page open. Close some of them, then load it again.\n";

/// Who is at the other end of a connection.
#[derive(Debug, Clone, Default)]
pub(super) struct Caller(Arc<AtomicBool>);

impl Caller {
    /// It has sent a request with the page's address.
    pub(super) fn has_shown_the_address(&self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

struct Connection {
    caller: Caller,
    task: JoinHandle<()>,
}

/// Answers whoever connects, for ever. When all connections are taken, a new one
/// gets the place of the oldest that has never shown the page's address: those who
/// only keep connections open do not shut out the page.
pub(super) async fn accept(listener: &TcpListener, routes: &Router) {
    let mut open: Vec<Connection> = Vec::new();
    let telling = Arc::new(Semaphore::new(MOST_TOLD));
    loop {
        let stream = match listener.accept().await {
            Ok((stream, _)) => stream,
            Err(error) if is_of_one(&error) => continue,
            Err(_) => {
                sleep(REST).await;
                continue;
            }
        };
        open.retain(|connection| !connection.task.is_finished());
        if open.len() >= MOST_CONNECTIONS {
            let stranger = open.iter().position(|c| !c.caller.0.load(Ordering::Relaxed));
            let Some(stranger) = stranger else {
                if let Ok(permit) = Arc::clone(&telling).try_acquire_owned() {
                    tokio::spawn(async move {
                        let _permit = permit;
                        // Whoever does not listen is not told.
                        let _ = timeout(TELL_TIME, turn_away(stream)).await;
                    });
                }
                continue;
            };
            let Connection { task, .. } = open.remove(stranger);
            task.abort();
            // Its socket is closed before the next is taken.
            let _ = task.await;
        }
        let caller = Caller::default();
        let task = tokio::spawn(answer(stream, routes.clone(), caller.clone()));
        open.push(Connection { caller, task });
    }
}

/// Whether an error is of one connection, which its other end has given up.
fn is_of_one(error: &io::Error) -> bool {
    matches!(
        error.kind(),
        io::ErrorKind::ConnectionRefused
            | io::ErrorKind::ConnectionAborted
            | io::ErrorKind::ConnectionReset
    )
}

async fn turn_away(mut stream: TcpStream) -> io::Result<()> {
    let answer = format!(
        "HTTP/1.1 503 Service Unavailable\r\ncontent-type: text/plain; charset=utf-8\r\n\
         content-length: {}\r\ncache-control: no-store\r\nretry-after: 5\r\nconnection: close\r\n\r\n{FULL}",
        FULL.len()
    );
    stream.write_all(answer.as_bytes()).await?;
    stream.shutdown().await?;
    // Closed with something unread, it would be reset and the answer lost.
    let mut unread = [0; 1024];
    while stream.read(&mut unread).await? > 0 {}
    Ok(())
}

/// Answers the requests of a connection until it ends or is too slow.
async fn answer(stream: TcpStream, routes: Router, caller: Caller) {
    let service = service_fn(move |mut request: Request<Incoming>| {
        request.extensions_mut().insert(caller.clone());
        routes.clone().call(request)
    });
    let mut http = http1::Builder::new();
    http.timer(TokioTimer::new()).header_read_timeout(HEAD_TIME).max_buf_size(MOST_BYTES);
    // How a connection ends is its browser's affair.
    let _ = http.serve_connection(TokioIo::new(Impatient::over(stream)), service).await;
}

/// A stream whose other end has to take what is written within [`ANSWER_TIME`],
/// all of it, however many pieces it takes it in.
struct Impatient {
    stream: TcpStream,
    /// Runs from the first write that had to wait until all is written.
    late: Option<Pin<Box<Sleep>>>,
}

impl Impatient {
    fn over(stream: TcpStream) -> Self {
        Self { stream, late: None }
    }

    /// What came of a write, or that waiting for it takes too long.
    fn in_time(
        &mut self,
        context: &mut Context<'_>,
        written: Poll<io::Result<usize>>,
    ) -> Poll<io::Result<usize>> {
        if written.is_pending() {
            let late = self.late.get_or_insert_with(|| Box::pin(sleep(ANSWER_TIME)));
            ready!(late.as_mut().poll(context));
            return Poll::Ready(Err(io::ErrorKind::TimedOut.into()));
        }
        written
    }
}

impl AsyncRead for Impatient {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_read(context, buffer)
    }
}

impl AsyncWrite for Impatient {
    fn poll_write(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        let written = Pin::new(&mut self.stream).poll_write(context, bytes);
        self.in_time(context, written)
    }

    fn poll_write_vectored(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        pieces: &[io::IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        let written = Pin::new(&mut self.stream).poll_write_vectored(context, pieces);
        self.in_time(context, written)
    }

    fn is_write_vectored(&self) -> bool {
        self.stream.is_write_vectored()
    }

    /// Asked for once all that there was has been written.
    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        self.late = None;
        Pin::new(&mut self.stream).poll_flush(context)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(context)
    }
}
