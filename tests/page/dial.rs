//! The dial for the hand on a relieving fixture's throw, in a browser.

use super::browser::{Browser, PHONE, SHOP_PC, WIDE};
use super::walk::{begin, opened, record};
use heelclear::inspection::Folder;

/// Up to the land that is ridden on, with the stylus set and the tool turning.
fn ride(page: &Browser) {
    begin(page, "worn-in-fixture");
    for step in ["reference", "bore", "motion"] {
        record(page, step);
    }
    page.until(
        "document.querySelector('#steps [aria-current]').textContent.includes('bore residual')",
    );
    page.press("set");
}

#[test]
fn the_hand_on_the_throw_is_told_what_to_do() {
    let Some((folder, _bench, page)) = opened(SHOP_PC) else {
        return;
    };
    ride(&page);
    page.until("/^Open the throw 0\\.2[0-9]* mm/.test(document.getElementById('do').textContent)");
    page.until("document.getElementById('do').textContent.includes('the cam')");
    page.until("/wanted 1\\.0[0-9]* mm/.test(document.getElementById('dial-throw').textContent)");
    page.until("document.getElementById('dial-moves').textContent.includes('is still enough')");
    // Nothing ends it but the person; then what there is is judged, and the worn tool fails no less.
    page.press("enough");
    page.until("document.querySelector('.judged .verdict') !== null");
    let made = std::fs::read_dir(folder.path()).unwrap();
    let made = made.filter_map(|entry| {
        let path = entry.unwrap().path();
        path.join("inspection.toml").is_file().then_some(path)
    });
    let inspection = Folder::open(&made.last().unwrap()).unwrap().inspection;
    assert_eq!(inspection.traces.len(), 4);
    assert_eq!(inspection.grinder.as_deref(), Some("grinder.toml"));
}

#[test]
fn the_dial_is_whole_on_every_screen() {
    for (size, name) in [
        (PHONE, "phone-dial"),
        (WIDE, "wide-dial"),
        (SHOP_PC, "shop-dial"),
    ] {
        let Some((_folder, _bench, page)) = opened(size) else {
            return;
        };
        ride(&page);
        page.until("document.getElementById('dial-value').textContent !== '—'");
        page.until("document.getElementById('do').textContent.startsWith('Open the throw')");
        page.picture(name);
        // What to do, the needle and its number are seen without scrolling.
        page.until(
            "document.getElementById('dial-value').getBoundingClientRect().bottom <= window.innerHeight",
        );
        page.until("document.documentElement.scrollWidth <= window.innerWidth");
    }
}

/// A fixture is set in three steps that a plan can have from the start.
#[test]
fn a_plan_has_traces_with_the_fixture_engaged() {
    let Some((_folder, _bench, page)) = opened(SHOP_PC) else {
        return;
    };
    page.press("try-counterbore-pass");
    page.until("document.getElementById('add-motion') !== null");
    page.js("document.querySelector('details:has(#add-motion)').open = true");
    page.press("add-motion");
    page.press("begin");
    page.until("document.body.textContent.includes('has no throw')");
    page.fill("throw-2", "0.9");
    page.press("begin");
    page.until("document.getElementById('cautioned') !== null");
}
