//! Deflate of strips, each by itself, that lie one behind the other as one zlib stream (RFC 1950, RFC 1951).
//!
//! No strip looks back into the one before, so that they can be packed on all cores. The library makes a whole
//! stream of each: one block, closed by a code for its end, zeros up to the next byte, and a checksum. Within the
//! whole, every block but the last is marked as not the last, and an empty stored block after it (three bits of
//! zero, then as many as fill the byte, 00 00 FF FF) brings the next to a whole byte. The checksum at the end is
//! that of the strips' own, put together.

use fdeflate::Compressor;

/// The two bytes before the first part: deflate, a window of 32 KiB, no dictionary, the quickest kind.
pub(super) const HEAD: [u8; 2] = [0x78, 0x01];

/// The checksum's modulus, the largest prime of 16 bits.
const BASE: u64 = 65_521;
/// Most bytes of a stored block.
const STORED: usize = 65_535;

/// A part of a stream.
#[derive(Debug)]
pub(super) struct Part {
    pub(super) bytes: Vec<u8>,
    sum: u32,
    length: usize,
}

impl Part {
    /// Packs a part; `last` closes the stream, but for its checksum.
    pub(super) fn of(bytes: &[u8], last: bool) -> std::io::Result<Self> {
        let mut compressor = Compressor::new(Vec::with_capacity(bytes.len() + 64))?;
        compressor.write_data(bytes)?;
        let mut stream = compressor.finish()?;
        let mut sum = [0_u8; 4];
        sum.copy_from_slice(&stream.split_off(stream.len() - 4));
        stream.drain(..HEAD.len());
        if !last {
            stream[0] &= !1;
            // The code for the end of a block ends in a one: what is above the last one is filling. Where that
            // is too short for the three bits, they begin there and end in a byte of their own.
            if stream.last().is_some_and(|byte| byte.leading_zeros() < 3) {
                stream.push(0);
            }
            stream.extend([0, 0, 0xFF, 0xFF]);
        }
        if stream.len() > bytes.len() + 5 * bytes.len().div_ceil(STORED) && !bytes.is_empty() {
            stream = stored(bytes, last);
        }
        Ok(Self {
            bytes: stream,
            sum: u32::from_be_bytes(sum),
            length: bytes.len(),
        })
    }
}

/// As it is, for what the codes do not suit.
fn stored(bytes: &[u8], last: bool) -> Vec<u8> {
    let mut out = Vec::with_capacity(bytes.len() + 5 * bytes.len().div_ceil(STORED));
    let count = bytes.len().div_ceil(STORED);
    for (n, block) in bytes.chunks(STORED).enumerate() {
        let length = block.len() as u16;
        out.push(u8::from(last && n + 1 == count));
        out.extend(length.to_le_bytes());
        out.extend((!length).to_le_bytes());
        out.extend(block);
    }
    out
}

/// The checksum (Adler-32, RFC 1950, 8.2) of parts taken one after the other.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sum {
    /// One more than the sum of all bytes.
    low: u64,
    /// The sum of all values that `low` had.
    high: u64,
}

impl Sum {
    pub(super) const fn new() -> Self {
        Self { low: 1, high: 0 }
    }

    pub(super) fn add(&mut self, part: &Part) {
        let (low, high) = (u64::from(part.sum & 0xFFFF), u64::from(part.sum >> 16));
        // In the part's own count `low` began at 1, and it went into `high` for every byte.
        let before = (self.low + BASE - 1) % BASE;
        self.high = (self.high + high + part.length as u64 % BASE * before) % BASE;
        self.low = (before + low) % BASE;
    }

    /// The four bytes behind the last part.
    pub(super) const fn tail(self) -> [u8; 4] {
        ((self.high << 16 | self.low) as u32).to_be_bytes()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Inflate by a library that knows of no parts; it also checks the sum.
    fn inflated(stream: &[u8]) -> Vec<u8> {
        fdeflate::decompress_to_vec(stream).expect("a whole stream")
    }

    #[test]
    fn parts_are_one_stream() {
        let noise = |i: usize| (i.wrapping_mul(2_654_435_761) >> 13) as u8;
        // Ends of blocks fall on every bit of a byte; noise is stored, in more than one block.
        let mut parts: Vec<Vec<u8>> = (0..70)
            .map(|n| (0..n).map(|i| noise(i) >> 5).collect())
            .collect();
        parts.push((0..150_001).map(noise).collect());
        parts.push(vec![0; 200_003]);
        parts.push(b"quay".to_vec());
        for count in 1..=parts.len() {
            let (mut stream, mut sum) = (HEAD.to_vec(), Sum::new());
            for (n, bytes) in parts[..count].iter().enumerate() {
                let part = Part::of(bytes, n + 1 == count).unwrap();
                assert!(
                    part.bytes.len() < bytes.len() + 80,
                    "{n} is no larger than it is"
                );
                sum.add(&part);
                stream.extend(part.bytes);
            }
            stream.extend(sum.tail());
            assert!(
                inflated(&stream) == parts[..count].concat(),
                "{count} parts"
            );
        }
    }
}
