//! The body of a request: it has to come within a time that a slow network needs, and not longer.

use super::reply;
use axum::body::{Body, BodyDataStream, Bytes};
use axum::extract::{Request, State};
use axum::http::StatusCode;
use axum::middleware::Next;
use axum::response::Response;
use futures_util::{Stream, StreamExt};
use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;
use tokio::time::{Instant, timeout_at};

/// A network that is slower than this, in bytes a second, carries no photograph (chosen, no source).
const SLOWEST: u64 = 8 * 1024;

/// A body while it comes.
struct Coming {
    data: BodyDataStream,
    /// When it has to be there, if it has no more bytes than those that came.
    until: Instant,
    late: Arc<AtomicBool>,
}

/// Gives up a request whose body does not come, and says so.
pub(super) async fn in_time(
    State(grace): State<Duration>,
    request: Request,
    next: Next,
) -> Response {
    let late = Arc::new(AtomicBool::new(false));
    let (head, body) = request.into_parts();
    let coming = Coming {
        data: body.into_data_stream(),
        until: Instant::now() + grace,
        late: Arc::clone(&late),
    };
    let request = Request::from_parts(head, Body::from_stream(stream(coming)));
    let answer = next.run(request).await;
    if !late.load(Ordering::Relaxed) {
        return answer;
    }
    reply::refused(
        StatusCode::REQUEST_TIMEOUT,
        "what the page sent did not come whole in time: nothing was changed by it",
    )
}

fn stream(coming: Coming) -> impl Stream<Item = io::Result<Bytes>> {
    futures_util::stream::unfold(Some(coming), |coming| async {
        let mut coming = coming?;
        match timeout_at(coming.until, coming.data.next()).await {
            Ok(None) => None,
            Ok(Some(Ok(some))) => {
                let length = u64::try_from(some.len()).unwrap_or(u64::MAX);
                coming.until += Duration::from_secs_f64(length as f64 / SLOWEST as f64);
                Some((Ok(some), Some(coming)))
            }
            Ok(Some(Err(fault))) => Some((Err(io::Error::other(fault)), None)),
            Err(_) => {
                coming.late.store(true, Ordering::Relaxed);
                Some((Err(io::ErrorKind::TimedOut.into()), None))
            }
        }
    })
}
