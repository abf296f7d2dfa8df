//! Who may ask, and what is done about those who may not: without a browser, word for word.

use super::server::Bench;
use proptest::prelude::*;

fn bench() -> (tempfile::TempDir, Bench) {
    let folder = tempfile::tempdir().unwrap();
    let bench = Bench::open(folder.path());
    (folder, bench)
}

#[test]
fn a_host_or_an_origin_of_another_place_is_refused() {
    let (_folder, bench) = bench();
    let port = bench.address.port();
    let host = |name: &str| format!("Host: {name}:{port}");
    #[track_caller]
    fn check(bench: &Bench, method: &str, path: &str, headers: &[&str], expected: u16) {
        let (status, answer) = bench.ask(method, path, headers, "{}");
        assert_eq!(status, expected, "{method} {path} {headers:?}\n{answer}");
    }
    let json = "Content-Type: application/json";
    let ours = "X-Heelclear: 1";
    let own = format!("Origin: http://127.0.0.1:{port}");
    check(&bench, "GET", "/", &[], 200);
    check(&bench, "GET", "/", &[&host("localhost")], 200);
    // A name that was pointed at this computer.
    check(&bench, "GET", "/", &[&host("evil.example")], 403);
    check(&bench, "GET", "/api/start", &[&host("evil.example")], 403);
    check(&bench, "GET", "/", &["Host: 127.0.0.1:1"], 403);
    check(&bench, "POST", "/api/leave", &[ours, json, &own], 200);
    check(&bench, "POST", "/api/leave", &[ours, json], 200);
    check(&bench, "POST", "/api/leave", &[json], 403);
    check(
        &bench,
        "POST",
        "/api/leave",
        &[ours, json, "Origin: http://evil.example"],
        403,
    );
    check(
        &bench,
        "POST",
        "/api/leave",
        &[ours, json, "Origin: null"],
        403,
    );
    check(
        &bench,
        "GET",
        "/api/start",
        &["Sec-Fetch-Site: cross-site"],
        403,
    );
    check(
        &bench,
        "GET",
        "/api/start",
        &["Sec-Fetch-Site: same-site"],
        403,
    );
    check(
        &bench,
        "GET",
        "/api/start",
        &["Sec-Fetch-Site: same-origin"],
        200,
    );
    // A link from elsewhere may open the page, and nothing more.
    check(&bench, "GET", "/", &["Sec-Fetch-Site: cross-site"], 200);
}

#[test]
fn every_answer_tells_the_browser_to_be_strict() {
    let (_folder, bench) = bench();
    for path in ["/", "/assets/main.js", "/api/start", "/api/nothing"] {
        let (_, answer) = bench.ask("GET", path, &[], "");
        for word in [
            "content-security-policy: default-src",
            "frame-ancestors 'none'",
            "nosniff",
            "no-store",
        ] {
            assert!(answer.contains(word), "{path} lacks {word}\n{answer}");
        }
    }
}

#[test]
fn no_name_leads_out_of_the_folder() {
    let (folder, bench) = bench();
    std::fs::write(folder.path().join("secret.toml"), "schema = 1").unwrap();
    std::fs::create_dir(folder.path().join("hidden")).unwrap();
    for path in [
        "/api/cards/tool/..%2Fsecret.toml",
        "/api/cards/tool/%2e%2e%2fsecret.toml",
        "/api/cards/tool/..%5Csecret.toml",
        "/api/cards/tool/%2Fetc%2Fpasswd",
        "/api/inspections/..%2F..%2Fetc/report.svg",
        "/api/inspections/hidden/report.svg",
        "/assets/..%2Fmod.rs",
        "/assets/../mod.rs",
    ] {
        let (status, answer) = bench.ask("GET", path, &[], "");
        assert!((400..500).contains(&status), "{path}: {answer}");
        assert!(
            !answer.contains("root:") && !answer.contains("schema = 1"),
            "{path}"
        );
    }
    let (status, _) = bench.post("/api/resume", r#"{"folder":"../.."}"#);
    assert_eq!(status, 400);
    let form = r#"{"units":"mm","values":{}}"#;
    let (_, answer) = bench.post("/api/cards/tool/..%2F..%2Fup.toml", form);
    // Its name is made safe, and an empty form is objected to all the same.
    assert!(answer.contains("objections"), "{answer}");
    assert!(!folder.path().join("../up.toml").exists());
}

#[test]
fn a_body_that_is_too_long_is_refused() {
    let (_folder, bench) = bench();
    let long = format!(r#"{{"folder":"{}"}}"#, "x".repeat(600 * 1024));
    let (status, _) = bench.post("/api/resume", &long);
    assert!(status == 413 || status == 0, "{status}");
    assert_eq!(bench.ask("GET", "/", &[], "").0, 200);
}

#[test]
fn what_cannot_be_done_now_is_refused_in_plain_words() {
    let (_folder, bench) = bench();
    #[track_caller]
    fn check(bench: &Bench, path: &str, body: &str, word: &str) {
        let (status, answer) = bench.post(path, body);
        assert!((400..500).contains(&status), "{path}: {answer}");
        assert!(answer.contains(word), "{path}: {answer}");
    }
    check(
        &bench,
        "/api/take",
        r#"{"step":0}"#,
        "no inspection is under way",
    );
    check(&bench, "/api/judge", "{}", "no inspection is under way");
    let plan = r#"{"recipe":"counterbore-pass","gauge":null,"stage":"after-grind","steps":[{"feature":"seat","z_mm":2}],"spacing_deg":0.5,"passes":2}"#;
    assert_eq!(bench.post("/api/begin", plan).0, 200);
    check(&bench, "/api/take", r#"{"step":0}"#, "cautions");
    assert_eq!(bench.post("/api/caution", "{}").0, 200);
    check(&bench, "/api/take", r#"{"step":0}"#, "connect the gauge");
    check(&bench, "/api/judge", "{}", "nothing is traced yet");
    check(&bench, "/api/order/set", "{}", "not connected");
    check(&bench, "/api/plug", r#"{"pulled":true}"#, "real");
    check(&bench, "/api/connect", r#"{"faster":1e9}"#, "times faster");
    let none = plan.replace("seat", "nothing");
    check(&bench, "/api/begin", &none, "does not have");
    check(
        &bench,
        "/api/begin",
        &plan.replace("0.5", "1e99"),
        "spacing",
    );
}

#[test]
fn nothing_that_is_sent_ends_the_server() {
    let (_folder, bench) = bench();
    let paths = "/(api/(start|ports|stream|plan|begin|resume|leave|caution|disconnect|take|judge|keep|plug|after-break|add-step|records|archive/(sources|tools|tool|trend|compare|certificate|record|unkept)|order/.{0,8}|sense/.{0,8}|cards/.{0,12}/.{0,12}|report.svg)|assets/.{0,12}|.{0,20})(\\?(source=(bench|shared|simulated)&(record|tool|before|text)=)?.{0,20})?";
    let bodies = prop_oneof![
        ".{0,200}",
        r#"\{"(folder|recipe|tool|step|steps|faster|values|units|pulled|as_it_was|feature|z_mm)":(-?[0-9]{1,25}|"[^"\\]{0,12}"|null|\[\]|\{\}|\[\{"z_mm":1e[0-9]{1,4}\}\])\}"#,
    ];
    let requests = prop_oneof![
        proptest::collection::vec(any::<u8>(), 0..400),
        ("(GET|POST|PUT|DELETE|HEAD|OPTIONS|[A-Z]{1,9})", paths, bodies).prop_map({
            let bench = &bench;
            move |(method, path, body)| {
                let path: String = path.chars().filter(|c| c.is_ascii_graphic()).collect();
                format!(
                    "{}X-Heelclear: 1\r\nContent-Type: application/json\r\nContent-Length: {}\r\nConnection: close\r\n\r\n{body}",
                    bench.begun(&method, &path),
                    body.len()
                )
                .into_bytes()
            }
        }),
    ];
    let mut runner = proptest::test_runner::TestRunner::new(proptest::test_runner::Config {
        cases: 250,
        failure_persistence: None,
        ..Default::default()
    });
    let sent = runner.run(&requests, |request| {
        use std::io::{Read, Write};
        let mut stream = std::net::TcpStream::connect(bench.address)?;
        // A stream of events has no end, and a request without one has no answer.
        stream.set_read_timeout(Some(std::time::Duration::from_millis(60)))?;
        let _ = stream.write_all(&request);
        let mut some = [0; 4096];
        let _ = stream.read(&mut some);
        Ok(())
    });
    sent.unwrap();
    assert_eq!(bench.ask("GET", "/api/start", &[], "").0, 200);
}

#[test]
fn help_is_a_page_to_read_and_not_its_source() {
    let (_folder, bench) = bench();
    let (status, page) = bench.ask("GET", "/manual/measure-at-the-bench", &[], "");
    assert_eq!(status, 200);
    assert!(
        page.contains("<h1 id=\"l1\">Measure at the bench with the page</h1>"),
        "{page}"
    );
    assert!(!page.contains("**") && !page.contains("{body}"), "{page}");
    assert_eq!(bench.ask("GET", "/manual/none-such", &[], "").0, 404);
}

#[test]
fn the_manual_is_listed_searched_and_shown_with_its_pictures() {
    let (_folder, bench) = bench();
    let (status, list) = bench.ask("GET", "/manual", &[], "");
    assert_eq!(status, 200);
    for page in heelclear::manual::PAGES {
        let link = format!("<a href=\"/manual/{}\">", page.name);
        assert!(list.contains(&link), "{}", page.name);
    }
    // By meaning first, then by the words; each place leads to its section.
    let (status, found) = bench.ask("GET", "/manual?q=guard+band", &[], "");
    assert_eq!(status, 200);
    let place = regex::Regex::new("<a href=\"/manual/([a-z-]+)#(l[0-9]+)\">").unwrap();
    let first = place.captures(&found).unwrap();
    assert_eq!(&first[1], "undecided");
    let (_, page) = bench.ask("GET", "/manual/undecided", &[], "");
    assert!(page.contains(&format!("id=\"{}\"", &first[2])), "{page}");
    // What is typed is text, wherever it stands.
    let (status, found) = bench.ask("GET", "/manual?q=%22%3E%3Cb%3E%7Bbody%7D", &[], "");
    assert_eq!(status, 200);
    assert!(!found.contains("<b>"), "{found}");
    assert_eq!(found.matches("<form").count(), 1, "{found}");
    let (status, page) = bench.ask("GET", "/manual/ball", &[], "");
    assert!(
        status == 200 && page.contains("<img src=\"/manual/pictures/ball\""),
        "{page}"
    );
    let (status, picture) = bench.ask("GET", "/manual/pictures/ball", &[], "");
    assert!(
        status == 200 && picture.contains("image/svg+xml"),
        "{picture}"
    );
    assert_eq!(bench.ask("GET", "/manual/pictures/none", &[], "").0, 404);
}
