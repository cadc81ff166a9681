//! File names made from a template such as `{title} {tempo} {mix}`.

use crate::text::{Problem, nearest, steers};

/// The placeholders that the template of a render may hold.
pub(crate) const PLACEHOLDERS: &[&str] = &["title", "tempo", "key", "metre", "bars", "mix"];

/// The longest name in bytes: file systems stop at 255, and endings come behind it.
const LONGEST: usize = 200;

/// A template: text with placeholders in braces.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Template(Vec<Piece>);

#[derive(Debug, Clone, PartialEq, Eq)]
enum Piece {
    Text(String),
    Placeholder(&'static str),
}

impl Template {
    /// Reads a template that may hold some placeholders.
    ///
    /// # Errors
    /// A placeholder that is none of `known`; a brace without its other half.
    pub(crate) fn read(text: &str, known: &'static [&'static str]) -> Result<Template, Problem> {
        let mut pieces = Vec::new();
        let mut rest = text;
        while let Some((before, behind)) = rest.split_once('{') {
            let Some((name, after)) = behind.split_once('}') else {
                return Err(Problem::new("a brace is never closed").help("write placeholders as {title}"));
            };
            pieces.push(text_piece(before)?);
            pieces.push(Piece::Placeholder(placeholder(name.trim(), known)?));
            rest = after;
        }
        pieces.push(text_piece(rest)?);
        Ok(Template(pieces))
    }

    /// The name that comes of it, without an ending; `value` tells what each placeholder stands for.
    pub(crate) fn fill(&self, value: impl Fn(&str) -> String) -> String {
        let piece = |piece: &Piece| match piece {
            Piece::Text(text) => text.clone(),
            Piece::Placeholder(name) => value(name),
        };
        safe(&self.0.iter().map(piece).collect::<String>())
    }
}

fn text_piece(text: &str) -> Result<Piece, Problem> {
    match text.contains('}') {
        true => Err(Problem::new("a brace is closed that was never opened").help("write placeholders as {title}")),
        false => Ok(Piece::Text(text.into())),
    }
}

fn placeholder(name: &str, all: &'static [&'static str]) -> Result<&'static str, Problem> {
    if let Some(known) = all.iter().find(|known| **known == name) {
        return Ok(known);
    }
    let braced: Vec<String> = all.iter().map(|name| format!("{{{name}}}")).collect();
    let braced = braced.join(" ");
    let problem = Problem::new(format!("there is no placeholder {{{name}}}"));
    Err(match nearest(name, all.iter().copied()) {
        Some(near) => problem.help(format!("did you mean {{{near}}}? There are {braced}")),
        None => problem.help(format!("there are {braced}")),
    })
}

/// A name that every file system takes: characters that some refuse become hyphens, runs of spaces one space, and
/// nothing hangs at its ends, where an empty placeholder leaves spaces and hyphens. What has no letter left is `loop`.
pub(crate) fn safe(name: &str) -> String {
    let plain = |letter: char| match letter {
        letter if steers(letter) => ' ',
        '/' | '\\' | ':' | '*' | '?' | '"' | '<' | '>' | '|' => '-',
        letter => letter,
    };
    let plain: String = name.chars().map(plain).collect();
    let spaced = plain.split_whitespace().collect::<Vec<_>>().join(" ");
    // Trimmed once more behind the cut, which may end on a space.
    let trimmed = |text: &str| text.trim_matches([' ', '-', '.', '_']).to_string();
    let mut name = trimmed(&spaced);
    while name.len() > LONGEST {
        name.pop();
    }
    match trimmed(&name) {
        name if name.is_empty() => "loop".into(),
        name => name,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn filled(template: &str) -> String {
        let value = |name: &str| match name {
            "title" => "Quay / pier: \"B\"",
            "tempo" => "92.5",
            "key" => "F# minor",
            _ => "",
        };
        Template::read(template, PLACEHOLDERS)
            .unwrap()
            .fill(|name| value(name).into())
    }

    #[test]
    fn names_are_safe_and_do_not_show_what_is_empty() {
        assert_eq!(filled("{title} {tempo} {key} {mix}"), "Quay - pier- -B- 92.5 F# minor");
        assert_eq!(filled("{mix} - {tempo}"), "92.5");
        assert_eq!(filled("../../{tempo}"), "-..-92.5".trim_matches(['-', '.']));
        assert_eq!(filled("{mix}"), "loop");
        assert!(safe(&"ü".repeat(300)).len() <= LONGEST);
    }

    #[test]
    fn unknown_placeholders_are_told_the_nearest() {
        let told = |text: &str| Template::read(text, PLACEHOLDERS).unwrap_err().to_string();
        assert!(told("{titel}").contains("did you mean {title}?"), "{}", told("{titel}"));
        assert!(told("{").contains("never closed"));
        assert!(told("a}").contains("never opened"));
    }
}
