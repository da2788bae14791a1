//! The pages as people use them: in a browser, on a phone and on a laptop, by day and by night.

use crate::{
    browser::{Browser, Light, Screen, keys},
    client::{get, post},
    contest_out::with_a_contest,
    layouts_out::send,
    page_checks::{SHIFTED, faults, holds, on},
    pages::{PAGES, filled, questionable},
    played::{self, Played},
    playing,
    staging::{Folder, Script, Service, Wish, png, scripted_readers, until},
};
use serde_json::{Value, json};
use std::{net::SocketAddr, path::Path, time::Duration};

fn every_page_on(screen: Screen) {
    let folder = Folder::new("every-page");
    questionable(&folder.0);
    with_a_contest(&folder.0);
    let service = Service::plain(&folder.0);
    let at = service.address;
    let browser = Browser::open();
    for page in PAGES.into_iter().chain(["/attempts/table/99", "/?camera=table"]) {
        browser.look_on(screen, Light::Day);
        browser.visit(at, page);
        if page.ends_with("99") {
            // The page that says that something is not there is not there.
            assert_eq!(browser.complaints().len(), 1);
        }
        holds(&browser, page);
        let found = faults(&browser, &json!({}));
        assert!(found.is_empty(), "{page} on {screen:?}:\n{}", found.join("\n"));
        browser.look_on(screen, Light::Night);
        let found = faults(&browser, &json!({"runOnly": ["color-contrast"]}));
        assert!(found.is_empty(), "{page} on {screen:?} by night:\n{}", found.join("\n"));
    }
}

#[test]
fn on_a_phone_every_page_stands_still_and_is_open_to_everybody() {
    every_page_on(Screen::Phone);
}

#[test]
fn on_a_laptop_every_page_stands_still_and_is_open_to_everybody() {
    every_page_on(Screen::Wide);
}

/// Words of tables that stand on more than one line, but for such as are longer than any of ours.
const BROKEN_WORDS: &str = r"
    const broken = [];
    for (const cell of document.querySelectorAll('th, td')) {
        const texts = document.createTreeWalker(cell, NodeFilter.SHOW_TEXT);
        while (texts.nextNode()) {
            for (const word of texts.currentNode.data.matchAll(/[A-Za-z]{2,16}/g)) {
                const range = document.createRange();
                range.setStart(texts.currentNode, word.index);
                range.setEnd(texts.currentNode, word.index + word[0].length);
                const lines = new Set([...range.getClientRects()].map((r) => Math.round(r.top)));
                if (lines.size > 1) broken.push(word[0]);
            }
        }
    }
    return broken;";

#[test]
fn tables_break_no_word_between_a_phones_width_and_a_laptops() {
    let folder = Folder::new("widths");
    questionable(&folder.0);
    with_a_contest(&folder.0);
    let service = Service::plain(&folder.0);
    let browser = Browser::open();
    for page in PAGES {
        browser.visit(service.address, page);
        for width in [390, 500, 640, 800] {
            browser.be_sized((width, 900), false);
            let broken = browser.run(BROKEN_WORDS);
            assert_eq!(broken, json!([]), "on {page}, {width} pixels wide");
        }
    }
}

#[test]
fn before_the_first_rest_the_page_waits_and_is_open_to_everybody() {
    let folder = Folder::new("nothing-yet");
    let service = Service::plain(&folder.0);
    let browser = on(Screen::Phone);
    browser.visit(service.address, "/");
    holds(&browser, "/");
    let found = faults(&browser, &json!({}));
    assert!(found.is_empty(), "{}", found.join("\n"));
    browser.until("it is connected", "document.querySelector('#link').innerText === 'Connected'");
    send(service.address, "table", 5);
    browser.until("the table is there", "document.querySelector('#lying img')");
}

/// All that can be used on a page, in words; groups of one choice count once.
const USABLE: &str = "
    const seen = (e) => e.checkVisibility({ visibilityProperty: true }) && e.tabIndex >= 0;
    const all = 'a[href], button, input, select, textarea, summary, [tabindex]';
    return [...document.querySelectorAll(all)].filter((e) => seen(e) && !e.disabled)
        .filter((e) => e.type !== 'radio' || e.checked)
        .map((e) => e.outerHTML.slice(0, 160))";

/// Where the keyboard is, and whether that can be seen.
const FOCUSED: &str = "
    const e = document.activeElement;
    if (!e || e === document.body) return null;
    const ring = e.querySelector('.ring') ?? e;
    const style = getComputedStyle(ring);
    const drawn = style.outlineStyle !== 'none' || (ring !== e && style.stroke !== 'none');
    return [e.outerHTML.slice(0, 160), drawn]";

#[test]
fn keys_alone_reach_everything_and_show_where_they_are() {
    let folder = Folder::new("keys");
    questionable(&folder.0);
    with_a_contest(&folder.0);
    let service = Service::plain(&folder.0);
    let browser = on(Screen::Wide);
    let fragment = "#table=2540x1270x57.15&balls=cue:1,1;3:4,2";
    let drawing = format!("/draw{fragment}");
    for page in [
        "/",
        "/attempts",
        "/attempts/table/1",
        "/layouts/2",
        "/again?rest=3",
        "/contests/1",
        &drawing,
    ] {
        browser.visit(service.address, page);
        if page == "/" {
            browser.until("it is connected", "document.querySelector('[data-live=true]')");
        }
        let of_page = |told: Value| -> Vec<String> { serde_json::from_value(told).unwrap() };
        // What is chosen changes with the focus, and what can be used changes with that.
        let shape = |html: &str| html.split(" aria-pressed").next().unwrap().to_string();
        let wanted = of_page(browser.run(USABLE));
        let mut missing: Vec<String> = wanted.iter().map(|html| shape(html)).collect();
        for press in 0..wanted.len() + 12 {
            browser.press(&[keys::TAB]);
            let focused = browser.run(FOCUSED);
            let Some(html) = focused[0].as_str() else { continue };
            assert_eq!(focused[1], true, "nobody sees on {page} that the keys are at {html}");
            missing.retain(|usable| *usable != shape(html));
            assert!(press > 0 || html.contains("skip"), "{page} begins with the way past its head");
        }
        assert!(missing.is_empty(), "no key leads on {page} to\n{}", missing.join("\n"));
    }
}

/// A browser at the watching page, where a question is open; the rest that it is about.
fn asked(screen: Screen, folder: &Folder) -> (i64, Service, Browser) {
    let rest = questionable(&folder.0);
    let service = Service::plain(&folder.0);
    let browser = on(screen);
    browser.visit(service.address, "/");
    browser.until("it is connected", "document.querySelector('[data-live=true]')");
    (rest, service, browser)
}

const RUN: &str = "document.querySelector('#run').dataset.run";
const NO_QUESTION: &str = "!document.querySelector('.question')";

#[test]
fn a_question_is_answered_with_one_tap_and_the_answer_taken_back_with_another() {
    let folder = Folder::new("tap");
    let (_, service, browser) = asked(Screen::Phone, &folder);
    browser.click(".question button:nth-of-type(2)");
    browser.until("the question is gone", NO_QUESTION);
    browser.until_told("#said", "You said: ");
    assert_eq!(score(service.address)["open_questions"], 0);
    browser.click("#said button");
    browser.until("the question is back", "document.querySelector('.question')");
    assert_eq!(score(service.address)["open_questions"], 1);
    // What a tap moves late, on a busy machine, counts as moved by itself: that is not held here.
    assert_eq!(browser.complaints(), Vec::<String>::new());
}

#[test]
fn a_question_is_answered_with_one_key() {
    let folder = Folder::new("key");
    let (rest, service, browser) = asked(Screen::Wide, &folder);
    let first = browser.text(".question button");
    browser.press(&["1"]);
    browser.until("the question is gone", NO_QUESTION);
    let said = browser.text("#said");
    assert!(said.starts_with(&format!("You said: {}", first.trim_start_matches("1 "))), "{said}");
    let page = get(service.address, &format!("/layouts/{rest}")).text();
    assert!(page.contains("You said: "), "{page}");
}

fn score(at: SocketAddr) -> Value {
    get(at, "/api/score").json()
}

#[test]
fn a_wrong_count_is_put_right_with_two_taps_and_back_with_one() {
    let folder = Folder::new("right");
    filled(&folder.0, |played| played.attempt == 2 && played.run == 3);
    let service = Service::plain(&folder.0);
    let at = service.address;
    let run = || score(at)["going_on"]["run"].clone();
    let browser = on(Screen::Phone);
    browser.visit(at, "/attempts/table/2");
    // The last rest of the attempt; then what it was.
    browser.click(".strip li:last-child a");
    browser.until("the rest's page", "document.querySelector('.choose[open]')");
    browser.click(".groups button[data-step*='\"potted\":2']");
    browser.until_told("#said", "You said: 2 pocketed.");
    assert_eq!(run(), 4);
    browser.click("#said button");
    browser.until("it is as it was", "document.querySelector('#said').innerText === ''");
    assert_eq!(run(), 3);
    holds(&browser, "a rest");
}

#[test]
fn a_finger_moves_a_ball_of_a_drawing_and_not_the_page() {
    let folder = Folder::new("finger-draws");
    let service = Service::plain(&folder.0);
    let browser = on(Screen::Phone);
    browser.visit(service.address, "/draw");
    browser.click("#tray [data-ball='9']");
    browser.run("document.querySelector('.stage').scrollIntoView()");
    let scrolled = || browser.run("return scrollY").as_f64().unwrap();
    let before = scrolled();
    let [x, y] = browser.middle("#balls .ball .ring");
    // As pages are scrolled: straight up.
    browser.drag([x, y], [x, y - 90.0], "touch");
    let [now_x, now_y] = browser.middle("#balls .ball .ring");
    assert!((now_x - x).hypot(now_y - y + 90.0) < 2.0, "from {x}, {y} to {now_x}, {now_y}");
    assert_eq!(scrolled(), before);
}

#[test]
fn a_drawing_is_copied_as_a_link_and_opened_again() {
    let folder = Folder::new("drawing");
    let service = Service::plain(&folder.0);
    for (screen, by) in [(Screen::Phone, "touch"), (Screen::Wide, "mouse")] {
        let browser = on(screen);
        browser.visit(service.address, "/draw");
        browser.click("#tray [data-ball='cue']");
        browser.click("#tray [data-ball='9']");
        browser.run("document.querySelector('.stage').scrollIntoView()");
        let [x, y] = browser.middle("#balls .ball:nth-child(2)");
        browser.drag([x, y], [x + 60.0, y + 40.0], by);
        let dragged = browser.text("#chosen");
        // By keys too: one step to where the arrow points.
        browser.run("document.querySelector('#balls .ball').focus()");
        let before = browser.text("#chosen");
        browser.press(&[keys::RIGHT]);
        browser.until("the ball has moved", &format!("chosen.innerText !== {}", json!(before)));
        let moved = browser.text("#chosen");
        assert!(
            dragged.starts_with("Ball 9") && moved.starts_with("Cue ball"),
            "{dragged} {moved}"
        );
        browser.click("#link");
        browser.until_told("#status", "ink");
        let link = browser.run("return location.href").as_str().unwrap().to_string();
        let places =
            "return [...document.querySelectorAll('#balls .ball')].map((b) => b.ariaLabel)";
        let drawn = browser.run(places);
        assert_eq!(drawn, json!([moved, dragged]));
        browser.visit(service.address, "/");
        let path = link.split_once("/draw").unwrap().1;
        browser.visit(service.address, &format!("/draw{path}"));
        assert_eq!(browser.run(places), drawn, "{link}");
        holds(&browser, &link);
        browser.click("#balls .ball");
        browser.press(&[keys::DELETE]);
        browser.until_told("#status", "Cue ball removed.");
    }
}

#[test]
fn a_photo_is_read_into_the_drawing_and_what_is_wrong_is_put_right() {
    let folder = Folder::new("photo");
    let service = Service::plain(&folder.0);
    let browser = on(Screen::Phone);
    browser.visit(service.address, "/draw");
    let photo = |script, name: &str| {
        let path = folder.0.join(name);
        std::fs::write(&path, png(script, 5, 0)).unwrap();
        browser.give("#photo", path.to_str().unwrap());
    };
    let balls = || browser.run("return document.querySelectorAll('#balls .ball').length");
    photo(Script::Read, "table.png");
    browser.until_told("#status", "5 balls read.");
    assert_eq!(balls(), 5);
    // One that is none is taken off; another photo that shows no table changes nothing.
    browser.click("#balls .ball:nth-child(3)");
    browser.press(&[keys::DELETE]);
    browser.until_told("#status", "Ball 2 removed.");
    photo(Script::FindNoTable, "floor.png");
    browser.until_told("#status", "no cloth in view");
    assert_eq!(balls(), 4);
    let path = folder.0.join("words.png");
    std::fs::write(&path, "no picture").unwrap();
    browser.complaints();
    browser.give("#photo", path.to_str().unwrap());
    browser.until_told("#status", "That did not work");
    assert_eq!(balls(), 4);
    let found = faults(&browser, &json!({}));
    assert!(found.is_empty(), "{}", found.join("\n"));
    assert_eq!(get(service.address, "/api/layouts").json()["layouts"], json!([]));
}

#[test]
fn an_open_page_lives_through_a_restart_and_says_so_meanwhile() {
    let folder = Folder::new("restart");
    let mut service = Service::plain(&folder.0);
    let at = service.address;
    send(at, "table", 5);
    let browser = on(Screen::Wide);
    browser.visit(at, "/");
    browser.until("it is connected", "document.querySelector('[data-live=true]')");
    service.stop();
    browser.until_told("#link", "No connection to the program.");
    let wish = Wish { listen: Some(at), ..Wish::default() };
    service = Service::start(&folder.0, wish, scripted_readers());
    browser.until("it is connected again", "document.querySelector('[data-live=true]')");
    let rest = send(service.address, "table", 7);
    let shown = format!("document.querySelector('#lying figure').dataset.rest === '{rest}'");
    browser.until("the new rest is shown", &shown);
    browser.until_told("#lying figcaption", "6 object balls");
}

/// What the first view took, heads included.
const OVER_THE_WIRE: &str = "
    const all = ['navigation', 'resource'].flatMap((kind) => performance.getEntriesByType(kind));
    return all.reduce((sum, entry) => sum + entry.transferSize, 0)";

/// When the largest thing of a page, the table's drawing, was painted: milliseconds since the page
/// was asked for; and what it is.
const DRAWN: &str = "return new Promise((done) =>
    new PerformanceObserver((list) => {
        const { startTime, element } = list.getEntries().at(-1);
        done([startTime, element?.matches('#lying img') ?? false]);
    }).observe({ type: 'largest-contentful-paint', buffered: true }))";

#[test]
fn the_first_view_is_light_and_nothing_of_it_moves() {
    let folder = Folder::new("first-view");
    // The opening rack is the heaviest drawing.
    filled(&folder.0, |played| played.attempt == 4 && played.run == 0);
    let service = Service::plain(&folder.0);
    for screen in [Screen::Phone, Screen::Wide] {
        let browser = on(screen);
        browser.visit(service.address, "/");
        browser.until("it is connected", "document.querySelector('[data-live=true]')");
        let drawn = browser.run(DRAWN);
        let bytes = browser.run(OVER_THE_WIRE).as_f64().unwrap();
        assert!((10_000.0..=100_000.0).contains(&bytes), "the first view is of {bytes} bytes");
        let shifted = browser.run(SHIFTED);
        assert!(shifted[0].as_f64().unwrap() < 0.001, "the first view moves: {shifted}");
        // For whoever measures: a time that a busy machine makes is nothing to hold a test to.
        eprintln!("{screen:?}: {bytes} bytes, the table drawn after {} ms", drawn[0]);
    }
}

/// Notes in the page when each rest was shown, and how long the page takes for a look of its own.
const NOTE_REST: &str = "
    window.shown = {};
    new MutationObserver(() => {
        const rest = document.querySelector('#lying figure')?.dataset.rest;
        if (rest && !window.shown[rest]) window.shown[rest] = Date.now();
    }).observe(document.querySelector('#main'), { childList: true, subtree: true });";
const OWN_LOOK: &str = "
    const begun = performance.now();
    return fetch('/parts?camera=table')
        .then((answer) => answer.text())
        .then(() => fetch('/api/layouts/1/diagram.svg?' + begun))
        .then((answer) => answer.text())
        .then(() => performance.now() - begun)";

#[test]
fn a_new_rest_is_shown_as_soon_as_it_is_kept() {
    let folder = Folder::new("soon");
    let service = Service::plain(&folder.0);
    let at = service.address;
    send(at, "table", 2);
    let browser = on(Screen::Wide);
    browser.visit(at, "/");
    browser.until("it is connected", "document.querySelector('[data-live=true]')");
    let bytes = browser.run(OVER_THE_WIRE).as_f64().unwrap();
    assert!((10_000.0..=100_000.0).contains(&bytes), "the first view is of {bytes} bytes");
    browser.run(NOTE_REST);
    let mut late: Vec<f64> = Vec::new();
    let mut own: Vec<f64> = Vec::new();
    for balls in 3..10 {
        own.push(browser.run(OWN_LOOK).as_f64().unwrap());
        let rest = send(at, "table", balls);
        let kept = jiff::Timestamp::now().as_millisecond() as f64;
        let shown = browser.until("the rest is shown", &format!("window.shown[{rest}]"));
        late.push(shown.as_f64().unwrap() - kept);
    }
    let middle = |times: &mut Vec<f64>| {
        times.sort_by(f64::total_cmp);
        times[times.len() / 2]
    };
    let (late, own) = (middle(&mut late), middle(&mut own));
    // On a machine that is busy with other tests the page's own looks take as long.
    assert!(late < f64::max(300.0, 12.0 * own), "{late} ms; a look of its own takes {own} ms");
    holds(&browser, "/");
}

#[test]
fn two_people_correct_at_once_and_the_word_of_neither_is_lost() {
    let folder = Folder::new("two");
    let (rest, service, browser) = asked(Screen::Wide, &folder);
    let at = service.address;
    let watching = browser.here();
    // The second person has the same rest open and has not heard of the first.
    let reviewing = browser.beside();
    browser.look_on(Screen::Wide, Light::Day);
    browser.visit(at, &format!("/layouts/{rest}"));
    browser.turn_to(&watching);
    browser.click(".question button");
    browser.until("the question is gone", NO_QUESTION);
    browser.turn_to(&reviewing);
    let kept = || {
        let record = rusqlite::Connection::open(folder.0.join("record.sqlite3")).unwrap();
        let count = "SELECT count(*) FROM corrections WHERE rest_id = ?1";
        record.query_row(count, [rest], |row| row.get::<_, i64>(0)).unwrap()
    };
    let a_miss = ".groups button[data-step*='miss']";
    browser.click(".choose summary");
    browser.click(a_miss);
    // The second is told of the first one's word, and says it again knowing that.
    browser.until_told("#said", "somebody else said something else of rest");
    browser.until_told("#said", "You said: ");
    assert_eq!(kept(), 1);
    let found = faults(&browser, &json!({}));
    assert!(found.is_empty(), "{}", found.join("\n"));
    browser.click(".choose summary");
    browser.click(a_miss);
    browser.until_told("#said", "You said: a miss.");
    // The later word counts, on both pages; the earlier one is in the record.
    browser.turn_to(&watching);
    browser.until_told("#score", "Miss ended it.");
    until("both words are kept", Duration::from_secs(5), || kept() == 2);
    // The first one's own way back would take the other's word with it: that is told too.
    browser.click("#said button");
    browser.until_told("#said", "somebody else said something else of rest");
    assert_eq!(kept(), 2);
    browser.turn_to(&reviewing);
    browser.click("#said button");
    browser.until("nothing is said", "document.querySelector('#said').innerText === ''");
    browser.turn_to(&watching);
    browser.until("the run goes on", &format!("document.querySelector('.question') && {RUN}"));
    let wrong = post(at, "/api/corrections", "application/json", b"{\"rest\":999,\"step\":null}");
    wrong.is_problem(404, "not_found");
}

/// The largest picture in docs/, in bytes.
const LARGEST: usize = 150_000;

/// Holds that a page as it is shown now makes a picture of docs/ that is small, and that it is there;
/// where pictures are made anew, it is this one.
pub fn is_in_the_readme(browser: &Browser, name: &str) {
    let picture = browser.picture();
    assert!(picture.len() <= LARGEST, "{name}: {} bytes", picture.len());
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs").join(format!("{name}.png"));
    if std::env::var_os("STILLCLOTH_REGENERATE").is_some() {
        std::fs::write(&path, picture).unwrap();
    }
    let size = std::fs::metadata(&path).map(|file| file.len());
    assert!(size.is_ok_and(|bytes| bytes <= LARGEST as u64), "{}", path.display());
}

#[test]
fn the_readmes_pictures_of_pages_are_there_and_small() {
    let folder = Folder::new("pictures");
    let service = Service::start(&folder.0, Wish::default(), playing::readers());
    let at = service.address;
    let up_to = |enough: fn(&Played) -> bool| played::rests().position(|p| enough(&p)).unwrap();
    let send = |index: usize| {
        playing::send(at, "table", index);
    };
    let now = up_to(|played| played.attempt == 2 && played.run == 6);
    let then = up_to(|played| played.attempt == 2 && played.over);
    (0..=now).for_each(send);
    let browser = Browser::open();
    browser.devtool("Emulation.setScrollbarsHidden", &json!({"hidden": true}));
    let again = format!("/again?rest={}&after={}", now - 1, now + 1);
    for (name, page, screen, light) in [
        ("watching", "/", Screen::Wide, Light::Day),
        ("again", again.as_str(), Screen::Phone, Light::Day),
        ("review", "/attempts/table/2", Screen::Wide, Light::Night),
    ] {
        browser.look_on(screen, light);
        if name == "review" {
            (now + 1..=then).for_each(send);
            browser.visit(at, page);
        } else {
            browser.visit(at, page);
            browser.until("it is connected", "document.querySelector('[data-live=true]')");
        }
        is_in_the_readme(&browser, name);
    }
}

/// What a note may have in it without any of it being more than text.
const MARKUP: &str =
    "<img src=x onerror=\"window.ran=1\"><script>window.ran=1</script></textarea>&amp;";

#[test]
fn a_note_with_markup_in_it_is_shown_as_it_was_written_and_runs_nothing() {
    let folder = Folder::new("note");
    filled(&folder.0, |played| played.attempt == 2 && played.run == 3);
    let service = Service::plain(&folder.0);
    let browser = on(Screen::Phone);
    for page in ["/attempts/table/2", "/layouts/3"] {
        browser.visit(service.address, page);
        browser.click(".note summary");
        browser.give("#note-text", MARKUP);
        browser.click("button[data-note]");
        browser.until_told("#noted", MARKUP);
        assert_eq!(browser.run("return window.ran ?? null"), Value::Null);
        // What is changed is what was written.
        browser.click(".note summary");
        assert_eq!(browser.run("return document.querySelector('#note-text').value"), MARKUP);
        let found = faults(&browser, &json!({}));
        assert!(found.is_empty(), "{page}:\n{}", found.join("\n"));
    }
    assert_eq!(browser.complaints(), Vec::<String>::new());
    let notes = get(service.address, "/api/notes").json();
    let about =
        |at: usize| (notes["notes"][at]["about"].clone(), notes["notes"][at]["text"].clone());
    assert_eq!(about(0), (json!("attempt"), json!(MARKUP)));
    assert_eq!(about(1), (json!("rest"), json!(MARKUP)));
}
