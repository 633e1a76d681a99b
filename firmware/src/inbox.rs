//! Bytes on their way from a receiver's interrupt to the loop, each with the time at which it came.
//!
//! One side puts (the interrupt), one side takes (the loop), and neither ever waits for the other: each count is written by one
//! side only. What finds no room is lost, and so is what the receiver itself loses; then a byte stands in its place that no
//! text has. Without it the beginning of one sentence and the end of the next could stand together, pass the check sum, and
//! say a time that the `$` did not come at.
//!
//! `heapless` has such a queue, but its two ends have to be handed out once and kept somewhere, which for an interrupt means
//! unsafe code or a lock.

use core::sync::atomic::{AtomicBool, AtomicU32, Ordering};

/// Stands where bytes were lost: noise to [`crate::sentence`], and a frame with it fails its check.
pub const NOISE: u8 = 0xFF;

/// Room for `N` bytes, a power of two.
pub struct Inbox<const N: usize> {
    /// A byte in the lowest eight bits, milliseconds above.
    slots: [AtomicU32; N],
    /// How many were ever put, and how many were ever taken, both coming round.
    put: AtomicU32,
    taken: AtomicU32,
    /// Bytes were lost behind the last that was put.
    lost: AtomicBool,
}

impl<const N: usize> Default for Inbox<N> {
    fn default() -> Self {
        Self::new()
    }
}

impl<const N: usize> Inbox<N> {
    /// Nothing has come yet.
    #[must_use]
    pub const fn new() -> Self {
        const { assert!(N.is_power_of_two() && N <= 1 << 16, "counts come round at a whole number of rounds") }
        Self {
            slots: [const { AtomicU32::new(0) }; N],
            put: AtomicU32::new(0),
            taken: AtomicU32::new(0),
            lost: AtomicBool::new(false),
        }
    }

    /// Puts a byte that came at `now_ms`. For the receiving side alone.
    pub fn put(&self, byte: u8, now_ms: u64) {
        if self.lost.load(Ordering::Relaxed) && self.keep(NOISE, now_ms) {
            self.lost.store(false, Ordering::Relaxed);
        }
        if self.lost.load(Ordering::Relaxed) || !self.keep(byte, now_ms) {
            self.lost.store(true, Ordering::Relaxed);
        }
    }

    /// Notes that bytes were lost behind the last. For the receiving side alone.
    pub fn lose(&self) {
        self.lost.store(true, Ordering::Relaxed);
    }

    fn keep(&self, byte: u8, now_ms: u64) -> bool {
        let put = self.put.load(Ordering::Relaxed);
        let used = put.wrapping_sub(self.taken.load(Ordering::Acquire));
        match self.slots.get(put as usize % N) {
            Some(slot) if (used as usize) < N => {
                slot.store((now_ms as u32) << 8 | u32::from(byte), Ordering::Relaxed);
                self.put.store(put.wrapping_add(1), Ordering::Release);
                true
            }
            _ => false,
        }
    }

    /// So many wait.
    #[must_use]
    pub fn waiting(&self) -> usize {
        self.put.load(Ordering::Acquire).wrapping_sub(self.taken.load(Ordering::Relaxed)) as usize
    }

    /// Takes the next byte and when it came; `now_ms` is no more than two hours from that. For the loop alone.
    pub fn take(&self, now_ms: u64) -> Option<(u8, u64)> {
        let taken = self.taken.load(Ordering::Relaxed);
        if taken == self.put.load(Ordering::Acquire) {
            return None;
        }
        let slot = self.slots.get(taken as usize % N)?.load(Ordering::Relaxed);
        self.taken.store(taken.wrapping_add(1), Ordering::Release);
        // Signed: the byte may have come after the loop looked at the clock.
        let age_ms = ((now_ms as u32) << 8).wrapping_sub(slot & !0xFF) as i32 >> 8;
        Some(((slot & 0xFF) as u8, now_ms.saturating_add_signed(-i64::from(age_ms))))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::collections::VecDeque;
    use std::vec::Vec;

    #[derive(Clone, Copy, Debug)]
    enum Step {
        Put(u8),
        Lose,
        Take,
        Pass(u16),
    }

    fn steps() -> impl Strategy<Value = Vec<Step>> {
        let step = prop_oneof![
            4 => any::<u8>().prop_map(Step::Put),
            1 => Just(Step::Lose),
            4 => Just(Step::Take),
            1 => any::<u16>().prop_map(Step::Pass),
        ];
        prop::collection::vec(step, 0..200)
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2_000))]

        /// Against a plain queue of everything that came, `None` where something was lost: bytes come out in their order with the
        /// time at which they came, and wherever some are missing there is noise.
        #[test]
        fn in_order_with_their_time_and_noise_where_some_are_missing(
            steps in steps(), begin_ms in any::<u32>(), count in any::<u32>(),
        ) {
            let inbox = Inbox::<4>::new();
            inbox.put.store(count, Ordering::Relaxed);
            inbox.taken.store(count, Ordering::Relaxed);
            let mut now_ms = u64::from(begin_ms);
            let mut model: VecDeque<(u8, u64)> = VecDeque::new();
            let mut gap = false;
            for step in steps {
                match step {
                    Step::Put(byte) => {
                        inbox.put(byte, now_ms);
                        if gap && model.len() < 4 {
                            model.push_back((NOISE, now_ms));
                            gap = false;
                        }
                        if !gap && model.len() < 4 {
                            model.push_back((byte, now_ms));
                        } else {
                            gap = true;
                        }
                    }
                    Step::Lose => {
                        inbox.lose();
                        gap = true;
                    }
                    Step::Take => prop_assert_eq!(inbox.take(now_ms), model.pop_front()),
                    Step::Pass(ms) => now_ms += u64::from(ms),
                }
                prop_assert_eq!(inbox.waiting(), model.len());
            }
        }
    }

    /// A byte that comes between the loop's look at the clock and its taking is not thought to be hours old.
    #[test]
    fn a_byte_may_be_younger_than_the_look_at_the_clock() {
        let inbox = Inbox::<4>::new();
        inbox.put(b'$', 1 << 24);
        assert_eq!(inbox.take((1 << 24) - 1), Some((b'$', 1 << 24)));
    }

    /// Two threads, one putting and one taking: nothing is torn, doubled or out of order.
    #[test]
    fn two_at_once() {
        let inbox = Inbox::<16>::new();
        std::thread::scope(|threads| {
            threads.spawn(|| {
                for n in 0..200_000u64 {
                    while inbox.waiting() == 16 {
                        std::thread::yield_now();
                    }
                    inbox.put(n as u8, n);
                }
            });
            for n in 0..200_000u64 {
                let got = loop {
                    match inbox.take(n) {
                        Some(got) => break got,
                        None => std::thread::yield_now(),
                    }
                };
                assert_eq!(got, (n as u8, n));
            }
        });
    }
}
