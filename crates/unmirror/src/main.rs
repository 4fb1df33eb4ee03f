//! The program: flags, printing, exit codes; one file per subcommand. Nothing is computed here.
//!
//! Exit codes: 0 done; 1 done, but a `--fail-unless` did not hold; 2 could not; 130 called off with Ctrl-C.

mod cancel;
mod commands;
mod condition;
mod load;
mod outcome;
mod printer;
mod progress;

use std::process::ExitCode;

use clap::Parser;

use commands::Command;

/// Left and right openings of hand-built bodies compared: will a mirrored part fit?
///
/// Two loose scans of a left and a right opening give the angles of their junctions place by place, what differs, whether a mirrored part
/// fits, and curves for CAD. No centreline of the car is needed.
#[derive(Debug, Parser)]
#[command(name = "unmirror", version, max_term_width = 100, after_help = AFTER)]
struct Cli {
    #[command(subcommand)]
    command: Option<Command>,
}

const AFTER: &str = "\
First steps:
  unmirror                           the window
  unmirror demo                      a made-up coach: scans, job, answer, files, in ./demo-coach
  unmirror look left.ply right.ply   what is in two scan files, and in which unit
  unmirror new left.ply right.ply --out lamp.ron
                                     a job with the openings found; check it, change it
  unmirror compare lamp.ron --out lamp
                                     the answer, and the files for CAD and the machinist
  unmirror hand-over lamp.ron --out handed --for machinist client
                                     what each of them needs, and what has changed since

Exit codes: 0 done, 1 done but a --fail-unless did not hold, 2 could not, 130 called off.
Colours are left out where NO_COLOR is set or the output is not a terminal.
Measurement aid, not approval: local codes and licensed practice decide.";

fn main() -> ExitCode {
    let cli = Cli::parse();
    let Some(command) = cli.command else {
        return outcome::exit(commands::window());
    };
    outcome::exit(command.run())
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::*;

    #[test]
    fn the_flags_are_well_formed() {
        Cli::command().debug_assert();
    }

    #[test]
    fn the_help_without_arguments_is_one_screen() {
        let help = Cli::command().render_help().to_string();
        assert!(help.lines().count() <= 40, "{help}");
        for line in help.lines() {
            assert!(line.chars().count() <= 100, "{line}");
        }
    }
}
