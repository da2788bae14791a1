//! Events brought to listeners: signed, tried again, given up, and what each answer means. The
//! listeners are the test's own; days of trying pass by the test's own clock.

use crate::{
    layouts_out::send,
    staging::{Folder, Service, Wish, layout, scripted_readers, until},
};
use base64::{Engine, engine::general_purpose::STANDARD};
use jiff::{SignedDuration, Timestamp};
use serde_json::Value;
use sha2::{Digest, Sha256};
use std::{
    cell::Cell,
    collections::BTreeSet,
    io::{BufRead, BufReader, Read, Write},
    net::{SocketAddr, TcpListener, TcpStream},
    path::Path,
    sync::{Arc, Mutex},
    time::{Duration, Instant},
};
use stillcloth::{
    camera::picture::PictureFormat,
    record::{DeliveryCounts, ListenerSetting, NewRest, Record, RecordError, Retention},
    service::{
        Metrics,
        webhooks::{Courier, Listener, Secret},
    },
};
use tokio::runtime::Runtime;

/// The secret that the specification's reference implementations are tested with.
const SECRET: &str = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw";

/// HMAC as RFC 2104 writes it, so that the program's is not held to itself.
fn hmac_sha256(key: &[u8], text: &[u8]) -> [u8; 32] {
    assert!(key.len() <= 64, "a longer key would have to be hashed first");
    let padded = |pad: u8| -> Vec<u8> {
        (0..64).map(|at| key.get(at).copied().unwrap_or(0) ^ pad).collect()
    };
    let inner = Sha256::digest([padded(0x36).as_slice(), text].concat());
    Sha256::digest([padded(0x5c).as_slice(), inner.as_slice()].concat()).into()
}

fn signature(secret: &str, id: &str, timestamp: &str, body: &[u8]) -> String {
    let key = STANDARD.decode(secret.strip_prefix("whsec_").unwrap()).unwrap();
    let text = [format!("{id}.{timestamp}.").as_bytes(), body].concat();
    format!("v1,{}", STANDARD.encode(hmac_sha256(&key, &text)))
}

#[test]
fn signatures_are_those_of_the_specification() {
    // RFC 4231, test case 2.
    let known: String = hmac_sha256(b"Jefe", b"what do ya want for nothing?")
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect();
    assert_eq!(known, "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843");
    let secret: Secret = SECRET.parse().unwrap();
    let (id, body) = ("msg_p5jXN8AQM9LWM0D4loKWxJek", br#"{"test": 2432232314}"#);
    let wanted = "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=";
    assert_eq!(signature(SECRET, id, "1614265330", body), wanted);
    assert_eq!(secret.sign(id, 1_614_265_330, body), wanted);
    let (id, body) = (
        "msg_2KWPBgLlAfxdpx2AI54pPJ85f4W",
        br#"{"type":"contact.created","timestamp":"2022-11-03T20:26:10.344522Z","data":{"id":"1f81eb52-5198-4599-803e-771906343485"}}"#,
    );
    assert_eq!(secret.sign(id, 1_674_087_231, body), signature(SECRET, id, "1674087231", body));
    let made = Secret::generate().unwrap();
    assert_eq!(made.sign("a", 1, b"b"), signature(&made.reveal(), "a", "1", b"b"));
}

/// A message as a listener got it.
#[derive(Debug, Clone)]
struct Message {
    head: String,
    body: Vec<u8>,
}

impl Message {
    fn header(&self, name: &str) -> &str {
        let found = self.head.lines().find_map(|line| {
            let (known, value) = line.split_once(": ")?;
            known.eq_ignore_ascii_case(name).then_some(value)
        });
        found.unwrap_or_else(|| panic!("no {name} in {}", self.head))
    }

    fn json(&self) -> Value {
        serde_json::from_slice(&self.body).unwrap()
    }
}

/// A listener of the test's own: notes what it gets and answers as it is told.
struct Listening {
    address: SocketAddr,
    got: Arc<Mutex<Vec<Message>>>,
}

impl Listening {
    /// Answers with what `answer` gives: a status with further headers, or nothing at all.
    fn new(answer: impl FnMut(usize) -> Option<&'static str> + Send + 'static) -> Self {
        Self::on("127.0.0.1:0".parse().unwrap(), answer)
    }

    fn on(
        address: SocketAddr,
        mut answer: impl FnMut(usize) -> Option<&'static str> + Send + 'static,
    ) -> Self {
        let socket = TcpListener::bind(address).unwrap();
        let address = socket.local_addr().unwrap();
        let got = Arc::new(Mutex::new(Vec::new()));
        let noted = Arc::clone(&got);
        std::thread::spawn(move || {
            for (count, stream) in socket.incoming().enumerate() {
                let Ok(mut stream) = stream else { return };
                let Some(message) = take_post(&mut stream) else { continue };
                noted.lock().unwrap().push(message);
                match answer(count) {
                    Some(status) => {
                        let _ = write!(stream, "HTTP/1.1 {status}\r\nContent-Length: 0\r\n\r\n");
                    }
                    // Says nothing, and keeps the line open.
                    None => std::mem::forget(stream),
                }
            }
        });
        Self { address, got }
    }

    fn url(&self) -> String {
        format!("http://{}/events?key=7", self.address)
    }

    fn got(&self) -> Vec<Message> {
        self.got.lock().unwrap().clone()
    }

    /// The ids of the events it got.
    fn events(&self) -> Vec<i64> {
        self.got().iter().map(|message| message.json()["id"].as_i64().unwrap()).collect()
    }
}

fn take_post(stream: &mut TcpStream) -> Option<Message> {
    let mut lines = BufReader::new(stream);
    let mut head = String::new();
    while !head.ends_with("\r\n\r\n") {
        if lines.read_line(&mut head).ok()? == 0 {
            return None;
        }
    }
    let mut message = Message { head, body: Vec::new() };
    message.body = vec![0; message.header("content-length").parse().ok()?];
    lines.read_exact(&mut message.body).ok()?;
    Some(message)
}

/// A record with one listener, its courier, and a clock that stands until it is set.
struct Desk {
    runtime: Runtime,
    record: Record,
    courier: Courier,
    clock: Cell<Timestamp>,
}

const TRY_TIME: Duration = Duration::from_millis(300);

fn open(data: &Path) -> Record {
    // The thread of a record that was let go just now may still be closing it.
    let mut opened = None;
    until("the record is free", Duration::from_secs(5), || {
        match Record::open(data, Retention::default()) {
            Ok(record) => opened = Some(record),
            Err(RecordError::InUse { .. }) => {}
            Err(error) => panic!("{error}"),
        }
        opened.is_some()
    });
    opened.unwrap()
}

impl Desk {
    fn new(data: &Path, url: &str) -> Self {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
        let record = open(data);
        let setting = ListenerSetting { url: url.into(), secret: SECRET.into() };
        let known = runtime.block_on(record.set_listeners(vec![setting])).unwrap();
        let courier =
            Courier::new(record.clone(), &known[0], Metrics::default(), TRY_TIME).unwrap();
        // What is written now is due now.
        let clock = Cell::new(Timestamp::now() + SignedDuration::from_secs(1));
        Self { runtime, record, courier, clock }
    }

    /// Keeps a rest; returns the ids of the events it caused.
    fn rest(&self, balls: u8) -> Vec<i64> {
        let kept = self.record.append(NewRest {
            at: Timestamp::now(),
            unseen_ms: 0,
            camera: "table".into(),
            layout: layout(balls),
            picture: vec![balls],
            format: PictureFormat::Png,
        });
        kept.unwrap().events.iter().map(|event| event.id).collect()
    }

    /// Delivers what is due by the clock; returns when to look again.
    fn deliver(&mut self) -> Option<Timestamp> {
        let clock = &self.clock;
        self.runtime.block_on(self.courier.deliver_due(|| clock.get())).unwrap()
    }

    fn counts(&self) -> DeliveryCounts {
        self.runtime.block_on(self.record.delivery_counts()).unwrap()
    }
}

#[test]
fn each_event_arrives_signed_and_in_the_published_form() {
    let folder = Folder::new("signed");
    let listener = Listening::new(|_| Some("204 No Content"));
    let mut desk = Desk::new(&folder.0, &listener.url());
    let events = [desk.rest(15), desk.rest(14)].concat();
    assert_eq!(desk.deliver(), None, "nothing waits any more");
    assert_eq!(listener.events(), events, "each once, in order");
    let mut ids = BTreeSet::new();
    for message in listener.got() {
        assert!(message.head.starts_with("POST /events?key=7 HTTP/1.1\r\n"), "{}", message.head);
        assert_eq!(message.header("content-type"), "application/json");
        let (id, timestamp) = (message.header("webhook-id"), message.header("webhook-timestamp"));
        assert_eq!(timestamp, desk.clock.get().as_second().to_string());
        let wanted = signature(SECRET, id, timestamp, &message.body);
        assert_eq!(message.header("webhook-signature"), wanted);
        assert!(!id.contains('.') && ids.insert(id.to_string()), "{id} tells one event");
        let json = message.json();
        assert!(json["type"].is_string() && json["data"].is_object(), "{json}");
        assert_eq!(json["camera"], "table");
        json["timestamp"].as_str().unwrap().parse::<Timestamp>().unwrap();
    }
    let rest = listener.got()[0].json();
    assert_eq!(rest["type"], "rest");
    assert_eq!(rest["data"]["layout"]["balls"].as_array().unwrap().len(), 15);
    assert_eq!(desk.counts().delivered, events.len() as u64);
}

#[test]
fn a_delivery_is_tried_ten_times_over_three_days_and_then_given_up() {
    let folder = Folder::new("tries");
    let listener = Listening::new(|_| Some("500 Internal Server Error"));
    let mut desk = Desk::new(&folder.0, &listener.url());
    let events = desk.rest(15).len();
    let begun = desk.clock.get();
    let mut rounds = 1;
    while let Some(next) = desk.deliver() {
        assert!(next > desk.clock.get());
        // A moment too soon, nothing is tried.
        desk.clock.set(next - SignedDuration::from_secs(1));
        let before = listener.got().len();
        desk.deliver();
        assert_eq!(listener.got().len(), before);
        desk.clock.set(next);
        rounds += 1;
        assert!(rounds <= 10 * events, "it never ends");
    }
    let got = listener.got();
    assert_eq!(got.len(), 10 * events);
    let first = got[0].header("webhook-id");
    let tries: Vec<&Message> =
        got.iter().filter(|message| message.header("webhook-id") == first).collect();
    assert_eq!(tries.len(), 10, "the same id at each try");
    assert!(tries.iter().all(|message| message.body == got[0].body));
    let at = |message: &Message| message.header("webhook-timestamp").parse::<i64>().unwrap();
    assert!(tries.windows(2).all(|two| at(two[0]) < at(two[1])), "a new time at each try");
    let days = desk.clock.get().duration_since(begun).as_secs_f64() / 86_400.0;
    assert!((2.8..3.5).contains(&days), "{days}");
    assert_eq!((desk.counts().given_up, desk.counts().due), (events as u64, 0));
}

#[test]
fn only_2xx_counts_and_no_redirect_is_followed() {
    let elsewhere = Listening::new(|_| Some("200 OK"));
    let target: &'static str =
        Box::leak(format!("307 Temporary Redirect\r\nLocation: {}", elsewhere.url()).into());
    for (status, taken) in [
        ("200 OK", true),
        ("202 Accepted", true),
        ("299 Odd", true),
        ("304 Not Modified", false),
        (target, false),
        ("400 Bad Request", false),
        ("404 Not Found", false),
        ("503 Service Unavailable", false),
    ] {
        let folder = Folder::new("answers");
        let listener = Listening::new(move |_| Some(status));
        let mut desk = Desk::new(&folder.0, &listener.url());
        desk.rest(15);
        assert_eq!(desk.deliver().is_none(), taken, "{status}");
        assert_eq!(desk.counts().delivered > 0, taken, "{status}");
    }
    assert!(elsewhere.got().is_empty(), "a redirect was followed");
}

#[test]
fn a_listener_that_is_gone_gets_nothing_more() {
    let folder = Folder::new("gone");
    let listener = Listening::new(|_| Some("410 Gone"));
    let mut desk = Desk::new(&folder.0, &listener.url());
    desk.rest(15);
    desk.rest(14);
    assert_eq!(desk.deliver(), None);
    assert_eq!(listener.got().len(), 1, "it said so at the first");
    desk.rest(13);
    assert_eq!(desk.deliver(), None);
    assert_eq!((listener.got().len(), desk.counts().due), (1, 0));
    drop(desk);
    let mut again = Desk::new(&folder.0, &listener.url());
    again.rest(12);
    assert_eq!(again.deliver(), None);
    assert_eq!(listener.got().len(), 1, "a restart does not take it on again");
}

#[test]
fn a_listener_that_asks_to_be_left_in_peace_is() {
    let folder = Folder::new("peace");
    let listener = Listening::new(|count| {
        Some(if count == 0 { "429 Too Many Requests\r\nRetry-After: 7200" } else { "200 OK" })
    });
    let mut desk = Desk::new(&folder.0, &listener.url());
    let mut events = desk.rest(15);
    let next = desk.deliver().unwrap();
    assert_eq!(next.duration_since(desk.clock.get()).as_secs(), 7200);
    events.extend(desk.rest(14));
    desk.clock.set(next - SignedDuration::from_secs(1));
    assert_eq!(desk.deliver(), Some(next));
    assert_eq!(listener.got().len(), 1, "no other event is sent meanwhile either");
    desk.clock.set(next);
    assert_eq!(desk.deliver(), None);
    let delivered: BTreeSet<i64> = listener.events().into_iter().collect();
    assert_eq!(delivered, events.into_iter().collect());
}

#[test]
fn a_try_that_hangs_ends_and_is_made_again() {
    let folder = Folder::new("hanging");
    let listener = Listening::new(|count| (count > 0).then_some("200 OK"));
    let mut desk = Desk::new(&folder.0, &listener.url());
    let events = desk.rest(15).len();
    let begun = Instant::now();
    let next = desk.deliver().unwrap();
    assert!(begun.elapsed() >= TRY_TIME);
    desk.clock.set(next);
    assert_eq!(desk.deliver(), None);
    assert_eq!(desk.counts().delivered, events as u64);
    assert_eq!(listener.got().len(), events + 1);
}

#[test]
fn deliveries_go_on_after_a_restart() {
    let folder = Folder::new("restart");
    // Nobody listens there yet.
    let address = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap();
    let url = format!("http://{address}/events?key=7");
    let mut desk = Desk::new(&folder.0, &url);
    let events = [desk.rest(15), desk.rest(14)].concat();
    let next = desk.deliver().unwrap();
    assert_eq!(desk.counts().due, events.len() as u64);
    drop(desk);

    let listener = Listening::on(address, |_| Some("200 OK"));
    let mut desk = Desk::new(&folder.0, &url);
    desk.clock.set(next + SignedDuration::from_secs(60));
    assert_eq!(desk.deliver(), None);
    assert_eq!(listener.events(), events, "what had waited is delivered, in order");
    drop(desk);
    let mut desk = Desk::new(&folder.0, &url);
    assert_eq!(desk.deliver(), None);
    assert_eq!(listener.events(), events, "and not again");
}

#[test]
fn a_dead_or_mute_listener_holds_up_nobody() {
    let folder = Folder::new("listeners");
    let up = Listening::new(|_| Some("204 No Content"));
    let mute = Listening::new(|_| None);
    let dead = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap();
    let listeners: Vec<Listener> = [format!("http://{dead}/"), mute.url(), up.url()]
        .iter()
        .map(|url| url.parse().unwrap())
        .collect();
    let wish = Wish { listeners, ..Wish::default() };
    let service = Service::start(&folder.0, wish, scripted_readers());
    for balls in 0..5 {
        send(service.address, "table", balls);
    }
    let rests = || {
        let got = up.got();
        let rests = got.iter().map(Message::json).filter(|event| event["type"] == "rest");
        rests.map(|event| event["data"]["rest"].as_i64().unwrap()).collect::<Vec<_>>()
    };
    until("the good listener has all", Duration::from_secs(5), || rests() == [1, 2, 3, 4, 5]);
    until("the mute one has been told too", Duration::from_secs(5), || mute.got().len() == 1);
    let begun = Instant::now();
    service.stop();
    assert!(begun.elapsed() < Duration::from_secs(5), "a mute listener does not delay the end");
}

#[test]
fn a_listener_without_a_secret_gets_one_that_is_told_once() {
    let folder = Folder::new("secrets");
    let listener = Listening::new(|_| Some("200 OK"));
    let wish = || Wish { listeners: vec![listener.url().parse().unwrap()], ..Wish::default() };
    let service = Service::start(&folder.0, wish(), scripted_readers());
    let [secret] = service.new_secrets.as_slice() else { panic!("one new secret") };
    let secret = secret.clone();
    send(service.address, "table", 3);
    until("it has arrived", Duration::from_secs(5), || !listener.got().is_empty());
    let message = &listener.got()[0];
    let (id, timestamp) = (message.header("webhook-id"), message.header("webhook-timestamp"));
    let wanted = signature(&secret, id, timestamp, &message.body);
    assert_eq!(message.header("webhook-signature"), wanted);
    service.stop();

    let database = folder.0.join("record.sqlite3");
    let mode = std::os::unix::fs::PermissionsExt::mode(&database.metadata().unwrap().permissions());
    assert_eq!(mode & 0o777, 0o600, "nobody but the owner reads it");
    let service = Service::start(&folder.0, wish(), scripted_readers());
    assert!(service.new_secrets.is_empty(), "it keeps the one it has");
    let before = listener.got().len();
    send(service.address, "table", 4);
    until("the next has arrived", Duration::from_secs(5), || listener.got().len() > before);
    let message = listener.got().last().cloned().unwrap();
    let (id, timestamp) = (message.header("webhook-id"), message.header("webhook-timestamp"));
    let wanted = signature(&secret, id, timestamp, &message.body);
    assert_eq!(message.header("webhook-signature"), wanted);
}
