//! Errors in spec files: all of them at once, each with its place in the file and what would be right.

use annotate_snippets::{AnnotationKind, Level, Origin, Renderer, Snippet};
use std::fmt;
use std::ops::Range;

/// One thing wrong with a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SpecError {
    /// The file.
    pub file: String,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// What is wrong.
    pub message: String,
    /// What would be right, where the message alone doesn't say it.
    pub hint: Option<String>,
    /// The line of the file and the bytes of it that are meant.
    excerpt: Option<(String, Range<usize>)>,
}

/// No line longer than this is shown.
const LONGEST_EXCERPT: usize = 2_000;
/// No message longer than this is printed: a number of 400 digits helps nobody.
const LONGEST_MESSAGE: usize = 600;

impl SpecError {
    /// An error at some bytes of a file's text.
    #[must_use]
    pub fn at(file: &str, text: &str, span: Range<usize>, message: &str, hint: Option<String>) -> Self {
        let at = floor_boundary(text, span.start);
        let before = text.get(..at).unwrap_or("");
        let line_start = before.rfind('\n').map_or(0, |n| n + 1);
        let rest = text.get(line_start..).unwrap_or("");
        let line_text = rest.split('\n').next().unwrap_or("").trim_end_matches('\r');
        let from = (at - line_start).min(line_text.len());
        let until = floor_boundary(line_text, span.end.saturating_sub(line_start)).max(from);
        let mut column_text = before.get(line_start..).unwrap_or("");
        // A byte order mark is no column.
        column_text = column_text.strip_prefix('\u{feff}').unwrap_or(column_text);
        let excerpt = (until < LONGEST_EXCERPT).then(|| {
            let end = floor_boundary(line_text, until + 200);
            (line_text.get(..end).unwrap_or("").to_owned(), from..until)
        });
        Self {
            file: printable(file),
            line: before.matches('\n').count() + 1,
            column: column_text.chars().count() + 1,
            message: printable(message),
            hint: hint.map(|h| printable(&h)),
            excerpt,
        }
    }

    /// An error about a whole file.
    #[must_use]
    pub fn whole(file: &str, message: &str) -> Self {
        Self { file: printable(file), line: 1, column: 1, message: printable(message), hint: None, excerpt: None }
    }
}

/// The greatest character boundary at or before a byte.
fn floor_boundary(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

/// The text with control characters made visible, and not longer than a message may be.
fn printable(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        if out.len() > LONGEST_MESSAGE {
            out.push('…');
            break;
        }
        if c.is_control() { out.extend(c.escape_default()) } else { out.push(c) }
    }
    out
}

impl fmt::Display for SpecError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let title = Level::ERROR.primary_title(self.message.as_str());
        let mut group = match &self.excerpt {
            Some((line, span)) => title.element(
                Snippet::source(line.as_str())
                    .line_start(self.line)
                    .path(self.file.as_str())
                    .annotation(AnnotationKind::Primary.span(span.clone())),
            ),
            None => title.element(Origin::path(self.file.as_str()).line(self.line).char_column(self.column)),
        };
        if let Some(hint) = &self.hint {
            group = group.element(Level::HELP.message(hint.as_str()));
        }
        f.write_str(&Renderer::plain().render(&[group]))
    }
}

/// All that is wrong with a spec and the files it names.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct SpecErrors {
    /// The errors, file by file, in the order of the files' text.
    pub lines: Vec<SpecError>,
}

impl fmt::Display for SpecErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (n, error) in self.lines.iter().enumerate() {
            if n > 0 {
                f.write_str("\n\n")?;
            }
            error.fmt(f)?;
        }
        Ok(())
    }
}

impl std::error::Error for SpecErrors {}

/// The known name nearest to a mistyped one, if any is near.
#[must_use]
pub fn nearest<'n>(wrong: &str, known: impl IntoIterator<Item = &'n str>) -> Option<&'n str> {
    if wrong.chars().count() > 64 {
        return None;
    }
    let allowed = (wrong.chars().count() / 3).max(1);
    known
        .into_iter()
        .map(|name| (edits(wrong, name), name))
        .filter(|&(distance, _)| distance <= allowed)
        .min_by_key(|&(distance, _)| distance)
        .map(|(_, name)| name)
}

/// Least number of inserted, deleted, replaced or swapped neighbouring characters; `-` and `_` count as the same.
fn edits(a: &str, b: &str) -> usize {
    let fold = |text: &str| -> Vec<char> {
        text.chars().map(|c| if c == '_' { '-' } else { c.to_ascii_lowercase() }).collect()
    };
    let (a, b) = (fold(a), fold(b));
    let mut two_above: Vec<usize> = Vec::new();
    let mut above: Vec<usize> = (0..=b.len()).collect();
    for (i, &ca) in a.iter().enumerate() {
        let mut row = vec![i + 1];
        for (j, &cb) in b.iter().enumerate() {
            let mut least = (above[j] + usize::from(ca != cb)).min(above[j + 1] + 1).min(row[j] + 1);
            if i > 0 && j > 0 && ca == b[j - 1] && a[i - 1] == cb {
                least = least.min(two_above[j - 1] + 1);
            }
            row.push(least);
        }
        two_above = std::mem::replace(&mut above, row);
    }
    above.last().copied().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn edit_distances_by_hand() {
        assert_eq!(edits("mass", "mass"), 0);
        assert_eq!(edits("mas", "mass"), 1);
        assert_eq!(edits("amss", "mass"), 1);
        assert_eq!(edits("rpm_floor", "rpm-floor"), 0);
        assert_eq!(edits("kitten", "sitting"), 3);
        assert_eq!(edits("", "abc"), 3);
    }

    #[test]
    fn the_nearest_name_is_offered_and_a_far_one_is_not() {
        assert_eq!(nearest("mas", ["class", "mass", "name"]), Some("mass"));
        assert_eq!(nearest("colour", ["class", "mass", "name"]), None);
    }

    #[test]
    fn an_error_shows_file_line_column_excerpt_and_hint() {
        let text = "format = 1\nmäss = 3\n";
        let error = SpecError::at("a.toml", text, 11..16, "unknown key `mäss`", Some("did you mean `mass`?".into()));
        assert_eq!((error.line, error.column), (2, 1));
        let shown = error.to_string();
        for part in ["error: unknown key `mäss`", "a.toml:2:1", "2 | mäss = 3", "^^^^", "help: did you mean `mass`?"]
        {
            assert!(shown.contains(part), "{part} is missing in:\n{shown}");
        }
        assert!(!shown.contains('\u{1b}'));
    }

    #[test]
    fn no_place_is_out_of_reach() {
        for span in [0..0, 3..900, 5..5, 900..901] {
            let error = SpecError::at("a.toml", "aé\r\nb", span, "x\u{1b}[31m", None);
            assert!(!error.to_string().contains('\u{1b}'));
        }
    }
}
