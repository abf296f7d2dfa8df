//! Sketches beside the fields of cards and plan, and the set-up drawn while the stylus is set.

use super::access;
use super::browser::{Browser, LAPTOP, LOW, PHONE, SHOP_PC, WIDE};
use super::walk::opened;
use heelclear::card::{Hand, Rotation};
use serde_json::{Value, json};

/// Types whatever a hand may type into each field, and gives what is wrong with the sketch then.
const TYPE_ANYTHING: &str = r#"
const VALUES = ["", "abc", "0", "-1", "1e9", "0.0001", "12", "123.456789", "60 90 210"];
const wrong = [];
document.querySelectorAll("details").forEach((one) => { one.open = true; });
const ids = [...document.querySelectorAll("form.sketched :is(input, select)")].map((one) => one.id).filter((id) => id.startsWith("f-"));
for (const id of ids) {
  const field = () => document.getElementById(id);
  const was = field().value;
  const list = field().tagName === "SELECT";
  for (const value of [...(list ? [...field().options].map((one) => one.value) : VALUES), was]) {
    field().focus();
    field().value = value;
    field().dispatchEvent(new Event(list ? "change" : "input", { bubbles: true }));
    const sketch = document.getElementById("sketch");
    const art = sketch.querySelector("svg");
    const said = (what) => wrong.push(`${id} “${value}”: ${what}`);
    const odd = sketch.innerHTML.match(/NaN|undefined|Infinity|null/);
    if (odd) said(`${odd[0]} in ${sketch.innerHTML.slice(Math.max(0, odd.index - 60), odd.index + 20)}`);
    if (art.getAttribute("aria-hidden") !== "true" || !sketch.querySelector(".sketch-words").textContent) said("no words");
    const [, , w, h] = art.getAttribute("viewBox").split(" ").map(Number);
    for (const text of art.querySelectorAll("text")) {
      const b = text.getBBox();
      if (b.x < -3 || b.x + b.width > w + 3 || b.y < -4 || b.y + b.height > h + 6) said(`“${text.textContent}” is cut off`);
    }
  }
}
return [...new Set(wrong)].concat(ids.length > 20 ? [] : ["too few fields"]);
"#;

#[track_caller]
fn none_wrong(found: &Value) {
    let lines = found.as_array().unwrap().iter().filter_map(Value::as_str);
    let lines: Vec<&str> = lines.take(12).collect();
    assert!(lines.is_empty(), "{}", lines.join("\n"));
}

fn open_form(page: &Browser, kind: &str) {
    page.press(&format!("new-{kind}"));
    page.until("document.getElementById('sketch')");
    if kind == "grinder" {
        for more in [
            "more-pulleys",
            "more-slide",
            "more-swivel",
            "more-fixture",
            "more-cam-0",
        ] {
            page.press(more);
        }
    }
}

#[test]
fn every_field_has_a_sketch_that_stays_whole_whatever_is_typed() {
    for size in [SHOP_PC, PHONE] {
        let Some((_folder, _bench, page)) = opened(size) else {
            return;
        };
        for kind in ["tool", "gauge", "grinder"] {
            open_form(&page, kind);
            none_wrong(&page.js(TYPE_ANYTHING));
            page.press("leave-form");
        }
    }
}

/// What the sketch says in words, and what it objects to.
fn said(page: &Browser) -> (String, String) {
    let text = |id: &str| {
        let text = page.js(&format!(
            "return document.getElementById('{id}').textContent"
        ));
        text.as_str().unwrap().to_owned()
    };
    (text("sketch-words"), text("sketch-wrong"))
}

#[test]
fn a_sketch_changes_with_what_is_typed_and_says_what_cannot_be() {
    let Some((_folder, _bench, page)) = opened(SHOP_PC) else {
        return;
    };
    open_form(&page, "tool");
    let check = |field: &str, typed: &str, words: &str, wrong: &str| {
        page.fill(field, typed);
        let (says, objects) = said(&page);
        assert!(says.contains(words), "{field} {typed}: {says}");
        assert!(objects.contains(wrong), "{field} {typed}: {objects}");
        assert_eq!(objects.is_empty(), wrong.is_empty(), "{field}: {objects}");
    };
    check("f-flutes", "", "Nothing is filled in yet", "");
    check("f-flutes", "two", "Flutes", "“two” is no number");
    check("f-flutes", "2.5", "Flutes", "no whole number");
    check("f-flutes", "30", "Flutes", "at most 24");
    check("f-flutes", "4", "4 teeth, 90° from edge to edge", "");
    let diameter = "f-feature-0-diameter_mm";
    check(diameter, "-3", "Diameter", "must be above 0 mm");
    check(diameter, "20", "Diameter 20 mm", "");
    let distance = "f-feature-0-check_distance_mm";
    check(distance, "0.5", "Check distance 0.5 mm", "");
    check(distance, "16", "", "It reaches the next edge");
    // What the field means is drawn in proportion: twice as far is twice as far.
    let wide = |typed: &str| {
        page.fill(distance, typed);
        let far = page.js("const [a, b] = [...document.querySelectorAll('#sketch .witness')].map((one) => [Number(one.getAttribute('x1')), Number(one.getAttribute('y1'))]); return Math.hypot(a[0] - b[0], a[1] - b[1])");
        far.as_f64().unwrap()
    };
    let ratio = wide("1") / wide("0.5");
    assert!((ratio - 2.0).abs() < 0.1, "{ratio}");
    let limit = "f-feature-0-limits-relief_angle_deg";
    check(&format!("{limit}-min"), "6", "at least 6°", "");
    check(&format!("{limit}-max"), "9", "6 to 9°", "");
    check(
        &format!("{limit}-max"),
        "5",
        "",
        "The least is above the most",
    );
    // In inches what is typed is drawn in inches, and stays what it is.
    page.press("units");
    page.js(&format!("document.getElementById('{diameter}').focus()"));
    let (says, wrong) = said(&page);
    assert!(says.contains("0.787") && says.contains(" in"), "{says}");
    assert_eq!(wrong, "");
    // A field without a sketch of its own shows the whole.
    page.fill("f-id", "VB-91");
    assert_eq!(said(&page).0, "The whole tool.");
}

/// The way along an arrow on the screen, from its first point to its last around (cx, cy).
const WAY: &str = r#"
const way = (path, cx, cy) => {
  const points = path.getAttribute("d").replace(/[MLZ]/g, " ").trim().split(/\s+/).map(Number);
  const turned = (at) => Math.atan2(points[at] - cx, cy - points[at + 1]);
  const by = turned(points.length - 2) - turned(0);
  return Math.sin(by) > 0 ? "clockwise" : "counter-clockwise";
};
// At each face the outline steps along a radius; the land is on one side of it, the gap on the other.
const land = (outline, cx, cy) => {
  const points = outline.getAttribute("d").replace(/[MLZ]/g, " ").trim().split(/\s+/).map(Number);
  const polar = [];
  for (let at = 0; at < points.length; at += 2) polar.push([(Math.atan2(points[at] - cx, cy - points[at + 1]) * 180) / Math.PI, Math.hypot(points[at] - cx, points[at + 1] - cy)]);
  const sides = new Set();
  polar.forEach(([angle, r], at) => {
    const [next, s] = polar[(at + 1) % polar.length];
    if (Math.abs(angle - next) > 0.3 || Math.abs(r - s) < 10) return;
    const near = (by) => polar.filter(([one]) => { const far = ((one - angle - by + 540) % 360) - 180; return Math.abs(far) < 4; }).map((one) => one[1]);
    const mean = (list) => list.reduce((all, one) => all + one, 0) / Math.max(1, list.length);
    sides.add(mean(near(6)) > mean(near(-6)) ? "clockwise" : "counter-clockwise");
  });
  return [...sides].join(" and ");
};
"#;

#[test]
fn the_hand_is_drawn_as_the_program_has_it() {
    let Some((_folder, _bench, page)) = opened(SHOP_PC) else {
        return;
    };
    open_form(&page, "tool");
    page.fill("f-flutes", "3");
    for hand in [Hand::Right, Hand::Left] {
        page.choose("f-hand", hand.as_str());
        page.js("document.getElementById('f-hand').focus()");
        let drawn = page.js(&format!(
            "{WAY} const art = document.querySelector('#sketch svg'); return [way(art.querySelector('.way .shaft'), 180, 118), land(art.querySelector('path.metal'), 180, 118)]"
        ));
        // A land lies behind its edge: on the side from which the tool comes as it cuts.
        let cuts = hand.cuts();
        assert_eq!(drawn, json!([cuts.as_str(), cuts.reversed().as_str()]));
        assert!(said(&page).0.contains(&format!("cuts {cuts}")));
    }
}

#[cfg(unix)]
mod set_up {
    use super::*;
    use crate::server::Bench;
    use heelclear::card::{GaugeCard, ToolCard};
    use heelclear::simulator::{Served, built_in};
    use tempfile::TempDir;

    /// A bench with the stylus to be set on the second step of a tool of this hand.
    struct Setting {
        page: Browser,
        bench: Bench,
        tool: ToolCard,
        gauge: GaugeCard,
        _served: Served,
        _folder: TempDir,
    }

    impl Setting {
        fn new(hand: Hand, grows: Rotation, offset_mm: f64, surface: &str) -> Option<Self> {
            let (folder, bench, page) = opened(LAPTOP)?;
            let served = Served::start(built_in("counterbore-pass").unwrap(), 4.0).unwrap();
            let tool = format!(
                "schema = 1\nid = \"VB-92\"\nname = \"counterbore\"\nhand = \"{}\"\nflutes = 3\n[[feature]]\nname = \"seat\"\nsurface = \"{surface}\"\ndiameter_mm = 20\ncheck_distance_mm = 0.5\n",
                hand.as_str()
            );
            let gauge = format!(
                "schema = 1\n[indicator]\nresolution_mm = 0.001\nmax_error_mm = 0.002\nhysteresis_mm = 0.001\nlever_angle_deg = 0\n[stylus]\nshape = \"ball\"\nradius_mm = 1\n[encoder]\ncounts_per_rev = 4000\ngrows = \"{grows}\"\nsense_proven = {{ grows = \"{grows}\", on = 2026-03-01 }}\n[setup]\nprobe_offset_mm = {offset_mm}\nprobe_offset_tolerance_mm = 0.05\n"
            );
            std::fs::write(folder.path().join("tools/tool.toml"), &tool).unwrap();
            std::fs::write(folder.path().join("gauges/gauge.toml"), &gauge).unwrap();
            let plan = json!({
                "tool": "tool.toml", "gauge": "gauge.toml", "stage": "after-grind",
                "steps": [{ "feature": "seat", "z_mm": 5.0 }, { "feature": null, "z_mm": 40.0, "diameter_mm": 20.0 }],
                "spacing_deg": 0.5, "passes": 1,
            });
            for (path, body) in [
                ("/api/begin", plan.to_string()),
                ("/api/caution", "{}".to_owned()),
                ("/api/connect", json!({ "port": served.path() }).to_string()),
            ] {
                let (status, answer) = bench.post(path, &body);
                assert_eq!(status, 200, "{path}: {answer}");
            }
            page.until("document.querySelector('#set-up-drive svg')");
            Some(Self {
                page,
                bench,
                tool: ToolCard::parse(&tool, "tool.toml").unwrap(),
                gauge: GaugeCard::parse(&gauge, "gauge.toml").unwrap(),
                _served: served,
                _folder: folder,
            })
        }

        /// What the inspection says, as a page is told it.
        fn inspection(&self) -> Value {
            let told: Value = serde_json::from_str(&self.bench.stands()).unwrap();
            told["inspection"].clone()
        }

        fn words(&self) -> String {
            let words = self
                .page
                .js("return document.getElementById('set-up-words').textContent");
            words.as_str().unwrap().to_owned()
        }
    }

    #[test]
    fn ways_are_drawn_as_the_inspection_says_for_both_hands_and_both_senses() {
        for hand in [Hand::Right, Hand::Left] {
            for grows in [Rotation::Clockwise, Rotation::CounterClockwise] {
                let Some(bench) = Setting::new(hand, grows, 2.0, "radial") else {
                    return;
                };
                let drawn = bench.page.js(&format!(
                    "{WAY} const art = document.querySelector('#set-up-drive svg');
                     const ways = [...art.querySelectorAll('.turn-way .shaft')].map((one) => way(one, 170, 124));
                     return {{ turn: ways.join(' '), grows: way(art.querySelector('.grows-way .shaft'), 170, 124), land: land(art.querySelector('path.metal'), 170, 124), probe: Number(art.querySelector('circle.stylus').getAttribute('cx')) - 170 }}"
                ));
                let says = bench.inspection();
                let heel_first = says["tool"]["heel_turns"].as_str().unwrap();
                let at = format!("{hand:?}, {grows:?}: {drawn}");
                assert_eq!(drawn["turn"], says["tool"]["heel_turns"], "{at}");
                assert_eq!(drawn["grows"], says["sense"]["stated"], "{at}");
                // Turned so, a probe that stands meets the land before its edge.
                assert_eq!(drawn["land"], says["tool"]["heel_turns"], "{at}");
                // The program's own answers, without the page.
                assert_eq!(heel_first, bench.tool.hand.cuts().reversed().as_str());
                let sense = bench.gauge.encoder.sense;
                assert_eq!(drawn["grows"], sense.grows(hand).as_str());
                // Positive is towards where the surface moves as it cuts: on top, to the right where
                // that is clockwise.
                let right = drawn["probe"].as_f64().unwrap() > 0.0;
                assert_eq!(right, hand.cuts() == Rotation::Clockwise, "{at}");
                let words = bench.words();
                assert!(
                    words.contains(&format!("Turn {heel_first}, heel first")),
                    "{words}"
                );
                assert!(
                    words.contains(&format!("The angle grows {grows}.")),
                    "{words}"
                );
                // The sign beside it says the same.
                let sign = bench
                    .page
                    .js("return document.querySelector('#way .word').textContent");
                assert_eq!(sign, heel_first);
            }
        }
    }

    #[test]
    fn the_stylus_stands_where_it_has_to_touch_in_proportion() {
        let Some(bench) = Setting::new(Hand::Right, Rotation::Clockwise, 0.0, "radial") else {
            return;
        };
        let page = &bench.page;
        let far = "const art = document.querySelector('#set-up-side svg');
            const [front, probe] = [...art.querySelectorAll('.witness')].map((one) => Number(one.getAttribute('x1')));
            const across = art.querySelector('.metal').getBBox().height;
            return (front - probe) / across";
        let at = |page: &Browser| page.js(far).as_f64().unwrap();
        assert!((at(page) - 5.0 / 20.0).abs() < 0.01, "{}", at(page));
        assert!(bench.words().contains("touches “seat” from the side"));
        assert_eq!(bench.bench.post("/api/take", r#"{"step":1}"#).0, 200);
        page.until(
            "document.getElementById('set-up-words').textContent.includes('reference round')",
        );
        assert!((at(page) - 40.0 / 20.0).abs() < 0.02, "{}", at(page));
        // Once it is set the readings take the place.
        page.press("set");
        page.until("!document.getElementById('desk').classList.contains('set-up-shown')");
    }

    #[test]
    fn a_face_is_touched_from_the_front() {
        let Some(bench) = Setting::new(Hand::Left, Rotation::Clockwise, 0.0, "axial") else {
            return;
        };
        let words = bench.words();
        assert!(words.contains("on its end, along the axis"), "{words}");
        let from = bench.page.js("const art = document.querySelector('#set-up-side svg'); return art.querySelector('.barrel').getBBox().x > art.querySelector('circle.stylus').getBBox().x");
        assert_eq!(from, json!(true));
    }
}

#[test]
fn on_a_phone_the_sketch_stands_below_its_field_and_nothing_jumps() {
    let Some((_folder, _bench, page)) = opened(PHONE) else {
        return;
    };
    open_form(&page, "tool");
    let below = page.js(
        "const wrong = [];
         for (const id of ['f-hand', 'f-flutes', 'f-feature-0-surface', 'f-feature-0-check_distance_mm', 'f-hand']) {
           const field = document.getElementById(id);
           const top = () => field.getBoundingClientRect().top;
           field.scrollIntoView({ block: 'center', behavior: 'instant' });
           const before = top();
           field.focus({ preventScroll: true });
           if (field.closest('.field').nextElementSibling !== document.getElementById('sketch')) wrong.push(`${id}: not below`);
           if (Math.abs(top() - before) > 2 && window.scrollY > 0) wrong.push(`${id}: moved by ${top() - before}`);
         }
         return wrong",
    );
    none_wrong(&below);
}

#[test]
fn the_plan_shows_where_each_step_lies_as_it_is_typed() {
    let Some((_folder, _bench, page)) = opened(SHOP_PC) else {
        return;
    };
    page.press("try-counterbore-pass");
    page.until("document.getElementById('sketch')");
    for (id, typed, words, wrong) in [
        ("z-0", "30", "30 mm from the front", ""),
        ("z-0", "far", "", "“far” is no number"),
        ("z-1", "-2", "not filled in", "in front of the tool"),
        ("d-0", "0", "", "must be above 0"),
        ("d-0", "12", "Ø 12 mm", ""),
    ] {
        page.fill(id, typed);
        let (says, objects) = said(&page);
        assert!(says.contains(words), "{id} {typed}: {says}");
        assert!(objects.contains(wrong), "{id} {typed}: {objects}");
        assert_eq!(objects.is_empty(), wrong.is_empty(), "{id}: {objects}");
    }
}

/// Forms, plan and set-up in four sizes, light and dark, for everybody.
#[test]
fn everybody_can_use_the_forms_with_sketches_in_every_size() {
    for (name, size) in [
        ("low", LOW),
        ("laptop", LAPTOP),
        ("wide", WIDE),
        ("phone", PHONE),
    ] {
        for dark in [false, true] {
            let Some((_folder, _bench, page)) = opened(size) else {
                return;
            };
            page.until("document.getElementById('try-counterbore-pass')");
            if dark {
                page.dark();
            }
            let shade = if dark { "dark" } else { "light" };
            let mut wrong = Vec::new();
            let mut look = |view: &str| {
                page.picture(&format!("{name}-{shade}-sketch-{view}"));
                wrong.extend(access::wrong_with(&page, view));
            };
            for (kind, field) in [
                ("tool", "f-feature-0-check_distance_mm"),
                ("gauge", "f-setup-probe_offset_mm"),
                ("grinder", "f-motion-0-rise_mm"),
            ] {
                open_form(&page, kind);
                page.js(&format!("document.getElementById('{field}').focus()"));
                page.until("document.querySelector('#sketch svg')");
                look(kind);
                page.press("leave-form");
            }
            page.press("try-counterbore-pass");
            page.until("document.getElementById('z-1')");
            page.js("document.getElementById('z-1').focus()");
            look("plan");
            page.press("begin");
            page.press("cautioned");
            page.press("sim-fast");
            page.until("document.querySelector('#set-up-side svg')");
            look("set-up");
            assert!(wrong.is_empty(), "{name} {shade}\n{}", wrong.join("\n"));
        }
    }
}
