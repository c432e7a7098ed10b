//! Everything that the shell touches outside itself: two streams and a way to files, handed in so that tests can make
//! a file vanish, a disk fill up or a pipe close.

use std::fs;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

/// The outside world of one run of the program.
pub struct Io<'a> {
    /// Results.
    pub out: &'a mut dyn Write,
    /// Diagnostics and remarks.
    pub err: &'a mut dyn Write,
    /// Files and standard input.
    pub files: &'a mut dyn Files,
    /// Results may carry colour.
    pub colour_out: bool,
    /// Diagnostics may carry colour.
    pub colour_err: bool,
}

/// Reading and writing of files.
pub trait Files {
    /// The first `cap` + 1 bytes of a file: more than `cap` tells that the file is longer.
    ///
    /// # Errors
    /// Those of the system.
    fn read(&mut self, path: &Path, cap: u64) -> io::Result<Vec<u8>>;

    /// The same of standard input.
    ///
    /// # Errors
    /// Those of the system.
    fn stdin(&mut self, cap: u64) -> io::Result<Vec<u8>>;

    /// Makes or replaces a file, whole or not at all.
    ///
    /// # Errors
    /// Those of the system; the file is then as it was before.
    fn write(&mut self, path: &Path, bytes: &[u8]) -> io::Result<()>;

    /// Whether two paths lead to one file.
    fn same(&self, a: &Path, b: &Path) -> bool;
}

/// The real disk.
pub struct Disk;

impl Files for Disk {
    fn read(&mut self, path: &Path, cap: u64) -> io::Result<Vec<u8>> {
        capped(fs::File::open(path)?, cap)
    }

    fn stdin(&mut self, cap: u64) -> io::Result<Vec<u8>> {
        capped(io::stdin().lock(), cap)
    }

    fn write(&mut self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        // a link keeps pointing at the file that is replaced
        let target = fs::canonicalize(path).unwrap_or_else(|_| PathBuf::from(path));
        let old = fs::metadata(&target).ok();
        if old.as_ref().is_some_and(|m| !m.is_file() && !m.is_dir()) {
            // a device or a named pipe cannot be replaced by a file
            return fs::OpenOptions::new()
                .write(true)
                .open(&target)?
                .write_all(bytes);
        }
        let folder = match target.parent() {
            Some(parent) if !parent.as_os_str().is_empty() => parent,
            _ => Path::new("."),
        };
        let mut builder = tempfile::Builder::new();
        builder.prefix(".pipecarry-").suffix(".part");
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            // what any newly made file gets, less the user's mask
            builder.permissions(fs::Permissions::from_mode(0o666));
        }
        let mut part = builder.tempfile_in(folder)?;
        part.write_all(bytes)?;
        if let Some(old) = old {
            part.as_file().set_permissions(old.permissions())?;
        }
        part.as_file().sync_all()?;
        part.persist(&target).map_err(|e| e.error)?;
        Ok(())
    }

    fn same(&self, a: &Path, b: &Path) -> bool {
        match (fs::canonicalize(a), fs::canonicalize(b)) {
            (Ok(a), Ok(b)) => a == b,
            _ => a == b,
        }
    }
}

fn capped(from: impl Read, cap: u64) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    from.take(cap + 1).read_to_end(&mut bytes)?;
    Ok(bytes)
}
