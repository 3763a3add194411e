//! What is sent along with a request: read whole before any handler sees it, within bounds of size and time.
//!
//! Who sends too much gets to read why. Browsers look at the answer only once all is sent, so what is too much
//! is still taken off the line, up to a point, and thrown away.

use std::sync::Arc;
use std::time::Duration;

use axum::body::{Body, Bytes};
use axum::extract::{Request, State};
use axum::http::HeaderMap;
use axum::http::header::{CONTENT_LENGTH, EXPECT};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use http_body_util::BodyExt;
use service::floor::bounds::MOST_BATCH_BYTES;
use tokio::sync::{Semaphore, SemaphorePermit};
use tokio::time::{Instant, timeout, timeout_at};

use super::error::WebError;

/// The most bytes that an import may send: a table and what is around it.
const MOST_OF_A_TABLE: usize = service::import::form::MAX_BYTES + 64 * 1024;
/// The most bytes that any other form may send.
const MOST_OF_A_FORM: usize = 2 * 1024 * 1024;
/// What is more than this is no longer taken off the line.
const MOST_THROWN_AWAY: usize = 256 * 1024 * 1024;
/// Whatever is smaller needs no place.
const SMALL: usize = 64 * 1024;
/// How many bodies that aren't small are held at once.
const PLACES: usize = 16;

/// How long sending may take.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Patience {
    /// How long nothing may come.
    pub pause: Duration,
    /// How long all of it may take.
    pub whole: Duration,
    /// How long a large body waits for other large ones.
    pub turn: Duration,
}

impl Default for Patience {
    /// A table of the largest size comes whole by a line of 1 Mbit/s.
    fn default() -> Patience {
        let seconds = Duration::from_secs;
        Patience { pause: seconds(15), whole: seconds(240), turn: seconds(15) }
    }
}

/// What bodies are held to.
#[derive(Debug)]
pub(super) struct Bounds {
    patience: Patience,
    places: Semaphore,
}

impl Bounds {
    pub(super) fn new(patience: Patience) -> Arc<Bounds> {
        Arc::new(Bounds { patience, places: Semaphore::new(PLACES) })
    }
}

/// Reads the body of a request whole, or answers why not.
pub(super) async fn read_whole(
    State(bounds): State<Arc<Bounds>>,
    request: Request,
    next: Next,
) -> Response {
    let (parts, body) = request.into_parts();
    let most = most_bytes(parts.uri.path());
    match bounds.read(&parts.headers, body, most).await {
        Ok(bytes) => next.run(Request::from_parts(parts, Body::from(bytes))).await,
        Err(error) => error.into_response(),
    }
}

fn most_bytes(path: &str) -> usize {
    match path {
        "/import" => MOST_OF_A_TABLE,
        path if path.starts_with("/floor/") => MOST_BATCH_BYTES,
        _ => MOST_OF_A_FORM,
    }
}

impl Bounds {
    async fn read(&self, headers: &HeaderMap, body: Body, most: usize) -> Result<Bytes, WebError> {
        let length = headers.get(CONTENT_LENGTH).and_then(|length| length.to_str().ok());
        let length = length.and_then(|length| length.parse::<usize>().ok());
        let waits_for_word = headers.contains_key(EXPECT);
        let until = Instant::now() + self.patience.whole;
        let mut coming = Coming { body, pause: self.patience.pause, until };
        if length.is_some_and(|length| length > most) {
            // Who waits for a word before sending reads the answer at once.
            if !waits_for_word {
                coming.throw_away().await;
            }
            return Err(WebError::too_large(most));
        }
        let mut bytes = Vec::with_capacity(length.unwrap_or(0).min(SMALL));
        let mut place = None;
        if length.is_some_and(|length| length > SMALL) {
            place = Some(self.place().await?);
        }
        while let Some(chunk) = coming.next().await? {
            if bytes.len() + chunk.len() > most {
                drop((std::mem::take(&mut bytes), place));
                coming.throw_away().await;
                return Err(WebError::too_large(most));
            }
            if place.is_none() && bytes.len() + chunk.len() > SMALL {
                place = Some(self.place().await?);
            }
            bytes.extend_from_slice(&chunk);
        }
        Ok(Bytes::from(bytes))
    }

    async fn place(&self) -> Result<SemaphorePermit<'_>, WebError> {
        let place = timeout(self.patience.turn, self.places.acquire()).await;
        let busy = || WebError::busy("others are sending large files");
        place.map_err(|_| busy())?.map_err(|_| busy())
    }
}

/// A body on its way.
struct Coming {
    body: Body,
    pause: Duration,
    until: Instant,
}

impl Coming {
    /// The next part; none at the end.
    async fn next(&mut self) -> Result<Option<Bytes>, WebError> {
        let by = self.until.min(Instant::now() + self.pause);
        match timeout_at(by, self.body.frame()).await {
            Ok(None) => Ok(None),
            // Trailers hold nothing that anybody reads.
            Ok(Some(Ok(frame))) => Ok(Some(frame.into_data().unwrap_or_default())),
            Ok(Some(Err(_))) => Err(WebError::refused("what was sent along broke off")),
            Err(_) => Err(WebError::too_slow()),
        }
    }

    /// Takes what is left off the line, so that its sender comes to read the answer.
    async fn throw_away(&mut self) {
        let mut thrown = 0;
        while let Ok(Some(chunk)) = self.next().await {
            thrown += chunk.len();
            if thrown > MOST_THROWN_AWAY {
                return;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use axum::Router;
    use axum::extract::DefaultBodyLimit;
    use axum::http::StatusCode;
    use axum::middleware::from_fn_with_state;
    use axum::routing::post;
    use futures::StreamExt;
    use futures::stream;
    use tower::ServiceExt;

    use super::*;

    const SHORT: Patience = Patience {
        pause: Duration::from_millis(100),
        whole: Duration::from_millis(400),
        turn: Duration::from_millis(100),
    };
    /// Much longer than any of these.
    const LONG: Duration = Duration::from_secs(60);

    /// Sends a body to a page that says how many bytes came.
    async fn send(bounds: &Arc<Bounds>, path: &str, body: Body) -> (StatusCode, String) {
        let counted = |bytes: Bytes| std::future::ready(bytes.len().to_string());
        let pages = Router::new()
            .route("/import", post(counted))
            .route("/floor/{token}/messages", post(counted))
            .layer(DefaultBodyLimit::disable())
            .layer(from_fn_with_state(Arc::clone(bounds), read_whole));
        let request = Request::post(path).body(body).unwrap();
        let answer = timeout(LONG, pages.oneshot(request)).await.expect("it waits for ever");
        let (parts, body) = answer.unwrap().into_parts();
        let text = body.collect().await.unwrap().to_bytes();
        (parts.status, String::from_utf8(text.to_vec()).unwrap())
    }

    /// A body in parts of a kilobyte, so many, one after each pause; then it stalls.
    fn dripping(parts: usize, pause: Duration) -> Body {
        let parts = stream::iter(0..parts).then(move |_| async move {
            tokio::time::sleep(pause).await;
            Ok::<_, std::io::Error>(vec![b'x'; 1024])
        });
        Body::from_stream(parts.chain(stream::pending()))
    }

    #[tokio::test]
    async fn what_comes_too_slowly_is_answered_as_such() {
        let bounds = Bounds::new(SHORT);
        for (body, why) in [
            (dripping(3, Duration::ZERO), "it stalls"),
            (dripping(usize::MAX, SHORT.pause / 4), "it has no end"),
        ] {
            let (status, text) = send(&bounds, "/import", body).await;
            assert_eq!(status, StatusCode::REQUEST_TIMEOUT, "{why}");
            assert!(text.contains("send it again"), "{text}");
        }
    }

    #[tokio::test]
    async fn what_is_within_the_bounds_comes_whole_and_what_is_not_is_refused() {
        let bounds = Bounds::new(Patience::default());
        for (path, most) in
            [("/import", MOST_OF_A_TABLE), ("/floor/token/messages", MOST_BATCH_BYTES)]
        {
            for (n, status) in [(most, StatusCode::OK), (most + 1, StatusCode::PAYLOAD_TOO_LARGE)] {
                // In parts of which nobody knows how many there are.
                let parts = vec![b'x'; n].chunks(50_000).map(<[u8]>::to_vec).collect::<Vec<_>>();
                let parts = stream::iter(parts.into_iter().map(Ok::<_, std::io::Error>));
                let (got, text) = send(&bounds, path, Body::from_stream(parts)).await;
                assert_eq!(got, status, "{path} {n}");
                assert!(status != StatusCode::OK || text == n.to_string(), "{text}");
            }
        }
    }

    #[tokio::test]
    async fn many_large_ones_wait_for_their_turn_and_small_ones_do_not() {
        let bounds = Bounds::new(SHORT);
        let held = bounds.places.acquire_many(PLACES as u32).await.unwrap();
        let large = || Body::from(vec![b'x'; SMALL + 1]);
        let (status, text) = send(&bounds, "/import", large()).await;
        assert_eq!(status, StatusCode::SERVICE_UNAVAILABLE, "{text}");
        let small = Body::from(vec![b'x'; SMALL]);
        assert_eq!(send(&bounds, "/import", small).await.0, StatusCode::OK);
        drop(held);
        assert_eq!(send(&bounds, "/import", large()).await.0, StatusCode::OK);
    }
}
