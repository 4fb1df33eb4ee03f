//! `demo`: a made-up coach, scanned and compared.

use std::path::PathBuf;

use super::compare;
use crate::outcome::Outcome;
use crate::printer;
use crate::progress::Bar;

/// Arguments of `demo`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Folder to write scans, job and answer to
    #[arg(default_value = "demo-coach")]
    dir: PathBuf,
    /// Points in all scans together: 200k, 2M, 10M or a number
    #[arg(long, value_name = "N", default_value = "200k", value_parser = count)]
    points: usize,
    /// Seed of the made-up noise; the same seed gives the same scans
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// One scan of the whole front with named places of the body: for positions on the car
    #[arg(long)]
    places: bool,
    /// Two visits with body work between them, and a second coach of the same pattern
    #[arg(long, conflicts_with = "places")]
    two_coaches: bool,
    /// Open the window on it instead of printing the answer
    #[arg(long)]
    window: bool,
}

impl Args {
    /// Writes two visits to one coach and one to another, and says what to do with them.
    fn two(&self, bar: &Bar) -> anyhow::Result<Outcome> {
        let (coach, second) = (
            demo::Coach::new(self.seed),
            demo::Coach::second(self.seed.wrapping_add(1)),
        );
        let work = demo::Work::DRESSED;
        let files = coach.write_two_coaches(&second, work, &self.dir, self.points, bar)?;
        if self.window {
            return super::window_on(files.first);
        }
        let (first, second) = (files.first.display(), files.second.display());
        printer::plain(&format!(
            "Written: {first} (two visits to one coach, the lamp opening dressed between them) and {second} (another coach).\n\
             What was dressed:           unmirror body-work \"{first}\"\n\
             Parts of one on the other:  unmirror cars \"{first}\" \"{second}\"\n"
        ))?;
        Ok(Outcome::Done)
    }

    /// Writes the scans and the job, compares, prints and writes the files.
    ///
    /// # Errors
    /// If something cannot be written, or it was called off.
    pub fn run(self) -> anyhow::Result<Outcome> {
        let bar = Bar::new()?;
        if self.places {
            let coach = demo::Coach::new(self.seed);
            let job = coach.write_with_places(&self.dir, self.points, self.seed, &bar)?;
            drop(bar);
            if self.window {
                return super::window_on(job);
            }
            let study = compare::study_of(&formats::read_job(&job)?, &self.dir, 0)?;
            if let Some(text) = report::positions_text(&study, printer::look()) {
                printer::plain(&text)?;
            }
            let job = job.display();
            printer::aside(&format!(
                "Written to {job}. Again: unmirror positions {job}"
            ));
            return Ok(Outcome::Done);
        }
        if self.two_coaches {
            return self.two(&bar);
        }
        let files = demo::write_demo(&self.dir, self.points, self.seed, &bar)?;
        drop(bar);
        if self.window {
            return super::window_on(files.job_path);
        }
        let study = compare::study_of(&files.job, &self.dir, compare::DRAWS)?;
        compare::write(&study, &self.dir.join("answer"))?;
        printer::plain(&report::terminal_text(&study, printer::look()))?;
        printer::aside(&format!(
            "Written to {}. Again: unmirror compare {}",
            self.dir.display(),
            files.job_path.display()
        ));
        Ok(Outcome::Done)
    }
}

/// Reads `200k`, `2M`, `150000`.
fn count(text: &str) -> Result<usize, String> {
    let (digits, factor) = match text.as_bytes().last() {
        Some(b'k' | b'K') => (&text[..text.len() - 1], 1_000.0),
        Some(b'm' | b'M') => (&text[..text.len() - 1], 1_000_000.0),
        _ => (text, 1.0),
    };
    let number: f64 = digits
        .parse()
        .map_err(|_| format!("\"{text}\" is no number of points; write 200k, 2M or 10M"))?;
    let points = number * factor;
    if (10_000.0..=100_000_000.0).contains(&points) {
        Ok(points.round() as usize)
    } else {
        Err(format!(
            "\"{text}\": between 10k and 100M points can be made"
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_of_points() {
        assert_eq!(count("200k"), Ok(200_000));
        assert_eq!(count("2M"), Ok(2_000_000));
        assert_eq!(count("1.5M"), Ok(1_500_000));
        assert_eq!(count("150000"), Ok(150_000));
        assert!(count("many").unwrap_err().contains("200k, 2M or 10M"));
        assert!(count("5").is_err());
        assert!(count("NaN").is_err());
        assert!(count("").is_err());
    }
}
