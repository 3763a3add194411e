//! Handlers of what a lifter's record says beside the lifts: joints, and the dose by weeks.

use std::sync::Arc;

use axum::Router;
use axum::extract::State;
use axum::routing::get;
use domain::LifterName;
use maud::Markup;
use service::dose::record::DoseRecordView;
use service::joints::record::JointsView;

use super::desk::{Desk, DeskError};
use super::dose_page::dose_page;
use super::error::WebError;
use super::extract::Named;
use super::joints_page::joints_page;
use super::lanes::ask;

type AnyDesk = Arc<dyn Desk>;

/// Answers what the pages of joints and dose ask.
pub trait Records {
    /// A lifter's joints.
    fn joints(&self, name: &LifterName) -> Result<JointsView, DeskError>;

    /// A lifter's dose over the last weeks.
    fn dose_record(&self, name: &LifterName) -> Result<DoseRecordView, DeskError>;
}

/// The routes of both.
pub(super) fn routes() -> Router<AnyDesk> {
    Router::new()
        .route("/lifter/{name}/joints", get(joints))
        .route("/lifter/{name}/dose", get(dose))
}

/// `GET /lifter/{name}/joints`: pain as it was told, what loads each joint, what to do instead.
async fn joints(Named(name): Named, State(desk): State<AnyDesk>) -> Result<Markup, WebError> {
    Ok(joints_page(&ask(move || desk.joints(&name)).await?))
}

/// `GET /lifter/{name}/dose`: hard sets by weeks, beside the plan, and what they propose.
async fn dose(Named(name): Named, State(desk): State<AnyDesk>) -> Result<Markup, WebError> {
    Ok(dose_page(&ask(move || desk.dose_record(&name)).await?))
}
