//! Network cameras that send MJPEG over HTTP, played by a small server that misbehaves on demand.

use crate::{
    client::get,
    staging::{Folder, Script, Service, Wish, impatient, png, scripted_readers, until},
};
use serde_json::Value;
use std::{
    io::{Read, Write},
    net::{SocketAddr, TcpListener, TcpStream},
    path::Path,
    sync::{
        Arc,
        atomic::{AtomicBool, AtomicU32, Ordering},
    },
    time::Duration,
};
use stillcloth::camera::source::FrameSource;

/// What the server does with a connection, the how many-th it is, and whether to go on.
type Play = dyn Fn(&mut TcpStream, u32, &dyn Fn() -> bool) -> std::io::Result<()> + Send + Sync;

/// A camera at an address; its connections end with it.
struct Camera {
    address: SocketAddr,
    on: Arc<AtomicBool>,
}

impl Camera {
    fn new(
        play: impl Fn(&mut TcpStream, u32, &dyn Fn() -> bool) -> std::io::Result<()>
        + Send
        + Sync
        + 'static,
    ) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let address = listener.local_addr().unwrap();
        let on = Arc::new(AtomicBool::new(true));
        let (still_on, play, count) =
            (Arc::clone(&on), Arc::<Play>::from(Box::new(play) as Box<Play>), AtomicU32::new(0));
        std::thread::spawn(move || {
            for stream in listener.incoming() {
                let (Ok(mut stream), true) = (stream, still_on.load(Ordering::Relaxed)) else {
                    return;
                };
                let (on, play) = (Arc::clone(&still_on), Arc::clone(&play));
                let number = count.fetch_add(1, Ordering::Relaxed);
                std::thread::spawn(move || {
                    let mut request = [0; 4096];
                    let _ = stream.read(&mut request);
                    let _ = play(&mut stream, number, &|| on.load(Ordering::Relaxed));
                });
            }
        });
        Self { address, on }
    }
}

impl Drop for Camera {
    fn drop(&mut self) {
        self.on.store(false, Ordering::Relaxed);
        let _ = TcpStream::connect(self.address);
    }
}

fn watch(data: &Path, camera: &Camera) -> Service {
    let source = FrameSource::open(&format!("http://{}/video", camera.address)).unwrap();
    let wish = Wish {
        camera: Some(("hall".parse().unwrap(), source)),
        watching: impatient(),
        ..Wish::default()
    };
    Service::start(data, wish, scripted_readers())
}

fn state(at: SocketAddr) -> Value {
    get(at, "/api/cameras").json()[0].clone()
}

fn waits_for(at: SocketAddr, health: &str, words: &str) -> Value {
    let mut last = Value::Null;
    until(&format!("it is {health} with '{words}'"), Duration::from_secs(20), || {
        last = state(at);
        last["health"] == health && last["words"].as_str().unwrap().contains(words)
    });
    last
}

fn head(stream: &mut TcpStream, boundary: &str) -> std::io::Result<()> {
    write!(
        stream,
        "HTTP/1.0 200 OK\r\nServer: t\r\nContent-Type: multipart/x-mixed-replace;boundary={boundary}\r\n\r\n"
    )
}

fn part(stream: &mut TcpStream, bytes: &[u8]) -> std::io::Result<()> {
    write!(stream, "--cut\r\nContent-Type: image/jpeg\r\nContent-Length: {}\r\n\r\n", bytes.len())?;
    stream.write_all(bytes)?;
    stream.write_all(b"\r\n")?;
    std::thread::sleep(Duration::from_millis(30));
    Ok(())
}

/// Frames of so many balls, each a little different.
fn frame(balls: u8, number: u32) -> Vec<u8> {
    png(Script::Read, balls, number as u8)
}

#[test]
fn frames_are_passed_on_byte_for_byte_whatever_stands_between_them() {
    let folder = Folder::new("mjpeg");
    let camera = Camera::new(|stream, _, on| {
        head(stream, "--cut")?;
        for number in 0.. {
            if !on() {
                break;
            }
            part(stream, &frame(6, number))?;
            if number % 5 == 0 {
                stream.write_all(b"\0\xFF garbage \r\n\r\n--cu")?;
                stream.write_all(b"\r\n--cut\r\nContent-Type: text/plain\r\n\r\nwords\r\n")?;
                part(stream, &frame(6, number)[..30])?;
            }
        }
        Ok(())
    });
    let service = watch(&folder.0, &camera);
    until("a rest is kept", Duration::from_secs(20), || {
        get(service.address, "/api/layouts/latest").status == 200
    });
    let kept = get(service.address, "/api/layouts/1/frame");
    assert_eq!(kept.header("content-type"), Some("image/png"));
    assert!((0..256).any(|number| frame(6, number) == kept.body), "not the bytes that were sent");
    let now = waits_for(service.address, "live", "");
    assert_eq!(now["source"], "mjpeg");
    until("damaged ones are counted", Duration::from_secs(20), || {
        state(service.address)["undecodable"].as_u64().unwrap() > 0
    });
    assert_eq!(state(service.address)["reconnects"], 0);
}

#[test]
fn a_camera_that_cuts_off_or_stalls_is_opened_again() {
    let folder = Folder::new("cut");
    let camera = Camera::new(|stream, attempt, on| {
        head(stream, "cut")?;
        for number in 0.. {
            match attempt {
                0 if number > 5 => return Ok(()),
                1 if number > 5 => std::thread::sleep(Duration::from_millis(30)),
                _ => part(stream, &frame(6, number))?,
            }
            if !on() {
                break;
            }
        }
        Ok(())
    });
    let service = watch(&folder.0, &camera);
    until("it came back twice", Duration::from_secs(30), || {
        let now = state(service.address);
        now["health"] == "live" && now["reconnects"].as_u64().unwrap() >= 2
    });
}

#[test]
fn an_answer_that_is_no_stream_is_told_in_words() {
    for (answer, words) in [
        (
            "HTTP/1.1 200 OK\r\nContent-Type: text/html\r\nContent-Length: 4\r\n\r\n<p/>",
            "text/html",
        ),
        ("HTTP/1.1 404 Not Found\r\nContent-Length: 0\r\n\r\n", "404"),
        (
            "HTTP/1.1 302 Found\r\nLocation: /live\r\nContent-Length: 0\r\n\r\n",
            "redirects to /live",
        ),
        ("HTTP/1.1 401 Unauthorized\r\nContent-Length: 0\r\n\r\n", "name and password"),
        (
            "HTTP/1.1 401 No\r\nWWW-Authenticate: Digest realm=\"x\"\r\nContent-Length: 0\r\n\r\n",
            "rtsp://",
        ),
        ("HTTP/1.1 200 OK\r\nContent-Type: multipart/x-mixed-replace\r\n\r\n", "no boundary"),
        ("220 ready for mail\r\n", "cannot be opened"),
        ("", "cannot be opened"),
    ] {
        let folder = Folder::new("answers");
        let camera = Camera::new(move |stream, _, _| stream.write_all(answer.as_bytes()));
        let service = watch(&folder.0, &camera);
        waits_for(service.address, "lost", words);
    }
}

#[test]
fn a_head_without_end_a_trickle_and_parts_without_end_are_given_up() {
    let plays: [fn(&mut TcpStream, &dyn Fn() -> bool) -> std::io::Result<()>; 3] = [
        |stream, on| {
            stream.write_all(b"HTTP/1.1 200 OK\r\n")?;
            while on() {
                stream.write_all(b"X-More: and more of the same, and more of the same\r\n")?;
            }
            Ok(())
        },
        |stream, on| {
            head(stream, "cut")?;
            stream.write_all(b"--cut\r\nContent-Length: 100000\r\n\r\n")?;
            while on() {
                stream.write_all(b"x")?;
                std::thread::sleep(Duration::from_millis(10));
            }
            Ok(())
        },
        |stream, on| {
            head(stream, "cut")?;
            stream.write_all(b"--cut\r\n")?;
            while on() {
                stream.write_all(b"X-More: and more of the same, and more of the same\r\n")?;
                std::thread::sleep(Duration::from_millis(1));
            }
            Ok(())
        },
    ];
    for play in plays {
        let folder = Folder::new("endless");
        let camera = Camera::new(move |stream, _, on| play(stream, on));
        let service = watch(&folder.0, &camera);
        let lost = waits_for(service.address, "lost", "tried again");
        assert!(lost["frames"].as_u64().unwrap() < 3, "{lost}");
    }
}

#[test]
fn an_address_where_nobody_is_is_tried_again() {
    let folder = Folder::new("nobody");
    let nobody = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap();
    for address in [format!("http://{nobody}/"), format!("rtsp://{nobody}/stream")] {
        let source = FrameSource::open(&address).unwrap();
        let camera = Some(("hall".parse().unwrap(), source));
        let wish = Wish { camera, watching: impatient(), ..Wish::default() };
        let service = Service::start(&folder.0, wish, scripted_readers());
        waits_for(service.address, "lost", "cannot be opened");
        until("it was tried again", Duration::from_secs(20), || {
            state(service.address)["reconnects"].as_u64().unwrap() >= 2
        });
    }
}
