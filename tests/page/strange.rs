//! Requests that no browser sends as a page of the bench: refused, and never taken for one that lacks
//! what is strange about them.

use super::server::Bench;
use super::shelf;

/// Sends a request of these lines, which shows the token, and gives the status.
#[track_caller]
fn status(bench: &Bench, first: &str, headers: &[&str], body: &str) -> u16 {
    let mut request = format!("{first}\r\n");
    for header in headers {
        request += &format!("{header}\r\n");
    }
    request += &format!("{}\r\nConnection: close\r\n\r\n{body}", bench.cookie());
    bench.raw(request.as_bytes()).0
}

#[track_caller]
fn check(bench: &Bench, headers: &[&str], expected: u16) {
    let host = format!("Host: {}", bench.address);
    let all = [&[host.as_str()], headers].concat();
    let read = status(bench, "GET /api/here HTTP/1.1", &all, "");
    assert_eq!(read, expected, "{headers:?}");
    // What changes something is held to the same.
    let change = [&["X-Heelclear: 1", "Content-Length: 2"], all.as_slice()].concat();
    let changed = status(bench, "POST /api/leave HTTP/1.1", &change, "{}");
    assert_eq!(changed, expected, "POST {headers:?}");
}

fn bench() -> (tempfile::TempDir, Bench) {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::open(folder.path());
    (folder, bench)
}

#[test]
fn an_origin_that_is_not_this_very_page_is_refused() {
    let (_folder, bench) = bench();
    let port = bench.address.port();
    check(&bench, &[], 200);
    let own = format!("Origin: http://127.0.0.1:{port}");
    check(&bench, &[&own], 200);
    check(&bench, &[&own, &own], 403);
    for strange in [
        "null".to_owned(),
        "NULL".to_owned(),
        String::new(),
        "file://".to_owned(),
        format!("HTTP://127.0.0.1:{port}"),
        format!("https://127.0.0.1:{port}"),
        format!("http://localhost:{port}"),
        format!("http://127.0.0.1.:{port}"),
        format!("http://127.0.0.1:{port}/"),
        format!("http://127.0.0.1:{port}."),
        format!("http://127.0.0.1:{port}, http://127.0.0.1:{port}"),
        format!("http://127.0.0.1:{port} http://evil.example"),
        format!("http://user@127.0.0.1:{port}"),
        format!("http://127.0.0.1:{}", port ^ 1),
        "http://127.0.0.1".to_owned(),
        "\u{fc}".to_owned(),
    ] {
        check(&bench, &[&format!("Origin: {strange}")], 403);
    }
    let host = format!("Host: {}\r\n", bench.address);
    let raw = [
        b"GET /api/here HTTP/1.1\r\n",
        host.as_bytes(),
        b"Origin: \xff\xfe\r\nConnection: close\r\n\r\n",
    ];
    assert_eq!(bench.raw(&raw.concat()).0, 403);
}

#[test]
fn a_host_that_is_strange_or_stands_there_twice_is_refused() {
    let (_folder, bench) = bench();
    let port = bench.address.port();
    let first = "GET /api/here HTTP/1.1";
    let own = format!("Host: 127.0.0.1:{port}");
    assert_eq!(status(&bench, first, &[&own], ""), 200);
    assert_eq!(status(&bench, first, &[], ""), 403);
    assert_eq!(status(&bench, first, &[&own, &own], ""), 403);
    let evil = format!("Host: evil.example:{port}");
    assert_eq!(status(&bench, first, &[&own, &evil], ""), 403);
    assert_eq!(status(&bench, first, &[&evil, &own], ""), 403);
    for host in [
        "",
        "127.0.0.1",
        "localhost.:PORT",
        "127.0.0.1.:PORT",
        "[127.0.0.1]:PORT",
        "127.0.0.1:+PORT",
        "127.0.0.1:0PORT",
        "127.0.0.1:PORT:PORT",
        "127.0.0.1:PORT, evil.example",
        "user@127.0.0.1:PORT",
        "127.1:PORT",
        "0x7f000001:PORT",
        "0.0.0.0:PORT",
        "evil.example",
        "\u{fc}",
    ] {
        let host = format!("Host: {}", host.replace("PORT", &port.to_string()));
        assert_eq!(status(&bench, first, &[&host], ""), 403, "{host}");
    }
    // HTTP/1.0 knows no host; one that says so all the same is answered.
    assert_eq!(status(&bench, "GET /api/here HTTP/1.0", &[], ""), 403);
    assert_eq!(status(&bench, "GET /api/here HTTP/1.0", &[&own], ""), 200);
    // An address that names the place goes before the header (RFC 9112, 3.2.2).
    for (address, expected) in [
        (format!("http://127.0.0.1:{port}"), 200),
        (format!("http://localhost:{port}"), 403),
        (format!("http://evil.example:{port}"), 403),
        (format!("https://127.0.0.1:{port}"), 403),
        (format!("http://user@127.0.0.1:{port}"), 403),
    ] {
        let first = format!("GET {address}/api/here HTTP/1.1");
        assert_eq!(status(&bench, &first, &[&own], ""), expected, "{first}");
    }
}

#[test]
fn where_a_browser_says_that_it_comes_from_is_one_of_four_words() {
    let (_folder, bench) = bench();
    for (site, expected) in [
        ("same-origin", 200),
        ("none", 200),
        ("same-site", 403),
        ("cross-site", 403),
        ("", 403),
        ("Same-Origin", 403),
        ("same-origin, same-origin", 403),
        ("anything", 403),
        ("\u{fc}", 403),
    ] {
        check(&bench, &[&format!("Sec-Fetch-Site: {site}")], expected);
    }
    let same = "Sec-Fetch-Site: same-origin";
    check(&bench, &[same, same], 403);
    // A link from elsewhere opens the page in a window, and nothing more.
    let host = format!("Host: {}", bench.address);
    let far = "Sec-Fetch-Site: cross-site";
    let open = |headers: &[&str]| status(&bench, "GET / HTTP/1.1", headers, "");
    assert_eq!(open(&[&host, far]), 200);
    assert_eq!(open(&[&host, far, "Sec-Fetch-Mode: navigate"]), 200);
    assert_eq!(open(&[&host, far, "Sec-Fetch-Mode: no-cors"]), 403);
    assert_eq!(open(&[&host, "Sec-Fetch-Site: anything"]), 403);
}

#[test]
fn the_header_of_a_change_is_one_word_that_stands_there_once() {
    let (_folder, bench) = bench();
    let host = format!("Host: {}", bench.address);
    let post = |ours: &[&str]| {
        let all = [&[host.as_str(), "Content-Length: 2"], ours].concat();
        status(&bench, "POST /api/leave HTTP/1.1", &all, "{}")
    };
    assert_eq!(post(&["X-Heelclear: 1"]), 200);
    for ours in [
        "",
        "X-Heelclear:",
        "X-Heelclear: 2",
        "X-Heelclear: 1, 1",
        "X-Heelclear: true",
    ] {
        let some: Vec<&str> = Some(ours).filter(|it| !it.is_empty()).into_iter().collect();
        assert_eq!(post(&some), 403, "{ours}");
    }
    assert_eq!(post(&["X-Heelclear: 1", "X-Heelclear: 1"]), 403);
}

#[test]
fn strange_methods_heads_and_paths_are_answered_and_change_nothing() {
    let (folder, bench) = bench();
    shelf::many(folder.path(), 1);
    let host = format!("Host: {}", bench.address);
    let ours = [host.as_str(), "X-Heelclear: 1"];
    #[track_caller]
    fn within(status: u16, expected: &[u16], what: &str) {
        assert!(expected.contains(&status), "{what}: {status}");
    }
    for (method, path) in [
        ("HEAD", "/"),
        ("PUT", "/api/leave"),
        ("DELETE", "/api/start"),
        ("TRACE", "/"),
        ("BREW", "/api/start"),
        ("OPTIONS", "*"),
        ("OPTIONS", "/api/leave"),
        ("CONNECT", &bench.address.to_string()),
    ] {
        let first = format!("{method} {path} HTTP/1.1");
        within(
            status(&bench, &first, &[&host], ""),
            &[400, 403, 405],
            &first,
        );
        within(
            status(&bench, &first, &ours, ""),
            &[200, 400, 403, 404, 405],
            &first,
        );
    }
    for path in [
        "/api/cards/tool/..%2F..%2Fsecret.toml",
        "/api/cards/tool/a%00b.toml",
        "/api/cards/tool/%00",
        "/api/cards/tool/%ff.toml",
        "/api/cards/tool%2Fx.toml",
        "/api%2Fstart",
        "/api/photographs/..%2F..%2Ftool.toml",
        "/api/photographs/a%00.jpg",
        "/api/inspections/a%00b/report.svg",
        "/api/records/a%00/1/report.svg?source=bench",
        "/api/grinders/..%2Fx.toml/learnt",
        "/api/archive/photograph?source=bench&record=a%2F1&name=%00",
        "/assets/%2e%2e%2fmod.rs",
        "/assets/main.js%00",
        "//evil.example/",
        "/%",
        "/%zz",
        "/manual/%00",
    ] {
        let first = format!("GET {path} HTTP/1.1");
        within(status(&bench, &first, &[&host], ""), &[400, 404], &first);
    }
    let long = format!("X-Long: {}", "a".repeat(70 * 1024));
    within(
        status(&bench, "GET / HTTP/1.1", &[&host, &long], ""),
        &[400, 431],
        "a long head",
    );
    let many: Vec<String> = (0..200).map(|at| format!("X-Many-{at}: 1")).collect();
    let many: Vec<&str> = std::iter::once(host.as_str())
        .chain(many.iter().map(String::as_str))
        .collect();
    within(
        status(&bench, "GET / HTTP/1.1", &many, ""),
        &[400, 431],
        "many headers",
    );
    let path = format!("GET /{} HTTP/1.1", "a".repeat(70 * 1024));
    within(
        status(&bench, &path, &[&host], ""),
        &[400, 404, 414, 431],
        "a long path",
    );
    for raw in [
        "PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
        "GET /\r\n\r\n",
        "GET / HTTP/9.9\r\n\r\n",
        "\0\0\0\0\r\n\r\n",
        "GET / HTTP/1.1\r\nHost : x\r\n\r\n",
        "GET / HTTP/1.1\r\n folded: x\r\n\r\n",
    ] {
        within(bench.raw(raw.as_bytes()).0, &[0, 400, 403, 505], raw);
    }
    assert_eq!(bench.ask("GET", "/", &[], "").0, 200);
}

#[test]
fn a_body_in_pieces_is_read_and_one_that_lies_about_its_length_is_not() {
    let (_folder, bench) = bench();
    let begun = bench.begun("POST", "/api/resume")
        + "X-Heelclear: 1\r\nContent-Type: application/json\r\nConnection: close\r\n";
    let body = r#"{"folder":"none-such"}"#;
    let (first, second) = body.split_at(9);
    let pieces = format!(
        "{begun}Transfer-Encoding: chunked\r\n\r\n{:x}\r\n{first}\r\n{:x};note=1\r\n{second}\r\n0\r\nX-Trailer: 1\r\n\r\n",
        first.len(),
        second.len()
    );
    let (status, answer) = bench.raw(pieces.as_bytes());
    assert_eq!(status, 404, "{answer}");
    assert!(answer.contains("there is no such inspection"), "{answer}");
    // Two lengths, or a length and pieces, could be read in two ways (RFC 9112, 6.1 and 6.3).
    for lengths in [
        "Content-Length: 5\r\nContent-Length: 6\r\n",
        "Content-Length: 5, 6\r\n",
        "Content-Length: -1\r\n",
        "Content-Length: +22\r\n",
        "Content-Length: 99999999999999999999999\r\n",
        "Transfer-Encoding: gzip\r\n",
        "Transfer-Encoding: chunked, gzip\r\n",
    ] {
        let (status, answer) = bench.raw(format!("{begun}{lengths}\r\n{body}").as_bytes());
        assert_eq!(status, 400, "{lengths}: {answer}");
    }
    let bad = format!("{begun}Transfer-Encoding: chunked\r\n\r\nzz\r\n{body}\r\n0\r\n\r\n");
    assert_eq!(bench.raw(bad.as_bytes()).0, 400);
    // More than is ever sent, in pieces that name no length beforehand.
    let piece = format!("{:x}\r\n{}\r\n", 64 * 1024, "x".repeat(64 * 1024));
    let long = format!(
        "{begun}Transfer-Encoding: chunked\r\n\r\n{}0\r\n\r\n",
        piece.repeat(8)
    );
    let (status, _) = bench.raw(long.as_bytes());
    assert!(status == 413 || status == 0, "{status}");
    assert_eq!(bench.ask("GET", "/", &[], "").0, 200);
}

#[test]
fn requests_in_a_row_are_answered_in_their_order_each_by_what_it_shows() {
    let (_folder, bench) = bench();
    let known = bench.begun("GET", "/api/here") + "\r\n";
    let last = bench.begun("GET", "/api/here") + "Connection: close\r\n\r\n";
    let (_, answer) = bench.raw(format!("{known}{known}{last}").as_bytes());
    assert_eq!(answer.matches("HTTP/1.1 200 OK").count(), 3, "{answer}");
    // One that shows nothing is the last on its connection, whoever asked before it.
    let bare = format!("GET /api/here HTTP/1.1\r\nHost: {}\r\n\r\n", bench.address);
    let (_, answer) = bench.raw(format!("{known}{bare}{known}").as_bytes());
    assert_eq!(answer.matches("HTTP/1.1 200 OK").count(), 1, "{answer}");
    assert_eq!(answer.matches("HTTP/1.1 401").count(), 1, "{answer}");
}
