//! What a person prefers, kept between runs: theme, size of type, recent jobs. Never a part of a job.

use std::path::{Path, PathBuf};

/// Preferences.
#[derive(Clone, Debug, PartialEq)]
pub struct Preferences {
    /// The dark sheet.
    pub slate: bool,
    /// Size of type and everything, 1 to 1.5.
    pub scale: f32,
    recent: Vec<PathBuf>,
    file: Option<PathBuf>,
}

impl Default for Preferences {
    fn default() -> Self {
        Self {
            slate: false,
            scale: 1.0,
            recent: Vec::new(),
            file: None,
        }
    }
}

/// Sizes of type that can be chosen.
const SCALES: [f32; 5] = [1.0, 1.1, 1.25, 1.4, 1.5];
/// How many jobs are remembered.
const RECENT: usize = 8;

impl Preferences {
    /// Reads the preferences of this computer; what is missing or cannot be read is as it was delivered.
    pub fn load() -> Self {
        let file = data_folder().join("preferences.txt");
        let mut found =
            std::fs::read_to_string(&file).map_or_else(|_| Self::default(), |t| Self::read(&t));
        found.recent.retain(|p| p.exists());
        found.file = Some(file);
        found
    }

    fn read(text: &str) -> Self {
        let mut found = Self::default();
        for line in text.lines() {
            match line.split_once(' ') {
                Some(("theme", "slate")) => found.slate = true,
                Some(("scale", value)) => {
                    if let Some(s) = value.parse().ok().filter(|s| SCALES.contains(s)) {
                        found.scale = s;
                    }
                }
                Some(("recent", path)) => found.recent.push(PathBuf::from(path)),
                _ => {}
            }
        }
        found
    }

    fn written(&self) -> String {
        let theme = if self.slate { "slate" } else { "paper" };
        let mut text = format!("theme {theme}\nscale {}\n", self.scale);
        for path in &self.recent {
            text.push_str(&format!("recent {}\n", path.display()));
        }
        text
    }

    /// Kept for the next run. A disk that refuses costs a preference, no work: nothing is said.
    fn keep(&self) {
        let Some(file) = &self.file else { return };
        let Some(folder) = file.parent() else { return };
        let fresh = file.with_extension("new");
        let _ = std::fs::create_dir_all(folder)
            .and_then(|()| std::fs::write(&fresh, self.written()))
            .and_then(|()| std::fs::rename(&fresh, file));
    }

    /// The theme as egui knows it.
    pub fn theme(&self) -> egui::Theme {
        if self.slate {
            egui::Theme::Dark
        } else {
            egui::Theme::Light
        }
    }

    /// Paper becomes slate, slate paper.
    pub fn other_theme(&mut self) {
        self.slate = !self.slate;
        self.keep();
    }

    /// The next larger or smaller type.
    pub fn resize(&mut self, larger: bool) {
        let now = SCALES.iter().position(|s| *s == self.scale).unwrap_or(0);
        let next = if larger {
            (now + 1).min(SCALES.len() - 1)
        } else {
            now.saturating_sub(1)
        };
        self.scale = SCALES[next];
        self.keep();
    }

    /// Jobs opened before, the last first.
    pub fn recent(&self) -> &[PathBuf] {
        &self.recent
    }

    /// Remembers a job.
    pub fn opened(&mut self, path: &Path) {
        let path = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
        self.recent.retain(|p| *p != path);
        self.recent.insert(0, path);
        self.recent.truncate(RECENT);
        self.keep();
    }
}

/// Where this computer keeps data of a program for one person. The only place that knows platforms.
pub fn data_folder() -> PathBuf {
    let named = |name: &str| {
        std::env::var_os(name)
            .filter(|v| !v.is_empty())
            .map(PathBuf::from)
    };
    let home = || std::env::home_dir().unwrap_or_else(std::env::temp_dir);
    let base = if cfg!(windows) {
        named("APPDATA").unwrap_or_else(home)
    } else if cfg!(target_os = "macos") {
        home().join("Library").join("Application Support")
    } else {
        named("XDG_DATA_HOME").unwrap_or_else(|| home().join(".local").join("share"))
    };
    base.join("unmirror")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_kept_is_read_back() {
        let mut kept = Preferences::default();
        kept.other_theme();
        kept.resize(true);
        kept.recent = vec![PathBuf::from("/a job/coach.ron"), PathBuf::from("/b.ron")];
        assert_eq!(Preferences::read(&kept.written()), kept);
        assert_eq!(
            Preferences::read("theme\nscale 7\nnonsense"),
            Preferences::default()
        );
    }
}
