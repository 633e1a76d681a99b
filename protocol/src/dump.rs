//! The dump: what a pull leaves behind, byte for byte the same for the same range of the same logger.
//!
//! ```text
//!  0          7 8                 16          19 20        24       28
//!  | "HALFGLS" |1| device id u64  | firmware 3 |n | from u32 | to u32 |  header
//!  | len | record ...| len | record ...| ...                          |  `to - from` records; len 0: lost
//!  | 0xFF | records u32 | CRC-32 of all bytes before it               |  end mark, 9 bytes
//!  integers little-endian; n: inputs of the board; byte 7: the format's version
//! ```

use crate::crc32;
use crate::record::{RECORD_MAX, Record};

/// The first bytes of every dump, version included.
pub const MAGIC: [u8; 8] = *b"HALFGLS\x01";

/// Length of the header, in bytes.
pub const HEADER_LEN: usize = 28;

/// Length of the end mark, in bytes.
pub const END_LEN: usize = 9;

const END_MARK: u8 = 0xFF;

/// Whose records follow, and which.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Header {
    /// The logger.
    pub device_id: u64,
    /// Its firmware: major, minor, patch.
    pub firmware_version: [u8; 3],
    /// Inputs of the board.
    pub lines: u8,
    /// The first record's index.
    pub from: u32,
    /// One past the last record's index.
    pub to: u32,
}

/// What is wrong with a dump.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// It does not begin as a dump does.
    NotADump,
    /// It is of a format that this version does not know.
    Version(u8),
    /// It ends in the middle; how many whole records came before, and how many there should be.
    Truncated {
        /// Bytes there are.
        len: usize,
        /// Whole records found.
        records: u32,
        /// Records promised.
        of: u32,
    },
    /// The check sum does not match: some byte was changed.
    Check,
    /// The check sum matches but a record or the header makes no sense: written by a newer or faulty program.
    Record {
        /// The record's index.
        index: u32,
    },
    /// Bytes follow the end mark.
    Rest {
        /// How many.
        bytes: usize,
    },
}

/// Writes a dump piece by piece into a sink.
pub struct Writer<S: FnMut(&[u8])> {
    sink: S,
    check: crc32::Running,
    records: u32,
}

impl<S: FnMut(&[u8])> Writer<S> {
    /// Writes the header.
    pub fn new(header: &Header, sink: S) -> Self {
        let mut writer = Self { sink, check: crc32::Running::default(), records: 0 };
        let [v0, v1, v2] = header.firmware_version;
        writer.put(&MAGIC);
        writer.put(&header.device_id.to_le_bytes());
        writer.put(&[v0, v1, v2, header.lines]);
        writer.put(&header.from.to_le_bytes());
        writer.put(&header.to.to_le_bytes());
        writer
    }

    fn put(&mut self, bytes: &[u8]) {
        self.check.update(bytes);
        (self.sink)(bytes);
    }

    /// Writes one record's bytes; empty: lost. Bytes beyond [`RECORD_MAX`] are written as lost.
    pub fn record(&mut self, bytes: &[u8]) {
        match u8::try_from(bytes.len()) {
            Ok(len) if bytes.len() <= RECORD_MAX => {
                self.put(&[len]);
                self.put(bytes);
            }
            _ => self.put(&[0]),
        }
        self.records += 1;
    }

    /// Writes the end mark.
    pub fn finish(mut self) {
        self.put(&[END_MARK]);
        self.put(&self.records.to_le_bytes());
        let check = core::mem::take(&mut self.check).finish();
        (self.sink)(&check.to_le_bytes());
    }
}

/// A whole dump whose length, check sum and records have been verified.
#[derive(Clone, Copy, Debug)]
pub struct Dump<'a> {
    /// Whose, and which records.
    pub header: Header,
    records: &'a [u8],
}

impl<'a> Dump<'a> {
    /// Verifies `bytes` as a dump, every record included.
    ///
    /// # Errors
    /// What is wrong, in the order in which a person would want to know.
    pub fn read(bytes: &'a [u8]) -> Result<Dump<'a>, Fault> {
        let magic_len = MAGIC.len().min(bytes.len());
        if bytes.get(..magic_len.min(7)) != MAGIC.get(..magic_len.min(7)) || bytes.is_empty() {
            return Err(Fault::NotADump);
        }
        match bytes.get(7) {
            Some(version) if *version != MAGIC[7] => return Err(Fault::Version(*version)),
            _ => {}
        }
        let short = Fault::Truncated { len: bytes.len(), records: 0, of: 0 };
        let (head, body) = bytes.split_at_checked(HEADER_LEN).ok_or(short)?;
        let header = Header::read(head).ok_or(short)?;
        let of = header.to.saturating_sub(header.from);

        // Walk first: it tells a dump that was cut short from one in which a byte was changed.
        let mut at = 0;
        let mut records = 0;
        while records < of {
            let Some(len) = body.get(at) else { break };
            let next = at + 1 + usize::from(*len);
            if next > body.len() {
                break;
            }
            at = next;
            records += 1;
        }
        let (content, end) = body.split_at_checked(at).ok_or(short)?;
        let whole = records == of && end.len() >= END_LEN;
        // A dump that does end, only not where its header says, was changed or written wrongly, not cut short.
        let ended = [of, records].into_iter().any(|count| ends_with_mark(bytes, count));
        if !whole && !ended {
            return Err(Fault::Truncated { len: bytes.len(), records, of });
        }
        let end_at = if whole { HEADER_LEN + at + END_LEN } else { bytes.len() };
        let (checked, rest) = bytes.split_at_checked(end_at).ok_or(short)?;
        let (content_and_mark, check) = checked.split_at_checked(end_at - 4).ok_or(short)?;
        if crc32::of(content_and_mark).to_le_bytes() != *check {
            return Err(Fault::Check);
        }
        if !whole || header.from > header.to || !ends_with_mark(checked, of) {
            return Err(Fault::Record { index: header.from + records });
        }
        if !rest.is_empty() {
            return Err(Fault::Rest { bytes: rest.len() });
        }
        let dump = Dump { header, records: content };
        for (index, record) in dump.raw_records() {
            let later = Record::is_of_later_version(record);
            if !record.is_empty() && !later && Record::decode(record).is_none() {
                return Err(Fault::Record { index });
            }
        }
        Ok(dump)
    }

    /// Index and bytes of every record; empty bytes: lost.
    pub fn raw_records(&self) -> impl Iterator<Item = (u32, &'a [u8])> + use<'a> {
        let mut rest = self.records;
        let mut index = self.header.from;
        core::iter::from_fn(move || {
            let (len, after) = rest.split_first()?;
            let (record, after) = after.split_at_checked(usize::from(*len))?;
            rest = after;
            let this = index;
            index = index.wrapping_add(1);
            Some((this, record))
        })
    }

    /// Index and content of every record; `None`: lost, or of a kind that a later version has added
    /// ([`Record::is_of_later_version`]). What a lost one held the next base gives back; the other held nothing that counts.
    pub fn records(&self) -> impl Iterator<Item = (u32, Option<Record>)> + use<'a> {
        self.raw_records().map(|(index, bytes)| (index, Record::decode(bytes)))
    }
}

/// Whether the last bytes are an end mark over so many records; its check sum may be anything.
fn ends_with_mark(bytes: &[u8], records: u32) -> bool {
    let Some([mark, count @ .., _, _, _, _]) = bytes.last_chunk::<END_LEN>() else { return false };
    *mark == END_MARK && *count == records.to_le_bytes()
}

impl Header {
    fn read(bytes: &[u8]) -> Option<Header> {
        let [v0, v1, v2, lines] = *bytes.get(16..)?.first_chunk()?;
        Some(Header {
            device_id: u64::from_le_bytes(*bytes.get(8..)?.first_chunk()?),
            firmware_version: [v0, v1, v2],
            lines,
            from: u32::from_le_bytes(*bytes.get(20..)?.first_chunk()?),
            to: u32::from_le_bytes(*bytes.get(24..)?.first_chunk()?),
        })
    }
}
