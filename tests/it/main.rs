//! Checks of the whole program.

mod alike_or_not;
mod bad_files;
mod cad_outputs;
mod counting_allocator;
mod coverage;
mod coverage_openings;
mod demo_truth;
mod fit_cases;
mod fit_power;
mod invariance;
mod kept_jobs;
mod prepare_look;
mod propose;
mod read_ply;
mod read_points;
mod read_stl;
mod reference_data;
mod reference_fits;
mod reference_least_squares;
mod scan_bytes;
mod stops;
mod tidy;
