//! What the floor's pages ask for, beside what the desk's do.

use domain::LifterName;
use jiff::civil::Date;
use service::floor::{FloorDay, FloorLine, FloorRemark, LinkLine, Opened, PhoneLink, Taken};

use crate::web::DeskError;

/// Answers what phones ask, and what the desk asks about phones.
pub trait Floor: Send + Sync {
    /// What a token opens.
    fn open_link(&self, token: &str) -> Result<Opened, DeskError>;

    /// The session of the link's lifter; without a day, today's.
    fn floor_day(&self, link: &PhoneLink, date: Option<Date>) -> Result<FloorDay, DeskError>;

    /// What phones have logged for a session.
    fn floor_lines(&self, link: &PhoneLink, date: Date) -> Result<Vec<FloorLine>, DeskError>;

    /// Takes a batch of messages; when it returns, they are on the disk.
    fn take_from_phone(&self, link: &PhoneLink, batch: &str) -> Result<Taken, DeskError>;

    /// A lifter's links, the newest first.
    fn phone_links(&self, name: &LifterName) -> Result<Vec<LinkLine>, DeskError>;

    /// What a lifter said on the gym floor, the newest first.
    fn floor_remarks(&self, name: &LifterName) -> Result<Vec<FloorRemark>, DeskError>;

    /// Makes a link and gives its token, which is told only this once.
    fn make_phone_link(&self, name: &LifterName) -> Result<String, DeskError>;

    /// Takes a link back.
    fn revoke_phone_link(&self, name: &LifterName, id: &str) -> Result<(), DeskError>;

    /// The address under which phones reach this desk, without a slash at the end, if it was given.
    fn address_for_phones(&self) -> Option<String>;
}
