//! What goes wrong at a bench: the plug, the program, too many pages. Nothing read is lost.

use super::browser::SHOP_PC;
use super::server::{Bench, Served, only_inspection};
use super::walk::{begin, opened, record};
use heelclear::inspection::live::file_of;
use heelclear::inspection::{Folder, verify};
use heelclear::record::Verdict;

#[test]
fn an_unplug_in_the_middle_is_told_and_the_way_on_leads_to_a_pass() {
    let Some((folder, _bench, page)) = opened(SHOP_PC) else {
        return;
    };
    begin(&page, "counterbore-pass");
    record(&page, "reference");
    record(&page, "seat");
    page.until("document.getElementById('cover').value > 0.2");
    page.press("plug");
    page.until("document.getElementById('do').textContent.includes('went away')");
    page.until("document.getElementById('pace').textContent.includes('no readings')");
    page.picture("pc-unplugged");
    page.press("plug");
    // The trace goes on, is whole in the end, and what it means is asked.
    page.until("document.body.innerText.includes('another zero')");
    page.until("document.getElementById('step-1').textContent.includes('taken')");
    page.until("document.getElementById('do').textContent.includes('Kept whole: reference')");
    page.picture("pc-clamped-still");
    page.press("clamped-same");
    page.until("document.querySelector('.verdict.pass')");

    let inspection = only_inspection(folder.path());
    let opened = Folder::open(&inspection).unwrap();
    let record = verify(&opened).unwrap();
    assert_eq!(record.verdict, Some(Verdict::Pass));
    // A report of made-up readings says so.
    assert!(record.about.operator.starts_with("simulated gauge"));
    for kept in ["traces/reference.csv", "traces/seat.csv", "raw/seat.log"] {
        assert!(inspection.join(kept).is_file(), "{kept}");
    }
}

#[test]
fn after_the_program_was_stopped_the_page_says_what_was_kept_and_goes_on() {
    let Some((folder, bench, mut page)) = opened(SHOP_PC) else {
        return;
    };
    begin(&page, "counterbore-pass");
    record(&page, "reference");
    record(&page, "seat");
    page.until("document.getElementById('cover').value > 0.2");
    let port = bench.address.port();
    drop(bench);
    // The instruction says so, and no other stands under it.
    page.until("document.getElementById('do').textContent.startsWith('The bench does not answer')");
    page.until("document.querySelector('#actions button, #apart button') === null");
    page.until("document.querySelector('#way.off') && document.querySelector('#pace.slower')");
    page.picture("pc-bench-dead");
    let inspection = only_inspection(folder.path());
    assert!(Folder::open(&inspection).unwrap().inspection.interrupted);

    let again = Bench::with(Served {
        port,
        ..Served::of(folder.path())
    });
    // It has another token now: the page says so, and goes on once the new address was opened.
    page.until(
        "document.getElementById('do').textContent.startsWith('This bench was started anew')",
    );
    page.until(
        "document.body.innerText.includes('Open the address that `heelclear bench` printed')",
    );
    page.picture("pc-bench-anew");
    let first = page.beside(&again.url());
    page.until("document.getElementById('try-counterbore-pass')");
    page.switch(first);
    page.until("!document.getElementById('do')");
    let name = inspection.file_name().unwrap().to_str().unwrap();
    page.press(&format!("resume-{name}"));
    page.press("cautioned");
    let told = "document.getElementById('standing').textContent";
    page.until(&format!("{told}.includes('Kept whole: reference')"));
    page.until(&format!("{told}.includes('to be taken again: seat')"));
    page.press("sim-fast");
    page.press("clamped-same");
    // Only what is missing is taken, and whether the indicator was zeroed is asked and kept.
    page.until("document.getElementById('do').textContent.includes('Was the indicator zeroed')");
    page.picture("pc-zeroed");
    page.press("set-anew");
    page.until("document.querySelector('.verdict.pass')");
    let card = Folder::open(&inspection).unwrap().inspection;
    assert!(!card.interrupted);
    let files: Vec<_> = card
        .traces
        .iter()
        .map(|entry| (file_of(entry), entry.rezeroed))
        .collect();
    assert_eq!(
        files,
        [("traces/reference.csv", false), ("traces/seat-2.csv", true)]
    );
    assert!(inspection.join("raw/seat.log").is_file());
}

#[test]
fn a_tool_clamped_anew_after_a_restart_is_taken_anew() {
    let Some((folder, bench, page)) = opened(SHOP_PC) else {
        return;
    };
    begin(&page, "counterbore-pass");
    record(&page, "reference");
    page.until("document.querySelector('#steps [aria-current]').textContent.includes('seat')");
    let port = bench.address.port();
    let token = bench.secret().to_owned();
    drop(bench);
    let inspection = only_inspection(folder.path());
    // With the token that it had the page goes on by itself.
    let _again = Bench::with(Served {
        port,
        token: Some(&token),
        ..Served::of(folder.path())
    });
    let name = inspection.file_name().unwrap().to_str().unwrap();
    page.press(&format!("resume-{name}"));
    page.press("cautioned");
    page.press("sim-fast");
    page.press("clamped-anew");
    record(&page, "reference");
    record(&page, "seat");
    page.until("document.querySelector('.verdict.pass')");
    let card = Folder::open(&inspection).unwrap().inspection;
    let files: Vec<_> = card.traces.iter().map(file_of).collect();
    // A log was begun for the seat before the program was stopped; its name is not used again.
    assert_eq!(files, ["traces/reference-2.csv", "traces/seat-2.csv"]);
}

#[test]
fn a_fifth_page_has_the_first_stand_aside() {
    let Some((_folder, bench, mut page)) = opened(SHOP_PC) else {
        return;
    };
    page.until("document.getElementById('try-counterbore-pass')");
    let first = page.beside(&bench.bare_url());
    for _ in 0..3 {
        page.beside(&bench.bare_url());
    }
    page.until("document.getElementById('try-counterbore-pass')");
    page.switch(first);
    page.until("document.getElementById('link-lost').textContent.includes('several other pages')");
}

#[test]
fn made_up_readings_never_stand_beside_real_ones() {
    let folder = tempfile::tempdir().unwrap();
    let recipe = heelclear::simulator::built_in("counterbore-pass").unwrap();
    let real = folder.path().join("real");
    heelclear::inspection::simulated::write_folder(&recipe, &real).unwrap();
    super::shelf::as_measured(&real);
    let bench = Bench::open(folder.path());
    assert_eq!(bench.post("/api/resume", r#"{"folder":"real"}"#).0, 200);
    let (status, answer) = bench.post("/api/connect", r#"{"faster":4}"#);
    assert_eq!(status, 400);
    assert!(answer.contains("of a real gauge"), "{answer}");
}
