//! Checks of the whole program and of the repository's own rules.

mod bad_files;
mod counting_allocator;
mod coverage;
mod demo_truth;
mod kept_jobs;
mod read_ply;
mod read_points;
mod read_stl;
mod reference_data;
mod reference_least_squares;
mod scan_bytes;
mod tidy;
//! Checks of the whole program.

mod fit_cases;
