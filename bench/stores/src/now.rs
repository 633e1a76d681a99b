//! Asynchronous stores on a flash that never makes anyone wait.

use core::future::Future;
use core::pin::pin;
use core::task::{Context, Poll, Waker};

/// Runs a future that is never pending for long.
pub(crate) fn now<T>(future: impl Future<Output = T>) -> T {
    let mut future = pin!(future);
    let mut context = Context::from_waker(Waker::noop());
    loop {
        if let Poll::Ready(value) = future.as_mut().poll(&mut context) {
            return value;
        }
    }
}
