//! The source keeps its own law: who may import whom, and who may touch the world.

use std::fs;
use std::path::{Path, PathBuf};

/// What each module may import besides itself.
const MAY_IMPORT: [(&str, &[&str]); 14] = [
    ("units", &[]),
    ("geom", &[]),
    ("model", &["units", "geom"]),
    ("rules", &["geom", "model"]),
    ("search", &["geom", "model", "rules"]),
    ("craft", &["geom", "model"]),
    ("cad", &["units", "geom", "model"]),
    ("quote", &["units", "geom", "model"]),
    ("photo", &["geom", "model"]),
    ("check", &["geom", "model"]),
    ("report", &["units", "geom", "model", "stock"]),
    ("stock", &["geom", "model"]),
    ("diag", &[]),
    ("io", &["units", "geom", "model", "diag", "craft", "cad", "photo"]),
];

/// What only `io` and `cli` may do.
const WORLDLY: [&str; 12] = [
    "std::fs",
    "std::time",
    "std::env",
    "std::io",
    "std::net",
    "std::process",
    "std::thread",
    "print!",
    "println!",
    "eprint!",
    "eprintln!",
    "dbg!",
];

fn sources(dir: &Path, into: &mut Vec<PathBuf>) {
    let mut entries: Vec<PathBuf> = fs::read_dir(dir).unwrap().map(|e| e.unwrap().path()).collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            sources(&path, into);
        } else if path.extension().is_some_and(|e| e == "rs") {
            into.push(path);
        }
    }
}

/// The code with comments and the contents of strings blanked out and test modules left out; lines stay where they are.
fn code_only(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let chars: Vec<char> = text.chars().collect();
    let mut i = 0;
    let blank = |c: char| if c == '\n' { '\n' } else { ' ' };
    while i < chars.len() {
        let rest = |n: usize| chars.get(i + n).copied().unwrap_or(' ');
        if chars[i] == '/' && rest(1) == '/' {
            while i < chars.len() && chars[i] != '\n' {
                out.push(' ');
                i += 1;
            }
        } else if chars[i] == '/' && rest(1) == '*' {
            let mut depth = 0;
            while i < chars.len() {
                let two = (chars[i], chars.get(i + 1).copied().unwrap_or(' '));
                let step = match two {
                    ('/', '*') => {
                        depth += 1;
                        2
                    }
                    ('*', '/') => {
                        depth -= 1;
                        2
                    }
                    _ => 1,
                };
                (0..step).for_each(|k| out.push(blank(chars[i + k])));
                i += step;
                if depth == 0 {
                    break;
                }
            }
        } else if chars[i] == 'r'
            && (rest(1) == '"' || rest(1) == '#' && matches!(rest(2), '"' | '#'))
            && (i == 0 || !(chars[i - 1].is_alphanumeric() || chars[i - 1] == '_'))
        {
            let hashes = chars[i + 1..].iter().take_while(|c| **c == '#').count();
            let end: String = std::iter::once('"').chain(std::iter::repeat_n('#', hashes)).collect();
            let body: String = chars[i + 2 + hashes..].iter().collect();
            let stop = body.find(&end).map_or(body.len(), |b| b + end.len());
            let n = 2 + hashes + body[..stop].chars().count();
            (0..n).for_each(|k| out.push(blank(chars[i + k])));
            i += n;
        } else if chars[i] == '"' {
            out.push('"');
            i += 1;
            while i < chars.len() && chars[i] != '"' {
                let n = if chars[i] == '\\' && i + 1 < chars.len() { 2 } else { 1 };
                (0..n).for_each(|k| out.push(blank(chars[i + k])));
                i += n;
            }
            out.push('"');
            i += 1;
        } else if chars[i] == '\'' && (rest(1) == '\\' || rest(2) == '\'') {
            // A character literal, not a lifetime.
            let n = if rest(1) == '\\' {
                chars[i + 3..].iter().position(|c| *c == '\'').map_or(chars.len() - i, |k| k + 4)
            } else {
                3
            };
            (0..n).for_each(|k| out.push(blank(chars[i + k])));
            i += n;
        } else {
            out.push(chars[i]);
            i += 1;
        }
    }
    // A test module in src stands at the end of its file.
    match out.find("#[cfg(test)]") {
        Some(at) => out[..at].to_owned(),
        None => out,
    }
}

/// Every top-level module that the code names as `crate::x`, also in braces, or by `super::` from a top-level file; with
/// its line.
fn imports(code: &str) -> Vec<(usize, String)> {
    let mut found = Vec::new();
    for (at, _) in code.match_indices("crate::") {
        let before = code[..at].chars().next_back();
        if before.is_some_and(|c| c.is_alphanumeric() || c == '_' || c == '$') {
            continue;
        }
        let line = code[..at].matches('\n').count() + 1;
        let rest = &code[at + "crate::".len()..];
        let name =
            |s: &str| s.trim_start().chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect::<String>();
        if rest.trim_start().starts_with('{') {
            // The first word of every entry at depth one.
            let (mut depth, mut entry) = (0, true);
            for (k, c) in rest.char_indices() {
                match c {
                    '{' => {
                        depth += 1;
                        entry = depth == 1;
                    }
                    '}' => depth -= 1,
                    ',' if depth == 1 => entry = true,
                    c if entry && depth == 1 && (c.is_alphabetic() || c == '_') => {
                        found.push((line + rest[..k].matches('\n').count(), name(&rest[k..])));
                        entry = false;
                    }
                    _ => {}
                }
                if depth == 0 && c == '}' {
                    break;
                }
            }
        } else {
            found.push((line, name(rest)));
        }
    }
    found
}

fn module_of(path: &Path) -> String {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let inside = path.strip_prefix(root).unwrap();
    let first = inside.components().next().unwrap().as_os_str().to_string_lossy().into_owned();
    first.trim_end_matches(".rs").to_owned()
}

fn all_sources() -> Vec<(String, String, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut paths = Vec::new();
    sources(&root.join("src"), &mut paths);
    assert!(paths.len() > 20, "the sources were found");
    paths
        .iter()
        .map(|p| {
            let shown = p.strip_prefix(root).unwrap().to_string_lossy().replace('\\', "/");
            (shown, module_of(p), code_only(&fs::read_to_string(p).unwrap()))
        })
        .collect()
}

#[test]
fn modules_import_only_what_stands_below_them() {
    let mut faults = Vec::new();
    for (shown, module, code) in all_sources() {
        let Some((_, allowed)) = MAY_IMPORT.iter().find(|(name, _)| *name == module) else {
            // cli may import everything; lib and main only tie the modules together.
            assert!(matches!(module.as_str(), "cli" | "lib" | "main"), "{shown}: no law for module {module}");
            continue;
        };
        for (line, name) in imports(&code) {
            if name != module && !allowed.contains(&name.as_str()) {
                faults.push(format!("{shown}:{line}: {module} may not import {name}"));
            }
        }
        // A file of a module may climb to its own module's root, and not past it.
        let depth = shown.matches('/').count() - 1;
        let depth = if shown.ends_with("/mod.rs") { depth.saturating_sub(1) } else { depth };
        for (k, text) in code.lines().enumerate() {
            if text.contains(&"super::".repeat(depth + 1)) {
                faults.push(format!("{shown}:{}: reaches past its own module by super::", k + 1));
            }
        }
    }
    assert!(faults.is_empty(), "\n{}", faults.join("\n"));
}

#[test]
fn only_io_and_cli_touch_the_world() {
    let mut faults = Vec::new();
    for (shown, module, code) in all_sources() {
        if matches!(module.as_str(), "io" | "cli" | "main") {
            continue;
        }
        for (k, text) in code.lines().enumerate() {
            for word in WORLDLY {
                let whole = text
                    .match_indices(word)
                    .any(|(at, _)| !text[..at].chars().next_back().is_some_and(|c| c.is_alphanumeric() || c == '_'));
                if whole {
                    faults.push(format!("{shown}:{}: {module} may not use {word}", k + 1));
                }
            }
            for name in ["fs", "time", "env", "io", "net", "process", "thread"] {
                let braces = text.split_once("use std::{").map(|(_, list)| list);
                if braces
                    .is_some_and(|l| l.split([',', '{', '}', ';']).any(|w| w.trim().split("::").next() == Some(name)))
                {
                    faults.push(format!("{shown}:{}: {module} may not use std::{name}", k + 1));
                }
            }
        }
    }
    assert!(faults.is_empty(), "\n{}", faults.join("\n"));
}

/// The law is worth nothing if its reader overlooks things.
#[test]
fn the_reader_of_the_source_sees_what_it_should() {
    let code = code_only(
        "//! crate::cli\nuse crate::{geom::{pt, Point}, search::plan,\n    rules};\nlet s = \"crate::io println!\";\n\
         let t = r#\"crate::io \" \"#; /* crate::io */ let c = '\"'; crate::model::x(); fn f<'a>() {}\n\
         $crate::diag\n#[cfg(test)]\nmod tests { use crate::cli; }\n",
    );
    let seen = imports(&code);
    let expected = [(2, "geom"), (2, "search"), (3, "rules"), (5, "model")];
    assert_eq!(seen, expected.map(|(l, n)| (l, n.to_owned())));
    assert!(!code.contains("println!"));
}
