//! How much memory a piece of work holds at its peak.
//!
//! Only threads that say so are counted, so that other checks may run beside it.

use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;
use std::sync::Mutex;
use std::sync::atomic::{AtomicIsize, Ordering::Relaxed};

thread_local! {
    static COUNTED: Cell<bool> = const { Cell::new(false) };
}

static HELD: AtomicIsize = AtomicIsize::new(0);
static PEAK: AtomicIsize = AtomicIsize::new(0);
static ONE_AT_A_TIME: Mutex<()> = Mutex::new(());

struct Counting;

#[global_allocator]
static COUNTING: Counting = Counting;

fn count(bytes: isize) {
    // A thread that is ending has no flag any more and is not counted.
    if COUNTED.try_with(Cell::get).unwrap_or(false) {
        let held = HELD.fetch_add(bytes, Relaxed) + bytes;
        PEAK.fetch_max(held, Relaxed);
    }
}

// SAFETY: every call is handed to the system's allocator unchanged; counting touches atomics and a flag only.
#[allow(unsafe_code)]
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        count(layout.size().cast_signed());
        unsafe { System.alloc(layout) }
    }

    unsafe fn alloc_zeroed(&self, layout: Layout) -> *mut u8 {
        count(layout.size().cast_signed());
        unsafe { System.alloc_zeroed(layout) }
    }

    unsafe fn dealloc(&self, place: *mut u8, layout: Layout) {
        count(-layout.size().cast_signed());
        unsafe { System.dealloc(place, layout) }
    }

    unsafe fn realloc(&self, place: *mut u8, layout: Layout, size: usize) -> *mut u8 {
        // Both may be held while one is copied to the other.
        count(size.cast_signed());
        let new = unsafe { System.realloc(place, layout, size) };
        count(-layout.size().cast_signed());
        new
    }
}

/// Does `work` on threads of its own; gives what it gives and the peak of what was held above the start, bytes.
pub fn peak_of<T: Send>(work: impl FnOnce() -> T + Send) -> (T, usize) {
    let _alone = ONE_AT_A_TIME
        .lock()
        .unwrap_or_else(std::sync::PoisonError::into_inner);
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(2)
        .start_handler(|_| COUNTED.set(true))
        .build()
        .unwrap();
    HELD.store(0, Relaxed);
    PEAK.store(0, Relaxed);
    let result = pool.install(work);
    let peak = PEAK.load(Relaxed);
    (result, peak.max(0).cast_unsigned())
}

#[test]
fn counts_what_is_held_at_the_peak() {
    let (_, peak) = peak_of(|| {
        let first = vec![1_u8; 3_000_000];
        drop(first);
        vec![1_u8; 1_000_000]
    });
    assert!((2_900_000..3_100_000).contains(&peak), "{peak}");
    let (_, peak) = peak_of(|| rayon::join(|| vec![1_u8; 1_000_000], || vec![1_u8; 1_000_000]));
    assert!((1_900_000..2_100_000).contains(&peak), "{peak}");
}
