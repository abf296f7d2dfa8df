//! The token: without it nothing is told or done, and nobody but who started the bench gets to know it.

use super::browser::{Browser, SHOP_PC};
use super::server::{Bench, Program};
use super::walk;
use serde_json::json;
use std::path::Path;

fn bench() -> (tempfile::TempDir, Bench) {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::open(folder.path());
    (folder, bench)
}

const PATHS: [&str; 14] = [
    "/api/here",
    "/api/start",
    "/api/stream",
    "/api/ports",
    "/api/report.svg",
    "/api/photographs/photograph-01.jpg",
    "/api/archive/tools?source=bench",
    "/api/archive/photograph?source=bench&record=a%2F1&name=b",
    "/api/nothing",
    "/assets/main.js",
    "/assets/nothing.js",
    "/manual",
    "/manual/pictures/ball",
    "/nothing",
];

#[test]
fn nothing_is_told_without_it_on_this_computer_either() {
    let (_folder, bench) = bench();
    for path in PATHS {
        let (status, answer) = bench.ask_as("GET", path, &[], "");
        assert_eq!(status, 401, "{path}: {answer}");
        let json = answer.contains("application/json");
        assert_eq!(json, path.starts_with("/api/"), "{path}: {answer}");
        assert!(
            answer.contains("heelclear bench` printed") || !json,
            "{answer}"
        );
    }
    let ours = ["X-Heelclear: 1", "Content-Type: application/json"];
    let plan = r#"{"recipe":"counterbore-pass","gauge":null,"stage":"after-grind","steps":[{"feature":"seat","z_mm":2}],"spacing_deg":0.5,"passes":2}"#;
    let (status, _) = bench.ask_as("POST", "/api/begin", &ours, plan);
    assert_eq!(status, 401);
    assert_eq!(bench.post("/api/judge", "{}").0, 400, "something was begun");
    // Who opens the bare address reads what to do.
    let (status, page) = bench.ask_as("GET", "/", &[], "");
    assert_eq!(status, 401);
    for word in [
        "text/html",
        "printed where it was started",
        "name=\"token\"",
    ] {
        assert!(page.contains(word), "{page}");
    }
    assert!(!page.contains(bench.secret()));
}

#[test]
fn it_is_exchanged_for_a_cookie_and_stands_in_no_address_any_more() {
    let (_folder, bench) = bench();
    let port = bench.address.port();
    let path = format!("/?token={}", bench.secret());
    let (status, answer) = bench.ask_as("GET", &path, &[], "");
    assert_eq!(status, 303, "{answer}");
    let cookie = format!(
        "set-cookie: heelclear_{port}={}; Path=/; HttpOnly; SameSite=Strict\r\n",
        bench.secret()
    );
    assert!(answer.contains(&cookie), "{answer}");
    assert!(answer.contains("location: /\r\n"), "{answer}");
    assert!(answer.contains("referrer-policy: no-referrer"), "{answer}");
    assert_eq!(bench.ask("GET", "/", &[], "").0, 200);
    // Somebody who is known already leaves such an address too, right or not.
    assert_eq!(bench.ask("GET", &path, &[], "").0, 303);
    assert_eq!(bench.ask("GET", "/?token=old", &[], "").0, 303);
    // It opens the page and nothing else.
    let api = format!("/api/start?token={}", bench.secret());
    assert_eq!(bench.ask_as("GET", &api, &[], "").0, 401);
}

#[test]
fn one_that_is_wrong_or_stands_there_twice_shows_nothing() {
    let (_folder, bench) = bench();
    let secret = bench.secret();
    let name = format!("heelclear_{}", bench.address.port());
    #[track_caller]
    fn check(bench: &Bench, path: &str, headers: &[&str], expected: u16) {
        let (status, answer) = bench.ask_as("GET", path, headers, "");
        assert_eq!(status, expected, "{path} {headers:?}: {answer}");
    }
    for query in [
        "",
        "wrong",
        &secret[1..],
        &format!("{secret}a"),
        &secret.to_uppercase(),
    ] {
        check(&bench, &format!("/?token={query}"), &[], 401);
    }
    check(
        &bench,
        &format!("/?token={secret}&token={secret}"),
        &[],
        401,
    );
    check(&bench, &format!("/?Token={secret}"), &[], 401);
    let pair = format!("Cookie: {name}={secret}");
    check(&bench, "/", &[&pair], 200);
    check(&bench, "/", &[&format!("{pair}; a=b;;c")], 200);
    check(&bench, "/", &[&format!("{pair}; {name}={secret}")], 401);
    check(&bench, "/", &[&pair, &pair], 401);
    check(&bench, "/", &[&format!("{pair}x")], 401);
    check(&bench, "/", &[&format!("Cookie: {name}=\"{secret}\"")], 401);
    check(
        &bench,
        "/",
        &[&format!("Cookie: heelclear_token={secret}")],
        401,
    );
    check(
        &bench,
        "/",
        &[&format!("Authorization: Bearer {secret}")],
        401,
    );
}

#[test]
fn a_reload_a_second_page_and_the_bare_address_go_on_in_the_same_browser() {
    let Some((_folder, bench, mut page)) = walk::opened(SHOP_PC) else {
        return;
    };
    let known = "document.getElementById('try-counterbore-pass')";
    page.until(known);
    assert_eq!(page.js("return location.href"), json!(bench.bare_url()));
    assert_eq!(page.js("return document.cookie + document.referrer"), "");
    page.reload();
    page.until(known);
    let first = page.beside(&bench.bare_url());
    page.until(known);
    page.goto(&format!("{}?token=of-another-start", bench.bare_url()));
    page.until(known);
    assert_eq!(page.js("return location.href"), json!(bench.bare_url()));
    page.switch(first);
    page.until(known);
    // Two benches of one computer are told apart, and opening one leaves the other as it was.
    let other_folder = tempfile::tempdir().unwrap();
    let other = Bench::open(other_folder.path());
    let first = page.beside(&other.url());
    page.until(known);
    page.switch(first);
    page.reload();
    page.until(known);
    page.goto(&other.bare_url());
    page.until(known);
}

#[test]
fn who_was_not_told_the_address_reads_what_to_do_and_can_type_the_token() {
    let (_folder, bench) = bench();
    let Some(page) = Browser::open(&bench.bare_url(), SHOP_PC) else {
        return;
    };
    page.until("document.body.innerText.includes('Open the address that')");
    page.js(&format!(
        "document.querySelector('[name=token]').value = {}; document.querySelector('button').click();",
        json!(bench.secret())
    ));
    page.until("document.getElementById('try-counterbore-pass')");
    assert_eq!(page.js("return location.href"), json!(bench.bare_url()));
}

fn status_at(address: &str, path: &str) -> u16 {
    use std::io::{Read, Write};
    let mut stream = std::net::TcpStream::connect(address).unwrap();
    let request = format!("GET {path} HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n");
    stream.write_all(request.as_bytes()).unwrap();
    let mut answer = String::new();
    stream.read_to_string(&mut answer).unwrap();
    answer.split(' ').nth(1).unwrap().parse().unwrap()
}

/// Starts the program, and gives the token of the address that it prints.
#[track_caller]
fn started(folder: &Path, arguments: &[&str], variable: Option<&str>) -> (Program, String, String) {
    let program = Program::start(folder, arguments, variable);
    let page = program.page.clone();
    let (address, token) = page
        .strip_prefix("http://")
        .and_then(|rest| rest.split_once("/?token="))
        .unwrap();
    let told = (address.to_owned(), token.to_owned());
    assert_eq!(status_at(&told.0, "/"), 401);
    assert_eq!(status_at(&told.0, &format!("/?token={}", told.1)), 303);
    (program, told.0, told.1)
}

#[test]
fn the_program_draws_one_at_each_start_and_prints_it_nowhere_else() {
    let folder = tempfile::tempdir().unwrap();
    let (first, _, token) = started(folder.path(), &[], None);
    let (second, _, other) = started(folder.path(), &[], None);
    assert!(token.len() >= 24 && token != other);
    for (mut program, token) in [(first, token), (second, other)] {
        #[cfg(target_os = "linux")]
        {
            let line = std::fs::read(format!("/proc/{}/cmdline", program.id())).unwrap();
            assert!(!String::from_utf8_lossy(&line).contains(&token));
        }
        let said = program.stop();
        assert!(!said.contains(&token), "{said}");
    }
}

#[test]
fn one_that_is_given_stays_and_is_told_where_others_could_read_it() {
    let folder = tempfile::tempdir().unwrap();
    let (mut by_variable, _, token) = started(folder.path(), &[], Some("oil-on-the-other-hand"));
    assert_eq!(token, "oil-on-the-other-hand");
    #[cfg(target_os = "linux")]
    {
        let line = std::fs::read(format!("/proc/{}/cmdline", by_variable.id())).unwrap();
        assert!(!String::from_utf8_lossy(&line).contains(&token));
    }
    let said = by_variable.stop();
    assert!(!said.contains("list of processes"), "{said}");
    let given = ["--token", "oil-on-this-hand"];
    let (mut by_flag, _, token) = started(folder.path(), &given, Some("not-this-one"));
    assert_eq!(token, "oil-on-this-hand");
    let said = by_flag.stop();
    assert!(said.contains("list of processes"), "{said}");
}

#[test]
fn one_that_is_no_token_is_refused_and_not_repeated() {
    let folder = tempfile::tempdir().unwrap();
    for given in ["short", "semi;colon;semi", "ümlaute-in-it", ""] {
        let mut program = assert_cmd::Command::cargo_bin("heelclear").unwrap();
        program
            .current_dir(folder.path())
            .args(["bench", "--port", "0"]);
        let refused = program.env("HEELCLEAR_TOKEN", given).assert().failure();
        let said = String::from_utf8_lossy(&refused.get_output().stderr).into_owned();
        assert!(
            said.contains("HEELCLEAR_TOKEN") && said.contains("8 to 200"),
            "{said}"
        );
        assert!(given.is_empty() || !said.contains(given), "{said}");
    }
}
