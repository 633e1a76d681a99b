//! `cargo xtask uf2`: the file that one drops on a Pico which was started with its BOOTSEL button held.
//!
//! Format: github.com/microsoft/uf2, README. A file is a row of blocks of 512 bytes, each of which stands alone:
//!
//! ```text
//!  0x000  0x0A324655, 0x9E5D5157      what it is
//!  0x008  flags                       0x2000: the family is said
//!  0x00C  address                     where the content goes, in the chip's own addresses
//!  0x010  256                         bytes of content
//!  0x014  block, blocks               this one, from 0, of so many
//!  0x01C  0xE48BFF56                  the family: RP2040
//!  0x020  content                     476 bytes, of which 256 count
//!  0x1FC  0x0AB16F30                  end
//! ```
//!
//! The boot ROM erases the sectors that it writes and no others, so the stores keep what they hold.

use crate::firmware::{Firmware, target_folder};
use anyhow::{Context, Result, bail, ensure};
use object::Object;
use object::ObjectSegment;
use object::read::elf::ProgramHeader;
use std::collections::BTreeMap;
use std::fs;
use std::path::PathBuf;

const START: [u32; 2] = [0x0A32_4655, 0x9E5D_5157];
const END: u32 = 0x0AB1_6F30;
const FAMILY_SAID: u32 = 0x2000;
const RP2040: u32 = 0xE48B_FF56;
const CONTENT: u32 = 256;
/// What the flash erases at once. Sectors are filled up: some boot ROMs (erratum RP2040-E14, from memory) go wrong over a part.
const SECTOR: u32 = 4_096;

/// Where the flash of the chip begins, in its own addresses.
const FLASH: u32 = 0x1000_0000;
/// Where the board looks for the number that it was given: `NUMBER` in `boards/pico/src/flash_map.rs`.
const NUMBER: u32 = FLASH + 0x8_1000;

/// Builds the board's firmware and writes it as such a file; its path.
///
/// # Errors
/// There is no compiler for it, it failed, or the number cannot serve.
pub fn make(device_id: Option<u64>) -> Result<PathBuf> {
    let image = Firmware::Pico.build()?;
    let bytes = fs::read(&image).with_context(|| format!("could not read {}", image.display()))?;
    let file = object::File::parse(&*bytes).with_context(|| format!("{} is no ELF file", image.display()))?;
    let mut flash = Flash::default();
    for segment in loaded(&file)? {
        flash.put(segment.0, segment.1);
    }
    if let Some(number) = device_id {
        ensure!(number != 0 && number != u64::MAX, "a logger's number is neither all zeros nor all ones");
        flash.put(NUMBER, &given(number));
    }
    let path = target_folder().join("halfglass-pico.uf2");
    fs::write(&path, flash.blocks()).with_context(|| format!("could not write {}", path.display()))?;
    if option_env!("HALFGLASS_USB_ID").is_none() && std::env::var_os("HALFGLASS_USB_ID").is_none() {
        eprintln!(
            "Its plug shows 1209:0001, which is for one's own desk: before you hand a logger on, get a product number and set \
             HALFGLASS_USB_ID (see boards/README.md)."
        );
    }
    Ok(path)
}

/// What the board finds where it looks for its number: the number, then its complement, highest byte first.
#[must_use]
pub fn given(number: u64) -> Vec<u8> {
    [number.to_be_bytes(), (!number).to_be_bytes()].concat()
}

/// What is loaded into flash, by its address there.
fn loaded<'a>(file: &object::File<'a>) -> Result<Vec<(u32, &'a [u8])>> {
    let object::File::Elf32(elf) = file else { bail!("the firmware is no 32-bit ELF file") };
    let piece = |segment: object::read::elf::ElfSegment32<'a, '_>| {
        Ok((segment.elf_program_header().p_paddr(elf.endian()), segment.data()?))
    };
    elf.segments().map(piece).collect()
}

/// Sectors that are written, by address.
#[derive(Default)]
struct Flash(BTreeMap<u32, Vec<u8>>);

impl Flash {
    fn put(&mut self, address: u32, bytes: &[u8]) {
        for (at, byte) in (address..).zip(bytes) {
            let sector = self.0.entry(at - at % SECTOR).or_insert_with(|| vec![0xFF; SECTOR as usize]);
            sector[(at % SECTOR) as usize] = *byte;
        }
    }

    fn blocks(&self) -> Vec<u8> {
        let contents = self.0.iter().flat_map(|(address, sector)| {
            (*address..).step_by(CONTENT as usize).zip(sector.chunks_exact(CONTENT as usize))
        });
        let blocks = self.0.len() as u32 * (SECTOR / CONTENT);
        let mut bytes = Vec::new();
        for (block, (address, content)) in (0u32..).zip(contents) {
            let [first, second] = START;
            for word in [first, second, FAMILY_SAID, address, CONTENT, block, blocks, RP2040] {
                bytes.extend(word.to_le_bytes());
            }
            bytes.extend(content);
            bytes.resize(bytes.len() + 476 - CONTENT as usize, 0);
            bytes.extend(END.to_le_bytes());
        }
        bytes
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The layout above, byte by byte at its offsets.
    #[test]
    fn blocks_are_as_published() {
        let mut flash = Flash::default();
        flash.put(0x1000_0FFE, &[1, 2, 3]);
        let bytes = flash.blocks();
        assert_eq!(bytes.len(), 2 * 16 * 512);
        let word = |at: usize| u32::from_le_bytes(bytes[at..at + 4].try_into().unwrap());
        assert_eq!(&bytes[..4], b"UF2\n");
        for block in 0..32 {
            let at = block * 512;
            assert_eq!((word(at), word(at + 4), word(at + 0x1FC)), (0x0A32_4655, 0x9E5D_5157, 0x0AB1_6F30));
            assert_eq!((word(at + 8), word(at + 0x1C)), (0x2000, 0xE48B_FF56));
            assert_eq!((word(at + 0xC), word(at + 0x10)), (0x1000_0000 + 256 * block as u32, 256));
            assert_eq!((word(at + 0x14), word(at + 0x18)), (block as u32, 32));
        }
        // The piece lies across the end of the first sector; the rest is blank.
        assert_eq!(bytes[15 * 512 + 0x20 + 253..15 * 512 + 0x20 + 256], [0xFF, 1, 2]);
        assert_eq!(bytes[16 * 512 + 0x20..16 * 512 + 0x22], [3, 0xFF]);
    }

    #[test]
    fn a_given_number_can_be_told_from_chance() {
        assert_eq!(given(0x0123_4567_89AB_CDEF)[..8], [0x01, 0x23, 0x45, 0x67, 0x89, 0xAB, 0xCD, 0xEF]);
        assert_eq!(given(0x0123_4567_89AB_CDEF)[8..], [0xFE, 0xDC, 0xBA, 0x98, 0x76, 0x54, 0x32, 0x10]);
    }
}
