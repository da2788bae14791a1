//! Who may do what: this machine alone, or a network that looks on and a paired device that changes
//! something, over connections that are encrypted by a certificate of the service's own.

use crate::{
    client::{Answer, answer, connect, get, post, request},
    staging::{Folder, Script, Service, Wish, layout, png, scripted_readers},
};
use serde_json::json;
use std::{
    io::Write,
    net::SocketAddr,
    os::unix::fs::PermissionsExt,
    path::{Path, PathBuf},
    process::Command,
    sync::Arc,
};
use stillcloth::{
    camera::picture::PictureFormat,
    record::{NewRest, Record, Retention},
    service::{AccessSettings, OwnCertificate},
};
use tokio_rustls::rustls::{
    ClientConfig, ClientConnection, RootCertStore, StreamOwned,
    crypto::ring,
    pki_types::{CertificateDer, ServerName},
};

fn open_to_network(data: &Path) -> Service {
    with(data, AccessSettings { lan: true, ..AccessSettings::default() })
}

fn with(data: &Path, access: AccessSettings) -> Service {
    Service::start(data, Wish { access, ..Wish::default() }, scripted_readers())
}

/// The key of the service over a data folder.
pub fn key(data: &Path) -> String {
    let text = std::fs::read_to_string(data.join("access/key")).unwrap();
    text.lines().last().unwrap().to_string()
}

fn frame() -> Vec<u8> {
    png(Script::Read, 4, 1)
}

/// Sends a frame with further heads, each with its line end.
fn send_with(at: SocketAddr, heads: &str) -> Answer {
    let body = frame();
    let head = format!(
        "POST /api/frames HTTP/1.1\r\nContent-Type: image/png\r\nContent-Length: {}\r\n{heads}",
        body.len()
    );
    request(at, &head, &body)
}

fn pair(at: SocketAddr, key: &str) -> Answer {
    post(at, "/api/pairing", "application/json", json!({ "key": key }).to_string().as_bytes())
}

/// The part of a cookie that is sent back.
fn cookie(paired: &Answer) -> String {
    paired.header("set-cookie").unwrap().split(';').next().unwrap().to_string()
}

/// Trusts one authority and nobody else.
fn trusting(authority: Vec<u8>) -> Arc<ClientConfig> {
    let mut roots = RootCertStore::empty();
    roots.add(CertificateDer::from(authority)).unwrap();
    let config = ClientConfig::builder_with_provider(Arc::new(ring::default_provider()))
        .with_safe_default_protocol_versions()
        .unwrap()
        .with_root_certificates(roots)
        .with_no_client_auth();
    Arc::new(config)
}

/// A request over an encrypted connection to a name; what went wrong where there is none.
fn encrypted(
    at: SocketAddr,
    (config, name): (&Arc<ClientConfig>, &str),
    (head, body): (&str, &[u8]),
) -> Result<Answer, String> {
    let name = ServerName::try_from(name.to_string()).unwrap();
    let client = ClientConnection::new(Arc::clone(config), name).unwrap();
    let mut stream = StreamOwned::new(client, connect(at));
    let head = format!("{head}Host: {at}\r\nConnection: close\r\n\r\n");
    stream.write_all(head.as_bytes()).map_err(|error| error.to_string())?;
    stream.write_all(body).map_err(|error| error.to_string())?;
    Ok(answer(stream))
}

#[test]
fn the_network_looks_on_and_shows_the_key_before_it_changes_anything() {
    let folder = Folder::new("key");
    let service = open_to_network(&folder.0);
    let at = service.address;
    for page in ["/", "/draw", "/pair", "/certificate", "/healthz", "/api/layouts", "/metrics"] {
        assert_eq!(get(at, page).status, 200, "{page}");
    }
    for path in ["/api/frames", "/api/corrections", "/api/readings", "/api/diagram.svg", "/none"] {
        post(at, path, "image/png", &frame()).is_problem(401, "not_paired");
    }
    let key = key(&folder.0);
    for wrong in ["", "Bearer", "Bearer 000000000000000000000000", &format!("Basic {key}")] {
        send_with(at, &format!("Authorization: {wrong}\r\n")).is_problem(401, "not_paired");
    }
    send_with(at, &format!("Cookie: stillcloth={key}\r\n")).is_problem(401, "not_paired");
    assert_eq!(send_with(at, &format!("Authorization: Bearer {key}\r\n")).status, 201);

    pair(at, "000000000000000000000000").is_problem(403, "wrong_key");
    pair(at, "").is_problem(403, "wrong_key");
    post(at, "/api/pairing", "application/json", b"{}").is_problem(422, "no_pairing");
    let paired = pair(at, &key.to_uppercase());
    assert_eq!((paired.status, paired.json()), (200, json!({ "may": "all" })));
    let set = paired.header("set-cookie").unwrap();
    assert!(set.contains("HttpOnly") && set.contains("SameSite=Strict"), "{set}");
    let cookie = format!("Cookie: other=1; {}\r\n", cookie(&paired));
    assert_eq!(send_with(at, &cookie).status, 201);

    get(at, "/api/layouts/1/frame").is_problem(401, "not_paired");
    assert!(get(at, "/layouts/1").text().contains("paired"), "the page says why it has no frame");
    let seen = request(at, &format!("GET /api/layouts/1/frame HTTP/1.1\r\n{cookie}"), b"");
    assert_eq!((seen.status, seen.body), (200, frame()));
}

#[test]
fn a_websocket_is_more_than_looking_on() {
    let folder = Folder::new("socket");
    let service = open_to_network(&folder.0);
    let at = service.address;
    let heads = "GET /api/cameras/phone/frames HTTP/1.1\r\nUpgrade: websocket\r\n\
                 Sec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n";
    request(at, heads, b"").is_problem(401, "not_paired");
    let keyed = format!("ws://{at}/api/cameras/phone/frames");
    let mut dialled = tungstenite::client::IntoClientRequest::into_client_request(keyed).unwrap();
    let bearer = format!("Bearer {}", key(&folder.0)).parse().unwrap();
    dialled.headers_mut().insert("authorization", bearer);
    assert!(tungstenite::connect(dialled).is_ok());
}

#[test]
fn paired_devices_are_forgotten_all_at_once_and_the_one_that_asked_stays() {
    let folder = Folder::new("forgotten");
    let service = open_to_network(&folder.0);
    let at = service.address;
    let old = key(&folder.0);
    let cookie_head = |paired: &Answer| format!("Cookie: {}\r\n", cookie(paired));
    let (lost, kept) = (cookie_head(&pair(at, &old)), cookie_head(&pair(at, &old)));
    let socket = format!("ws://{at}/api/cameras/phone/frames");
    let mut socket = tungstenite::client::IntoClientRequest::into_client_request(socket).unwrap();
    socket.headers_mut().insert("authorization", format!("Bearer {old}").parse().unwrap());
    let (mut socket, _) = tungstenite::connect(socket).unwrap();

    let forget =
        |heads: &str| request(at, &format!("DELETE /api/devices HTTP/1.1\r\n{heads}"), b"");
    forget("").is_problem(401, "not_paired");
    let page = request(at, &format!("GET /setup HTTP/1.1\r\n{kept}"), b"").text();
    let pictures = page.split("id=\"pictures-link\"").nth(1).unwrap();
    let pictures = pictures.split('#').nth(1).unwrap().split('"').next().unwrap();
    forget(&format!("Authorization: Bearer {pictures}\r\n")).is_problem(401, "not_paired");
    forget(&format!("{kept}Origin: https://evil.example\r\n")).is_problem(403, "another_origin");
    assert_eq!(send_with(at, &lost).status, 201, "nobody was forgotten yet");

    let done = forget(&kept);
    assert_eq!((done.status, done.json()), (200, json!({ "may": "all" })));
    send_with(at, &lost).is_problem(401, "not_paired");
    send_with(at, &kept).is_problem(401, "not_paired");
    send_with(at, &format!("Authorization: Bearer {pictures}\r\n")).is_problem(401, "not_paired");
    pair(at, &old).is_problem(403, "wrong_key");
    assert_eq!(send_with(at, &cookie_head(&done)).status, 201, "who asked stays paired");
    assert_eq!(pair(at, &key(&folder.0)).status, 200);
    let mut end = socket.read();
    while end.as_ref().is_ok_and(|message| !message.is_close()) {
        end = socket.read();
    }
    let told = end.ok().and_then(|end| end.into_text().ok()).unwrap_or_default();
    assert!(told.contains("not paired any more"), "{told}");
    service.stop();

    let service = open_to_network(&folder.0);
    assert_eq!(send_with(service.address, &cookie_head(&done)).status, 201);
    pair(service.address, &old).is_problem(403, "wrong_key");
    let mode = std::fs::metadata(folder.0.join("access/key")).unwrap().permissions().mode();
    assert_eq!(mode & 0o777, 0o600);
    let alone = Folder::new("alone");
    let service = Service::plain(&alone.0);
    request(service.address, "DELETE /api/devices HTTP/1.1\r\n", b"")
        .is_problem(409, "nothing_paired");
}

#[test]
fn connections_are_encrypted_for_whoever_trusts_the_services_own_authority() {
    let folder = Folder::new("tls");
    let service = open_to_network(&folder.0);
    let at = service.address;
    let authority = get(at, "/authority.crt");
    assert_eq!(authority.header("content-type"), Some("application/x-x509-ca-cert"));
    let trust = trusting(authority.body.clone());
    let get_health = ("GET /healthz HTTP/1.1\r\n", &b""[..]);
    for name in ["127.0.0.1", "localhost"] {
        assert_eq!(encrypted(at, (&trust, name), get_health).unwrap().status, 200, "{name}");
    }
    let refused = encrypted(at, (&trust, "elsewhere.example"), get_health).unwrap_err();
    assert!(refused.contains("certificate"), "{refused}");

    let other = Folder::new("other");
    let stranger = open_to_network(&other.0);
    let strange = trusting(get(stranger.address, "/authority.crt").body);
    let refused = encrypted(at, (&strange, "localhost"), get_health).unwrap_err();
    assert!(refused.contains("certificate"), "{refused}");

    let key = key(&folder.0);
    let body = json!({ "key": key }).to_string();
    let head = format!(
        "POST /api/pairing HTTP/1.1\r\nContent-Type: application/json\r\nContent-Length: {}\r\n",
        body.len()
    );
    let paired = encrypted(at, (&trust, "localhost"), (&head, body.as_bytes())).unwrap();
    assert!(paired.header("set-cookie").unwrap().contains("; Secure"), "{paired:?}");
    let cookie = cookie(&paired);
    service.stop();

    // Devices stay paired, and go on trusting it.
    let service = open_to_network(&folder.0);
    assert_eq!(get(service.address, "/authority.crt").body, authority.body);
    let head = format!(
        "POST /api/frames HTTP/1.1\r\nCookie: {cookie}\r\nContent-Type: image/png\r\n\
         Content-Length: {}\r\n",
        frame().len()
    );
    let sent = encrypted(service.address, (&trust, "localhost"), (&head, &frame())).unwrap();
    assert_eq!(sent.status, 201, "{}", sent.text());
    for name in ["key", "authority.json", "server.json"] {
        let mode = std::fs::metadata(folder.0.join("access").join(name)).unwrap().permissions();
        assert_eq!(mode.mode() & 0o777, 0o600, "{name} is for its owner alone");
    }
}

#[test]
fn the_authority_vouches_for_nothing_but_this_machine_and_private_addresses() {
    let folder = Folder::new("bounds");
    let authority = get(open_to_network(&folder.0).address, "/authority.crt").body;
    let kept = std::fs::read_to_string(folder.0.join("access/authority.json")).unwrap();
    let kept: serde_json::Value = serde_json::from_str(&kept).unwrap();
    // Whoever took its key and made a certificate for another name with it:
    let own = rcgen::KeyPair::generate().unwrap();
    let mut issuer = rcgen::CertificateParams::default();
    issuer.distinguished_name = rcgen::DistinguishedName::new();
    issuer
        .distinguished_name
        .push(rcgen::DnType::CommonName, kept["common_name"].as_str().unwrap());
    let stolen = rcgen::KeyPair::from_pem(kept["key_pem"].as_str().unwrap()).unwrap();
    let issuer = rcgen::Issuer::new(issuer, stolen);
    let at_home = |name: &str| {
        let mut params = rcgen::CertificateParams::new([name.to_string()]).unwrap();
        params.distinguished_name = rcgen::DistinguishedName::new();
        let certificate = params.signed_by(&own, &issuer).unwrap();
        let (files, folder) = (Folder::new("forged"), Folder::new("forger"));
        let files = own_certificate(&files, &certificate.pem(), &own.serialize_pem());
        let service = with(&folder.0, own_access(&files));
        let asked = (&trusting(authority.clone()), name);
        encrypted(service.address, asked, ("GET /healthz HTTP/1.1\r\n", b""))
    };
    assert_eq!(at_home("localhost").unwrap().status, 200);
    assert_eq!(at_home("10.1.2.3").unwrap().status, 200);
    for name in ["bank.example", "8.8.8.8"] {
        let refused = at_home(name).unwrap_err();
        assert!(refused.contains("certificate"), "{name}: {refused}");
    }
}

/// A certificate of the user's in files.
fn own_certificate(folder: &Folder, certificate: &str, key: &str) -> OwnCertificate {
    let files =
        OwnCertificate { certificate: folder.0.join("own.pem"), key: folder.0.join("own-key.pem") };
    std::fs::create_dir_all(&folder.0).unwrap();
    std::fs::write(&files.certificate, certificate).unwrap();
    std::fs::write(&files.key, key).unwrap();
    files
}

fn own_access(files: &OwnCertificate) -> AccessSettings {
    AccessSettings { lan: true, certificate: Some(files.clone()), ..AccessSettings::default() }
}

#[test]
fn a_certificate_of_the_users_own_is_shown_instead() {
    let files = Folder::new("own");
    let key = rcgen::KeyPair::generate().unwrap();
    let params = rcgen::CertificateParams::new(["table.example".to_string()]).unwrap();
    let certificate = params.self_signed(&key).unwrap();
    let own = own_certificate(&files, &certificate.pem(), &key.serialize_pem());
    let folder = Folder::new("service");
    let service = with(&folder.0, own_access(&own));
    let trust = trusting(certificate.der().to_vec());
    let asked = (&trust, "table.example");
    let answer = encrypted(service.address, asked, ("GET /healthz HTTP/1.1\r\n", b"")).unwrap();
    assert_eq!(answer.status, 200);
    get(service.address, "/authority.crt").is_problem(404, "not_found");
    assert!(!folder.0.join("access/authority.json").exists());

    let other = rcgen::KeyPair::generate().unwrap().serialize_pem();
    let odd = own_certificate(&files, &certificate.pem(), &other);
    for (odd, words) in [
        (odd.clone(), "another certificate's key"),
        (OwnCertificate { key: odd.certificate.clone(), ..odd.clone() }, "no private key"),
        (OwnCertificate { certificate: odd.key.clone(), ..odd.clone() }, "no certificate"),
        (OwnCertificate { certificate: PathBuf::from("gone.pem"), ..odd }, "gone.pem"),
    ] {
        let folder = Folder::new("refused");
        let said = refusal(&folder, |serve| {
            serve
                .args(["--lan", "--listen", "127.0.0.1:0"])
                .arg("--certificate")
                .arg(&odd.certificate);
            serve.arg("--key").arg(&odd.key);
        });
        assert!(said.contains(words), "{words}: {said}");
    }
}

/// What a service says that must not start.
fn refusal(folder: &Folder, arguments: impl FnOnce(&mut Command)) -> String {
    let mut serve = Command::new(env!("CARGO_BIN_EXE_stillcloth"));
    serve.current_dir(&folder.0).arg("serve");
    arguments(&mut serve);
    let output = serve.output().unwrap();
    assert!(!output.status.success());
    assert!(!folder.0.join("data").exists(), "it was about to start");
    String::from_utf8_lossy(&output.stderr).into_owned()
}

#[test]
fn without_being_told_so_the_service_is_open_to_this_machine_alone() {
    let folder = Folder::new("alone");
    let said = refusal(&folder, |serve| {
        serve.args(["--listen", "0.0.0.0:0"]);
    });
    assert!(said.contains("add --lan"), "{said}");
    let said = refusal(&folder, |serve| {
        serve.args(["--lan", "--listen", "127.0.0.1:0", "--host", "https://table.example"]);
    });
    assert!(said.contains("no host's name"), "{said}");

    let service = Service::plain(&folder.0);
    assert_eq!(send_with(service.address, "").status, 201);
    assert!(!folder.0.join("access").exists(), "nothing is made that is not needed");
    assert!(get(service.address, "/pair").text().contains("--lan"));
    get(service.address, "/authority.crt").is_problem(404, "not_found");
}

#[test]
fn a_name_that_was_made_to_lead_here_is_refused() {
    let folder = Folder::new("rebinding");
    let access =
        AccessSettings { hosts: vec!["Table.example".into()], ..AccessSettings::default() };
    let service = with(&folder.0, access);
    let at = service.address;
    let asked = |hosts: &str| {
        let mut stream = connect(at);
        write!(stream, "GET /healthz HTTP/1.1\r\n{hosts}Connection: close\r\n\r\n").unwrap();
        answer(stream)
    };
    for host in [
        "127.0.0.1",
        "localhost:9",
        "[::1]:8014",
        "192.168.1.20",
        "table.example.",
        "TABLE.example",
    ] {
        assert_eq!(asked(&format!("Host: {host}\r\n")).status, 200, "{host}");
    }
    for host in [
        "evil.example",
        "localhost.evil.example",
        "table.example.evil.example",
        "127.0.0.1.evil.example",
    ] {
        asked(&format!("Host: {host}\r\n")).is_problem(421, "another_host");
    }
    asked("").is_problem(400, "no_host");
    asked("Host: a b\r\n").is_problem(400, "no_host");
    asked("Host: localhost\r\nHost: evil.example\r\n").is_problem(400, "no_host");
    request(at, "GET http://evil.example/healthz HTTP/1.1\r\n", b"")
        .is_problem(421, "another_host");
}

#[test]
fn pages_of_other_sites_change_nothing() {
    let folder = Folder::new("forgery");
    let access =
        AccessSettings { hosts: vec!["table.example".into()], ..AccessSettings::default() };
    let service = with(&folder.0, access);
    let at = service.address;
    let another_port = SocketAddr::new(at.ip(), at.port().wrapping_add(1));
    for heads in [
        "Origin: https://evil.example\r\n".to_string(),
        "Origin: null\r\n".into(),
        "Origin: \r\n".into(),
        format!("Origin: http://{another_port}\r\n"),
        format!("Origin: http://{at}\r\nOrigin: https://evil.example\r\n"),
        "Origin: https://table.example:99\r\n".into(),
        "Sec-Fetch-Site: cross-site\r\n".into(),
        "Sec-Fetch-Site: same-site\r\n".into(),
    ] {
        send_with(at, &heads).is_problem(403, "another_origin");
    }
    for heads in [
        String::new(),
        format!("Origin: http://{at}\r\nSec-Fetch-Site: same-origin\r\n"),
        "Origin: https://table.example\r\n".into(),
        "Sec-Fetch-Site: same-origin\r\n".into(),
    ] {
        assert_eq!(send_with(at, &heads).status, 201, "{heads}");
    }
    let answer = get(at, "/api/layouts/latest");
    assert_eq!(answer.header("cross-origin-resource-policy"), Some("same-origin"));
    assert_eq!(answer.header("access-control-allow-origin"), None);
}

#[test]
fn an_encrypted_page_is_its_own_origin_and_the_plain_one_is_not() {
    let folder = Folder::new("origin");
    let service = open_to_network(&folder.0);
    let at = service.address;
    let trust = trusting(get(at, "/authority.crt").body);
    let send = |origin: &str| {
        let head = format!(
            "POST /api/frames HTTP/1.1\r\nAuthorization: Bearer {}\r\nOrigin: {origin}\r\n\
             Content-Type: image/png\r\nContent-Length: {}\r\n",
            key(&folder.0),
            frame().len()
        );
        encrypted(at, (&trust, "localhost"), (&head, &frame())).unwrap()
    };
    send(&format!("http://{at}")).is_problem(403, "another_origin");
    assert_eq!(send(&format!("https://{at}")).status, 201);
}

#[test]
fn a_backup_is_as_secret_as_what_it_was_made_of() {
    let folder = Folder::new("secret");
    let service = open_to_network(&folder.0);
    let target = Folder::new("backup");
    let output = Command::new(env!("CARGO_BIN_EXE_stillcloth"))
        .args(["backup", "--data"])
        .args([&folder.0, &target.0])
        .output()
        .unwrap();
    assert!(output.status.success(), "{output:?}");
    for name in ["record.sqlite3", "access/key", "access/authority.json"] {
        let mode = std::fs::metadata(target.0.join(name)).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o600, "{name}");
    }
    service.stop();
    // Devices stay paired where the backup takes over.
    assert_eq!(key(&folder.0), key(&target.0));
}

#[test]
fn pictures_are_kept_for_as_long_as_the_settings_say() {
    let folder = Folder::new("keep");
    let data = folder.0.join("data");
    {
        let record = Record::open(&data, Retention::default()).unwrap();
        let rest = NewRest {
            at: "2020-01-01T00:00:00Z".parse().unwrap(),
            unseen_ms: 0,
            camera: "table".into(),
            layout: layout(3),
            picture: b"an old picture".to_vec(),
            format: PictureFormat::Jpeg,
        };
        record.append(rest).unwrap();
    }
    let address = std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap();
    let settings = format!("listen = '{address}'\n[pictures]\nkeep_days = 30\n");
    std::fs::write(folder.0.join("s.toml"), settings).unwrap();
    let mut serving = Command::new(env!("CARGO_BIN_EXE_stillcloth"))
        .current_dir(&folder.0)
        .args(["serve", "--settings", "s.toml"])
        .stderr(std::process::Stdio::null())
        .spawn()
        .unwrap();
    let gone = std::panic::catch_unwind(|| {
        crate::staging::until(
            "the old picture is let go",
            std::time::Duration::from_secs(20),
            || {
                std::net::TcpStream::connect(address).is_ok()
                    && get(address, "/api/layouts/1/frame").status == 404
            },
        );
    });
    serving.kill().unwrap();
    serving.wait().unwrap();
    assert!(gone.is_ok());
}
