//! Image bytes, then: start, recover, pull, commit, cut, four times over. See `halfglass_sim::ordeal` for what must hold.
//!
//! ```text
//! cargo +nightly fuzz run image
//! ```
//!
//! The input is an image of `ordeal::SMALL`, blank where it is too short. A byte behind it says how long a granule is (lower two
//! bits) and which checks are made to match (next four), so that the fuzzer need not find CRCs.
#![no_main]

use halfglass_sim::forge::Forgery;
use halfglass_sim::ordeal::{Bounds, HEAD_TENTHS, Records, SMALL, SMALL_ERASE, SMALL_LEN, undergo, words_tenths};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|input: &[u8]| {
    let how = input.get(SMALL_LEN).copied().unwrap_or(0);
    let mut image = vec![0xFF; SMALL_LEN];
    let len = input.len().min(SMALL_LEN);
    image[..len].copy_from_slice(&input[..len]);
    let granule = [4, 8, 16, 4][usize::from(how & 3)];
    let forgery = Forgery::from_bits(how >> 2);
    forgery.apply(&mut image, &SMALL, granule);
    let records = if forgery == Forgery::default() { Records::Moved } else { Records::Forged };
    let bounds = Bounds { most_tenths: HEAD_TENTHS + words_tenths(&SMALL, granule), records };
    let told = match granule {
        4 => undergo::<4, SMALL_ERASE>(&image, &SMALL, bounds),
        8 => undergo::<8, SMALL_ERASE>(&image, &SMALL, bounds),
        _ => undergo::<16, SMALL_ERASE>(&image, &SMALL, bounds),
    };
    if let Err(fault) = told {
        panic!("{fault}");
    }
});
