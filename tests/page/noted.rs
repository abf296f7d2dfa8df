//! Notes and photographs, and the fields of cards that go with them: typed, refused, kept, archived.

use super::access;
use super::browser::{PHONE, SHOP_PC};
use super::server::{Bench, only_inspection};
use super::walk::{begin, opened, record};
use heelclear::card::{GaugeCard, ShopCard};
use heelclear::inspection::noted::LONGEST_PHOTOGRAPH;
use heelclear::inspection::{Folder, verify};
use heelclear::record::archive::{Archive, Place, RecordId, Stored};
use heelclear::report;
use std::path::Path;

const JPEG: &[u8] = b"\xff\xd8\xff\xe0\0\x10JFIF no picture at all, and kept as it is\xff\xd9";

/// Sends bytes as the page does.
fn photograph(bench: &Bench, bytes: &[u8]) -> (u16, String) {
    let head = format!(
        "{}X-Heelclear: 1\r\nContent-Type: application/octet-stream\r\nContent-Length: {}\r\nConnection: close\r\n\r\n",
        bench.begun("POST", "/api/photographs"),
        bytes.len()
    );
    bench.raw(&[head.as_bytes(), bytes].concat())
}

fn newest(folder: &Path) -> Stored {
    let place = Place::File(folder.join("try-out.db"));
    let archive = &mut Archive::open(&place, report::svg_by).unwrap();
    let found = archive.find(&Default::default()).unwrap();
    let last = found.iter().max_by_key(|one| one.id.number).unwrap();
    let RecordId { bench, number } = last.id.clone();
    archive.load(&RecordId { bench, number }).unwrap()
}

#[test]
fn a_photograph_is_added_shown_after_a_reload_archived_and_given_back_byte_for_byte() {
    let Some((folder, bench, page)) = opened(SHOP_PC) else {
        return;
    };
    let chosen = folder.path().join("../from-the-camera.JPG");
    let shot = page.screenshot();
    std::fs::write(&chosen, &shot).unwrap();
    // At the plan: a note and a photograph, before there is a folder for them.
    page.press("try-counterbore-pass");
    page.fill("plan-note", "came in with a blue heel");
    page.attach("plan-photograph", &chosen);
    page.until("document.getElementById('plan-photograph-0')");
    page.fill("customer", "Hydraulics of the valley");
    page.fill("temperature", "20,5");
    page.press("begin");
    page.press("cautioned");
    page.press("sim-fast");
    record(&page, "reference");
    record(&page, "seat");
    page.until("document.querySelector('.verdict.pass')");
    page.until("document.querySelector('.photograph img').naturalWidth > 100");
    page.until("document.getElementById('note').value === 'came in with a blue heel'");
    let inspection = only_inspection(folder.path());
    let card = Folder::open(&inspection).unwrap().inspection;
    assert_eq!(card.customer.as_deref(), Some("Hydraulics of the valley"));
    assert_eq!(card.temperature_c, Some(20.5));
    // A PNG by its bytes, whatever its name said.
    let kept = inspection.join("photographs/photograph-01.png");
    assert_eq!(std::fs::read(&kept).unwrap(), shot);

    // At the verdict: another one, and more words.
    page.fill("note", "came in with a blue heel\nground twice");
    page.press("save-note");
    page.until("document.querySelector('.note-words').textContent.includes('ground twice')");
    assert_eq!(photograph(&bench, JPEG).0, 200);
    page.until("document.querySelectorAll('.photograph').length === 2");
    page.reload();
    page.until("document.querySelectorAll('.photograph').length === 2");
    page.until("document.querySelector('.photograph img').naturalWidth > 100");
    page.picture("pc-notes");
    // Verdict and report list them, and follow from what lies in the folder.
    let written = std::fs::read_to_string(inspection.join("verdict.json")).unwrap();
    let judged = verify(&Folder::open(&inspection).unwrap()).unwrap();
    assert_eq!(judged.to_json().unwrap(), written);
    let noted = judged.noted.unwrap();
    assert_eq!(noted.photographs.len(), 2);
    assert_eq!(noted.photographs[1].file, "photographs/photograph-02.jpg");
    let drawn = std::fs::read_to_string(inspection.join("report.svg")).unwrap();
    for word in ["Notes and photographs", "ground twice", "photograph-02.jpg"] {
        assert!(drawn.contains(word), "{word}");
    }

    page.press("keep");
    page.until("document.body.innerText.includes('kept as record 1')");
    let stored = newest(folder.path());
    assert_eq!(
        stored.file("photographs/photograph-01.png"),
        Some(&shot[..])
    );
    assert_eq!(stored.file("photographs/photograph-02.jpg"), Some(JPEG));
    let note = stored.file("notes.txt").unwrap();
    assert_eq!(note, b"came in with a blue heel\nground twice\n");
    // What is noted later is not in that record: it is offered to be kept again.
    page.js("window.confirm = () => true");
    page.press("out-photograph-02.jpg");
    page.until("document.querySelectorAll('.photograph').length === 1");
    page.press("keep");
    page.until("document.body.innerText.includes('kept as record 2')");
    let stored = newest(folder.path());
    assert_eq!(stored.file("photographs/photograph-02.jpg"), None);
    assert!(stored.summary.replaces.is_some());
    std::fs::remove_file(chosen).unwrap();
}

#[test]
fn what_is_no_photograph_or_too_large_is_refused_in_words() {
    let Some((folder, bench, page)) = opened(PHONE) else {
        return;
    };
    // Nobody began an inspection.
    assert_eq!(photograph(&bench, JPEG).0, 400);
    let text = folder.path().join("no-picture.jpg");
    std::fs::write(&text, "GIF89a and nothing else").unwrap();
    let large = folder.path().join("large.jpg");
    let mut bytes = vec![0; LONGEST_PHOTOGRAPH + 1];
    bytes[..JPEG.len()].copy_from_slice(JPEG);
    std::fs::write(&large, &bytes).unwrap();
    page.press("try-counterbore-pass");
    let refused = |id: &str, file: &Path, words: &str| {
        page.attach(id, file);
        page.until(&format!(
            "document.getElementById('complaint').textContent.includes('{words}')"
        ));
    };
    refused("plan-photograph", &text, "expected a JPEG, PNG or WebP");
    refused("plan-photograph", &large, "expected at most 12 MB");
    page.until("!document.getElementById('plan-photograph-0')");
    page.press("back");
    begin(&page, "counterbore-pass");
    record(&page, "reference");
    record(&page, "seat");
    page.until("document.querySelector('.verdict.pass')");
    refused("photograph", &text, "expected a JPEG, PNG or WebP");
    refused("photograph", &large, "expected at most 12 MB");
    let wrong = access::wrong_with(&page, "notes");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    // The bench looks itself, whatever a page sends.
    let (status, answer) = photograph(&bench, b"GIF89a");
    assert_eq!(status, 400, "{answer}");
    assert!(answer.contains("expected a JPEG, PNG or WebP"), "{answer}");
    let (status, answer) = photograph(&bench, &[&bytes[..], b"more"].concat());
    assert!(status == 400 || status == 0, "{status} {answer}");
    assert!(status == 0 || answer.contains("too large"), "{answer}");
    let inspection = only_inspection(folder.path());
    assert!(!inspection.join("photographs").exists());
    // Nothing else may be longer than before.
    let long = format!(r#"{{"text":"{}"}}"#, "a".repeat(300 * 1024));
    let (status, _) = bench.post("/api/notes", &long);
    assert!(status == 413 || status == 0, "{status}");
    let (status, answer) = bench.post(
        "/api/notes",
        &format!(r#"{{"text":"{}"}}"#, "a".repeat(10_001)),
    );
    assert_eq!(status, 400, "{answer}");
    assert!(answer.contains("expected at most 10000"), "{answer}");
    // No name leads out of the folder of photographs, and there are no more than can be.
    for name in ["..%2Finspection.toml", "inspection.toml", "%2e%2e"] {
        let (status, _) = bench.ask("GET", &format!("/api/photographs/{name}"), &[], "");
        assert_eq!(status, 404, "{name}");
    }
    for number in 1..=12 {
        assert_eq!(photograph(&bench, JPEG).0, 200, "{number}");
    }
    let (status, answer) = photograph(&bench, JPEG);
    assert_eq!(status, 400, "{answer}");
    assert!(
        answer.contains("12 photographs, which is the most"),
        "{answer}"
    );
}

#[test]
fn what_a_verdict_lists_and_does_not_lie_there_is_not_archived() {
    let Some((folder, bench, page)) = opened(SHOP_PC) else {
        return;
    };
    begin(&page, "counterbore-pass");
    record(&page, "reference");
    record(&page, "seat");
    page.until("document.querySelector('.verdict.pass')");
    assert_eq!(photograph(&bench, JPEG).0, 200);
    let inspection = only_inspection(folder.path());
    let kept = inspection.join("photographs/photograph-01.jpg");
    // A photograph that somebody put there by hand later is no reason to refuse.
    std::fs::write(
        inspection.join("photographs/by-hand.png"),
        b"\x89PNG\r\n\x1a\n",
    )
    .unwrap();
    assert_eq!(bench.post("/api/keep", "{}").0, 200);
    std::fs::write(&kept, b"\xff\xd8\xff another").unwrap();
    let (status, answer) = bench.post("/api/keep", "{}");
    assert_eq!(status, 400, "{answer}");
    assert!(answer.contains("lists notes or photographs"), "{answer}");
}

#[test]
fn the_shop_and_the_indicators_identity_are_filled_in_and_read_back() {
    let Some((folder, _bench, page)) = opened(SHOP_PC) else {
        return;
    };
    page.press("new-shop");
    page.press("save-card");
    page.until(
        "document.getElementById('f-name-objection').textContent.includes('words are needed')",
    );
    page.fill("f-name", "Regrinds by the weir");
    page.fill("f-address", "Mill Lane 3");
    page.press("save-card");
    page.until("document.activeElement.id === 'edit-shop.toml'");
    let shop = || {
        let text = std::fs::read_to_string(folder.path().join("shop.toml")).unwrap();
        ShopCard::parse(&text, "shop.toml").unwrap()
    };
    assert_eq!(shop().name, "Regrinds by the weir");
    page.press("edit-shop.toml");
    page.until("document.getElementById('f-address').value === 'Mill Lane 3'");
    page.fill("f-authorised_by", "the foreman");
    page.press("save-card");
    page.until("document.activeElement.id === 'edit-shop.toml'");
    assert_eq!(shop().address.as_deref(), Some("Mill Lane 3"));
    assert_eq!(shop().authorised_by.as_deref(), Some("the foreman"));

    let simulated = folder.path().join("bench");
    let tool = heelclear::simulator::built_in("counterbore-pass").unwrap();
    heelclear::inspection::simulated::write_folder(&tool, &simulated).unwrap();
    let text = std::fs::read_to_string(simulated.join("gauge.toml")).unwrap();
    let study = "\n[study.repeat]\ntaken = 2026-03-02T09:14:00Z\nrepeatability_mm = 0.0004\n";
    let before = GaugeCard::parse(&(text + study), "gauge.toml").unwrap();
    let path = folder.path().join("gauges/bench.toml");
    std::fs::write(&path, before.to_toml()).unwrap();
    page.reload();
    page.press("edit-bench.toml");
    page.until("document.getElementById('f-identity-serial')");
    page.js("document.getElementById('f-identity-serial').closest('details').open = true");
    page.fill("f-identity-serial", "4711");
    page.fill("f-identity-certificate", "C-2026-9");
    page.fill("f-identity-due", "soon");
    page.press("save-card");
    page.until("document.getElementById('f-identity-due-objection').textContent !== ''");
    page.fill("f-identity-due", "2027-03-01");
    page.press("save-card");
    page.until("document.activeElement.id === 'edit-bench.toml'");
    let text = std::fs::read_to_string(&path).unwrap();
    let after = GaugeCard::parse(&text, "bench.toml").unwrap();
    assert_eq!(after.identity.serial.as_deref(), Some("4711"));
    assert_eq!(after.identity.certificate.as_deref(), Some("C-2026-9"));
    assert_eq!(after.identity.due.unwrap().to_string(), "2027-03-01");
    // Nothing else of the card is another than before.
    let without = GaugeCard {
        identity: before.identity.clone(),
        ..after
    };
    assert_eq!(without, before);
}
