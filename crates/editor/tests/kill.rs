//! The program is killed while it is edited, saved and measured: every command older than half a second is back, and the
//! job file is never torn.
//!
//! `KILL_SEEDS=200 cargo test -p editor --test kill` runs the full number of seeds; without it there are few.

use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Command as Process, Stdio};
use std::sync::mpsc::channel;
use std::time::{Duration, Instant};

use editor::{Command, Editor, FaceChange, OpeningChange, PartChange, Settings};
use record::Quiet;

/// What is promised.
const SAFE_AFTER: Duration = Duration::from_millis(500);
/// Says to the child what it is.
const CHILD: &str = "UNMIRROR_KILL_CHILD";
const FEW: u64 = 6;
const ACTIONS: u64 = 400;

/// Splitmix64 (Steele, Lea and Flood 2014), so that child and parent draw alike.
struct Dice(u64);

impl Dice {
    fn next(&mut self, below: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        (z ^ (z >> 31)) % below
    }
}

fn main() {
    if let Ok(seed) = std::env::var(CHILD) {
        let job = std::env::args().next_back().unwrap();
        child(Path::new(&job), seed.parse().unwrap());
        return;
    }
    let seeds = std::env::var("KILL_SEEDS").map_or(FEW, |s| s.parse().unwrap());
    let folder = tempfile::tempdir().unwrap();
    let master = folder.path().join("master");
    demo::write_demo(&master, 20_000, 11, &Quiet).unwrap();
    let (mut back, mut lost_late, mut after_save) = (0, 0, 0);
    for seed in 0..seeds {
        let (commands, late, saved) = killed(&master, folder.path(), seed);
        back += commands;
        lost_late += late;
        after_save += usize::from(saved);
    }
    assert!(back > seeds as usize * 10, "too little was done: {back}");
    println!(
        "{seeds} kills: {back} commands older than {SAFE_AFTER:?} all back; {lost_late} younger ones lost; {after_save} after a save"
    );
}

fn settings() -> Settings {
    Settings {
        draws: 0,
        ..Settings::default()
    }
}

fn copy(from: &Path, to: &Path) -> PathBuf {
    std::fs::create_dir_all(to).unwrap();
    for file in std::fs::read_dir(from).unwrap() {
        let file = file.unwrap();
        std::fs::copy(file.path(), to.join(file.file_name())).unwrap();
    }
    to.join("coach.ron")
}

fn fingerprint(editor: &Editor) -> String {
    formats::job_hash(&editor.document().as_written()).unwrap()
}

/// One action, the same for the same dice and job. `disk`: saving is meant.
fn act(editor: &mut Editor, dice: &mut Dice, number: u64, disk: bool) -> bool {
    let job = editor.document().job().clone();
    let part = job.choices.parts[dice.next(job.choices.parts.len() as u64) as usize]
        .id
        .clone();
    let opening = &job.openings[dice.next(job.openings.len() as u64) as usize];
    let value = dice.next(60) as f64 / 10.0;
    let done = match dice.next(20) {
        0 | 1 => editor.undo().map(drop),
        2 => editor.redo().map(drop),
        3 => {
            if disk {
                editor.save().unwrap();
                return true;
            }
            Ok(())
        }
        4..=8 => editor.apply_live(&Command::part(part, PartChange::Wide(value))),
        9 | 10 => match opening.faces.first() {
            Some(f) => {
                let change = FaceChange::Reach(Some(10.0 + value));
                editor.apply(&Command::face(opening.id.clone(), f.id.clone(), change))
            }
            None => Ok(()),
        },
        11 => editor.apply(&Command::opening(
            opening.id.clone(),
            OpeningChange::Note(format!("note {number}")),
        )),
        12 => {
            editor.settle();
            Ok(())
        }
        _ => editor.apply(&Command::part(part, PartChange::Gap(value))),
    };
    // Nothing to take back, for example.
    let _ = done;
    false
}

/// Edits until it is killed; tells the number of every action done.
fn child(job: &Path, seed: u64) {
    let mut editor = Editor::open(job, settings()).unwrap();
    let mut dice = Dice(seed);
    let mut pause = Dice(seed ^ 0xABCD);
    for number in 0..ACTIONS {
        let saved = act(&mut editor, &mut dice, number, true);
        println!("{number}{}", if saved { " saved" } else { "" });
        for _ in editor.drain() {}
        std::thread::sleep(Duration::from_millis(pause.next(25)));
    }
    std::thread::sleep(Duration::from_mins(1));
}

/// Kills a child after a while and looks what is back: how many actions were old enough, how many younger ones were
/// lost, and whether it had saved.
fn killed(master: &Path, folder: &Path, seed: u64) -> (usize, usize, bool) {
    let job = copy(master, &folder.join(format!("killed-{seed}")));
    let mut child = Process::new(std::env::current_exe().unwrap())
        .arg(&job)
        .env(CHILD, seed.to_string())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let (to, from) = channel();
    let reader = std::thread::spawn(move || {
        for line in lines.map_while(Result::ok) {
            to.send((Instant::now(), line)).unwrap();
        }
    });
    let first = from.recv().unwrap();
    let live = Dice(seed ^ 0x1234).next(2_000) + 600;
    std::thread::sleep(Duration::from_millis(live));
    child.kill().unwrap();
    let end = Instant::now();
    child.wait().unwrap();
    reader.join().unwrap();
    let told: Vec<(Instant, String)> = std::iter::once(first).chain(from.try_iter()).collect();
    let old = told
        .iter()
        .filter(|(when, _)| *when + SAFE_AFTER <= end)
        .count();
    let saved = told.iter().any(|(_, line)| line.ends_with("saved"));

    // The job file reads whatever happened.
    formats::read_job(&job).unwrap();
    // What the job was after each action.
    let twin = copy(master, &folder.join(format!("twin-{seed}")));
    let mut editor = Editor::open(&twin, settings()).unwrap();
    let mut dice = Dice(seed);
    let mut states = vec![fingerprint(&editor)];
    for number in 0..(told.len() as u64 + 1).min(ACTIONS) {
        act(&mut editor, &mut dice, number, false);
        states.push(fingerprint(&editor));
    }
    editor.close_unsaved();

    let mut back = Editor::open(&job, settings()).unwrap();
    back.recover();
    let state = fingerprint(&back);
    let at = states.iter().rposition(|s| *s == state);
    let at = at.unwrap_or_else(|| panic!("seed {seed}: a job that never was came back"));
    assert!(
        at >= old || states[old..].contains(&state),
        "seed {seed}: {old} actions were old enough, {at} came back"
    );
    back.close_unsaved();
    (old, (told.len()).saturating_sub(at), saved)
}
