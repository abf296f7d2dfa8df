//! A led capture and the live model beside it: any order, again, given up, unplugged, gone on with.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use heelclear::card::Role;
use heelclear::gauge::Instrument;
use heelclear::inspection::capture::{
    CaptureSettings, Captured, End, Notice, Order, Wanted, capture_led,
};
use heelclear::inspection::live::{Live, PLAN_FILE, Phase, Plan, Provisional, StepState, file_of};
use heelclear::inspection::{Folder, verify, write_whole};
use heelclear::quantity::{Angle, Length};
use heelclear::record::Verdict;
#[cfg(unix)]
use heelclear::simulator::Served;
use heelclear::simulator::{InProcess, Lead, Scenario, built_in};
use std::collections::VecDeque;
use std::path::Path;
use std::sync::Arc;

/// A bench that turns fast and without end, so that coverage ends each trace.
fn bench() -> Scenario {
    let mut scenario = built_in("counterbore-pass").unwrap();
    scenario.hand.turns = 30.0;
    scenario.hand.speed_deg_per_s = 180.0;
    scenario.hand.pauses_per_turn = 0.0;
    scenario.bench.rate_hz = 1000.0;
    scenario.reference[0].turns = None;
    scenario
}

fn settings(scenario: &Scenario, folder: &Path) -> CaptureSettings {
    CaptureSettings {
        traces: Vec::new(),
        end: End {
            covered: Some(2),
            ..End::default()
        },
        ..crate::capture::settings(scenario, folder)
    }
}

fn plan() -> Plan {
    let wanted = |role, z| Wanted {
        role,
        z: Some(Length::from_mm(z)),
        diameter: None,
        rezeroed: false,
    };
    let wanted = [
        wanted(Role::Reference, 40.0),
        wanted(Role::Feature("seat".to_owned()), 2.0),
    ];
    Plan::of(wanted, Angle::from_deg(1.0), 2)
}

/// What a person does next, each as soon as the one before is through.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Does {
    /// Takes a step and sets the stylus.
    Take(usize),
    /// The same, with the indicator at another zero than before.
    TakeZeroed(usize),
    /// Gives up the trace under way once half of the turn is covered.
    GiveUp,
    /// Pulls the plug once half of the turn is covered, and puts it back.
    PullPlug,
    /// Says after a break whether the tool is still clamped as it was.
    Clamped(bool),
    /// Walks away in mid-turn: the program ends.
    WalkAway,
    Finish,
}

/// Leads a capture through all of this and gives how it ended, and the live model.
fn walk(
    settings: &CaptureSettings,
    live: Live,
    instrument: Box<dyn Instrument>,
    lead: &Arc<Lead>,
    does: &[Does],
) -> (Captured, Live) {
    let (give, orders) = tokio::sync::mpsc::unbounded_channel();
    let mut give = Some(give);
    let mut live = live;
    let mut does: VecDeque<Does> = does.iter().copied().collect();
    live.connecting();
    let mut tell = |notice: Notice<'_>| {
        live.take(&notice);
        let Some(orders) = &give else { return };
        let half = live.phase == Phase::Turning && live.round.covered(1) > 0.5;
        if let Some(Does::Clamped(as_it_was)) = does.front()
            && live.phase == Phase::Between
            && live.asks_after_break()
        {
            assert!(live.after_break(*as_it_was), "nothing ties");
            does.pop_front();
        }
        match does.front() {
            Some(Does::Take(step) | Does::TakeZeroed(step)) => {
                if let Some(order) = live.begin(*step) {
                    let rezeroed = matches!(does.front(), Some(Does::TakeZeroed(_)));
                    lead.hold_at(*step);
                    orders.send(order).unwrap();
                    orders.send(Order::Set { rezeroed }).unwrap();
                    does.pop_front();
                }
            }
            Some(Does::GiveUp) if half => {
                orders.send(Order::GiveUp).unwrap();
                does.pop_front();
            }
            Some(Does::PullPlug) if half => {
                lead.unplug(true);
                does.pop_front();
            }
            Some(Does::WalkAway) if half => give = None,
            Some(Does::Finish) if live.phase == Phase::Between => {
                orders.send(Order::Finish).unwrap();
                does.pop_front();
            }
            _ => {}
        }
        match notice {
            Notice::Set { .. } => lead.turn(),
            Notice::Gone { .. } => lead.unplug(false),
            _ => {}
        }
    };
    let ended = capture_led(settings, instrument, None, &mut tell, orders);
    live.over(&ended);
    (ended.unwrap(), live)
}

fn in_process(folder: &Path, live: Live, does: &[Does]) -> (Captured, Live) {
    let scenario = bench();
    let bridge = InProcess::new(scenario.clone(), 4.0);
    let lead = bridge.lead();
    walk(
        &settings(&scenario, folder),
        live,
        Box::new(bridge),
        &lead,
        does,
    )
}

fn files_on_card(folder: &Path) -> Vec<String> {
    let card = Folder::open(folder).unwrap().inspection;
    let files = card.traces.iter();
    files.map(|entry| file_of(entry).to_owned()).collect()
}

fn exists(folder: &Path, files: &[&str]) -> bool {
    files.iter().all(|file| folder.join(file).is_file())
}

#[test]
fn steps_are_taken_in_any_order_and_one_of_them_again() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join("new");
    let does = [Does::Take(1), Does::Take(0), Does::Take(1), Does::Finish];
    let (captured, live) = in_process(&folder, Live::new(plan()), &does);
    assert!(!captured.interrupted && captured.fault.is_none());
    assert!(live.plan.is_done() && live.phase == Phase::Closed);
    // The later one stands on the card, and the earlier one still on the disk.
    assert_eq!(
        files_on_card(&folder),
        ["traces/reference.csv", "traces/seat-2.csv"]
    );
    assert!(exists(&folder, &["raw/seat.log", "traces/seat.csv"]));
    let record = verify(&Folder::open(&folder).unwrap()).unwrap();
    assert_eq!(record.verdict, Some(Verdict::Pass));
}

#[test]
fn a_trace_given_up_is_off_the_card_and_still_on_the_disk() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join("new");
    let does = [Does::Take(1), Does::GiveUp, Does::Take(0), Does::Finish];
    let (_, live) = in_process(&folder, Live::new(plan()), &does);
    assert_eq!(live.plan.next(), Some(1));
    assert_eq!(files_on_card(&folder), ["traces/reference.csv"]);
    assert!(exists(&folder, &["raw/seat.log"]));
}

/// Walks through a plan with the simulated bridge on a port of its own.
#[cfg(unix)]
fn on_a_port(folder: &Path, does: &[Does]) -> (Captured, Live) {
    let scenario = bench();
    let served = Served::start(scenario.clone(), 2.0).unwrap();
    let instrument = Box::new(served.instrument(115_200));
    let settings = settings(&scenario, folder);
    walk(
        &settings,
        Live::new(plan()),
        instrument,
        &served.lead(),
        does,
    )
}

/// Whoever captures from a simulated bridge may not know it, as behind a port.
#[cfg(unix)]
#[test]
fn a_bridge_that_measures_nothing_marks_the_folder_by_itself() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join("new");
    let scenario = bench();
    let served = Served::start(scenario.clone(), 2.0).unwrap();
    let instrument = Box::new(served.instrument(115_200));
    let settings = CaptureSettings {
        simulated: false,
        ..settings(&scenario, &folder)
    };
    let does = [Does::Take(0), Does::Finish];
    walk(
        &settings,
        Live::new(plan()),
        instrument,
        &served.lead(),
        &does,
    );
    assert!(folder.join("simulated.txt").exists());
}

#[cfg(unix)]
#[test]
fn after_a_pulled_plug_the_index_mark_ties_the_next_trace_to_those_kept() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join("new");
    let does = [
        Does::Take(0),
        Does::PullPlug,
        Does::Clamped(true),
        Does::Take(1),
        Does::Finish,
    ];
    let (captured, live) = on_a_port(&folder, &does);
    assert!(!captured.interrupted, "{:?}", captured.fault);
    let told: Vec<_> = live.told.iter().map(|told| told.text.clone()).collect();
    for words in ["went away", "is back", "another zero"] {
        assert!(
            told.iter().any(|text| text.contains(words)),
            "{words}: {told:#?}"
        );
    }
    assert_eq!(
        files_on_card(&folder),
        ["traces/reference.csv", "traces/seat.csv"]
    );
    let card = Folder::open(&folder).unwrap().inspection;
    assert_eq!(card.traces[0].count_shift, 0);
    assert_ne!(card.traces[1].count_shift, 0);
    let record = verify(&Folder::open(&folder).unwrap()).unwrap();
    assert_eq!(record.verdict, Some(Verdict::Pass));
    // The raw log and the card make the same file again.
    let file = folder.join("traces/seat.csv");
    let before = std::fs::read(&file).unwrap();
    std::fs::remove_file(&file).unwrap();
    verify(&Folder::open(&folder).unwrap()).unwrap();
    assert_eq!(std::fs::read(&file).unwrap(), before);
}

#[cfg(unix)]
#[test]
fn a_tool_clamped_anew_after_a_break_is_traced_anew() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join("new");
    let does = [
        Does::Take(0),
        Does::Take(1),
        Does::PullPlug,
        Does::Clamped(false),
        Does::Take(0),
        Does::Take(1),
        Does::Finish,
    ];
    let (captured, live) = on_a_port(&folder, &does);
    assert!(!captured.interrupted && live.plan.is_done());
    assert_eq!(
        files_on_card(&folder),
        ["traces/reference-2.csv", "traces/seat-2.csv"]
    );
    assert!(exists(&folder, &["traces/reference.csv", "raw/seat.log"]));
    let record = verify(&Folder::open(&folder).unwrap()).unwrap();
    assert_eq!(record.verdict, Some(Verdict::Pass));
}

#[test]
fn another_start_goes_on_with_the_folder_and_takes_only_what_is_missing() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join("new");
    let does = [Does::Take(0), Does::Take(1), Does::WalkAway];
    let (captured, live) = in_process(&folder, Live::new(plan()), &does);
    assert!(captured.interrupted);
    assert!(live.kept().contains("cut short"), "{}", live.kept());
    let kept = live.plan.to_toml().unwrap();
    write_whole(&folder.join(PLAN_FILE), kept.as_bytes()).unwrap();

    let card = Folder::open(&folder).unwrap().inspection;
    assert!(card.interrupted);
    let plan = Plan::read(&kept, PLAN_FILE, &card).unwrap();
    let states: Vec<_> = plan.steps.iter().map(|step| &step.state).collect();
    assert!(matches!(states[0], StepState::Taken(_)), "{states:?}");
    assert!(matches!(states[1], StepState::Short(_)), "{states:?}");

    let does = [Does::Clamped(true), Does::Take(1), Does::Finish];
    let (captured, live) = in_process(&folder, Live::new(plan), &does);
    assert!(!captured.interrupted && live.plan.is_done());
    assert_eq!(
        files_on_card(&folder),
        ["traces/reference.csv", "traces/seat-2.csv"]
    );
    assert!(exists(&folder, &["raw/seat.log", "traces/seat.csv"]));
    let record = verify(&Folder::open(&folder).unwrap()).unwrap();
    assert_eq!(record.verdict, Some(Verdict::Pass));
}

#[test]
fn the_provisional_verdict_is_that_of_the_trace_in_the_end() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join("new");
    let does = [Does::Take(0), Does::Take(1), Does::WalkAway];
    // Cut short where half of the turn is covered: nothing can be said yet, and why is said.
    in_process(&folder, Live::new(plan()), &does);
    let judged = judged_so_far(&folder);
    assert!(judged.unwrap_err().contains("of the turn"));

    let folder = dir.path().join("whole");
    in_process(
        &folder,
        Live::new(plan()),
        &[Does::Take(0), Does::Take(1), Does::Finish],
    );
    let so_far = judged_so_far(&folder).unwrap();
    let whole = verify(&Folder::open(&folder).unwrap()).unwrap();
    assert_eq!(so_far.verdict, Some(Verdict::Pass));
    let mut compared = 0;
    for figure in so_far
        .characteristics
        .iter()
        .filter(|one| one.limit.is_some())
    {
        let same = |one: &&heelclear::record::Characteristic| {
            (&one.feature, one.flute, &one.name) == (&figure.feature, figure.flute, &figure.name)
        };
        let last = whole.characteristics.iter().find(same).unwrap();
        // Angles go through the file in degrees, which costs the last digit.
        let off = figure.value.unwrap() - last.value.unwrap();
        assert!(off.abs() < 1e-9, "{}: {off}", figure.name);
        compared += 1;
    }
    assert!(compared >= 8, "{compared}");
}

/// What the last trace of a folder comes to from its raw log alone.
fn judged_so_far(folder: &Path) -> Result<heelclear::record::Record, String> {
    let card = Folder::open(folder).unwrap().inspection;
    let growing = card.traces.last().unwrap();
    let provisional = Provisional::default();
    provisional.refresh(folder, growing, 1, false);
    let began = std::time::Instant::now();
    while began.elapsed().as_secs() < 60 {
        if let Some(so_far) = provisional.latest() {
            return so_far.record.clone().map_err(|error| error.to_string());
        }
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    panic!("it was never judged");
}

#[test]
fn any_tool_card_can_be_tried_on_a_simulated_gauge() {
    use heelclear::card::{GaugeCard, ToolCard};
    use heelclear::inspection::instruments::{Choice, open, pretended, simulated_gauge_card};
    #[track_caller]
    fn check(card: &str, recipe: Option<&str>) {
        let tool = ToolCard::parse(card, "tool.toml").unwrap();
        let gauge = simulated_gauge_card(&tool, recipe).unwrap();
        let gauge = GaugeCard::parse(&gauge, "gauge.toml").unwrap();
        let plan = Plan::for_tool(&tool, Angle::from_deg(0.5), 2);
        let choice = Choice::Simulated {
            recipe: recipe.map(str::to_owned),
            faster: 4.0,
        };
        let opened = open(&choice, &tool, &gauge, &plan).unwrap();
        assert!(opened.simulation.is_some() && opened.encoder.is_none());
    }
    for tool in pretended() {
        check(&tool.tool_card, Some(&tool.recipe));
    }
    for (flutes, feature) in [
        (1, "surface = \"radial\"\ndiameter_mm = 3.0"),
        (12, "surface = \"radial\"\ndiameter_in = 2.5\nland_deg = 12"),
        (
            4,
            "surface = \"axial\"\ndiameter_mm = 18.0\nfeed_mm_per_rev = 0.1",
        ),
        (
            24,
            "surface = \"radial\"\ndiameter_mm = 200.0\n[feature.limits]\nrelief_angle_deg = { min = 25, max = 40 }",
        ),
    ] {
        let card = format!(
            "schema = 1\nid = \"T\"\nname = \"t\"\nhand = \"right\"\nflutes = {flutes}\n[[feature]]\nname = \"edge\"\ncheck_distance_mm = 0.3\n{feature}\n"
        );
        check(&card, None);
    }
}

#[test]
fn an_indicator_set_anew_stays_on_the_card_whatever_becomes_of_its_trace() {
    #[track_caller]
    fn check(does: &[Does], expected: &[(&str, bool)]) {
        let dir = tempfile::tempdir().unwrap();
        let folder = dir.path().join("new");
        let mut plan = plan();
        plan.steps.push(plan.steps[1].clone());
        plan.steps[2].wanted.z = Some(Length::from_mm(6.0));
        in_process(&folder, Live::new(plan), does);
        let card = Folder::open(&folder).unwrap().inspection;
        let found: Vec<_> = card
            .traces
            .iter()
            .map(|entry| (file_of(entry), entry.rezeroed))
            .collect();
        assert_eq!(found, expected);
    }
    let (reference, seat, further) = (
        "traces/reference.csv",
        "traces/seat.csv",
        "traces/seat-2.csv",
    );
    check(
        &[Does::Take(0), Does::TakeZeroed(1), Does::Finish],
        &[(reference, false), (seat, true)],
    );
    // Given up: the next one is the first that was measured from the new zero.
    check(
        &[
            Does::Take(0),
            Does::TakeZeroed(1),
            Does::GiveUp,
            Does::Take(2),
            Does::Finish,
        ],
        &[(reference, false), (further, true)],
    );
    // Taken again alone: it is still the first that was measured from the new zero.
    check(
        &[
            Does::Take(0),
            Does::TakeZeroed(1),
            Does::Take(1),
            Does::Finish,
        ],
        &[(reference, false), (further, true)],
    );
    // Taken again, behind another one from the same zero.
    let does = [
        Does::Take(0),
        Does::TakeZeroed(1),
        Does::Take(2),
        Does::Take(1),
        Does::Finish,
    ];
    check(
        &does,
        &[
            (reference, false),
            (further, true),
            ("traces/seat-3.csv", false),
        ],
    );
}
