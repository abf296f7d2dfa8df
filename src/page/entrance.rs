//! Where connections come in: each is served on its own task, and none of them, nor a system that has
//! no more files to give, ends or holds up the others.

use super::callers::{Caller, Callers};
use super::limits::Limits;
use axum::Router;
use axum::http::Request;
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper::service::{Service, service_fn};
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use std::convert::Infallible;
use std::io::{self, ErrorKind};
use std::net::SocketAddr;
use std::time::Duration;
use tokio::net::{TcpListener, TcpSocket, TcpStream};
use tokio_io_timeout::TimeoutStream;

/// So many connections wait in the system until they are taken in.
const BACKLOG: u32 = 1024;
/// So much of an answer lies in the system for a reader that does not take it.
const ON_THE_WAY: u32 = 256 * 1024;
/// So much of it lies here, and so much of what is asked.
const HERE: usize = 32 * 1024;
/// A head may have so many bytes: programs of one computer share their cookies.
const LONGEST_HEAD: usize = 16 * 1024;
/// Where the system gives no connection and none can be dropped, so long is waited until it is asked
/// again.
const REST: Duration = Duration::from_millis(100);

/// Listens at an address.
pub(super) fn listen(address: SocketAddr) -> io::Result<TcpListener> {
    let socket = match address {
        SocketAddr::V4(_) => TcpSocket::new_v4()?,
        SocketAddr::V6(_) => TcpSocket::new_v6()?,
    };
    // A port that was just left can be taken again at once.
    #[cfg(unix)]
    socket.set_reuseaddr(true)?;
    socket.set_send_buffer_size(ON_THE_WAY)?;
    socket.bind(address)?;
    socket.listen(BACKLOG)
}

/// Takes connections in, for ever.
pub(super) async fn receive(listener: TcpListener, router: Router, limits: &Limits) -> Infallible {
    let callers = Callers::new(limits.strangers, limits.known);
    let mut speaks = http1::Builder::new();
    speaks
        .timer(TokioTimer::new())
        .header_read_timeout(limits.head)
        .max_buf_size(HERE)
        .max_header_size(LONGEST_HEAD);
    loop {
        match listener.accept().await {
            Ok((stream, from)) => {
                let (caller, leaving) = callers.caller(from.ip());
                let talk = talk(
                    stream,
                    speaks.clone(),
                    router.clone(),
                    caller.clone(),
                    limits.stalled,
                );
                let task = tokio::spawn(async move {
                    let _leaving = leaving;
                    talk.await;
                });
                callers.enter(&caller, task.abort_handle());
            }
            Err(fault) if left_meanwhile(&fault) => {}
            Err(_) => {
                // Most likely there is no file left to be opened. What waits goes on waiting.
                if !callers.make_room() {
                    tokio::time::sleep(REST).await;
                }
            }
        }
        // Each is heard before the next one is taken in, however many come.
        tokio::task::yield_now().await;
    }
}

/// Whether it was the other side that went away.
fn left_meanwhile(fault: &io::Error) -> bool {
    matches!(
        fault.kind(),
        ErrorKind::ConnectionAborted | ErrorKind::ConnectionReset | ErrorKind::ConnectionRefused
    )
}

/// Serves one connection to its end.
async fn talk(
    stream: TcpStream,
    speaks: http1::Builder,
    router: Router,
    caller: Caller,
    stalled: Duration,
) {
    // An event is not held back until the one before it was confirmed.
    let _ = stream.set_nodelay(true);
    let mut stream = TimeoutStream::new(stream);
    stream.set_write_timeout(Some(stalled));
    let router = TowerToHyperService::new(router);
    let service = service_fn(move |mut request: Request<Incoming>| {
        request.extensions_mut().insert(caller.clone());
        router.call(request)
    });
    // How a connection ended is nobody's concern: what was asked on it has its own answer.
    let _ = speaks
        .serve_connection(TokioIo::new(Box::pin(stream)), service)
        .await;
}
