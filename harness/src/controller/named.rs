//! From what a person writes to a source of controllers.

use super::Source;
use super::in_process::{BUILTIN, Builtin};
use super::process::{COMMAND, Program};
use std::time::Duration;

/// The source that a name stands for: `builtin:reference`, `builtin:no-dwell`, `cmd:python3 box.py`; a program has this
/// long for one answer, or its usual limit.
///
/// # Errors
/// A sentence on what is wrong with it and what would be right.
pub fn named(name: &str, answer_limit: Option<Duration>) -> Result<Box<dyn Source>, String> {
    if name.starts_with(BUILTIN) {
        Ok(Box::new(Builtin::named(name)?))
    } else if name.starts_with(COMMAND) {
        let mut program = Program::named(name)?;
        program.answer_limit = answer_limit.unwrap_or(program.answer_limit);
        Ok(Box::new(program))
    } else {
        Err(format!(
            "\"{name}\" names no controller: write \"{COMMAND}\" and the command of a program, or \"{BUILTIN}reference\""
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::named;

    #[test]
    fn a_name_leads_to_its_source() {
        for name in ["builtin:reference", "builtin:no-dwell", "cmd:python3 box.py"] {
            assert_eq!(named(name, None).map(|source| source.name()), Ok(name.to_owned()));
        }
        assert!(named("box.py", None).err().is_some_and(|why| why.contains("write \"cmd:\"")));
        assert!(named("cmd:", None).is_err() && named("builtin:", None).is_err());
    }
}
