//! Reads scans, point tables and job files; writes job files, curves and tables.
//!
//! Everything that knows bytes lives here; nothing here prints, draws or measures.

mod atomic_save;
mod dxf_text;
mod error;
mod hand_number;
mod handed_over;
mod job_file;
mod journal;
mod kept_figures;
mod kept_scan;
mod outputs;
mod page_checksum;
mod points_layout;
mod read_decimal;
mod read_dxf;
mod read_e57;
mod read_e57_columns;
mod read_hand;
mod read_lines;
mod read_number;
mod read_obj;
mod read_off;
mod read_pcd;
mod read_pcd_compressed;
mod read_places;
mod read_ply;
mod read_ply_binary;
mod read_ply_header;
mod read_ply_text;
mod read_points;
mod read_scan;
mod read_source;
mod read_step;
mod read_stl_binary;
mod read_stl_text;
mod refused;
#[cfg(test)]
mod sample;
mod section_profiles;
mod side_word;
mod step_text;
mod study_json;
mod typed_join;
mod typed_table;
mod unit_guess;
mod unit_words;
mod write_body_work;
mod write_dxf;
mod write_positions;
mod write_scan;
mod write_section_dxf;
mod write_section_step;
mod write_sections;
mod write_step;
mod write_tables;

pub use atomic_save::{atomic_save, atomic_write};
pub use error::Error;
pub use handed_over::{HandOver, HandOverLog, HandedFile, read_hand_overs, write_hand_overs};
pub use job_file::{
    Problem, check_job, job_from_str, job_hash, job_to_string, job_to_string_with_tables, read_job,
    read_job_with_places, starter_job_to_string, write_job, write_starter_job,
};
pub use journal::{JournalEntry, JournalKind, JournalWriter, journal_path, read_journal};
pub use kept_figures::{
    KeptFigures, Key, are_kept_figures, keep_figures, kept_figures_path, read_kept_figures,
};
pub use kept_scan::{file_hash, keep_scan, kept_folder, kept_scan_path, read_kept_scan};
pub use outputs::{
    OutputFile, OutputKind, OutputOptions, Outputs, WrittenFile, file_name, output_names, outputs,
    write_outputs,
};
pub use read_dxf::{DxfShapes, read_dxf};
pub use read_hand::{
    blank_hand_table, hand_from_str, hand_value, hand_words, hand_written, is_hand_table, read_hand,
};
pub use read_places::{place_from_words, places_from_str, read_places};
pub use read_scan::{Geometry, StlCorners, read_geometry, read_scan};
pub use read_step::{StepCurve, StepProduct, read_step};
pub use refused::Refused;
pub use study_json::{STUDY_SCHEMA, joins_json, study_json};
pub use typed_join::{start_from_words, taped_from_words};
pub use unit_guess::{UnitCandidate, UnitGuess, guess_unit};
pub use write_body_work::{body_work_json, body_work_tables, cars_json, cars_table};
pub use write_dxf::dxf_bytes;
pub use write_positions::{position_tables, positions_json};
pub use write_scan::{Written, make_folder, write_ply, write_stl, write_xyz};
pub use write_section_dxf::section_dxf_bytes;
pub use write_section_step::section_step_text;
pub use write_sections::{SectionTable, gap_and_hinge_tables, section_tables, sections_json};
pub use write_step::step_text;
pub use write_tables::{Table, tables};

use side_word::side_word;
