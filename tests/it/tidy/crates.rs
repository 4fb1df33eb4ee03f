//! Who may use whom.

use std::collections::{BTreeMap, BTreeSet};

use cargo_metadata::{CargoOpt, DependencyKind, MetadataCommand};

use super::{nothing, root};

/// Crates of this repository that a crate may use.
const OURS: [(&str, &[&str]); 10] = [
    ("geom", &[]),
    ("record", &["geom"]),
    ("study", &["geom", "record"]),
    ("formats", &["geom", "record"]),
    ("report", &["geom", "record"]),
    ("demo", &["formats", "geom", "record"]),
    ("view3d", &["geom"]),
    ("editor", &["formats", "geom", "record", "study"]),
    (
        "app",
        &["demo", "editor", "geom", "record", "report", "view3d"],
    ),
    (
        "unmirror",
        &[
            "app", "demo", "formats", "geom", "record", "report", "study",
        ],
    ),
];

/// Crates of others that a crate may use, where that is limited.
const OTHERS: [(&str, &[&str]); 6] = [
    ("geom", &["libc", "nalgebra", "pulp", "rayon", "statrs"]),
    ("record", &["nalgebra"]),
    (
        "study",
        &[
            "cavalier_contours",
            "nalgebra",
            "rand",
            "rand_chacha",
            "rand_distr",
            "rayon",
        ],
    ),
    (
        "report",
        &["miniz_oxide", "nalgebra", "pdf-writer", "ttf-parser"],
    ),
    ("view3d", &["nalgebra", "rayon"]),
    ("editor", &["blake3", "rayon"]),
];

/// What the program without a window does not contain.
const NO_WINDOW: [&str; 4] = ["egui", "eframe", "wgpu", "winit"];

#[test]
fn crates_use_only_what_the_table_allows() {
    let metadata = MetadataCommand::new()
        .manifest_path(root().join("Cargo.toml"))
        .features(CargoOpt::NoDefaultFeatures)
        .no_deps()
        .exec()
        .expect("cargo metadata runs");
    let ours: BTreeMap<&str, &[&str]> = OURS.into_iter().collect();
    let others: BTreeMap<&str, &[&str]> = OTHERS.into_iter().collect();
    let mut complaints = Vec::new();
    let mut seen = BTreeSet::new();
    for package in &metadata.packages {
        let name = package.name.as_str();
        if name == "it" {
            continue;
        }
        seen.insert(name.to_owned());
        let Some(allowed) = ours.get(name) else {
            complaints.push(format!("{name} is not in the table of crates"));
            continue;
        };
        for dependency in package
            .dependencies
            .iter()
            .filter(|d| d.kind == DependencyKind::Normal)
        {
            let used = dependency.name.as_str();
            let is_ours = ours.contains_key(used);
            let fine = if is_ours {
                allowed.contains(&used)
            } else {
                others.get(name).is_none_or(|o| o.contains(&used))
            };
            if !fine {
                complaints.push(format!("{name} uses {used}"));
            }
        }
    }
    complaints.extend(
        ours.keys()
            .filter(|n| !seen.contains(**n))
            .map(|n| format!("{n} is in the table only")),
    );
    nothing(&complaints);
}

#[test]
fn the_program_without_a_window_contains_none() {
    let metadata = MetadataCommand::new()
        .manifest_path(root().join("Cargo.toml"))
        .features(CargoOpt::NoDefaultFeatures)
        .other_options(
            ["--locked", "--offline", "--filter-platform", &host()]
                .map(str::to_owned)
                .to_vec(),
        )
        .exec()
        .expect("cargo metadata runs without network once everything was fetched");
    let resolve = metadata
        .resolve
        .as_ref()
        .expect("dependencies are resolved");
    let name_of: BTreeMap<_, _> = metadata
        .packages
        .iter()
        .map(|p| (&p.id, p.name.as_str()))
        .collect();
    let start = metadata
        .packages
        .iter()
        .find(|p| p.name.as_str() == "unmirror")
        .expect("the program is a package");
    let mut queue = vec![&start.id];
    let mut reached = BTreeSet::new();
    while let Some(id) = queue.pop() {
        if !reached.insert(id) {
            continue;
        }
        let node = resolve
            .nodes
            .iter()
            .find(|n| n.id == *id)
            .expect("every package is resolved");
        let normal = node
            .deps
            .iter()
            .filter(|d| d.dep_kinds.iter().any(|k| k.kind == DependencyKind::Normal));
        queue.extend(normal.map(|d| &d.pkg));
    }
    let complaints: Vec<String> = reached
        .iter()
        .filter_map(|id| name_of.get(*id))
        .filter(|name| NO_WINDOW.iter().any(|w| name.starts_with(w)))
        .map(|name| format!("the program contains {name}"))
        .collect();
    nothing(&complaints);
    assert!(
        reached.len() > 20,
        "only {} packages were reached",
        reached.len()
    );
}

/// The platform the tests run on: packages of other platforms need not have been fetched.
fn host() -> String {
    let rustc = std::env::var_os("RUSTC").unwrap_or_else(|| "rustc".into());
    let said = std::process::Command::new(rustc)
        .arg("-vV")
        .output()
        .expect("rustc runs");
    let said = String::from_utf8(said.stdout).expect("rustc writes UTF-8");
    said.lines()
        .find_map(|l| l.strip_prefix("host: "))
        .expect("rustc names its host")
        .to_owned()
}
