//! Whether everybody can use it: names, labels, contrast, sizes; and axe's rules where it is there.

use super::archive;
use super::browser::{Browser, LAPTOP, LOW, PHONE, SHOP_PC, WIDE};
use super::learnt;
use super::sense::own_tool;
use super::walk::{begin, opened, record};

/// Looks at what is shown and gives what is wrong with it, a line each.
const LOOK: &str = r#"
const wrong = [];
const seen = (e) => { const b = e.getBoundingClientRect(); const s = getComputedStyle(e); return b.width > 0 && b.height > 0 && s.visibility !== "hidden" && !e.closest(".unseen, .skip"); };
const called = (e) => `${e.tagName.toLowerCase()}#${e.id} “${(e.textContent || "").trim().slice(0, 40)}”`;
const name = (e) => (e.getAttribute("aria-label") || (e.getAttribute("aria-labelledby") || "").split(" ").map((id) => (document.getElementById(id) || {}).textContent || "").join(" ") || (e.labels && [...e.labels].map((l) => l.textContent).join(" ")) || e.textContent || e.getAttribute("alt") || "").trim();
for (const e of document.querySelectorAll("button, a[href], input, select, summary, [role=img], img, progress, output, nav, [role=group]")) {
  if (!seen(e) || e.tagName === "OUTPUT") continue;
  if (!name(e)) wrong.push(`${called(e)} has no name`);
}
const ids = [...document.querySelectorAll("[id]")].map((e) => e.id);
for (const id of ids) if (ids.filter((other) => other === id).length > 1) wrong.push(`two have the id ${id}`);
for (const e of document.querySelectorAll("[aria-describedby], [aria-labelledby]")) {
  for (const list of [e.getAttribute("aria-describedby"), e.getAttribute("aria-labelledby")]) for (const id of (list || "").split(" ").filter(Boolean)) if (!document.getElementById(id)) wrong.push(`${called(e)} points to ${id}, which is not there`);
}
if (!document.documentElement.lang) wrong.push("no language is named");
if (document.querySelectorAll("main").length !== 1) wrong.push("there is not one main part");
if (document.querySelector("[tabindex]:not([tabindex='0']):not([tabindex='-1'])")) wrong.push("the order of the Tab key is forced");
let level = 0;
for (const e of document.querySelectorAll("h1, h2, h3, h4")) { const now = Number(e.tagName[1]); if (now > level + 1) wrong.push(`${called(e)} skips a level`); level = now; }
// WCAG 2.2, 1.4.3 and its definition of relative luminance.
const numbers = (text) => { const all = text.match(/[\d.]+/g).map(Number); return all.length === 3 ? [...all, 1] : all; };
const channel = (c) => (c / 255 <= 0.04045 ? c / 255 / 12.92 : ((c / 255 + 0.055) / 1.055) ** 2.4);
const luminance = ([r, g, b]) => 0.2126 * channel(r) + 0.7152 * channel(g) + 0.0722 * channel(b);
const behind = (e) => { for (let at = e; at; at = at.parentElement) { const c = numbers(getComputedStyle(at).backgroundColor); if (c[3] > 0.99) return c; } return [255, 255, 255]; };
const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
for (let node = walker.nextNode(); node; node = walker.nextNode()) {
  const e = node.parentElement;
  if (!node.textContent.trim() || !seen(e) || e.closest("option, canvas, noscript, script") || e.closest(":disabled") && !e.closest(".step")) continue;
  const style = getComputedStyle(e);
  const [a, b] = [luminance(numbers(style.color)), luminance(behind(e))].sort((x, y) => y - x);
  const ratio = (a + 0.05) / (b + 0.05);
  const large = parseFloat(style.fontSize) >= 24 || (parseFloat(style.fontSize) >= 18.66 && Number(style.fontWeight) >= 700);
  if (ratio < (large ? 3 : 4.5)) wrong.push(`${called(e)} has a contrast of ${ratio.toFixed(2)}`);
}
// A finger in a glove.
for (const e of document.querySelectorAll("button, a.button, select, summary")) { const b = e.getBoundingClientRect(); if (seen(e) && (b.height < 44 || b.width < 44)) wrong.push(`${called(e)} is ${b.width.toFixed(0)} by ${b.height.toFixed(0)}`); }
if (document.documentElement.scrollWidth > window.innerWidth + 1) wrong.push(`the page is ${document.documentElement.scrollWidth} wide on ${window.innerWidth}`);
return wrong;
"#;

/// The rules of axe-core, where `HEELCLEAR_AXE` names its file.
const AXE: &str = r#"
const done = arguments[arguments.length - 1];
axe.run(document, { resultTypes: ["violations"] }).then((found) => done(found.violations.flatMap((v) => v.nodes.map((n) => `${v.id}: ${v.help}: ${n.html.slice(0, 160)}`))), (fault) => done([String(fault)]));
"#;

struct Scan<'b> {
    page: &'b Browser,
    axe: Option<String>,
    wrong: Vec<String>,
}

/// What is wrong with what a page shows, a line each.
pub fn wrong_with(page: &Browser, view: &str) -> Vec<String> {
    let mut scan = Scan::of(page);
    scan.look(view);
    scan.wrong
}

impl<'b> Scan<'b> {
    fn of(page: &'b Browser) -> Self {
        let axe = std::env::var_os("HEELCLEAR_AXE");
        let axe = axe.map(|file| std::fs::read_to_string(file).unwrap());
        if axe.is_none() {
            println!("without axe: HEELCLEAR_AXE names no file");
        }
        Self {
            page,
            axe,
            wrong: Vec::new(),
        }
    }

    fn look(&mut self, view: &str) {
        let mut found = vec![self.page.js(LOOK)];
        if let Some(axe) = &self.axe {
            self.page.js(axe);
            found.push(self.page.js_later(AXE));
        }
        for list in found {
            let lines = list.as_array().unwrap().iter();
            let lines = lines.map(|line| format!("{view}: {}", line.as_str().unwrap_or_default()));
            self.wrong.extend(lines);
        }
    }
}

/// Every view in one size and one scheme of colours.
fn scan(size: (u32, u32), dark: bool) {
    let Some((folder, bench, page)) = opened(size) else {
        return;
    };
    if dark {
        page.dark();
    }
    let mut scan = Scan::of(&page);
    page.until("document.getElementById('try-counterbore-pass')");
    scan.look("start");
    learnt::shop(folder.path(), 1);
    page.reload();
    if dark {
        page.dark();
    }
    page.press("learnt-window.toml");
    page.until("document.querySelector('.lesson')");
    scan.look("what grinds teach");
    page.press("learnt-back");
    page.press("new-gauge");
    page.until("document.getElementById('save-card')");
    scan.look("gauge form");
    page.press("leave-form");
    page.press("new-grinder");
    page.press("more-fixture");
    page.press("more-cam-0");
    page.press("save-card");
    page.until("document.querySelector('[aria-invalid]')");
    scan.look("grinder form");
    page.press("leave-form");
    page.press("new-tool");
    page.press("save-card");
    page.until("document.querySelector('[aria-invalid]')");
    scan.look("tool form");
    page.press("leave-form");
    page.press("try-counterbore-pass");
    page.until("document.getElementById('begin')");
    scan.look("plan");
    page.js("document.getElementById('back').click()");
    own_tool(&bench, "right");
    page.until("document.getElementById('sim-hand')");
    scan.look("connect");
    page.press("sim-hand");
    page.until("Number(document.getElementById('proof-gone').textContent) > 5");
    scan.look("proof");
    page.until("document.getElementById('proof-keep')");
    scan.look("proven");
    page.press("leave");
    begin(&page, "counterbore-heel-drag");
    page.until("document.getElementById('set')");
    scan.look("stylus");
    page.press("set");
    page.until("document.getElementById('cover').value > 0.3");
    scan.look("reference");
    record(&page, "seat");
    page.until("document.querySelectorAll('#so-far .figure').length > 1");
    scan.look("feature");
    page.until("document.querySelector('.verdict.fail')");
    page.until("document.querySelector('img.report').naturalWidth > 100");
    scan.look("verdict");
    assert!(scan.wrong.is_empty(), "{}", scan.wrong.join("\n"));
}

#[test]
fn everything_has_a_name_and_can_be_read_on_the_shops_pc() {
    scan(SHOP_PC, false);
}

#[test]
fn the_same_on_a_phone_in_the_dark() {
    scan(PHONE, true);
}

#[test]
fn the_archive_can_be_read_by_everybody_in_every_size_light_and_dark() {
    for size in [LOW, LAPTOP, WIDE, PHONE] {
        for dark in [false, true] {
            let Some((_folder, _bench, page)) = archive::filled(size) else {
                return;
            };
            if dark {
                page.dark();
            }
            let mut scan = Scan::of(&page);
            archive::visit(&page, |view| scan.look(view));
            let wrong = scan.wrong.join("\n");
            assert!(wrong.is_empty(), "{size:?}, dark {dark}: {wrong}");
        }
    }
}
