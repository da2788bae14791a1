//! A browser for tests: headless Chromium, told what to do through WebDriver.
//!
//! One driver serves the whole run and ends with it; at most two browsers are open at a time. A
//! test says what a person would do (visit, tap, press, drag) and looks at what the page then is.

use crate::{client::connect, staging::Folder};
use serde_json::{Value, json};
use std::{
    io::{BufRead, BufReader, Read, Write},
    net::{Ipv4Addr, SocketAddr},
    path::{Path, PathBuf},
    process::{Command, Stdio},
    sync::{Condvar, Mutex, OnceLock},
    time::{Duration, Instant},
};

/// Browsers that are open at the same time.
const MOST_BROWSERS: usize = 2;

/// What a page is given time for before a test has failed.
const PATIENCE: Duration = Duration::from_secs(60);

/// The driver's answers; a browser that starts on a busy machine takes long.
const DRIVER_PATIENCE: Duration = Duration::from_secs(120);

/// Nothing but what a test asks for; no sandbox, which root cannot have.
const FLAGS: [&str; 8] = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
];

/// A name by which WebDriver hands elements on.
const ELEMENT: &str = "element-6066-11e4-a52e-4f735466cecf";

/// Keys as WebDriver names them.
pub mod keys {
    pub const TAB: &str = "\u{e004}";
    pub const ENTER: &str = "\u{e007}";
    pub const SHIFT: &str = "\u{e008}";
    pub const RIGHT: &str = "\u{e014}";
    pub const DELETE: &str = "\u{e017}";
}

/// What a page is looked at on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Screen {
    /// A phone held upright, 390 × 844.
    Phone,
    /// A laptop's, 1440 × 900.
    Wide,
}

impl Screen {
    const fn metrics(self) -> (u32, u32, bool) {
        match self {
            Self::Phone => (390, 844, true),
            Self::Wide => (1440, 900, false),
        }
    }
}

/// What the reader's device asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Light {
    Day,
    Night,
}

/// An open browser with one page; closed when dropped.
pub struct Browser {
    driver: SocketAddr,
    session: String,
    _profile: Folder,
    _turn: Turn,
}

/// What a pointer does that goes to a place.
fn going([x, y]: [f64; 2]) -> Value {
    json!({"type": "pointerMove", "x": x.round(), "y": y.round(), "duration": 30})
}

fn taking_hold() -> Value {
    json!({"type": "pointerDown", "button": 0})
}

/// What a pointer does that takes hold at a place and moves to another.
fn pulling(from: [f64; 2], to: [f64; 2]) -> Vec<Value> {
    let middle = [(from[0] + to[0]) / 2.0, (from[1] + to[1]) / 2.0];
    vec![going(from), taking_hold(), going(middle), going(to)]
}

fn letting_go() -> Value {
    json!({"type": "pointerUp", "button": 0})
}

impl Browser {
    pub fn open() -> Self {
        Self::open_with(&[])
    }

    /// Opens one with further flags of Chromium's.
    pub fn open_with(flags: &[&str]) -> Self {
        let turn = Turn::take();
        let driver = driver();
        let profile = Folder::new("browser");
        let mut flags: Vec<String> = FLAGS.iter().chain(flags).map(ToString::to_string).collect();
        flags.push(format!("--user-data-dir={}", profile.0.display()));
        let options = json!({"args": flags, "binary": program("chromium")});
        let wanted = json!({"capabilities": {"alwaysMatch": {
            "browserName": "chrome",
            "goog:chromeOptions": options,
            "goog:loggingPrefs": {"browser": "ALL"},
        }}});
        let opened = answer_of(driver, "/session", &wanted)
            .unwrap_or_else(|error| panic!("Chromium does not start: {error}"));
        let session = opened["sessionId"].as_str().expect("a session").to_string();
        Self { driver, session, _profile: profile, _turn: turn }
    }

    fn ask(&self, what: &str, body: &Value) -> Result<Value, String> {
        answer_of(self.driver, &format!("/session/{}/{what}", self.session), body)
    }

    fn tell(&self, what: &str, body: &Value) -> Value {
        self.ask(what, body).unwrap_or_else(|error| panic!("{what} {body}: {error}"))
    }

    /// A command of Chromium's own, of those that its developer tools use.
    pub fn devtool(&self, command: &str, parameters: &Value) -> Value {
        self.tell("goog/cdp/execute", &json!({"cmd": command, "params": parameters}))
    }

    /// What pages are looked at on from now on.
    pub fn look_on(&self, screen: Screen, light: Light) {
        let (width, height, phone) = screen.metrics();
        let scheme = if light == Light::Day { "light" } else { "dark" };
        self.be_sized((width, height), phone);
        self.devtool("Emulation.setTouchEmulationEnabled", &json!({"enabled": phone}));
        let feature = json!({"name": "prefers-color-scheme", "value": scheme});
        self.devtool("Emulation.setEmulatedMedia", &json!({"features": [feature]}));
    }

    /// How large what pages are looked at on is, in pixels of a page.
    pub fn be_sized(&self, (width, height): (u32, u32), phone: bool) {
        self.devtool(
            "Emulation.setDeviceMetricsOverride",
            &json!({"width": width, "height": height, "deviceScaleFactor": 1, "mobile": phone}),
        );
    }

    /// Opens a page and waits until all of it is there.
    pub fn visit(&self, at: SocketAddr, path: &str) {
        self.open_address(&format!("http://{at}{path}"));
    }

    /// The same, by the page's whole address.
    pub fn open_address(&self, address: &str) {
        // The same page at another fragment would not be loaded again.
        self.tell("url", &json!({"url": "about:blank"}));
        self.tell("url", &json!({"url": address}));
    }

    /// Runs a function's body in the page; a promise that it returns is waited for.
    pub fn run(&self, script: &str) -> Value {
        self.run_with(script, &json!([]))
    }

    /// The same, with `arguments`.
    pub fn run_with(&self, script: &str, arguments: &Value) -> Value {
        self.tell("execute/sync", &json!({"script": script, "args": arguments}))
    }

    /// Waits until an expression in the page is true; returns what it is.
    pub fn until(&self, what: &str, expression: &str) -> Value {
        let end = Instant::now() + PATIENCE;
        let body = json!({"script": format!("return {expression}"), "args": []});
        loop {
            // While a page is being exchanged for another, there is nothing to ask.
            let now = self.ask("execute/sync", &body);
            match &now {
                Ok(Value::Null | Value::Bool(false)) | Err(_) => {}
                Ok(value) => return value.clone(),
            }
            let shown = || self.run("return document.body.innerText");
            assert!(Instant::now() < end, "in vain until {what}: {now:?} on\n{}", shown());
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    /// Waits until a text stands in what a selector finds.
    pub fn until_told(&self, selector: &str, text: &str) {
        let (selector, text) = (json!(selector), json!(text));
        let told = format!(
            "[...document.querySelectorAll({selector})].some(e => e.innerText.includes({text}))"
        );
        self.until(&format!("{selector} tells {text}"), &told);
    }

    /// The text that is shown in what a selector finds first.
    pub fn text(&self, selector: &str) -> String {
        let script = "return document.querySelector(arguments[0]).innerText";
        self.run_with(script, &json!([selector])).as_str().unwrap_or_default().to_string()
    }

    /// Taps or clicks in the middle of an element, as a person does: it has to be in sight.
    pub fn click(&self, selector: &str) {
        let found = self.tell("element", &json!({"using": "css selector", "value": selector}));
        let element = found[ELEMENT].as_str().expect("an element").to_string();
        self.tell(&format!("element/{element}/click"), &json!({}));
    }

    /// Gives a file to an input of files, or types into a field.
    pub fn give(&self, selector: &str, text: &str) {
        let found = self.tell("element", &json!({"using": "css selector", "value": selector}));
        let element = found[ELEMENT].as_str().expect("an element").to_string();
        self.tell(&format!("element/{element}/value"), &json!({"text": text}));
    }

    /// Presses keys one after the other; those before the last of a chord are held meanwhile.
    pub fn press(&self, chord: &[&str]) {
        let step = |kind: &'static str| move |key: &&str| json!({"type": kind, "value": key});
        let down = chord.iter().map(step("keyDown"));
        let actions: Vec<Value> = down.chain(chord.iter().rev().map(step("keyUp"))).collect();
        self.tell(
            "actions",
            &json!({"actions": [{"type": "key", "id": "keys", "actions": actions}]}),
        );
    }

    /// Drags from one place of the window to another, by finger or mouse as the screen has it.
    pub fn drag(&self, from: [f64; 2], to: [f64; 2], by: &str) {
        let mut actions = pulling(from, to);
        actions.push(letting_go());
        self.point(by, &json!(actions));
    }

    /// Drags by a finger from one place to another, while a second one comes down at a third place,
    /// moves to a fourth and goes.
    pub fn drag_beside(&self, [from, to]: [[f64; 2]; 2], [second, away]: [[f64; 2]; 2]) {
        let pause = || json!({"type": "pause", "duration": 30});
        let (middle, up) = ([(from[0] + to[0]) / 2.0, (from[1] + to[1]) / 2.0], letting_go);
        let first = [going(from), taking_hold(), going(middle), pause(), pause(), going(to), up()];
        let other = [going(second), pause(), taking_hold(), going(away), up(), pause(), pause()];
        let finger = |id: &str, actions: &[Value]| {
            json!({"type": "pointer", "id": id, "parameters": {"pointerType": "touch"},
                "actions": actions})
        };
        let fingers = [finger("touch", &first), finger("second", &other)];
        self.tell("actions", &json!({"actions": fingers}));
    }

    /// Drags by mouse, and holds on. (A finger that is lifted by a second command to the driver
    /// stays down.)
    pub fn pull(&self, from: [f64; 2], to: [f64; 2]) {
        self.point("mouse", &json!(pulling(from, to)));
    }

    /// The mouse lets go of what it holds.
    pub fn let_go(&self) {
        self.point("mouse", &json!([letting_go()]));
    }

    fn point(&self, by: &str, actions: &Value) {
        self.tell(
            "actions",
            &json!({"actions": [{
                "type": "pointer", "id": by, "parameters": {"pointerType": by}, "actions": actions,
            }]}),
        );
    }

    /// Where the middle of an element is in the window.
    pub fn middle(&self, selector: &str) -> [f64; 2] {
        let script = "const box = document.querySelector(arguments[0]).getBoundingClientRect();
            return [box.x + box.width / 2, box.y + box.height / 2]";
        let middle = self.run_with(script, &json!([selector]));
        [middle[0].as_f64().unwrap(), middle[1].as_f64().unwrap()]
    }

    /// Opens one more page beside this one and turns to it; returns how to turn to it again.
    pub fn beside(&self) -> String {
        let window = self.tell("window/new", &json!({"type": "window"}));
        let handle = window["handle"].as_str().expect("a handle").to_string();
        self.turn_to(&handle);
        handle
    }

    /// The page that is turned to.
    pub fn here(&self) -> String {
        let path = format!("/session/{}/window", self.session);
        let here = exchange(self.driver, "GET", &path, "").expect("a window");
        here.as_str().expect("a handle").to_string()
    }

    pub fn turn_to(&self, window: &str) {
        self.tell("window", &json!({"handle": window}));
    }

    /// The page as it is seen, as a PNG.
    pub fn picture(&self) -> Vec<u8> {
        use base64::Engine;
        let shot = self.devtool("Page.captureScreenshot", &json!({"format": "png"}));
        let text = shot["data"].as_str().expect("a picture");
        base64::engine::general_purpose::STANDARD.decode(text).expect("base64")
    }

    /// What the browser complained of since it was asked last: scripts that failed, things that
    /// were refused or not found.
    pub fn complaints(&self) -> Vec<String> {
        let log = self.tell("se/log", &json!({"type": "browser"}));
        let entries = log.as_array().into_iter().flatten();
        entries
            .filter(|entry| entry["level"] != "INFO" && entry["level"] != "DEBUG")
            .map(|entry| entry["message"].as_str().unwrap_or_default().to_string())
            .collect()
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        // The driver ends browsers that are left when it ends itself.
        let _ = exchange(self.driver, "DELETE", &format!("/session/{}", self.session), "");
    }
}

/// Asks the driver; what went wrong is told by its own words.
fn answer_of(driver: SocketAddr, path: &str, body: &Value) -> Result<Value, String> {
    exchange(driver, "POST", path, &body.to_string())
}

/// One question and its answer. The driver keeps connections open, whatever it is asked to do.
fn exchange(driver: SocketAddr, method: &str, path: &str, body: &str) -> Result<Value, String> {
    let mut stream = connect(driver);
    stream.set_read_timeout(Some(DRIVER_PATIENCE)).expect("a time-out");
    let length = body.len();
    let head = format!(
        "{method} {path} HTTP/1.1\r\nHost: {driver}\r\nContent-Type: application/json\r\n\
         Content-Length: {length}\r\n\r\n"
    );
    stream.write_all(&[head.as_bytes(), body.as_bytes()].concat()).expect("the driver listens");
    let mut lines = BufReader::new(stream);
    let (mut status, mut length, mut line) = (String::new(), 0, String::new());
    loop {
        line.clear();
        lines.read_line(&mut line).expect("the driver answers in time");
        match line.trim_end().split_once(':') {
            Some((name, value)) if name.eq_ignore_ascii_case("content-length") => {
                length = value.trim().parse().expect("a length");
            }
            None if line.starts_with("HTTP/") => status.clone_from(&line),
            None if line.trim().is_empty() => break,
            _ => {}
        }
    }
    let mut answer = vec![0; length];
    lines.read_exact(&mut answer).expect("the whole answer");
    let mut answer: Value = serde_json::from_slice(&answer).expect("JSON");
    let value = answer["value"].take();
    if status.contains(" 200 ") {
        return Ok(value);
    }
    Err(value["message"].as_str().unwrap_or_default().lines().next().unwrap_or_default().into())
}

/// The driver of this run: started by the first test that needs it, ended with the run.
fn driver() -> SocketAddr {
    static DRIVER: OnceLock<SocketAddr> = OnceLock::new();
    *DRIVER.get_or_init(|| {
        // The shell's input ends with this process, however that ends, and the driver with it.
        let script = "\"$0\" --port=0 & driver=$!; cat > /dev/null; kill $driver";
        let mut child = Command::new("sh")
            .arg("-c")
            .arg(script)
            .arg(program("chromedriver"))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("a shell");
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let port = loop {
            let line = lines.next().expect("chromedriver tells its port").unwrap();
            let told = line.rsplit_once("on port ").filter(|_| line.contains("successfully"));
            if let Some((_, port)) = told {
                break port.trim_end_matches('.').parse().expect("a port");
            }
        };
        // Whoever stops reading what a program prints stops the program.
        std::thread::spawn(move || lines.for_each(drop));
        std::mem::forget(child);
        SocketAddr::from((Ipv4Addr::LOCALHOST, port))
    })
}

/// Where a program lies.
fn program(name: &str) -> PathBuf {
    let path = std::env::var_os("PATH").unwrap_or_default();
    let found = std::env::split_paths(&path).map(|folder| folder.join(name)).find(|at| at.exists());
    found.unwrap_or_else(|| {
        panic!(
            "There is no {name}, which the tests of the pages need. `make test` installs it; or \
             install the packages chromium and chromium-driver."
        )
    })
}

/// The checker of accessibility, as a script.
pub fn checker() -> &'static str {
    static CHECKER: OnceLock<String> = OnceLock::new();
    CHECKER.get_or_init(|| {
        let path = Path::new(env!("CARGO_MANIFEST_DIR"));
        let path = path.join("target/npm/node_modules/axe-core/axe.min.js");
        std::fs::read_to_string(&path).unwrap_or_else(|error| {
            panic!(
                "{}: {error}. The tests of the pages need axe-core: `make target/npm` fetches it, \
                 and so does `make test`.",
                path.display()
            )
        })
    })
}

/// The right to have a browser open.
struct Turn;

static OPEN: Mutex<usize> = Mutex::new(0);
static CLOSED: Condvar = Condvar::new();

impl Turn {
    fn take() -> Self {
        let open = OPEN.lock().unwrap();
        *CLOSED.wait_while(open, |open| *open >= MOST_BROWSERS).unwrap() += 1;
        Self
    }
}

impl Drop for Turn {
    fn drop(&mut self) {
        *OPEN.lock().unwrap() -= 1;
        CLOSED.notify_one();
    }
}
