//! Ctrl-C calls long work off cleanly.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, OnceLock};

/// Set once Ctrl-C (or a request to end) has come. A second one ends the program at once.
pub fn flag() -> anyhow::Result<Arc<AtomicBool>> {
    static FLAG: OnceLock<Arc<AtomicBool>> = OnceLock::new();
    if let Some(flag) = FLAG.get() {
        return Ok(flag.clone());
    }
    let flag = Arc::new(AtomicBool::new(false));
    let seen = flag.clone();
    ctrlc::set_handler(move || {
        if seen.swap(true, Ordering::SeqCst) {
            std::process::exit(i32::from(crate::outcome::CALLED_OFF));
        }
    })?;
    Ok(FLAG.get_or_init(|| flag).clone())
}
