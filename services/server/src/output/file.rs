//! Files that verbs write: beside their place first, then moved there whole.

use std::io::Write as _;
use std::os::unix::fs::{FileTypeExt as _, PermissionsExt as _};
use std::path::Path;

use domain::Id;

use crate::exit::CliError;

/// Begins the name of a file in the making.
const PREFIX: &str = ".lakebeam-";
/// As for every new file; the mask of the process takes its share.
const MODE: u32 = 0o666;

/// Writes a file, or leaves what is there as it was. Devices and pipes are written as they are; a link is not followed.
pub(crate) fn write(path: &Path, bytes: &[u8]) -> Result<(), CliError> {
    let failed = |e: std::io::Error| CliError::Usage(format!("{} cannot be written: {e}", path.display()));
    match std::fs::metadata(path) {
        Ok(found) if is_stream(&found.file_type()) => return std::fs::write(path, bytes).map_err(failed),
        // Standard output by its name, which may have been sent to a file.
        _ if path.starts_with("/dev") => return std::fs::write(path, bytes).map_err(failed),
        _ => {}
    }
    if path.is_symlink() {
        return Err(CliError::Usage(format!(
            "{} is a link, and nothing is written through links; name the file itself",
            path.display()
        )));
    }
    if path.is_dir() {
        return Err(CliError::Usage(format!("{} is a folder; name a file in it", path.display())));
    }
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mode = std::fs::Permissions::from_mode(MODE);
    let mut file = tempfile::Builder::new().prefix(PREFIX).permissions(mode).tempfile_in(folder).map_err(failed)?;
    file.write_all(bytes).map_err(failed)?;
    file.persist(path).map(drop).map_err(|e| failed(e.error))
}

fn is_stream(kind: &std::fs::FileType) -> bool {
    kind.is_char_device() || kind.is_fifo() || kind.is_socket()
}

/// The last part of a resource's name, where it can be the name of a file in a folder.
pub(crate) fn name_of(resource: &str) -> Result<Id, CliError> {
    let last = resource.split_once('/').map_or(resource, |(_, id)| id);
    Id::parse(last).map_err(|_| {
        CliError::Usage(format!(
            "'{}' cannot be the name of a file; nothing was written for it",
            resource.escape_debug()
        ))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_whole_or_as_it_was_and_nothing_is_left_beside_it() {
        let dir = tempfile::tempdir().unwrap();
        let file = dir.path().join("out.csv");
        write(&file, b"first").unwrap();
        write(&file, b"second").unwrap();
        assert_eq!(std::fs::read(&file).unwrap(), b"second");
        let link = dir.path().join("link.csv");
        std::os::unix::fs::symlink(&file, &link).unwrap();
        assert!(matches!(write(&link, b"third"), Err(CliError::Usage(text)) if text.contains("is a link")));
        assert!(matches!(write(dir.path(), b"third"), Err(CliError::Usage(text)) if text.contains("folder")));
        assert!(write(&dir.path().join("none/out.csv"), b"third").is_err());
        assert_eq!(std::fs::read(&file).unwrap(), b"second");
        assert_eq!(std::fs::read_dir(dir.path()).unwrap().count(), 2);
        write(Path::new("/dev/null"), b"gone").unwrap();
        assert!(!Path::new("/dev/null").is_file());
    }

    #[test]
    fn names_from_a_service_stay_inside_the_folder() {
        assert_eq!(name_of("spots/north-bar").unwrap().as_str(), "north-bar");
        for given in
            ["spots/../../etc/cron", "spots//etc/passwd", "spots/a/b", "..", "spots/.hidden", "spots/a\0b", "spots/"]
        {
            assert!(name_of(given).is_err(), "{given}");
        }
    }
}
