//! Files to texts, and bytes to files. The only part of `io` that touches the disk.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

use crate::diag::{Kind, Remark, Remarks, Severity};

/// Files larger than this (bytes) are not read: a rack of a thousand slabs has less than one twentieth of it.
pub const LARGEST_FILE: u64 = 20_000_000;

/// What an error of the file system means for a path, in words.
#[must_use]
pub fn explain(path: &Path, error: &io::Error) -> Remark {
    let name = path.display().to_string();
    let remark = |what, given: &str, expected: &str, fix: &str| {
        Remark::about_file(Severity::Error, what, name.clone(), given, expected, fix)
    };
    match error.kind() {
        io::ErrorKind::NotFound => {
            remark(Kind::FileMissing, "no such file", "a file that can be read", "check the name and the directory")
        }
        io::ErrorKind::IsADirectory => remark(Kind::FileIsDirectory, "a directory", "a file", "name a file in it"),
        io::ErrorKind::PermissionDenied => remark(
            Kind::FileForbidden,
            "access denied",
            "a file that you may open",
            "change its permissions or its owner",
        ),
        _ => remark(Kind::FileUnreadable, &error.to_string(), "a file that can be read", "check the file and the disk"),
    }
}

/// The text of a file.
///
/// # Errors
/// Says what the file system says, that the file is too large, or where it is not UTF-8.
pub fn read_text(path: &Path) -> Result<String, Remarks> {
    String::from_utf8(read_bytes(path)?)
        .map_err(|error| not_utf8(path, error.as_bytes(), error.utf8_error().valid_up_to()).into())
}

/// The bytes of a file.
///
/// # Errors
/// Says what the file system says, or that the file is too large.
pub fn read_bytes(path: &Path) -> Result<Vec<u8>, Remarks> {
    let fail = |e: io::Error| Remarks::from(explain(path, &e));
    let file = File::open(path).map_err(fail)?;
    if file.metadata().map_err(fail)?.is_dir() {
        return Err(fail(io::Error::from(io::ErrorKind::IsADirectory)));
    }
    let mut bytes = Vec::new();
    // What the directory says of the size may be wrong (pipes), so the reading itself is bounded.
    file.take(LARGEST_FILE + 1).read_to_end(&mut bytes).map_err(fail)?;
    if bytes.len() as u64 > LARGEST_FILE {
        let size = fs::metadata(path).map_or(0, |m| m.len()).max(bytes.len() as u64);
        return Err(Remark::about_file(
            Severity::Error,
            Kind::FileTooLarge,
            path.display().to_string(),
            format!("{:.1} MB", size as f64 / 1e6),
            format!("at most {} MB", LARGEST_FILE / 1_000_000),
            "check that it is the right file; leave out what is not needed",
        )
        .into());
    }
    Ok(bytes)
}

fn not_utf8(path: &Path, bytes: &[u8], offset: usize) -> Remark {
    let before = &bytes[..offset];
    let line_start = before.iter().rposition(|&b| b == b'\n').map_or(0, |i| i + 1);
    let line = before.iter().filter(|&&b| b == b'\n').count() + 1;
    let column = String::from_utf8_lossy(&before[line_start..]).chars().count() + 1;
    Remark {
        line,
        column,
        ..Remark::about_file(
            Severity::Error,
            Kind::NotUtf8,
            path.display().to_string(),
            format!("byte 0x{:02x} at offset {offset}", bytes.get(offset).copied().unwrap_or(0)),
            "text in UTF-8",
            "save the file as UTF-8 in the editor",
        )
    }
}

/// Writes a file so that it is never seen half-written: writes beside it, then renames. Makes missing directories.
///
/// # Errors
/// Says what the file system says; then the old file, if there was one, is still there.
pub fn write_atomically(path: &Path, bytes: &[u8]) -> Result<(), Remarks> {
    write(path, bytes).map_err(|error| {
        let mut remark = explain(path, &error);
        if remark.what == Kind::FileUnreadable || remark.what == Kind::FileMissing {
            remark.what = Kind::FileNotWritten;
            remark.given = error.to_string();
        }
        remark.expected = "a file that can be written".to_owned();
        remark.fix = "check the path, the permissions and the space on the disk".to_owned();
        // A part of the path that is a file cannot hold another.
        if let Some(file) = path.ancestors().skip(1).find(|p| p.is_file()) {
            remark.what = Kind::FileNotWritten;
            remark.given = format!("\"{}\", which is a file and no folder", file.display());
            remark.fix = "name another folder, or move that file away".to_owned();
        }
        remark.into()
    })
}

/// Removes the files of a folder whose names `stale` picks, and says which, in order. A folder that is not there has none.
///
/// # Errors
/// What the file system says of the first file that cannot be removed.
pub fn remove_files(folder: &Path, stale: impl Fn(&str) -> bool) -> Result<Vec<String>, Remarks> {
    let mut removed = Vec::new();
    let Ok(entries) = fs::read_dir(folder) else { return Ok(removed) };
    for entry in entries.flatten() {
        if entry.file_name().to_str().is_some_and(&stale) && entry.path().is_file() {
            fs::remove_file(entry.path()).map_err(|error| {
                let mut remark = explain(&entry.path(), &error);
                remark.expected = "a drawing of an earlier plan, which is to be removed".to_owned();
                remark
            })?;
            removed.push(entry.file_name().to_string_lossy().into_owned());
        }
    }
    removed.sort();
    Ok(removed)
}

/// Removes a folder if nothing is in it; one that is not there, or holds something, is left as it is.
pub fn remove_if_empty(folder: &Path) {
    // That is what this call does with a folder that holds something: nothing. What is left harms nobody.
    let _ = fs::remove_dir(folder);
}

fn write(path: &Path, bytes: &[u8]) -> io::Result<()> {
    /// Tells apart writers of one process; the process id tells apart processes.
    static COUNT: AtomicU32 = AtomicU32::new(0);
    let Some(name) = path.file_name() else { return Err(io::Error::from(io::ErrorKind::IsADirectory)) };
    if path.is_dir() {
        return Err(io::Error::from(io::ErrorKind::IsADirectory));
    }
    let directory = match path.parent() {
        Some(p) if !p.as_os_str().is_empty() => p,
        _ => Path::new("."),
    };
    fs::create_dir_all(directory)?;
    let mut beside = std::ffi::OsString::from(".");
    beside.push(name);
    beside.push(format!(".{}-{}.tmp", std::process::id(), COUNT.fetch_add(1, Ordering::Relaxed)));
    let beside: PathBuf = directory.join(beside);
    let done = (|| {
        let mut file = OpenOptions::new().write(true).create_new(true).open(&beside)?;
        file.write_all(bytes)?;
        // Whoever may edit the old file may edit the new one.
        if let Ok(old) = fs::metadata(path) {
            file.set_permissions(old.permissions())?;
        }
        file.sync_all()?;
        fs::rename(&beside, path)
    })();
    if done.is_err() {
        // The write has failed already; that its leftovers cannot be removed adds nothing.
        let _ = fs::remove_file(&beside);
    } else {
        sync_folder(directory);
    }
    done
}

/// Makes names that were given or removed in a folder survive a power cut. Not every system can; files are whole either way.
pub(super) fn sync_folder(folder: &Path) {
    if let Ok(d) = File::open(folder) {
        let _ = d.sync_all();
    }
}
