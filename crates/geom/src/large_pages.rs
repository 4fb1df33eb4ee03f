//! Room for long lists in large pages of memory.
//!
//! A list of a hundred million bytes takes 25,000 pages of 4 KiB, and the first touch of each is a trap into the system:
//! reading a large scan spends half of its time there. Pages of 2 MiB are 512 times fewer. Linux gives them to whoever asks
//! (`madvise`, see madvise(2), `MADV_HUGEPAGE`); elsewhere the lists are plain ones. It is advice only: contents, length and
//! capacity are those of a plain `Vec` whatever the system makes of it.

/// Bytes of a large page on every system this program runs on; other sizes only make the advice useless.
const PAGE: usize = 2 << 20;

/// An empty list with room for `count`, in large pages if it is long.
pub fn room_for<T>(count: usize) -> Vec<T> {
    let list = Vec::with_capacity(count);
    ask(&list);
    list
}

/// `count` times `value`, in large pages if it is long. Zeros are not written before they are changed.
pub fn list_of<T: Clone>(value: T, count: usize) -> Vec<T> {
    let zeros = vec![value; count];
    ask(&zeros);
    zeros
}

/// The whole large pages inside the memory of a list: start and bytes.
fn whole_pages<T>(list: &Vec<T>) -> Option<(usize, usize)> {
    let start = list.as_ptr().addr();
    let end = start + list.capacity() * size_of::<T>();
    let first = start.next_multiple_of(PAGE);
    (first + PAGE <= end).then(|| (first - start, (end - first) / PAGE * PAGE))
}

#[cfg(target_os = "linux")]
fn ask<T>(list: &Vec<T>) {
    let Some((skip, bytes)) = whole_pages(list) else {
        return;
    };
    let first = list.as_ptr().cast::<u8>().wrapping_add(skip);
    // SAFETY: the range lies within one block that `list` owns, starts and ends on a page, and MADV_HUGEPAGE changes
    // neither its contents nor who may use it; a refusal has no effect, so the answer does not matter.
    #[allow(
        unsafe_code,
        reason = "no safe call asks for large pages of memory that a Vec owns; tested below"
    )]
    unsafe {
        libc::madvise(first.cast_mut().cast(), bytes, libc::MADV_HUGEPAGE);
    }
}

#[cfg(not(target_os = "linux"))]
fn ask<T>(_: &Vec<T>) {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_whole_pages_inside_the_list_are_asked_for() {
        for count in [0, 1, 1000, PAGE - 1, PAGE, 3 * PAGE + 5, 40_000_001] {
            let list: Vec<u8> = Vec::with_capacity(count);
            let Some((skip, bytes)) = whole_pages(&list) else {
                assert!(count < 2 * PAGE);
                continue;
            };
            assert_eq!((list.as_ptr().addr() + skip) % PAGE, 0);
            assert_eq!(bytes % PAGE, 0);
            assert!(bytes > 0 && skip + bytes <= list.capacity());
        }
    }

    #[test]
    fn lists_hold_what_is_put_in() {
        let mut zeros = list_of([0.0_f32; 3], 1_000_003);
        assert!(zeros.iter().flatten().all(|v| *v == 0.0));
        zeros[1_000_002] = [1.0, 2.0, 3.0];
        let mut list: Vec<[f32; 3]> = room_for(10);
        list.extend_from_slice(&zeros);
        assert_eq!(list.len(), 1_000_003);
        assert_eq!(list[1_000_002], [1.0, 2.0, 3.0]);
        let mut long = room_for::<u64>(3_000_000);
        long.extend(0..3_000_000);
        long.extend(0..3_000_000);
        assert!(
            long.iter()
                .enumerate()
                .all(|(i, v)| *v == i as u64 % 3_000_000)
        );
        assert_eq!(list_of("a".to_owned(), 2), ["a", "a"]);
    }
}
