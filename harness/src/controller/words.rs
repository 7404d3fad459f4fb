//! A command as a person writes it, split into words.

/// Splits at blanks; single and double quotes hold words together, a backslash takes the next character as it is
/// (not within single quotes). Nothing is expanded: no shell ever sees the command.
///
/// # Errors
/// A sentence on what is missing.
pub fn split(command: &str) -> Result<Vec<String>, String> {
    let mut words = Vec::new();
    let mut word: Option<String> = None;
    let mut quote = None;
    let mut letters = command.chars();
    while let Some(c) = letters.next() {
        match (quote, c) {
            (Some(open), c) if c == open => quote = None,
            (Some('"') | None, '\\') => {
                let next = letters.next().ok_or_else(|| format!("\"{command}\" ends in a lone backslash"))?;
                word.get_or_insert_default().push(next);
            }
            (Some(_), c) => word.get_or_insert_default().push(c),
            (None, '"' | '\'') => {
                quote = Some(c);
                word.get_or_insert_default();
            }
            (None, c) if c.is_whitespace() => words.extend(word.take()),
            (None, c) => word.get_or_insert_default().push(c),
        }
    }
    if let Some(open) = quote {
        return Err(format!("a {open} is never closed in {command}"));
    }
    words.extend(word);
    if words.is_empty() { Err("there is no command after \"cmd:\"".to_owned()) } else { Ok(words) }
}

#[cfg(test)]
mod tests {
    use super::split;

    #[test]
    fn words_are_split_as_one_expects() {
        let expect = |command: &str, words: &[&str]| assert_eq!(split(command).unwrap(), words, "{command}");
        expect("python3  -u box.py", &["python3", "-u", "box.py"]);
        expect("'my box' \"a b\" c\\ d", &["my box", "a b", "c d"]);
        expect("a'b'\"c\" ''", &["abc", ""]);
        expect("\"say \\\"hi\\\"\" '$HOME \\'", &["say \"hi\"", "$HOME \\"]);
    }

    #[test]
    fn what_cannot_be_split_is_explained() {
        assert!(split("a 'b").unwrap_err().contains("never closed"));
        assert!(split("a\\").unwrap_err().contains("lone backslash"));
        assert!(split("  ").unwrap_err().contains("no command"));
    }
}
