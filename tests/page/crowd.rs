//! Those who are slow, or many, or never read: none of them keeps a page of the bench away, or makes
//! the bench stop.

use super::browser::{Browser, SHOP_PC};
use super::server::{Bench, Program, Served};
use super::walk::{begin, record};
use heelclear::page::Limits;
use std::io::{ErrorKind, Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::process::Command;
use std::time::{Duration, Instant};

/// Longer than any limit here by far: what takes so long hangs.
const HANGS: Duration = Duration::from_secs(60);

fn served(limits: Limits) -> (tempfile::TempDir, Bench) {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::with(Served {
        limits,
        ..Served::of(folder.path())
    });
    (folder, bench)
}

fn connected(address: SocketAddr) -> TcpStream {
    let stream = TcpStream::connect(address).unwrap();
    stream.set_read_timeout(Some(HANGS)).unwrap();
    stream
}

/// What comes until the other side ends.
#[track_caller]
fn rest(stream: &mut TcpStream) -> String {
    let mut read = Vec::new();
    match stream.read_to_end(&mut read) {
        Ok(_) => {}
        Err(fault) if fault.kind() == ErrorKind::ConnectionReset => {}
        Err(fault) => panic!("it was never ended: {fault}"),
    }
    String::from_utf8_lossy(&read).into_owned()
}

/// Sends a little again and again until the other side has ended.
#[track_caller]
fn until_ended(stream: &mut TcpStream, some: &[u8], pause: Duration) {
    let began = Instant::now();
    while began.elapsed() < HANGS {
        if stream.write_all(some).is_err() {
            return;
        }
        std::thread::sleep(pause);
    }
    panic!("it was never ended");
}

/// Connections that each sent a part of a head.
fn half_sent(address: SocketAddr, count: usize) -> Vec<TcpStream> {
    let half = |_| {
        let mut stream = TcpStream::connect(address).ok()?;
        let _ = stream.write_all(b"GET /api/start HTTP/1.1\r\nHost: 127");
        Some(stream)
    };
    (0..count).filter_map(half).collect()
}

/// Reads a stream of events until this was told.
#[track_caller]
fn hears(stream: &mut TcpStream, event: &str) {
    let (mut told, mut some) = (String::new(), [0; 4096]);
    while !told.contains(event) {
        let count = stream.read(&mut some).unwrap();
        assert!(count > 0, "the stream ended: {told}");
        told += &String::from_utf8_lossy(&some[..count]);
    }
}

fn listening(bench: &Bench) -> TcpStream {
    let mut stream = connected(bench.address);
    let request = bench.begun("GET", "/api/stream") + "\r\n";
    stream.write_all(request.as_bytes()).unwrap();
    hears(&mut stream, "event: bench");
    stream
}

#[test]
fn a_head_that_comes_byte_by_byte_is_given_up() {
    let (_folder, bench) = served(Limits {
        head: Duration::from_secs(1),
        ..Limits::default()
    });
    let mut silent = connected(bench.address);
    let mut slow = connected(bench.address);
    slow.write_all(b"GET / HTTP/1.1\r\nX-Slow: ").unwrap();
    until_ended(&mut slow, b"a", Duration::from_millis(50));
    assert!(!rest(&mut silent).contains("200"));
    // Between two requests no more is waited either.
    let mut idle = connected(bench.address);
    let request = bench.begun("GET", "/api/here") + "\r\n";
    idle.write_all(request.as_bytes()).unwrap();
    assert!(rest(&mut idle).starts_with("HTTP/1.1 200"));
}

#[test]
fn a_body_that_stops_or_trickles_is_given_up_in_plain_words() {
    let (_folder, bench) = served(Limits {
        body: Duration::from_secs(1),
        ..Limits::default()
    });
    for path in ["/api/resume", "/api/notes", "/api/photographs"] {
        let head = bench.begun("POST", path)
            + "X-Heelclear: 1\r\nContent-Type: application/json\r\nConnection: close\r\nContent-Length: 4000\r\n\r\n{";
        let mut stopped = connected(bench.address);
        stopped.write_all(head.as_bytes()).unwrap();
        let answer = rest(&mut stopped);
        assert!(answer.starts_with("HTTP/1.1 408"), "{path}: {answer}");
        assert!(answer.contains("did not come whole in time"), "{answer}");
    }
    let mut trickle = connected(bench.address);
    let head = bench.begun("POST", "/api/notes")
        + "X-Heelclear: 1\r\nContent-Type: application/json\r\nContent-Length: 4000\r\n\r\n{";
    trickle.write_all(head.as_bytes()).unwrap();
    until_ended(&mut trickle, b" ", Duration::from_millis(50));
    // Who shows no token is not waited for at all.
    let mut stranger = connected(bench.address);
    let head = format!(
        "POST /api/notes HTTP/1.1\r\nHost: {}\r\nX-Heelclear: 1\r\nContent-Length: 4000\r\n\r\n{{",
        bench.address
    );
    stranger.write_all(head.as_bytes()).unwrap();
    assert!(rest(&mut stranger).starts_with("HTTP/1.1 401"));
}

#[test]
fn a_crowd_of_half_sent_heads_keeps_no_page_away() {
    let (_folder, bench) = served(Limits {
        head: HANGS * 10,
        strangers: 16,
        ..Limits::default()
    });
    let mut stream = listening(&bench);
    let mut kept = connected(bench.address);
    let request = bench.begun("GET", "/api/here") + "\r\n";
    let answered = |kept: &mut TcpStream| {
        kept.write_all(request.as_bytes()).unwrap();
        let mut some = [0; 4096];
        let count = kept.read(&mut some).unwrap();
        assert!(some[..count].starts_with(b"HTTP/1.1 200"));
    };
    answered(&mut kept);
    let mut crowd = Vec::new();
    for _ in 0..5 {
        crowd.extend(half_sent(bench.address, 40));
        // One that knows the bench comes in, and those that are in stay.
        assert_eq!(bench.ask("GET", "/api/start", &[], "").0, 200);
        answered(&mut kept);
        hears(&mut stream, "event: alive");
    }
    // The oldest of the crowd had to go.
    assert!(rest(&mut crowd[0]).is_empty());
    // Somebody new reads what to do.
    assert_eq!(bench.ask_as("GET", "/", &[], "").0, 401);
}

#[test]
fn who_reads_nothing_is_given_up() {
    let (_folder, bench) = served(Limits {
        stalled: Duration::from_secs(1),
        ..Limits::default()
    });
    // Answers that nobody takes.
    let request = bench.begun("GET", "/assets/look.css") + "\r\n";
    let mut greedy = connected(bench.address);
    greedy.set_nonblocking(true).unwrap();
    until_given_up(&mut greedy, request.as_bytes());
    // A stream that nobody takes, while a tool is turned.
    let plan = r#"{"recipe":"counterbore-pass","gauge":null,"stage":"after-grind","steps":[{"feature":"seat","z_mm":2}],"spacing_deg":0.05,"passes":50}"#;
    for (path, body) in [
        ("/api/begin", plan),
        ("/api/caution", "{}"),
        ("/api/connect", r#"{"faster":20}"#),
    ] {
        assert_eq!(bench.post(path, body).0, 200, "{path}");
    }
    let mut stalled = connected(bench.address);
    let request = bench.begun("GET", "/api/stream") + "\r\n";
    stalled.write_all(request.as_bytes()).unwrap();
    let mut reader = listening(&bench);
    hears(&mut reader, "\"phase\":\"setting\"");
    assert_eq!(bench.post("/api/order/set", "{}").0, 200);
    hears(&mut reader, "\"phase\":\"turning\"");
    std::thread::scope(|scope| {
        let ended = scope.spawn(move || {
            stalled.set_nonblocking(true).unwrap();
            until_given_up(&mut stalled, b"x");
        });
        // One that reads hears everything meanwhile.
        while !ended.is_finished() {
            hears(&mut reader, "event: moving");
        }
    });
    hears(&mut reader, "event: ");
}

/// Sends and never reads, until the other side has ended.
#[track_caller]
fn until_given_up(stream: &mut TcpStream, some: &[u8]) {
    let began = Instant::now();
    while began.elapsed() < HANGS {
        match stream.write(some) {
            Ok(_) => {}
            // It does not read either, where it cannot answer.
            Err(fault) if fault.kind() == ErrorKind::WouldBlock => {}
            Err(_) => return,
        }
        std::thread::sleep(Duration::from_millis(1));
    }
    panic!("it was never given up");
}

#[test]
fn a_page_more_than_are_fed_has_the_oldest_stand_aside_and_end() {
    let (_folder, bench) = served(Limits {
        known: 12,
        ..Limits::default()
    });
    let mut streams: Vec<TcpStream> = (0..10).map(|_| listening(&bench)).collect();
    for aside in &mut streams[..6] {
        assert!(rest(aside).contains("event: aside"));
    }
    // Many that ask once and never read keep nobody away either.
    let request = bench.begun("GET", "/api/stream") + "\r\n";
    let mut never_read = Vec::new();
    for _ in 0..40 {
        let mut stream = connected(bench.address);
        stream.write_all(request.as_bytes()).unwrap();
        never_read.push(stream);
        assert_eq!(bench.ask("GET", "/api/here", &[], "").0, 200);
    }
    hears(&mut listening(&bench), "event: alive");
}

/// Where the system gives no more files, what waits goes on waiting, and nothing ends.
#[test]
fn a_program_without_a_file_to_spare_goes_on() {
    let folder = tempfile::tempdir().unwrap();
    let mut command = Command::new("sh");
    let program = assert_cmd::cargo::cargo_bin("heelclear");
    command
        .args(["-c", "ulimit -n 20 && exec \"$0\" bench --port 0"])
        .arg(program)
        .current_dir(folder.path());
    let mut program = Program::of(command, None);
    let address: SocketAddr = {
        let page = program.page.strip_prefix("http://").unwrap();
        page.split('/').next().unwrap().parse().unwrap()
    };
    let _crowd = half_sent(address, 200);
    let path = &program.page[program.page.find("/?").unwrap()..];
    let request = format!("GET {path} HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n");
    // It may be the one that has to go, and comes again as a browser does.
    let opened = (0..50).any(|_| {
        let mut stream = connected(address);
        stream.write_all(request.as_bytes()).is_ok()
            && rest(&mut stream).starts_with("HTTP/1.1 303")
    });
    assert!(opened, "{}", program.stop());
}

#[test]
fn a_page_measures_to_the_end_while_others_hold_all_they_can() {
    let (_folder, bench) = served(Limits {
        stalled: Duration::from_secs(2),
        ..Limits::default()
    });
    let Some(page) = Browser::open(&bench.url(), SHOP_PC) else {
        return;
    };
    let _crowd = half_sent(bench.address, 600);
    let mut stalled = connected(bench.address);
    let request = bench.begun("GET", "/api/stream") + "\r\n";
    stalled.write_all(request.as_bytes()).unwrap();
    begin(&page, "counterbore-pass");
    record(&page, "reference");
    let _more = half_sent(bench.address, 600);
    record(&page, "seat");
    page.until("document.querySelector('.verdict.pass')");
    page.until("document.querySelector('img.report').naturalWidth > 100");
    page.reload();
    page.until("document.querySelector('.verdict.pass')");
}
