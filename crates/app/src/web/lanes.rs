//! The threads on which the desk is asked, in three lanes, so that no kind of question waits for another.
//!
//! What phones send comes first: its threads do nothing else. Forms have a few of their own, since an import
//! may take long. Pages are worked out by few threads that step back for everybody else's, for a page that
//! reads a long record can keep a processor busy for a while, and many of them all of them.

use std::io;
use std::sync::Arc;
use std::time::{Duration, Instant};

use axum::Router;
use axum::extract::{Request, State};
use axum::http::Method;
use axum::middleware::{Next, from_fn_with_state};
use axum::response::Response;
use tokio::runtime::{Builder, Handle, Runtime};
use tokio::sync::Semaphore;

use super::desk::DeskError;
use super::error::WebError;

/// Threads that take what phones send. The record has one writer, and most of the time goes into waiting for
/// the disk.
const FOR_PHONES: usize = 4;
/// Threads for forms.
const FOR_FORMS: usize = 2;
/// How long a question waits for its turn before it is given up.
const PATIENCE: Duration = Duration::from_secs(60);

/// One kind of question, and the threads for it.
#[derive(Clone, Debug)]
struct Lane {
    threads: Handle,
    free: Arc<Semaphore>,
}

/// All lanes, for whoever asks.
#[derive(Clone, Debug)]
pub struct Lanes {
    phones: Lane,
    forms: Lane,
    readings: Lane,
}

/// The threads of all lanes, for whoever ends them. Not to be dropped by a task of another runtime.
#[derive(Debug)]
pub struct Threads {
    runtimes: Vec<Runtime>,
    lanes: Lanes,
}

tokio::task_local! {
    /// The lane of the request that is being answered.
    static LANE: Lane;
}

impl Threads {
    /// Begins lanes with so many threads for pages (at least one). They call `step_back` at their start.
    ///
    /// # Errors
    /// The system has no threads to give.
    pub fn begin(
        for_pages: usize,
        step_back: impl Fn() + Send + Sync + 'static,
    ) -> io::Result<Threads> {
        let mut runtimes = Vec::new();
        let mut lane = |name: &str, n: usize, start: Box<dyn Fn() + Send + Sync>| {
            // A runtime is used as a pool of threads only: nothing runs on it but what may block.
            let runtime = Builder::new_current_thread()
                .max_blocking_threads(n)
                .thread_name(name)
                .on_thread_start(start)
                .build()?;
            let lane =
                Lane { threads: runtime.handle().clone(), free: Arc::new(Semaphore::new(n)) };
            runtimes.push(runtime);
            io::Result::Ok(lane)
        };
        let lanes = Lanes {
            phones: lane("phones", FOR_PHONES, Box::new(|| ()))?,
            forms: lane("forms", FOR_FORMS, Box::new(|| ()))?,
            readings: lane("pages", for_pages.max(1), Box::new(step_back))?,
        };
        Ok(Threads { runtimes, lanes })
    }

    /// The lanes.
    #[must_use]
    pub fn lanes(&self) -> Lanes {
        self.lanes.clone()
    }

    /// Lets no question begin any more and waits until those that have begun are answered, but no longer than
    /// `grace` in all. Afterwards no thread of these is left, or the process is about to end with it.
    pub fn end(self, grace: Duration) {
        let begun = Instant::now();
        for lane in [&self.lanes.phones, &self.lanes.forms, &self.lanes.readings] {
            lane.free.close();
        }
        for runtime in self.runtimes {
            runtime.shutdown_timeout(grace.saturating_sub(begun.elapsed()));
        }
    }
}

impl Lanes {
    fn of(&self, request: &Request) -> &Lane {
        match *request.method() {
            Method::GET | Method::HEAD | Method::OPTIONS => &self.readings,
            _ if request.uri().path().starts_with("/floor/") => &self.phones,
            _ => &self.forms,
        }
    }
}

/// Lets what these pages ask go by its lane.
pub fn in_lanes(lanes: Lanes, pages: Router) -> Router {
    pages.layer(from_fn_with_state(Arc::new(lanes), choose))
}

async fn choose(State(lanes): State<Arc<Lanes>>, request: Request, next: Next) -> Response {
    let lane = lanes.of(&request).clone();
    LANE.scope(lane, next.run(request)).await
}

/// Asks the desk on a thread that may wait: one of the request's lane, if there are lanes.
pub(super) async fn ask<T: Send + 'static>(
    question: impl FnOnce() -> Result<T, DeskError> + Send + 'static,
) -> Result<T, WebError> {
    let answer = match LANE.try_with(Lane::clone) {
        Ok(lane) => {
            let turn = tokio::time::timeout(PATIENCE, lane.free.acquire_owned()).await;
            let turn = turn.map_err(|_| WebError::busy("too much is being asked of it"))?;
            let turn = turn.map_err(|_| WebError::busy("it is about to end"))?;
            let asked = lane.threads.spawn_blocking(move || {
                let _until_answered = turn;
                question()
            });
            asked.await
        }
        Err(_) => tokio::task::spawn_blocking(question).await,
    };
    match answer {
        Ok(answer) => answer.map_err(WebError::from),
        Err(ended) if ended.is_cancelled() => Err(WebError::busy("it is about to end")),
        Err(_) => Err(WebError::failed("the computation behind this page stopped unexpectedly")),
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Mutex;
    use std::sync::mpsc::channel;

    use axum::body::Body;
    use axum::http::StatusCode;
    use axum::routing::{get, post};
    use tokio::time::timeout;
    use tower::ServiceExt;

    use super::*;

    /// Much longer than any answer here takes.
    const LONG: Duration = Duration::from_secs(60);

    async fn send(pages: &Router, method: Method, path: &str) -> StatusCode {
        let request = Request::builder().method(method).uri(path).body(Body::empty()).unwrap();
        let answer = timeout(LONG, pages.clone().oneshot(request)).await;
        answer.expect("it waits for a page").unwrap().status()
    }

    #[tokio::test]
    async fn what_phones_send_and_forms_wait_for_no_page() {
        let threads = Threads::begin(1, || ()).unwrap();
        let (go_on, word) = channel::<()>();
        let word = Arc::new(Mutex::new(word));
        let page = move || {
            let word = Arc::clone(&word);
            ask(move || {
                word.lock().unwrap().recv().ok();
                Ok("read")
            })
        };
        let pages = Router::new()
            .route("/page", get(page))
            .route("/floor/{token}/messages", post(|| ask(|| Ok("taken"))))
            .route("/form", post(|| ask(|| Ok("done"))));
        let pages = in_lanes(threads.lanes(), pages);
        let look = || {
            let pages = pages.clone();
            tokio::spawn(async move { send(&pages, Method::GET, "/page").await })
        };
        let looking = [look(), look(), look()];
        for path in ["/floor/token/messages", "/form"] {
            assert_eq!(send(&pages, Method::POST, path).await, StatusCode::OK, "{path}");
        }
        assert!(looking.iter().all(|page| !page.is_finished()));
        drop(go_on);
        for page in looking {
            assert_eq!(page.await.unwrap(), StatusCode::OK);
        }
        tokio::task::spawn_blocking(move || threads.end(LONG)).await.unwrap();
        for (method, path) in [(Method::GET, "/page"), (Method::POST, "/form")] {
            let status = send(&pages, method, path).await;
            assert_eq!(status, StatusCode::SERVICE_UNAVAILABLE, "{path} at the end");
        }
    }
}
