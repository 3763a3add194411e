//! Rooms: which crate may depend on which, and on what it must not.
//!
//! app → service → {store, engine} → domain. Reads the manifests only; that the code keeps to its
//! manifest is the compiler's business.

use toml_edit::{Document, Item, TableLike};

use super::{Report, Tree};

/// One room: where it lies, its package name, and the workspace crates that it may use.
struct Room {
    folder: &'static str,
    package: &'static str,
    may_use: &'static [&'static str],
}

const ROOMS: [Room; 6] = [
    Room { folder: "crates/app", package: "bellwether", may_use: &["service", "domain"] },
    Room { folder: "crates/service", package: "service", may_use: &["store", "engine", "domain"] },
    Room { folder: "crates/store", package: "store", may_use: &["domain"] },
    Room { folder: "crates/engine", package: "engine", may_use: &["domain"] },
    Room { folder: "crates/domain", package: "domain", may_use: &[] },
    Room { folder: "xtask", package: "xtask", may_use: &[] },
];

/// Packages that talk to SQLite or another database, of which only `store` has one.
const DATABASES: [&str; 4] = ["rusqlite", "libsqlite3-sys", "sqlx", "diesel"];

/// Packages that have no place in pure computation or in the words of the domain.
const NOT_PURE: [(&str, &str); 4] = [
    ("tokio", "nothing there waits"),
    ("axum", "nothing there knows of pages"),
    ("serde", "nothing there knows how it is stored or sent"),
    ("serde_json", "nothing there knows how it is stored or sent"),
];

/// Features of `rand` that draw on the machine's entropy.
const ENTROPY_FEATURES: [&str; 5] = ["default", "os_rng", "sys_rng", "thread_rng", "getrandom"];

/// One entry of a manifest's dependencies.
struct Dependency {
    package: String,
    features: Vec<String>,
    default_features: bool,
}

pub(super) fn check(tree: &Tree, report: &mut Report) {
    for (path, text) in tree.texts() {
        let Some(folder) = path.strip_suffix("/Cargo.toml") else { continue };
        let room = ROOMS.iter().find(|room| room.folder == folder);
        if folder.starts_with("crates/") && room.is_none() {
            report.find(
                path,
                0,
                format!(
                    "`{folder}` is no room on the allow-list: add it in `xtask/src/tidy/rooms.rs` with \
                     what it may use"
                ),
            );
        }
        let Some(room) = room else { continue };
        match Document::parse(text) {
            Ok(manifest) => {
                let dependencies = dependencies_of(manifest.as_table());
                check_room(path, room, &dependencies, report);
            }
            Err(error) => {
                report.find(path, 0, format!("is no TOML: {}", error.message()));
            }
        }
    }
}

fn check_room(path: &str, room: &Room, dependencies: &[Dependency], report: &mut Report) {
    let pure = matches!(room.package, "engine" | "domain");
    for dependency in dependencies {
        let package = dependency.package.as_str();
        let is_room = ROOMS.iter().any(|other| other.package == package);
        if is_room && !room.may_use.contains(&package) {
            let may_use = match room.may_use {
                [] => "no other room".to_owned(),
                rooms => format!("only {}", rooms.join(", ")),
            };
            report.find(
                path,
                0,
                format!(
                    "`{}` depends on `{package}`, may use {may_use}: move the code to the room that may",
                    room.package
                ),
            );
        }
        if DATABASES.contains(&package) && room.package != "store" {
            report.find(
                path,
                0,
                format!("depends on `{package}`: only `store` speaks to the database, ask it"),
            );
        }
        if let Some((_, why)) = NOT_PURE.iter().find(|(name, _)| *name == package).filter(|_| pure)
        {
            report.find(
                path,
                0,
                format!("depends on `{package}`: {why}, do it in `service` or `app`"),
            );
        }
        if package == "rand" && room.package != "bellwether" {
            check_entropy(path, dependency, report);
        }
    }
}

fn check_entropy(path: &str, rand: &Dependency, report: &mut Report) {
    let asked = rand.features.iter().find(|feature| ENTROPY_FEATURES.contains(&feature.as_str()));
    let found = match asked {
        Some(feature) => feature.as_str(),
        None if rand.default_features => "default",
        None => return,
    };
    report.find(
        path,
        0,
        format!(
            "depends on `rand` with feature `{found}`, which draws entropy: take a seed as an argument \
             and use the workspace's `rand`"
        ),
    );
}

/// Every dependency of a manifest: ordinary, for tests, for building, and for one platform.
fn dependencies_of(manifest: &dyn TableLike) -> Vec<Dependency> {
    let kinds = ["dependencies", "dev-dependencies", "build-dependencies"];
    let mut found = Vec::new();
    let mut take = |table: &dyn TableLike| {
        for kind in kinds {
            let entries = table.get(kind).and_then(Item::as_table_like);
            found.extend(
                entries.into_iter().flat_map(TableLike::iter).map(|(key, item)| entry(key, item)),
            );
        }
    };
    take(manifest);
    let targets = manifest.get("target").and_then(Item::as_table_like);
    for (_, target) in targets.into_iter().flat_map(TableLike::iter) {
        if let Some(table) = target.as_table_like() {
            take(table);
        }
    }
    found
}

fn entry(key: &str, item: &Item) -> Dependency {
    let table = item.as_table_like();
    let get = |name: &str| table.and_then(|table| table.get(name));
    let features = get("features").and_then(Item::as_array);
    let inherits = get("workspace").and_then(Item::as_bool).unwrap_or(false);
    Dependency {
        package: get("package").and_then(Item::as_str).unwrap_or(key).to_owned(),
        features: features
            .into_iter()
            .flatten()
            .filter_map(|feature| feature.as_str().map(str::to_owned))
            .collect(),
        // The workspace's own entries leave the default features of `rand` out.
        default_features: get("default-features").and_then(Item::as_bool).unwrap_or(!inherits),
    }
}
