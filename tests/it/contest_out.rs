//! Contests as player and organiser meet them: the commands, the addresses, the pages.

use crate::{
    access,
    client::{Answer, get, post, request},
    command::{went_well, went_wrong},
    contest::{entry_of, other_player},
    pages::filled,
    staging::{Folder, Service, Wish, scripted_readers},
};
use serde_json::{Value, json};
use std::{fs, net::SocketAddr, os::unix::fs::PermissionsExt, path::Path};
use stillcloth::service::AccessSettings;

const LINES: &str = "application/x-ndjson";
const JSON: &str = "application/json";

/// A record in `data` of the made-up player, whose second attempt is of 17 balls.
fn played(folder: &Folder) {
    filled(&folder.0.join("data"), |played| played.attempt == 3 && played.run == 1);
}

const ENTER: [&str; 6] = ["enter", "2", "--player", "Rowan Hale", "--age", "57"];

#[test]
fn an_attempt_is_entered_and_verified_by_command() {
    let folder = Folder::new("enter");
    played(&folder);
    let told = went_well(&folder.0, &[&ENTER[..], &["--pictures", "pictures"]].concat());
    assert!(told.contains("attempt-2.entry.jsonl: a run of 17"), "{told}");
    let entry = fs::read_to_string(folder.0.join("attempt-2.entry.jsonl")).unwrap();
    assert!(entry.contains("\"age_years\":57") && !entry.contains("born"), "{entry}");
    let key_file = folder.0.join("data/player.key");
    assert_eq!(fs::metadata(&key_file).unwrap().permissions().mode() & 0o777, 0o600);
    let secret = fs::read_to_string(&key_file).unwrap();
    let secret = secret.lines().last().unwrap();
    assert!(!entry.contains(secret) && !told.contains(secret), "the secret stays in its file");
    let told = went_well(&folder.0, &["verify", "attempt-2.entry.jsonl"]);
    assert!(told.contains("a run of 17 follows from the records: a miss"), "{told}");
    assert!(told.contains("Verified."), "{told}");

    // The same key at the next entry; the organiser who knows it is told of another one.
    let key = told.lines().find_map(|line| line.strip_prefix("key: ")).unwrap();
    let again =
        [&ENTER[..], &["--out", "again.jsonl", "--film", "https://films.example/7"]].concat();
    assert!(went_well(&folder.0, &again).contains(key));
    went_well(&folder.0, &["verify", "again.jsonl", "--key", key]);
    let other = "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c";
    let told = went_wrong(&folder.0, &["verify", "again.jsonl", "--key", other]);
    assert!(told.contains(&format!("signed with the key {key}, and the player's is {other}")));

    // Its pictures beside it, as they were signed and otherwise.
    let beside = ["verify", "attempt-2.entry.jsonl", "--pictures", "pictures"];
    went_well(&folder.0, &beside);
    let pictures: Vec<_> = fs::read_dir(folder.0.join("pictures")).unwrap().collect();
    let picture = pictures[0].as_ref().unwrap().path();
    let sha256 = picture.file_stem().unwrap().to_str().unwrap().to_string();
    let record = entry.lines().position(|line| line.contains(&sha256)).unwrap();
    fs::write(&picture, "another picture").unwrap();
    let told = went_wrong(&folder.0, &beside);
    assert!(told.contains(&format!("Record {record}: its picture")), "{told}");
    assert!(told.contains("was replaced or changed"), "{told}");
    fs::remove_file(&picture).unwrap();
    let told = went_wrong(&folder.0, &beside);
    assert!(told.contains(&format!("Record {record}: its picture")), "{told}");

    fs::write(folder.0.join("edited.jsonl"), entry.replacen("\"x\":", "\"x\":1", 1)).unwrap();
    let told = went_wrong(&folder.0, &["verify", "edited.jsonl"]);
    assert!(told.contains("Record 1: it was changed"), "{told}");
    went_well(&folder.0, &["check"]);
}

#[test]
fn what_cannot_be_entered_or_verified_is_told_in_words() {
    let folder = Folder::new("no-entry");
    played(&folder);
    let told = went_wrong(&folder.0, &["enter", "9", "--player", "Rowan Hale"]);
    assert!(told.contains("the record has no attempt 9"), "{told}");
    let told = went_wrong(&folder.0, &["enter", "3", "--player", "Rowan Hale"]);
    assert!(told.contains("still going on"), "{told}");
    let told = went_wrong(&folder.0, &["enter", "2", "--player", ""]);
    assert!(told.contains("no player's name"), "{told}");
    let told = went_wrong(&folder.0, &["enter", "2", "--player", "R", "--age", "0"]);
    assert!(told.contains("0 is none"), "{told}");
    fs::write(folder.0.join("data/player.key"), "no key\n").unwrap();
    let told = went_wrong(&folder.0, &["enter", "2", "--player", "Rowan Hale"]);
    assert!(told.contains("player.key holds no key"), "{told}");
    assert!(!folder.0.join("attempt-2.entry.jsonl").exists(), "nothing was written");

    let told = went_wrong(&folder.0, &["verify", "no-such.jsonl"]);
    assert!(told.contains("cannot read no-such.jsonl"), "{told}");
    // A gigabyte is told by its size alone; the file has a hole in place of content.
    let large = fs::File::create(folder.0.join("large.jsonl")).unwrap();
    large.set_len(1 << 30).unwrap();
    let told = went_wrong(&folder.0, &["verify", "large.jsonl"]);
    assert!(told.contains("has 1024 MiB, and an entry at most 16 MiB"), "{told}");
    let told = went_wrong(&folder.0, &["verify", "data"]);
    assert!(told.contains("cannot read data"), "{told}");
}

fn open(at: SocketAddr, rules: &Value) -> Answer {
    post(at, "/api/contests", JSON, rules.to_string().as_bytes())
}

fn longest() -> Value {
    json!({"name": "Autumn runs", "counts": "longest_run", "from": "2023-01-01", "to": "2199-12-31"})
}

fn against_age() -> Value {
    json!({"name": "Above your age", "counts": "run_against_age", "from": "2023-01-01",
        "to": "2199-12-31"})
}

fn enter(at: SocketAddr, contest: i64, entry: &str) -> Answer {
    post(at, &format!("/api/contests/{contest}/entries"), LINES, entry.as_bytes())
}

fn by_hand(at: SocketAddr, contest: i64, player: &str, run: u32) -> Answer {
    let body = json!({"player": player, "age_years": 40, "run": run, "day": "2026-03-05",
        "film": "https://films.example/hand"});
    let path = format!("/api/contests/{contest}/entries/by-hand");
    post(at, &path, JSON, body.to_string().as_bytes())
}

fn say(at: SocketAddr, contest: i64, entry: i64, state: &str, reason: &str) -> Answer {
    let body = json!({"state": state, "reason": reason}).to_string();
    let path = format!("/api/contests/{contest}/entries/{entry}/state");
    post(at, &path, JSON, body.as_bytes())
}

fn standings(at: SocketAddr, contest: i64) -> Vec<(u64, String, i64)> {
    let contest = get(at, &format!("/api/contests/{contest}")).json();
    let ranks = contest["standings"].as_array().unwrap().iter();
    let told = |rank: &Value| {
        let player = rank["player"].as_str().unwrap().to_string();
        (rank["place"].as_u64().unwrap(), player, rank["result"].as_i64().unwrap())
    };
    ranks.map(told).collect()
}

/// A record with a contest: a verified entry, one that is to be looked at, two by hand of which one
/// was removed.
pub fn with_a_contest(data: &Path) {
    let service = Service::plain(data);
    let at = service.address;
    assert_eq!(open(at, &against_age()).status, 201);
    assert_eq!(enter(at, 1, &entry_of("Rowan Hale", 5, false)).status, 201);
    assert_eq!(enter(at, 1, &other_player("Wren Alder-Okafor")).status, 201);
    assert_eq!(by_hand(at, 1, "Linden Achterberg", 44).status, 201);
    assert_eq!(by_hand(at, 1, "Hazel", 300).status, 201);
    assert_eq!(say(at, 1, 4, "removed", "The film shows another table.").status, 201);
    service.stop();
}

#[test]
fn a_contest_is_opened_entered_and_told() {
    let folder = Folder::new("contest");
    let service = Service::plain(&folder.0);
    let at = service.address;
    let opened = open(at, &longest());
    assert_eq!((opened.status, opened.json()["id"].clone()), (201, json!(1)));
    let entry = entry_of("Rowan Hale", 5, false);
    let kept = enter(at, 1, &entry);
    assert_eq!(kept.status, 201, "{}", kept.text());
    let kept = kept.json();
    assert_eq!((kept["checked"].as_str(), kept["findings"].clone()), (Some("verified"), json!([])));
    let run = kept["run"].as_u64().unwrap();

    // The same attempt again, under the same name or another, signed by the same key or another.
    for again in [
        entry.clone(),
        entry_of("Another Name", 5, false),
        entry_of("Rowan Hale", 5, true),
        entry_of("Another Name", 5, true),
    ] {
        let answer = enter(at, 1, &again);
        answer.is_problem(409, "clash");
        assert!(answer.text().contains("already, as entry 1 of Rowan Hale"), "{}", answer.text());
    }
    // Another attempt by the name with another key, and by the key with another name.
    let answer = enter(at, 1, &entry_of("rowan  hale", 6, true));
    answer.is_problem(409, "clash");
    assert!(answer.text().contains("signed with another key"), "{}", answer.text());
    let answer = enter(at, 1, &entry_of("Somebody Else", 6, false));
    answer.is_problem(409, "clash");
    assert!(answer.text().contains("has entered as Rowan Hale"), "{}", answer.text());

    let looked_at = enter(at, 1, &other_player("Wren Alder"));
    assert_eq!(looked_at.status, 201, "{}", looked_at.text());
    assert_eq!(looked_at.json()["checked"], "to_look_at");
    assert!(looked_at.json()["findings"][0]["record"].as_u64() > Some(1), "{}", looked_at.text());
    let hand = by_hand(at, 1, "=2+3", u32::try_from(run).unwrap());
    assert_eq!((hand.status, hand.json()["checked"].clone()), (201, json!("unverified")));
    let run = i64::try_from(run).unwrap();
    let others = looked_at.json()["run"].as_i64().unwrap();
    assert!(others < run);
    let hale = (1, "Rowan Hale".to_string(), run);
    let alder = (3, "Wren Alder".to_string(), others);
    let tied = (1, "=2+3".to_string(), run);
    assert_eq!(standings(at, 1), [hale.clone(), tied.clone(), alder.clone()]);

    let csv = get(at, "/api/contests/1/standings.csv");
    assert_eq!(csv.header("content-type"), Some("text/csv; charset=utf-8"));
    let text = csv.text();
    assert!(
        text.starts_with(
            "place,player,age_years,run,result,day,checked,film,entry\n1,Rowan Hale,57,"
        )
    );
    assert!(text.contains("\n1,'=2+3,40,"), "no spreadsheet takes a name for a formula: {text}");
    let html = get(at, "/api/contests/1/standings.html").text();
    for part in ["<h1>Autumn runs</h1>", "Rowan Hale", "tied", "Unverified, by hand", "<style>"] {
        assert!(html.contains(part), "no {part} in {html}");
    }
    assert!(!html.contains("<script") && !html.contains("<link") && !html.contains("src="));
    let file = get(at, "/api/contests/1/entries/1/file");
    assert_eq!((file.header("content-type"), file.text()), (Some(LINES), entry.clone()));
    get(at, "/api/contests/1/entries/3/file").is_problem(404, "not_found");

    // Withdrawn and removed, and counted again where nothing stands against it.
    assert_eq!(say(at, 1, 1, "withdrawn", "").status, 201);
    assert_eq!(say(at, 1, 3, "removed", "No such film.").status, 201);
    assert_eq!(standings(at, 1), [(1, "Wren Alder".to_string(), others)]);
    assert_eq!(enter(at, 1, &entry).json()["id"], 4);
    say(at, 1, 1, "counts", "").is_problem(409, "clash");
    assert_eq!(say(at, 1, 3, "counts", "").status, 201);
    service.stop();

    let service = Service::plain(&folder.0);
    let at = service.address;
    // The earlier entry comes first of those with one result.
    assert_eq!(standings(at, 1), [tied, hale, alder]);
    let page = get(at, "/contests/1").text();
    for part in ["Autumn runs", "Withdrawn", "To be looked at", "tied", "rel=\"noopener"] {
        assert!(page.contains(part), "no {part} in {page}");
    }
    assert!(get(at, "/contests").text().contains("=2+3, Rowan Hale"));
    service.stop();
    let checked = went_well(&folder.0, &["check", "--data", "."]);
    assert!(checked.contains("0 problems"), "{checked}");
    let database = rusqlite::Connection::open(folder.0.join("record.sqlite3")).unwrap();
    let spoil = |sql: &str| assert_eq!(database.execute(sql, []).unwrap(), 1);
    spoil("UPDATE contest_entries SET file_text = file_text || ' ' WHERE id = 4");
    spoil("UPDATE contest_words SET reason = 'other' WHERE id = 2");
    spoil("UPDATE contests SET rules_json = '{}' WHERE id = 1");
    let checked = went_wrong(&folder.0, &["check", "--data", "."]);
    for part in ["entry 4 was changed", "word 2 was changed", "contest 1 cannot be read"] {
        assert!(checked.contains(part), "{checked}");
    }
}

#[test]
fn what_does_not_count_in_a_contest_is_refused_with_the_reason() {
    let folder = Folder::new("unfit");
    let service = Service::plain(&folder.0);
    let at = service.address;
    let with = |name: &str, value: Value| {
        let mut rules = longest();
        rules[name] = value;
        open(at, &rules)
    };
    with("name", json!("")).is_problem(422, "does_not_count");
    with("to", json!("2022-01-01")).is_problem(422, "does_not_count");
    with("from", json!("2023-02-30")).is_problem(422, "does_not_count");
    with("table", json!("10ft")).is_problem(422, "does_not_count");
    with("counts", json!("luck")).is_problem(422, "does_not_count");
    assert_eq!(with("table", json!("7ft")).status, 201);
    assert_eq!(with("to", json!("2023-02-01")).status, 201);
    assert_eq!(open(at, &against_age()).status, 201);
    let entry = entry_of("Rowan Hale", 5, false);
    let answer = enter(at, 1, &entry_at_nine_feet());
    answer.is_problem(422, "does_not_count");
    assert!(
        answer.text().contains("mm long, and this contest is for 1981 mm"),
        "{}",
        answer.text()
    );
    let answer = enter(at, 2, &entry);
    assert!(answer.text().contains("and this contest is for 2023-01-01 to"), "{}", answer.text());
    let body = json!({"player": "A", "run": 5, "day": "2026-03-05", "film": "https://f.example/"});
    let path = "/api/contests/3/entries/by-hand";
    let answer = post(at, path, JSON, body.to_string().as_bytes());
    answer.is_problem(422, "does_not_count");
    assert!(answer.text().contains("in whole years"), "{}", answer.text());
    for (name, value) in [
        ("film", json!("javascript:alert(1)")),
        ("player", json!("a\nb")),
        ("age_years", json!(57.5)),
        ("age_years", json!(121)),
        ("run", json!(10_001)),
        ("born", json!("1970-01-01")),
    ] {
        let mut body = body.clone();
        body["age_years"] = json!(57);
        body[name] = value;
        post(at, path, JSON, body.to_string().as_bytes()).is_problem(422, "does_not_count");
    }

    // What the check refuses names the record.
    let edited = entry.replacen("\"unseen_ms\":", "\"unseen_ms\":1", 3);
    let answer = enter(at, 3, &edited);
    answer.is_problem(422, "entry_refused");
    assert!(answer.text().contains("Record 1: it was changed"), "{}", answer.text());
    enter(at, 3, "").is_problem(422, "entry_refused");
    enter(at, 3, "\u{0}\u{0}").is_problem(422, "entry_refused");
    enter(at, 3, &"x".repeat(17 << 20)).is_problem(413, "too_many_bytes");
    let announced = format!(
        "POST /api/contests/3/entries HTTP/1.1\r\nContent-Type: {LINES}\r\nContent-Length: {}\r\n",
        1_u64 << 30
    );
    request(at, &announced, b"{").is_problem(413, "too_many_bytes");
    enter(at, 99, &entry).is_problem(404, "not_found");
    get(at, "/api/contests/99").is_problem(404, "not_found");
    get(at, "/api/contests/x").is_problem(404, "not_found");
    say(at, 3, 1, "removed", "").is_problem(404, "not_found");
    assert_eq!(get(at, "/contests/99").status, 404);
    assert_eq!(get(at, "/contests/../../etc/passwd").status, 404);
    // Nothing of all that was kept.
    assert_eq!(get(at, "/api/contests/3").json()["entries"], json!([]));
    assert_eq!(enter(at, 3, &entry).status, 201);
    let lead = standings(at, 3).remove(0);
    assert_eq!(lead.2, entry_run(&entry) - 57, "the run less the age");
}

fn entry_run(entry: &str) -> i64 {
    let head: Value = serde_json::from_str(entry.lines().next().unwrap()).unwrap();
    head["run"].as_i64().unwrap()
}

fn entry_at_nine_feet() -> String {
    (5..200)
        .map(|seed| entry_of("Rowan Hale", seed, false))
        .find(|entry| entry.contains("\"length_mm\":2540.0"))
        .expect("a nine-foot table")
}

#[test]
fn the_network_watches_a_contest_and_needs_the_key_to_change_one() {
    let folder = Folder::new("contest-lan");
    with_a_contest(&folder.0);
    let wish = Wish {
        access: AccessSettings { lan: true, ..AccessSettings::default() },
        ..Wish::default()
    };
    let service = Service::start(&folder.0, wish, scripted_readers());
    let at = service.address;
    for path in ["/contests", "/contests/1", "/api/contests/1", "/api/contests/1/standings.csv"] {
        assert_eq!(get(at, path).status, 200, "{path}");
    }
    open(at, &longest()).is_problem(401, "not_paired");
    enter(at, 1, "").is_problem(401, "not_paired");
    by_hand(at, 1, "Nobody", 900).is_problem(401, "not_paired");
    say(at, 1, 1, "removed", "").is_problem(401, "not_paired");
    let key = access::key(&folder.0);
    let body = longest().to_string();
    let head = format!(
        "POST /api/contests HTTP/1.1\r\nAuthorization: Bearer {key}\r\nContent-Type: {JSON}\r\n\
         Content-Length: {}\r\n",
        body.len()
    );
    assert_eq!(request(at, &head, body.as_bytes()).status, 201);
}

#[test]
fn a_contests_words_are_text_and_run_nothing() {
    let folder = Folder::new("contest-markup");
    let service = Service::plain(&folder.0);
    let at = service.address;
    let name = "<script>alert(1)</script>\"'";
    let mut rules = longest();
    rules["name"] = json!(name);
    assert_eq!(open(at, &rules).status, 201);
    assert_eq!(by_hand(at, 1, name, 9).status, 201);
    assert_eq!(say(at, 1, 1, "counts", name).status, 201);
    for page in ["/contests", "/contests/1", "/api/contests/1/standings.html"] {
        let text = get(at, page).text();
        assert!(
            !text.contains("<script>alert") && text.contains("&lt;script&gt;"),
            "{page}: {text}"
        );
    }
}
