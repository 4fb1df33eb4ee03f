//! formats

mod read_dxf;
mod refused;
#[cfg(test)]
mod sample;
mod side_word;
mod write_dxf;

pub use read_dxf::{DxfShapes, read_dxf};
pub use refused::Refused;
pub use write_dxf::dxf_bytes;

use side_word::side_word;
