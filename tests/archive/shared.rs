//! The archive of a whole shop, on a real PostgreSQL server that the tests start themselves.
//!
//! Where no server's programs are found, each test says so and ends.

use crate::bench::{Bench, PROGRAM, Said, files};
use crate::postgres_server::Server;
use std::fs;
use std::net::TcpListener;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

impl Server {
    /// Runs `heelclear archive` on the shared archive.
    pub fn archive(&self, arguments: &[&str]) -> Said {
        self.archive_as("ada", arguments)
    }

    /// The same as another user.
    pub fn archive_as(&self, user: &str, arguments: &[&str]) -> Said {
        let mut command = Command::new(PROGRAM);
        command.arg("archive").args(arguments);
        command.args(["--archive", &self.address_of(user)]);
        Said::of(command.output().unwrap())
    }

    /// Has the server's own user run `archive server-setup`.
    pub fn set_up(&self, flags: &[&str]) -> Said {
        let mut command = Command::new(PROGRAM);
        command
            .args(["archive", "server-setup", "--run"])
            .args(flags);
        Said::of(command.arg(self.address()).output().unwrap())
    }
}

fn push(bench: &Bench, server: &Server, flags: &[&str]) -> Said {
    let address = server.address();
    let mut line = vec!["push", &address];
    line.extend(flags);
    bench.archive(&line)
}

#[test]
fn every_reading_command_says_the_same_on_the_server() {
    let Some(server) = Server::start() else {
        return;
    };
    let (one, two) = (Bench::new(), Bench::new());
    server
        .archive(&["list"])
        .ended(2)
        .says("found no archive there")
        .says("archive push");
    let folder = one.judged("a", 1);
    one.judged("b", 2);
    one.archive(&["add", "a"]).ended(0);
    one.archive(&["add", "b", "--replaces", "1", "--why", "clamped anew"])
        .ended(0);
    push(&one, &server, &[])
        .ended(0)
        .says("2 copied, 0 there already");
    push(&one, &server, &[])
        .ended(0)
        .says("0 copied, 2 there already");
    for line in [
        &["list", "--json"][..],
        &["list", "--json", "--replaced"],
        &[
            "list",
            "--json",
            "--replaced",
            "--text",
            "COUNTERBORE",
            "--feature",
            "seat",
        ],
        &[
            "list",
            "--json",
            "--replaced",
            "--verdict",
            "pass",
            "--since",
            "2026-01-01",
        ],
        &[
            "list",
            "--json",
            "--replaced",
            "--tool",
            "VB-07",
            "--operator",
            "bench 2",
        ],
        &["list", "--json", "--verdict", "none", "--gauge", "ball"],
        &["show", "2"],
        &["show", "1", "--json"],
        &["export", "--as", "csv"],
        &["export", "--as", "json", "--replaced"],
        &["check", "--json"],
        &["rejudge", "--json"],
        &["compare", "1", "2"],
        &["compare", "1", "2", "--json"],
        &["trend", "VB-07"],
        &["trend", "VB-07", "--json"],
    ] {
        let (here, there) = (one.archive(line).ended(0), server.archive(line).ended(0));
        assert_eq!(here.stdout, there.stdout, "{line:?}");
        assert!(
            !here.stdout.is_empty() || line.contains(&"none"),
            "{line:?}"
        );
    }
    // What is drawn or written to files is the same from both.
    let written = |archive: &str| {
        let out = one.path("written");
        let file = |name: &str| out.join(name).to_str().unwrap().to_owned();
        fs::create_dir(&out).unwrap();
        for line in [
            vec!["compare", "1", "2", "--out", &file("compare.svg")],
            vec!["trend", "VB-07", "--out", &file("trend.svg")],
            vec!["certificate", "2", "--out", &file("paper.svg")],
            #[cfg(feature = "parquet")]
            vec!["export", "--as", "parquet", "--out", &file("tables")],
            vec!["export", "--replaced", "--out", &file("folders")],
        ] {
            let mut command = Command::new(PROGRAM);
            command.arg("archive").args(line);
            Said::of(command.args(["--archive", archive]).output().unwrap()).ended(0);
        }
        let written = files(&out);
        fs::remove_dir_all(out).unwrap();
        written
    };
    let (here, there) = (
        written(one.db().to_str().unwrap()),
        written(&server.address()),
    );
    assert!(here.len() > 10 && here == there);
    // A second bench, with a folder that the first one has too.
    two.judged("a", 1);
    two.judged("c", 3);
    two.archive(&["add", "a", "c"]).ended(0);
    push(&two, &server, &["--json"]).ended(0);
    let listed = server
        .archive(&["list", "--json", "--replaced"])
        .ended(0)
        .json();
    assert_eq!(listed.len(), 4);
    server
        .archive(&["show", "1"])
        .ended(2)
        .says("put the bench before it");
    server.archive(&["check"]).ended(0).says("whole: 4 records");
    let bench = one.archive(&["list", "--json"]).json()[0]["bench"]
        .as_str()
        .unwrap()
        .to_owned();
    let out = one.path("out");
    server
        .archive(&[
            "export",
            &format!("{bench}/1"),
            "--out",
            out.to_str().unwrap(),
        ])
        .ended(0);
    let mut back = files(&out.join(format!("{bench}-1")));
    back.retain(|(name, _)| name != "archive-record.json");
    assert_eq!(back, files(&folder));
    // All of it into one file.
    let copy = one.path("copy.db");
    server.archive(&["backup", copy.to_str().unwrap()]).ended(0);
    let check = Command::new(PROGRAM)
        .args(["archive", "check", "--archive"])
        .arg(&copy)
        .output();
    Said::of(check.unwrap()).ended(0).says("whole: 4 records");
    // Nothing is written to it but by a push.
    one.judged("d", 4);
    let add = one.path("d");
    server
        .archive(&["add", add.to_str().unwrap()])
        .ended(2)
        .says("error[usage]");
}

#[test]
fn copied_after_each_inspection_when_asked_and_later_when_the_server_is_away() {
    let Some(mut server) = Server::start() else {
        return;
    };
    let bench = Bench::new();
    bench.judged("a", 1);
    bench.judged("b", 2);
    bench.judged("c", 3);
    bench.archive(&["add", "a"]).ended(0);
    push(&bench, &server, &["--always"])
        .ended(0)
        .says("1 copied");
    bench
        .archive(&["add", "b"])
        .ended(0)
        .says("1 copied, 1 there already");
    server.cut();
    let said = bench.archive(&["add", "c"]).ended(0);
    said.says("kept as record")
        .says("kept here, but not copied to the server: the server cannot be reached");
    bench
        .archive(&["push"])
        .ended(2)
        .says("error[archive-server]");
    server.up();
    bench
        .archive(&["push"])
        .ended(0)
        .says("1 copied, 2 there already");
    bench.archive(&["push", "--never"]).ended(0);
    bench.archive(&["push"]).ended(2).says("read no address");
    // A password is neither kept nor shown.
    let address = server.address().replace("ada@", "ada:secret@");
    let said = bench
        .archive(&["push", &address, "--always"])
        .ended(2)
        .says("PGPASSWORD");
    assert!(!said.stderr.contains("secret"), "{}", said.stderr);
    bench
        .archive(&["push", &address])
        .ended(0)
        .says("0 copied, 3 there already");
    server.archive(&["check"]).ended(0).says("whole: 3 records");
}

/// Many small records of one bench.
pub fn many(bench: &Bench, count: usize) {
    let base = bench.inspection("base", 1);
    fs::remove_dir_all(base.join("traces")).unwrap();
    let card = fs::read_to_string(base.join("inspection.toml")).unwrap();
    let mut line = vec!["add".to_owned()];
    for number in 0..count {
        let folder = bench.path(&format!("i{number}"));
        fs::create_dir(&folder).unwrap();
        for file in ["tool.toml", "gauge.toml"] {
            fs::copy(base.join(file), folder.join(file)).unwrap();
        }
        let card = card.replace("bench 2", &format!("hand {number}"));
        fs::write(folder.join("inspection.toml"), card).unwrap();
        line.push(format!("i{number}"));
    }
    let line: Vec<&str> = line.iter().map(String::as_str).collect();
    bench.archive(&line).ended(0);
}

fn pushing(bench: &Bench, server: &Server) -> Child {
    pushing_as(bench, server, "ada")
}

pub fn pushing_as(bench: &Bench, server: &Server, user: &str) -> Child {
    let mut command = Command::new(PROGRAM);
    command
        .args(["archive", "push", &server.address_of(user), "--archive"])
        .arg(bench.db());
    command
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap()
}

#[test]
fn a_push_that_is_broken_off_goes_on_where_it_stopped() {
    let Some(mut server) = Server::start() else {
        return;
    };
    let bench = Bench::new();
    many(&bench, 400);
    let there = |server: &Server| {
        let mut client = server.connect().unwrap();
        let rows = client.query("select count(*) from heelclear.record", &[]);
        rows.map_or(0, |rows| rows[0].get::<_, i64>(0))
    };
    // Killed at several moments: only whole batches are there, and each push goes on.
    let mut least = 0;
    for kill in 0..6 {
        let mut child = pushing(&bench, &server);
        std::thread::sleep(Duration::from_millis(60 + 37 * kill));
        child.kill().unwrap();
        child.wait().unwrap();
        server.until(|others| others == 0);
        let now = there(&server);
        assert!(now >= least, "{now} of {least}");
        least = now;
        if now > 0 {
            server
                .archive(&["check"])
                .ended(0)
                .says(&format!("whole: {now} records"));
        }
    }
    // The server goes away in the middle, if the push is not yet through.
    let mut child = pushing(&bench, &server);
    server.until(|others| others > 0 || child.try_wait().unwrap().is_some());
    server.cut();
    let said = Said::of(child.wait_with_output().unwrap());
    if said.status != 0 {
        assert!(
            said.stderr.contains("error[archive-server]"),
            "{}",
            said.stderr
        );
    }
    server.up();
    // Two at once.
    let pushes = [pushing(&bench, &server), pushing(&bench, &server)];
    for child in pushes {
        Said::of(child.wait_with_output().unwrap()).ended(0);
    }
    server
        .archive(&["check"])
        .ended(0)
        .says("whole: 400 records");
    assert_eq!(there(&server), 400);
}

/// Passes on what is said to a server until so many bytes went there, then hangs up on both.
fn hang_up_after(server: &Server, most: usize) -> (String, std::thread::JoinHandle<()>) {
    use std::io::{Read, Write};
    use std::net::{Shutdown, TcpStream};
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = listener.local_addr().unwrap().port();
    let to = format!("127.0.0.1:{}", server.port);
    let passed_on = std::thread::spawn(move || {
        let (mut client, _) = listener.accept().unwrap();
        let mut server = TcpStream::connect(to).unwrap();
        let (mut answers, mut back) = (server.try_clone().unwrap(), client.try_clone().unwrap());
        let answering = std::thread::spawn(move || {
            // It ends with an error or an end once the other direction has hung up.
            let _ = std::io::copy(&mut answers, &mut back);
        });
        let mut left = most;
        let mut bytes = [0; 4096];
        while left > 0 {
            let room = left.min(bytes.len());
            match client.read(&mut bytes[..room]) {
                Ok(0) | Err(_) => break,
                Ok(count) => {
                    left -= count;
                    if server.write_all(&bytes[..count]).is_err() {
                        break;
                    }
                }
            }
        }
        let _ = client.shutdown(Shutdown::Both);
        let _ = server.shutdown(Shutdown::Both);
        answering.join().unwrap();
    });
    (
        format!("postgres://ada@127.0.0.1:{port}/postgres"),
        passed_on,
    )
}

#[test]
fn a_connection_lost_in_the_middle_leaves_whole_batches_and_the_next_push_goes_on() {
    let Some(server) = Server::start() else {
        return;
    };
    let bench = Bench::new();
    many(&bench, 160);
    let mut there = 0;
    // Within the greeting, the making of tables, the first batch, a later one.
    for most in [60, 1_500, 20_000, 80_000, 120_000] {
        let (address, passed_on) = hang_up_after(&server, most);
        bench
            .archive(&["push", &address])
            .ended(2)
            .says("error[archive-server]");
        passed_on.join().unwrap();
        let listed = server.archive(&["list", "--limit", "0", "--json"]);
        let now = match listed.status {
            0 => listed.json().len(),
            _ => 0,
        };
        assert!(
            now >= there && now % 50 == 0 && now < 160,
            "{now} after {most} bytes"
        );
        there = now;
        if there > 0 {
            let whole = format!("whole: {there} records");
            server.archive(&["check"]).ended(0).says(&whole);
        }
    }
    assert!(there > 0, "no batch came through");
    push(&bench, &server, &[])
        .ended(0)
        .says(&format!("{} copied, {there} there already", 160 - there));
    server
        .archive(&["check"])
        .ended(0)
        .says("whole: 160 records");
}

#[test]
fn several_benches_may_make_the_archive_at_once() {
    let Some(server) = Server::start() else {
        return;
    };
    let benches = [(); 4].map(|()| Bench::new());
    benches.iter().for_each(|bench| many(bench, 3));
    let pushes = benches.each_ref().map(|bench| pushing(bench, &server));
    for child in pushes {
        Said::of(child.wait_with_output().unwrap()).ended(0);
    }
    server
        .archive(&["check"])
        .ended(0)
        .says("whole: 12 records");
}

#[test]
fn what_does_not_belong_there_is_refused_and_named() {
    let Some(server) = Server::start() else {
        return;
    };
    let bench = Bench::new();
    for seed in 1..=3 {
        bench.judged(&format!("i{seed}"), seed);
    }
    bench.archive(&["add", "i1"]).ended(0);
    // The file was copied, and both copies went on.
    let other = Bench::new();
    bench
        .archive(&["backup", other.db().to_str().unwrap()])
        .ended(0);
    bench.archive(&["add", "i2"]).ended(0);
    let third = bench.path("i3");
    other.archive(&["add", third.to_str().unwrap()]).ended(0);
    push(&bench, &server, &[]).ended(0);
    push(&other, &server, &[])
        .ended(2)
        .says("both copies went on");
    // A damaged record stays where it is.
    bench.archive(&["add", "i3"]).ended(0);
    let db = rusqlite::Connection::open(bench.db()).unwrap();
    let change = "update content set packed = zeroblob(40)
        where digest = (select digest from file where number = 3 and path = 'report.svg')";
    assert_eq!(db.execute(change, []).unwrap(), 1);
    push(&bench, &server, &[])
        .ended(2)
        .says("/3 is damaged: file `report.svg`")
        .says("it was not copied");
    server.archive(&["check"]).ended(0).says("whole: 2 records");
    // What is changed on the server is named there.
    let mut client = server.connect().unwrap();
    client
        .batch_execute("update heelclear.record set verdict = 'fail' where number = 2")
        .unwrap();
    server
        .archive(&["check"])
        .ended(2)
        .says("/2: what is said of it does not belong to its digest");
    // A newer archive is left alone.
    client
        .batch_execute(
            "update heelclear.about set value = '99' where key = 'schema';
            update heelclear.about set value = '7.1.0' where key = 'reader'",
        )
        .unwrap();
    server
        .archive(&["list"])
        .ended(2)
        .says("use heelclear 7.1.0 or newer");
    push(&bench, &server, &[])
        .ended(2)
        .says("error[archive-version]");
}

#[test]
fn a_server_that_is_not_there_and_an_address_that_is_none_are_told() {
    let bench = Bench::new();
    bench.judged("a", 1);
    bench.archive(&["add", "a"]).ended(0);
    // Nobody listens on this port: it was free a moment ago, and is not given out again at once.
    let free = TcpListener::bind("127.0.0.1:0")
        .unwrap()
        .local_addr()
        .unwrap();
    let away = format!("postgres://ada:secret@{free}/tools");
    let said = bench
        .archive(&["push", &away])
        .ended(2)
        .says("error[archive-server]");
    assert!(!said.stderr.contains("secret"), "{}", said.stderr);
    bench
        .archive(&["push", "postgres://ada@shop:port/tools"])
        .ended(2)
        .says("not an address");
    bench
        .archive(&["push", "shop/tools"])
        .ended(2)
        .says("expected the address of a server");
}

/// The blocks of these languages on a page of the manual, in their order.
fn printed(page: &str, languages: &[&str]) -> Vec<String> {
    let text = heelclear::manual::page(page).unwrap().text;
    let pieces = text.split("```").skip(1).step_by(2);
    let blocks = pieces.filter_map(|piece| piece.split_once('\n'));
    blocks
        .filter(|(said, _)| languages.contains(said))
        .map(|(_, block)| block.to_owned())
        .collect()
}

#[test]
fn the_page_on_sharing_lets_two_benches_push_and_an_office_read() {
    let Some(server) = Server::start() else {
        return;
    };
    let printed = printed("share-records", &["console", "sh"]).concat();
    let mut commands = printed
        .lines()
        .map(str::trim)
        .filter(|line| !line.is_empty());
    let (one, two) = (Bench::new(), Bench::new());
    let at = |user: &str| server.address_of(user).replace("/postgres", "/tools");
    let run = |line: &str, user: &str, bench: &Bench| {
        let line = line
            .replace("postgres://bench2@server/tools", &at(user))
            .replace("heelclear ", &format!("{PROGRAM} "))
            .replace("createdb", server.path_of("createdb").to_str().unwrap())
            .replace(
                "psql",
                &format!("{} -v ON_ERROR_STOP=1", server.path_of("psql").display()),
            );
        let mut command = Command::new("bash");
        command.args(["-c", &format!("set -o pipefail; {line}")]);
        command
            .current_dir(bench.path("."))
            .env("HOME", bench.path("."))
            .env("PGHOST", "127.0.0.1")
            .env("PGPORT", server.port.to_string())
            .env("PGUSER", "ada")
            .env_remove("XDG_DATA_HOME");
        Said::of(command.output().unwrap())
    };
    for _ in ["the database", "roles and tables"] {
        run(commands.next().unwrap(), "", &one).ended(0);
    }
    let push = commands.next().unwrap();
    for (bench, user) in [(&one, "bench1"), (&two, "bench2")] {
        bench.judged("a", if user == "bench1" { 1 } else { 2 });
        run("heelclear archive add a", user, bench).ended(0);
        run(push, user, bench).ended(0).says("1 copied");
    }
    // What the first made, the second goes on beside, and the other way round.
    one.judged("b", 3);
    run("heelclear archive add b", "bench1", &one)
        .ended(0)
        .says("1 copied");
    let listed = run(
        "heelclear archive list --json --archive postgres://bench2@server/tools",
        "office",
        &one,
    );
    let listed = listed.ended(0).json();
    assert_eq!(listed.len(), 3);
    let bench = listed[0]["bench"].as_str().unwrap();
    let mut ran = 0;
    for line in commands.filter(|line| !line.contains("ssh -L") && !line.contains("localhost")) {
        let line = line.replace("grindroom-3f9a2c", bench);
        run(&line, "bench2", &two).ended(0);
        if !line.contains("backup") {
            run(&line, "office", &two).ended(0);
        }
        ran += 1;
    }
    assert_eq!(ran, 5);
}
