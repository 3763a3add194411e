//! `serve`: the desk's pages over HTTP, and what answers them.

use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;
use std::time::Duration;

use clap::Args;
use domain::{LiftName, LifterName, SetId};
use jiff::civil::Date;
use serde_json::json;
use service::backup::BackupView;
use service::dose::record::DoseRecordView;
use service::floor::{
    FloorDay, FloorLine, FloorRemark, LinkLine, NewLink, Opened, PhoneLink, Taken,
};
use service::forms::{Fields, FormError};
use service::import::form::{SentTable, TableView, Waiting};
use service::joints::record::JointsView;
use service::lifter::intake::IntakeView;
use service::programme::calendar::CalendarView;
use service::programme::{PlanChangesView, ProgrammeFormView, ProgrammePageView, WishesFormView};
use service::view::{CardView, Extent, LiftPageView, LifterView, SetPageView, SquadView};
use service::{Desk, ServiceError, StoreError};

use super::Everywhere;
use super::clock::{self, moment_on, now, threads};
use super::coach::{self, Reached};
use super::daily_backups::{DailyArgs, DailyBackups};
use super::drafts::Drafts;
use super::ending;
use super::entropy;
use super::exit::{Exit, Failure};
use super::place::pasted;
use super::reader::Reader;
use super::said::{Said, print};
use crate::server::{self, Limits, raise_descriptor_limit, step_back, threads_for_pages};
use crate::web::door::{self, Door, FIRST_LINK_LIVES, OpenTo};
use crate::web::{self, DeskError, DraftPage, DraftPlace, FormTaken, Threads};

/// How long what is being read or written for a page gets when the program is told to end, once nobody is
/// connected any more.
const GRACE: Duration = Duration::from_secs(3);

/// Serve the coach's pages
#[derive(Args, Debug)]
pub(crate) struct ServeArgs {
    #[command(flatten)]
    pub(crate) at: AddressArgs,
    #[command(flatten)]
    backups: DailyArgs,
}

/// Where pages are served.
#[derive(Args, Debug)]
pub(crate) struct AddressArgs {
    /// The port; 0 takes any that is free
    #[arg(long, default_value_t = 8734)]
    port: u16,
    /// The address to listen on; 0.0.0.0 lets phones on the same network reach it
    #[arg(long, value_name = "ADDRESS", default_value = "127.0.0.1")]
    listen: IpAddr,
    /// The address under which phones reach the desk, such as https://gym.example
    #[arg(long, value_name = "URL", value_parser = web_address)]
    address: Option<String>,
    /// Ask for the coach's key at this machine too, even if nobody else can reach the desk
    #[arg(long)]
    by_key: bool,
}

impl AddressArgs {
    /// The address for phones, if it was given or can be told, for a desk that listens there.
    fn address(&self, at: SocketAddr) -> Option<String> {
        self.address.clone().or_else(|| {
            let own = at.ip().is_unspecified().then(own_address).flatten();
            own.map(|own| format!("http://{}", SocketAddr::new(own, at.port())))
        })
    }
}

/// Reads the address of a site: `http://` or `https://`, a name, perhaps a port, and nothing after it.
fn web_address(text: &str) -> Result<String, String> {
    let text = text.trim_end_matches('/');
    let host = text.strip_prefix("https://").or_else(|| text.strip_prefix("http://"));
    match host {
        Some(host) if !host.is_empty() && !host.contains(['/', '?', '#', '@', ' ']) => {
            Ok(text.to_owned())
        }
        _ => {
            Err("write it as https://gym.example, with nothing after the name and port".to_owned())
        }
    }
}

/// The address of this machine on its network. Asking for a way to another machine sends nothing.
fn own_address() -> Option<IpAddr> {
    // 192.0.2.1 is kept for documentation (RFC 5737), so nobody is there.
    let socket = std::net::UdpSocket::bind(("0.0.0.0", 0)).ok()?;
    socket.connect(("192.0.2.1", 9)).ok()?;
    socket.local_addr().ok().map(|own| own.ip()).filter(|own| !own.is_unspecified())
}

pub(crate) fn run(args: &ServeArgs, everywhere: &Everywhere) -> Result<Said, Failure> {
    args.backups.refuse_missing_folder()?;
    let (store, is_new) = everywhere.open_or_begin()?;
    store.verify_quickly()?; // nothing is written into a damaged record
    let new = if is_new { ", a new record with nobody on it yet," } else { "" };
    let mut first = format!("The desk of `{}`{new}", store.path().display());
    if is_new && let Some(backup) = args.backups.newest_backup(store.path()) {
        let restore = everywhere.command(&format!("restore {}", pasted(&backup)));
        first = format!(
            "A backup of a record of this name is there: end this and `{restore}` puts it back.\n{first}"
        );
    }
    if store.is_read_only() {
        first = format!(
            "The record can only be read, so nothing is taken: allow writing to it and to its folder.\n{first}"
        );
    }
    let desk = ServedDesk::new(Desk::new(store), everywhere.today);
    let backups = Some(Arc::new(DailyBackups::new(Arc::clone(&desk.desk), &args.backups)));
    serve(ServedDesk { backups, ..desk }, &args.at, &first, everywhere.json)
}

/// Serves until it is told to end.
pub(crate) fn serve(
    mut desk: ServedDesk,
    at: &AddressArgs,
    first: &str,
    json: bool,
) -> Result<Said, Failure> {
    ending::ends_by_itself();
    let cannot_start = |error| Failure::Files(format!("can't start serving: {error}"));
    let limits = match raise_descriptor_limit() {
        Some(descriptors) => Limits::default().within(descriptors),
        None => Limits::default(),
    };
    let threads = Threads::begin(threads_for_pages(threads()), step_back).map_err(cannot_start)?;
    let runtime = tokio::runtime::Runtime::new().map_err(cannot_start)?;
    let (record, backups) = (Arc::clone(&desk.desk), desk.backups.clone());
    let served = runtime.block_on(async {
        let address = SocketAddr::new(at.listen, at.port);
        let listener = tokio::net::TcpListener::bind(address).await.map_err(|error| {
            Failure::Files(format!(
                "can't serve at {address}: {error}; name another port with `--port`, or 0 for any"
            ))
        })?;
        let address = listener
            .local_addr()
            .map_err(|error| Failure::Files(format!("can't serve at {address}: {error}")))?;
        let reached =
            Reached { at: address, address: at.address(address), always_by_key: at.by_key };
        let door = Arc::new(coach::door(desk.desk.store().path(), &reached)?);
        desk.address = reached.address.clone();
        print(&opening(first, &reached, &door, json)?)?;
        desk.reader.begin();
        if let Some(backups) = &desk.backups {
            backups.begin();
        }
        let desk = Arc::new(desk);
        let pages = door::behind(door, web::router(Arc::clone(&desk) as _));
        let pages = web::answered(web::in_lanes(threads.lanes(), pages));
        server::serve(listener, pages, limits, ending::told()).await;
        Ok::<_, Failure>(desk)
    });
    let served = served.map(|desk| desk.end(threads));
    runtime.shutdown_background();
    if let Some(backups) = backups {
        backups.end(); // it reads with a connection of its own
    }
    // From here on nobody uses the store. Threads that were given up after the grace may still hold the desk, so
    // that the store wouldn't be dropped.
    let closed = record.store().close();
    served?;
    closed?;
    Ok(Said { text: "Ended.\n".to_owned(), json: json!({ "ended": true }), exit: Exit::Done })
}

/// What is said once the desk is served: where it is, and how the coach's browsers are let in.
fn opening(first: &str, reached: &Reached, door: &Door, json: bool) -> Result<String, Failure> {
    let here = reached.here();
    let link = |base: &str| {
        let path = door.one_time_link(FIRST_LINK_LIVES).map_err(Failure::Files)?;
        Ok::<String, Failure>(format!("{base}{path}"))
    };
    let is_open_here = reached.open_to() != OpenTo::Nobody;
    let coach_here = if is_open_here { None } else { Some(link(&here)?) };
    let coach = reached.outside().map(|outside| link(&outside)).transpose()?;
    if json {
        let told =
            json!({ "address": format!("{here}/"), "coach": coach, "coach_here": coach_here });
        return Ok(format!("{told}\n"));
    }
    let mut text = format!("{first} is at {here}/ — Ctrl-C ends it.\n");
    if let Some(coach_here) = coach_here {
        text.push_str(
            "The coach's pages open by a private link, which works once, within a day:\n",
        );
        text.push_str(&format!("  on this computer   {coach_here}\n"));
        if let Some(coach) = coach {
            text.push_str(&format!("  on another         {coach}\n"));
        }
        text.push_str(
            "Every other browser is let in by the key, which `bellwether key` prints, or by a link \
             from the\npage \"Browsers\". Lifters' phones get links of their own, made on each lifter's page.\n",
        );
        if let Some(reason) = door.lasts_for_this_run() {
            text.push_str(&format!("{reason}\n"));
        }
    }
    Ok(text)
}

/// The desk that pages ask, with the clock.
pub(crate) struct ServedDesk {
    desk: Arc<Desk>,
    reader: Reader,
    today: Option<Date>,
    /// Where phones reach it, if that is known.
    address: Option<String>,
    /// Tables that wait for their import.
    waiting: Waiting,
    /// Drafts of weeks that are looked for, or wait to be read.
    drafts: Drafts,
    /// Makes a backup a day, if this desk does.
    backups: Option<Arc<DailyBackups>>,
}

impl ServedDesk {
    /// What answers for `desk`: `today` counts as today, the clock's day if none.
    pub(crate) fn new(desk: Desk, today: Option<Date>) -> ServedDesk {
        let desk = Arc::new(desk.with_threads(threads()).keeping_fits(clock::now));
        let reader = Reader::new(Arc::clone(&desk), threads());
        ServedDesk {
            desk,
            reader,
            today,
            address: None,
            waiting: Waiting::default(),
            drafts: Drafts::default(),
            backups: None,
        }
    }

    /// Waits for whoever uses the store, and lets nobody begin, but takes no longer than the grace for each.
    fn end(&self, threads: Threads) {
        self.drafts.end_all();
        threads.end(GRACE);
        self.reader.end(GRACE);
    }

    fn today(&self) -> Date {
        self.today.unwrap_or_else(super::clock::today)
    }

    fn table(&self, id: &str) -> Result<Arc<SentTable>, DeskError> {
        self.waiting.find(id).ok_or_else(|| {
            DeskError::NotThere(
                "that table waits no more: send it again from the page `/import`".to_owned(),
            )
        })
    }
}

impl web::Desk for ServedDesk {
    fn squad(&self) -> Result<SquadView, DeskError> {
        self.reader.squad(self.today()).map_err(desk_error)
    }

    fn backups(&self) -> Option<BackupView> {
        self.backups.as_ref().map(|backups| backups.view())
    }

    fn lifter(&self, name: &LifterName, extent: Extent) -> Result<LifterView, DeskError> {
        self.desk.lifter_to(name, self.today(), extent).map_err(|error| about(name, error))
    }

    fn lift(
        &self,
        name: &LifterName,
        lift: &LiftName,
        costs: &Fields,
    ) -> Result<LiftPageView, DeskError> {
        self.desk.lift(name, lift, costs, self.today()).map_err(|error| about(name, error))
    }

    fn card(&self, name: &LifterName, date: Option<Date>) -> Result<CardView, DeskError> {
        let date = date.unwrap_or_else(|| self.today());
        self.desk.card(name, date).map_err(|error| about(name, error))
    }
}

impl web::Floor for ServedDesk {
    fn open_link(&self, token: &str) -> Result<Opened, DeskError> {
        self.desk.open_link(token).map_err(desk_error)
    }

    fn floor_day(&self, link: &PhoneLink, date: Option<Date>) -> Result<FloorDay, DeskError> {
        let date = date.unwrap_or_else(|| self.today());
        let day = self.desk.floor_day(&link.lifter, date, &clock::zone());
        day.map_err(|error| about(&link.lifter, error))
    }

    fn floor_lines(&self, link: &PhoneLink, date: Date) -> Result<Vec<FloorLine>, DeskError> {
        self.desk.floor_lines(&link.lifter, date, &clock::zone()).map_err(desk_error)
    }

    fn take_from_phone(&self, link: &PhoneLink, batch: &str) -> Result<Taken, DeskError> {
        self.desk.take_from_phone(link, batch, clock::now(), &clock::zone()).map_err(desk_error)
    }

    fn phone_links(&self, name: &LifterName) -> Result<Vec<LinkLine>, DeskError> {
        self.desk.phone_links(name).map_err(|error| about(name, error))
    }

    fn floor_remarks(&self, name: &LifterName) -> Result<Vec<FloorRemark>, DeskError> {
        self.desk.floor_remarks(name, &clock::zone()).map_err(desk_error)
    }

    fn make_phone_link(&self, name: &LifterName) -> Result<String, DeskError> {
        let (id, token) = new_link()?;
        let new = NewLink { id, token: &token };
        let made = self.desk.make_phone_link(name, new, clock::now());
        made.map_err(|error| about(name, error))?;
        Ok(token)
    }

    fn revoke_phone_link(&self, name: &LifterName, id: &str) -> Result<(), DeskError> {
        let revoked = self.desk.revoke_phone_link(name, id, clock::now());
        revoked.map_err(|error| about(name, error))
    }

    fn address_for_phones(&self) -> Option<String> {
        self.address.clone()
    }
}

impl web::Changes for ServedDesk {
    fn set(&self, name: &LifterName, id: SetId) -> Result<SetPageView, DeskError> {
        self.desk.set(name, id).map_err(|error| about(name, error))
    }

    fn correct_set(
        &self,
        name: &LifterName,
        id: SetId,
        fields: &Fields,
    ) -> Result<FormTaken<LiftName>, DeskError> {
        taken(name, self.desk.correct_set(name, id, fields, (self.today(), now())))
    }

    fn withdraw_set(
        &self,
        name: &LifterName,
        id: SetId,
        fields: &Fields,
    ) -> Result<FormTaken<LiftName>, DeskError> {
        taken(name, self.desk.withdraw_set(name, id, fields, now()))
    }

    fn settings(&self, name: &LifterName) -> Result<(LifterName, Fields), DeskError> {
        self.desk.settings(name).map_err(|error| about(name, error))
    }

    fn set_settings(&self, name: &LifterName, fields: &Fields) -> Result<FormTaken<()>, DeskError> {
        taken(name, self.desk.set_settings(name, fields, now()))
    }

    fn intake(&self) -> Result<IntakeView, DeskError> {
        self.desk.intake(self.today()).map_err(desk_error)
    }

    fn take_on(&self, fields: &Fields) -> Result<FormTaken<LifterName>, DeskError> {
        match self.desk.take_on(fields, (self.today(), now())) {
            Ok(name) => Ok(FormTaken::Done(name)),
            Err(FormError::Problems(problems)) => Ok(FormTaken::Not(problems)),
            Err(FormError::Service(error)) => Err(desk_error(error)),
        }
    }

    fn keep_table(&self, name: &str, bytes: Vec<u8>) -> String {
        self.waiting.keep(name, bytes)
    }

    fn look_at_table(&self, id: &str, fields: &Fields) -> Result<TableView, DeskError> {
        let table = self.table(id)?;
        let look = self.desk.look_at_table(&table, fields, (self.today(), now()));
        look.map_err(|error| DeskError::Failed(error.to_string()))
    }

    fn import_table(&self, id: &str, fields: &Fields) -> Result<TableView, DeskError> {
        let table = self.table(id)?;
        let done = self.desk.import_table(&table, fields, (self.today(), now()));
        done.map_err(|error| DeskError::Failed(error.to_string()))
    }

    fn set_costs(&self, name: &LifterName, costs: &Fields) -> Result<FormTaken<()>, DeskError> {
        taken(name, self.desk.set_costs(name, costs, now()))
    }

    fn rate_joint(&self, name: &LifterName, fields: &Fields) -> Result<FormTaken<()>, DeskError> {
        let at = moment_on(self.today()).map_err(|error| DeskError::Refused(error.to_string()))?;
        taken(name, self.desk.rate_joint(name, fields, (at, now())).map(drop))
    }
}

impl web::Calendars for ServedDesk {
    fn open_calendar(&self, token: &str) -> Result<Opened, DeskError> {
        self.desk.open_calendar(token).map_err(desk_error)
    }

    fn calendar(&self, link: &PhoneLink) -> Result<CalendarView, DeskError> {
        let calendar = self.desk.calendar(&link.lifter, self.today());
        calendar.map_err(|error| about(&link.lifter, error))
    }

    fn make_calendar_link(&self, name: &LifterName) -> Result<String, DeskError> {
        let (id, token) = new_link()?;
        let new = NewLink { id, token: &token };
        let made = self.desk.make_calendar_link(name, new, clock::now());
        made.map_err(|error| about(name, error))?;
        Ok(token)
    }

    fn calendar_links(&self, name: &LifterName) -> Result<Vec<LinkLine>, DeskError> {
        self.desk.calendar_links(name).map_err(|error| about(name, error))
    }
}

/// An id and a token that nobody can guess.
fn new_link() -> Result<([u8; 16], String), DeskError> {
    let failed = |failure: Failure| DeskError::Failed(failure.to_string());
    Ok((entropy::random().map_err(failed)?, entropy::token().map_err(failed)?))
}

impl web::Records for ServedDesk {
    fn joints(&self, name: &LifterName) -> Result<JointsView, DeskError> {
        self.desk.joints(name, self.today()).map_err(|error| about(name, error))
    }

    fn dose_record(&self, name: &LifterName) -> Result<DoseRecordView, DeskError> {
        self.desk.dose_record(name, self.today()).map_err(|error| about(name, error))
    }
}

impl web::Programmes for ServedDesk {
    fn programme_page(&self, name: &LifterName) -> Result<ProgrammePageView, DeskError> {
        self.desk.programme_page(name, self.today()).map_err(|error| about(name, error))
    }

    fn programme_form(
        &self,
        name: &LifterName,
        typed: Option<&Fields>,
    ) -> Result<ProgrammeFormView, DeskError> {
        let form = self.desk.programme_form(name, typed, self.today());
        form.map_err(|error| about(name, error))
    }

    fn keep_programme(
        &self,
        name: &LifterName,
        fields: &Fields,
    ) -> Result<FormTaken<()>, DeskError> {
        taken(name, self.desk.keep_programme_form(name, fields, now()))
    }

    fn keep_programme_text(
        &self,
        name: &LifterName,
        fields: &Fields,
    ) -> Result<FormTaken<()>, DeskError> {
        taken(name, self.desk.keep_programme_text(name, fields, now()))
    }

    fn copy_programme(
        &self,
        name: &LifterName,
        fields: &Fields,
    ) -> Result<FormTaken<()>, DeskError> {
        taken(name, self.desk.copy_programme_form(name, fields, (self.today(), now())))
    }

    fn withdraw_programme(&self, name: &LifterName, reason: &str) -> Result<(), DeskError> {
        self.desk.withdraw_programme(name, reason, now()).map_err(|error| about(name, error))
    }
}

impl web::PlanChanges for ServedDesk {
    fn plan_changes(
        &self,
        name: &LifterName,
        typed: Option<&Fields>,
    ) -> Result<PlanChangesView, DeskError> {
        let view = self.desk.plan_changes(name, typed, self.today());
        view.map_err(|error| about(name, error))
    }

    fn change_plan(&self, name: &LifterName, fields: &Fields) -> Result<FormTaken<()>, DeskError> {
        let made = self.desk.change_plan_form(name, fields, (self.today(), now()));
        taken(name, made.map(|_| ()))
    }

    fn withdraw_plan_change(
        &self,
        name: &LifterName,
        id: &str,
        reason: &str,
    ) -> Result<(), DeskError> {
        let done = self.desk.withdraw_plan_change(name, id, reason, now());
        done.map_err(|error| about(name, error))
    }
}

impl web::Drafts for ServedDesk {
    fn wishes_form(
        &self,
        name: &LifterName,
        typed: Option<&Fields>,
        of: Option<&DraftPlace>,
    ) -> Result<WishesFormView, DeskError> {
        let sent = match of {
            None => None,
            Some(place) => {
                let sent = self.drafts.typed(name, &place.id).ok_or_else(waits_no_more)?;
                let sent = sent.with("present", "draft").with("keep", "all");
                Some(sent.with("draft", place))
            }
        };
        let form = self.desk.wishes_form(name, typed.or(sent.as_ref()), self.today());
        form.map_err(|error| about(name, error))
    }

    fn begin_draft(
        &self,
        name: &LifterName,
        fields: &Fields,
    ) -> Result<FormTaken<String>, DeskError> {
        let drafted = fields.get("draft").parse::<DraftPlace>().ok();
        let drafted = drafted.and_then(|place| self.drafts.week(name, &place));
        match taken(name, self.desk.draft_order(name, fields, drafted, self.today()))? {
            FormTaken::Not(problems) => Ok(FormTaken::Not(problems)),
            FormTaken::Done(order) => {
                let begun = self.drafts.begin(order, fields.clone());
                begun.map(FormTaken::Done).map_err(|error| DeskError::Failed(error.to_string()))
            }
        }
    }

    fn draft(&self, name: &LifterName, id: &str, is_still: bool) -> Result<DraftPage, DeskError> {
        self.drafts.look(name, id, is_still).ok_or_else(waits_no_more)
    }

    fn end_draft(&self, name: &LifterName, id: &str) -> Result<(), DeskError> {
        self.drafts.end(name, id).ok_or_else(waits_no_more)
    }

    fn drafted_form(
        &self,
        name: &LifterName,
        place: &DraftPlace,
    ) -> Result<ProgrammeFormView, DeskError> {
        let week = self.drafts.week(name, place).ok_or_else(waits_no_more)?;
        let form = self.desk.drafted_form(name, &week, self.today());
        form.map_err(|error| about(name, error))
    }
}

/// Drafts are held in memory, and few of them.
fn waits_no_more() -> DeskError {
    DeskError::NotThere(
        "that draft waits no more: draft again from the programme's page".to_owned(),
    )
}

fn taken<T>(name: &LifterName, answer: Result<T, FormError>) -> Result<FormTaken<T>, DeskError> {
    match answer {
        Ok(done) => Ok(FormTaken::Done(done)),
        Err(FormError::Problems(problems)) => Ok(FormTaken::Not(problems)),
        Err(FormError::Service(error)) => Err(about(name, error)),
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
        ServiceError::Store(StoreError::NoSuchFact { .. }) | ServiceError::NoSuchLift { .. } => {
            DeskError::NotThere(error.to_string())
        }
        ServiceError::Store(_)
        | ServiceError::LiftFile(_)
        | ServiceError::Programme { .. }
        | ServiceError::Pooled(_) => DeskError::Failed(error.to_string()),
        ServiceError::NoSuchLifter { .. }
        | ServiceError::NoSession { .. }
        | ServiceError::NoProgramme { .. }
        | ServiceError::PlanChange { .. }
        | ServiceError::NoSuchLink { .. }
        | ServiceError::Floor { .. }
        | ServiceError::Refused(_) => DeskError::Refused(error.to_string()),
    }
}
