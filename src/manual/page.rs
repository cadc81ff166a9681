//! The manual as one HTML page that asks the network for nothing.

use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use minijinja::value::Serde;
use minijinja::{Environment, context};
use pulldown_cmark::{CowStr, Event, Options, Parser, Tag, html};
use serde::Serialize;

use super::CHAPTERS;

const STRUCTURE: &str = include_str!("page.html");
/// What a page of text looks like beyond the looks that all pages have.
const LOOKS: &str = include_str!("page.css");
/// Pictures in the chapters, by the links to them.
const PICTURES: [(&str, &[u8]); 2] = [
    (
        "../../renders/night-ferry.png",
        include_bytes!("../../renders/night-ferry.png"),
    ),
    (
        "../../renders/listening-page.png",
        include_bytes!("../../renders/listening-page.png"),
    ),
];

/// A table of the reference.
#[derive(Debug, Clone, Serialize)]
pub(crate) struct Listing {
    /// What its rows are.
    pub title: String,
    /// The heads of its columns.
    pub heads: Vec<&'static str>,
    /// Its rows; `code` stands between backticks.
    pub rows: Vec<Vec<String>>,
}

/// What the page holds beside the chapters.
#[derive(Debug, Clone)]
pub(crate) struct Page<'a> {
    /// What made it: the program and its version.
    pub made_by: &'a str,
    /// The looks that all of pressroll's pages have, as CSS.
    pub style: &'a str,
    /// Settings and marks.
    pub reference: Vec<Listing>,
    /// Commands by name, each with its help.
    pub commands: Vec<(String, String)>,
}

/// All chapters, then the reference, as an HTML page.
pub(crate) fn page(page: &Page) -> String {
    let chapters: Vec<_> = CHAPTERS
        .iter()
        .map(|chapter| {
            context! { name => chapter.name, title => chapter.title(), about => chapter.about, body => body(chapter.text) }
        })
        .collect();
    let mut environment = Environment::new();
    environment.add_filter("coded", coded);
    environment
        .add_template("page.html", STRUCTURE)
        .and_then(|()| environment.get_template("page.html"))
        .and_then(|template| {
            template.render(context! {
                made_by => page.made_by,
                style => page.style,
                looks => LOOKS,
                chapters => chapters,
                reference => Serde(&page.reference),
                commands => Serde(&page.commands),
            })
        })
        .expect("the page's structure is built in and complete")
}

/// A chapter's Markdown as HTML, a level of headings down, with its pictures in it.
fn body(markdown: &str) -> String {
    let events = Parser::new_ext(markdown, Options::ENABLE_TABLES).map(|event| match event {
        Event::Start(Tag::Link {
            link_type,
            dest_url,
            title,
            id,
        }) => Event::Start(Tag::Link {
            link_type,
            dest_url: within(dest_url),
            title,
            id,
        }),
        Event::Start(Tag::Image {
            link_type,
            dest_url,
            title,
            id,
        }) => Event::Start(Tag::Image {
            link_type,
            dest_url: picture(dest_url),
            title,
            id,
        }),
        event => event,
    });
    let mut body = String::new();
    html::push_html(&mut body, events);
    lowered(&body)
        .replace("<table>", "<div class=\"across\" tabindex=\"0\"><table>")
        .replace("</table>", "</table></div>")
        .replace("<pre>", "<pre tabindex=\"0\">")
}

/// The page has a title of its own: headings of chapters stand below it.
fn lowered(body: &str) -> String {
    [("h3", "h4"), ("h2", "h3"), ("h1", "h2")]
        .iter()
        .fold(body.to_string(), |body, (from, to)| {
            body.replace(&format!("<{from}>"), &format!("<{to}>"))
                .replace(&format!("</{from}>"), &format!("</{to}>"))
        })
}

/// A link to a chapter's file leads to its place in the page.
fn within(link: CowStr) -> CowStr {
    match link.strip_suffix(".md") {
        Some(name) => format!("#{name}").into(),
        None => link,
    }
}

/// A picture's bytes in place of its link.
fn picture(link: CowStr) -> CowStr {
    let found = PICTURES.iter().find(|(name, _)| *name == &*link);
    match found {
        Some((_, bytes)) => format!("data:image/png;base64,{}", BASE64_STANDARD.encode(bytes)).into(),
        None => link,
    }
}

/// Text as HTML, with `code` between backticks.
fn coded(text: &str) -> minijinja::Value {
    let escaped = |text: &str| minijinja::HtmlEscape(text).to_string();
    let pieces = text.split('`').enumerate();
    let html: String = pieces
        .map(|(number, piece)| match number % 2 {
            0 => escaped(piece),
            _ => format!("<code>{}</code>", escaped(piece)),
        })
        .collect();
    minijinja::Value::from_safe_string(html)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_link_and_picture_of_a_chapter_is_in_the_page() {
        for chapter in CHAPTERS {
            for event in Parser::new_ext(chapter.text, Options::ENABLE_TABLES) {
                match event {
                    Event::Start(Tag::Image { dest_url, .. }) => {
                        assert!(picture(dest_url.clone()).starts_with("data:"), "{dest_url}");
                    }
                    Event::Start(Tag::Link { dest_url, .. }) => {
                        let name = dest_url.strip_suffix(".md");
                        let known = CHAPTERS.iter().any(|chapter| Some(chapter.name) == name);
                        assert!(known, "{}: {dest_url}", chapter.name);
                    }
                    _ => {}
                }
            }
        }
    }

    #[test]
    fn what_looks_like_a_tag_is_text() {
        assert_eq!(coded("`<1` & more").to_string(), "<code>&lt;1</code> &amp; more");
    }
}
