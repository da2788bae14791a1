//! A camera set up and a phone paired as people do it: in a browser, with a true frame before them.

use crate::{
    access,
    browser::{Browser, Light, Screen, keys},
    client::{get, request},
    page_checks::{faults, holds, on},
    pages_in_use::is_in_the_readme,
    setting_up::{self, FRAME, off_px, send, true_corners, true_frame},
    staging::{Folder, Service, Wish, until},
};
use base64::Engine;
use image::{ExtendedColorType, codecs::jpeg::JpegEncoder, imageops::FilterType};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use std::{
    path::{Path, PathBuf},
    sync::Arc,
    time::Duration,
};
use stillcloth::{
    service::{AccessSettings, ReaderFactory, TableReader},
    table::{DiamondPoint, TablePoint, TableSize},
    vision::CalibrateOptions,
};

/// A corner that was set by hand has been refined where it is this near to the true one, in pixels
/// of a picture 1920 wide.
const REFINED_PX: f64 = 2.5;

const SAVE_IS_ON: &str = "document.querySelector('#save:not(:disabled)')";

/// A trial has come to its end, well or not.
const TRIED: &str = "document.querySelector('#save:not(:disabled), #status[data-kind=bad]')";

/// Where the first corner is drawn, in pixels of the camera's picture.
fn corner(browser: &Browser) -> [f64; 2] {
    let script = "const { e, f } = document.querySelector('#corner-0').transform.baseVal[0].matrix;
        return [e, f]";
    serde_json::from_value(browser.run(script)).unwrap()
}

fn distance([ax, ay]: [f64; 2], [bx, by]: [f64; 2]) -> f64 {
    (ax - bx).hypot(ay - by)
}

/// How far a corner is from the nearest true one, in pixels.
fn off(corner: [f64; 2]) -> f64 {
    true_corners().iter().map(|truth| distance(*truth, corner)).fold(f64::MAX, f64::min)
}

/// The set-up page of a camera whose table was found.
fn set_up_page(screen: Screen, folder: &Folder) -> (Service, Browser) {
    let service = setting_up::service(&folder.0, CalibrateOptions::default());
    send(service.address);
    let browser = on(screen);
    browser.visit(service.address, "/setup?camera=club");
    browser.until_told("#status", "This is what the camera goes by now.");
    browser.until("the corners are drawn", "document.querySelector('#corner-3')");
    assert!(off(corner(&browser)) < REFINED_PX, "as found: {:?}", corner(&browser));
    holds(&browser, "/setup when the first finding has come");
    (service, browser)
}

/// Holds that the camera goes by what was kept: the foot at the left, the noses where they are.
fn goes_by_it(service: &Service) {
    let kept = get(service.address, "/api/cameras/club/calibration").json();
    assert_eq!((&kept["foot"], &kept["foot_side"]), (&json!("given"), &json!("left")), "{kept}");
    assert!(off_px(&kept) < REFINED_PX, "{kept}");
    assert_eq!(send(service.address)["foot"], "given", "the next frame is read by it");
}

fn set_up_by_dragging(screen: Screen, by: &str) {
    let folder = Folder::new("dragged");
    let (service, browser) = set_up_page(screen, &folder);
    let found = corner(&browser);
    browser.run("document.querySelector('#scene').scrollIntoView({ block: 'center' })");
    let scale = browser.run("return document.querySelector('#scene').getScreenCTM().a");
    let scale = scale.as_f64().unwrap();
    let [x, y] = browser.middle("#corner-0");
    let to = [x + 30.0 * scale, y - 24.0 * scale];
    if by == "mouse" {
        browser.pull([x, y], to);
        let pulled = corner(&browser);
        assert!(distance(pulled, found) > 20.0, "{pulled:?} is where it was found: {found:?}");
        let loupe = "!document.querySelector('#loupe').hasAttribute('hidden')";
        browser.until("what is under the pointer is shown larger", loupe);
        browser.let_go();
    } else {
        browser.drag([x, y], to, by);
    }
    browser.until("it can be kept", SAVE_IS_ON);
    browser.until_told("#status", "Found.");
    let refined = corner(&browser);
    assert!(off(refined) < REFINED_PX, "refined to {refined:?}");
    browser.click("[data-side=left]");
    browser.until("it can be kept", SAVE_IS_ON);
    browser.until_told("#foot-found-words", "left, as given");
    assert!(!browser.text("#grade").is_empty());
    browser.click("#save");
    browser.until_told("#kept", "To the table");
    goes_by_it(&service);
    let found = faults(&browser, &json!({}));
    assert!(found.is_empty(), "{}", found.join("\n"));
    assert_eq!(browser.complaints(), Vec::<String>::new());
    browser.click("#kept a");
    browser.until("the table is there", "document.querySelector('#lying img')");
}

#[test]
fn a_camera_is_set_up_by_dragging_a_corner_on_a_small_screen() {
    set_up_by_dragging(Screen::Phone, "touch");
}

#[test]
fn a_camera_is_set_up_by_dragging_a_corner_on_a_wide_screen() {
    set_up_by_dragging(Screen::Wide, "mouse");
}

/// Notes what drags of the first corner come to: how often the browser took one for scrolling, how far
/// the corner was from the first finger at most, and how near the finger came to what shows the
/// corner larger.
const NOTE_DRAGS: &str = "
    const [loupe, corner] = ['#loupe', '#corner-0'].map((name) => document.querySelector(name));
    window.drags = { cancelled: 0, moves: 0, off: 0, toLoupe: null };
    let finger = null;
    addEventListener('pointerdown', ({ pointerId }) => { finger ??= pointerId; });
    addEventListener('pointerup', ({ pointerId }) => { if (pointerId === finger) finger = null; });
    addEventListener('pointercancel', () => { drags.cancelled += 1; });
    let at = null;
    addEventListener('pointermove', ({ pointerId, clientX: x, clientY: y }) => {
        if (pointerId === finger) at = { x, y };
        if (!at || loupe.hasAttribute('hidden')) return;
        drags.moves += 1;
        const own = corner.getBoundingClientRect();
        const [dx, dy] = [own.x + own.width / 2 - at.x, own.y + own.height / 2 - at.y];
        drags.off = Math.max(drags.off, Math.hypot(dx, dy));
        const { left, right, top, bottom } = loupe.getBoundingClientRect();
        const beside = Math.max(left - at.x, 0, at.x - right);
        const away = Math.hypot(beside, Math.max(top - at.y, 0, at.y - bottom));
        drags.toLoupe = Math.min(drags.toLoupe ?? away, away);
    });";

/// A finger hides as much around the place that it points at, in pixels of the page.
const FINGER_PX: f64 = 30.0;

#[test]
fn a_finger_moves_a_corner_and_not_the_page_and_hides_nothing_that_is_needed() {
    let folder = Folder::new("finger");
    let (_service, browser) = set_up_page(Screen::Phone, &folder);
    let scrolled = || browser.run("return scrollY").as_f64().unwrap();
    browser.run("document.querySelector('#scene').scrollIntoView({ block: 'center' })");
    browser.run(NOTE_DRAGS);
    let before = scrolled();
    let up = |[x, y]: [f64; 2]| [x, y - 40.0];
    let first = browser.middle("#corner-0");
    // As pages are scrolled: straight up.
    browser.drag(first, up(first), "touch");
    let holds = |what: &str| {
        let drags = browser.run("return window.drags");
        assert!(drags["moves"].as_u64().unwrap() > 0, "{what}: {drags}");
        assert_eq!(drags["cancelled"], 0, "{what}: {drags}");
        assert!(drags["off"].as_f64().unwrap() < 2.0, "{what}: {drags}");
        assert!(drags["toLoupe"].as_f64().unwrap() > FINGER_PX, "{what}: {drags}");
        assert_eq!(scrolled(), before, "{what}");
    };
    holds("one finger");
    browser.until("what it came to is told", TRIED);
    let [first, third] = ["#corner-0", "#corner-2"].map(|corner| browser.middle(corner));
    browser.run("window.drags.moves = 0");
    browser.drag_beside([first, up(first)], [third, up(third)]);
    holds("a second finger");
    // Beside the corners the picture is a part of the page like any other.
    let middle = browser.middle("#scene");
    browser.drag(middle, up(middle), "touch");
    browser.until("the page is scrolled", &format!("scrollY > {before} + 10"));
}

/// Goes on with the Tab key until the keys are at what a selector finds.
fn tab_to(browser: &Browser, selector: &str) {
    let there = "return document.activeElement?.matches(arguments[0]) ?? false";
    for _ in 0..60 {
        if browser.run_with(there, &json!([selector])) == json!(true) {
            return;
        }
        browser.press(&[keys::TAB]);
    }
    panic!("no key leads to {selector}");
}

#[test]
fn a_camera_is_set_up_by_keys_alone() {
    let folder = Folder::new("typed");
    let (service, browser) = set_up_page(Screen::Wide, &folder);
    let found = corner(&browser);
    tab_to(&browser, "#corner-0");
    for _ in 0..2 {
        browser.press(&[keys::SHIFT, keys::RIGHT]);
    }
    browser.press(&[keys::RIGHT]);
    let moved = corner(&browser);
    assert!((moved[0] - found[0] - 21.0).abs() < 0.2, "{found:?} {moved:?}");
    browser.until("it can be kept", SAVE_IS_ON);
    let refined = corner(&browser);
    assert!(off(refined) < REFINED_PX, "moved to {moved:?}, refined to {refined:?}");
    tab_to(&browser, "input[name=foot]");
    browser.press(&[keys::RIGHT]);
    browser.until("the foot is chosen", "document.querySelector('#foot-left').checked");
    browser.until("it can be kept", SAVE_IS_ON);
    tab_to(&browser, "#save");
    browser.press(&[keys::ENTER]);
    browser.until_told("#kept", "To the table");
    goes_by_it(&service);
}

#[test]
fn the_readmes_pictures_of_setting_up_are_there_and_small() {
    let folder = Folder::new("set-up-picture");
    let (_service, browser) = set_up_page(Screen::Phone, &folder);
    browser.devtool("Emulation.setScrollbarsHidden", &json!({"hidden": true}));
    is_in_the_readme(&browser, "setup");
}

/// A film for a made-up camera: the true frame, 1280 wide, again and again.
fn film(folder: &Folder) -> PathBuf {
    let frame = image::load_from_memory(&true_frame()).unwrap().to_rgb8();
    let frame = image::imageops::resize(&frame, 1280, 720, FilterType::Triangle);
    let mut jpeg = Vec::new();
    JpegEncoder::new_with_quality(&mut jpeg, 92)
        .encode(&frame, frame.width(), frame.height(), ExtendedColorType::Rgb8)
        .unwrap();
    let path = folder.0.join("table.mjpeg");
    std::fs::write(&path, jpeg.repeat(2)).unwrap();
    path
}

/// What a browser is told so that it takes this service's certificate for good, as a device does
/// that trusts its authority: the SHA-256 of its public key.
fn trusted(data: &Path) -> String {
    let kept = std::fs::read_to_string(data.join("access/server.json")).unwrap();
    let kept: Value = serde_json::from_str(&kept).unwrap();
    let key = rcgen::KeyPair::from_pem(kept["key_pem"].as_str().unwrap()).unwrap();
    let digest = Sha256::digest(rcgen::PublicKeyData::subject_public_key_info(&key));
    base64::engine::general_purpose::STANDARD.encode(digest)
}

/// Where a table's true balls lie: numbers and places, from the frame's label.
fn true_balls() -> Vec<(u64, TablePoint)> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(FRAME).with_extension("json");
    let label: Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    let place = |ball: &Value| {
        let mm = |name: &str| ball[name].as_f64().unwrap();
        (ball["number"].as_u64().unwrap(), TablePoint::new(mm("x_mm"), mm("y_mm")))
    };
    label["balls"].as_array().unwrap().iter().map(place).collect()
}

/// How far the balls of a layout are from the true ones at most, the right way round, in
/// millimetres.
fn off_mm(layout: &Value) -> f64 {
    let truth = true_balls();
    let balls = layout["balls"].as_array().unwrap();
    assert_eq!(balls.len(), truth.len(), "{layout}");
    let table = TableSize::NINE_FOOT;
    let far = |turned: bool| {
        let lies = balls.iter().map(|ball| {
            let [x, y] = ["x", "y"].map(|axis| ball[axis].as_f64().unwrap());
            let at = DiamondPoint { x, y }.on_table(&table);
            if turned { at.turned(&table) } else { at }
        });
        let nearest = |at: TablePoint| {
            truth.iter().map(|(_, truth)| truth.distance_mm(at)).fold(f64::MAX, f64::min)
        };
        lies.map(nearest).fold(0.0, f64::max)
    };
    far(false).min(far(true))
}

fn open_to_network(data: &Path, wish: Wish) -> Service {
    let folder = data.to_path_buf();
    let readers: ReaderFactory = Arc::new(move |camera| {
        Box::new(TableReader::new(&folder, camera, CalibrateOptions::default()))
    });
    let access = AccessSettings { lan: true, ..AccessSettings::default() };
    Service::start(data, Wish { access, ..wish }, readers)
}

#[test]
fn a_phone_is_paired_by_its_code_and_sends_what_its_camera_sees() {
    let folder = Folder::new("phone");
    let mut service = open_to_network(&folder.0, Wish::default());
    let at = service.address;
    let browser = Browser::open_with(&[
        "--use-fake-device-for-media-stream",
        "--use-fake-ui-for-media-stream",
        &format!("--use-file-for-fake-video-capture={}", film(&folder).display()),
        &format!("--ignore-certificate-errors-spki-list={}", trusted(&folder.0)),
    ]);
    browser.look_on(Screen::Phone, Light::Day);

    // Before it is paired the page asks for the key, and a wrong one is told in words.
    let page = format!("https://{at}/phone");
    browser.open_address(&format!("{page}#000000000000000000000000"));
    browser.until_told("#pair-status", "This is not the service's key.");
    browser.complaints();

    // What the code on the set-up page says, but for the name, which is this machine's on its network.
    let head =
        format!("GET /setup HTTP/1.1\r\nAuthorization: Bearer {}\r\n", access::key(&folder.0));
    let set_up = request(at, &head, b"").text();
    let link = set_up.split("id=\"phone-link\" href=\"").nth(1).unwrap().split('"').next().unwrap();
    let (_, path) = link.strip_prefix("https://").unwrap().split_once('/').unwrap();
    browser.open_address(&format!("https://{at}/{path}"));
    browser.until("it is paired", "document.querySelector('#start')");
    assert_eq!(browser.run("return location.href"), json!(page), "the key stands on no screen");
    for screen in [Screen::Wide, Screen::Phone] {
        browser.look_on(screen, Light::Day);
        holds(&browser, &page);
        let found = faults(&browser, &json!({}));
        assert!(found.is_empty(), "{}", found.join("\n"));
    }

    browser.click("#start");
    browser.until_told("#phone-status", "Sending.");
    let read = || get(at, "/api/layouts?camera=phone").json()["layouts"].clone();
    until("a layout is read", Duration::from_secs(60), || read()[0].is_object());
    let layout = read()[0]["layout"].clone();
    assert!(off_mm(&layout) < 8.0, "{} mm: {layout}", off_mm(&layout));
    browser.until("the phone tells what is seen", "document.querySelector('#seen').innerText");
    let found = faults(&browser, &json!({}));
    assert!(found.is_empty(), "{}", found.join("\n"));
    assert_eq!(browser.complaints(), Vec::<String>::new());

    // A device forgets the others and stays; then it is forgotten itself, and told so.
    let phone = browser.here();
    let beside = browser.beside();
    browser.open_address(&format!("https://{at}/pair"));
    browser.click("#forget-part summary");
    let found = faults(&browser, &json!({}));
    assert!(found.is_empty(), "{}", found.join("\n"));
    browser.click("#forget");
    browser.until_told("#forget-status", "All other devices are forgotten.");
    browser.open_address(&format!("https://{at}/setup"));
    browser.until("it is paired still", "document.querySelector('#phone-code')");
    browser.turn_to(&phone);
    let new_key = access::key(&folder.0);
    browser.until_told("#phone-status", "Sending.");
    let head = format!("DELETE /api/devices HTTP/1.1\r\nAuthorization: Bearer {new_key}\r\n");
    assert_eq!(request(at, &head, b"").status, 200);
    browser.until_told("#phone-status", "This device is not paired any more.");
    browser.turn_to(&beside);
    browser.open_address(&format!("https://{at}/pair#{}", access::key(&folder.0)));
    browser.until_told("#pair-state", "This device is paired.");
    browser.turn_to(&phone);
    browser.until_told("#phone-status", "Sending.");

    // The service is started anew: the phone says so meanwhile, and goes on by itself.
    service.stop();
    browser.until_told("#phone-status", "No connection to the program.");
    service = open_to_network(&folder.0, Wish { listen: Some(at), ..Wish::default() });
    browser.until_told("#phone-status", "Sending.");
    // So it does where its page was loaded anew.
    browser.open_address(&page);
    browser.until_told("#phone-status", "Sending.");
    browser.click("#stop");
    browser.until_told("#phone-status", "The camera is off.");
    drop(service);
}
