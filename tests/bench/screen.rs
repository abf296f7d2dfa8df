//! The full-screen view drawn without a terminal: what stands on it, at any size, in any phase.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use heelclear::card::{InspectionCard, Role};
use heelclear::cli::screen::{Act, Asks, Shown, act, draw};
use heelclear::inspection::capture::{Made, Notice, Progress, Wanted};
use heelclear::inspection::live::{Live, Phase, Plan, SoFar};
use heelclear::inspection::simulated::write_folder;
use heelclear::inspection::{Folder, verify_with};
use heelclear::judge::Effort;
use heelclear::quantity::{Angle, Length, Time};
use heelclear::report::Units;
use heelclear::sample::{Marks, Seen};
use heelclear::simulator::{Scenario, Turning, built_in};
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};

/// An inspection of a simulated tool, walked through as a capture would tell it.
struct Walk {
    scenario: Scenario,
    card: InspectionCard,
    so_far: SoFar,
    live: Live,
}

impl Walk {
    fn through(name: &str) -> Self {
        let scenario = built_in(name).unwrap().watched();
        let place = tempfile::tempdir().unwrap();
        write_folder(&scenario, place.path()).unwrap();
        let folder = Folder::open(place.path()).unwrap();
        let effort = Effort {
            trials: Some(0),
            ..Effort::default()
        };
        let record = verify_with(&folder, effort);
        let wanted = scenario.poses().into_iter().map(|pose| Wanted {
            role: match pose.name.starts_with("shank") {
                true => Role::Reference,
                false => Role::Feature(scenario.feature[0].name.clone()),
            },
            z: Some(Length::from_mm(pose.z_mm)),
            diameter: None,
            rezeroed: false,
        });
        let plan = Plan::of(wanted, Angle::from_deg(0.5), 2);
        Self {
            card: folder.inspection,
            so_far: SoFar {
                readings: 900,
                record,
                number: 1,
            },
            live: Live::new(plan).of_tool(&folder.tool),
            scenario,
        }
    }

    /// As far as the stylus being set for this step.
    fn begin(&mut self, step: usize) {
        if self.live.phase == Phase::Closed {
            self.live.connecting();
            self.live.take(&Notice::Connected {
                port: "simulated",
                speaks: "a bridge answers",
            });
            self.live.take(&Notice::Waiting);
        }
        self.live.begin(step).unwrap();
        self.live.take(&Notice::Ready {
            trace: "seat",
            z: None,
        });
    }

    /// Turned through so many readings of the step's trace.
    fn turn(&mut self, step: usize, readings: usize) {
        self.begin(step);
        self.live.take(&Notice::Set { trace: "seat" });
        self.live.take(&Notice::Turning {
            trace: "seat",
            entry: &self.card.traces[step],
        });
        let counts = f64::from(self.scenario.gauge.counts_per_rev);
        let pose = &self.scenario.poses()[step];
        let seen: Vec<Seen> = (self.scenario.run(pose, step).take(readings))
            .map(|reading| Seen {
                time: Time::from_s(reading.time_s),
                angle: Some(Angle::from_turns(reading.count as f64 / counts)),
                reading: reading
                    .steps
                    .map(|steps| Length::from_mm(steps as f64 * self.scenario.gauge.resolution_mm)),
                marks: Marks::NONE,
            })
            .collect();
        self.live.take(&Notice::Seen(&seen));
        self.live.take(&Notice::Progress(&Progress {
            trace: "seat".to_owned(),
            readings: seen.len() as u64,
            passes: 2,
            ..Progress::default()
        }));
    }

    /// The tool lies still for so many seconds, and readings go on.
    fn rest(&mut self, seconds: f64) {
        let (angle, reading) = (self.live.angle, self.live.reading);
        let from = self.live.progress.turning_for + Time::from_s(1e3);
        let seen: Vec<Seen> = (0..(seconds * 50.0) as u32)
            .map(|at| Seen {
                time: from + Time::from_s(f64::from(at) / 50.0),
                angle,
                reading,
                marks: Marks::NONE,
            })
            .collect();
        self.live.take(&Notice::Seen(&seen));
    }

    fn shown(&self) -> Shown<'_> {
        Shown {
            tool: "VB-07 seat counterbore",
            folder: "bench/VB-07",
            live: &self.live,
            so_far: Some(&self.so_far),
            asks: Asks::Nothing,
            units: Units::Metric,
            quiet: None,
        }
    }
}

/// The screen as lines of text, without its colours.
fn screen(shown: &Shown<'_>, width: u16, height: u16) -> String {
    let mut terminal = Terminal::new(TestBackend::new(width, height)).unwrap();
    terminal.draw(|frame| draw(frame, shown)).unwrap();
    let buffer = terminal.backend().buffer();
    let row = |y: u16| {
        let cells = (0..width).map(|x| buffer[(x, y)].symbol());
        cells.collect::<String>().trim_end().to_owned()
    };
    (0..height).map(row).collect::<Vec<_>>().join("\n")
}

#[track_caller]
fn has(text: &str, words: &[&str]) {
    for word in words {
        assert!(text.contains(word), "`{word}` is not on\n{text}");
    }
}

#[test]
fn a_land_that_drags_is_seen_while_it_is_traced() {
    let mut walk = Walk::through("counterbore-heel-drag");
    walk.turn(1, 700);
    let text = screen(&walk.shown(), 80, 24);
    has(
        &text,
        &[
            "KEEP TURNING",
            "% of the turn (2×: 0 %)",
            "FAIL SO FAR",
            "flute 1",
            "heel",
        ],
    );
    insta::assert_snapshot!("a_heel_that_drags_at_80_by_24", text);
    let text = screen(&walk.shown(), 120, 40);
    has(
        &text,
        &[
            "FAIL SO FAR",
            "flute 2",
            "every byte goes to the disk first",
        ],
    );
    insta::assert_snapshot!("a_heel_that_drags_at_120_by_40", text);
}

#[test]
fn before_the_stylus_is_set_the_cautions_stand_in_the_middle() {
    let mut walk = Walk::through("counterbore-pass");
    walk.begin(0);
    let text = screen(&walk.shown(), 80, 24);
    has(
        &text,
        &[
            "SET THE STYLUS on a round, 40 mm from the front; then press Space",
            "practice come first",
            "Ground edges cut",
            "Space  the stylus is set",
        ],
    );
    insta::assert_snapshot!("the_stylus_is_to_be_set_at_80_by_24", text);
}

#[test]
fn a_reference_is_drawn_as_readings_over_the_turn() {
    let mut walk = Walk::through("runout-with-reference");
    walk.turn(0, 400);
    let text = screen(&walk.shown(), 80, 24);
    has(&text, &["readings over the turn", "360°", "% of the turn"]);
}

#[test]
fn of_twelve_flutes_the_worst_are_shown_and_that_is_said() {
    let mut walk = Walk::through("twelve-flute-cutter");
    let step = walk.live.plan.steps.len() - 1;
    walk.turn(step, 800);
    has(
        &screen(&walk.shown(), 80, 24),
        &["the worst 2 of 12 flutes"],
    );
    has(&screen(&walk.shown(), 160, 60), &["flute 12"]);
}

#[test]
fn a_small_window_has_the_lines_that_matter_most() {
    let mut walk = Walk::through("counterbore-heel-drag");
    walk.turn(1, 700);
    let text = screen(&walk.shown(), 60, 12);
    has(
        &text,
        &[
            "KEEP TURNING",
            " mm ",
            "% of the turn",
            "FAIL SO FAR",
            "q  stop",
        ],
    );
    walk.begin_again();
    let text = screen(&walk.shown(), 50, 10);
    // The whole sentence, on two lines.
    has(
        &text,
        &["SET THE STYLUS", "press Space", "2 seat 2 mm: now"],
    );
    let text = screen(&walk.shown(), 20, 4);
    has(&text, &["make the window"]);
}

#[test]
fn lengths_are_in_inches_where_that_is_asked() {
    let mut walk = Walk::through("inch-counterbore");
    walk.turn(1, 700);
    let shown = Shown {
        units: Units::Inch,
        ..walk.shown()
    };
    let text = screen(&shown, 120, 40);
    has(&text, &[" in; least to greatest", "1 reference 1.5 in"]);
    assert!(!text.contains(" mm"), "{text}");
}

#[test]
fn faults_are_told_in_words_as_they_happen() {
    let mut walk = Walk::through("counterbore-pass");
    walk.turn(1, 300);
    walk.live.take(&Notice::Gone {
        port: "/dev/ttyUSB0",
    });
    has(
        &screen(&walk.shown(), 80, 24),
        &["THE DEVICE WENT AWAY", "What was read is kept", "! "],
    );
    walk.live.take(&Notice::Back {
        port: "/dev/ttyUSB1",
    });
    walk.live.take(&Notice::Progress(&Progress {
        bad_lines: 3,
        lost_lines: 4,
        ..Progress::default()
    }));
    let shown = Shown {
        quiet: Some(Time::from_s(3.2)),
        ..walk.shown()
    };
    has(
        &screen(&shown, 80, 24),
        &[
            "NOTHING COMES FOR 3 s",
            "7 LINES MISSING",
            "speed not known",
        ],
    );
    let shown = Shown {
        asks: Asks::StopAgain,
        ..walk.shown()
    };
    has(&screen(&shown, 80, 24), &["Stop here?", "kept"]);
}

/// The sizes in which what guides the hand has to be seen.
const SIZES: [(u16, u16); 3] = [(80, 24), (120, 40), (200, 60)];

#[test]
fn the_way_comes_first_and_the_wrong_one_is_called_wrong() {
    let mut walk = Walk::through("counterbore-pass");
    walk.turn(1, 300);
    for (width, height) in SIZES {
        let text = screen(&walk.shown(), width, height);
        has(&text, &["✓ heel first", "◀◀◀▲", "of 21 °/s"]);
    }
    walk.scenario.hand.turning = Turning::Cutting;
    walk.give_up();
    walk.turn(1, 300);
    for (width, height) in SIZES {
        let text = screen(&walk.shown(), width, height);
        has(
            &text,
            &[
                "STOP. OTHER WAY: heel first, counter-clockwise seen from the driven end",
                "WRONG WAY: edge first",
                "◀◀◀▲",
            ],
        );
        assert!(!text.contains("RIGHT") && !text.contains('✓'), "{text}");
    }
}

#[test]
fn at_the_end_it_says_where_to_turn_and_who_stands_is_told() {
    let mut walk = Walk::through("counterbore-pass");
    walk.live.plan.passes = 1;
    walk.scenario.hand.pauses_per_turn = 0.0;
    walk.scenario.hand.nudges_per_turn = 0.0;
    walk.scenario.hand.unevenness = 0.1;
    walk.scenario.hand.turns = 0.987;
    walk.turn(1, 5_000);
    for (width, height) in SIZES {
        has(
            &screen(&walk.shown(), width, height),
            &["NEARLY DONE, turn on: ", "° missing", "◆"],
        );
    }
    // The hand that has let go lies still.
    walk.rest(3.0);
    for (width, height) in SIZES {
        let text = screen(&walk.shown(), width, height);
        has(
            &text,
            &[
                "IT STANDS STILL: turn on, heel first",
                "° missing",
                "standing",
            ],
        );
    }
}

#[test]
fn a_trace_is_dropped_only_by_the_same_key_twice() {
    let mut walk = Walk::through("counterbore-pass");
    walk.turn(1, 300);
    has(&screen(&walk.shown(), 80, 24), &["r twice  drop it"]);
    let shown = Shown {
        asks: Asks::DropAgain,
        ..walk.shown()
    };
    has(&screen(&shown, 80, 24), &["Drop this trace", "r once more"]);
}

#[test]
fn a_hand_that_is_too_fast_is_told_so_in_words() {
    let mut walk = Walk::through("counterbore-pass");
    walk.scenario.hand.speed_deg_per_s = 200.0;
    walk.turn(1, 60);
    has(&screen(&walk.shown(), 80, 24), &["SLOWER", "of 19 °/s"]);
}

#[test]
fn when_all_is_taken_it_says_how_to_end_and_how_to_take_one_again() {
    let mut walk = Walk::through("counterbore-heel-drag");
    for step in 0..2 {
        walk.turn(step, 700);
        walk.live.take(&Notice::Made(&Made {
            file: format!("traces/{step}.csv"),
            readings: 700,
            warnings: Vec::new(),
        }));
        walk.live.take(&Notice::Waiting);
    }
    let shown = Shown {
        asks: Asks::Ending(12),
        ..walk.shown()
    };
    let text = screen(&shown, 80, 24);
    has(
        &text,
        &[
            "ALL IS TAKEN",
            "12 s",
            "Enter  finish",
            "FAIL SO FAR",
            "2 seat 2 mm: taken",
        ],
    );
}

#[test]
fn after_a_break_it_asks_whether_the_tool_is_clamped_as_it_was_and_for_the_zero() {
    let mut walk = Walk::through("counterbore-pass");
    walk.turn(0, 700);
    walk.live.take(&Notice::Made(&Made {
        file: "traces/reference.csv".to_owned(),
        readings: 700,
        warnings: Vec::new(),
    }));
    walk.live.take(&Notice::ZeroLost { ties: true });
    walk.live.take(&Notice::Waiting);
    // Nothing is taken before that is known.
    assert_eq!(walk.live.begin(1), None);
    let shown = Shown {
        asks: Asks::Clamping(true),
        ..walk.shown()
    };
    let asked = [
        "STILL CLAMPED AS IT WAS",
        "y  clamped as it was",
        "n  clamped anew",
    ];
    has(&screen(&shown, 80, 24), &asked);
    assert!(walk.live.after_break(true));
    walk.begin(1);
    let zero = [
        "WAS THE INDICATOR ZEROED? z yes, Space no",
        "z  set, indicator zeroed",
    ];
    has(&screen(&walk.shown(), 80, 24), &zero);
    walk.live.take(&Notice::Set { trace: "seat" });
    has(&screen(&walk.shown(), 80, 24), &["TURN THE TOOL"]);

    // Where no index mark ties more to what is kept, going on with it is not offered.
    walk.live.take(&Notice::ZeroLost { ties: false });
    walk.live.take(&Notice::Waiting);
    assert!(!walk.live.after_break(true));
    let shown = Shown {
        asks: Asks::Clamping(false),
        ..walk.shown()
    };
    has(
        &screen(&shown, 80, 24),
        &["NO INDEX MARK", "n  take all again"],
    );
}

#[test]
fn no_window_is_too_small_or_too_odd_to_be_drawn_in() {
    let mut walks = vec![
        Walk::through("counterbore-heel-drag"),
        Walk::through("twelve-flute-cutter"),
    ];
    for walk in &mut walks {
        walk.turn(0, 300);
        for (width, height) in [
            (1, 1),
            (7, 3),
            (30, 6),
            (31, 40),
            (79, 24),
            (80, 23),
            (80, 24),
            (81, 30),
            (100, 38),
            (250, 25),
            (300, 100),
        ] {
            screen(&walk.shown(), width, height);
        }
        let empty = Live::new(Plan::of([], Angle::from_deg(0.5), 1));
        let nothing = Shown {
            live: &empty,
            so_far: None,
            ..walk.shown()
        };
        screen(&nothing, 80, 24);
    }
}

#[test]
fn each_sign_of_the_bar_differs_without_colour() {
    let mut walk = Walk::through("counterbore-pass");
    // A turn and a half: some places were passed twice, some once.
    walk.scenario.hand.turns = 1.5;
    walk.scenario.hand.nudges_per_turn = 0.0;
    walk.scenario.hand.speed_deg_per_s = 10.0;
    walk.turn(1, 2_400);
    let text = screen(&walk.shown(), 80, 24);
    has(&text, &["█", "▒"]);
    walk.begin_again();
    has(&screen(&walk.shown(), 80, 24), &["····"]);
}

impl Walk {
    /// The trace is given up and the stylus set anew.
    fn begin_again(&mut self) {
        self.give_up();
        self.live.begin(1).unwrap();
    }

    fn give_up(&mut self) {
        self.live.take(&Notice::GivenUp);
        self.live.take(&Notice::Waiting);
    }
}

#[test]
fn a_key_does_what_the_last_line_says_and_nothing_else() {
    #[track_caller]
    fn check(code: KeyCode, phase: Phase, done: bool, expected: Option<Act>) {
        assert_eq!(
            act(KeyEvent::new(code, KeyModifiers::NONE), phase, done, false),
            expected
        );
    }
    let space = KeyCode::Char(' ');
    check(
        space,
        Phase::Setting,
        false,
        Some(Act::Set { rezeroed: false }),
    );
    check(space, Phase::Turning, false, None);
    check(KeyCode::Enter, Phase::Between, true, Some(Act::Finish));
    check(KeyCode::Enter, Phase::Between, false, None);
    check(KeyCode::Char('e'), Phase::Turning, false, Some(Act::Enough));
    check(KeyCode::Char('e'), Phase::Armed, false, None);
    check(KeyCode::Char('r'), Phase::Turning, false, Some(Act::Again));
    check(KeyCode::Char('r'), Phase::Between, true, Some(Act::Again));
    check(
        KeyCode::Char('2'),
        Phase::Setting,
        false,
        Some(Act::Take(1)),
    );
    check(KeyCode::Char('2'), Phase::Turning, false, None);
    check(KeyCode::Char('0'), Phase::Setting, false, None);
    check(KeyCode::Char('q'), Phase::Turning, false, Some(Act::Stop));
    check(KeyCode::Char('c'), Phase::Turning, false, None);
    let zeroed = Some(Act::Set { rezeroed: true });
    check(KeyCode::Char('z'), Phase::Setting, false, zeroed);
    check(KeyCode::Char('z'), Phase::Armed, false, None);
    check(KeyCode::Char('y'), Phase::Between, false, None);
    let asked = |code| {
        act(
            KeyEvent::new(code, KeyModifiers::NONE),
            Phase::Between,
            true,
            true,
        )
    };
    assert_eq!(asked(KeyCode::Char('y')), Some(Act::Clamped(true)));
    assert_eq!(asked(KeyCode::Char('n')), Some(Act::Clamped(false)));
    // Before that is known, Enter does not end it.
    assert_eq!(asked(KeyCode::Enter), None);
    let control = KeyEvent::new(KeyCode::Char('c'), KeyModifiers::CONTROL);
    assert_eq!(
        act(control, Phase::Turning, false, false),
        Some(Act::StopNow)
    );
}
