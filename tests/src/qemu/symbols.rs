//! What the tests must know of the firmware's image.

use object::{Object, ObjectSection, ObjectSymbol};
use std::path::Path;

/// Addresses in the image.
#[derive(Clone, Copy, Debug)]
pub struct Symbols {
    /// Entry of the handler of interrupts that the firmware does not use.
    pub unused_handler: u32,
    /// An instruction that goes to where R0 says: with the link register's value in it, out of an interrupt handler.
    pub handler_return: u32,
    /// An instruction that stores a word: its address, the register that says where, the register that says what.
    pub store: (u32, u32, u32),
    /// Entry of the hard fault handler.
    pub hard_fault: u32,
    /// Entry of the reset handler.
    pub reset: u32,
    /// Entry of a handler that pushes at once.
    pub pushing_handler: u32,
    /// The stack's lowest address.
    pub stack_end: u32,
    /// One past the stack's highest address.
    pub stack_start: u32,
    /// The statics, from and to.
    pub statics: (u32, u32),
}

/// `bx r0`.
const RETURN: [u8; 2] = 0x4700_u16.to_le_bytes();

impl Symbols {
    /// Reads them from an image.
    ///
    /// # Panics
    /// One of them is missing.
    #[must_use]
    pub fn of(image: &Path) -> Symbols {
        let bytes = std::fs::read(image).unwrap();
        let file = object::File::parse(&*bytes).unwrap();
        let named = |name: &str| {
            let symbol = file.symbols().find(|symbol| symbol.name() == Ok(name));
            symbol.unwrap_or_else(|| panic!("no symbol {name} in the image")).address() as u32
        };
        let text = file.section_by_name(".text").expect("a .text section");
        let content = text.data().unwrap();
        let at = content.chunks_exact(2).position(|two| two == RETURN).expect("a return instruction");
        let store = content.chunks_exact(2).enumerate().find_map(|(at, two)| {
            // `str rT, [rN]`
            let code = u32::from(u16::from_le_bytes([two[0], two[1]]));
            let (base, value) = (code >> 3 & 7, code & 7);
            let fits = code & 0xFFC0 == 0x6000 && base != value;
            fits.then_some((text.address() as u32 + 2 * at as u32, base, value))
        });
        Symbols {
            store: store.expect("a store instruction"),
            unused_handler: named("DefaultHandler") & !1,
            handler_return: text.address() as u32 + 2 * at as u32,
            hard_fault: named("HardFault") & !1,
            reset: named("Reset") & !1,
            pushing_handler: named("TIMER0") & !1,
            stack_end: named("_stack_end"),
            stack_start: named("_stack_start"),
            statics: (named("__sdata"), named("__euninit")),
        }
    }
}
