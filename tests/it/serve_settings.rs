//! What the user asks of the service, on the command line and in a settings file: refused in plain
//! words before anything starts, or served.

use crate::{
    client::get,
    staging::{Folder, until},
};
use std::{
    net::{SocketAddr, TcpListener},
    process::{Child, Command, Stdio},
    time::Duration,
};

fn serve(folder: &Folder, arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_stillcloth"));
    command.current_dir(&folder.0).arg("serve").args(arguments);
    command
}

/// What a service that must not start says.
fn refusal(folder: &Folder, arguments: &[&str]) -> String {
    let output = serve(folder, arguments).output().unwrap();
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(1), "{said}");
    assert!(said.starts_with("stillcloth: ") && !said.contains("panicked"), "{said}");
    assert!(!folder.0.join("data").exists(), "it was about to start: {said}");
    said
}

/// A running service that is ended with the test.
struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn free_address() -> SocketAddr {
    TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap()
}

#[test]
fn what_cannot_go_well_is_refused_before_anything_starts() {
    let folder = Folder::new("unwell");
    std::fs::write(folder.0.join("odd.toml"), "[[cameras]]\nname = 'a'\nsorce = '0'\n").unwrap();
    std::fs::write(
        folder.0.join("lost.toml"),
        "[[cameras]]\nname = 'hall'\nsource = '0'\ncalibration = 'gone.json'\n",
    )
    .unwrap();
    for (arguments, words) in [
        (&["--settings", "odd.toml"][..], &["odd.toml, line 3", "`sorce`", "`source`"][..]),
        (&["--settings", "none.toml"], &["none.toml"]),
        (&["--settings", "lost.toml"], &["camera hall", "gone.json"]),
        (&["--camera", "demos"], &["camera demos", "'demos' is no camera"]),
        (&["--camera", "a=demo", "--camera", "a=pushed"], &["two cameras are called a"]),
        (&["--camera", "rtsp:///x"], &["no host"]),
    ] {
        let said = refusal(&folder, arguments);
        for words in words {
            assert!(said.contains(words), "{arguments:?}: {said}");
        }
    }
}

#[test]
fn a_settings_file_counts_and_the_command_line_counts_more() {
    let folder = Folder::new("file");
    let (address, other) = (free_address(), free_address());
    let text = format!(
        "listen = '{other}'\ndata = 'kept'\n[[cameras]]\nname = 'phone'\nsource = 'pushed'\n\
        [[cameras]]\nname = 'table-1'\nsource = '/dev/no-such-camera'\n"
    );
    std::fs::write(folder.0.join("hall.toml"), text).unwrap();
    let address_text = address.to_string();
    let child = serve(&folder, &["--settings", "hall.toml", "--listen", &address_text])
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let _running = Running(child);
    until("it listens", Duration::from_secs(20), || std::net::TcpStream::connect(address).is_ok());
    assert!(folder.0.join("kept").is_dir());
    until("the camera that is not there is lost", Duration::from_secs(20), || {
        let cameras = get(address, "/api/cameras").json();
        let names: Vec<_> = cameras.as_array().unwrap().iter().map(|it| &it["name"]).collect();
        assert_eq!(names, ["phone", "table-1"]);
        cameras[0]["health"] == "starting" && cameras[1]["health"] == "lost"
    });
}
