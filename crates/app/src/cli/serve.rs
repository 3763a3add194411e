//! `serve`: the desk's pages over HTTP, and what answers them.

use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;
use std::time::Duration;

use clap::Args;
use domain::LifterName;
use jiff::civil::Date;
use serde_json::json;
use service::view::{CardView, LifterView, SquadView};
use service::{Desk, ServiceError};

use super::Everywhere;
use super::clock::{now, threads};
use super::exit::{Exit, Failure};
use super::said::{Said, print};
use crate::web::{self, DeskError};

/// How long pages that are being written get when the program is told to end.
const GRACE: Duration = Duration::from_secs(3);

/// Serve the coach's pages
#[derive(Args, Debug)]
pub(crate) struct ServeArgs {
    #[command(flatten)]
    pub(crate) at: AddressArgs,
}

/// Where pages are served.
#[derive(Args, Debug)]
pub(crate) struct AddressArgs {
    /// The port; 0 takes any that is free
    #[arg(long, default_value_t = 8734)]
    port: u16,
    /// The address to listen on; there is no sign-in, so whoever reaches it reads everything
    #[arg(long, value_name = "ADDRESS", default_value = "127.0.0.1")]
    listen: IpAddr,
}

pub(crate) fn run(args: &ServeArgs, everywhere: &Everywhere) -> Result<Said, Failure> {
    let store = everywhere.open()?;
    let first = format!("The desk of `{}`", store.path().display());
    serve(
        ServedDesk {
            desk: Desk::new(store).with_threads(threads()).keeping_fits(now),
            today: everywhere.today,
        },
        &args.at,
        &first,
        everywhere.json,
    )
}

/// Serves until it is told to end.
pub(crate) fn serve(
    desk: ServedDesk,
    at: &AddressArgs,
    first: &str,
    json: bool,
) -> Result<Said, Failure> {
    let runtime = tokio::runtime::Runtime::new()
        .map_err(|error| Failure::Files(format!("can't start serving: {error}")))?;
    runtime.block_on(async {
        let address = SocketAddr::new(at.listen, at.port);
        let listener = tokio::net::TcpListener::bind(address).await.map_err(|error| {
            Failure::Files(format!(
                "can't serve at {address}: {error}; name another port with `--port`, or 0 for any"
            ))
        })?;
        let address = listener
            .local_addr()
            .map_err(|error| Failure::Files(format!("can't serve at {address}: {error}")))?;
        print(&opening(first, address, json))?;
        let told = Arc::new(tokio::sync::Notify::new());
        let heard = Arc::clone(&told);
        let serving = axum::serve(listener, web::router(Arc::new(desk)))
            .with_graceful_shutdown(async move { heard.notified().await });
        let mut serving = tokio::spawn(async move { serving.await });
        tokio::select! {
            ended = &mut serving => {
                let reason = match ended {
                    Ok(Err(error)) => error.to_string(),
                    _ => "the server ended by itself".to_owned(),
                };
                return Err(Failure::Files(format!("can't go on serving: {reason}")));
            }
            () = told_to_end() => told.notify_one(),
        }
        // A page that isn't done by then is given up.
        tokio::time::timeout(GRACE, serving).await.ok();
        Ok(())
    })?;
    runtime.shutdown_background();
    Ok(Said { text: "Ended.\n".to_owned(), json: json!({ "ended": true }), exit: Exit::Done })
}

fn opening(first: &str, address: SocketAddr, json: bool) -> String {
    if json {
        return format!("{}\n", json!({ "address": format!("http://{address}/") }));
    }
    let mut text = format!("{first} is at http://{address}/ — Ctrl-C ends it.\n");
    if !address.ip().is_loopback() {
        text.push_str(
            "There is no sign-in: everybody who can reach that address can read all of it.\n",
        );
    }
    text
}

/// Waits for Ctrl-C, or for the system's request to end.
async fn told_to_end() {
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        if let Ok(mut terminate) = signal(SignalKind::terminate()) {
            tokio::select! {
                _ = tokio::signal::ctrl_c() => {}
                _ = terminate.recv() => {}
            }
            return;
        }
    }
    tokio::signal::ctrl_c().await.ok();
}

/// The desk that pages ask, with the clock.
pub(crate) struct ServedDesk {
    pub(crate) desk: Desk,
    /// The day that counts as today; the clock's if none.
    pub(crate) today: Option<Date>,
}

impl ServedDesk {
    fn today(&self) -> Date {
        self.today.unwrap_or_else(super::clock::today)
    }
}

impl web::Desk for ServedDesk {
    fn squad(&self) -> Result<SquadView, DeskError> {
        self.desk.squad(self.today()).map_err(desk_error)
    }

    fn lifter(&self, name: &LifterName) -> Result<LifterView, DeskError> {
        self.desk.lifter(name, self.today()).map_err(|error| about(name, error))
    }

    fn card(&self, name: &LifterName, date: Option<Date>) -> Result<CardView, DeskError> {
        let date = date.unwrap_or_else(|| self.today());
        self.desk.card(name, date).map_err(|error| about(name, error))
    }
}

fn about(name: &LifterName, error: ServiceError) -> DeskError {
    match error {
        ServiceError::NoSuchLifter { .. } => DeskError::UnknownLifter(name.clone()),
        error => desk_error(error),
    }
}

fn desk_error(error: ServiceError) -> DeskError {
    match error {
        ServiceError::Store(_) | ServiceError::LiftFile(_) | ServiceError::Pooled(_) => {
            DeskError::Failed(error.to_string())
        }
        ServiceError::NoSuchLifter { .. }
        | ServiceError::NoSuchLift { .. }
        | ServiceError::NoSession { .. }
        | ServiceError::Refused(_) => DeskError::Refused(error.to_string()),
    }
}
