//! Pages for paper: written as a file and shown by the program this computer keeps for such files, which prints them.

use std::io;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use editor::HandedOver;
use record::{FieldPlan, Study};
use report::sheet::{Sheet, field_sheets, pdf_bytes, print_pages, printed_pair, true_size};
use report::{Pair, Theme, pair_sheet};

/// Shows a file.
pub type Viewer = Box<dyn Fn(&Path) -> io::Result<()>>;

/// Where pages for paper go, and what shows them.
pub struct Printing {
    folder: PathBuf,
    viewer: Viewer,
}

impl Printing {
    /// Pages go to `folder` and are shown by `viewer`.
    pub fn new(folder: PathBuf, viewer: Viewer) -> Self {
        Self { folder, viewer }
    }

    /// As on this computer: below the home folder's data, shown by what opens such files here.
    pub fn of_this_computer() -> Self {
        let folder = crate::preferences::data_folder().join("printed");
        Self::new(folder, Box::new(open))
    }

    /// Writes the pages of a pair and shows them; what came of it, in words.
    pub fn print(&self, pair: &Pair) -> String {
        self.show(
            &print_pages(pair),
            &pair.measured.id.0,
            pair.title(),
            "to print, at 100 %",
        )
    }

    /// Writes the field sheets of a job and shows them; what came of it, in words.
    pub fn print_sheets(&self, plans: &[FieldPlan], title: &str) -> String {
        let pages: Vec<Sheet> = plans.iter().flat_map(|p| field_sheets(p, title)).collect();
        if pages.is_empty() {
            return "nothing to print: nothing is compared yet".to_owned();
        }
        self.show(&pages, "field sheet", "field sheet", "to print")
    }

    fn show(&self, pages: &[Sheet], name: &str, title: &str, how: &str) -> String {
        let name: String = name
            .chars()
            .map(|c| if c.is_alphanumeric() { c } else { '-' })
            .collect();
        let file = self.folder.join(format!("{name}.pdf"));
        let written = std::fs::create_dir_all(&self.folder)
            .and_then(|()| std::fs::write(&file, pdf_bytes(pages, title)));
        if let Err(error) = written {
            return format!(
                "nothing to print: {} cannot be written: {error}",
                file.display()
            );
        }
        let count = match pages.len() {
            1 => "1 page".to_owned(),
            n => format!("{n} pages"),
        };
        match (self.viewer)(&file) {
            Ok(()) => format!("{count} {how}: {}", file.display()),
            Err(error) => format!(
                "{count} to print lie in {}; nothing here opens them: {error}",
                file.display()
            ),
        }
    }
}

/// Puts the picture of every pair and its pages for paper to what was handed over: what fits and why, and each side at
/// true size. `study` is what was handed over. How many there are, and what was not written, in words.
pub fn papers(done: &HandedOver, study: &Study) -> (usize, Vec<String>) {
    let (mut count, mut lost) = (0, Vec::new());
    let mut add = |name: String, bytes: &[u8]| match done.add(&name, bytes) {
        Ok(()) => count += 1,
        Err(why) => lost.push(format!("Not written: {name}: {why}")),
    };
    for pair in Pair::all(study) {
        let id = &pair.measured.id;
        let name = done.names.get(id).map_or(id.0.as_str(), String::as_str);
        let picture = pair_sheet(&pair).svg(Theme::Paper);
        add(format!("{id}.svg"), picture.as_bytes());
        let page = pdf_bytes(&[printed_pair(&pair)], name);
        add(format!("{name}.pdf"), &page);
        let drawings = study.drawings.iter().filter(|d| d.compare == *id);
        for drawing in drawings {
            if let Some(sheet) = true_size(&pair, drawing) {
                let stem = format!("{name}, {}, true size", report::words::side(drawing.side));
                add(format!("{stem}.pdf"), &pdf_bytes(&[sheet], &stem));
            }
        }
    }
    (count, lost)
}

/// Opens a file in the program this computer keeps for it.
fn open(file: &Path) -> io::Result<()> {
    let mut command = if cfg!(windows) {
        let mut command = Command::new("cmd");
        command.args(["/C", "start", ""]);
        command
    } else if cfg!(target_os = "macos") {
        Command::new("open")
    } else {
        Command::new("xdg-open")
    };
    let mut child = command
        .arg(file)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()?;
    // Waited for elsewhere, so that nothing is left of it when it ends.
    std::thread::spawn(move || child.wait());
    Ok(())
}
