//! Broken drawings, and what is said about them: each file of `tests/broken/dxf` beside its exact message.

use std::fs;
use std::path::Path;

use scantling::io;
use scantling::io::drawn;

use super::request;

#[test]
fn broken_drawings_give_exactly_the_messages_beside_them() {
    let dir = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/broken/dxf");
    let mut files: Vec<_> = fs::read_dir(&dir).unwrap().map(|e| e.unwrap().path()).collect();
    files.retain(|p| p.extension().is_some_and(|e| e == "dxf"));
    files.sort();
    assert!(files.len() >= 20, "{}", files.len());
    for path in files {
        let name = path.file_name().unwrap().to_str().unwrap();
        let said = match drawn::see(name, &fs::read(&path).unwrap(), &request()) {
            Ok(seen) => super::said(&seen),
            Err(remark) => format!("{remark}\n"),
        };
        assert!(said.contains("error: "), "{name}: {said}");
        let beside = path.with_extension("txt");
        if std::env::var_os("UPDATE_GOLDEN").is_some() {
            io::write_atomically(&beside, said.as_bytes()).unwrap();
        }
        let wanted = fs::read_to_string(&beside).unwrap_or_default();
        assert_eq!(said, wanted, "{name}");
    }
}
