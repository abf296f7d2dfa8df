//! The manual, compiled into the documentation and the program.
//!
//! Four kinds of page, not mixed: a tutorial to learn by doing, how-to pages for one task each,
//! reference to look things up, explanation to understand why.

/// A page of the manual.
#[derive(Clone, Copy, Debug)]
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

/// Declares each page once: a module whose documentation it is, and an entry of [`PAGES`].
macro_rules! pages {
    ($($module:ident = $name:literal, $kind:literal, $file:literal;)+) => {
        $(
            #[doc = include_str!($file)]
            pub mod $module {}
        )+

        /// Every page.
        pub const PAGES: &[Page] = &[
            $(Page { name: $name, kind: $kind, text: include_str!($file) },)+
        ];
    };
}

pages! {
    commands = "commands", "reference", "reference/commands.md";
    inspection_card = "inspection-card", "reference", "reference/inspection-card.md";
    tool_card = "tool-card", "reference", "reference/tool-card.md";
    gauge_card = "gauge-card", "reference", "reference/gauge-card.md";
    traces = "traces", "reference", "reference/traces.md";
    results = "results", "reference", "reference/results.md";
    errors = "errors", "reference", "reference/errors.md";
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
/// card, a command, an exit status or an error code.
pub fn about(word: &str) -> Option<String> {
    let reference = PAGES.iter().filter(|page| page.kind == "reference");
    let found: Vec<String> = reference
        .flat_map(|page| sections(page.text))
        .filter(|section| names(section, word))
        .map(str::to_owned)
        .collect();
    (!found.is_empty()).then(|| found.join("\n"))
}

/// The text from each heading up to the next.
fn sections(text: &str) -> impl Iterator<Item = &str> {
    let starts = text.match_indices("\n#").map(|(at, _)| at + 1);
    let starts: Vec<usize> = std::iter::once(0).chain(starts).collect();
    let ends = starts.clone().into_iter().skip(1).chain([text.len()]);
    let bounds: Vec<_> = starts.into_iter().zip(ends).collect();
    bounds.into_iter().map(|(from, to)| &text[from..to])
}

/// Whether a section's heading has the word between backticks.
fn names(section: &str, word: &str) -> bool {
    let heading = section.lines().next().unwrap_or_default();
    heading
        .split('`')
        .skip(1)
        .step_by(2)
        .any(|named| named == word)
}
