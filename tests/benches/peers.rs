//! The work that general-purpose libraries are measured by, done by this program, through a step protocol.
//!
//! `cargo bench -p it --bench peers -- TASK THREADS DATADIR`, or the binary itself with the same three arguments.
//! Lines on standard input: `go` works from the plain inputs to the complete result, `save DIR` writes the last result
//! as raw little-endian files, `reset` frees it. Answers: `ready` at the start, then `done`, or `error REASON`.
//! Without arguments it lists the tasks. Everything measured is in `geom` and `formats`; nothing is kept between runs.

#[path = "peers/arrays.rs"]
mod arrays;
#[path = "peers/clouds.rs"]
mod clouds;
#[path = "peers/files.rs"]
mod files;
#[path = "peers/fits.rs"]
mod fits;
#[path = "peers/meshes.rs"]
mod meshes;

use std::io::{BufRead, Write};
use std::path::{Path, PathBuf};

use arrays::Array;

/// One run of a task: from the plain inputs to named result files.
type Run = Box<dyn FnMut() -> Result<Vec<(&'static str, Array)>, String>>;
/// Loads the inputs of a task; `None` if it has no such task.
type Make = fn(task: &str, data: &Path) -> Option<Result<Run, String>>;

const MAKERS: &[Make] = &[clouds::make, files::make, fits::make, meshes::make];

fn main() {
    let args: Vec<String> = std::env::args()
        .skip(1)
        .filter(|a| a != "--bench")
        .collect();
    let [task, threads, data] = args.as_slice() else {
        println!(
            "TASK THREADS DATADIR; whole_ before a read task reads as the program does, hash and all; tasks:"
        );
        let files = files::TASKS.iter().map(|t| t.0);
        let others = [clouds::TASKS, fits::TASKS, meshes::TASKS].concat();
        for task in files.chain(others) {
            println!("  {task}");
        }
        return;
    };
    if let Err(e) = serve(task, threads, Path::new(data)) {
        println!("error {}", e.replace('\n', " "));
    }
}

fn serve(task: &str, threads: &str, data: &Path) -> Result<(), String> {
    let threads: usize = threads
        .parse()
        .map_err(|_| format!("expected a number of threads, found \"{threads}\""))?;
    rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .use_current_thread()
        .build_global()
        .map_err(|e| e.to_string())?;
    let mut run = MAKERS
        .iter()
        .find_map(|make| make(task, data))
        .ok_or_else(|| format!("no task \"{task}\""))??;
    let mut result = Vec::new();
    let mut out = std::io::stdout();
    let mut say = move |line: &str| {
        writeln!(out, "{line}")
            .and_then(|()| out.flush())
            .map_err(|e| e.to_string())
    };
    say("ready")?;
    for line in std::io::stdin().lock().lines() {
        let line = line.map_err(|e| e.to_string())?;
        match line.trim().split_once(' ').unwrap_or((line.trim(), "")) {
            ("go", _) => result = run()?,
            ("save", folder) => {
                for (name, array) in &result {
                    array.save(&PathBuf::from(folder), name)?;
                }
            }
            ("reset", _) => result = Vec::new(),
            (other, _) => return Err(format!("expected go, save or reset, found \"{other}\"")),
        }
        say("done")?;
    }
    Ok(())
}
