//! A tiny HTTP client over a plain socket, so that tests see what really travels, and can
//! misbehave: break off, dribble, or wait.

use serde_json::Value;
use std::{
    io::{BufRead, BufReader, Read, Write},
    net::{SocketAddr, TcpStream},
    time::Duration,
};

/// No answer takes longer than this, or the test has failed.
const PATIENCE: Duration = Duration::from_secs(30);

/// An answer as it came.
#[derive(Debug)]
pub struct Answer {
    pub status: u16,
    pub headers: Vec<(String, String)>,
    pub body: Vec<u8>,
}

impl Answer {
    pub fn header(&self, name: &str) -> Option<&str> {
        let found = self.headers.iter().find(|(known, _)| known.eq_ignore_ascii_case(name));
        found.map(|(_, value)| value.as_str())
    }

    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }

    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.body)
            .unwrap_or_else(|error| panic!("{error} in {}: {}", self.status, self.text()))
    }

    /// Holds that this is a problem of a kind, told as RFC 9457 has it.
    pub fn is_problem(&self, status: u16, kind: &str) {
        assert_eq!(self.status, status, "{}", self.text());
        assert_eq!(self.header("content-type"), Some("application/problem+json"));
        let problem = self.json();
        assert_eq!(problem["status"], status);
        assert_eq!(problem["kind"], kind, "{problem}");
        assert!(problem["detail"].as_str().is_some_and(|detail| detail.len() > 10), "{problem}");
    }
}

pub fn connect(address: SocketAddr) -> TcpStream {
    let stream = TcpStream::connect(address).expect("the service takes connections");
    stream.set_read_timeout(Some(PATIENCE)).unwrap();
    stream.set_write_timeout(Some(PATIENCE)).unwrap();
    stream
}

pub fn get(address: SocketAddr, path: &str) -> Answer {
    request(address, &format!("GET {path} HTTP/1.1\r\n"), b"")
}

/// Sends a picture, or JSON.
pub fn post(address: SocketAddr, path: &str, media_type: &str, body: &[u8]) -> Answer {
    let head = format!(
        "POST {path} HTTP/1.1\r\nContent-Type: {media_type}\r\nContent-Length: {}\r\n",
        body.len()
    );
    request(address, &head, body)
}

/// Sends a head (without its last empty line) and a body, and takes the whole answer in.
pub fn request(address: SocketAddr, head: &str, body: &[u8]) -> Answer {
    let mut stream = connect(address);
    let head = format!("{head}Host: {address}\r\nConnection: close\r\n\r\n");
    stream.write_all(head.as_bytes()).expect("the head is taken");
    // A service that refuses may close before it has all of the body.
    let _ = stream.write_all(body);
    answer(stream)
}

/// Takes an answer in, up to the end of its connection.
pub fn answer(mut stream: impl Read) -> Answer {
    let mut bytes = Vec::new();
    stream.read_to_end(&mut bytes).expect("an answer comes in time");
    let end = bytes.windows(4).position(|four| four == b"\r\n\r\n").expect("a head");
    let head = String::from_utf8_lossy(&bytes[..end]).into_owned();
    let mut lines = head.lines();
    let status = lines.next().and_then(|line| line.split(' ').nth(1)).expect("a status line");
    let headers: Vec<(String, String)> = lines
        .filter_map(|line| line.split_once(": "))
        .map(|(name, value)| (name.to_string(), value.to_string()))
        .collect();
    let mut answer = Answer {
        status: status.parse().expect("a status"),
        headers,
        body: bytes[end + 4..].to_vec(),
    };
    if answer.header("transfer-encoding") == Some("chunked") {
        answer.body = unchunked(&answer.body);
    }
    answer
}

fn unchunked(mut bytes: &[u8]) -> Vec<u8> {
    let mut whole = Vec::new();
    loop {
        let end = bytes.windows(2).position(|two| two == b"\r\n").expect("a chunk's length");
        let length = std::str::from_utf8(&bytes[..end]).unwrap();
        let length = usize::from_str_radix(length, 16).expect("a length");
        if length == 0 {
            return whole;
        }
        whole.extend(&bytes[end + 2..end + 2 + length]);
        bytes = &bytes[end + 4 + length..];
    }
}

/// A server-sent event.
#[derive(Debug, Default, PartialEq)]
pub struct Event {
    pub name: String,
    pub id: Option<i64>,
    pub data: String,
}

impl Event {
    pub fn json(&self) -> Value {
        serde_json::from_str(&self.data).unwrap()
    }
}

/// One who follows the events.
pub struct Follower {
    lines: BufReader<TcpStream>,
}

impl Follower {
    /// Begins to follow; `more` is further heads, each with its line end.
    pub fn new(address: SocketAddr, path: &str, more: &str) -> Self {
        let mut stream = connect(address);
        write!(stream, "GET {path} HTTP/1.1\r\nHost: {address}\r\n{more}\r\n").unwrap();
        let mut lines = BufReader::new(stream);
        let mut line = String::new();
        lines.read_line(&mut line).unwrap();
        assert!(line.contains(" 200 "), "{line}");
        while line.trim() != "" {
            line.clear();
            lines.read_line(&mut line).unwrap();
        }
        Self { lines }
    }

    /// The next event of a name, others passed over; none when the stream ends.
    pub fn next(&mut self, name: &str) -> Option<Event> {
        loop {
            let event = self.next_of_any()?;
            if event.name == name {
                return Some(event);
            }
        }
    }

    /// The next event that has an id; none when the stream ends.
    pub fn next_with_id(&mut self) -> Option<Event> {
        loop {
            let event = self.next_of_any()?;
            if event.id.is_some() {
                return Some(event);
            }
        }
    }

    fn next_of_any(&mut self) -> Option<Event> {
        let mut event = Event::default();
        loop {
            let mut line = String::new();
            if self.lines.read_line(&mut line).expect("events come in time") == 0 {
                return None;
            }
            let line = line.trim_end();
            match line.split_once(": ") {
                Some(("event", value)) => event.name = value.into(),
                Some(("id", value)) => event.id = value.parse().ok(),
                Some(("data", value)) => event.data.push_str(value),
                _ if line.is_empty() && !event.name.is_empty() => return Some(event),
                // Chunk lengths and comments.
                _ => {}
            }
        }
    }
}
