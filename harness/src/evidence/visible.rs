//! Text from outside (names, controllers' words) made fit to be shown: what can't stand is shown as `\u{..}`, not dropped.

/// Characters of XML 1.0 (production 2, Char); a Rust `char` is never a surrogate.
fn is_xml(c: char) -> bool {
    matches!(c, '\t' | '\n' | '\r' | '\u{20}'..='\u{D7FF}' | '\u{E000}'..='\u{FFFD}' | '\u{10000}'..)
}

/// Control characters (terminal sequences begin with one) and those that turn the direction of writing.
fn is_hidden(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{200B}'..='\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2060}'..='\u{206F}' | '\u{FEFF}')
}

fn shown(text: &str, stands: impl Fn(char) -> bool) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if stands(c) {
            out.push(c);
        } else {
            out.extend(c.escape_unicode());
        }
    }
    out
}

/// Text that may stand in an XML 1.0 file.
#[must_use]
pub fn xml(text: &str) -> String {
    shown(text, is_xml)
}

/// Text that may stand in one line of a terminal or a document.
#[must_use]
pub fn line(text: &str) -> String {
    shown(text, |c| is_xml(c) && !is_hidden(c))
}

/// The first `most` bytes or fewer, whole characters, with a mark where something was cut.
#[must_use]
pub fn cut(text: &str, most: usize) -> String {
    const MARK: &str = "...";
    if text.len() <= most {
        return text.to_owned();
    }
    let mut end = most.saturating_sub(MARK.len());
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    format!("{}{MARK}", &text[..end])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn characters_outside_xml_are_shown() {
        assert_eq!(xml("a\0b\u{8}\u{1b}[31m"), "a\\u{0}b\\u{8}\\u{1b}[31m");
        assert_eq!(xml("\u{FFFE}\u{FFFF}\u{FFFD}"), "\\u{fffe}\\u{ffff}\u{FFFD}");
        assert_eq!(xml("tab\tline\r\nü€\u{1F600}"), "tab\tline\r\nü€\u{1F600}");
    }

    #[test]
    fn a_line_holds_no_line_break_no_terminal_sequence_and_no_turn_of_direction() {
        assert_eq!(line("a\nb\u{1b}[2J"), "a\\u{a}b\\u{1b}[2J");
        assert_eq!(line("x\u{202E}y\u{9b}"), "x\\u{202e}y\\u{9b}");
    }

    #[test]
    fn a_cut_keeps_whole_characters() {
        assert_eq!(cut("abcdef", 6), "abcdef");
        assert_eq!(cut("abcdefg", 6), "abc...");
        assert_eq!(cut("aüüüü", 7), "aü..."); // ü takes two bytes: only 4 of the 7 bytes are for text, the 4th splits one
    }
}
