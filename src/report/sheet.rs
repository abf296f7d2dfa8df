//! One A4 page as SVG, in hundredths of a millimetre.

use super::typeface::Weight;
use super::words::harmless;
use crate::record::Verdict;
use std::fmt::Write;

/// Width of the page.
pub(super) const PAGE_WIDTH: i32 = 21_000;
/// Height of the page.
pub(super) const PAGE_HEIGHT: i32 = 29_700;

/// A rectangle of the page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Area {
    pub x: i32,
    pub y: i32,
    pub w: i32,
    pub h: i32,
}

/// What `x` says of a text.
#[derive(Clone, Copy)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

/// The colour of a text, by what it is for.
#[derive(Clone, Copy)]
pub(super) enum Ink {
    Full,
    Quiet,
}

/// Size, weight and colour of a text. There are three sizes on the page.
#[derive(Clone, Copy)]
pub(super) struct Face {
    pub size: i32,
    pub weight: Weight,
    pub ink: Ink,
}

const fn face(size: i32, weight: Weight, ink: Ink) -> Face {
    Face { size, weight, ink }
}

/// The sentence under the verdict.
pub(super) const HEAD: Face = face(360, Weight::Bold, Ink::Full);
/// What is read.
pub(super) const BODY: Face = face(265, Weight::Regular, Ink::Full);
/// Titles and what counts among what is read.
pub(super) const STRONG: Face = face(265, Weight::Bold, Ink::Full);
/// Labels and numbers on axes.
pub(super) const SMALL: Face = face(220, Weight::Regular, Ink::Quiet);

/// Distance between the base lines of what is read.
pub(super) const LEADING: i32 = 355;

/// The looks. A phone or a screen at night may ask for a dark page; paper never does.
const STYLE: &str = "\
text{font-family:'DejaVu Sans',Verdana,Arial,sans-serif;font-variant-numeric:tabular-nums;fill:#16202a}\
.paper{fill:#fff}.quiet{fill:#515d68}\
.rule{fill:none;stroke:#b9c2ca;stroke-width:15}.axis{fill:none;stroke:#515d68;stroke-width:18}\
.grid{fill:none;stroke:#d9dfe4;stroke-width:10}\
.made-up{color:#16202a}.made-up text{fill:#fff}.pass{color:#00664f}.fail{color:#ac2b00}.undecided{color:#58409b}.unjudged{color:#515d68}\
.solid{fill:currentColor}.outline{fill:none;stroke:currentColor}.caution{color:#16202a}.cut{fill:none;stroke:#fff}\
.letter{fill:none;stroke:currentColor;stroke-width:390}\
.band{fill:#bfd2e6;stroke:#bfd2e6;stroke-width:8}.measured{fill:#4c5a67}\
.fitted,.doubted{fill:none;stroke:#0b57a8;stroke-width:32}.doubted{stroke-dasharray:60 45}\
.limit{fill:none;stroke:#16202a;stroke-width:26;stroke-dasharray:120 60}\
.barred{fill:url(#barred)}.hole{fill:url(#hole)}.hatch{stroke:#7c8791;stroke-width:14}\
.window{fill:none;stroke:#16202a;stroke-width:36}\
.off{fill:#ac2b00;fill-opacity:.32;stroke:#ac2b00;stroke-width:14}.over{fill:none;stroke:#ac2b00;stroke-width:110;stroke-linecap:round}\
.residual{fill:none;stroke:#4c5a67;stroke-width:16}.behind{fill:#fff;fill-opacity:.88}\
.least{fill:#16202a;stroke:#fff;stroke-width:14}\
.land{fill:none;stroke:#0b57a8;stroke-width:60;stroke-linecap:round}\
.gap{fill:none;stroke:#7c8791;stroke-width:18}\
.round{fill:none;stroke:#7c8791;stroke-width:14;stroke-dasharray:50 50}\
.share{fill:#7c93aa}.before{fill:none;stroke:#8a4b08;stroke-width:40;stroke-dasharray:150 70}\
@media screen and (prefers-color-scheme:dark){\
text{fill:#e9eef2}.paper{fill:#12181e}.quiet{fill:#a3afba}\
.rule{stroke:#3d4954}.axis{stroke:#a3afba}.grid{stroke:#26303a}\
.made-up{color:#e9eef2}.made-up text{fill:#12181e}.pass{color:#45cba4}.fail{color:#ff8f66}.undecided{color:#bda8ff}.unjudged{color:#a3afba}.caution{color:#e9eef2}\
.cut{stroke:#12181e}.band{fill:#2c4258;stroke:#2c4258}.measured{fill:#b4c0cb}.fitted,.doubted{stroke:#74b6ff}\
.off{fill:#ff8f66;stroke:#ff8f66}.over{stroke:#ff8f66}.residual{stroke:#b4c0cb}.behind{fill:#12181e}\
.limit,.window{stroke:#e9eef2}.hatch{stroke:#75818c}.least{fill:#e9eef2;stroke:#12181e}\
.land{stroke:#74b6ff}.gap{stroke:#75818c}.round{stroke:#75818c}.share{fill:#5c758d}.before{stroke:#e3a35c}}";

/// Hatchings for what is out of bounds and for what was not read.
const PATTERNS: &str = "\
<pattern id=\"barred\" width=\"110\" height=\"110\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\">\
<path class=\"hatch\" d=\"M0 0V110\"/></pattern>\
<pattern id=\"hole\" width=\"90\" height=\"90\" patternUnits=\"userSpaceOnUse\">\
<path class=\"hatch\" d=\"M0 45H30\"/></pattern>";

/// The page while it is drawn.
pub(super) struct Sheet {
    body: String,
}

/// Writes to the page; writing to a string does not fail.
macro_rules! put {
    ($sheet:expr, $($what:tt)*) => { let _ = write!($sheet.body, $($what)*); };
}

impl Sheet {
    pub(super) fn new() -> Self {
        Self {
            body: String::new(),
        }
    }

    /// The whole file.
    pub(super) fn finish(self, title: &str, description: &str) -> String {
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"210mm\" height=\"297mm\" \
             viewBox=\"0 0 {PAGE_WIDTH} {PAGE_HEIGHT}\" role=\"img\" aria-labelledby=\"title desc\">\n\
             <title id=\"title\">{}</title>\n<desc id=\"desc\">{}</desc>\n\
             <style>{STYLE}</style>\n<defs>{PATTERNS}</defs>\n\
             <rect class=\"paper\" width=\"{PAGE_WIDTH}\" height=\"{PAGE_HEIGHT}\"/>\n{}</svg>\n",
            escaped(title),
            escaped(description),
            self.body
        )
    }

    /// A picture of this size that stands in a text, among others: it has no names that two of them
    /// could share, and no empty line, which would end it in Markdown.
    pub(super) fn finish_as_picture(self, (w, h): (i32, i32), title: &str) -> String {
        let mm = |length: i32| f64::from(length) / 100.0;
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{}mm\" height=\"{}mm\" \
             viewBox=\"0 0 {w} {h}\" role=\"img\" style=\"max-width:100%\">\n\
             <title>{}</title>\n<style>{STYLE}</style>\n\
             <rect class=\"paper\" width=\"{w}\" height=\"{h}\"/>\n{}</svg>\n",
            mm(w),
            mm(h),
            escaped(title),
            self.body
        )
    }

    /// A line of text; nothing at all when it is empty.
    pub(super) fn text(&mut self, (x, y): (i32, i32), anchor: Anchor, face: Face, text: &str) {
        if text.trim().is_empty() {
            return;
        }
        let anchor = match anchor {
            Anchor::Start => "",
            Anchor::Middle => " text-anchor=\"middle\"",
            Anchor::End => " text-anchor=\"end\"",
        };
        let weight = match face.weight {
            Weight::Regular => "",
            Weight::Bold => " font-weight=\"bold\"",
        };
        let ink = match face.ink {
            Ink::Full => "",
            Ink::Quiet => " class=\"quiet\"",
        };
        let size = face.size;
        put!(
            self,
            "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\"{weight}{anchor}{ink}>{}</text>\n",
            escaped(text)
        );
    }

    /// A path of this class.
    pub(super) fn path(&mut self, class: &str, d: &str) {
        put!(self, "<path class=\"{class}\" d=\"{d}\"/>\n");
    }

    /// A path of this class whose line is this thick.
    pub(super) fn stroke(&mut self, class: &str, thickness: i32, d: &str) {
        put!(
            self,
            "<path class=\"{class}\" stroke-width=\"{thickness}\" d=\"{d}\"/>\n"
        );
    }

    /// A rectangle of this class.
    pub(super) fn rect(&mut self, class: &str, area: Area) {
        let Area { x, y, w, h } = area;
        put!(
            self,
            "<rect class=\"{class}\" x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\"/>\n"
        );
    }

    /// A circle of this class.
    pub(super) fn circle(&mut self, class: &str, (x, y): (i32, i32), radius: i32) {
        put!(
            self,
            "<circle class=\"{class}\" cx=\"{x}\" cy=\"{y}\" r=\"{radius}\"/>\n"
        );
    }

    /// A level line from edge to edge.
    pub(super) fn rule(&mut self, x: i32, y: i32, w: i32) {
        self.path("rule", &format!("M{x} {y}h{w}"));
    }

    /// Opens a group of this class; for readers that speak it is named.
    pub(super) fn open(&mut self, class: &str, name: Option<&str>) {
        put!(self, "<g");
        if !class.is_empty() {
            put!(self, " class=\"{class}\"");
        }
        match name {
            Some(name) => {
                put!(self, "><title>{}</title>\n", escaped(name));
            }
            None => {
                put!(self, ">\n");
            }
        }
    }

    /// Closes the group opened last.
    pub(super) fn close(&mut self) {
        put!(self, "</g>\n");
    }
}

/// The class that gives a verdict its colour.
pub(super) const fn class(verdict: Option<Verdict>) -> &'static str {
    match verdict {
        Some(verdict) => verdict.as_str(),
        None => "unjudged",
    }
}

/// Text that XML takes as text, with nothing in it that XML forbids.
fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for character in harmless(text).chars() {
        match character {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            other => safe.push(other),
        }
    }
    safe
}
