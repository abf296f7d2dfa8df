//! What may be asked of the archive, and what is done about the rest: without a browser, word for word.

use super::server::Bench;
use super::shelf;

#[test]
fn names_that_are_none_or_lead_elsewhere_are_refused_in_plain_words() {
    let folder = tempfile::tempdir().unwrap();
    shelf::many(folder.path(), 2);
    std::fs::write(folder.path().join("secret.toml"), "hidden = 1").unwrap();
    let bench = Bench::open(folder.path());
    #[track_caller]
    fn check(bench: &Bench, path: &str, expected: u16, word: &str) {
        let (status, answer) = bench.ask("GET", path, &[], "");
        assert_eq!(status, expected, "{path}\n{answer}");
        assert!(answer.contains(word), "{path}\n{answer}");
        assert!(
            !answer.contains("root:") && !answer.contains("hidden = 1"),
            "{path}"
        );
    }
    let away = "..%2F..%2F..%2Fetc%2Fpasswd";
    for of in ["record", "certificate"] {
        let of = format!("/api/archive/{of}?source=bench&record=");
        check(&bench, &format!("{of}{away}"), 400, "expected a record");
        check(&bench, &format!("{of}..%2F1"), 404, "no-record");
        check(&bench, &format!("{of}{away}%2F1"), 404, "no-record");
        check(&bench, &format!("{of}bench%2F99"), 404, "no-record");
        check(&bench, &format!("{of}1"), 400, "expected `bench/number`");
        check(
            &bench,
            &format!("{of}ba7816bf"),
            400,
            "expected `bench/number`",
        );
        check(&bench, &of, 400, "expected a record");
    }
    let compare = "/api/archive/compare?source=bench";
    check(
        &bench,
        &format!("{compare}&before={away}&after=x%2F1"),
        400,
        "expected a record",
    );
    check(
        &bench,
        &format!("{compare}&before=x%2F1&after=x%2F2"),
        404,
        "no-record",
    );
    check(&bench, compare, 400, "before");
    for of in ["tool", "trend"] {
        let of = format!("/api/archive/{of}?source=bench&tool=");
        check(&bench, &format!("{of}{away}"), 404, "no-record");
        check(&bench, &format!("{of}%27%20or%201%3D1--"), 404, "no-record");
    }
    // A page names an archive by a word, and no file or server.
    for source in ["elsewhere", "secret.toml", away, "postgres:%2F%2Fx%2Fy", ""] {
        let path = format!("/api/archive/tools?source={source}");
        check(&bench, &path, 400, "source");
    }
    check(
        &bench,
        "/api/archive/tools?source=shared",
        400,
        "names no shared server",
    );
    check(
        &bench,
        "/api/archive/tools?source=bench&from=-1",
        400,
        "from",
    );
    check(
        &bench,
        "/api/archive/tools?source=bench&from=999",
        200,
        "\"tools\":[]",
    );
    check(
        &bench,
        "/api/archive/tool?source=simulated&tool=VB-07",
        404,
        "no such archive yet",
    );
    check(
        &bench,
        "/api/archive/record?source=simulated&record=a%2F1",
        404,
        "no such archive yet",
    );
    check(
        &bench,
        &format!("/api/records/{away}/1/report.svg?source=bench"),
        404,
        "no-record",
    );
    check(&bench, "/api/records/x/y/report.svg?source=bench", 400, "");
    check(&bench, "/api/archive/nothing", 404, "");
    // A percent and an underscore are no wildcards.
    check(
        &bench,
        "/api/archive/tools?source=bench&text=T%25",
        200,
        "\"all\":0",
    );
    check(
        &bench,
        "/api/archive/tools?source=bench&text=T_0000",
        200,
        "\"all\":0",
    );
    check(
        &bench,
        "/api/archive/tools?source=bench&text=T-0000",
        200,
        "\"all\":1",
    );
}

#[test]
fn the_archive_is_read_and_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    shelf::many(folder.path(), 1);
    let bench = Bench::open(folder.path());
    let ours = ["X-Heelclear: 1", "Content-Type: application/json"];
    for path in [
        "sources",
        "tools",
        "tool",
        "trend",
        "compare",
        "certificate",
        "record",
        "unkept",
    ] {
        let path = format!("/api/archive/{path}");
        for method in ["POST", "PUT", "DELETE", "PATCH"] {
            assert_eq!(
                bench.ask(method, &path, &ours, "{}").0,
                405,
                "{method} {path}"
            );
            assert_eq!(
                bench.ask(method, &path, &[], "{}").0,
                403,
                "{method} {path}"
            );
        }
        let foreign = ["Sec-Fetch-Site: cross-site"];
        assert_eq!(bench.ask("GET", &path, &foreign, "").0, 403, "{path}");
    }
    let (status, answer) = bench.ask_as("GET", "/api/archive/tools?source=bench", &[], "");
    assert_eq!(status, 401, "{answer}");
    assert!(!answer.contains("T-0000"));
}

#[test]
fn an_archive_that_is_none_is_told_and_the_page_goes_on() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(
        folder.path().join("archive.db"),
        "no database at all, but a text",
    )
    .unwrap();
    let bench = Bench::open(folder.path());
    let (status, answer) = bench.ask("GET", "/api/archive/tools?source=bench", &[], "");
    assert!(
        status == 400 && answer.contains("it is not an archive"),
        "{answer}"
    );
    assert_eq!(bench.ask("GET", "/api/start", &[], "").0, 200);
    let (status, answer) = bench.ask("GET", "/api/archive/tools?source=simulated", &[], "");
    assert!(status == 200 && answer.contains("\"all\":0"), "{answer}");
}
