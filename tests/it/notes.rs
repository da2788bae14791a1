//! What the user writes about rests and attempts: kept, shown, changed, taken back, exported.

use crate::{
    client::{Answer, get, post},
    pages::filled,
    staging::{Folder, Service},
};
use serde_json::{Value, json};
use std::net::SocketAddr;
use stillcloth::record::{ExportFormat, ExportOf, Problem, RecordReader};

fn note(at: SocketAddr, rest: i64, about: &str, text: &str) -> Answer {
    let body = json!({"rest": rest, "about": about, "text": text}).to_string();
    post(at, "/api/notes", "application/json", body.as_bytes())
}

fn texts(at: SocketAddr) -> Vec<Value> {
    let list = get(at, "/api/notes?camera=table").json();
    list["notes"].as_array().unwrap().iter().map(|note| note["text"].clone()).collect()
}

#[test]
fn whoever_has_not_read_what_another_wrote_is_told_and_writes_over_nothing() {
    let folder = Folder::new("two-notes");
    filled(&folder.0, |played| played.attempt == 1 && played.run == 2);
    let service = Service::plain(&folder.0);
    let at = service.address;
    let write = |text: &str, seen: &str| {
        let body = json!({"rest": 2, "about": "rest", "text": text, "instead_of": seen});
        post(at, "/api/notes", "application/json", body.to_string().as_bytes())
    };
    assert_eq!(write("Too\r\nhard", "").status, 201);
    write("Too soft", "").is_problem(409, "noted_meanwhile");
    assert_eq!(texts(at), ["Too\r\nhard"]);
    // A browser ends lines in one way.
    assert_eq!(write("Too hard, too soft", "Too\nhard").status, 201);
    assert_eq!(write("", "Too hard, too soft").status, 201);
    assert_eq!(texts(at), Vec::<Value>::new());
}

#[test]
fn the_last_note_counts_and_every_one_is_kept() {
    let folder = Folder::new("notes");
    let rests = filled(&folder.0, |played| played.attempt == 2 && played.run == 3);
    let began = 1 + rests.iter().position(|played| played.attempt == 2).unwrap();
    let began = i64::try_from(began).unwrap();
    let service = Service::plain(&folder.0);
    let at = service.address;
    assert_eq!(texts(at), Vec::<Value>::new());
    assert_eq!(note(at, began, "attempt", "Left hand\nall the way ").status, 201);
    assert_eq!(note(at, began + 1, "rest", "Too hard").status, 201);
    assert_eq!(note(at, began + 1, "rest", "=Too soft").json()["id"], 3);
    assert_eq!(texts(at), ["Left hand\nall the way", "=Too soft"]);
    let page = get(at, "/attempts/table/2").text();
    assert!(page.contains("<p id=\"noted\">Left hand\nall the way</p>"), "{page}");
    assert!(page.contains("<span class=\"quiet\">note</span>"), "a rest of it has a note: {page}");
    assert!(!get(at, "/attempts/table/1").text().contains("id=\"noted\""));
    assert!(get(at, &format!("/layouts/{}", began + 1)).text().contains("=Too soft"));

    // A note on an attempt is kept by any rest of it.
    assert_eq!(note(at, began + 2, "attempt", "Right hand").status, 201);
    assert!(get(at, "/attempts/table/2").text().contains("Right hand"));
    assert_eq!(note(at, began + 1, "rest", "").status, 201);
    assert!(!get(at, &format!("/layouts/{}", began + 1)).text().contains("Too soft"));
    service.stop();

    // After a restart all is as it was, and what was taken back is still in the record.
    let service = Service::plain(&folder.0);
    assert_eq!(texts(service.address), ["Left hand\nall the way", "Right hand"]);
    let reader = RecordReader::open(&folder.0).unwrap();
    let export = |format| {
        let mut text = Vec::new();
        reader.export(ExportOf::Notes, format, &mut text).unwrap();
        String::from_utf8(text).unwrap()
    };
    let lines = export(ExportFormat::JsonLines);
    let lines: Vec<Value> = lines.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(lines.len(), 5);
    assert_eq!((&lines[1]["text"], &lines[4]["text"]), (&json!("Too hard"), &json!("")));
    assert_eq!(lines[0]["about"], "attempt");
    let table = export(ExportFormat::Csv);
    assert!(!table.contains(",=Too"), "a spreadsheet would take it for a formula: {table}");
    let report = reader.check().unwrap();
    assert_eq!((report.notes, report.problems), (5, Vec::new()));
    service.stop();

    let database = rusqlite::Connection::open(folder.0.join("record.sqlite3")).unwrap();
    database.execute("UPDATE notes SET text = 'Too easy' WHERE id = 2", []).unwrap();
    let problems = RecordReader::open(&folder.0).unwrap().check().unwrap().problems;
    assert_eq!(problems, [Problem::Changed { what: "note", id: 2 }]);
}

#[test]
fn what_is_no_note_is_refused_in_words() {
    let folder = Folder::new("no-notes");
    filled(&folder.0, |played| played.run == 1);
    let service = Service::plain(&folder.0);
    let at = service.address;
    note(at, 99, "rest", "x").is_problem(404, "not_found");
    note(at, 1, "table", "x").is_problem(422, "no_note");
    note(at, 1, "rest", &"x".repeat(4001)).is_problem(422, "no_note");
    note(at, 1, "rest", "bell\u{7}").is_problem(422, "no_note");
    let list = b"[1,\"rest\",\"x\",null]";
    post(at, "/api/notes", "application/json", list).is_problem(422, "no_note");
    let send = |media_type, body: &str| post(at, "/api/notes", media_type, body.as_bytes());
    send("application/json", "{").is_problem(400, "no_json");
    send("application/json", "{\"rest\":1,\"about\":\"rest\"}").is_problem(422, "no_note");
    send("text/plain", "{}").is_problem(415, "media_type");
    assert_eq!(note(at, 1, "rest", &"ü".repeat(4000)).status, 201, "characters, not bytes");
    assert_eq!(texts(at).len(), 1);
    let whole = "{\"rest\":1.0,\"about\":\"rest\",\"text\":\"x\"}";
    assert_eq!(send("application/json", whole).status, 201, "as good as 1");
}
