//! The pages that people look at.

use crate::{
    client::get,
    layouts_out::send,
    staging::{Folder, Service},
};
use std::{collections::BTreeMap, path::Path};

#[test]
fn pages_are_whole_without_their_script_and_load_nothing_from_outside() {
    let folder = Folder::new("pages");
    let service = Service::plain(&folder.0);
    let at = service.address;
    assert!(get(at, "/").text().contains("No rest yet"));
    for balls in [4, 1, 9] {
        send(at, "table", balls);
    }
    let live = get(at, "/");
    let text = live.text();
    assert!(text.contains("/api/layouts/3/diagram.svg"), "{text}");
    assert!(text.contains("cue ball and 8 object balls"), "{text}");
    assert!(text.contains("Sees the whole table."), "{text}");
    assert!(text.contains("href=\"/layouts/2\"") && text.contains("href=\"/layouts/1\""));
    let one = get(at, "/layouts/2").text();
    assert!(one.contains("/api/layouts/2/frame") && one.contains("/api/layouts/2/diagram.svg"));
    assert!(one.contains("rel=\"prev\"") && one.contains("rel=\"next\""));

    let policy = live.header("content-security-policy").unwrap();
    assert!(policy.starts_with("default-src 'none'") && !policy.contains("unsafe"), "{policy}");
    for path in ["/", "/layouts/2", "/stillcloth.css", "/live.js", "/mark.svg"] {
        let answer = get(at, path);
        assert_eq!(answer.status, 200, "{path}");
        assert_eq!(answer.header("x-content-type-options"), Some("nosniff"), "{path}");
        let text = answer.text().replace("http://www.w3.org/2000/svg", "");
        assert!(!text.contains("http://") && !text.contains("https://"), "{path}");
        assert!(!text.contains("style=") && !text.contains("onclick"), "{path}");
    }
}

#[test]
fn a_page_whose_last_rest_is_old_says_that_it_is_stale() {
    let folder = Folder::new("stale");
    let service = Service::plain(&folder.0);
    send(service.address, "table", 4);
    let fresh = get(service.address, "/").text();
    assert!(fresh.contains("data-stale=\"false\""), "{fresh}");
    service.stop();
    age_all_rests(&folder.0.join("record.sqlite3"));
    let service = Service::plain(&folder.0);
    let old = get(service.address, "/").text();
    assert!(old.contains("data-stale=\"true\"") && old.contains("Stale."), "{old}");
}

/// Sets the record's times back by an hour, as no program of ours does.
fn age_all_rests(database: &Path) {
    let connection = rusqlite::Connection::open(database).unwrap();
    let aged = connection.execute("UPDATE rests SET at_unix_ms = at_unix_ms - 3600000", []);
    assert_eq!(aged.unwrap(), 1);
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
    for look in looks {
        let look = look.split('}').next().unwrap();
        let colours: BTreeMap<&str, &str> = look
            .lines()
            .filter_map(|line| line.trim().strip_prefix("--")?.strip_suffix(';')?.split_once(": "))
            .collect();
        let ground = colours["ground"];
        for ink in ["ink", "quiet", "link", "good", "warn"] {
            let ratio = contrast(colours[ink], ground);
            assert!(ratio >= 4.5, "{ink} on {ground}: {ratio:.1}");
        }
        assert!(contrast(colours["warn-ink"], colours["warn-ground"]) >= 7.0);
    }
}
