//! The pages that people look at, as the server draws them.

use crate::{
    client::{Answer, get, post, request},
    contest_out::with_a_contest,
    layouts_out::send,
    played::{self, Played, time_of},
    staging::{Folder, Script, Service, layout, png},
};
use serde_json::{Value, json};
use std::{
    collections::{BTreeMap, BTreeSet},
    net::SocketAddr,
    path::Path,
};
use stillcloth::{
    camera::picture::PictureFormat,
    record::{NewRest, Record, Retention},
};

/// A record of the made-up player's rests, and what became of the last of them.
pub fn filled(folder: &Path, until: impl Fn(&Played) -> bool) -> Vec<Played> {
    let mut rests = Vec::new();
    for played in played::rests() {
        rests.push(played);
        if until(&rests[rests.len() - 1]) {
            break;
        }
    }
    add(folder, 0, &rests);
    rests
}

/// Adds rests to a record, counted from a number on.
pub fn add(folder: &Path, from: usize, rests: &[Played]) {
    let record = Record::open(folder, Retention::default()).unwrap();
    for (index, played) in rests.iter().enumerate() {
        let rest = NewRest {
            at: time_of(from + index),
            unseen_ms: 0,
            camera: "table".into(),
            layout: played.layout.clone(),
            picture: format!("picture {}", from + index).into_bytes(),
            format: PictureFormat::Jpeg,
        };
        record.append(rest).unwrap();
    }
}

/// What stands in quotes after a name.
fn named<'a>(text: &'a str, name: &str) -> Vec<&'a str> {
    let begins = format!("{name}=\"");
    text.split(&begins).skip(1).filter_map(|rest| rest.split('"').next()).collect()
}

/// All that a page loads and leads to here, its scripts' modules included.
fn addresses(at: SocketAddr, page: &str) -> BTreeSet<String> {
    let text = get(at, page).text();
    let mut found: BTreeSet<String> = named(&text, "href")
        .into_iter()
        .chain(named(&text, "src"))
        .filter(|address| address.starts_with('/'))
        .map(|address| address.replace("&amp;", "&"))
        .collect();
    let mut waiting: Vec<String> =
        found.iter().filter(|address| address.ends_with(".js")).cloned().collect();
    while let Some(script) = waiting.pop() {
        let text = get(at, &script).text();
        for module in text.split("from \"./").skip(1).filter_map(|rest| rest.split('"').next()) {
            let module = format!("/{module}");
            if found.insert(module.clone()) {
                waiting.push(module);
            }
        }
    }
    found
}

/// Pages of a record that is filled as far as the tests' is, and has a contest.
pub const PAGES: [&str; 18] = [
    "/",
    "/attempts",
    "/attempts/table/1",
    "/attempts/table/2",
    "/layouts/2",
    "/draw",
    "/try?rest=2",
    "/setup",
    "/phone",
    "/pair",
    "/certificate",
    "/again",
    "/again?rest=3",
    "/progress",
    "/breaks",
    "/progress?goal=50&by=2199-12-31",
    "/contests",
    "/contests/1",
];

#[test]
fn pages_are_whole_without_their_scripts_and_load_nothing_from_outside() {
    let folder = Folder::new("pages");
    filled(&folder.0, |played| played.attempt == 2 && played.run == 15);
    with_a_contest(&folder.0);
    let service = Service::plain(&folder.0);
    let at = service.address;
    for page in PAGES {
        let answer = get(at, page);
        let policy = answer.header("content-security-policy").unwrap();
        assert!(policy.starts_with("default-src 'none'") && !policy.contains("unsafe"), "{policy}");
        assert!(answer.text().contains("<h1"), "{page} has no heading");
        for address in addresses(at, page) {
            let found = get(at, address.split('#').next().unwrap());
            assert!(
                [200, 303].contains(&found.status),
                "{page} leads to {address}: {}",
                found.status
            );
            // A film is elsewhere: its link leads there, and nothing is loaded from it.
            let elsewhere = ["http://www.w3.org/2000/svg", "https://films.example/"];
            let text = elsewhere.iter().fold(found.text(), |text, known| text.replace(known, ""));
            assert!(!text.contains("http://") && !text.contains("https://"), "{address}");
            assert_eq!(found.header("x-content-type-options"), Some("nosniff"), "{address}");
        }
        let text = answer.text();
        assert!(!text.contains("style=") && !text.contains("onclick"), "{page}");
    }
}

#[test]
fn the_first_view_is_light() {
    let folder = Folder::new("light");
    // The opening rack is the heaviest drawing.
    filled(&folder.0, |played| played.attempt == 6 && played.run == 0);
    let service = Service::plain(&folder.0);
    let at = service.address;
    let page = get(at, "/");
    let loaded = |address: &String| {
        [".css", ".js", ".svg", ".webmanifest"].iter().any(|ending| address.ends_with(ending))
    };
    let parts: Vec<(String, usize)> = addresses(at, "/")
        .into_iter()
        .filter(loaded)
        .map(|address| (address.clone(), get(at, &address).body.len()))
        .collect();
    assert!(parts.iter().any(|(address, _)| address.ends_with("diagram.svg")), "{parts:?}");
    let bytes = page.body.len() + parts.iter().map(|(_, bytes)| bytes).sum::<usize>();
    assert!(bytes <= 100_000, "{bytes} bytes: {} of the page, {parts:?}", page.body.len());
}

#[test]
fn the_watching_page_shows_run_rack_and_what_is_left() {
    let folder = Folder::new("watch");
    let service = Service::plain(&folder.0);
    assert!(get(service.address, "/").text().contains("No rest yet"));
    get(service.address, "/parts").is_problem(404, "not_found");
    service.stop();
    filled(&folder.0, |played| played.attempt == 2 && played.run == 15);
    let service = Service::plain(&folder.0);
    let at = service.address;
    let text = get(at, "/").text();
    assert!(text.contains("data-run=\"15\"") && text.contains("data-attempt=\"2\""), "{text}");
    for fact in ["<dt>Rack</dt><dd>2</dd>", "<dt>Left in it</dt><dd>13</dd>"] {
        assert!(text.contains(fact), "no {fact} in {text}");
    }
    assert!(text.contains("<dt>High run</dt><dd>15<small> this one"), "{text}");
    let parts = get(at, "/parts?camera=table").text();
    assert!(text.contains(&parts), "the parts are those of the page");
    get(at, "/parts?camera=nobody").is_problem(404, "not_found");
    // The camera has sent nothing since the start: what is drawn is not how the table lies now.
    assert!(text.contains("data-seen=\"false\"") && text.contains("Not live."), "{text}");
    send(at, "other", 4);
    send(at, "live", 4);
    let live = get(at, "/").text();
    assert!(live.contains("data-seen=\"true\"") && !live.contains("Not live."), "{live}");
    assert!(live.contains("live: Live</strong>. Sees the whole table."), "{live}");
    assert!(live.contains("href=\"/?camera=live\" aria-current=\"page\""), "{live}");
}

#[test]
fn the_player_is_told_what_the_rack_asks_for() {
    let closing = |played: &Played| played.attempt == 2 && played.run == 14;
    let usual = Folder::new("usual");
    filled(&usual.0, closing);
    let service = Service::plain(&usual.0);
    let text = get(service.address, "/parts").text();
    assert!(text.contains("The rack is played out. Rack fourteen"), "{text}");

    let special = Folder::new("special");
    let mut rests: Vec<Played> = played::rests().take_while(|played| !closing(played)).collect();
    let mut last = played::rests().find(closing).unwrap();
    (last.layout.balls[1].x, last.layout.balls[1].y) = (6.2, 2.0);
    rests.push(last);
    add(&special.0, 0, &rests);
    let service = Service::plain(&special.0);
    let text = get(service.address, "/parts").text();
    assert!(text.contains("Last ball to the head spot. The cue ball stays."), "{text}");
}

fn say(at: SocketAddr, rest: i64, step: &Value) -> Answer {
    let body = json!({"rest": rest, "step": step}).to_string();
    let kept = post(at, "/api/corrections", "application/json", body.as_bytes());
    assert_eq!(kept.status, 201, "{}", kept.text());
    kept
}

/// A record in which a ball went and the cue ball did not move; the number of that rest.
pub fn questionable(folder: &Path) -> i64 {
    let mut rests = filled(folder, |played| played.attempt == 2 && played.run == 3);
    let mut next = rests.pop().unwrap();
    next.layout.balls.pop();
    add(folder, rests.len() + 1, &[next]);
    i64::try_from(rests.len() + 2).unwrap()
}

#[test]
fn a_question_has_its_answers_as_buttons_and_an_answer_can_be_taken_back() {
    let folder = Folder::new("question");
    let rest = questionable(&folder.0);
    let service = Service::plain(&folder.0);
    let at = service.address;
    let asked = get(at, "/parts").text();
    assert!(asked.contains("1 ball went, the cue ball did not move"), "{asked}");
    let steps: Vec<Value> = named(&asked, "data-step")
        .into_iter()
        .map(|step| serde_json::from_str(&step.replace("&quot;", "\"")).unwrap())
        .collect();
    assert!((2..=3).contains(&steps.len()), "{steps:?}");
    assert_eq!(steps.len(), asked.matches("<kbd>").count(), "each has its key");
    assert!(get(at, "/attempts").text().contains("question open"));

    say(at, rest, &steps[1]);
    assert!(named(&get(at, "/parts").text(), "data-step").is_empty());
    let page = get(at, &format!("/layouts/{rest}")).text();
    assert!(page.contains("You said: ") && page.contains("data-step=\"null\""), "{page}");
    assert!(get(at, "/attempts/table/2").text().contains("corrected"));

    say(at, rest, &Value::Null);
    let again = get(at, "/parts").text();
    assert_eq!(named(&again, "data-step").len(), steps.len());
    assert!(!get(at, &format!("/layouts/{rest}")).text().contains("You said: "));
}

#[test]
fn an_attempt_is_shown_rack_by_rack() {
    let folder = Folder::new("attempt");
    let rests = filled(&folder.0, |played| played.attempt == 2 && played.over);
    let service = Service::plain(&folder.0);
    let at = service.address;
    let list = get(at, "/attempts").text();
    assert!(list.contains("2 attempts, high run 17."), "{list}");
    assert_eq!(
        named(&list, "href").iter().filter(|to| to.starts_with("/attempts/table/")).count(),
        2
    );

    let page = get(at, "/attempts/table/2").text();
    let of_it = rests.iter().filter(|played| played.attempt == 2).count();
    assert_eq!(page.matches("<svg class=\"sketch\"").count(), of_it, "a drawing for each rest");
    assert_eq!(page.matches("aria-label=\"Rack ").count(), 2);
    assert!(page.contains("What ended it: Miss") && page.contains("Closing layouts"), "{page}");
    let last = rests.len();
    let to = get(at, &format!("/layouts/{last}/attempt"));
    assert_eq!(to.status, 303);
    assert_eq!(to.header("location"), Some(format!("/attempts/table/2#rest-{last}").as_str()));

    // A miss that was none: the run goes on, and the page says who said so.
    say(at, i64::try_from(last).unwrap(), &json!({"step": "by_hand"}));
    let page = get(at, "/attempts/table/2").text();
    assert!(page.contains("Going on") && page.contains("corrected"), "{page}");
    for gone in ["/attempts/table/3", "/attempts/nobody/1", "/attempts/table/x", "/layouts/999"] {
        let answer = get(at, gone);
        assert_eq!(answer.status, 404, "{gone}");
        assert!(answer.text().contains("<h1>No such"), "{gone}");
    }
}

#[test]
fn who_looks_for_a_page_that_is_none_gets_a_page_and_a_program_a_problem() {
    let folder = Folder::new("none");
    let service = Service::plain(&folder.0);
    let at = service.address;
    let browsed = |path: &str| {
        let head = format!("GET {path} HTTP/1.1\r\nAccept: text/html,*/*;q=0.8\r\n");
        request(at, &head, b"")
    };
    let page = browsed("/attempt");
    assert_eq!((page.status, page.header("content-type")), (404, Some("text/html; charset=utf-8")));
    assert!(page.text().contains("<h1>Nothing is here</h1>"), "{}", page.text());
    let page = browsed("/progress?goal=%3Cb%3E");
    assert_eq!(page.status, 400);
    assert!(page.text().contains("<h1>That does not work</h1>"), "{}", page.text());
    assert!(!page.text().contains("<b>"), "{}", page.text());
    get(at, "/attempt").is_problem(404, "not_found");
    browsed("/api/nothing").is_problem(404, "not_found");
}

#[test]
fn a_frame_stands_beside_its_drawing_for_as_long_as_it_is_kept() {
    let folder = Folder::new("frame");
    let service = Service::plain(&folder.0);
    let rest = send(service.address, "table", 4);
    let page = get(service.address, &format!("/layouts/{rest}")).text();
    assert!(page.contains(&format!("src=\"/api/layouts/{rest}/frame\"")), "{page}");
    service.stop();
    let database = rusqlite::Connection::open(folder.0.join("record.sqlite3")).unwrap();
    database.execute("UPDATE pictures SET state = 'gone'", []).unwrap();
    drop(database);
    let service = Service::plain(&folder.0);
    let page = get(service.address, &format!("/layouts/{rest}")).text();
    assert!(!page.contains("/frame\"") && page.contains("Its frame was deleted"), "{page}");
}

#[test]
fn what_stands_in_an_address_never_becomes_markup() {
    let folder = Folder::new("markup");
    let service = Service::plain(&folder.0);
    let at = service.address;
    send(at, "table", 4);
    let markup = "%3Cb%20onclick%3D1%3E";
    for path in [
        format!("/?camera={markup}"),
        format!("/parts?camera={markup}"),
        format!("/attempts?camera={markup}"),
        format!("/attempts/{markup}/1"),
        format!("/layouts/{markup}"),
        format!("/layouts/{markup}/attempt"),
        format!("/draw?rest={markup}"),
    ] {
        let answer = get(at, &path);
        assert!((400..500).contains(&answer.status), "{path}: {}", answer.status);
        let is_page = answer.header("content-type").unwrap().starts_with("text/html");
        assert!(!is_page || !answer.text().contains("<b onclick"), "{path}: {}", answer.text());
    }
}

#[test]
fn a_photo_is_read_for_drawing_and_nothing_of_it_is_kept() {
    let folder = Folder::new("reading");
    let service = Service::plain(&folder.0);
    let at = service.address;
    let read = post(at, "/api/readings", "image/png", &png(Script::Read, 5, 0));
    assert_eq!(read.status, 200, "{}", read.text());
    assert_eq!(read.json(), serde_json::to_value(layout(5)).unwrap());
    assert_eq!(get(at, "/api/layouts").json()["layouts"], json!([]));
    assert_eq!(get(at, "/api/cameras").json(), json!([]));
    assert!(!folder.0.join("calibrations").exists());
    let no_table = post(at, "/api/readings", "image/png", &png(Script::FindNoTable, 5, 0));
    no_table.is_problem(422, "no_table");
    post(at, "/api/readings", "image/heic", b"x").is_problem(415, "media_type");
    post(at, "/api/readings", "image/png", b"no picture").is_problem(415, "unknown_format");
    post(at, "/api/readings", "image/png", &png(Script::Panic, 5, 0)).is_problem(500, "internal");
}

#[test]
fn a_drawn_layout_gets_the_same_diagram_as_a_read_one() {
    let folder = Folder::new("diagram");
    let service = Service::plain(&folder.0);
    let at = service.address;
    let rest = send(at, "table", 6);
    let drawn = serde_json::to_vec(&layout(6)).unwrap();
    let json = "application/json";
    for kind in ["svg", "png"] {
        let sent = post(at, &format!("/api/diagram.{kind}"), json, &drawn);
        let read = get(at, &format!("/api/layouts/{rest}/diagram.{kind}"));
        assert_eq!((sent.status, read.status), (200, 200), "{kind}");
        assert_eq!(sent.header("content-type"), read.header("content-type"));
        assert!(sent.body == read.body, "{kind}");
    }
    post(at, "/api/diagram.png?width=9", json, &drawn).is_problem(400, "query");
    post(at, "/api/diagram.svg", json, b"{").is_problem(400, "no_json");
    post(at, "/api/diagram.svg", "text/plain", b"{}").is_problem(415, "media_type");
    post(at, "/api/diagram.svg", json, b"{}").is_problem(422, "no_layout");
    let crowded = serde_json::to_vec(&layout(41)).unwrap();
    post(at, "/api/diagram.svg", json, &crowded).is_problem(422, "no_layout");
}

/// Relative luminance of a colour, and contrast of two (WCAG 2.2).
fn contrast(one: &str, other: &str) -> f64 {
    let luminance = |colour: &str| {
        let part = |at: usize| {
            let value =
                u8::from_str_radix(&colour[at..at + 2], 16).expect("a colour such as #1a2b3c");
            let value = f64::from(value) / 255.0;
            if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * part(1) + 0.7152 * part(3) + 0.0722 * part(5)
    };
    let (one, other) = (luminance(one), luminance(other));
    (one.max(other) + 0.05) / (one.min(other) + 0.05)
}

#[test]
fn whatever_is_written_can_be_read_by_day_and_by_night() {
    let sheet = include_str!("../../src/service/page/page.css");
    let looks: Vec<&str> = sheet.split(":root {").skip(1).collect();
    assert_eq!(looks.len(), 2, "one look by day, one by night");
    let mut day = BTreeMap::new();
    for look in looks {
        let look = look.split('}').next().unwrap();
        let told = look
            .lines()
            .filter_map(|line| line.trim().strip_prefix("--")?.strip_suffix(';')?.split_once(": "));
        // What the night does not change is as by day.
        day.extend(told);
        let clear = |ink: &str, ground: &str, least: f64| {
            let ratio = contrast(day[ink], day[ground]);
            assert!(ratio >= least, "{ink} on {ground}: {ratio:.1}");
        };
        for ground in ["ground", "panel"] {
            for ink in ["ink", "quiet", "link", "good", "warn"] {
                clear(ink, ground, 4.5);
            }
            clear("edge", ground, 3.0);
        }
        clear("act-ink", "act-ground", 4.5);
        clear("warn-ink", "warn-ground", 7.0);
        for ball in ["ball", "cue-edge"] {
            clear(ball, "cloth", 3.0);
        }
    }
}
