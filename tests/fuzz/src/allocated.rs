//! How much memory is held at the peak, counted over all threads.

use std::alloc::{GlobalAlloc, Layout, System};
use std::sync::atomic::{AtomicIsize, Ordering::Relaxed};

static HELD: AtomicIsize = AtomicIsize::new(0);
static PEAK: AtomicIsize = AtomicIsize::new(0);
/// Nothing that is read here may ask for this much at once: it is stopped before the machine is.
const TOO_MUCH: usize = 1 << 30;

struct Counting;

#[global_allocator]
static COUNTING: Counting = Counting;

fn count(bytes: isize) {
    let held = HELD.fetch_add(bytes, Relaxed) + bytes;
    if held > PEAK.load(Relaxed) {
        PEAK.fetch_max(held, Relaxed);
    }
}

fn ask(size: usize) {
    if size > TOO_MUCH {
        std::process::abort();
    }
    count(size.cast_signed());
}

// SAFETY: every call is handed to the system's allocator unchanged; counting touches atomics only.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        ask(layout.size());
        unsafe { System.alloc(layout) }
    }

    unsafe fn alloc_zeroed(&self, layout: Layout) -> *mut u8 {
        ask(layout.size());
        unsafe { System.alloc_zeroed(layout) }
    }

    unsafe fn dealloc(&self, place: *mut u8, layout: Layout) {
        count(-layout.size().cast_signed());
        unsafe { System.dealloc(place, layout) }
    }

    unsafe fn realloc(&self, place: *mut u8, layout: Layout, size: usize) -> *mut u8 {
        // Both may be held while one is copied to the other.
        ask(size);
        let new = unsafe { System.realloc(place, layout, size) };
        count(-layout.size().cast_signed());
        new
    }
}

/// What `work` gives, and the peak of what was held above the start, bytes.
pub fn peak_of<T>(work: impl FnOnce() -> T) -> (T, usize) {
    let before = HELD.load(Relaxed);
    PEAK.store(before, Relaxed);
    let result = work();
    (result, (PEAK.load(Relaxed) - before).max(0).cast_unsigned())
}
