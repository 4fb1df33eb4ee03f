//! Files and folders for a path that is being typed.

use std::path::{Path, PathBuf};

/// A file or folder that a typed path may mean.
pub struct Entry {
    /// Its path.
    pub path: PathBuf,
    /// Whether it is a folder.
    pub is_folder: bool,
}

impl Entry {
    /// Its name, folders with a stroke behind.
    pub fn shown(&self) -> String {
        let name = self
            .path
            .file_name()
            .unwrap_or(self.path.as_os_str())
            .to_string_lossy();
        if self.is_folder {
            format!("{name}{}", std::path::MAIN_SEPARATOR)
        } else {
            name.into_owned()
        }
    }
}

/// What the program reads: jobs first, then scans and tables.
const READ: [&str; 12] = [
    "ron", "stl", "ply", "obj", "off", "pcd", "e57", "xyz", "csv", "txt", "asc", "pts",
];

/// Which files are offered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Files {
    /// All that can be read.
    Read,
    /// Jobs.
    Jobs,
}

/// Folders and files whose path begins as `typed` does, at most forty; of the home folder where nothing is typed.
/// A folder that cannot be read counts as empty.
pub fn beginning_with(typed: &str, files: Files) -> Vec<Entry> {
    let typed = typed.trim();
    let home = || std::env::home_dir().unwrap_or_else(|| PathBuf::from("."));
    let (folder, start) = if typed.is_empty() {
        (home(), String::new())
    } else if typed.ends_with(['/', std::path::MAIN_SEPARATOR]) {
        (PathBuf::from(typed), String::new())
    } else {
        let path = Path::new(typed);
        let folder = path
            .parent()
            .filter(|p| !p.as_os_str().is_empty())
            .map_or_else(|| PathBuf::from("."), Path::to_owned);
        let start = path
            .file_name()
            .map(|n| n.to_string_lossy().to_lowercase())
            .unwrap_or_default();
        (folder, start)
    };
    let Ok(read) = std::fs::read_dir(&folder) else {
        return Vec::new();
    };
    let mut found: Vec<Entry> = read
        .flatten()
        .filter_map(|e| {
            let path = e.path();
            let name = e.file_name().to_string_lossy().to_lowercase();
            let is_folder = path.is_dir();
            let kinds = match files {
                Files::Read => &READ[..],
                Files::Jobs => &READ[..1],
            };
            let known = path
                .extension()
                .is_some_and(|x| kinds.iter().any(|r| x.eq_ignore_ascii_case(r)));
            let fits = name.starts_with(&start) && !name.starts_with('.') && (is_folder || known);
            fits.then_some(Entry { path, is_folder })
        })
        .collect();
    found.sort_by(|a, b| {
        b.is_folder
            .cmp(&a.is_folder)
            .then_with(|| a.path.cmp(&b.path))
    });
    found.truncate(40);
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn folders_come_first_and_only_what_is_read_is_offered() {
        let folder = tempfile::tempdir().unwrap();
        for name in [
            "nose_left.ply",
            "nose_right.stl",
            "nose.RON",
            "notes.doc",
            ".hidden.stl",
        ] {
            std::fs::write(folder.path().join(name), "x").unwrap();
        }
        std::fs::create_dir(folder.path().join("nose")).unwrap();
        let typed = folder.path().join("no").display().to_string();
        let names = |files| -> Vec<String> {
            let found = beginning_with(&typed, files);
            found.iter().map(Entry::shown).collect()
        };
        let sep = std::path::MAIN_SEPARATOR;
        assert_eq!(
            names(Files::Read),
            [
                format!("nose{sep}"),
                "nose.RON".to_owned(),
                "nose_left.ply".to_owned(),
                "nose_right.stl".to_owned()
            ]
        );
        assert_eq!(
            names(Files::Jobs),
            [format!("nose{sep}"), "nose.RON".to_owned()]
        );
        assert!(beginning_with("/no such folder at all/x", Files::Read).is_empty());
    }
}
