//! The manual, compiled into the documentation and the program.
//!
//! Four kinds of page, not mixed: a tutorial to learn by doing, how-to pages for one task each,
//! reference to look things up, explanation to understand why.

mod search;

pub use search::{Place, has, meant, named, search, section, spelt_alike, synonyms};

/// A page of the manual.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Page {
    /// What it is asked for by: `judge-a-folder`.
    pub name: &'static str,
    /// One of [`KINDS`].
    pub kind: &'static str,
    /// Its Markdown.
    pub text: &'static str,
}

/// The kinds of page, in the order in which a newcomer needs them.
pub const KINDS: &[&str] = &["tutorial", "how-to", "reference", "explanation", "changes"];

/// The page that is nothing but figures of trials.
const TABLES_OF_RESULTS: &str = "coverage-tables";

/// Declares each page once: a module whose documentation it is, and an entry of [`PAGES`]. The
/// pictures of a page stand behind its text in the documentation.
macro_rules! pages {
    ($($module:ident = $name:literal, $kind:literal, $file:literal $(, $picture:literal)*;)+) => {
        $(
            #[doc = include_str!($file)]
            $(
                #[doc = ""]
                #[doc = include_str!($picture)]
            )*
            pub mod $module {}
        )+

        /// Every page.
        pub const PAGES: &[Page] = &[
            $(Page { name: $name, kind: $kind, text: include_str!($file) },)+
        ];
    };
}

pages! {
    tutorial = "tutorial", "tutorial", "tutorial.md";
    install = "install", "how-to", "how-to/install.md";
    the_whole_job = "the-whole-job", "how-to", "how-to/the-whole-job.md";
    judge_a_folder = "judge-a-folder", "how-to", "how-to/judge-a-folder.md";
    check_the_bench = "check-the-bench", "how-to", "how-to/check-the-bench.md";
    make_the_bridge = "make-the-bridge", "how-to", "how-to/make-the-bridge.md";
    capture_with_the_bridge = "capture-with-the-bridge", "how-to", "how-to/capture-with-the-bridge.md";
    measure_at_the_bench = "measure-at-the-bench", "how-to", "how-to/measure-at-the-bench.md";
    add_notes_and_photographs = "add-notes-and-photographs", "how-to", "how-to/add-notes-and-photographs.md";
    take_a_trace_over_travel = "take-a-trace-over-travel", "how-to", "how-to/take-a-trace-over-travel.md";
    use_a_text_indicator = "use-a-text-indicator", "how-to", "how-to/use-a-text-indicator.md";
    take_a_reference_trace = "take-a-reference-trace", "how-to", "how-to/take-a-reference-trace.md", "pictures/reference.svg";
    write_a_tool_card = "write-a-tool-card", "how-to", "how-to/write-a-tool-card.md";
    take_limits_from_a_drawing = "take-limits-from-a-drawing", "how-to", "how-to/take-limits-from-a-drawing.md";
    choose_distance_and_ball = "choose-distance-and-ball", "how-to", "how-to/choose-distance-and-ball.md", "pictures/ball.svg";
    write_a_gauge_card = "write-a-gauge-card", "how-to", "how-to/write-a-gauge-card.md";
    set_the_grinder = "set-the-grinder", "how-to", "how-to/set-the-grinder.md";
    before_the_grind = "before-the-grind", "how-to", "how-to/before-the-grind.md";
    settle_an_undecided = "settle-an-undecided", "how-to", "how-to/settle-an-undecided.md";
    keep_the_gauge_checked = "keep-the-gauge-checked", "how-to", "how-to/keep-the-gauge-checked.md";
    keep_records = "keep-records", "how-to", "how-to/keep-records.md";
    restore_and_move = "restore-and-move", "how-to", "how-to/restore-and-move.md";
    share_records = "share-records", "how-to", "how-to/share-records.md";
    judge_from_a_script = "judge-from-a-script", "how-to", "how-to/judge-from-a-script.md";
    audit = "audit", "how-to", "how-to/audit.md";
    check_a_certificate = "check-a-certificate", "how-to", "how-to/check-a-certificate.md";
    glossary = "glossary", "reference", "reference/glossary.md", "pictures/tooth.svg";
    symptoms = "symptoms", "reference", "reference/symptoms.md";
    commands = "commands", "reference", "reference/commands.md";
    inspection_card = "inspection-card", "reference", "reference/inspection-card.md";
    tool_card = "tool-card", "reference", "reference/tool-card.md";
    grinder_card = "grinder-card", "reference", "reference/grinder-card.md";
    gauge_card = "gauge-card", "reference", "reference/gauge-card.md", "pictures/offset.svg";
    shop_card = "shop-card", "reference", "reference/shop-card.md";
    traces = "traces", "reference", "reference/traces.md";
    results = "results", "reference", "reference/results.md";
    tables = "tables", "reference", "reference/tables.md";
    errors = "errors", "reference", "reference/errors.md";
    coverage_tables = "coverage-tables", "reference", "reference/coverage-tables.md";
    two_clocks = "two-clocks", "explanation", "explanation/two-clocks.md";
    undecided = "undecided", "explanation", "explanation/undecided.md";
    what_readings_show = "what-readings-show", "explanation", "explanation/what-readings-show.md";
    what_it_cannot_judge = "what-it-cannot-judge", "explanation", "explanation/what-it-cannot-judge.md";
    uncertainty = "uncertainty", "explanation", "explanation/uncertainty.md";
    how_often_intervals_hold = "how-often-intervals-hold", "explanation", "explanation/how-often-intervals-hold.md";
    hostile_inspections = "hostile-inspections", "explanation", "explanation/hostile-inspections.md";
    ball = "ball", "explanation", "explanation/ball.md", "pictures/ball.svg";
    runout = "runout", "explanation", "explanation/runout.md", "pictures/runout.svg", "pictures/reference.svg";
    why_records_are_chained = "why-records-are-chained", "explanation", "explanation/why-records-are-chained.md";
    changes = "changes", "changes", "changes.md";
}

impl Page {
    /// Its first heading.
    pub fn title(&self) -> &'static str {
        let first = self.text.lines().next().unwrap_or_default();
        first.trim_start_matches(['#', ' '])
    }
}

/// The page of this name.
pub fn page(name: &str) -> Option<&'static Page> {
    PAGES.iter().find(|page| page.name == name)
}

/// Everything that the reference says under headings that name this word, such as a key of a
/// card, a command, an exit status, an error code or a word of the glossary.
pub fn about(word: &str) -> Option<String> {
    let reference = PAGES.iter().filter(|page| page.kind == "reference");
    let found: Vec<String> = reference
        .flat_map(search::sections)
        .filter(|(_, section)| names(section, word))
        .map(|(_, section)| section.to_owned())
        .collect();
    (!found.is_empty()).then(|| found.join("\n"))
}

/// Whether a section's heading has the word between backticks; brackets of a table do not count.
fn names(section: &str, word: &str) -> bool {
    let heading = section.lines().next().unwrap_or_default();
    let mut named = heading.split('`').skip(1).step_by(2);
    named.any(|named| named.trim_matches(['[', ']']).eq_ignore_ascii_case(word))
}

/// The name of the picture that a line of a page stands for.
pub fn picture(line: &str) -> Option<&str> {
    let named = line.trim().strip_prefix("<!-- picture: ")?;
    named.strip_suffix(" -->")
}
