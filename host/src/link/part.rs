//! What has come of an unfinished pull, kept beside the dumps so that the next pull goes on from there.
//!
//! ```text
//!  chunk: | first index u32 | length u16 | bytes ... | CRC-32 of all before it in this chunk |  little-endian
//!  chunk 0: the dump's header (28 bytes, as in a dump), first index = the range's start
//!  others:  records, each behind its length in one byte, as the logger sent them
//! ```
//! A chunk that is torn or fails its check ends the file: what stands before it is whole. (A computer that
//! loses power may leave zeros at a file's end, and zeros would read as lost records.)

use crate::{Error, Result};
use halfglass_protocol::crc32;
use halfglass_protocol::dump::{HEADER_LEN, Header, MAGIC};
use std::fs::{self, File, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};

/// An unfinished pull.
pub struct Part {
    path: PathBuf,
    file: File,
    /// The range and whose it is.
    pub header: Header,
    /// Record bytes received so far, in order; empty: lost.
    pub records: Vec<Vec<u8>>,
}

impl Part {
    /// Where the unfinished pull of a logger is kept.
    #[must_use]
    pub fn path_of(dumps: &Path, device_id: u64) -> PathBuf {
        dumps.join(format!("{device_id:016x}.part"))
    }

    /// Begins a range, replacing whatever was there.
    ///
    /// # Errors
    /// The file cannot be written.
    pub fn begin(dumps: &Path, header: Header) -> Result<Part> {
        let path = Self::path_of(dumps, header.device_id);
        let file = File::create(&path).map_err(|error| Error::file("write", &path, &error))?;
        let mut part = Part { path, file, header, records: Vec::new() };
        part.append_chunk(header.from, &header_bytes(&header))?;
        Ok(part)
    }

    /// Takes up an unfinished range, if one was left behind and its beginning is whole.
    ///
    /// # Errors
    /// The file is there but cannot be read or written.
    pub fn resume(dumps: &Path, device_id: u64) -> Result<Option<Part>> {
        let path = Self::path_of(dumps, device_id);
        if !path.exists() {
            return Ok(None);
        }
        let bytes = fs::read(&path).map_err(|error| Error::file("read", &path, &error))?;
        let mut rest = bytes.as_slice();
        let header = take_chunk(&mut rest).and_then(|(_, content)| read_header(content));
        let Some(header) = header.filter(|header| header.device_id == device_id) else { return Ok(None) };
        let mut records = Vec::new();
        let mut sound_len = bytes.len() - rest.len();
        while let Some((first, content)) = take_chunk(&mut rest) {
            let expected = u32::try_from(records.len()).ok().and_then(|count| header.from.checked_add(count));
            let Some(more) = split_records(content).filter(|_| Some(first) == expected) else { break };
            records.extend(more);
            sound_len = bytes.len() - rest.len();
        }
        let open = OpenOptions::new().write(true).open(&path);
        let mut file = open.map_err(|error| Error::file("write", &path, &error))?;
        let cut = file.set_len(sound_len as u64);
        let end = cut.and_then(|()| std::io::Seek::seek(&mut file, std::io::SeekFrom::End(0)));
        end.map_err(|error| Error::file("write", &path, &error))?;
        Ok(Some(Part { path, file, header, records }))
    }

    /// The index of the next record wanted.
    #[must_use]
    pub fn next(&self) -> u32 {
        let count = u32::try_from(self.records.len()).unwrap_or(u32::MAX);
        self.header.from.saturating_add(count).min(self.header.to)
    }

    /// Keeps what the logger sent, cut off at the range's end; returns how many records that were.
    /// `None`: the bytes are no records, and nothing was kept.
    ///
    /// # Errors
    /// The file cannot be written.
    pub fn append(&mut self, data: &[u8]) -> Result<Option<u32>> {
        let Some(mut more) = split_records(data) else { return Ok(None) };
        let left = (self.header.to - self.next()) as usize;
        more.truncate(left);
        let used: usize = more.iter().map(|record| 1 + record.len()).sum();
        self.append_chunk(self.next(), &data[..used])?;
        let count = u32::try_from(more.len()).unwrap_or(u32::MAX);
        self.records.extend(more);
        Ok(Some(count))
    }

    /// Throws the unfinished range away.
    pub fn discard(self) {
        drop(self.file);
        // A part that cannot be removed is found again and replaced by the next pull.
        let _ = fs::remove_file(&self.path);
    }

    fn append_chunk(&mut self, first: u32, content: &[u8]) -> Result<()> {
        let mut chunk = Vec::with_capacity(content.len() + 10);
        chunk.extend_from_slice(&first.to_le_bytes());
        let len = u16::try_from(content.len()).map_err(|_| {
            Error::input("the logger sent more in one reply than a frame can hold", "Pull again.")
        })?;
        chunk.extend_from_slice(&len.to_le_bytes());
        chunk.extend_from_slice(content);
        chunk.extend_from_slice(&crc32::of(&chunk).to_le_bytes());
        self.file.write_all(&chunk).map_err(|error| Error::file("write", &self.path, &error))
    }
}

/// Splits `len | bytes` runs; `None` if the last one is cut short.
fn split_records(mut data: &[u8]) -> Option<Vec<Vec<u8>>> {
    let mut records = Vec::new();
    while let Some((len, rest)) = data.split_first() {
        let (record, rest) = rest.split_at_checked(usize::from(*len))?;
        records.push(record.to_vec());
        data = rest;
    }
    Some(records)
}

fn take_chunk<'a>(rest: &mut &'a [u8]) -> Option<(u32, &'a [u8])> {
    let (first, after) = rest.split_first_chunk::<4>()?;
    let (len, after) = after.split_first_chunk::<2>()?;
    let len = usize::from(u16::from_le_bytes(*len));
    let (content, after) = after.split_at_checked(len)?;
    let (check, after) = after.split_first_chunk::<4>()?;
    if crc32::of(rest.get(..6 + len)?).to_le_bytes() != *check {
        return None;
    }
    *rest = after;
    Some((u32::from_le_bytes(*first), content))
}

fn header_bytes(header: &Header) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(HEADER_LEN);
    halfglass_protocol::dump::Writer::new(header, |piece| bytes.extend_from_slice(piece));
    bytes
}

fn read_header(bytes: &[u8]) -> Option<Header> {
    let (magic, rest) = bytes.split_first_chunk::<8>()?;
    let (device_id, rest) = rest.split_first_chunk::<8>()?;
    let (versions, rest) = rest.split_first_chunk::<4>()?;
    let (from, rest) = rest.split_first_chunk::<4>()?;
    let (to, rest) = rest.split_first_chunk::<4>()?;
    let header = Header {
        device_id: u64::from_le_bytes(*device_id),
        firmware_version: [versions[0], versions[1], versions[2]],
        lines: versions[3],
        from: u32::from_le_bytes(*from),
        to: u32::from_le_bytes(*to),
    };
    (*magic == MAGIC && rest.is_empty() && header.from <= header.to).then_some(header)
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEADER: Header =
        Header { device_id: 0xab, firmware_version: [1, 2, 3], lines: 8, from: 10, to: 20 };

    #[test]
    fn an_unfinished_range_is_taken_up_again_and_a_torn_end_is_not() {
        let folder = tempfile::tempdir().unwrap();
        let mut part = Part::begin(folder.path(), HEADER).unwrap();
        assert_eq!(part.append(&[2, 7, 7, 0]).unwrap(), Some(2));
        assert_eq!(part.append(&[1, 9]).unwrap(), Some(1));
        assert_eq!(part.append(&[5, 9]).unwrap(), None, "a record cut short is not kept");
        drop(part);
        let path = Part::path_of(folder.path(), HEADER.device_id);
        let whole = fs::read(&path).unwrap();

        let resumed = Part::resume(folder.path(), HEADER.device_id).unwrap().unwrap();
        assert_eq!(resumed.header, HEADER);
        assert_eq!(resumed.records, [vec![7, 7], vec![], vec![9]]);
        assert_eq!(resumed.next(), 13);
        drop(resumed);

        // Cut at every length: what is taken up is always a beginning of what was there.
        for len in 0..whole.len() {
            let mut bytes = whole[..len].to_vec();
            bytes.extend([0; 40]);
            fs::write(&path, bytes).unwrap();
            match Part::resume(folder.path(), HEADER.device_id).unwrap() {
                None => assert!(len < 38, "{len}"),
                Some(part) => {
                    let all = [vec![7, 7], vec![], vec![9]];
                    assert_eq!(part.records, all[..part.records.len()]);
                }
            }
        }
    }

    #[test]
    fn records_beyond_the_range_are_not_kept() {
        let folder = tempfile::tempdir().unwrap();
        let mut part = Part::begin(folder.path(), Header { to: 12, ..HEADER }).unwrap();
        assert_eq!(part.append(&[1, 1, 1, 2, 1, 3]).unwrap(), Some(2));
        assert_eq!(part.next(), 12);
    }
}
