//! Reading listening pages as a browser does.

use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use serde_json::Value;

/// What stands between each beginning and the next end behind it.
pub fn between<'a>(text: &'a str, from: &str, to: &str) -> Vec<&'a str> {
    let pieces = text.split(from).skip(1);
    pieces.map(|piece| piece.split(to).next().unwrap_or("")).collect()
}

fn decoded(encoded: &str) -> String {
    let bytes = BASE64_STANDARD.decode(encoded).expect("base64");
    String::from_utf8(bytes).expect("UTF-8")
}

/// What the script of a page is told.
pub fn told(html: &str) -> Value {
    serde_json::from_str(&decoded(between(html, "id=\"told\">", "</script>")[0])).expect("JSON")
}

/// A page with the parts that show names in their places.
pub fn shown(html: &str) -> String {
    let mut shown = html.to_string();
    for encoded in between(html, "<script type=\"text/plain\" class=\"named\">", "</script>") {
        let script = format!("<script type=\"text/plain\" class=\"named\">{encoded}</script>");
        shown = shown.replacen(&script, &decoded(encoded), 1);
    }
    shown
}

/// The names of a page's versions, in order.
pub fn names(html: &str) -> Vec<String> {
    let told = told(html);
    let versions = told["versions"].as_array().expect("a list");
    let name = |version: &Value| version["name"].as_str().expect("a name").to_string();
    versions.iter().map(name).collect()
}
