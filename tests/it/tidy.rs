//! The house stays in order: floors import downwards only, every file says what it is for, and
//! prose names nothing that is gone.

use std::{
    collections::BTreeSet,
    fs,
    path::{Path, PathBuf},
};

/// Each floor and those it stands on. What is not named here may not be imported.
const FLOORS: [(&str, &[&str]); 14] = [
    ("table", &[]),
    ("layout", &["table"]),
    ("camera", &["table"]),
    ("vision", &["table", "layout", "camera"]),
    ("motion", &["table", "layout"]),
    ("advice", &["table", "layout", "motion"]),
    ("again", &["table", "layout"]),
    ("score", &["table", "layout"]),
    ("study", &["table", "layout", "score"]),
    ("run_sheet", &["table", "layout", "score"]),
    ("contest", &["table", "layout", "camera", "score"]),
    ("record", &["table", "layout", "camera", "score", "study", "contest"]),
    ("staged", &["table", "layout", "camera", "motion", "advice"]),
    (
        "service",
        &[
            "table",
            "layout",
            "again",
            "camera",
            "vision",
            "motion",
            "advice",
            "score",
            "study",
            "run_sheet",
            "contest",
            "record",
            "staged",
        ],
    ),
];

/// The binary's own folder, which may use the whole library.
const COMMANDS: &str = "commands";

/// Folders whose every file has a row in a README.
const LISTED: [&str; 3] = ["testdata", "models", "calibration"];

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// All files below a folder of the repository, as paths from its root.
fn files_below(folder: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut waiting = vec![root().join(folder)];
    while let Some(folder) = waiting.pop() {
        let Ok(entries) = fs::read_dir(&folder) else { continue };
        for entry in entries {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            if path.is_dir() && name != "__pycache__" {
                waiting.push(path);
            } else if path.is_file() {
                found.push(path.strip_prefix(root()).unwrap().to_path_buf());
            }
        }
    }
    found.sort();
    found
}

fn read(path: &Path) -> String {
    fs::read_to_string(root().join(path))
        .unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

fn rust_files(folder: &str) -> Vec<PathBuf> {
    let is_rust = |path: &PathBuf| path.extension().is_some_and(|ending| ending == "rs");
    files_below(folder).into_iter().filter(is_rust).collect()
}

fn without_comments(text: &str) -> String {
    text.lines().map(|line| line.split("//").next().unwrap_or("")).collect::<Vec<_>>().join("\n")
}

/// The name that begins a piece of code.
fn first_name(code: &str) -> &str {
    let code = code.trim_start();
    let end = code.find(|c: char| !c.is_alphanumeric() && c != '_').unwrap_or(code.len());
    &code[..end]
}

/// The names that follow a path's beginning: one, or those of a group in braces.
fn names_after(code: &str) -> Vec<&str> {
    let code = code.trim_start();
    let Some(group) = code.strip_prefix('{') else { return vec![first_name(code)] };
    let mut names = vec![first_name(group)];
    let mut depth = 0;
    for (at, letter) in group.char_indices() {
        match letter {
            '{' => depth += 1,
            '}' if depth == 0 => break,
            '}' => depth -= 1,
            ',' if depth == 0 => names.push(first_name(&group[at + 1..])),
            _ => {}
        }
    }
    // A comma behind the last name begins none.
    names.retain(|name| !name.is_empty());
    names
}

/// The floors that a file of the library names: by `crate::`, or by enough `super::`.
fn imported(path: &Path, code: &str) -> BTreeSet<String> {
    let mut names = BTreeSet::new();
    for (at, start) in code.match_indices("crate::") {
        names.extend(names_after(&code[at + start.len()..]).into_iter().map(String::from));
    }
    let own_folder = path.file_name().is_some_and(|name| name == "mod.rs");
    let depth = path.components().count() - 1 - usize::from(own_folder);
    let up = "super::".repeat(depth);
    for (at, start) in code.match_indices(&up) {
        names.extend(names_after(&code[at + start.len()..]).into_iter().map(String::from));
    }
    names
}

#[test]
fn floors_import_downwards_only() {
    let mut faults = Vec::new();
    for path in rust_files("src") {
        let Some(floor) = path.components().nth(1).filter(|_| path.components().count() > 2) else {
            continue;
        };
        let floor = floor.as_os_str().to_string_lossy();
        if floor == COMMANDS {
            continue;
        }
        let Some((_, below)) = FLOORS.iter().find(|(name, _)| *name == floor) else {
            faults
                .push(format!("src/{floor} has no place in the house: give it one in {}", file!()));
            continue;
        };
        for name in imported(&path, &without_comments(&read(&path))) {
            let is_floor = FLOORS.iter().any(|(floor, _)| *floor == name);
            if is_floor && name != floor && !below.contains(&name.as_str()) {
                faults.push(format!("{}: {floor} may not import {name}", path.display()));
            }
        }
    }
    assert!(faults.is_empty(), "\n{}", faults.join("\n"));
}

#[test]
fn imports_are_recognised_in_every_form() {
    let path = Path::new("src/layout/diagram/balls.rs");
    let names = |code: &str| imported(path, code).into_iter().collect::<Vec<_>>();
    assert_eq!(names("use crate::service::App;"), ["service"]);
    assert_eq!(
        names("use crate::{\n    camera::{self, picture::decode},\n    record,\n};"),
        ["camera", "record"]
    );
    assert_eq!(names("let x = crate::vision::read(a, b);"), ["vision"]);
    assert_eq!(names("use super::super::super::{record::Record, table};"), ["record", "table"]);
    assert!(!names("use super::super::Layout;").contains(&"Layout".to_string()));
}

#[test]
fn the_database_stays_inside_the_record() {
    for path in rust_files("src") {
        let inside = path.starts_with("src/record");
        assert!(inside || !read(&path).contains("rusqlite"), "{}", path.display());
    }
}

#[test]
fn every_file_begins_with_what_it_is_for() {
    let mut faults = Vec::new();
    for folder in ["src", "tests", "benches", "examples"] {
        for path in rust_files(folder) {
            if !read(&path).starts_with("//! ") {
                faults.push(format!("{} does not begin with //!", path.display()));
            }
        }
    }
    assert!(faults.is_empty(), "\n{}", faults.join("\n"));
}

/// What stands between backquotes, and what links point at.
fn quoted(text: &str) -> Vec<&str> {
    let mut names: Vec<&str> = text.split('`').skip(1).step_by(2).collect();
    for (at, _) in text.match_indices("](") {
        names.extend(text[at + 2..].split([')', '#']).next());
    }
    names
}

#[test]
fn prose_names_nothing_that_is_gone() {
    let tops =
        ["src", "tests", "testdata", "models", "calibration", "i18n", "benches", "examples", ".ci"];
    let mut faults = Vec::new();
    for prose in ["README.md", "DEVELOPERS.md"] {
        let Ok(text) = fs::read_to_string(root().join(prose)) else { continue };
        // Blocks of commands and listings are not prose.
        let text: String = text.split("```").step_by(2).collect();
        for name in quoted(&text) {
            let top = name.split('/').next().unwrap_or_default();
            let names_a_path = (name.contains('/') && tops.contains(&top))
                || [".md", ".toml"].iter().any(|ending| name.ends_with(ending));
            let plain = !name.contains([' ', '*', '<', '{', ':']);
            if names_a_path && plain && !root().join(name).exists() {
                faults.push(format!("{prose} names {name}, which is not there"));
            }
        }
    }
    assert!(faults.is_empty(), "\n{}", faults.join("\n"));
}

/// The nearest README beside or above a file, no higher than `top`.
fn readme_for(path: &Path, top: &str) -> Option<PathBuf> {
    path.ancestors()
        .skip(1)
        .take_while(|folder| folder.starts_with(top))
        .map(|folder| folder.join("README.md"))
        .find(|readme| root().join(readme).exists())
}

/// The first cells of a README's tables.
fn rows(readme: &Path) -> BTreeSet<String> {
    let text = read(readme);
    let rows = text.lines().filter_map(|line| line.strip_prefix("| `"));
    rows.filter_map(|row| row.split('`').next()).map(String::from).collect()
}

#[test]
fn every_shipped_file_has_a_row_and_every_row_a_file() {
    let mut faults = Vec::new();
    for top in LISTED {
        for path in files_below(top) {
            if path.file_name().is_some_and(|name| name == "README.md") {
                for row in rows(&path) {
                    if !root().join(path.with_file_name(&row)).exists() {
                        faults.push(format!("{} lists {row}, which is gone", path.display()));
                    }
                }
                continue;
            }
            let Some(readme) = readme_for(&path, top) else {
                faults.push(format!("{} has no README.md beside or above it", path.display()));
                continue;
            };
            let from_readme = path.strip_prefix(readme.parent().unwrap()).unwrap();
            let listed = rows(&readme);
            // A row may stand for a whole folder below the README.
            let covered = from_readme.ancestors().any(|part| {
                let part = part.to_string_lossy();
                listed.contains(part.as_ref()) || listed.contains(&format!("{part}/"))
            });
            if !covered {
                faults.push(format!("{} has no row in {}", path.display(), readme.display()));
            }
        }
    }
    assert!(faults.is_empty(), "\n{}", faults.join("\n"));
}
