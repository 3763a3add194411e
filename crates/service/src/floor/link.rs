//! Private links: made at the desk, known by the hash of their token, revoked for good.

use domain::LifterName;
use jiff::Timestamp;
use sha2::{Digest, Sha256};
use store::{LinkOnRecord, Opens, PhoneLink};

use crate::record::person;
use crate::{Desk, ServiceError};

/// What a new link is made of, drawn at random by whoever asks for it.
#[derive(Clone, Copy, Debug)]
pub struct NewLink<'a> {
    /// Names the link; no secret.
    pub id: [u8; 16],
    /// What opens the page; at least 128 bits of it are random.
    pub token: &'a str,
}

/// A link as the desk lists it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LinkLine {
    /// Names the link.
    pub id: String,
    /// When it was made.
    pub made: Timestamp,
    /// When it was revoked.
    pub revoked: Option<Timestamp>,
}

/// What a token opens.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Opened {
    /// A lifter's page or calendar, by this link.
    Page(PhoneLink),
    /// Nothing any more: the link was revoked.
    Revoked,
    /// Nothing: no link has this token.
    Unknown,
}

/// SHA-256 of a token (FIPS 180-4). Tokens are long and random, so that a hash without salt or
/// stretching gives nothing away.
#[must_use]
pub fn token_hash(token: &str) -> [u8; 32] {
    Sha256::digest(token.as_bytes()).into()
}

impl Desk {
    /// Makes a private link to a lifter's page.
    ///
    /// # Errors
    /// Nobody has that name, or the store has trouble.
    pub fn make_phone_link(
        &self,
        name: &LifterName,
        new: NewLink<'_>,
        now: Timestamp,
    ) -> Result<(), ServiceError> {
        self.make_link(name, new, Opens::Session, now)
    }

    /// Makes a private link to a lifter's calendar.
    ///
    /// # Errors
    /// As [`Desk::make_phone_link`].
    pub fn make_calendar_link(
        &self,
        name: &LifterName,
        new: NewLink<'_>,
        now: Timestamp,
    ) -> Result<(), ServiceError> {
        self.make_link(name, new, Opens::Calendar, now)
    }

    fn make_link(
        &self,
        name: &LifterName,
        new: NewLink<'_>,
        opens: Opens,
        now: Timestamp,
    ) -> Result<(), ServiceError> {
        let lifter = person::lifter(self.store(), name)?.name;
        let link = PhoneLink { id: new.id, lifter, token_hash: token_hash(new.token), opens };
        let what = match opens {
            Opens::Session => "a phone's link",
            Opens::Calendar => "a calendar's link",
        };
        let mut act = self.store().begin_import(what, now)?;
        act.add_phone_link(&link)?;
        act.commit()?;
        Ok(())
    }

    /// Takes a lifter's link back.
    ///
    /// # Errors
    /// The lifter has no such link, or the store has trouble.
    pub fn revoke_phone_link(
        &self,
        name: &LifterName,
        id: &str,
        now: Timestamp,
    ) -> Result<(), ServiceError> {
        let links = self.store().phone_links_of(name)?;
        let named = |record: &&LinkOnRecord| text_of(&record.link.id) == id.trim();
        let Some(record) = links.iter().find(named) else {
            return Err(ServiceError::NoSuchLink { lifter: name.to_string() });
        };
        let mut act = self.store().begin_import("a phone's link", now)?;
        act.revoke_phone_link(&record.link.id, "revoked at the desk")?;
        act.commit()?;
        Ok(())
    }

    /// A lifter's links to sessions, the newest first.
    ///
    /// # Errors
    /// Nobody has that name, or the store has trouble.
    pub fn phone_links(&self, name: &LifterName) -> Result<Vec<LinkLine>, ServiceError> {
        self.links(name, Opens::Session)
    }

    /// A lifter's links to calendars, the newest first.
    ///
    /// # Errors
    /// As [`Desk::phone_links`].
    pub fn calendar_links(&self, name: &LifterName) -> Result<Vec<LinkLine>, ServiceError> {
        self.links(name, Opens::Calendar)
    }

    fn links(&self, name: &LifterName, opens: Opens) -> Result<Vec<LinkLine>, ServiceError> {
        let lifter = person::lifter(self.store(), name)?.name;
        let line = |record: LinkOnRecord| LinkLine {
            id: text_of(&record.link.id),
            made: record.made,
            revoked: record.revoked,
        };
        let links = self.store().phone_links_of(&lifter)?;
        Ok(links.into_iter().filter(|record| record.link.opens == opens).map(line).collect())
    }

    /// What a token opens on a phone.
    ///
    /// # Errors
    /// The store has trouble.
    pub fn open_link(&self, token: &str) -> Result<Opened, ServiceError> {
        self.open(token, Opens::Session)
    }

    /// What a token opens in a calendar.
    ///
    /// # Errors
    /// The store has trouble.
    pub fn open_calendar(&self, token: &str) -> Result<Opened, ServiceError> {
        self.open(token, Opens::Calendar)
    }

    /// A link opens what it was made for and nothing else.
    fn open(&self, token: &str, opens: Opens) -> Result<Opened, ServiceError> {
        let record = self.store().phone_link(&token_hash(token))?;
        Ok(match record.filter(|record| record.link.opens == opens) {
            None => Opened::Unknown,
            Some(record) if record.revoked.is_some() => Opened::Revoked,
            Some(record) => Opened::Page(record.link),
        })
    }
}

fn text_of(id: &[u8; 16]) -> String {
    uuid::Uuid::from_bytes(*id).to_string()
}

#[cfg(test)]
mod tests {
    // Source: FIPS 180-4 example of one block ("abc"), from memory.
    #[test]
    fn hash_is_the_published_one() {
        let hex: String = super::token_hash("abc").iter().map(|b| format!("{b:02x}")).collect();
        assert_eq!(hex, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }
}
