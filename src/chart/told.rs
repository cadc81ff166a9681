//! What is told in words beside the rows.

use super::WIDTH;
use crate::text::width::{columns, wrapped};

/// Words, as many in a line as it has room for. What goes over several lines is indented from the second on.
pub(super) fn in_few_lines(words: Vec<String>) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in words {
        match lines.last_mut() {
            Some(line) if columns(line) + columns(&word) + 3 <= WIDTH => line.push_str(&format!(" · {word}")),
            _ => lines.push(word),
        }
    }
    let indented = |line: &String| match columns(line) <= WIDTH {
        true => vec![line.clone()],
        false => {
            let lines = wrapped(line, WIDTH - 2).into_iter().enumerate();
            lines
                .map(|(number, line)| if number == 0 { line } else { format!("  {line}") })
                .collect()
        }
    };
    lines.iter().flat_map(indented).collect()
}
