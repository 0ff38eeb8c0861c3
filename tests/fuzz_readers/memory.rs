//! Counts what the running thread holds, so that a case can be asked how much
//! it took at the most. What C libraries allocate is not seen.

use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;

pub struct Counting;

thread_local! {
    static HELD: Cell<isize> = const { Cell::new(0) };
    static MOST: Cell<isize> = const { Cell::new(0) };
}

fn count(bytes: isize) {
    // A thread that ends has no cells any more.
    let _ = HELD.try_with(|held| {
        held.set(held.get() + bytes);
        let _ = MOST.try_with(|most| most.set(most.get().max(held.get())));
    });
}

// SAFETY: every call goes to the system's allocator as it came; the counting
// beside it touches two cells of the thread and allocates nothing.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        count(layout.size() as isize);
        unsafe { System.alloc(layout) }
    }

    unsafe fn alloc_zeroed(&self, layout: Layout) -> *mut u8 {
        count(layout.size() as isize);
        unsafe { System.alloc_zeroed(layout) }
    }

    unsafe fn dealloc(&self, pointer: *mut u8, layout: Layout) {
        count(-(layout.size() as isize));
        unsafe { System.dealloc(pointer, layout) }
    }

    unsafe fn realloc(&self, pointer: *mut u8, layout: Layout, size: usize) -> *mut u8 {
        count(size as isize - layout.size() as isize);
        unsafe { System.realloc(pointer, layout, size) }
    }
}

/// Starts to measure; what the thread holds by now counts as nothing.
pub fn begin() {
    HELD.set(0);
    MOST.set(0);
}

/// The most bytes held at once since then.
pub fn most() -> usize {
    usize::try_from(MOST.get()).unwrap_or(0)
}
