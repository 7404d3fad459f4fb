//! Imports point only to lower layers, and the table in DEVELOPERS.md is the truth about them.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

const ROOT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/..");
/// Look again at 400; no file passes this.
const MOST_LINES: usize = 700;

fn layers() -> BTreeMap<String, u32> {
    let text = fs::read_to_string(Path::new(ROOT).join("DEVELOPERS.md")).expect("DEVELOPERS.md");
    text.lines()
        .filter_map(|line| {
            let cells: Vec<&str> = line.split('|').map(str::trim).collect();
            let layer = cells.get(1)?.parse().ok()?;
            Some((cells.get(2)?.trim_matches('`').to_owned(), layer))
        })
        .collect()
}

fn sources(folder: &Path, into: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("folder").flatten() {
        let path = entry.path();
        if path.is_dir() {
            sources(&path, into);
        } else if path.extension().is_some_and(|x| x == "rs") {
            into.push(path);
        }
    }
}

fn module_of(path: &Path) -> String {
    let inside = path.strip_prefix(Path::new(ROOT).join("harness/src")).expect("inside");
    inside.components().next().expect("part").as_os_str().to_string_lossy().trim_end_matches(".rs").to_owned()
}

/// Every `crate::x` of a text, outside comments.
fn imports(text: &str) -> BTreeSet<String> {
    let code: Vec<&str> = text.lines().filter(|l| !l.trim_start().starts_with("//")).collect();
    let code = code.join("\n");
    assert!(!code.contains("crate::{"), "one path per line: no `crate::{{..}}`");
    code.match_indices("crate::")
        .filter(|(at, _)| !code[..*at].ends_with('$'))
        .map(|(at, m)| code[at + m.len()..].chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect())
        .collect()
}

#[test]
fn imports_point_downwards_and_the_table_is_complete() {
    let layers = layers();
    let mut files = Vec::new();
    sources(&Path::new(ROOT).join("harness/src"), &mut files);
    let mut wrong = Vec::new();
    let mut present = BTreeSet::new();
    for path in files {
        let module = module_of(&path);
        if module == "lib" || module == "main" {
            continue;
        }
        present.insert(module.clone());
        let text = fs::read_to_string(&path).expect("source");
        let lines = text.lines().count();
        if lines > MOST_LINES {
            wrong.push(format!("{} has {lines} lines", path.display()));
        }
        let Some(own) = layers.get(&module) else {
            wrong.push(format!("module {module} is not in DEVELOPERS.md"));
            continue;
        };
        // Tests inside a module may look around.
        let code = text.split("#[cfg(test)]\nmod ").next().unwrap_or(&text);
        let is_test = path.to_string_lossy().contains("test");
        for used in imports(code) {
            match layers.get(&used) {
                Some(layer) if used == module || layer < own || is_test => {}
                Some(_) => wrong.push(format!("{} imports {used}, which is no lower layer", path.display())),
                None => wrong.push(format!("{} imports {used}, which DEVELOPERS.md doesn't list", path.display())),
            }
        }
    }
    for module in layers.keys().filter(|m| !present.contains(*m)) {
        wrong.push(format!("DEVELOPERS.md lists {module}, which isn't there"));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
