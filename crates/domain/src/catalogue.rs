//! The catalogue of lifts: the built-in one, and a coach's own lifts laid over it.
//!
//! Reads the lift file described in `docs/catalogue.md`. A problem names the lift, the line and
//! the cure. Knows nothing of folders: the text is handed in.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use toml_edit::{Document, Item, Table, TableLike, Value};

use crate::bounds::folded;
use crate::lift::JointLoad;
use crate::{
    BodyMassShare, EquipmentClass, Joint, Lift, LiftName, Mass, Muscle, MuscleWeight, Refused,
};

/// The text of the built-in catalogue.
const BUILT_IN: &str = include_str!("../data/catalogue.toml");

/// Why a lift file was not taken. Nothing of such a file is used.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum CatalogueError {
    /// The file isn't TOML.
    #[error("line {line}: this is not TOML: {reason}")]
    NotToml {
        /// The line, from 1; 0 if it isn't known.
        line: usize,
        /// What the reader stumbled over.
        reason: String,
    },
    /// Something in a lift is missing, unknown or out of range.
    #[error("line {line}, lift `{lift}`: {reason}")]
    Lift {
        /// The line, from 1.
        line: usize,
        /// The lift's name, or its place in the file.
        lift: String,
        /// What is wrong and what would do.
        reason: String,
    },
    /// There is no `[[lift]]` in the file.
    #[error("there is no `[[lift]]` in the file: write one table for each lift")]
    Empty,
}

/// All lifts known, by any of their spellings.
#[derive(Clone, Debug)]
pub struct Catalogue {
    lifts: Vec<Lift>,
    by_spelling: BTreeMap<String, usize>,
    scatter_pct: BTreeMap<EquipmentClass, f64>,
}

impl Catalogue {
    /// The built-in catalogue.
    ///
    /// # Panics
    /// Never on a build whose tests passed: the file is part of the program.
    #[must_use]
    pub fn built_in() -> Catalogue {
        // Reading it takes a moment, and every page needs it.
        static BUILT_IN_READ: OnceLock<Catalogue> = OnceLock::new();
        BUILT_IN_READ.get_or_init(Catalogue::read_built_in).clone()
    }

    #[expect(clippy::expect_used, reason = "the built-in file is checked by a test")]
    fn read_built_in() -> Catalogue {
        let empty = Catalogue {
            lifts: Vec::new(),
            by_spelling: BTreeMap::new(),
            scatter_pct: EquipmentClass::ALL.iter().map(|class| (*class, 3.0)).collect(),
        };
        empty.with_file(BUILT_IN).expect("the built-in catalogue is whole")
    }

    /// This catalogue with the lifts of a lift file: a lift of a known name replaces that lift, any
    /// other is added. A spelling given to a lift of the file is taken from whoever had it.
    pub fn with_file(mut self, text: &str) -> Result<Catalogue, CatalogueError> {
        let document = Document::parse(text).map_err(|error| CatalogueError::NotToml {
            line: error.span().map_or(0, |span| line_at(text, span.start)),
            reason: error.message().lines().next().unwrap_or_default().to_owned(),
        })?;
        self.read_scatter(document.as_table(), text)?;
        let lifts = document.get("lift").and_then(Item::as_array_of_tables);
        let entries: Vec<Entry<'_>> =
            lifts.into_iter().flatten().enumerate().map(|(i, t)| Entry::new(text, t, i)).collect();
        if entries.is_empty() {
            return Err(CatalogueError::Empty);
        }
        let order = inheritance_order(&self, &entries)?;
        let mut read: Vec<Option<Lift>> = vec![None; entries.len()];
        for idx in order {
            let parent = self.parent_of(&entries, &read, idx);
            read[idx] = Some(entries[idx].lift(parent.as_ref(), &self.scatter_pct)?);
        }
        refuse_shared_spellings(&entries, &read)?;
        for lift in read.into_iter().flatten() {
            self.put(lift);
        }
        Ok(self)
    }

    /// The lift with this name or spelling, ignoring case, spaces and hyphens.
    #[must_use]
    pub fn find(&self, name: &LiftName) -> Option<&Lift> {
        self.by_spelling.get(&name.key()).map(|idx| &self.lifts[*idx])
    }

    /// All lifts, in the order of the file.
    #[must_use]
    pub fn lifts(&self) -> &[Lift] {
        &self.lifts
    }

    /// The starting scatter of a class, a CV in %.
    #[must_use]
    pub fn class_scatter_pct(&self, class: EquipmentClass) -> f64 {
        self.scatter_pct.get(&class).copied().unwrap_or(3.0)
    }

    /// Every spelling known, folded, with its lift.
    pub fn spellings(&self) -> impl Iterator<Item = (&str, &Lift)> {
        self.by_spelling.iter().map(|(spelling, idx)| (spelling.as_str(), &self.lifts[*idx]))
    }

    fn put(&mut self, lift: Lift) {
        let name = lift.name.key();
        let same = self.lifts.iter().position(|known| known.name.key() == name);
        let idx = same.unwrap_or(self.lifts.len());
        for spelling in lift.also.iter().map(LiftName::key).chain([name]) {
            self.by_spelling.insert(spelling, idx);
        }
        match same {
            Some(idx) => self.lifts[idx] = lift,
            None => self.lifts.push(lift),
        }
    }

    fn parent_of(&self, entries: &[Entry<'_>], read: &[Option<Lift>], idx: usize) -> Option<Lift> {
        let like = entries[idx].like.as_ref()?;
        entries
            .iter()
            .position(|entry| entry.key() == *like)
            .filter(|parent| *parent != idx)
            .and_then(|parent| read[parent].clone())
            .or_else(|| self.by_spelling.get(like).map(|parent| self.lifts[*parent].clone()))
    }

    fn read_scatter(&mut self, table: &Table, text: &str) -> Result<(), CatalogueError> {
        let Some(classes) = table.get("scatter_pct").and_then(Item::as_table_like) else {
            return Ok(());
        };
        for (key, item) in classes.iter() {
            let line = item.span().map_or(0, |span| line_at(text, span.start));
            let refuse = |reason: String| CatalogueError::Lift {
                line,
                lift: "scatter_pct".to_owned(),
                reason,
            };
            let class = EquipmentClass::parse(key).map_err(|e| refuse(e.to_string()))?;
            let value = decimal(item)
                .filter(|pct| (0.2..=20.0).contains(pct))
                .ok_or_else(|| refuse(format!("`{key}` must be a number from 0.2 to 20 (%)")))?;
            self.scatter_pct.insert(class, value);
        }
        Ok(())
    }
}

/// One `[[lift]]` table with what is needed to speak of it.
struct Entry<'a> {
    text: &'a str,
    table: &'a Table,
    title: String,
    like: Option<String>,
}

const KEYS: &[&str] = &[
    "name",
    "also",
    "like",
    "equipment",
    "increment_kg",
    "muscles",
    "joints",
    "per_hand",
    "body_mass_share",
    "body_mass_source",
    "scatter_pct",
    "spotter",
    "speed_ok",
    "staple",
    "asked_only",
    "technique",
];

impl<'a> Entry<'a> {
    fn new(text: &'a str, table: &'a Table, idx: usize) -> Entry<'a> {
        let name = table.get("name").and_then(Item::as_str);
        let title = name.map_or_else(|| format!("number {}", idx + 1), str::to_owned);
        let like = table.get("like").and_then(Item::as_str).map(folded);
        Entry { text, table, title, like }
    }

    fn key(&self) -> String {
        folded(&self.title)
    }

    fn fail(&self, key: &str, reason: impl Into<String>) -> CatalogueError {
        let span = self.table.get(key).and_then(Item::span).or_else(|| self.table.span());
        CatalogueError::Lift {
            line: span.map_or(0, |span| line_at(self.text, span.start)),
            lift: self.title.clone(),
            reason: reason.into(),
        }
    }

    fn refused(&self, key: &str) -> impl Fn(Refused) -> CatalogueError {
        move |refused| self.fail(key, refused.to_string())
    }

    fn lift(
        &self,
        parent: Option<&Lift>,
        scatter: &BTreeMap<EquipmentClass, f64>,
    ) -> Result<Lift, CatalogueError> {
        if let Some((key, _)) = self.table.iter().find(|(key, _)| !KEYS.contains(key)) {
            return Err(
                self.fail(key, format!("`{key}` is not known here: use {}", KEYS.join(", ")))
            );
        }
        let equipment = match self.text_of("equipment")? {
            Some(word) => EquipmentClass::parse(word).map_err(self.refused("equipment"))?,
            None => parent.map(|p| p.equipment).ok_or_else(|| self.missing("equipment"))?,
        };
        let same_class = parent.filter(|p| p.equipment == equipment);
        let starting = self
            .number_of("scatter_pct", 0.2, 20.0)?
            .or(same_class.map(|p| p.starting_scatter_pct))
            .or(scatter.get(&equipment).copied())
            .unwrap_or(3.0);
        Ok(Lift {
            name: self.name()?,
            also: self.also()?,
            equipment,
            increment: self.increment(parent)?,
            muscles: self.muscles(parent)?,
            joints: self.joints(parent)?,
            per_hand: self.flag_of("per_hand", parent.is_some_and(|p| p.per_hand))?,
            body_mass_share: self.body_mass_share(parent)?,
            starting_scatter_pct: starting,
            spotter: self.flag_of("spotter", parent.is_some_and(|p| p.spotter))?,
            speed_ok: self.flag_of("speed_ok", parent.is_none_or(|p| p.speed_ok))?,
            staple: self.flag_of("staple", parent.is_some_and(|p| p.staple))?,
            asked_only: self.flag_of("asked_only", parent.is_some_and(|p| p.asked_only))?,
            explosive: match self.text_of("technique")? {
                None => parent.is_some_and(|p| p.explosive),
                Some("explosive") => true,
                Some("steady") => false,
                Some(_) => return Err(self.fail("technique", "use `explosive` or `steady`")),
            },
        })
    }

    fn name(&self) -> Result<LiftName, CatalogueError> {
        let name = self.text_of("name")?.ok_or_else(|| self.missing("name"))?;
        LiftName::new(name).map_err(self.refused("name"))
    }

    fn also(&self) -> Result<Vec<LiftName>, CatalogueError> {
        let Some(item) = self.table.get("also") else { return Ok(Vec::new()) };
        let list = item.as_array().ok_or_else(|| self.fail("also", "write a list of names"))?;
        list.iter()
            .map(|value| {
                let name =
                    value.as_str().ok_or_else(|| self.fail("also", "write names in quotes"))?;
                LiftName::new(name).map_err(self.refused("also"))
            })
            .collect()
    }

    fn increment(&self, parent: Option<&Lift>) -> Result<Mass, CatalogueError> {
        let Some(kg) = self.number_of("increment_kg", 0.05, 100.0)? else {
            return parent.map(|p| p.increment).ok_or_else(|| self.missing("increment_kg"));
        };
        Mass::try_from_kg(kg).map_err(self.refused("increment_kg"))
    }

    fn muscles(&self, parent: Option<&Lift>) -> Result<Vec<MuscleWeight>, CatalogueError> {
        let Some(table) = self.table_of("muscles")? else {
            return parent.map(|p| p.muscles.clone()).ok_or_else(|| self.missing("muscles"));
        };
        let mut muscles = Vec::new();
        for (key, item) in table.iter() {
            let muscle = Muscle::parse(key).map_err(self.refused("muscles"))?;
            let weight = self.weight(key, item, "muscles")?;
            muscles.push(MuscleWeight::new(muscle, weight).map_err(|_| self.bad_weight(key))?);
        }
        if muscles.is_empty() {
            return Err(self.fail("muscles", "name at least one muscle with a weight above 0"));
        }
        muscles.sort_by(|a, b| b.get().total_cmp(&a.get()).then(a.muscle.cmp(&b.muscle)));
        if muscles.windows(2).any(|two| two[0].muscle == two[1].muscle) {
            return Err(self.fail("muscles", "name each muscle once"));
        }
        Ok(muscles)
    }

    fn joints(&self, parent: Option<&Lift>) -> Result<Vec<JointLoad>, CatalogueError> {
        let Some(item) = self.table.get("joints") else {
            return Ok(parent.map(|p| p.joints.clone()).unwrap_or_default());
        };
        let mut joints = Vec::new();
        if let Some(list) = item.as_array() {
            for value in list.iter() {
                let name =
                    value.as_str().ok_or_else(|| self.fail("joints", "write names in quotes"))?;
                let joint = Joint::parse(name).map_err(self.refused("joints"))?;
                joints.push(JointLoad::new(joint, 1.0).map_err(self.refused("joints"))?);
            }
        } else {
            let table = self.table_of("joints")?.ok_or_else(|| self.missing("joints"))?;
            for (key, item) in table.iter() {
                let joint = Joint::parse(key).map_err(self.refused("joints"))?;
                let weight = self.weight(key, item, "joints")?;
                joints.push(JointLoad::new(joint, weight).map_err(|_| self.bad_weight(key))?);
            }
        }
        joints.sort_by(|a, b| b.get().total_cmp(&a.get()).then(a.joint.cmp(&b.joint)));
        Ok(joints)
    }

    fn body_mass_share(
        &self,
        parent: Option<&Lift>,
    ) -> Result<Option<BodyMassShare>, CatalogueError> {
        match self.number_of("body_mass_share", 0.0, 1.2)? {
            None => Ok(parent.and_then(|p| p.body_mass_share.clone())),
            Some(0.0) => Ok(None),
            Some(share) => {
                let source = self.text_of("body_mass_source")?.unwrap_or("the coach's lift file");
                BodyMassShare::new(share, source).map(Some).map_err(self.refused("body_mass_share"))
            }
        }
    }

    fn weight(&self, key: &str, item: &Item, field: &str) -> Result<f64, CatalogueError> {
        decimal(item).ok_or_else(|| {
            self.fail(field, format!("the weight of `{key}` must be a number above 0, at most 1"))
        })
    }

    fn bad_weight(&self, key: &str) -> CatalogueError {
        self.fail(
            "muscles",
            format!(
                "the weight of `{key}` must be above 0 and at most 1: leave out what gets none"
            ),
        )
    }

    fn text_of(&self, key: &str) -> Result<Option<&'a str>, CatalogueError> {
        match self.table.get(key) {
            None => Ok(None),
            Some(item) => item
                .as_str()
                .map(Some)
                .ok_or_else(|| self.fail(key, format!("`{key}` must be text in quotes"))),
        }
    }

    fn flag_of(&self, key: &str, otherwise: bool) -> Result<bool, CatalogueError> {
        match self.table.get(key) {
            None => Ok(otherwise),
            Some(item) => item
                .as_bool()
                .ok_or_else(|| self.fail(key, format!("`{key}` must be true or false"))),
        }
    }

    fn number_of(&self, key: &str, min: f64, max: f64) -> Result<Option<f64>, CatalogueError> {
        let Some(item) = self.table.get(key) else { return Ok(None) };
        decimal(item)
            .filter(|value| (min..=max).contains(value))
            .map(Some)
            .ok_or_else(|| self.fail(key, format!("`{key}` must be a number from {min} to {max}")))
    }

    fn table_of(&self, key: &str) -> Result<Option<&'a dyn TableLike>, CatalogueError> {
        match self.table.get(key) {
            None => Ok(None),
            Some(item) => item.as_table_like().map(Some).ok_or_else(|| {
                self.fail(key, format!("`{key}` must be a table such as {{ biceps = 1.0 }}"))
            }),
        }
    }

    fn missing(&self, key: &str) -> CatalogueError {
        self.fail(key, format!("`{key}` is missing: give it, or `like` a lift that has it"))
    }
}

/// The order in which entries can be read so that each comes after the one it is like.
fn inheritance_order(
    known: &Catalogue,
    entries: &[Entry<'_>],
) -> Result<Vec<usize>, CatalogueError> {
    let by_key: BTreeMap<String, usize> =
        entries.iter().enumerate().map(|(idx, entry)| (entry.key(), idx)).collect();
    let mut order = Vec::with_capacity(entries.len());
    let mut done = vec![false; entries.len()];
    for start in 0..entries.len() {
        let mut chain = Vec::new();
        let mut next = Some(start);
        while let Some(idx) = next.filter(|idx| !done[*idx]) {
            if chain.contains(&idx) {
                let names: Vec<_> = chain
                    .iter()
                    .chain([&idx])
                    .map(|i| format!("`{}`", entries[*i].title))
                    .collect();
                return Err(entries[idx].fail(
                    "like",
                    format!("these lifts are like each other in a circle: {}", names.join(" → ")),
                ));
            }
            chain.push(idx);
            next = match &entries[idx].like {
                None => None,
                Some(like) if *like == entries[idx].key() || !by_key.contains_key(like) => {
                    if !known.by_spelling.contains_key(like) {
                        return Err(entries[idx].fail("like", "`like` must name a known lift"));
                    }
                    None
                }
                Some(like) => by_key.get(like).copied(),
            };
        }
        for idx in chain.into_iter().rev() {
            done[idx] = true;
            order.push(idx);
        }
    }
    Ok(order)
}

/// Refuses a spelling that two lifts of one file claim.
fn refuse_shared_spellings(
    entries: &[Entry<'_>],
    lifts: &[Option<Lift>],
) -> Result<(), CatalogueError> {
    let mut owner: BTreeMap<String, usize> = BTreeMap::new();
    for (idx, lift) in lifts.iter().enumerate() {
        let Some(lift) = lift else { continue };
        for spelling in lift.also.iter().chain([&lift.name]) {
            if let Some(other) = owner.insert(spelling.key(), idx) {
                let field = if *spelling == lift.name { "name" } else { "also" };
                return Err(entries[idx].fail(
                    field,
                    format!("`{spelling}` already stands for `{}`", entries[other].title),
                ));
            }
        }
    }
    Ok(())
}

fn decimal(item: &Item) -> Option<f64> {
    let value = item.as_value()?;
    value
        .as_float()
        .or_else(|| value.as_integer().map(|whole| whole as f64))
        .filter(|value| value.is_finite())
        .filter(|_| !matches!(value, Value::Boolean(_)))
}

fn line_at(text: &str, offset: usize) -> usize {
    text.as_bytes().iter().take(offset).filter(|byte| **byte == b'\n').count() + 1
}
