//! Saving a file whole or not at all.
//!
//! The bytes go to a temporary file beside the target; it is flushed to the disk, renamed over the
//! target, and the folder is flushed too. A crash at any point leaves the old file or the new one.

use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

/// Writes `path` through `write`: whole or not at all.
///
/// A link is followed, so that what it points to is replaced and the link stays. The permissions of
/// a file that is replaced are kept; a new one gets what the user's mask gives any new file.
///
/// # Errors
/// Whatever `write` returns, or the [`io::Error`] of making, flushing or renaming the file. The
/// target is then untouched, and the temporary file is gone.
pub fn save_atomically<E: From<io::Error>>(
    path: &Path,
    write: impl FnOnce(&mut File) -> Result<(), E>,
) -> Result<(), E> {
    let target = fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
    if target.is_dir() {
        return Err(io::Error::new(io::ErrorKind::IsADirectory, "it is a folder").into());
    }
    let folder = match target.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent.to_path_buf(),
        _ => PathBuf::from("."),
    };
    let mut builder = tempfile::Builder::new();
    builder.prefix(".foreglass-").suffix(".part");
    #[cfg(unix)]
    let open;
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        // The mask of the process is applied on top, as for any new file.
        open = fs::Permissions::from_mode(0o666);
        builder.permissions(open);
    }
    let mut temp = builder.tempfile_in(&folder)?;
    write(temp.as_file_mut())?;
    if let Ok(old) = fs::metadata(&target) {
        temp.as_file().set_permissions(old.permissions())?;
    }
    temp.as_file().sync_all()?;
    temp.persist(&target).map_err(|e| e.error)?;
    // A folder cannot be opened as a file everywhere; where it can, its entry must reach the disk.
    if cfg!(unix) {
        File::open(&folder)?.sync_all()?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write as _;

    fn names(folder: &Path) -> Vec<String> {
        let mut all: Vec<String> = fs::read_dir(folder)
            .unwrap()
            .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
            .collect();
        all.sort();
        all
    }

    #[test]
    fn whole_or_not_at_all() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("wheelhouse.json");
        save_atomically(&path, |f| f.write_all(b"first")).unwrap();
        let half: io::Result<()> = save_atomically(&path, |f| {
            f.write_all(b"sec")?;
            Err(io::Error::other("the disk is full"))
        });
        assert!(half.is_err(), "the writer's error comes out");
        assert_eq!(fs::read(&path).unwrap(), b"first", "the old file stands");
        save_atomically(&path, |f| f.write_all(b"second")).unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"second", "the new file stands");
        assert_eq!(
            names(folder.path()),
            ["wheelhouse.json"],
            "nothing is left beside it"
        );
        assert!(
            save_atomically(folder.path(), |f| f.write_all(b"x")).is_err(),
            "not a folder"
        );
    }

    #[cfg(unix)]
    #[test]
    fn follows_links_and_keeps_permissions() {
        use std::os::unix::fs::PermissionsExt as _;
        let folder = tempfile::tempdir().unwrap();
        let (path, link) = (folder.path().join("a.txt"), folder.path().join("b.txt"));
        fs::write(&path, b"old").unwrap();
        fs::set_permissions(&path, fs::Permissions::from_mode(0o640)).unwrap();
        std::os::unix::fs::symlink(&path, &link).unwrap();
        save_atomically(&link, |f| f.write_all(b"new")).unwrap();
        assert!(
            fs::symlink_metadata(&link).unwrap().is_symlink(),
            "the link stays a link"
        );
        assert_eq!(fs::read(&path).unwrap(), b"new", "its target is replaced");
        assert_eq!(
            fs::metadata(&path).unwrap().permissions().mode() & 0o777,
            0o640,
            "kept"
        );
    }
}
