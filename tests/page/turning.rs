//! What guides the hand while the tool is turned: way, pace, ring, the land under the stylus, the end.

use super::browser::{Browser, LAPTOP, LOW, PHONE, SHOP_PC, WIDE};
use super::server::Bench;
use super::walk::{begin, opened, record};
use heelclear::simulator::{Served, Turning, built_in};
use serde_json::{Value, json};
use tempfile::TempDir;

/// A bench with a gauge on a port whose hand this test leads: with the stylus set on the seat, it
/// turns once it is let go.
struct Turned {
    page: Browser,
    _bench: Bench,
    _gauge: Served,
    _folder: TempDir,
}

impl Turned {
    fn new(size: (u32, u32), recipe: &str, turning: Turning, turns: f64) -> Option<Self> {
        let (folder, bench, page) = opened(size)?;
        let mut scenario = built_in(recipe).unwrap();
        scenario.hand.turning = turning;
        scenario.hand.turns = turns;
        scenario.hand.pauses_per_turn = 0.0;
        scenario.hand.nudges_per_turn = 0.0;
        scenario.hand.unevenness = 0.1;
        let seat = scenario.poses().iter().position(|pose| pose.name == "seat");
        let (tool, gauge) = (scenario.tool_card(), scenario.gauge_card(None));
        std::fs::write(folder.path().join("tools/tool.toml"), tool).unwrap();
        std::fs::write(folder.path().join("gauges/gauge.toml"), gauge).unwrap();
        let gauge = Served::start(scenario, 4.0).unwrap();
        gauge.lead().hold_at(seat.unwrap());
        let plan = json!({
            "tool": "tool.toml", "gauge": "gauge.toml", "stage": "after-grind",
            "steps": [{ "feature": "seat", "z_mm": 2.0 }], "spacing_deg": 0.5, "passes": 1,
        });
        let port = json!({ "port": gauge.path() });
        for (path, body) in [
            ("/api/begin", plan.to_string()),
            ("/api/caution", "{}".to_owned()),
            ("/api/connect", port.to_string()),
        ] {
            let (status, answer) = bench.post(path, &body);
            assert_eq!(status, 200, "{path}: {answer}");
        }
        page.press("set");
        page.until("document.getElementById('do').textContent.includes('as soon as it turns')");
        gauge.lead().turn();
        Some(Self {
            page,
            _bench: bench,
            _gauge: gauge,
            _folder: folder,
        })
    }
}

#[test]
fn the_wrong_way_is_told_at_once_and_is_never_green() {
    let Some(bench) = Turned::new(LOW, "counterbore-pass", Turning::Cutting, 0.8) else {
        return;
    };
    let page = &bench.page;
    page.until("document.querySelector('#way.wrong')");
    page.until("document.getElementById('do').textContent.startsWith('Stop. Turn the other way')");
    page.picture("low-wrong-way");
    // Looked at for a second: nothing that is green says so beside it.
    let seen = page.js_later(
        "const done = arguments[arguments.length - 1]; const seen = []; let left = 20;
         const look = () => { seen.push(document.getElementById('way').className + ' ' + document.getElementById('pace').className); left -= 1; left ? setTimeout(look, 50) : done(seen); };
         look();",
    );
    for one in seen.as_array().unwrap() {
        let one = one.as_str().unwrap();
        assert!(!one.contains("right"), "{one}");
    }
    // The arrow points the way that is wanted, and is larger than the pace.
    let larger = page.js("const size = (id) => parseFloat(getComputedStyle(document.querySelector(id)).fontSize); return size('#way .word') > size('#pace .word') && document.querySelector('#way.counter .turn-arrow') !== null");
    assert_eq!(larger, Value::Bool(true));
    // A hand that lets go is told that it stands.
    page.until("document.getElementById('do').textContent.includes('stands still')");
}

#[test]
fn near_the_end_it_says_where_to_turn_and_who_stands_is_told() {
    let Some(bench) = Turned::new(LAPTOP, "counterbore-pass", Turning::Backing, 0.987) else {
        return;
    };
    let page = &bench.page;
    page.until("document.querySelector('#way.right')");
    page.until("document.getElementById('do').textContent.includes('missing')");
    page.until("/\\d° (more|to the mark)/.test(document.getElementById('to-go').textContent)");
    page.until("document.getElementById('do').textContent.includes('stands still')");
    page.picture("laptop-nearly");
    // Who has had enough of it ends it as it is.
    page.press("enough");
    page.until("document.querySelector('.verdict')");
}

/// Everything that guides the hand, by where it is drawn.
const ON_ONE_SCREEN: &str = "
    const wrong = [];
    const ids = ['#do', '#way', '#way .word', '#pace', '#pace .word', '#section', '#ring-note', '#so-far .verdict-word', '#land', '#reading'];
    for (const id of ids) {
      const box = document.querySelector(id).getBoundingClientRect();
      if (box.width < 8 || box.height < 8) wrong.push(`${id} is ${box.width} by ${box.height}`);
      if (box.top < 0 || box.left < 0 || box.bottom > window.innerHeight + 0.5 || box.right > window.innerWidth + 0.5) wrong.push(`${id} ends at ${box.right}, ${box.bottom}`);
    }
    for (const [one, other] of [['#do', '#way'], ['#way', '#section'], ['#section', '#land'], ['#pace', '#land'], ['#so-far .verdict-word', '#reading'], ['#so-far .verdict-word', '#land'], ['#way', '#pace'], ['#do', '#section']]) {
      const [a, b] = [one, other].map((id) => document.querySelector(id).getBoundingClientRect());
      if (a.left < b.right - 1 && b.left < a.right - 1 && a.top < b.bottom - 1 && b.top < a.bottom - 1) wrong.push(`${one} lies over ${other}`);
    }
    const ring = document.getElementById('section').getBoundingClientRect();
    if (Math.min(ring.width, ring.height) < 190) wrong.push(`the ring is ${ring.width} by ${ring.height}`);
    if (document.getElementById('land').getBoundingClientRect().height < 110) wrong.push('the land is too low');
    if (document.documentElement.scrollWidth > window.innerWidth) wrong.push('it is too wide');
    return wrong;";

#[test]
fn all_that_guides_the_hand_is_on_one_screen() {
    let sizes = [
        ("low", LOW),
        ("laptop", LAPTOP),
        ("wide", WIDE),
        ("phone", PHONE),
    ];
    for (at, (name, size)) in sizes.into_iter().enumerate() {
        let Some((_folder, _bench, page)) = opened(size) else {
            return;
        };
        if at % 2 == 1 {
            page.dark();
        }
        begin(&page, "counterbore-heel-drag");
        page.until("document.getElementById('set')");
        page.picture(&format!("{name}-turning-1-stylus"));
        record(&page, "reference");
        page.until("document.getElementById('cover').value > 0.3");
        page.picture(&format!("{name}-turning-2-reference"));
        record(&page, "seat");
        page.until("document.querySelectorAll('#so-far .figure').length > 1");
        page.picture(&format!("{name}-turning-3-feature"));
        assert_eq!(page.js(ON_ONE_SCREEN), json!([]), "{name}");
        // Each land with its sign, and the enlargement in words.
        let ring = page.js("return document.getElementById('section').getAttribute('aria-label')");
        assert!(ring.as_str().unwrap().contains("flute 1 bad"), "{ring}");
        page.until("document.getElementById('ring-note').textContent.includes('× enlarged')");
        let land = page.js("return document.getElementById('land').getAttribute('aria-label')");
        assert!(land.as_str().unwrap().contains("the edge"), "{land}");
    }
}

#[test]
fn a_heel_above_the_edge_stays_in_the_frame_and_is_named() {
    let Some((_folder, _bench, page)) = opened(SHOP_PC) else {
        return;
    };
    // A land whose heel stands 0.03 mm above its edge.
    let found = page.js_later(
        "const done = arguments[arguments.length - 1];
         import('/assets/drop.js').then((drop) => {
           const turn = { places: 720, least: new Float64Array(720).fill(NaN), most: new Float64Array(720).fill(NaN), angle: null };
           const land = [[0, 0, 0.001], [10, 0.02, 0.001], [20, -0.03, 0.002]];
           const flute = { flute: 2, edge_deg: 30, land_deg: 20, heel: [-0.03, 0.002], least: [[3, 0.01], [20, 0.01]], land, fitted: [] };
           const range = drop.common([flute], { limits: {} }, turn);
           const as_read = { ...turn, most: turn.most.map((_, at) => (at === 60 ? 0 : at === 90 ? 50 : NaN)) };
           done({ above: range.above, drop: range.drop, words: drop.heelWords(flute), read: drop.common([flute], { limits: {} }, as_read).above });
         });",
    );
    let of = |name: &str| found[name].as_f64().unwrap();
    assert!(of("above") < -0.034 && of("drop") > 0.022, "{found}");
    assert!(of("read") < -0.05, "{found}");
    assert_eq!(
        found["words"],
        json!("heel 0.030 ± 0.004 mm above the edge")
    );
}

#[test]
fn dropping_a_trace_asks_and_stands_apart() {
    let Some((_folder, _bench, page)) = opened(SHOP_PC) else {
        return;
    };
    begin(&page, "counterbore-pass");
    record(&page, "reference");
    page.until("document.getElementById('drop')");
    let beside = "return document.getElementById('actions').contains(document.getElementById('drop')) || document.getElementById('give-up') !== null";
    assert_eq!(page.js(beside), Value::Bool(false));
    page.tab_to("drop");
    // What keeps it has the focus.
    page.until("document.activeElement.id === 'drop-no'");
    page.press("drop-no");
    page.until("document.activeElement.id === 'drop' && document.getElementById('do').textContent.includes('Recording')");
    page.press("drop");
    page.press("give-up");
    page.until("document.getElementById('told').textContent.includes('given up')");
    page.until("document.getElementById('set')");
}

/// Height of a capital H in the type of an element, as a share of the window's height.
const CAPITALS: &str = "
    const share = (id) => {
      const style = getComputedStyle(document.getElementById(id));
      const pen = document.createElement('canvas').getContext('2d');
      pen.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
      return pen.measureText('H').actualBoundingBoxAscent / window.innerHeight;
    };
    return ['far-word', 'far-flute'].map(share);";

#[test]
fn the_far_view_is_read_from_two_metres_and_the_screen_stays_awake() {
    for (name, size) in [("low", LOW), ("wide", WIDE), ("phone", PHONE)] {
        let Some((_folder, _bench, page)) = opened(size) else {
            return;
        };
        page.js("window.held = 0; Object.defineProperty(navigator, 'wakeLock', { configurable: true, value: { request: async () => { window.held += 1; return { addEventListener() {}, release: async () => { window.held -= 1; } }; } } })");
        begin(&page, "counterbore-pass");
        page.until("document.getElementById('set') && window.held === 1");
        record(&page, "reference");
        record(&page, "seat");
        page.press("far-open");
        page.until("document.activeElement.id === 'far-close'");
        page.until("document.getElementById('far-word').textContent === 'GO ON'");
        page.until("/^[123][✓✕?]$/.test(document.getElementById('far-flute').textContent)");
        page.picture(&format!("{name}-far"));
        // 20 minutes of arc from two metres are 11.6 mm; a screen of 24 inch, 16 by 9, is 299 mm high.
        let least =
            2000.0 * (20.0_f64 / 60.0).to_radians().tan() / (24.0 * 25.4 * 9.0 / 337.0_f64.sqrt());
        let capitals = page.js(CAPITALS);
        if name != "phone" {
            for share in capitals.as_array().unwrap() {
                assert!(share.as_f64().unwrap() > least, "{capitals} of {least}");
            }
        }
        let fits = "return ['far-word', 'far-flute'].every((id) => { const box = document.getElementById(id).getBoundingClientRect(); return box.left >= 0 && box.right <= window.innerWidth && box.bottom <= window.innerHeight && box.top >= 0; })";
        assert_eq!(page.js(fits), Value::Bool(true), "{name}");
        page.press("far-close");
        page.until("document.activeElement.id === 'far-open'");
        page.until("document.querySelector('.verdict.pass')");
        page.until("window.held === 0");
    }
}

#[test]
fn sounds_are_off_until_asked_for() {
    let Some(bench) = Turned::new(SHOP_PC, "counterbore-pass", Turning::Cutting, 0.8) else {
        return;
    };
    let page = &bench.page;
    let given = "const done = arguments[arguments.length - 1]; import('/assets/sound.js').then((sound) => done(sound.given.join(' ')));";
    page.until("document.querySelector('#way.wrong')");
    assert_eq!(page.js_later(given), json!(""));
    page.press("sounds");
    page.until("document.getElementById('sounds').getAttribute('aria-pressed') === 'true'");
    page.until("document.getElementById('do').textContent.startsWith('Stop')");
    page.until("document.getElementById('do').textContent.includes('stands still')");
    page.press("enough");
    page.until("document.querySelector('.verdict')");
    let given = page.js_later(given);
    let given = given.as_str().unwrap();
    assert!(
        given.contains("wrong wrong") && given.ends_with("done"),
        "{given}"
    );
}

#[test]
fn the_focus_stays_and_figures_are_no_live_regions() {
    let Some((_folder, _bench, page)) = opened(SHOP_PC) else {
        return;
    };
    begin(&page, "counterbore-pass");
    page.tab_to("set");
    // The button is gone; the instruction that took its place is where one goes on.
    page.until("document.getElementById('do').textContent.includes('Recording')");
    page.until("document.activeElement.id === 'do'");
    assert_eq!(
        page.js("return ['reading', 'angle'].map((id) => document.getElementById(id).closest('output, [aria-live], [role=status]'))"),
        json!([null, null])
    );
}

#[test]
fn who_measures_is_remembered_and_drafts_survive() {
    let Some((_folder, _bench, page)) = opened(SHOP_PC) else {
        return;
    };
    page.press("try-counterbore-pass");
    page.fill("operator", "R. Vogt");
    page.press("begin");
    page.until("document.getElementById('cautioned')");
    // Back goes one step back: out of the inspection, to the start.
    page.js("history.back()");
    page.until("document.getElementById('try-counterbore-pass')");
    page.press("try-counterbore-pass");
    page.until("document.getElementById('operator').value === 'R. Vogt'");
    page.js("history.back()");
    page.press("new-tool");
    page.fill("f-id", "VB-92");
    page.reload();
    page.until("document.getElementById('f-id').value === 'VB-92' && document.getElementById('from-draft')");
    page.fill("f-name", "spot facer");
    page.js("history.back()");
    page.press("draft-on");
    page.until("document.getElementById('f-name').value === 'spot facer'");
    page.press("leave-form");
    page.until("document.getElementById('new-tool') && !document.getElementById('draft-on')");
}
