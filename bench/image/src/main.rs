//! One store on an nRF51822: mounted, given changes for ever, its totals looked at. Its size less that of the image without a
//! store is what the store costs in flash; with the feature `timed` it tells what a commit costs in time.
#![no_std]
#![no_main]

mod flash;
#[cfg(feature = "timed")]
mod timed;

#[cfg(feature = "ekv")]
use halfglass_bench_stores::Ekv as Chosen;
#[cfg(feature = "halfglass")]
use halfglass_bench_stores::Halfglass as Chosen;
#[cfg(feature = "littlefs2")]
use halfglass_bench_stores::Littlefs2 as Chosen;
#[cfg(feature = "map")]
use halfglass_bench_stores::Map as Chosen;
#[cfg(not(any(
    feature = "halfglass",
    feature = "queue",
    feature = "queue-deltas",
    feature = "map",
    feature = "ekv",
    feature = "littlefs2"
)))]
use halfglass_bench_stores::NoStore as Chosen;
#[cfg(feature = "queue")]
use halfglass_bench_stores::Queue as Chosen;
#[cfg(feature = "queue-deltas")]
use halfglass_bench_stores::QueueOfDeltas as Chosen;

#[cfg(feature = "timed")]
#[panic_handler]
fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
    timed::tell_failure()
}

#[cfg(not(feature = "timed"))]
#[panic_handler]
fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
    loop {
        cortex_m::asm::bkpt();
    }
}

#[cfg(feature = "timed")]
#[cortex_m_rt::entry]
fn main() -> ! {
    timed::run::<Chosen>(&mut flash::Nvmc)
}

#[cfg(not(feature = "timed"))]
#[cortex_m_rt::entry]
fn main() -> ! {
    use core::hint::black_box;
    use halfglass_bench_stores::{Change, Store};

    // What is committed comes from where the compiler cannot see it, as from a radar.
    let _ = Chosen::session(&mut flash::Nvmc, black_box(1), |session| {
        while session.commit(black_box(Change { mask: 1, tenths: 100 })).is_ok() {
            black_box(session.totals());
        }
    });
    loop {
        cortex_m::asm::bkpt();
    }
}
