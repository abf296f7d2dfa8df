//! The manual, set to be read at the bench: its pages, its pictures, and the search.

use crate::manual::{self, KINDS, PAGES, Page, Place};
use crate::report;
use axum::extract::{Path, Query};
use axum::http::{StatusCode, header};
use axum::response::{Html, IntoResponse, Response};
use pulldown_cmark::{CowStr, Event, Options, Parser, Tag, html};
use serde::Deserialize;
use std::collections::HashSet;
use std::fmt::Write;

/// So many places are shown of a search.
const SHOWN: usize = 12;
/// How long a quoted piece of a line may be.
const PIECE: usize = 160;

/// What is looked for.
#[derive(Deserialize)]
pub(super) struct Asked {
    q: Option<String>,
}

/// All pages, or the places that say something about what is asked.
pub(super) async fn contents(Query(asked): Query<Asked>) -> Html<String> {
    let words = asked.q.unwrap_or_default();
    let words = words.trim();
    Html(match words.is_empty() {
        true => filled("Manual", "", &listed()),
        false => filled(words, words, &found(words)),
    })
}

/// A page of the manual.
pub(super) async fn page(Path(name): Path<String>) -> Response {
    let Some(page) = manual::page(&name) else {
        return StatusCode::NOT_FOUND.into_response();
    };
    let note =
        format!("<p class=\"quiet\"><code>heelclear manual {name}</code> prints this page.</p>");
    Html(filled(&name, "", &(set(page) + &note))).into_response()
}

/// A picture of the manual.
pub(super) async fn picture(Path(name): Path<String>) -> Response {
    match report::picture(&name) {
        Some(svg) => ([(header::CONTENT_TYPE, "image/svg+xml")], svg).into_response(),
        None => StatusCode::NOT_FOUND.into_response(),
    }
}

fn filled(title: &str, asked: &str, body: &str) -> String {
    include_str!("assets/manual.html")
        .replace("{title}", &escaped(title))
        .replace("{asked}", &escaped(asked))
        .replace("{body}", body)
}

fn listed() -> String {
    let mut body = String::from("<h1>Manual</h1>\n");
    for kind in KINDS {
        let _ = write!(body, "<h2>{kind}</h2>\n<ul class=\"pages\">\n");
        for page in PAGES.iter().filter(|page| page.kind == *kind) {
            let title = escaped(page.title());
            let _ = writeln!(
                body,
                "<li><a href=\"/manual/{}\">{title}</a></li>",
                page.name
            );
        }
        body += "</ul>\n";
    }
    body
}

/// What the words mean goes first, then what has them in it.
fn found(words: &str) -> String {
    let mut places = manual::meant(words);
    if let Some(page) = manual::page(words) {
        places.splice(..0, manual::named(page.name));
    }
    places.extend(manual::search(words, SHOWN));
    let mut seen = HashSet::new();
    places.retain(|place| seen.insert((place.page.name, place.section().0)));
    places.truncate(SHOWN);
    let mut body = format!("<h1>{}</h1>\n", escaped(words));
    if places.is_empty() {
        let near = words.split_whitespace().find_map(manual::spelt_alike);
        body += "<p>The manual does not have this word.";
        if let Some(near) = near {
            let near = escaped(&near);
            let _ = write!(body, " Is it <a href=\"/manual?q={near}\">{near}</a>?");
        }
        body += " Try another word for it, or look at the <a href=\"/manual/glossary\">glossary</a>.</p>\n";
    }
    body += "<ol class=\"found\">\n";
    for place in &places {
        body += &told(place, words);
    }
    body + "</ol>\n"
}

fn told(place: &Place, words: &str) -> String {
    let (section, _) = place.section();
    let heading = place.heading.replace('`', "");
    let piece = match place.text.starts_with('#') {
        true => String::new(),
        false => place.excerpt(words, PIECE),
    };
    format!(
        "<li><a href=\"/manual/{0}#l{section}\">{1}</a> <span class=\"quiet\">{0}, line {2}</span><br>{3}</li>\n",
        place.page.name,
        escaped(&heading),
        place.line,
        escaped(&piece)
    )
}

/// A page as HTML: its headings can be jumped to by their lines, its pictures stand where they
/// belong, and where it names another page it leads there.
fn set(page: &Page) -> String {
    let mut marked = String::new();
    for line in page.text.lines() {
        match manual::picture(line) {
            Some(name) => {
                let title = report::PICTURES.iter().find(|(known, _)| *known == name);
                let title = title.map_or(name, |(_, title)| *title);
                let _ = write!(marked, "![{title}](/manual/pictures/{name})");
            }
            None => marked += line,
        }
        marked.push('\n');
    }
    let line_of = |at: usize| 1 + marked[..at].matches('\n').count();
    let parser = Parser::new_ext(&marked, Options::ENABLE_TABLES).into_offset_iter();
    let events = parser.map(|(event, range)| match event {
        Event::Start(Tag::Heading {
            level,
            classes,
            attrs,
            ..
        }) => {
            let id = Some(CowStr::from(format!("l{}", line_of(range.start))));
            Event::Start(Tag::Heading {
                level,
                id,
                classes,
                attrs,
            })
        }
        Event::Code(name) if manual::page(&name).is_some_and(|other| other != page) => {
            let link = format!("<a href=\"/manual/{name}\"><code>{name}</code></a>");
            Event::InlineHtml(link.into())
        }
        other => other,
    });
    let mut body = String::new();
    html::push_html(&mut body, events);
    body
}

fn escaped(text: &str) -> String {
    let mut safe = String::new();
    // Writing to a string does not fail.
    let _ = pulldown_cmark_escape::escape_html(&mut safe, text);
    // Nor may it be taken for one of the page's own gaps.
    safe.replace('{', "&#123;")
}
