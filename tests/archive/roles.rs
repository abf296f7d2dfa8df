//! Roles on a shared server: each bench adds its own, reads everything, and changes nothing, since
//! the server itself refuses it.

use crate::bench::{Bench, Said};
use crate::postgres_client::Client;
use crate::postgres_server::Server;
use crate::shared::many;
use std::process::Stdio;

/// Everything that is kept on a server, and everything that says who may do what with it.
fn all_of(server: &Server) -> Vec<String> {
    let mut client = server.connect().unwrap();
    let mut all = Vec::new();
    let tables = ["about", "bench", "subject", "record", "content", "file"];
    let rows = tables.map(|table| {
        format!("select coalesce(string_agg(t::text, '|' order by t::text), '') from heelclear.{table} t")
    });
    let catalogue = [
        "select string_agg(concat_ws(' ', relname, relkind, relowner::regrole, relrowsecurity, relacl), '|' \
            order by relname) from pg_class where relnamespace = 'heelclear'::regnamespace",
        "select string_agg(concat_ws(' ', attrelid::regclass, attname, attacl, atthasdef), '|' \
            order by attrelid, attnum) from pg_attribute where attnum > 0 and attrelid in \
            (select oid from pg_class where relnamespace = 'heelclear'::regnamespace)",
        "select string_agg(p::text, '|' order by p::text) from pg_policies p where schemaname = 'heelclear'",
        "select string_agg(concat_ws(' ', proname, proowner::regrole, prosrc), '|') from pg_proc \
            where pronamespace = 'heelclear'::regnamespace",
        "select string_agg(concat_ws(' ', nspname, nspowner::regrole, nspacl), '|' order by nspname) from pg_namespace \
            where nspname !~ '^pg_(toast_)?temp'",
        "select string_agg(to_jsonb(r)::text, '|' order by rolname) from pg_roles r",
        "select string_agg(concat_ws(' ', roleid::regrole, member::regrole), '|' order by roleid, member) from pg_auth_members",
        "select string_agg(concat_ws(' ', datname, datdba::regrole, datacl), '|' order by datname) from pg_database",
    ];
    let questions = rows.into_iter().chain(catalogue.map(str::to_owned));
    for question in questions {
        let said: Option<String> = client.query_one(&question).unwrap().get(0);
        all.push(said.unwrap_or_default());
    }
    all
}

fn push_as(bench: &Bench, server: &Server, user: &str, flags: &[&str]) -> Said {
    let address = server.address_of(user);
    let mut line = vec!["push", &address];
    line.extend(flags);
    bench.archive(&line)
}

fn name_of(bench: &Bench) -> String {
    let listed = bench.archive(&["list", "--json", "--replaced"]).json();
    listed[0]["bench"].as_str().unwrap().to_owned()
}

/// What a bench's role may try with the server's own language, on the records of `THEIRS` and on
/// its own, `OWN`.
const ATTEMPTS: &[&str] = &[
    "update heelclear.record set verdict = 'pass'",
    "update heelclear.record set verdict = 'pass' where bench = 'OWN'",
    "update heelclear.record set replaces = content where bench = 'THEIRS'",
    "delete from heelclear.record where bench = 'THEIRS'",
    "delete from heelclear.record where bench = 'OWN'",
    "update heelclear.file set path = 'other' where bench = 'THEIRS'",
    "update heelclear.file set digest = (select digest from heelclear.content limit 1) where bench = 'OWN'",
    "delete from heelclear.file where bench = 'THEIRS'",
    "delete from heelclear.file where bench = 'OWN'",
    "update heelclear.content set packed = ''",
    "update heelclear.content set owner = current_user",
    "delete from heelclear.content",
    "insert into heelclear.content (digest, packed) select digest, '' from heelclear.content \
        on conflict (digest) do update set packed = excluded.packed",
    "insert into heelclear.content (digest, packed) select digest, '' from heelclear.content",
    "insert into heelclear.content (digest, packed, owner) values (sha256('x'), '', 'bench1')",
    "insert into heelclear.content (digest, packed) values ('x', '')",
    "update heelclear.subject set words = ''",
    "delete from heelclear.subject",
    "insert into heelclear.subject (id, features, words) values (12, 'a', 'b')",
    "insert into heelclear.subject (id, features, words) select id + 1, features, words from heelclear.subject",
    "update heelclear.bench set head = 0 where id = 'THEIRS'",
    "update heelclear.bench set head = 0 where id = 'OWN'",
    "update heelclear.bench set head = head - 1 where id = 'OWN'",
    "update heelclear.bench set head = head + 1 where id = 'OWN'",
    "update heelclear.bench set chain = sha256('x') where id = 'OWN'",
    "update heelclear.bench set chain = sha256('x') where id = 'THEIRS'",
    "update heelclear.bench set id = 'x' where id = 'OWN'",
    "update heelclear.bench set owner = current_user where id = 'THEIRS'",
    "update heelclear.bench set owner = 'bench1' where id = 'OWN'",
    "insert into heelclear.bench (id, head, chain) select id, head, chain from heelclear.bench \
        on conflict (id) do update set head = 0",
    "insert into heelclear.bench (id, head, chain, owner) values ('x', 0, '', 'bench1')",
    "insert into heelclear.bench (id, head, chain) values ('x', 1, '')",
    "delete from heelclear.bench",
    "update heelclear.about set value = '99'",
    "insert into heelclear.about (key, value) values ('x', 'y')",
    "delete from heelclear.about",
    // Behind the last one of another bench, as one that fits in every other way.
    "insert into heelclear.record select r.bench, r.number + 1, r.form, r.archived, r.program, r.host, r.taken, \
        r.operator, r.stage, r.tool, r.tool_name, r.gauge, r.verdict, r.subject, r.replaces, r.why, sha256('x'), \
        r.evidence, r.chain, sha256('y'), r.origin from heelclear.record r join heelclear.bench b on b.id = r.bench \
        where r.bench = 'THEIRS' and r.number = b.head",
    // A gap, one before the first, and one beside the last.
    "insert into heelclear.record select bench, number + 7, form, archived, program, host, taken, operator, stage, \
        tool, tool_name, gauge, verdict, subject, replaces, why, sha256('x'), evidence, chain, sha256('y'), origin \
        from heelclear.record where bench = 'OWN' and number = 1",
    "insert into heelclear.record select bench, 0, form, archived, program, host, taken, operator, stage, tool, \
        tool_name, gauge, verdict, subject, replaces, why, sha256('x'), evidence, previous, sha256('y'), origin \
        from heelclear.record where bench = 'OWN' and number = 1",
    "insert into heelclear.record select r.bench, r.number + 1, r.form, r.archived, r.program, r.host, r.taken, \
        r.operator, r.stage, r.tool, r.tool_name, r.gauge, r.verdict, r.subject, r.replaces, r.why, sha256('x'), \
        r.evidence, sha256('z'), sha256('y'), r.origin from heelclear.record r join heelclear.bench b \
        on b.id = r.bench where r.bench = 'OWN' and r.number = b.head",
    // One more file, of its own last record, of an earlier one, and of another's.
    "insert into heelclear.file (bench, number, path, size, digest) \
        select bench, number, 'more.txt', size, digest from heelclear.file where bench = 'OWN' and path = 'tool.toml'",
    "insert into heelclear.file (bench, number, path, size, digest) \
        select bench, number, 'more.txt', size, digest from heelclear.file where bench = 'THEIRS' and path = 'tool.toml'",
    "truncate heelclear.record cascade",
    "truncate heelclear.file",
    "truncate heelclear.content cascade",
    "truncate heelclear.bench cascade",
    "truncate heelclear.about",
    "drop table heelclear.file",
    "drop table heelclear.record cascade",
    "drop schema heelclear cascade",
    "drop policy record_read on heelclear.record",
    "drop function heelclear.subject_id(text, text) cascade",
    "create or replace function heelclear.subject_id(features text, words text) returns bigint \
        language sql as 'select 12::bigint'",
    "alter table heelclear.record disable row level security",
    "alter table heelclear.record owner to bench2",
    "alter table heelclear.record add column x text",
    "alter table heelclear.record drop column verdict",
    "alter schema heelclear rename to x",
    "alter schema heelclear owner to bench2",
    "create policy x on heelclear.record for delete using (true)",
    "create trigger x before insert on heelclear.record for each row execute function suppress_redundant_updates_trigger()",
    "create rule x as on insert to heelclear.record do instead nothing",
    "create table heelclear.x (a text)",
    "create view heelclear.x as select 1",
    "create function heelclear.x() returns int language sql as 'select 1'",
    "create schema x",
    "create index on heelclear.record (host)",
    "grant all on heelclear.record to bench2",
    "grant heelclear_owner to bench2",
    "set role heelclear_owner; delete from heelclear.file",
    "set session authorization ada; delete from heelclear.file",
    "set row_security = off; delete from heelclear.file where bench = 'THEIRS'",
    "alter role bench2 superuser",
    "alter role bench2 bypassrls",
    "alter role ada password 'x'",
    "alter role bench1 rename to x",
    "create role x",
    "drop role bench1",
    "begin; lock table heelclear.record in access exclusive mode; commit",
    "begin; lock table heelclear.bench in share row exclusive mode; commit",
    "copy heelclear.record from program 'true'",
    "copy heelclear.about from '/etc/hostname'",
    "reindex table heelclear.record",
    "do $$ begin execute 'delete from heelclear.file'; end $$",
    "with gone as (delete from heelclear.file returning 1) select count(*) from gone",
    "merge into heelclear.bench b using heelclear.record r on r.bench = b.id when matched then update set head = 0",
    "drop owned by heelclear_owner",
    "reassign owned by heelclear_owner to bench2",
    "drop database postgres",
    "alter database postgres owner to bench2",
    "alter default privileges for role heelclear_owner grant all on tables to bench2",
    "alter system set row_security = off",
    "set session_replication_role = replica; delete from heelclear.file",
];

/// Tries everything, and finds everything as it was.
#[track_caller]
fn attack(server: &Server, user: &str, own: &str, theirs: &str) {
    let before = all_of(server);
    for attempt in ATTEMPTS {
        let attempt = attempt.replace("OWN", own).replace("THEIRS", theirs);
        let mut client = server.connect_as(user);
        let refused = client.refusal(&attempt);
        // What is cut off by a policy is no error, but changes no row.
        let silent = ["heelclear.bench set", "grant all"];
        let silent = silent.iter().any(|part| attempt.contains(part));
        assert!(
            refused.is_some() || silent,
            "not refused as {user}: {attempt}"
        );
        drop(client);
        for (before, after) in before.iter().zip(all_of(server)) {
            assert_eq!(*before, after, "as {user}: {attempt}");
        }
    }
}

#[test]
fn each_bench_pushes_its_own_reads_the_others_and_the_server_refuses_the_rest() {
    let Some(server) = Server::start() else {
        return;
    };
    server
        .set_up(&[
            "--bench", "bench1", "--bench", "bench2", "--reader", "office",
        ])
        .ended(0)
        .says("\\password bench2");
    let (one, two) = (Bench::new(), Bench::new());
    for (bench, user, seed) in [(&one, "bench1", 1), (&two, "bench2", 2)] {
        bench.judged("a", seed);
        bench.judged("b", seed + 10);
        bench.judged("c", seed + 20);
        bench.archive(&["add", "a", "b"]).ended(0);
        push_as(bench, &server, user, &[]).ended(0).says("2 copied");
        push_as(bench, &server, user, &["--always"])
            .ended(0)
            .says("0 copied, 2 there already");
        bench
            .archive(&["add", "c"])
            .ended(0)
            .says("1 copied, 2 there already");
    }
    let (first, second) = (name_of(&one), name_of(&two));
    attack(&server, "bench2", &second, &first);
    attack(&server, "bench1", &first, &second);
    attack(&server, "office", &second, &first);
    // Everybody reads everything.
    for user in ["bench1", "bench2", "office"] {
        let listed = server.archive_as(user, &["list", "--json"]).ended(0);
        assert_eq!(listed.json().len(), 6, "{user}");
        server
            .archive_as(user, &["check"])
            .ended(0)
            .says("whole: 6 records");
        server.archive_as(user, &["due"]).ended(0);
        server
            .archive_as(user, &["show", &format!("{first}/1")])
            .ended(0);
        let out = one.path(&format!("out-{user}"));
        let out = out.to_str().unwrap();
        let record = format!("{second}/2");
        server
            .archive_as(user, &["export", &record, "--out", out])
            .ended(0);
        let copy = one.path(&format!("{user}.db"));
        server
            .archive_as(user, &["backup", copy.to_str().unwrap()])
            .ended(0);
        let mut ready = std::process::Command::new(crate::bench::PROGRAM);
        ready.args(["ready", "--archive", &server.address_of(user)]);
        let said = Said::of(ready.output().unwrap()).stdout;
        let said: Vec<&str> = said.split_whitespace().collect();
        let said = said.join(" ");
        assert!(
            said.contains("6 records, schema 3, the last 6 whole"),
            "{said}"
        );
    }
    // The one that only reads cannot copy there, and neither can a bench under another's role.
    push_as(&one, &server, "office", &[])
        .ended(2)
        .says("server-setup");
    one.judged("d", 31);
    one.archive(&["push", "--never"]).ended(0);
    one.archive(&["add", "d"]).ended(0);
    push_as(&one, &server, "bench2", &[])
        .ended(2)
        .says("is another role's there")
        .says(&format!("--bench ROLE={first}"));
    push_as(&one, &server, "bench1", &[])
        .ended(0)
        .says("1 copied");
    // Its bench gets another role, and only that one goes on with it.
    server
        .set_up(&["--bench", &format!("bench3={first}")])
        .ended(0)
        .says("bench3");
    one.judged("e", 32);
    one.archive(&["add", "e"]).ended(0);
    push_as(&one, &server, "bench1", &[]).ended(2);
    push_as(&one, &server, "bench3", &[])
        .ended(0)
        .says("1 copied");
    server
        .archive_as("office", &["check"])
        .ended(0)
        .says("whole: 8 records");
}

#[test]
fn a_role_without_the_right_to_make_tables_is_told_who_has_it() {
    let Some(server) = Server::start() else {
        return;
    };
    let mut ada = server.connect().unwrap();
    ada.batch_execute("create role bench1 login; create role guest login")
        .unwrap();
    let bench = Bench::new();
    many(&bench, 2);
    push_as(&bench, &server, "bench1", &[])
        .ended(2)
        .says("no tables are there yet")
        .says("heelclear archive server-setup");
    server.set_up(&["--bench", "bench1"]).ended(0);
    // Whom nobody let in is told so, and not that nothing is there.
    for line in [&["list"][..], &["check"]] {
        server
            .archive_as("guest", line)
            .ended(2)
            .says("permission denied")
            .says("heelclear archive server-setup");
    }
    push_as(&bench, &server, "guest", &[])
        .ended(2)
        .says("heelclear archive server-setup");
    // Nothing is made or changed by a push of a role that may not.
    let before = all_of(&server);
    ada.batch_execute("update heelclear.about set value = '2' where key = 'schema'")
        .unwrap();
    // The server's own user could, and would make what no bench may use.
    for user in ["bench1", "ada"] {
        push_as(&bench, &server, user, &[])
            .ended(2)
            .says("its tables are of schema 2")
            .says("heelclear archive server-setup");
    }
    server
        .archive_as("bench1", &["list"])
        .ended(2)
        .says("server-setup");
    server.set_up(&[]).ended(0).says("heelclear_schema_2");
    push_as(&bench, &server, "bench1", &[])
        .ended(0)
        .says("2 copied");
    ada.batch_execute("drop schema heelclear_schema_2 cascade")
        .unwrap();
    let after = all_of(&server);
    for at in [6, 7, 8, 9, 10, 11] {
        assert_eq!(before[at], after[at]);
    }
}

#[test]
fn setting_up_twice_changes_nothing_and_the_printed_text_does_the_same() {
    let Some(server) = Server::start() else {
        return;
    };
    let flags = [
        "--bench",
        "bench1",
        "--bench",
        "Bench.2",
        "--reader",
        "office",
        "--bench",
        "old=grindroom-3f9a2c",
    ];
    server
        .set_up(&flags)
        .ended(0)
        .says("grindroom-3f9a2c  0        old");
    let bench = Bench::new();
    many(&bench, 2);
    push_as(&bench, &server, "Bench.2", &[]).ended(0);
    let before = all_of(&server);
    server.set_up(&flags).ended(0);
    assert_eq!(before, all_of(&server));
    // Who was let in before stays so.
    let said = server.set_up(&["--json"]).ended(0).json();
    assert_eq!(said[0]["schema"], 3);
    assert_eq!(said[0]["remarks"].as_array().unwrap().len(), 0);
    assert_eq!(before, all_of(&server));
    // Printed, into another client.
    let bare = |flags: &[&str]| {
        let mut command = std::process::Command::new(crate::bench::PROGRAM);
        command.args(["archive", "server-setup"]).args(flags);
        Said::of(command.output().unwrap()).ended(0)
    };
    let said = bare(&flags);
    assert!(said.stdout.contains("\\password \"Bench.2\"") && !said.stdout.contains("password '"));
    assert_eq!(bare(&["--json"]).json()[0]["sql"], bare(&[]).stdout);
    let mut psql = server.program("psql");
    psql.args(["-v", "ON_ERROR_STOP=1", "-q", &server.address()]);
    let mut psql = psql
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    std::io::Write::write_all(&mut psql.stdin.take().unwrap(), said.stdout.as_bytes()).unwrap();
    let said = Said::of(psql.wait_with_output().unwrap()).ended(0);
    assert_eq!((said.stdout, said.stderr), (String::new(), String::new()));
    assert_eq!(before, all_of(&server));
}

/// The tables as the first version had them, from those of today.
const AS_AT_FIRST: &str = "
alter table heelclear.record drop column origin;
drop index heelclear.file_by_digest;
drop index heelclear.record_by_taken;
create index record_by_taken on heelclear.record (taken);
update heelclear.about set value = '1' where key = 'schema'";

#[test]
fn what_earlier_pushes_made_is_brought_up_and_its_benches_are_given_to_their_roles() {
    let Some(server) = Server::start() else {
        return;
    };
    // As the page on sharing had it: benches that share the role that owns everything.
    let mut ada = server.connect().unwrap();
    for line in [
        "create role heelclear nologin",
        "create user bench1 in role heelclear",
        "create user bench2 in role heelclear",
        "create user bench3 in role heelclear",
        "alter database postgres owner to heelclear",
        "alter role bench1 in database postgres set role heelclear",
        "alter role bench2 in database postgres set role heelclear",
        "create user office",
    ] {
        ada.execute(line).unwrap();
    }
    let (one, two) = (Bench::new(), Bench::new());
    many(&one, 3);
    many(&two, 2);
    push_as(&one, &server, "bench1", &[])
        .ended(0)
        .says("3 copied");
    push_as(&two, &server, "bench2", &[])
        .ended(0)
        .says("2 copied");
    ada.batch_execute(
        "grant usage on schema heelclear to office;
        grant select on all tables in schema heelclear to office;
        grant all on heelclear.file to public",
    )
    .unwrap();
    ada.batch_execute(AS_AT_FIRST).unwrap();
    let (first, second) = (name_of(&one), name_of(&two));
    let said = server
        .set_up(&["--bench", "bench1", "--bench", "bench2"])
        .ended(0);
    let said = said
        .says("heelclear_schema_1")
        .says("role \"bench3\" may do what the owner may")
        .says("everybody in this database could read or write")
        .says(&format!("--bench ROLE={first}"))
        .says(&format!("--bench ROLE={second}"));
    assert!(
        !said.stderr.contains("role \"bench1\" may"),
        "{}",
        said.stderr
    );
    // Nobody is known to be the bench that copied then.
    for number in 0..2 {
        std::fs::rename(
            one.path(&format!("i{number}")),
            one.path(&format!("j{number}")),
        )
        .unwrap();
    }
    one.judged("more", 7);
    one.archive(&["add", "more"]).ended(0);
    push_as(&one, &server, "bench1", &[])
        .ended(2)
        .says("or nobody's yet");
    // What is there already needs no right to add.
    push_as(&two, &server, "bench1", &[])
        .ended(0)
        .says("0 copied, 2 there already");
    server
        .set_up(&[
            "--bench",
            &format!("bench1={first}"),
            "--bench",
            &format!("bench2={second}"),
            "--bench",
            "bench3",
        ])
        .ended(0);
    push_as(&one, &server, "bench1", &[])
        .ended(0)
        .says("1 copied");
    for user in ["bench1", "bench3", "office"] {
        server
            .archive_as(user, &["check"])
            .ended(0)
            .says("whole: 6 records");
    }
    // The older ones lie there as they were.
    let older = ada.number("select count(*) from heelclear_schema_1.record");
    assert_eq!(older, 5);
    attack(&server, "bench2", &second, &first);
    attack(&server, "bench3", &second, &first);
}

#[test]
fn the_owner_of_a_database_sets_it_up_without_being_the_servers_user() {
    let Some(server) = Server::start() else {
        return;
    };
    let mut ada = server.connect().unwrap();
    for line in [
        "create role keeper login createrole",
        "create database tools owner keeper",
    ] {
        ada.execute(line).unwrap();
    }
    let at = |user: &str| server.address_of(user).replace("/postgres", "/tools");
    let setup = |flags: &[&str]| {
        let mut command = std::process::Command::new(crate::bench::PROGRAM);
        command.args([
            "archive",
            "server-setup",
            "--run",
            "--archive",
            &at("keeper"),
        ]);
        Said::of(command.args(flags).output().unwrap())
    };
    setup(&["--bench", "bench1"]).ended(0);
    let bench = Bench::new();
    many(&bench, 2);
    bench
        .archive(&["push", &at("bench1")])
        .ended(0)
        .says("2 copied");
    // The owner brings the tables of an earlier version up, and may look at them.
    let mut keeper = Client::connect(&at("keeper")).unwrap().unwrap();
    keeper.batch_execute(AS_AT_FIRST).unwrap();
    setup(&[]).ended(0).says("heelclear_schema_1");
    setup(&[]).ended(0);
    let mut list = std::process::Command::new(crate::bench::PROGRAM);
    list.args(["archive", "check", "--archive", &at("bench1")]);
    Said::of(list.output().unwrap())
        .ended(0)
        .says("whole: 2 records");
    // A role that may not is told so, and nothing is left half done.
    let mut command = std::process::Command::new(crate::bench::PROGRAM);
    command.args([
        "archive",
        "server-setup",
        "--run",
        "--bench",
        "bench2",
        &at("bench1"),
    ]);
    Said::of(command.output().unwrap())
        .ended(2)
        .says("nothing was changed");
}

#[test]
fn roles_that_no_policy_binds_are_refused() {
    let Some(server) = Server::start() else {
        return;
    };
    let mut ada = server.connect().unwrap();
    for line in [
        "create role boss login superuser",
        "create role by login bypassrls",
        "create role maker login createrole",
        "create role writer login in role pg_write_all_data",
        "create role between nologin",
        "create role nested login in role between",
    ] {
        ada.execute(line).unwrap();
    }
    server.set_up(&["--bench", "bench1"]).ended(0);
    ada.execute("grant heelclear_owner to between").unwrap();
    let before = all_of(&server);
    for role in ["boss", "by", "maker", "writer", "nested", "ada"] {
        for flag in ["--bench", "--reader"] {
            server.set_up(&[flag, role]).ended(2).says(role);
        }
    }
    server
        .set_up(&["--bench", "x'; drop schema heelclear; --"])
        .ended(2)
        .says("error[usage]");
    assert_eq!(before, all_of(&server));
    // Code that another left in the archive's place would run for whoever adds to it.
    ada.batch_execute("create function heelclear.x() returns int language sql as 'select 1'")
        .unwrap();
    server
        .set_up(&[])
        .ended(2)
        .says("function")
        .says("take it out");
    ada.batch_execute(
        "drop function heelclear.x();
        create function public.t() returns trigger language plpgsql as 'begin return null; end';
        create trigger t before insert or update on heelclear.about for each row execute function public.t();
        create function public.acts(a text) returns text immutable language plpgsql
            as 'begin raise exception ''it acted''; end';
        alter table heelclear.record alter column origin set default public.acts('x');
        alter table heelclear.bench add check (public.acts(id) is null) not valid;
        create index odd on heelclear.content (public.acts(digest::text));
        create policy odd on heelclear.file for delete using (public.acts(path) is null)",
    )
    .unwrap();
    server.set_up(&["--bench", "bench1=x"]).ended(0);
    let mut after = all_of(&server);
    ada.batch_execute("delete from heelclear.bench where id = 'x'")
        .unwrap();
    after[1] = all_of(&server).swap_remove(1);
    assert_eq!(before, after);
    ada.batch_execute(
        "create view heelclear.y as select 1; alter table heelclear.subject rename to z; \
        create view heelclear.subject as select * from heelclear.z",
    )
    .unwrap();
    server
        .set_up(&[])
        .ended(2)
        .says("heelclear.subject is no table");
}

#[test]
fn contents_that_another_bench_put_under_a_false_digest_are_not_taken_for_a_records() {
    let Some(server) = Server::start() else {
        return;
    };
    server
        .set_up(&["--bench", "bench1", "--bench", "bench2"])
        .ended(0);
    let bench = Bench::new();
    let folder = bench.judged("a", 1);
    bench.archive(&["add", "a"]).ended(0);
    let own = rusqlite::Connection::open(bench.db()).unwrap();
    let digest_of = |path: &str| -> String {
        let text = "select lower(hex(digest)) from file where path = ?1";
        own.query_row(text, [path], |row| row.get(0)).unwrap()
    };
    let packed_of = |path: &str| -> String {
        let text = "select lower(hex(packed)) from content where digest = (select digest from file where path = ?1)";
        own.query_row(text, [path], |row| row.get(0)).unwrap()
    };
    let mut ada = server.connect().unwrap();
    let mut hostile = server.connect_as("bench2");
    // Bytes that are none, those of another file, and a drawing in place of a report and of a card.
    let (report, card) = (packed_of("report.svg"), packed_of("gauge.toml"));
    for (path, put) in [
        ("tool.toml", "00"),
        ("tool.toml", card.as_str()),
        ("report.svg", card.as_str()),
        ("tool.toml", report.as_str()),
        ("verdict.json", report.as_str()),
    ] {
        let digest = digest_of(path);
        hostile
            .batch_execute(&format!(
                "insert into heelclear.content (digest, packed) values ('\\x{digest}', '\\x{put}')"
            ))
            .unwrap();
        push_as(&bench, &server, "bench1", &[])
            .ended(2)
            .says(&format!("under the digest of its file `{path}`"))
            .says("select owner from heelclear.content");
        let owner =
            format!("select owner::text from heelclear.content where digest = '\\x{digest}'");
        let owner: String = ada.query_one(&owner).unwrap().get(0);
        assert_eq!(owner, "bench2");
        ada.batch_execute("delete from heelclear.content").unwrap();
    }
    // The right ones may be there from anybody, packed otherwise too.
    let whole = std::fs::read(folder.join("tool.toml")).unwrap();
    let packed = heelclear::record::archive::pack("other.bin", &whole);
    let hex: String = packed.iter().map(|byte| format!("{byte:02x}")).collect();
    hostile
        .batch_execute(&format!(
            "insert into heelclear.content (digest, packed) values ('\\x{}', '\\x{hex}')",
            digest_of("tool.toml")
        ))
        .unwrap();
    push_as(&bench, &server, "bench1", &[])
        .ended(0)
        .says("1 copied");
    server.archive(&["check"]).ended(0).says("whole: 1 record");
}

#[test]
fn a_push_that_crosses_another_one_begins_its_batch_anew() {
    let Some(server) = Server::start() else {
        return;
    };
    server
        .set_up(&["--bench", "bench1", "--bench", "bench2"])
        .ended(0);
    // Of the two that wait for each other, the server breaks off the first that looks.
    let mut ada = server.connect().unwrap();
    ada.batch_execute("alter role bench1 set deadlock_timeout = '3s'; alter role bench2 set deadlock_timeout = '10min'")
        .unwrap();
    let bench = Bench::new();
    bench.judged("a", 1);
    bench.archive(&["add", "a"]).ended(0);
    let own = rusqlite::Connection::open(bench.db()).unwrap();
    let insert = |path: &str| -> String {
        let text = "select lower(hex(file.digest)), lower(hex(packed)) from file \
            join content on content.digest = file.digest where path = ?1";
        let (digest, packed): (String, String) = own
            .query_row(text, [path], |row| Ok((row.get(0)?, row.get(1)?)))
            .unwrap();
        format!(
            "insert into heelclear.content (digest, packed) values ('\\x{digest}', '\\x{packed}')"
        )
    };
    let mut other = server.connect_as("bench2");
    other
        .batch_execute(&format!("begin; {}", insert("tool.toml")))
        .unwrap();
    let pushing = crate::shared::pushing_as(&bench, &server, "bench1");
    // Files go in the order of their names: the gauge card is there, the tool card is waited for.
    let waits = "select count(*) from pg_stat_activity where usename = 'bench1' and wait_event_type = 'Lock'";
    while ada.number(waits) == 0 {}
    let other = other.says(&insert("gauge.toml"));
    let (mut other, said) = other.join().unwrap();
    said.unwrap();
    other.batch_execute("commit").unwrap();
    Said::of(pushing.wait_with_output().unwrap())
        .ended(0)
        .says("1 copied");
    server.archive(&["check"]).ended(0).says("whole: 1 record");
}

#[test]
fn many_benches_push_the_same_contents_at_the_same_moment() {
    let Some(server) = Server::start() else {
        return;
    };
    let roles = ["bench1", "bench2", "bench3", "bench4"];
    let flags: Vec<&str> = roles.iter().flat_map(|role| ["--bench", role]).collect();
    server.set_up(&flags).ended(0);
    let benches = roles.map(|_| Bench::new());
    benches.iter().for_each(|bench| many(bench, 60));
    let pushes: Vec<_> = benches
        .iter()
        .zip(roles)
        .map(|(bench, role)| crate::shared::pushing_as(bench, &server, role))
        .collect();
    for push in pushes {
        Said::of(push.wait_with_output().unwrap())
            .ended(0)
            .says("60 copied");
    }
    server
        .archive_as("bench1", &["check"])
        .ended(0)
        .says("whole: 240 records");
}
