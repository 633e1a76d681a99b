//! The emulator's test socket: pins, registers and memory, in plain lines of text.

use super::stream::Stream;

/// The connection.
pub struct Qtest(pub Stream);

impl Qtest {
    /// Sends one command; what follows its OK.
    ///
    /// # Panics
    /// The emulator refuses.
    pub fn command(&mut self, command: &str) -> String {
        self.0.send(format!("{command}\n").as_bytes());
        loop {
            let line = loop {
                if let Some(end) = self.0.held.iter().position(|byte| *byte == b'\n') {
                    let line: Vec<u8> = self.0.held.drain(..=end).collect();
                    break String::from_utf8(line).unwrap();
                }
                self.0.more();
            };
            if line.starts_with("IRQ") {
                continue;
            }
            let Some(answer) = line.strip_prefix("OK") else { panic!("qtest: {command:.60} -> {line}") };
            return answer.trim().to_owned();
        }
    }

    /// Writes a register or a word.
    pub fn write_word(&mut self, address: u32, value: u32) {
        self.command(&format!("writel {address:#x} {value:#x}"));
    }

    /// Reads a register or a word.
    pub fn read_word(&mut self, address: u32) -> u32 {
        let answer = self.command(&format!("readl {address:#x}"));
        u32::from_str_radix(answer.trim_start_matches("0x"), 16).unwrap()
    }

    /// Reads memory.
    pub fn read(&mut self, address: u32, len: usize) -> Vec<u8> {
        let answer = self.command(&format!("read {address:#x} {len:#x}"));
        from_hex(answer.trim_start_matches("0x"))
    }

    /// Writes memory.
    pub fn write(&mut self, address: u32, bytes: &[u8]) {
        self.command(&format!("write {address:#x} {:#x} 0x{}", bytes.len(), to_hex(bytes)));
    }

    /// Sets an interrupt or pin line.
    pub fn set_line(&mut self, object: &str, line: u32, level: bool) {
        self.command(&format!("set_irq_in {object} unnamed-gpio-in {line} {}", u8::from(level)));
    }
}

/// Bytes as hexadecimal digits.
#[must_use]
pub fn to_hex(bytes: &[u8]) -> String {
    const DIGITS: &[u8; 16] = b"0123456789abcdef";
    let digit = |value: u8| char::from(DIGITS[usize::from(value)]);
    bytes.iter().flat_map(|byte| [digit(byte >> 4), digit(byte & 15)]).collect()
}

/// The other way.
///
/// # Panics
/// Something else than pairs of hexadecimal digits.
#[must_use]
pub fn from_hex(text: &str) -> Vec<u8> {
    let value = |digit: u8| char::from(digit).to_digit(16).expect("a hexadecimal digit") as u8;
    text.as_bytes().chunks_exact(2).map(|pair| value(pair[0]) << 4 | value(pair[1])).collect()
}
