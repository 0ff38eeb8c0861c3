//! Answers browsers on this machine, and nobody else: the listener is bound to
//! the loopback address, every path begins with a random token, a request that
//! names another host is refused, and no answer may be read by another site.

mod actions;
mod beginning;
mod connections;
mod draw;
mod forms;
mod guard;
mod here;
mod hours;
mod page;
mod pictures;
mod strips;
mod upload;

use std::io;
use std::net::{Ipv4Addr, SocketAddr};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::routing::{get, post};

pub use beginning::{Beginning, NotBegun, Wanted};
pub use upload::MOST_FILE_BYTES;

use super::desk::Desk;

/// Ports that are tried, from the first that was asked for.
const PORTS: u16 = 20;
/// How often the plan's file and the wish to end are looked at.
const LOOK_EVERY: Duration = Duration::from_millis(400);
/// The largest request.
const MOST_BYTES: usize = 64 * 1024;
/// The most time from the moment that a connection is free for a request to the
/// last byte of the request's head: it may rest and be slow for that long.
pub const HEAD_TIME: Duration = Duration::from_secs(10);
/// The most time that the body of a request may take.
pub const BODY_TIME: Duration = Duration::from_secs(10);
/// The most time that a browser may take to read an answer, or an event.
pub const ANSWER_TIME: Duration = Duration::from_secs(20);
/// Connections that are open at once: some ten browsers.
pub const MOST_CONNECTIONS: usize = 64;

/// Where a desk is served.
#[derive(Debug, Clone)]
pub struct Address {
    /// The address to open in a browser.
    pub url: String,
    /// The port.
    pub port: u16,
    /// The first port that was wanted, where that was taken.
    pub instead_of: Option<u16>,
}

/// What the handlers share.
#[derive(Clone)]
struct Served {
    desk: Arc<Desk>,
    door: guard::Door,
    /// Held while a sheet is drawn: each takes the memory of a plan of its own.
    sheet: Arc<Mutex<()>>,
    /// What the last file of places has.
    found: Arc<Mutex<draw::FoundEntries>>,
}

/// A listener on loopback, ready to serve.
pub struct Listener {
    socket: std::net::TcpListener,
    token: Arc<str>,
    address: Address,
}

impl Listener {
    /// Takes `port` or the next that is free; 0 takes any.
    ///
    /// # Errors
    /// [`io::Error`] when none of them is free, or no token can be drawn.
    pub fn bind(port: u16) -> io::Result<Self> {
        let mut socket = Err(io::Error::from(io::ErrorKind::AddrInUse));
        for candidate in port..=port.saturating_add(PORTS) {
            socket =
                std::net::TcpListener::bind(SocketAddr::from((Ipv4Addr::LOCALHOST, candidate)));
            match &socket {
                Err(error) if error.kind() == io::ErrorKind::AddrInUse => {}
                _ => break,
            }
        }
        let socket = socket?;
        socket.set_nonblocking(true)?;
        let taken = socket.local_addr()?.port();
        let token = token()?;
        let address = Address {
            url: format!("http://127.0.0.1:{taken}/{token}/"),
            port: taken,
            instead_of: (port != 0 && port != taken).then_some(port),
        };
        Ok(Self { socket, token, address })
    }

    /// Who is answered.
    fn door(&self) -> guard::Door {
        guard::Door { token: Arc::clone(&self.token), port: self.address.port }
    }

    /// Where it will be found.
    #[must_use]
    pub fn address(&self) -> &Address {
        &self.address
    }

    /// Serves `desk` until `stop` is set. What a person at the terminal should know
    /// meanwhile goes to `aside`.
    ///
    /// # Errors
    /// [`io::Error`] when the server cannot run.
    pub fn serve(
        self,
        desk: &Arc<Desk>,
        stop: &AtomicBool,
        mut aside: impl FnMut(&str),
    ) -> io::Result<()> {
        let runtime =
            tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build()?;
        let served = Served {
            desk: Arc::clone(desk),
            door: self.door(),
            sheet: Arc::default(),
            found: Arc::default(),
        };
        let done = runtime.block_on(async {
            let listener = tokio::net::TcpListener::from_std(self.socket)?;
            let routes = routes(served);
            tokio::select! {
                () = connections::accept(&listener, &routes) => {}
                () = until(stop, desk, &mut aside) => {}
            }
            Ok(())
        });
        desk.stop();
        runtime.shutdown_background();
        done
    }
}

/// Waits for `stop`, looking at the plan's file now and then and saying what is
/// new to know.
async fn until(stop: &AtomicBool, desk: &Arc<Desk>, aside: &mut impl FnMut(&str)) {
    let mut beats = 0u32;
    let mut told = desk.lock().warnings();
    while !stop.load(Ordering::Relaxed) {
        tokio::time::sleep(LOOK_EVERY / 8).await;
        beats = beats.wrapping_add(1);
        if beats.is_multiple_of(8) {
            let desk = Arc::clone(desk);
            // A look that fails leaves the desk as it is.
            let look = move || {
                desk.look_at_file();
                desk.lock().warnings()
            };
            if let Ok(warnings) = tokio::task::spawn_blocking(look).await {
                warnings.iter().filter(|warning| !told.contains(warning)).for_each(|w| aside(w));
                told = warnings;
            }
        }
    }
}

fn routes(served: Served) -> Router {
    Router::new()
        .route("/{token}/", get(page::page))
        .route("/{token}/live.js", get(page::script))
        .route("/{token}/live.css", get(page::style))
        .route("/{token}/state", get(actions::state))
        .route("/{token}/events", get(actions::events))
        .route("/{token}/forms", get(forms::declared))
        .route("/{token}/form", get(forms::form))
        .route("/{token}/change", post(actions::change))
        .route("/{token}/drag", post(actions::drag))
        .route("/{token}/look", post(actions::look))
        .route("/{token}/undo", post(actions::undo))
        .route("/{token}/redo", post(actions::redo))
        .route("/{token}/keep", post(actions::keep))
        .route("/{token}/drop", post(actions::drop_variant))
        .route("/{token}/take-up", post(actions::take_up))
        .route("/{token}/save", post(actions::save))
        .route("/{token}/save-as", post(actions::save_as))
        .route("/{token}/reload", post(actions::reload))
        .route("/{token}/recover", post(actions::recover))
        .route("/{token}/discard", post(actions::discard))
        .route("/{token}/add", post(draw::add))
        .route("/{token}/reshape", post(draw::reshape))
        .route("/{token}/read", post(draw::read))
        .route("/{token}/take", post(draw::take))
        .route("/{token}/here", get(here::here))
        .route("/{token}/hours", get(hours::hours))
        .route("/{token}/moment", get(hours::moment))
        .route("/{token}/path", get(actions::path))
        .route("/{token}/path.png", get(pictures::path))
        .route("/{token}/strips", get(strips::strips))
        .route("/{token}/together", post(strips::lay))
        .route("/{token}/together.png", get(strips::together))
        .route("/{token}/land.png", get(pictures::land))
        .route("/{token}/lines.png", get(pictures::lines))
        .route("/{token}/coverage.png", get(pictures::coverage))
        .route("/{token}/variant.png", get(pictures::variant))
        .route("/{token}/difference.png", get(pictures::difference))
        .route("/{token}/map.png", get(pictures::map))
        .layer(axum::middleware::from_fn_with_state(served.door.clone(), guard::guard))
        .layer(DefaultBodyLimit::max(MOST_BYTES))
        .with_state(served)
}

/// 128 random bits in hexadecimal.
fn token() -> io::Result<Arc<str>> {
    let mut bytes = [0u8; 16];
    getrandom::fill(&mut bytes).map_err(|e| io::Error::other(format!("no random token: {e}")))?;
    Ok(bytes.iter().map(|byte| format!("{byte:02x}")).collect::<String>().into())
}
